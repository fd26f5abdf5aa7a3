from __future__ import annotations

import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from tests.catalog.stock_shop import CENTRE, LAST, LATER, TOWER, on_hand_by_replay, open_shop, shop_in, there
from tests.conftest import example_count
from triptych.catalog import stock
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Grade, MovementKind
from triptych.catalog.errors import BadInput, CatalogError, NotFound, Refused
from triptych.catalog.stock import desk, operations
from triptych.catalog.stock.articles import matching_mains
from triptych.catalog.stock.availability import promises
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.reading import LinesAsked, ledger, reservations, stock_list
from triptych.catalog.stock.suppliers import cancel_order, order, save_supplier


def test_units_move_at_once_or_by_way_of_a_van(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=5)
    with writing(engine) as session:
        operations.transfer(session, shop.line(quantity=2), "store")
        sent = operations.send(session, shop.line(quantity=3), "store")
        assert (there(session, shop), there(session, shop, location="store")) == (0, 2)
        assert [(row.location, row.on_hand, row.in_transit) for row in stock_list(session)] == [("store", 2, 3)]
        assert stock.available(session, shop.centre) == 2
        operations.arrive(session, sent, 1)
        operations.arrive(session, sent)
        assert there(session, shop, location="store") == 5
        for refused in (None, 1):
            with pytest.raises(Refused, match="arrived already"):
                operations.arrive(session, sent, refused)
        with pytest.raises(NotFound, match="no transfer"):
            operations.arrive(session, 1)
        with pytest.raises(Refused, match="at 'store' as new already"):
            operations.transfer(session, shop.line(location="store"), "STORE")


def test_a_return_waits_in_quarantine_until_it_is_graded(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=1)
    with writing(engine) as session:
        stock.record_movement(session, shop.line(MovementKind.SELL))
        back = shop.line(MovementKind.RETURN, grade=Grade.QUARANTINE)
        stock.record_movement(session, back)
        assert stock.available(session, shop.centre) == 0
        assert there(session, shop, grade=Grade.QUARANTINE) == 1
        with pytest.raises(BadInput, match="quarantine is neither"):
            stock.record_movement(session, replace(back, kind=MovementKind.SELL))
        assert operations.grade_meant(session, shop.line(), Grade.OPEN_BOX) is Grade.QUARANTINE
        operations.regrade(session, back, Grade.OPEN_BOX)
        assert stock.available(session, shop.centre) == 1
        assert stock.available(session, shop.centre, [Grade.NEW]) == 0
        with pytest.raises(Refused, match="only what comes out of quarantine can be new"):
            operations.regrade(session, replace(back, grade=Grade.OPEN_BOX), Grade.NEW)


def test_pairs_move_in_pairs_and_a_split_one_leaves_tracked_singles(engine: sa.Engine) -> None:
    shop = shop_in(engine, towers=4)
    towers = shop.line(loudspeaker_id=shop.tower)
    with writing(engine) as session:
        for kind in (MovementKind.SELL, MovementKind.RECEIVE):
            with pytest.raises(BadInput, match="sold in pairs"):
                stock.record_movement(session, replace(towers, kind=kind))
        numbers = operations.split(session, towers)
        assert len(numbers) == 3
        assert there(session, shop, loudspeaker_id=shop.tower) == 2
        assert there(session, shop, loudspeaker_id=shop.tower, pack=1) == 2
        assert stock.available(session, shop.tower) == 4
        single = replace(towers, kind=MovementKind.SELL, pack=1)
        with pytest.raises(Refused, match="name the serial"):
            stock.record_movement(session, single)
        stock.record_movement(session, replace(single, serial=f"pair {numbers[0]} A"))
        with pytest.raises(Refused, match="not here"):
            stock.record_movement(session, replace(single, serial=f"pair {numbers[0]} A"))
        operations.split(session, towers, ["7A", "7B"])
        with pytest.raises(BadInput, match="two different serials"):
            operations.split(session, towers, ["7A"])
        with pytest.raises(Refused, match="0 on hand"):
            operations.split(session, towers)


@pytest.mark.whole
def test_two_serials_that_come_at_once_are_two_units_or_two_pairs(engine: sa.Engine) -> None:
    shop = shop_in(engine)
    done = desk.receive(engine, Request(CENTRE.name, "shop"), ["A1", "A2"]).done
    assert (done.quantity, done.on_hand, len(done.lines)) == (2, 2, 2)
    assert desk.receive(engine, Request(TOWER.name, "shop", 4), ["P1", "P2"]).done.on_hand == 4
    assert desk.receive(engine, Request(TOWER.name, "shop", single=True), ["S1", "S2"]).done.on_hand == 2
    # two serials for one pair could be either, so it is asked
    with pytest.raises(BadInput, match=r"2 serials for 2: .* one serial, so they name 4; as single"):
        desk.receive(engine, Request(TOWER.name, "shop", 2), ["Q1", "Q2"])
    with pytest.raises(BadInput, match="2 serials for 3"):
        desk.receive(engine, Request(CENTRE.name, "shop", 3), ["B1", "B2"])
    with pytest.raises(Refused, match="in one place"):
        desk.receive(engine, Request(CENTRE.name, "shop"), ["C1", "A1"])
    named = Request(CENTRE.name, "shop", serial="A1")
    assert desk.transfer(engine, named, "store").done.on_hand == 1
    assert desk.regrade(engine, replace(named, location="store"), Grade.DEMO).done.on_hand == 1
    assert desk.transfer(engine, replace(named, location="store", grade=Grade.DEMO), "shop").done.on_hand == 0
    with reading(engine) as session:
        assert there(session, shop) == 1
        assert all(finding.holds for finding in check(session))


