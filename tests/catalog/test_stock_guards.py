"""What the database itself refuses from whoever writes it: these tests go past the code that refuses first."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import LATER, raw_line, shop_in
from triptych.catalog import stock
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import (
    Job,
    Movement,
    MovementKind,
    Price,
    Quote,
    QuoteState,
    Reservation,
    Supplier,
    SupplierPrice,
    SupplyOrder,
)
from triptych.catalog.stock.proof import check

NOW = datetime.now(UTC)


def test_a_right_line_is_taken_so_the_wrong_ones_are_refused_for_what_is_wrong(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=3)
    with writing(engine) as session:
        session.execute(raw_line(session, shop))
        assert stock.level(session, shop.line()).on_hand == 4


WRONG: list[tuple[dict[str, Any], str]] = [
    ({"on_hand": 99}, "sum of the movements"),
    ({"tracked": 1}, "sum of the movements with a serial"),
    ({"effect": 2, "on_hand": 5}, "effect_of_kind"),
    ({"sequence": 1}, "follows the last|uq_movement"),
    ({"sequence": 9}, "follows the last"),
    ({"at": NOW - timedelta(days=1)}, "not before that of the last"),
    ({"at": NOW + timedelta(days=1)}, "not of the future"),
    ({"quantity": 0, "effect": 0, "on_hand": 3}, "quantity_counts"),
    ({"kind": MovementKind.SELL, "quantity": 4, "effect": -4, "on_hand": -1}, "on_hand_not_negative"),
    ({"kind": MovementKind.WRITE_OFF, "effect": -1, "on_hand": 2}, "has a reason"),
    ({"kind": MovementKind.COUNT}, "has a reason"),
    ({"kind": MovementKind.RETURN}, "quarantine first"),
    ({"kind": MovementKind.RESERVE, "effect": 0, "on_hand": 3}, "reserve_for_a_job"),
    ({"kind": MovementKind.RESERVE, "effect": 0, "on_hand": 3, "job_id": 1}, "reserve_for_a_job"),
    ({"kind": MovementKind.RELEASE, "effect": 0, "on_hand": 3}, "release_of_a_reservation"),
    ({"kind": MovementKind.TRANSFER_OUT, "effect": -1, "on_hand": 2}, "says where"),
    ({"kind": MovementKind.TRANSFER_IN}, "names what left"),
    ({"kind": MovementKind.TRANSFER_IN, "from_id": 1}, "names what left"),
    ({"from_id": 1}, "only what comes from elsewhere"),
    ({"order_id": 1}, "brings what was ordered|fk_"),
    ({"serial": "A"}, "serial_whole|tracked is the sum"),
    ({"serial": "A", "serial_sequence": 2, "tracked": 1}, "each line of a serial"),
    ({"serial": "A", "serial_sequence": 1, "tracked": 2, "quantity": 2, "effect": 2, "on_hand": 5}, "names one"),
    ({"kind": MovementKind.SELL, "effect": -1, "on_hand": 2, "reservation_id": 1}, "cannot be used"),
    ({"amount": 5}, "amount_in_a_currency"),
    ({"amount": -5, "currency": "EUR"}, "amount_in_a_currency"),
    ({"until": LATER}, "until_of_a_reservation"),
    ({"reservation_id": 1}, "reservation_ends|cannot be used"),
    ({"sequence": 0}, "sequence_from_one|follows the last"),
    ({"serial": "", "serial_sequence": 1, "tracked": 1}, "serial_named"),
]


def test_a_line_that_would_break_the_ledger_is_refused(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=3)
    with writing(engine) as session:
        for change, said in WRONG:
            with pytest.raises(sa.exc.IntegrityError, match=said), session.begin_nested():
                session.execute(raw_line(session, shop, **change))
        assert stock.level(session, shop.line()).on_hand == 3
        assert all(finding.holds for finding in check(session))


def test_more_than_is_on_hand_cannot_be_reserved_whoever_asks(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=3)
    with writing(engine) as session:
        stock.record_movement(session, shop.line(MovementKind.RESERVE, 2, job="J", until=LATER))
        job = session.scalars(sa.select(Job.id)).one()
    reserve = {"kind": MovementKind.RESERVE, "quantity": 2, "effect": 0, "on_hand": 3, "job_id": job, "until": LATER}
    for change in (reserve, {"kind": MovementKind.SELL, "quantity": 2, "effect": -2, "on_hand": 1}):
        with pytest.raises(sa.exc.IntegrityError, match="never exceeds on hand"), writing(engine) as session:
            session.execute(raw_line(session, shop, **change))


@pytest.mark.parametrize("table", [Movement, Reservation])
@pytest.mark.parametrize("verb", ["update", "delete"])
def test_what_was_written_stays(engine: sa.Engine, table: Any, verb: str) -> None:
    shop = shop_in(engine, centres=3)
    with writing(engine) as session:
        stock.record_movement(session, shop.line(MovementKind.RESERVE, 2, job="J", until=LATER))
    column = "quantity" if table is Movement else "rest"
    statement = sa.update(table).values(**{column: 1}) if verb == "update" else sa.delete(table)
    with (
        pytest.raises(sa.exc.IntegrityError, match=r"only added to|not deleted|ledger says"),
        writing(engine) as session,
    ):
        session.execute(statement)
    with reading(engine) as session:
        assert all(finding.holds for finding in check(session))


def test_a_reservation_that_no_line_made_is_refused(engine: sa.Engine) -> None:
    shop_in(engine, centres=3)
    row = {"movement_id": 1, "holding_id": 1, "until": LATER, "rest": 1}
    with pytest.raises(sa.exc.IntegrityError, match="in the ledger first"), writing(engine) as session:
        session.execute(sa.insert(Reservation).values(**row))


TIMES = [
    (date(2026, 1, 1), date(2026, 2, 1), False),
    (date(2026, 1, 1), date(2026, 2, 2), True),
    (date(2026, 2, 10), date(2026, 2, 11), True),
    (date(2026, 3, 1), None, False),
    (date(2026, 2, 28), None, True),
    (date(2025, 1, 1), None, True),
]


@pytest.mark.parametrize("table", [Price, SupplierPrice])
def test_prices_of_one_time_never_overlap(engine: sa.Engine, table: Any) -> None:
    shop = shop_in(engine)
    with writing(engine) as session:
        session.execute(sa.delete(Price))
        number = session.scalars(sa.insert(Supplier).values(name="H", name_key="h").returning(Supplier.id)).one()
        values: dict[str, Any] = {"loudspeaker_id": shop.centre, "currency": "EUR"}
        values |= {"amount": 100} if table is Price else {"cost": 100, "supplier_id": number}
        session.execute(sa.insert(table).values(**values, valid_from=date(2026, 2, 1), valid_to=date(2026, 3, 1)))
        for start, end, overlaps in TIMES:
            point = session.begin_nested()
            second = sa.insert(table).values(**values, valid_from=start, valid_to=end)
            if overlaps:
                with pytest.raises(sa.exc.IntegrityError, match="_time"):
                    session.execute(second)
            else:
                session.execute(second)
            point.rollback()
        session.execute(sa.insert(table).values(**values, valid_from=date(2026, 3, 1)))
        with pytest.raises(sa.exc.IntegrityError, match="_time"), session.begin_nested():
            session.execute(sa.update(table).where(table.valid_to.is_(None)).values(valid_from=date(2026, 2, 3)))


def test_what_ends_is_never_back_ordered_and_orders_and_quotes_only_go_forward(engine: sa.Engine) -> None:
    shop = shop_in(engine)
    with writing(engine) as session:
        session.execute(sa.insert(Supplier).values(name="Harbour", name_key="harbour"))
        order = {"supplier_id": session.scalars(sa.select(Supplier.id)).one(), "quantity": 2, "ordered_at": NOW}
        session.execute(sa.insert(SupplyOrder).values(**order, loudspeaker_id=shop.centre))
        session.execute(sa.insert(Job).values(name="J", name_key="j"))
        job = session.scalars(sa.select(Job.id)).one()
        quote = {"job_id": job, "state": QuoteState.OPEN, "currency": "EUR", "made_at": NOW, "until": LATER}
        session.execute(sa.insert(Quote).values(**quote))
        session.execute(sa.update(Quote).values(state=QuoteState.ACCEPTED))
    for statement, said in (
        (sa.insert(SupplyOrder).values(**order, loudspeaker_id=shop.last), "never back-ordered"),
        (sa.update(SupplyOrder).values(quantity=3), "only the date"),
        (sa.delete(SupplyOrder), "not deleted"),
        (sa.update(Quote).values(state=QuoteState.OPEN), "open to accepted"),
        (sa.delete(Quote), "not deleted"),
    ):
        with pytest.raises(sa.exc.IntegrityError, match=said), writing(engine) as session:
            session.execute(statement)
