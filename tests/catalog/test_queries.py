from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from tests.catalog.columns_told import columns_told
from tests.catalog.filling import filled as once_filled
from tests.catalog.strategies import loudspeaker_records
from tests.conftest import example_count
from triptych.catalog import stock
from triptych.catalog.database import reads, writes
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Grade, MovementKind, Weight, WeightProfile
from triptych.catalog.database.reads import LoudspeakerFilter
from triptych.catalog.database.rows import name_key
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.records import (
    Enclosure,
    LoudspeakerRecord,
    PortLocation,
    PricePer,
    Role,
    RoomRecord,
    Seat,
    Status,
    Tax,
    TweeterType,
)

CENTRE = LoudspeakerRecord(
    maker="Oatfell",
    series="Linden",
    model="Centre",
    roles=frozenset({Role.CENTRE, Role.MAIN}),
    width=0.48,
    height=0.18,
    depth=0.3,
    enclosure=Enclosure.PORTED,
    port_location=PortLocation.REAR,
    bung=True,
    tweeter_type=TweeterType.WAVEGUIDE_DOME,
    tweeter_size=0.025,
    tweeter_material="silk",
    tweeter_coverage=(90.0, 60.0),
    midrange_size=0.1,
    midrange_count=1,
    woofer_size=0.16,
    woofer_count=2,
    crossover=(350.0, 2800.0),
    crossover_order=4,
    price=Decimal("520"),
    currency="EUR",
    price_per=PricePer.EACH,
    tax=Tax.INCLUDED,
    tax_rate=20.0,
    status=Status.CURRENT,
)
TOWER = LoudspeakerRecord(
    maker="Oatfell",
    series="Linden",
    model="Tower",
    family="Linden 2",
    roles=frozenset({Role.MAIN}),
    width=0.2,
    height=1.0,
    price=Decimal("1100"),
    currency="EUR",
    price_per=PricePer.PAIR,
)
PLAIN = LoudspeakerRecord(maker="Brook", model="100% Sub_1", roles=frozenset({Role.SUB}))
ALL = [PLAIN, CENTRE, TOWER]


def _fill(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [CENTRE, TOWER, PLAIN])
        number = reads.stored(session, CENTRE.name).id
        stock.record_movement(session, stock.MovementLine(number, MovementKind.RECEIVE, 2, "shop"))
        stock.record_movement(session, stock.MovementLine(number, MovementKind.RECEIVE, 1, "shop", Grade.DEMO))


@pytest.fixture
def filled(engine: sa.Engine) -> Iterator[Session]:
    with reading(once_filled(engine, _fill)) as session:
        yield session


@pytest.mark.parametrize(
    ("wanted", "names"),
    [
        ({}, ["100% Sub_1", "Centre", "Tower"]),
        ({"role": Role.MAIN}, ["Centre", "Tower"]),
        ({"maker": "OATFELL"}, ["Centre", "Tower"]),
        ({"maker": "Orch"}, []),
        ({"text": "linden tow"}, ["Tower"]),
        ({"text": "LINDEN 2"}, ["Tower"]),
        ({"text": "0% sub_"}, ["100% Sub_1"]),
        ({"text": "%"}, ["100% Sub_1"]),
        ({"price_max": Decimal("520")}, ["Centre"]),
        ({"price_max": Decimal("550"), "currency": "EUR"}, ["Centre", "Tower"]),
        ({"price_min": Decimal("520.01")}, ["Tower"]),
        ({"price_max": Decimal("9999"), "currency": "GBP"}, []),
        ({"max_width": 0.48}, ["Centre", "Tower"]),
        ({"max_height": 0.5}, ["Centre"]),
        ({"max_depth": 0.29}, []),
        ({"enclosure": Enclosure.PORTED}, ["Centre"]),
        ({"port": PortLocation.REAR}, ["Centre"]),
        ({"status": Status.CURRENT}, ["Centre"]),
        ({"in_stock": True}, ["Centre"]),
        ({"page_size": 2}, ["100% Sub_1", "Centre"]),
        ({"page": 2, "page_size": 2}, ["Tower"]),
        ({"page": 3, "page_size": 2}, []),
    ],
)
def test_a_list_holds_what_passes_the_filter_in_order_of_names(
    filled: Session, wanted: dict[str, Any], names: list[str]
) -> None:
    asked = LoudspeakerFilter(**wanted)
    assert [record.model for record in reads.loudspeakers(filled, asked)] == names
    assert reads.count(filled, replace(asked, page=1, page_size=None)) >= len(names)


def test_the_count_is_that_of_all_pages(filled: Session) -> None:
    assert reads.count(filled, LoudspeakerFilter(page=2, page_size=2)) == 3
    assert reads.loudspeakers(filled) == ALL


def test_a_page_counts_from_one(filled: Session) -> None:
    with pytest.raises(BadInput, match="count from 1"):
        reads.loudspeakers(filled, LoudspeakerFilter(page=0, page_size=2))


def test_a_price_in_two_currencies_needs_one_named(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [CENTRE, replace(PLAIN, price=Decimal("100"), currency="GBP")])
        with pytest.raises(BadInput, match="prices are in EUR, GBP: say which"):
            reads.loudspeakers(session, LoudspeakerFilter(price_max=Decimal("600")))
        found = reads.loudspeakers(session, LoudspeakerFilter(price_max=Decimal("600"), currency="GBP"))
        assert [record.maker for record in found] == ["Brook"]


