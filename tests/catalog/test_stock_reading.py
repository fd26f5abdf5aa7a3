from __future__ import annotations

import threading
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from tests.catalog.columns_told import columns_told
from triptych.catalog import stock
from triptych.catalog.database import reads, writes
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Grade, Movement, MovementKind
from triptych.catalog.errors import BadInput, CatalogError, NotFound, Refused
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stock import MovementLine, desk
from triptych.catalog.stock.desk import Answer, Request

LINDEN = LoudspeakerRecord(maker="Oatfell", model="Centre")
TODAY = datetime.now(UTC).date()
NEXT_WEEK = TODAY + timedelta(days=7)


def _shop(session: Session, quantity: int = 0) -> MovementLine:
    writes.save_loudspeakers(session, [LINDEN])
    line = MovementLine(reads.stored(session, LINDEN.name).id, MovementKind.RECEIVE, 1, "shop")
    if quantity:
        stock.record_movement(session, replace(line, quantity=quantity))
    return line


def _reserve(line: MovementLine, quantity: int, until: date = NEXT_WEEK) -> MovementLine:
    return replace(line, kind=MovementKind.RESERVE, quantity=quantity, job="J1", until=until)


def test_a_model_without_a_movement_has_no_number(engine: sa.Engine) -> None:
    with writing(engine) as session:
        line = _shop(session)
        assert stock.available(session, line.loudspeaker_id) is None
        assert columns_told(session)["available"] == [None]


def test_a_reservation_is_not_available_until_released_sold_or_lapsed(engine: sa.Engine) -> None:
    with writing(engine) as session:
        line = _shop(session, 5)
        number = stock.record_movement(session, _reserve(line, 3))
        assert stock.available(session, line.loudspeaker_id) == 2
        release = replace(line, kind=MovementKind.RELEASE, reservation_id=number)
        stock.record_movement(session, release)
        assert stock.available(session, line.loudspeaker_id) == 3
        stock.record_movement(session, replace(release, kind=MovementKind.SELL))
        assert stock.level(session, line) == stock.Level(on_hand=4, reserved=1)
        after = session.execute(stock.available_query(NEXT_WEEK + timedelta(days=1))).one()
        assert tuple(after) == (line.loudspeaker_id, 4)


def test_a_reservation_holds_to_the_end_of_its_day_and_not_of_a_day_before(engine: sa.Engine) -> None:
    with writing(engine) as session:
        line = _shop(session, 2)
        with pytest.raises(BadInput, match="that has passed"):
            stock.record_movement(session, _reserve(line, 2, TODAY - timedelta(days=1)))
        assert stock.available(session, line.loudspeaker_id) == 2
        stock.record_movement(session, _reserve(line, 2, TODAY))
        assert stock.available(session, line.loudspeaker_id) == 0


def test_a_demonstration_unit_is_not_offered_as_new(engine: sa.Engine) -> None:
    with writing(engine) as session:
        line = _shop(session)
        stock.record_movement(session, replace(line, grade=Grade.DEMO, quantity=2))
        assert stock.available(session, line.loudspeaker_id) == 2
        assert stock.available(session, line.loudspeaker_id, [Grade.NEW]) == 0
        assert columns_told(session)["available"] == [0]


@pytest.mark.parametrize(
    "change",
    [
        {"kind": MovementKind.SELL, "quantity": 3},
        {"kind": MovementKind.WRITE_OFF, "quantity": 3, "note": "lost"},
        {"kind": MovementKind.COUNT, "quantity": -3, "note": "missing"},
        {"kind": MovementKind.SELL, "grade": Grade.DEMO},
        {"kind": MovementKind.SELL, "location": "van"},
        {"kind": MovementKind.SELL, "finish": "oak"},
        {"kind": MovementKind.RESERVE, "quantity": 3, "job": "J", "until": NEXT_WEEK},
    ],
)
def test_no_more_goes_out_than_there_is(engine: sa.Engine, change: dict[str, object]) -> None:
    with writing(engine) as session:
        line = _shop(session, 2)
        with pytest.raises(Refused, match=r"cannot .* on hand, 0 reserved.*; nothing was written"):
            stock.record_movement(session, replace(line, **change))  # type: ignore[arg-type]  # any field of it
        assert stock.available(session, line.loudspeaker_id) == 2


def test_what_is_reserved_cannot_be_sold_to_another(engine: sa.Engine) -> None:
    with writing(engine) as session:
        line = _shop(session, 2)
        number = stock.record_movement(session, _reserve(line, 2))
        with pytest.raises(Refused, match="2 on hand, 2 reserved"):
            stock.record_movement(session, replace(line, kind=MovementKind.SELL))
        with pytest.raises(Refused, match=f"reservation {number} holds 2, not 3"):
            stock.record_movement(session, replace(line, kind=MovementKind.RELEASE, quantity=3, reservation_id=number))


@pytest.mark.parametrize(
    ("change", "kind", "told"),
    [
        ({"quantity": 0}, BadInput, "quantity 0"),
        ({"quantity": -1}, BadInput, "quantity -1"),
        ({"quantity": 10**12}, BadInput, "must be from 1"),
        ({"location": " "}, BadInput, "no location"),
        ({"kind": MovementKind.RESERVE}, BadInput, "a job and a date"),
        ({"kind": MovementKind.RELEASE}, BadInput, "number of its reservation"),
        ({"reservation_id": 1}, BadInput, "does not end a reservation"),
        ({"serial": "7", "quantity": 2}, BadInput, "names one unit"),
        ({"kind": MovementKind.RELEASE, "reservation_id": 999}, NotFound, "no reservation"),
        ({"loudspeaker_id": 999}, NotFound, "no loudspeaker"),
    ],
)
def test_a_line_that_makes_no_sense_is_refused(
    engine: sa.Engine, change: dict[str, object], kind: type[CatalogError], told: str
) -> None:
    with writing(engine) as session:
        line = _shop(session)
        with pytest.raises(kind, match=told):
            stock.record_movement(session, replace(line, **change))  # type: ignore[arg-type]  # any field of it
        assert session.scalar(sa.select(sa.func.count()).select_from(Movement)) == 0


def test_many_at_once_sell_no_more_than_there_is(engine: sa.Engine) -> None:
    with writing(engine) as session:
        line = _shop(session, 3)
    outcomes: list[object] = []

    def sell() -> None:
        try:
            outcomes.append(desk.sell(engine, Request(LINDEN.name, "shop")))
        except Refused as refusal:
            outcomes.append(refusal)

    threads = [threading.Thread(target=sell) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(isinstance(outcome, Answer) for outcome in outcomes) == 3
    assert len(outcomes) == 8
    with reading(engine) as session:
        assert stock.available(session, line.loudspeaker_id) == 0