def test_a_serial_is_in_one_place_and_promised_once(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=2)
    one = shop.line(serial="A1")
    with writing(engine) as session:
        stock.record_movement(session, one)
        with pytest.raises(Refused, match="in one place"):
            stock.record_movement(session, replace(one, location="store"))
        sent = operations.send(session, one, "store")
        with pytest.raises(Refused, match="on its way by line"):
            stock.record_movement(session, replace(one, location="store"))
        operations.arrive(session, sent)
        held = replace(one, location="store", kind=MovementKind.RESERVE, job="J", until=LATER)
        number = stock.record_movement(session, held)
        with pytest.raises(Refused):
            stock.record_movement(session, replace(held, job="K"))
        stock.record_movement(session, shop.line(location="store"))
        for kind in (MovementKind.SELL, MovementKind.WRITE_OFF):
            with pytest.raises(Refused, match="promised once"):
                stock.record_movement(session, shop.line(kind, location="store", serial="A1", note="gone"))
        sold = shop.line(MovementKind.SELL, location="store", reservation_id=number)
        stock.record_movement(session, sold)
        entry = ledger(session, LinesAsked(CENTRE.name))[-1]
        assert (entry.serial, entry.kind, entry.reservation) == ("A1", "sell", number)
        stock.record_movement(session, shop.line(MovementKind.RETURN, grade=Grade.QUARANTINE, serial="A1"))


@pytest.mark.whole
def test_a_reservation_lapses_by_itself_and_then_binds_nothing(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=2)
    with writing(engine) as session:
        soon = datetime.now(UTC) + timedelta(seconds=0.4)
        number = stock.record_movement(session, shop.line(MovementKind.RESERVE, 2, job="J", until=soon))
        assert stock.available(session, shop.centre) == 0
    time.sleep(0.5)
    with writing(engine) as session:
        assert stock.available(session, shop.centre) == 2
        assert [(row.number, row.lapsed) for row in reservations(session, lapsed=True)] == [(number, True)]
        assert reservations(session) == []
        for kind in (MovementKind.SELL, MovementKind.RELEASE):
            with pytest.raises(Refused, match="lapsed at"):
                stock.record_movement(session, shop.line(kind, 2, reservation_id=number))
        again = stock.record_movement(session, shop.line(MovementKind.RESERVE, 2, job="K", until=LATER))
        stock.record_movement(session, shop.line(MovementKind.SELL, 2, reservation_id=again))
        assert all(finding.holds for finding in check(session))


def test_a_sale_to_a_job_takes_what_is_reserved_for_it_first(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=5)
    with writing(engine) as session:
        for job, quantity in (("J", 2), ("J", 1), ("K", 1)):
            stock.record_movement(session, shop.line(MovementKind.RESERVE, quantity, job=job, until=LATER))
        with pytest.raises(Refused, match="2 on hand, 1 reserved"), session.begin_nested():
            operations.sell(session, shop.line(MovementKind.SELL, 5, job="j"))
        operations.sell(session, shop.line(MovementKind.SELL, 4, job="j"))
        assert stock.level(session, shop.line()) == stock.Level(on_hand=1, reserved=1)
        with pytest.raises(Refused, match="0 reserved for 'j'"):
            operations.end_reservations(session, shop.line(MovementKind.RELEASE, job="j"))
        operations.end_reservations(session, shop.line(MovementKind.RELEASE))
        assert stock.available(session, shop.centre) == 1


def test_a_release_that_could_mean_two_jobs_is_asked_about(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=3)
    with writing(engine) as session:
        for job in ("J", "K"):
            stock.record_movement(session, shop.line(MovementKind.RESERVE, job=job, until=LATER))
        with pytest.raises(BadInput, match="'J' and 'K'"):
            operations.end_reservations(session, shop.line(MovementKind.RELEASE))


def test_a_count_is_the_difference_and_has_a_reason(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=3)
    with writing(engine) as session:
        assert operations.count(session, shop.line(quantity=3)) is None
        with pytest.raises(BadInput, match="needs a reason"):
            operations.count(session, shop.line(quantity=2))
        operations.count(session, shop.line(quantity=2, note="one is missing"))
        operations.count(session, shop.line(quantity=4, note="two were behind the door"))
        stock.record_movement(session, shop.line(MovementKind.RESERVE, 3, job="J", until=LATER))
        with pytest.raises(Refused, match="of the 4 there by the ledger 3 are promised, 3 to J"):
            operations.count(session, shop.line(quantity=2, note="more are missing"))
        assert [entry.quantity for entry in ledger(session, LinesAsked(CENTRE.name)) if entry.kind == "count"] == [
            -1,
            2,
        ]


