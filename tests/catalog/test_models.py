from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import models
from triptych.catalog.database.engine import writing
from triptych.catalog.database.models import Base, Loudspeaker, Movement, Seat, every_table
from triptych.catalog.database.rows import SCALARS
from triptych.catalog.records import Enclosure, LoudspeakerRecord

OWN = {"id": 1, "revision": 1, "retired": False, "maker_id": 1, "model": "Centre", "name_key": "oatfell centre"}
PLACE = {"id": 1, "name": "shop", "name_key": "shop", "zone": "UTC"}
HOLDING = {"id": 1, "loudspeaker_id": 1, "location_id": 1, "grade": models.Grade.NEW, "pack": 1, "finish_key": ""}
MOVE = {
    "loudspeaker_id": 1,
    "holding_id": 1,
    "sequence": 1,
    "kind": models.MovementKind.RECEIVE,
    "quantity": 1,
    "effect": 1,
    "on_hand": 1,
    "tracked": 0,
    "at": datetime(2026, 1, 1, tzinfo=UTC),
}
ROOM = {"id": 1, "name": "r", "name_key": "r", "amplifier": False, "listening_needs_real_centre": False}
SEAT = {"room_id": 1, "x": 0.0, "distance": 3.0, "primary": True, "regular": True}
RULE = {
    "rule_set_id": 1,
    "ordinal": 1,
    "name": "r",
    "kind": models.RuleKind.MUST,
    "form": models.RuleForm.PRESENCE,
    "measure": models.RuleMeasure.ALL,
    "factor": "1",
    "against_measure": models.RuleMeasure.ALL,
}
PRICE = {"loudspeaker_id": 1, "valid_from": date(2026, 1, 1)}


def _add(session: Session, table: type[Base], **values: Any) -> None:
    session.execute(sa.insert(table).values(**values))


def _parents(session: Session) -> None:
    _add(session, models.Maker, id=1, name="Oatfell", name_key="oatfell")
    _add(session, models.Maker, id=2, name="Brook", name_key="brook")
    _add(session, models.Series, id=1, maker_id=2, name="Linden", name_key="linden")
    _add(session, Loudspeaker, **OWN)
    _add(session, models.Room, **ROOM)
    _add(session, Seat, **SEAT, ordinal=0, name="a", name_key="a")
    _add(session, models.RuleSet, id=1, name="r", name_key="r")
    _add(session, models.Price, **PRICE, amount=52000, currency="EUR")


def test_every_number_says_its_unit() -> None:
    silent = {
        f"{table.name}.{column.name}"
        for table in every_table().tables.values()
        for column in table.columns
        if isinstance(column.type, sa.Float | sa.Integer)
        and not column.primary_key
        and not column.foreign_keys
        and "unit" not in column.info
    }
    assert silent == set()


def test_every_constraint_is_named_by_the_convention() -> None:
    for table in every_table().tables.values():
        for constraint in table.constraints:
            assert str(constraint.name).startswith(("pk_", "uq_", "fk_", "ck_")), (table.name, constraint)
        assert all(str(index.name).startswith(("ix_", "uq_")) for index in table.indexes)


def test_every_field_of_a_record_is_a_column_or_a_row_of_its_own() -> None:
    elsewhere = {"maker", "model", "series", "family", "roles", "figures", "crossover", "crossover_order"}
    elsewhere |= {"price", "currency", "price_per", "tax", "tax_rate"}
    rest = set(LoudspeakerRecord.__slots__) - set(SCALARS) - elsewhere
    assert {name.partition("_")[0] for name in rest} == {"tweeter", "midrange", "woofer"}


