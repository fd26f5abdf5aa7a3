from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from sqlalchemy.orm import Session

from tests.catalog.columns_told import columns_told
from tests.catalog.strategies import loudspeaker_records, room_records
from tests.conftest import example_count
from triptych.catalog.database import candidates, profiles, reads, writes
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import AcousticProfile, Loudspeaker, Maker, Price, Provenance, Seat
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.records import (
    Evidence,
    LoudspeakerRecord,
    PlaceKind,
    PricePer,
    Role,
    RoomRecord,
    SensitivityBasis,
)
from triptych.catalog.records import Figure as FigureRecord
from triptych.catalog.records import Place as PlaceRecord
from triptych.catalog.records import Seat as SeatRecord

MANY = settings(
    max_examples=example_count(1 / 3), suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)

LINDEN = LoudspeakerRecord(
    maker="Oatfell",
    series="Linden",
    model="Centre",
    roles=frozenset({Role.CENTRE}),
    width=0.48,
    sensitivity=88.0,
    sensitivity_basis=SensitivityBasis.ANECHOIC,
    woofer_count=2,
    crossover=(350.0, 2800.0),
    price=Decimal("520"),
    currency="EUR",
    figures={"sensitivity": FigureRecord("88 dB", "sheet.csv", Evidence.STATED)},
)

ROOM = RoomRecord(
    name="Mill House",
    seats=(SeatRecord("middle", 3.0, primary=True), SeatRecord("window", 3.1, x=1.2)),
    places=(PlaceRecord("bay", PlaceKind.CAVITY, width=0.64),),
)


def _total(session: Session, table: type[Any]) -> int:
    return session.scalar(sa.select(sa.func.count()).select_from(table)) or 0


@pytest.mark.examples
@given(record=loudspeaker_records())
@MANY
def test_a_loudspeaker_comes_back_exactly_as_it_went_in(engine: sa.Engine, record: LoudspeakerRecord) -> None:
    with Session(engine.execution_options(write=True)) as session:
        writes.save_loudspeakers(session, [record])
        found = reads.loudspeaker(session, record.name)
        assert found == record
        assert dict(found.figures) == dict(record.figures)
        assert writes.save_loudspeakers(session, [record]) == writes.Saved(unchanged=1)
        session.rollback()


@pytest.mark.examples
@given(room=room_records())
@MANY
def test_a_room_comes_back_exactly_as_it_went_in(engine: sa.Engine, room: RoomRecord) -> None:
    with Session(engine.execution_options(write=True)) as session:
        writes.save_room(session, room)
        assert reads.room(session, room.name) == room
        assert writes.save_room(session, room) == writes.Saved(unchanged=1)
        session.rollback()


@pytest.mark.examples
@given(before=loudspeaker_records(), after=loudspeaker_records())
@MANY
def test_a_changed_loudspeaker_is_wholly_the_new_one(
    engine: sa.Engine, before: LoudspeakerRecord, after: LoudspeakerRecord
) -> None:
    after = replace(after, maker=before.maker, series=before.series, model=before.model, family=None)
    with Session(engine.execution_options(write=True)) as session:
        writes.save_loudspeakers(session, [before])
        saved = writes.save_loudspeakers(session, [after])
        assert reads.loudspeaker(session, after.name) == after
        assert reads.stored(session, after.name).revision == 1 + saved.changed
        session.rollback()


def test_a_change_raises_the_revision_and_the_same_again_does_not(engine: sa.Engine) -> None:
    with writing(engine) as session:
        assert writes.save_loudspeakers(session, [LINDEN]) == writes.Saved(added=1)
    with writing(engine) as session:
        assert writes.save_loudspeakers(session, [LINDEN]) == writes.Saved(unchanged=1)
        assert reads.stored(session, LINDEN.name).revision == 1
    with writing(engine) as session:
        assert writes.save_loudspeakers(session, [replace(LINDEN, weight=9.0)]) == writes.Saved(changed=1)
        assert reads.stored(session, LINDEN.name).revision == 2


def test_the_first_spelling_of_a_maker_stands_and_a_model_can_be_respelt(engine: sa.Engine) -> None:
    shouted = replace(LINDEN, maker="OATFELL", series="linden", model="CENTRE")
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN])
        assert writes.save_loudspeakers(session, [shouted]) == writes.Saved(changed=1)
        assert writes.save_loudspeakers(session, [shouted]) == writes.Saved(unchanged=1)
        assert reads.loudspeaker(session, "oatfell linden centre").name == "Oatfell Linden CENTRE"
        assert _total(session, Maker) == 1


def test_without_a_series_a_name_still_stands_once(engine: sa.Engine) -> None:
    plain = LoudspeakerRecord(maker="Oatfell", model="Centre")
    with writing(engine) as session:
        writes.save_loudspeakers(session, [plain])
        assert writes.save_loudspeakers(session, [plain]) == writes.Saved(unchanged=1)
        assert _total(session, Loudspeaker) == 1


