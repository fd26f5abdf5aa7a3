"""A firm's week: jobs, orders, moves of what is promised, loans, pairs."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, LATER, TOWER, shop_in
from tests.catalog.week_shop import AT, MILL, PAIR, fill, hold_sound, ordered, read, there_at
from triptych.catalog.database.engine import writing
from triptych.catalog.database.models import Grade
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.stock import desk
from triptych.catalog.stock.availability import promises
from triptych.catalog.stock.carrying import loans
from triptych.catalog.stock.earnings import stock_value
from triptych.catalog.stock.job_sums import job_lines, job_story, jobs, story_words
from triptych.catalog.stock.quotes import Item, QuotePart
from triptych.catalog.stock.reading import LinesAsked, ledger, reservations, stock_list
from triptych.catalog.stock.suppliers import orders


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    return filled(engine, fill)


def test_a_job_says_what_is_promised_ordered_installed_and_outstanding(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, quantity=2), LATER)
    desk.sell(shop, replace(MILL, quantity=1))
    ordered(shop, job="Mill House")
    quote = desk.make_quote(shop, "Mill House", [Item(TOWER.name, 6)])
    (centres, towers) = read(shop, job_lines, "mill house")
    assert (centres.promised, centres.to_fetch, centres.ordered, centres.installed) == (1, ("1 at shop",), 3, 1)
    assert (centres.outstanding, centres.to_order) == (4, 0)
    # of six that are offered four are free
    assert (towers.offered, towers.to_order, towers.to_order_if_taken, towers.outstanding) == (6, 0, 2, 0)
    story = read(shop, job_story, "Mill House")
    assert [one.number for one in story.quotes] == [quote.offer.number]
    assert [one.units for one in story.reservations] == [1]
    assert [one.quantity for one in story.orders] == [3]
    desk.lapse_quote(shop, quote.offer.number)
    (sums,) = read(shop, jobs)
    assert (sums.job, sums.promised, sums.ordered, sums.outstanding, sums.until) == ("Mill House", 1, 3, 4, LATER)
    with pytest.raises(NotFound, match="did you mean 'Mill House'"):
        read(shop, job_lines, "Mil House")


@pytest.mark.whole
def test_what_came_back_of_a_job_is_owed_again_unless_its_money_was_given_back(shop: sa.Engine) -> None:
    desk.sell(shop, replace(MILL, quantity=3))
    assert read(shop, jobs) == []
    desk.take_back(shop, replace(MILL, quantity=2))
    (sums,) = read(shop, jobs)
    assert (sums.installed, sums.returned, sums.outstanding) == (1, 2, 2)
    desk.sell(shop, MILL)
    (sums,) = read(shop, jobs)
    assert (sums.installed, sums.returned, sums.outstanding) == (2, 1, 1)
    line = desk.take_back(shop, MILL, refund=True).done.lines[0]
    (sums,) = read(shop, jobs)
    assert (sums.installed, sums.returned, sums.outstanding) == (1, 1, 1)
    desk.undo(shop, line)
    desk.sell(shop, MILL)
    assert read(shop, jobs) == []


@pytest.mark.whole
def test_two_jobs_become_one_for_all_that_asks_for_either(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, job="Mill Huose", quantity=2), LATER)
    desk.new_job(shop, "Mill House")
    desk.reserve(shop, MILL, LATER)
    assert desk.merge_jobs(shop, "mill huose", "Mill House") == "Mill House"
    assert {one.job for one in read(shop, reservations)} == {"Mill House"}
    assert len(read(shop, ledger, LinesAsked(job="Mill Huose"))) == 2
    # under either name all three are its own
    desk.sell(shop, replace(MILL, job="Mill Huose", quantity=3))
    assert there_at(shop, "shop") == (2, 0)
    (line,) = read(shop, job_lines, "Mill House")
    assert (line.installed, line.promised) == (3, 0)
    with pytest.raises(Refused, match="one job already"):
        desk.merge_jobs(shop, "Mill House", "Mill Huose")
    desk.reserve(shop, replace(MILL, job="Barn"), LATER)
    assert desk.merge_jobs(shop, "Mill House", "Barn") == "Barn"
    assert [one.job for one in read(shop, job_lines, "Mill Huose")] == ["Barn"]
    assert [one.installed for one in read(shop, job_lines)] == [3]
    hold_sound(shop)


@pytest.mark.whole
def test_a_job_is_renamed_and_takes_nobody_elses_name(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, job="Mill Huose"), LATER)
    desk.reserve(shop, replace(MILL, job="Barn"), LATER)
    assert desk.rename_job(shop, "mill huose", "  Mill   House ") == "Mill House"
    desk.release(shop, MILL)
    with pytest.raises(BadInput, match="another job is named 'Barn': make them one"):
        desk.rename_job(shop, "Mill House", "BARN")
    for name in ("", "a\x1bb"):
        with pytest.raises(BadInput):
            desk.rename_job(shop, "Mill House", name)
    hold_sound(shop)


@pytest.mark.whole
def test_quotes_of_a_merged_job_take_what_either_holds(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, job="Mill Huose", quantity=5), LATER)
    desk.new_job(shop, "Mill House")
    number = desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 2)]).offer.number
    desk.merge_jobs(shop, "Mill Huose", "Mill House")
    desk.accept_quote(shop, number)
    assert [(one.units, one.job) for one in read(shop, reservations)] == [(3, "Mill House"), (2, "Mill House")]
    hold_sound(shop)


@pytest.mark.whole
def test_the_ledger_by_day_person_job_and_place(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, who="bert"), LATER)
    desk.transfer(shop, replace(AT, who="bert"), "van")
    today = datetime.now(UTC).date()
    assert len(read(shop, ledger, LinesAsked())) == 5
    assert read(shop, ledger, LinesAsked(first=today - timedelta(days=9), last=today - timedelta(days=2))) == []
    assert len(read(shop, ledger, LinesAsked(first=today - timedelta(days=1), last=today + timedelta(days=1)))) == 5
    assert [one.kind for one in read(shop, ledger, LinesAsked(location="VAN"))] == ["transfer_in"]
    assert [one.kind for one in read(shop, ledger, LinesAsked(job="Mill House"))] == ["reserve"]
    if shop.dialect.name == "sqlite":
        assert len(read(shop, ledger, LinesAsked(who="Bert"))) == 3
    assert {one.speaker for one in read(shop, ledger, LinesAsked(speaker=TOWER.name))} == {TOWER.name}
    for asked in (LinesAsked(location="vam"), LinesAsked(job="Mil House"), LinesAsked(speaker="Oatfel Linden Centre")):
        with pytest.raises(NotFound, match=r"did you mean|the nearest"):
            read(shop, ledger, asked)


def test_a_promised_unit_of_another_grade_is_told_as_such_and_covers_no_new_one(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, quantity=1), LATER)
    demo = replace(MILL, quantity=1, grade=Grade.DEMO)
    desk.receive(shop, replace(demo, job=None))
    desk.reserve(shop, demo, LATER)
    desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 9)])
    (line,) = read(shop, job_lines, "mill house")
    assert (line.promised, line.to_fetch) == (2, ("1 at shop", "1 demo at shop"))
    free = sum(one.available for one in read(shop, stock_list) if one.speaker == line.speaker and one.grade == "new")
    assert line.to_order_if_taken == 9 - 1 - free
    words = story_words(read(shop, job_story, "Mill House"))
    assert [one.split(", ")[-1].split(" at ")[0] for one in words if one.startswith("reservation")][1] == "demo"


def test_a_day_of_the_ledger_is_one_where_the_units_are(shop: sa.Engine) -> None:
    """Kiritimati is 14 hours ahead and Pago Pago 11 behind: never both have the same day for a whole day."""
    from triptych.catalog.stock.locations import save_location

    days = []
    for zone in ("Pacific/Kiritimati", "Pacific/Pago_Pago"):
        with writing(shop) as session:
            save_location(session, "shop", zone)
        now = datetime.now(UTC)
        shift = {"Pacific/Kiritimati": 14, "Pacific/Pago_Pago": -11}[zone]
        there = (now + timedelta(hours=shift)).date()
        days.append(there)
        assert len(read(shop, ledger, LinesAsked(first=there))) == 2
        assert read(shop, ledger, LinesAsked(first=there + timedelta(days=1))) == []
    assert days[0] != days[1]


def test_what_was_ordered_for_a_job_arrives_reserved_for_it(shop: sa.Engine) -> None:
    number = ordered(shop, job="Mill House", finish="oak")
    answer = desk.receive(shop, replace(AT, quantity=2, order=number))
    assert answer.done.finish == "oak"
    assert "reserved for Mill House" in " ".join(answer.remarks)
    assert [(one.units, one.job) for one in read(shop, reservations)] == [(2, "Mill House")]
    with pytest.raises(Refused, match="is for 'oak', not 'ash'"):
        desk.receive(shop, replace(AT, order=number, finish="ash"))
    desk.receive(shop, replace(AT, order=number), ["S1"])
    assert [one.serial for one in read(shop, reservations)] == [None, "S1"]
    with pytest.raises((Refused, sa.exc.DBAPIError), match="what was ordered, and no more"):
        desk.receive(shop, replace(AT, order=number))
    hold_sound(shop)


def test_a_receipt_from_an_order_is_undone_and_may_come_again(shop: sa.Engine) -> None:
    number = ordered(shop)
    line = desk.receive(shop, replace(AT, quantity=3, order=number)).done.lines[0]
    assert read(shop, orders) == []
    desk.undo(shop, line, "another model")
    assert [(one.quantity, one.come) for one in read(shop, orders)] == [(3, 0)]
    assert there_at(shop, "shop") == (5, 0)
    desk.receive(shop, replace(AT, quantity=3, order=number))
    with pytest.raises((Refused, sa.exc.DBAPIError), match="what was ordered, and no more"):
        desk.receive(shop, replace(AT, order=number))
    hold_sound(shop)


def test_what_is_reserved_moves_to_the_van_and_stays_reserved(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, quantity=2), LATER)
    desk.reserve(shop, replace(MILL, job="Barn", quantity=3), LATER)
    answer = desk.transfer(shop, replace(MILL, quantity=2), "van")
    assert [(one.location, one.units, one.job, one.until) for one in read(shop, reservations)] == [
        ("shop", 3, "Barn", LATER),
        ("van", 2, "Mill House", LATER),
    ]
    assert (there_at(shop, "shop"), there_at(shop, "van"), len(answer.done.lines)) == ((3, 3), (2, 2), 4)
    for wrong, said in (
        (replace(MILL, location="van", quantity=3), "2 reserved for 'Mill House'"),
        (MILL, "0 reserved"),
    ):
        with pytest.raises(Refused, match=said):
            desk.transfer(shop, wrong, "store")
    with pytest.raises(Refused, match=r"0 on hand|3 reserved"):
        desk.transfer(shop, AT, "van")
    desk.sell(shop, replace(MILL, location="van", quantity=2))
    hold_sound(shop)


@pytest.mark.slow
def test_an_accepted_quote_goes_out_from_the_van_in_two_deliveries_at_its_prices(shop: sa.Engine) -> None:
    number = desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 3), Item(TOWER.name, 2)]).offer.number
    desk.accept_quote(shop, number)
    desk.transfer(shop, replace(MILL, quantity=3), "van")
    step = desk.sell_quote(shop, number, parts=[QuotePart(CENTRE.name, 2)])
    assert step.offer.state == "accepted"
    assert [(one.quantity, one.delivered, one.to_come) for one in step.offer.lines] == [(3, 2, 1), (2, 0, 2)]
    (line,) = [one for one in read(shop, job_lines, "Mill House") if one.speaker == CENTRE.name]
    assert (line.installed, line.promised, line.outstanding) == (2, 1, 1)
    with pytest.raises(Refused, match=r"1 of Oatfell Linden Centre are left to deliver, not 2"):
        desk.sell_quote(shop, number, parts=[QuotePart(CENTRE.name, 2)])
    with pytest.raises(Refused, match="0 of Oatfell Linden Tower in 'oak' are left"):
        desk.sell_quote(shop, number, parts=[QuotePart(TOWER.name, None, "oak")])
    assert desk.sell_quote(shop, number).offer.state == "sold"
    sold = [one for one in read(shop, ledger, LinesAsked()) if one.kind == "sell"]
    assert [(one.quantity, one.amount, one.quote) for one in sold] == [
        (2, Decimal("400.00"), number),
        (1, Decimal("400.00"), number),
        (2, Decimal("500.00"), number),
    ]
    hold_sound(shop)


@pytest.mark.slow
def test_a_loan_is_promised_to_nobody_else_and_comes_back(shop: sa.Engine) -> None:
    desk.regrade(shop, AT, Grade.DEMO, Grade.NEW)
    demo = replace(MILL, grade=Grade.DEMO)
    answer = desk.lend(shop, demo, LATER)
    assert answer.done.location == "lent to Mill House"
    (loan,) = read(shop, loans)
    assert (loan.job, loan.units, loan.grade, loan.until, loan.overdue) == ("Mill House", 1, "demo", LATER, False)
    with writing(shop) as session:
        number = session.scalar(sa.text("SELECT id FROM loudspeaker WHERE name_key = 'oatfell linden centre'"))
        # not even when the day has passed
        late = LATER + timedelta(days=3)
        assert promises(session, [number], 1, (Grade.DEMO,), late)[number].available == 0
        assert loans(session, late)[0].overdue
    (line,) = read(shop, job_lines, "Mill House")
    assert (line.lent, line.promised, line.installed) == (1, 0, 0)
    with pytest.raises(Refused, match=r"0 on hand|cannot"):
        desk.bring_back(shop, replace(demo, quantity=2))
    desk.bring_back(shop, demo)
    assert read(shop, loans) == []
    desk.lend(shop, demo, LATER)
    desk.sell(shop, replace(demo, location="lent to Mill House"))
    assert [one.installed for one in read(shop, job_lines, "Mill House")] == [1]
    with pytest.raises(NotFound):
        desk.bring_back(shop, replace(demo, job="Barn"))
    hold_sound(shop)


@pytest.mark.whole
def test_two_singles_become_a_pair_at_what_they_cost(engine: sa.Engine) -> None:
    shop_in(engine)
    desk.receive(engine, replace(PAIR, quantity=2, amount=30000, currency="EUR"))
    desk.split(engine, PAIR, ["A", "B"])
    before = read(engine, stock_value)
    with pytest.raises(BadInput, match="name their two serials"):
        desk.join(engine, PAIR, ["A", " A "])
    with pytest.raises((Refused, sa.exc.DBAPIError)):
        desk.join(engine, PAIR, ["A", "C"])
    desk.join(engine, replace(PAIR, serial="AB"), ["A", "B"])
    (found,) = read(engine, stock_list)
    assert (found.pack, found.on_hand, found.serials) == (2, 2, ("AB",))
    assert read(engine, stock_value) == before
    assert [(one.units, one.cost) for one in before] == [(2, Decimal("600.00"))]
    with pytest.raises(BadInput, match="not sold in pairs"):
        desk.join(engine, AT, ["A", "B"])
    hold_sound(engine)


def test_a_sale_of_a_pair_tells_of_the_single_that_stays_reserved(shop: sa.Engine) -> None:
    desk.split(shop, PAIR, ["A", "B"])
    mill = replace(PAIR, job="Mill House")
    desk.reserve(shop, replace(mill, serial="A", single=True), LATER)
    desk.reserve(shop, replace(mill, quantity=2), LATER)
    answer = desk.sell(shop, replace(mill, quantity=2))
    assert "still reserved for Mill House: 1 single at shop: sell it too" in " ".join(answer.remarks)
    assert desk.sell(shop, replace(mill, serial="A", single=True)).remarks == ()