def test_when_it_could_be_had_otherwise(engine: sa.Engine) -> None:
    today = datetime.now(UTC).date()
    shop = shop_in(engine, centres=1)
    with writing(engine) as session:
        save_supplier(session, "Harbour", 21)
        found = promises(session, [shop.centre, shop.last], 2)
        assert (found[shop.centre].available, found[shop.centre].when) == (1, None)
        assert "never back-ordered" in found[shop.last].why
        number = order(session, CENTRE.name, 4, "harbour", today + timedelta(days=9))
        assert promises(session, [shop.centre], 2)[shop.centre].when == today + timedelta(days=9)
        assert promises(session, [shop.centre], 1)[shop.centre].when == today
        stock.record_movement(session, shop.line(quantity=4, order_id=number))
        assert promises(session, [shop.centre], 5)[shop.centre].available == 5
        stock.record_movement(session, shop.line(MovementKind.RESERVE, 5, job="J", until=LATER))
        lapse = promises(session, [shop.centre], 1)[shop.centre]
        assert lapse.when == (LATER + timedelta(days=1)).date()
        with pytest.raises(Refused, match="never back-ordered"):
            order(session, LAST.name, 1, "harbour")
        cancel_order(session, order(session, CENTRE.name, 4, "harbour", today))
        assert promises(session, [shop.centre], 1)[shop.centre] == lapse


def test_the_last_centres_are_warned_of_while_their_mains_are_about(engine: sa.Engine) -> None:
    shop = shop_in(engine, towers=4, centres=1, last=1)
    with writing(engine) as session:
        assert matching_mains(session, shop.centre) is None
        stock.record_movement(session, shop.line(MovementKind.SELL, 2, loudspeaker_id=shop.tower))
        about = matching_mains(session, shop.last)
        assert about is not None
        assert (about.family, about.sold, about.on_hand) == ("Linden", 2, 2)


steps = st.lists(
    st.tuples(
        st.sampled_from(["receive", "reserve", "release", "sell", "transfer", "count", "regrade", "return", "split"]),
        st.integers(0, 5),
        st.sampled_from(["shop", "store"]),
        st.sampled_from(["tower", "centre"]),
    ),
    max_size=15,
)


@pytest.mark.examples
@given(steps=steps)
@settings(max_examples=example_count(1 / 3), suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_is_done_the_proof_holds_and_refusals_change_nothing(
    engine: sa.Engine, steps: list[tuple[str, int, str, str]]
) -> None:
    with Session(engine.execution_options(write=True)) as session:
        shop = open_shop(session, towers=4, centres=2)
        for what, quantity, place, model in steps:
            line = shop.line(quantity=quantity, loudspeaker_id=getattr(shop, model), location=place)
            before = on_hand_by_replay(session)
            try:
                with session.begin_nested():
                    _do(session, what, line)
            except CatalogError:
                assert on_hand_by_replay(session) == before
        found = check(session)
        assert all(finding.holds for finding in found), found
        assert all(units >= 0 for units in on_hand_by_replay(session).values())
        session.rollback()


def _do(session: Session, what: str, line: Any) -> None:
    if what == "transfer":
        operations.transfer(session, line, "store" if line.location == "shop" else "shop")
    elif what == "count":
        operations.count(session, replace(line, note="counted"))
    elif what == "regrade":
        operations.regrade(session, line, Grade.DEMO)
    elif what == "return":
        stock.record_movement(session, replace(line, kind=MovementKind.RETURN, grade=Grade.QUARANTINE))
    elif what == "split":
        operations.split(session, line)
    elif what == "release":
        operations.end_reservations(session, replace(line, kind=MovementKind.RELEASE))
    elif what == "reserve":
        stock.record_movement(session, replace(line, kind=MovementKind.RESERVE, job="J", until=LATER))
    else:
        operations.sell(session, replace(line, kind=MovementKind(what), job="J" if what == "sell" else None))


def test_the_proof_fails_where_the_ledger_is_broken(engine: sa.Engine) -> None:
    shop = shop_in(engine, centres=3)
    with writing(engine) as session:
        stock.record_movement(session, shop.line(MovementKind.RESERVE, 2, job="J", until=LATER))
    broken = (
        (
            "UPDATE movement SET on_hand = 7, effect = 7, quantity = 7 WHERE kind = 'receive'",
            "movement_never_update",
            "movement",
        ),
        ("UPDATE reservation SET rest = 1", "reservation_left", "reservation"),
    )
    for statement, trigger, table in broken:
        with writing(engine) as session:
            drop = f"DROP TRIGGER {trigger}" + (f" ON {table}" if engine.dialect.name == "postgresql" else "")
            session.execute(sa.text(drop))
            session.execute(sa.text(statement))
    with reading(engine) as session:
        failed = [finding.invariant for finding in check(session) if not finding.holds]
    assert any("what is left" in name for name in failed)
    assert any("sum to on hand" in name for name in failed)