def test_names_are_found_in_any_case_and_the_nearest_are_offered(filled: Session) -> None:
    assert reads.loudspeaker(filled, "  oatfell LINDEN   centre ") == CENTRE
    with pytest.raises(NotFound, match=r"named 'Orchad Lindn Tower'; the nearest: 'Oatfell Linden Tower'"):
        reads.loudspeaker(filled, "Orchad Lindn Tower")
    with pytest.raises(NotFound, match=r"no room is named 'x'; none is like it"):
        reads.room(filled, "x")


def test_a_name_in_any_script_is_found_in_any_case(engine: sa.Engine) -> None:
    record = LoudspeakerRecord(maker="Éclair", model="Größe ½")
    with writing(engine) as session:
        writes.save_loudspeakers(session, [record])
        assert reads.loudspeaker(session, "E\u0301CLAIR GRÖSSE ½") == record


@given(st.text())
def test_the_key_of_a_name_has_no_case_and_is_its_own_key(name: str) -> None:
    assert name_key(name_key(name)) == name_key(name)
    assert name_key(name.upper().lower()) == name_key(name.upper())


def test_rooms_are_listed_in_order_and_the_nearest_is_offered(engine: sa.Engine) -> None:
    seats = (Seat("middle", 3.0, primary=True),)
    with writing(engine) as session:
        for name in ("Mill House", "attic"):
            writes.save_room(session, RoomRecord(name=name, seats=seats, places=()))
        assert reads.rooms(session) == ["attic", "Mill House"]
        with pytest.raises(NotFound, match="the nearest: 'Mill House'"):
            reads.room(session, "Mil House")


def test_a_weight_profile_is_read_by_name(engine: sa.Engine) -> None:
    with writing(engine) as session:
        session.execute(sa.insert(WeightProfile).values(id=1, name="Films", name_key="films"))
        for criterion, value in (("timbre", 0.6), ("aim", 0.4)):
            session.execute(sa.insert(Weight).values(weight_profile_id=1, criterion=criterion, value=value))
        assert reads.weight_profile(session, "FILMS") == {"aim": 0.4, "timbre": 0.6}
        with pytest.raises(NotFound, match="the nearest: 'Films'"):
            reads.weight_profile(session, "film")


def test_columns_hold_what_the_records_hold(filled: Session) -> None:
    columns = columns_told(filled)
    assert {len(column) for column in columns.values()} == {3}
    assert columns["id"] == sorted(columns["id"])
    first = {name: column[columns["model"].index("Centre")] for name, column in columns.items()}
    assert first["name"] == "Oatfell Linden Centre"
    assert first["family"] == "Oatfell Linden"
    assert first["roles"] == "main|centre"
    assert first["bung"] is True
    assert (first["enclosure"], first["tweeter_type"]) == ("ported", "waveguide_dome")
    assert (first["tweeter_coverage_h"], first["tweeter_coverage_v"]) == (90.0, 60.0)
    assert (first["woofer_size"], first["woofer_count"], first["midrange_count"]) == (0.16, 2, 1)
    assert [first[f"crossover_{number}"] for number in (1, 2, 3)] == [350.0, 2800.0, None]
    assert first["crossover_order"] == 4
    assert (first["price_minor"], first["currency"], first["price_per"], first["tax"]) == (
        52000,
        "EUR",
        "each",
        "included",
    )
    assert first["available"] == 2
    sub = {name: column[columns["model"].index("100% Sub_1")] for name, column in columns.items()}
    known = {name for name, value in sub.items() if value is not None}
    assert known == {"id", "revision", "retired", "name", "maker", "model", "roles"}
    assert columns["family"][columns["model"].index("Tower")] == "Linden 2"


def test_the_mains_are_given_though_they_are_retired(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, ALL)
        writes.retire_loudspeaker(session, TOWER.name)
        number = reads.stored(session, TOWER.name).id
        found = columns_told(session, {Role.CENTRE}, also=[number])
        assert dict(zip(found["model"], found["retired"], strict=True)) == {"Centre": False, "Tower": True}


def test_columns_of_some_roles_and_of_an_empty_catalogue(engine: sa.Engine, filled: Session) -> None:
    assert columns_told(filled, {Role.CENTRE})["model"] == ["Centre"]
    assert sorted(columns_told(filled, {Role.MAIN, Role.SUB})["model"]) == [
        "100% Sub_1",
        "Centre",
        "Tower",
    ]
    empty = columns_told(filled, set())
    assert {name: len(column) for name, column in empty.items()} == dict.fromkeys(columns_told(filled), 0)


@pytest.mark.examples
@given(records=st.lists(loudspeaker_records(), max_size=4, unique_by=lambda record: name_key(record.name)))
@settings(
    max_examples=example_count(1 / 3), suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_columns_agree_with_records_whatever_is_unknown(engine: sa.Engine, records: list[LoudspeakerRecord]) -> None:
    with Session(engine.execution_options(write=True)) as session:
        writes.save_loudspeakers(session, records)
        columns = columns_told(session)
        by_name = {name_key(record.name): record for record in reads.loudspeakers(session)}
        assert len(columns["id"]) == len(records)
        for place, name in enumerate(columns["name"]):
            record = by_name[name_key(name)]
            row = {key: column[place] for key, column in columns.items()}
            for field in (
                "width",
                "sensitivity",
                "tweeter_size",
                "woofer_count",
                "crossover_order",
                "tax_rate",
                "bung",
            ):
                assert row[field] == getattr(record, field)
            crossover = (*(record.crossover or ()), None, None, None)[:3]
            assert (row["crossover_1"], row["crossover_2"], row["crossover_3"]) == crossover
            assert (row["price_minor"] is None) == (record.price is None)
            assert row["roles"] == ("|".join(role.value for role in Role if role in record.roles) or None)
        session.rollback()