@pytest.mark.parametrize(
    ("table", "values", "constraint"),
    [
        (Loudspeaker, OWN | {"id": 2}, "name_key"),
        (Loudspeaker, OWN | {"id": 2, "name_key": ""}, "ck_loudspeaker_named"),
        (Loudspeaker, OWN | {"id": 2, "name_key": "x", "impedance_nominal": 0.0}, "impedance_nominal_positive"),
        (Loudspeaker, OWN | {"id": 2, "name_key": "x", "low_limit": 90.0, "high_limit": 80.0}, "low_limit_below"),
        (Loudspeaker, OWN | {"id": 2, "name_key": "x", "feet": -0.1}, "feet_not_negative"),
        (Loudspeaker, OWN | {"id": 2, "name_key": "x", "maker_id": 9}, "FOREIGN KEY|maker_id"),
        (Loudspeaker, OWN | {"id": 2, "name_key": "x", "series_id": 1}, "FOREIGN KEY|series_id_maker_id"),
        (models.Driver, {"loudspeaker_id": 1, "kind": models.DriverKind.WOOFER, "size": 0.0}, "size_positive"),
        (models.Driver, {"loudspeaker_id": 1, "kind": models.DriverKind.TWEETER, "coverage_vertical": 9.0}, "whole"),
        (models.Crossover, {"loudspeaker_id": 1, "ordinal": 1, "frequency": 350.0, "order": 9}, "order_range"),
        (models.Price, PRICE | {"valid_from": date(2026, 2, 1), "amount": 1}, "price.loudspeaker_id|uq_price_open"),
        (models.Price, PRICE | {"valid_to": date(2025, 1, 1)}, "valid_from"),
        (models.Price, PRICE | {"valid_to": date(2027, 1, 1), "amount": -1}, "amount_not_negative"),
        (models.Price, PRICE | {"valid_to": date(2027, 1, 1), "currency": "eur"}, "currency_code"),
        (Seat, SEAT | {"ordinal": 1, "name": "b", "name_key": "b"}, "seat.room_id|uq_seat_primary"),
        (Seat, SEAT | {"ordinal": 1, "name": "a", "name_key": "a", "primary": False}, "name_key"),
        (models.Rule, RULE | {"factor": "-0.15"}, "factor_not_negative"),
        (models.Rule, RULE | {"denominator": models.Denominator.LIMIT}, "presence_of_no_share"),
    ],
)
def test_the_database_refuses_by_the_name_of_its_rule(
    engine: sa.Engine, table: type[Base], values: dict[str, Any], constraint: str
) -> None:
    with writing(engine) as session:
        _parents(session)
        with pytest.raises(sa.exc.IntegrityError, match=constraint):
            _add(session, table, **values)
        session.rollback()


def test_an_enum_is_stored_by_its_value_and_no_other_is_taken(engine: sa.Engine) -> None:
    with writing(engine) as session:
        _parents(session)
        session.execute(sa.text("UPDATE loudspeaker SET enclosure = 'passive_radiator'"))
        assert session.scalar(sa.select(Loudspeaker.enclosure)) is Enclosure.PASSIVE_RADIATOR
        with pytest.raises(sa.exc.IntegrityError, match="ck_loudspeaker_enclosure"):
            session.execute(sa.text("UPDATE loudspeaker SET enclosure = 'PORTED'"))
        session.rollback()


def test_text_is_no_number(engine: sa.Engine) -> None:
    with writing(engine) as session:
        _parents(session)
        with pytest.raises(sa.exc.DBAPIError, match=r"TEXT value in REAL column|invalid input syntax"):
            session.execute(sa.text("UPDATE loudspeaker SET width = 'wide'"))
        session.rollback()


def _moved(session: Session, **changed: Any) -> None:
    _add(session, models.Location, **PLACE)
    _add(session, models.Holding, **HOLDING)
    _add(session, Movement, **MOVE | changed)


def test_what_a_loudspeaker_owns_goes_with_it(engine: sa.Engine) -> None:
    with writing(engine) as session:
        _parents(session)
        session.execute(sa.delete(Loudspeaker))
        assert session.scalar(sa.select(sa.func.count()).select_from(models.Price)) == 0


def test_its_ledger_holds_a_loudspeaker(engine: sa.Engine) -> None:
    with writing(engine) as session:
        _parents(session)
        _moved(session)
    with pytest.raises(sa.exc.IntegrityError), writing(engine) as session:
        session.execute(sa.delete(Loudspeaker))


def test_an_instant_is_utc_and_needs_a_zone(engine: sa.Engine) -> None:
    east = datetime(2026, 3, 29, 1, 30, tzinfo=timezone(timedelta(hours=5, minutes=30)))
    with writing(engine) as session:
        _parents(session)
        _moved(session, at=east)
        found = session.scalar(sa.select(Movement.at))
        assert found == east
        assert found is not None
        assert found.tzinfo is UTC or found.utcoffset() == timedelta(0)
        with pytest.raises(sa.exc.StatementError, match="needs a zone"):
            _add(session, Movement, **MOVE | {"sequence": 2, "on_hand": 2, "at": east.replace(tzinfo=None)})
        session.rollback()


def test_each_name_that_the_models_give_is_that_of_a_table_module() -> None:
    """What type checkers read of the models is what runs."""
    text = Path(models.__file__).read_text(encoding="utf-8")
    pairs = re.findall(r"from triptych\.catalog\.database\.models\.(\w+) import (\w+) as \2", text)
    assert {name: f"{models.__name__}.{module}" for module, name in pairs} == {
        name: getattr(models, name).__module__ for name in models._HOMES
    }
    with pytest.raises(AttributeError, match="no attribute 'Nothing'"):
        _ = models.Nothing


@pytest.mark.parametrize("engine", ["sqlite", "postgresql+psycopg"])
def test_an_index_of_some_rows_is_one_on_both_engines(engine: str) -> None:
    dialect = sa.make_url(f"{engine}://").get_dialect()()
    tables = every_table().tables
    index = next(index for index in tables["price"].indexes if index.name == "uq_price_open")
    made = str(sa.schema.CreateIndex(index).compile(dialect=dialect))
    assert made == "CREATE UNIQUE INDEX uq_price_open ON price (loudspeaker_id) WHERE valid_to IS NULL"