def test_a_figure_keeps_its_first_source_until_value_or_evidence_change(engine: sa.Engine) -> None:
    again = replace(LINDEN, figures={"sensitivity": FigureRecord("88", "export.csv", Evidence.STATED)})
    measured = replace(LINDEN, figures={"sensitivity": FigureRecord("88.0", "bench", Evidence.MEASURED)})
    louder = replace(measured, sensitivity=89.0, figures={"sensitivity": FigureRecord("89", "new.csv")})
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN])
        assert writes.save_loudspeakers(session, [again]) == writes.Saved(unchanged=1)
        assert reads.loudspeaker(session, LINDEN.name).figures["sensitivity"].source == "sheet.csv"
        assert session.scalar(sa.select(Provenance.said)) == {"sheet.csv": {"sensitivity": "88 dB"}}
        assert writes.save_loudspeakers(session, [measured]) == writes.Saved(changed=1)
        assert reads.loudspeaker(session, LINDEN.name).figures["sensitivity"].source == "bench"
        writes.save_loudspeakers(session, [louder])
        assert reads.loudspeaker(session, LINDEN.name).figures["sensitivity"].source == "new.csv"
        writes.save_loudspeakers(session, [replace(louder, sensitivity=None, figures={})])
        assert reads.loudspeaker(session, LINDEN.name).figures == {}


def test_a_new_price_ends_the_old_one_and_keeps_it(engine: sa.Engine) -> None:
    dearer, dearest = replace(LINDEN, price=Decimal("550")), replace(LINDEN, price=Decimal("560.5"))
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN], day=date(2026, 1, 1))
        writes.save_loudspeakers(session, [dearer], day=date(2026, 3, 1))
        writes.save_loudspeakers(session, [dearest], day=date(2026, 3, 1))
        found = session.execute(sa.select(Price.amount, Price.valid_from, Price.valid_to).order_by(Price.valid_from))
        assert [tuple(row) for row in found] == [
            (52000, date(2026, 1, 1), date(2026, 3, 1)),
            (56050, date(2026, 3, 1), None),
        ]
        assert columns_told(session, day=date(2026, 2, 1))["price_minor"] == [52000]
        assert columns_told(session, day=date(2026, 3, 1))["price_minor"] == [56050]


def test_a_price_taken_away_is_unknown_from_then_on(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN], day=date(2026, 1, 1))
        writes.save_loudspeakers(session, [replace(LINDEN, price=None, currency=None)])
        assert reads.loudspeaker(session, LINDEN.name).price is None
        assert _total(session, Price) == 1


def test_a_retired_loudspeaker_stays_hidden_when_its_file_is_imported_again(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN])
        writes.retire_loudspeaker(session, "OATFELL linden CENTRE")
        assert writes.save_loudspeakers(session, [LINDEN]) == writes.Saved(unchanged=1, retired=1)
        assert reads.loudspeakers(session) == []
        assert columns_told(session)["id"] == []
        assert reads.loudspeaker(session, LINDEN.name) == LINDEN
        writes.retire_loudspeaker(session, LINDEN.name, retired=False)
        assert reads.loudspeakers(session) == [LINDEN]
        with pytest.raises(NotFound, match="'Lynden'"):
            writes.retire_loudspeaker(session, "Lynden")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"price": Decimal("519.999")}, "EUR has 2 decimals"),
        ({"price": Decimal("1.000000000000000000000000000000001")}, "EUR has 2 decimals"),
        ({"price": Decimal("519.5"), "currency": "JPY"}, "JPY has 0 decimals"),
        ({"price": Decimal("-1")}, "out of range"),
        ({"price": Decimal("NaN")}, "out of range"),
        ({"currency": "euro"}, "three letters"),
        ({"impedance_nominal": 0.0}, "impedance_nominal is 0"),
        ({"feet": -0.01}, "feet is -0.01"),
        ({"width": float("nan")}, "width is nan"),
        ({"low_limit": 50.0, "high_limit": 50.0}, "low_limit 50 Hz is not under high_limit"),
        ({"amplifier_min": 150.0, "amplifier_max": 50.0}, "amplifier_min 150 W is above amplifier_max"),
        ({"woofer_count": 10**12}, "woofer_count"),
        ({"crossover": ()}, "crossover holds no frequency"),
        ({"crossover": (2800.0, 350.0)}, "frequencies must rise"),
        ({"crossover_order": 9}, "crossover_order is 9"),
        ({"tweeter_coverage": (90.0, 400.0)}, "tweeter_coverage"),
        ({"tax_rate": 101.0}, "tax_rate is 101"),
        ({"series": " "}, "series is blank"),
        ({"note": "a\0b"}, "note 'a.*holds control characters"),
        ({"figures": {"width": FigureRecord("\ud800", "x")}}, "raw .*holds control characters"),
    ],
)
def test_what_cannot_be_is_refused_by_name_and_nothing_is_written(
    engine: sa.Engine, change: dict[str, Any], told: str
) -> None:
    good = LoudspeakerRecord(maker="Oatfell", model="Good")
    with writing(engine) as session:
        with pytest.raises(BadInput, match=told) as refusal:
            writes.save_loudspeakers(session, [good, replace(LINDEN, **change)])
        assert "Oatfell" in str(refusal.value)
        assert _total(session, Loudspeaker) == 0


def test_two_records_of_one_name_are_refused(engine: sa.Engine) -> None:
    with writing(engine) as session, pytest.raises(BadInput, match="comes twice"):
        writes.save_loudspeakers(session, [LINDEN, replace(LINDEN, model="CENTRE")])


def test_a_room_of_the_same_name_is_replaced_whole(engine: sa.Engine) -> None:
    smaller = RoomRecord(name="MILL HOUSE", seats=(SeatRecord("only", 2.5, primary=True),), places=())
    with writing(engine) as session:
        assert writes.save_room(session, ROOM) == writes.Saved(added=1)
        assert writes.save_room(session, smaller) == writes.Saved(changed=1)
        assert reads.rooms(session) == ["MILL HOUSE"]
        assert reads.room(session, "mill house") == smaller
        assert _total(session, Seat) == 1


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"seats": ()}, "0 primary seats"),
        ({"seats": (SeatRecord("a", 3.0, primary=True), SeatRecord("b", 3.0, primary=True))}, "2 primary seats"),
        ({"seats": (SeatRecord("a", 3.0, primary=True), SeatRecord("A", 3.0))}, "two of its seats"),
        ({"seats": (SeatRecord("a", 0.0, primary=True),)}, "seat distance positive"),
        ({"name": " "}, "needs a name"),
    ],
)
def test_a_room_that_cannot_be_leaves_the_old_one(engine: sa.Engine, change: dict[str, Any], told: str) -> None:
    with writing(engine) as session:
        writes.save_room(session, ROOM)
        with pytest.raises(BadInput, match=told):
            writes.save_room(session, replace(ROOM, **change))
        assert reads.room(session, ROOM.name) == ROOM


def test_a_profile_takes_the_place_of_the_one_before(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN])
        number = reads.stored(session, LINDEN.name).id
        profiles.save_profiles(session, [profiles.StoredProfile(number, 1, 1, b"old")])
        profiles.save_profiles(session, [profiles.StoredProfile(number, 2, 1, b"\0new")])
        profiles.save_profiles(session, [])
        found = {"id": [number], "revision": [2], "model_version": [1], "data": [b"\0new"]}
        assert reads.profiles(session) == found
        assert reads.profiles(session, [number]) == found
        assert reads.profiles(session, [number + 1])["id"] == []
        assert _total(session, AcousticProfile) == 1


@pytest.mark.parametrize(
    ("change", "kept"),
    [
        ({"price": Decimal(999)}, True),
        ({"sensitivity": 80.5, "weight": 3.0, "depth": 0.123}, True),
        ({"width": 0.777}, False),
        ({"tweeter_size": 0.0123}, False),
        ({"crossover": (1234.0,)}, False),
        ({"woofer_spacing": 0.21}, False),
        ({"roles": LINDEN.roles ^ {Role.MAIN}}, False),
    ],
)
def test_a_profile_stays_where_nothing_changes_of_what_it_is_made_of(
    engine: sa.Engine, change: dict[str, Any], kept: bool
) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN])
        before = reads.stored(session, LINDEN.name)
        profiles.save_profiles(session, [profiles.StoredProfile(before.id, before.revision, 1, b"p")])
        assert writes.save_loudspeakers(session, [replace(LINDEN, **change)]).changed
        now = reads.stored(session, LINDEN.name)
        assert now.revision == before.revision + 1
        assert (reads.profiles(session)["revision"] == [now.revision]) is kept
        # one that was of an older revision already is of none that is there
        writes.save_loudspeakers(session, [LINDEN])
        assert (reads.profiles(session)["revision"] == [now.revision + 1]) is kept


def test_all_that_is_read_for_profiles_decides_whether_they_stay() -> None:
    own = set(candidates.DESCRIBED) - {"id", "revision", "retired", "name_key"}
    built = {"orientation", "width", "height", "layout", "woofer_spacing"}
    assert own == built, "profiles.described names them, too"


def test_a_price_of_a_pair_and_its_terms_without_an_amount_are_kept(engine: sa.Engine) -> None:
    asked = replace(LINDEN, price=None, price_per=PricePer.PAIR, tax_rate=20.0)
    with writing(engine) as session:
        writes.save_loudspeakers(session, [asked])
    with reading(engine) as session:
        assert reads.loudspeaker(session, asked.name) == asked
