"""A firm's week: jobs, deliveries, loans, moves of what is promised, what is to be ordered, and what was earned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, LATER, TOWER, shop_in
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Grade
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.stock import desk, suppliers
from triptych.catalog.stock.availability import promises
from triptych.catalog.stock.carrying import loans
from triptych.catalog.stock.deliveries import Delivery, receive_delivery
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.earnings import EarnedBy, earned, stock_value
from triptych.catalog.stock.job_sums import job_lines, job_story, jobs
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.quotes import Item, QuotePart
from triptych.catalog.stock.reading import LinesAsked, ledger, reservations, stock_list
from triptych.catalog.stock.reordering import article_numbers, save_article, set_reorder_point, to_order
from triptych.catalog.stock.suppliers import orders

AT = Request(CENTRE.name, "shop")
PAIR = Request(TOWER.name, "shop")
MILL = replace(AT, job="Mill House")


def _fill(engine: sa.Engine) -> None:
    shop_in(engine, towers=4, centres=5)
    with writing(engine) as session:
        suppliers.save_supplier(session, "Harbour", 9)


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    return filled(engine, _fill)


def _read(engine: sa.Engine, what: Callable[..., Any], *arguments: Any) -> Any:
    with reading(engine) as session:
        return what(session, *arguments)


def _sound(engine: sa.Engine) -> None:
    assert [finding for finding in _read(engine, check) if not finding.holds] == []


def _there(engine: sa.Engine, place: str, speaker: str = CENTRE.name) -> tuple[int, int]:
    found = [one for one in _read(engine, stock_list) if one.location == place and one.speaker == speaker]
    return sum(one.on_hand for one in found), sum(one.reserved for one in found)


def _order(engine: sa.Engine, **about: Any) -> int:
    with writing(engine) as session:
        return suppliers.order(session, CENTRE.name, 3, "Harbour", **about)


def test_a_job_says_what_is_promised_ordered_installed_and_outstanding(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, quantity=2), LATER)
    desk.sell(shop, replace(MILL, quantity=1))
    _order(shop, job="Mill House")
    quote = desk.make_quote(shop, "Mill House", [Item(TOWER.name, 6)])
    (centres, towers) = _read(shop, job_lines, "mill house")
    assert (centres.promised, centres.to_fetch, centres.ordered, centres.installed) == (1, ("1 at shop",), 3, 1)
    assert (centres.outstanding, centres.to_order) == (4, 0)
    # of six that are offered four are free
    assert (towers.offered, towers.to_order, towers.to_order_if_taken, towers.outstanding) == (6, 0, 2, 0)
    story = _read(shop, job_story, "Mill House")
    assert [one.number for one in story.quotes] == [quote.offer.number]
    assert [one.units for one in story.reservations] == [1]
    assert [one.quantity for one in story.orders] == [3]
    desk.lapse_quote(shop, quote.offer.number)
    (sums,) = _read(shop, jobs)
    assert (sums.job, sums.promised, sums.ordered, sums.outstanding, sums.until) == ("Mill House", 1, 3, 4, LATER)
    with pytest.raises(NotFound, match="did you mean 'Mill House'"):
        _read(shop, job_lines, "Mil House")


def test_what_came_back_of_a_job_is_owed_again_unless_its_money_was_given_back(shop: sa.Engine) -> None:
    desk.sell(shop, replace(MILL, quantity=3))
    assert _read(shop, jobs) == []
    desk.take_back(shop, replace(MILL, quantity=2))
    (sums,) = _read(shop, jobs)
    assert (sums.installed, sums.returned, sums.outstanding) == (1, 2, 2)
    desk.sell(shop, MILL)
    (sums,) = _read(shop, jobs)
    assert (sums.installed, sums.returned, sums.outstanding) == (2, 1, 1)
    line = desk.take_back(shop, MILL, refund=True).done.lines[0]
    (sums,) = _read(shop, jobs)
    assert (sums.installed, sums.returned, sums.outstanding) == (1, 1, 1)
    desk.undo(shop, line)
    desk.sell(shop, MILL)
    assert _read(shop, jobs) == []


def test_two_jobs_become_one_for_all_that_asks_for_either(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, job="Mill Huose", quantity=2), LATER)
    desk.new_job(shop, "Mill House")
    desk.reserve(shop, MILL, LATER)
    assert desk.merge_jobs(shop, "mill huose", "Mill House") == "Mill House"
    assert {one.job for one in _read(shop, reservations)} == {"Mill House"}
    assert len(_read(shop, ledger, LinesAsked(job="Mill Huose"))) == 2
    # under either name all three are its own
    desk.sell(shop, replace(MILL, job="Mill Huose", quantity=3))
    assert _there(shop, "shop") == (2, 0)
    (line,) = _read(shop, job_lines, "Mill House")
    assert (line.installed, line.promised) == (3, 0)
    with pytest.raises(Refused, match="one job already"):
        desk.merge_jobs(shop, "Mill House", "Mill Huose")
    desk.reserve(shop, replace(MILL, job="Barn"), LATER)
    assert desk.merge_jobs(shop, "Mill House", "Barn") == "Barn"
    assert [one.job for one in _read(shop, job_lines, "Mill Huose")] == ["Barn"]
    assert [one.installed for one in _read(shop, job_lines)] == [3]
    _sound(shop)


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
    _sound(shop)


def test_quotes_of_a_merged_job_take_what_either_holds(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, job="Mill Huose", quantity=5), LATER)
    desk.new_job(shop, "Mill House")
    number = desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 2)]).offer.number
    desk.merge_jobs(shop, "Mill Huose", "Mill House")
    desk.accept_quote(shop, number)
    assert [(one.units, one.job) for one in _read(shop, reservations)] == [(3, "Mill House"), (2, "Mill House")]
    _sound(shop)


def test_the_ledger_by_day_person_job_and_place(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, who="bert"), LATER)
    desk.transfer(shop, replace(AT, who="bert"), "van")
    today = datetime.now(UTC).date()
    assert len(_read(shop, ledger, LinesAsked())) == 5
    assert _read(shop, ledger, LinesAsked(first=today - timedelta(days=9), last=today - timedelta(days=2))) == []
    assert len(_read(shop, ledger, LinesAsked(first=today - timedelta(days=1), last=today + timedelta(days=1)))) == 5
    assert [one.kind for one in _read(shop, ledger, LinesAsked(location="VAN"))] == ["transfer_in"]
    assert [one.kind for one in _read(shop, ledger, LinesAsked(job="Mill House"))] == ["reserve"]
    if shop.dialect.name == "sqlite":
        assert len(_read(shop, ledger, LinesAsked(who="Bert"))) == 3
    assert {one.speaker for one in _read(shop, ledger, LinesAsked(speaker=TOWER.name))} == {TOWER.name}
    for asked in (LinesAsked(location="vam"), LinesAsked(job="Mil House"), LinesAsked(speaker="Oatfel Linden Centre")):
        with pytest.raises(NotFound, match=r"did you mean|the nearest"):
            _read(shop, ledger, asked)


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
        assert len(_read(shop, ledger, LinesAsked(first=there))) == 2
        assert _read(shop, ledger, LinesAsked(first=there + timedelta(days=1))) == []
    assert days[0] != days[1]


def test_what_was_ordered_for_a_job_arrives_reserved_for_it(shop: sa.Engine) -> None:
    number = _order(shop, job="Mill House", finish="oak")
    answer = desk.receive(shop, replace(AT, quantity=2, order=number))
    assert answer.done.finish == "oak"
    assert "reserved for Mill House" in " ".join(answer.remarks)
    assert [(one.units, one.job) for one in _read(shop, reservations)] == [(2, "Mill House")]
    with pytest.raises(Refused, match="is for 'oak', not 'ash'"):
        desk.receive(shop, replace(AT, order=number, finish="ash"))
    desk.receive(shop, replace(AT, order=number), ["S1"])
    assert [one.serial for one in _read(shop, reservations)] == [None, "S1"]
    with pytest.raises((Refused, sa.exc.DBAPIError), match="what was ordered, and no more"):
        desk.receive(shop, replace(AT, order=number))
    _sound(shop)


def test_a_receipt_from_an_order_is_undone_and_may_come_again(shop: sa.Engine) -> None:
    number = _order(shop)
    line = desk.receive(shop, replace(AT, quantity=3, order=number)).done.lines[0]
    assert _read(shop, orders) == []
    desk.undo(shop, line, "another model")
    assert [(one.quantity, one.come) for one in _read(shop, orders)] == [(3, 0)]
    assert _there(shop, "shop") == (5, 0)
    desk.receive(shop, replace(AT, quantity=3, order=number))
    with pytest.raises((Refused, sa.exc.DBAPIError), match="what was ordered, and no more"):
        desk.receive(shop, replace(AT, order=number))
    _sound(shop)


def test_what_is_reserved_moves_to_the_van_and_stays_reserved(shop: sa.Engine) -> None:
    desk.reserve(shop, replace(MILL, quantity=2), LATER)
    desk.reserve(shop, replace(MILL, job="Barn", quantity=3), LATER)
    answer = desk.transfer(shop, replace(MILL, quantity=2), "van")
    assert [(one.location, one.units, one.job, one.until) for one in _read(shop, reservations)] == [
        ("shop", 3, "Barn", LATER),
        ("van", 2, "Mill House", LATER),
    ]
    assert (_there(shop, "shop"), _there(shop, "van"), len(answer.done.lines)) == ((3, 3), (2, 2), 4)
    for wrong, said in (
        (replace(MILL, location="van", quantity=3), "2 reserved for 'Mill House'"),
        (MILL, "0 reserved"),
    ):
        with pytest.raises(Refused, match=said):
            desk.transfer(shop, wrong, "store")
    with pytest.raises(Refused, match=r"0 on hand|3 reserved"):
        desk.transfer(shop, AT, "van")
    desk.sell(shop, replace(MILL, location="van", quantity=2))
    _sound(shop)


@pytest.mark.slow
def test_an_accepted_quote_goes_out_from_the_van_in_two_deliveries_at_its_prices(shop: sa.Engine) -> None:
    number = desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 3), Item(TOWER.name, 2)]).offer.number
    desk.accept_quote(shop, number)
    desk.transfer(shop, replace(MILL, quantity=3), "van")
    step = desk.sell_quote(shop, number, parts=[QuotePart(CENTRE.name, 2)])
    assert step.offer.state == "accepted"
    assert [(one.quantity, one.delivered, one.to_come) for one in step.offer.lines] == [(3, 2, 1), (2, 0, 2)]
    (line,) = [one for one in _read(shop, job_lines, "Mill House") if one.speaker == CENTRE.name]
    assert (line.installed, line.promised, line.outstanding) == (2, 1, 1)
    with pytest.raises(Refused, match=r"1 of Oatfell Linden Centre are left to deliver, not 2"):
        desk.sell_quote(shop, number, parts=[QuotePart(CENTRE.name, 2)])
    with pytest.raises(Refused, match="0 of Oatfell Linden Tower in 'oak' are left"):
        desk.sell_quote(shop, number, parts=[QuotePart(TOWER.name, None, "oak")])
    assert desk.sell_quote(shop, number).offer.state == "sold"
    sold = [one for one in _read(shop, ledger, LinesAsked()) if one.kind == "sell"]
    assert [(one.quantity, one.amount, one.quote) for one in sold] == [
        (2, Decimal("400.00"), number),
        (1, Decimal("400.00"), number),
        (2, Decimal("500.00"), number),
    ]
    _sound(shop)


@pytest.mark.slow
def test_a_loan_is_promised_to_nobody_else_and_comes_back(shop: sa.Engine) -> None:
    desk.regrade(shop, AT, Grade.DEMO, Grade.NEW)
    demo = replace(MILL, grade=Grade.DEMO)
    answer = desk.lend(shop, demo, LATER)
    assert answer.done.location == "lent to Mill House"
    (loan,) = _read(shop, loans)
    assert (loan.job, loan.units, loan.grade, loan.until, loan.overdue) == ("Mill House", 1, "demo", LATER, False)
    with writing(shop) as session:
        number = session.scalar(sa.text("SELECT id FROM loudspeaker WHERE name_key = 'oatfell linden centre'"))
        # not even when the day has passed
        late = LATER + timedelta(days=3)
        assert promises(session, [number], 1, (Grade.DEMO,), late)[number].available == 0
        assert loans(session, late)[0].overdue
    (line,) = _read(shop, job_lines, "Mill House")
    assert (line.lent, line.promised, line.installed) == (1, 0, 0)
    with pytest.raises(Refused, match=r"0 on hand|cannot"):
        desk.bring_back(shop, replace(demo, quantity=2))
    desk.bring_back(shop, demo)
    assert _read(shop, loans) == []
    desk.lend(shop, demo, LATER)
    desk.sell(shop, replace(demo, location="lent to Mill House"))
    assert [one.installed for one in _read(shop, job_lines, "Mill House")] == [1]
    with pytest.raises(NotFound):
        desk.bring_back(shop, replace(demo, job="Barn"))
    _sound(shop)


def test_two_singles_become_a_pair_at_what_they_cost(engine: sa.Engine) -> None:
    shop_in(engine)
    desk.receive(engine, replace(PAIR, quantity=2, amount=30000, currency="EUR"))
    desk.split(engine, PAIR, ["A", "B"])
    before = _read(engine, stock_value)
    with pytest.raises(BadInput, match="name their two serials"):
        desk.join(engine, PAIR, ["A", " A "])
    with pytest.raises((Refused, sa.exc.DBAPIError)):
        desk.join(engine, PAIR, ["A", "C"])
    desk.join(engine, replace(PAIR, serial="AB"), ["A", "B"])
    (found,) = _read(engine, stock_list)
    assert (found.pack, found.on_hand, found.serials) == (2, 2, ("AB",))
    assert _read(engine, stock_value) == before
    assert [(one.units, one.cost) for one in before] == [(2, Decimal("600.00"))]
    with pytest.raises(BadInput, match="not sold in pairs"):
        desk.join(engine, AT, ["A", "B"])
    _sound(engine)


def test_a_sale_of_a_pair_tells_of_the_single_that_stays_reserved(shop: sa.Engine) -> None:
    desk.split(shop, PAIR, ["A", "B"])
    mill = replace(PAIR, job="Mill House")
    desk.reserve(shop, replace(mill, serial="A", single=True), LATER)
    desk.reserve(shop, replace(mill, quantity=2), LATER)
    answer = desk.sell(shop, replace(mill, quantity=2))
    assert "still reserved for Mill House: 1 single at shop: sell it too" in " ".join(answer.remarks)
    assert desk.sell(shop, replace(mill, serial="A", single=True)).remarks == ()


def _file(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "delivery.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_delivery_comes_whole_and_once(shop: sa.Engine, tmp_path: Path) -> None:
    number = _order(shop, job="Mill House")
    with writing(shop) as session:
        save_article(session, TOWER.name, "LT 20", "Harbour", "oak")
    path = _file(
        tmp_path,
        "article,speaker,quantity,cost,serial,order\n"
        f',{CENTRE.name},2,"310,50 EUR",S1; S2,{number}\n'
        "LT 20,,4,1 020 EUR,,\n",
    )
    about = Delivery("4711", "shop", "Harbour")
    assert len(receive_delivery(shop, path, about, dry_run=True)) == 2
    assert _there(shop, "shop") == (5, 0)
    receive_delivery(shop, path, about)
    assert _there(shop, "shop") == (7, 2)
    oak = [one for one in _read(shop, stock_list) if one.finish == "oak"]
    assert [(one.speaker, one.on_hand) for one in oak] == [(TOWER.name, 4)]
    costs = {one.quantity: one.amount for one in _read(shop, ledger, LinesAsked()) if one.note == "delivery 4711"}
    assert costs == {1: Decimal("310.50"), 4: Decimal("1020.00")}
    with pytest.raises(Refused, match="delivery 4711 has come already, from line"):
        receive_delivery(shop, path, about)
    _sound(shop)


BAD_ROWS = (
    (f"{CENTRE.name},many,1 EUR,,", "quantity"),
    (f"{CENTRE.name},,1 EUR,,", "is empty, and no serial says how many"),
    (f"{CENTRE.name},1,310,,", "in which currency"),
    (f"{CENTRE.name},3,1 EUR,S1;S2,", "2 serials for 3"),
    (f"{CENTRE.name},1,1 EUR,,99", "no order has the number 99"),
    (f"{TOWER.name},3,1 EUR,,", "sold in pairs"),
    ("Oatfell Linden Centr,1,1 EUR,,", "the nearest"),
)


@pytest.mark.parametrize(("row", "said"), BAD_ROWS)
def test_a_delivery_with_one_bad_row_changes_nothing(shop: sa.Engine, tmp_path: Path, row: str, said: str) -> None:
    before = _read(shop, ledger, LinesAsked())
    path = _file(tmp_path, f"speaker,quantity,cost,serial,order\n{CENTRE.name},2,300 EUR,,\n{row}\n")
    with pytest.raises(BadInput, match=rf"(?s)line 3.*{said}"):
        receive_delivery(shop, path, Delivery("1", "shop"))
    assert _read(shop, ledger, LinesAsked()) == before


def test_what_is_below_its_point_is_ordered_from_the_cheapest(shop: sa.Engine, tmp_path: Path) -> None:
    from triptych.catalog.stock.price_lists import import_prices

    with writing(shop) as session:
        suppliers.save_supplier(session, "Quay", 2)
        set_reorder_point(session, CENTRE.name, 6, 9)
        set_reorder_point(session, TOWER.name, 2, 4)
        save_article(session, CENTRE.name, "OURS 1")
        save_article(session, CENTRE.name, "HC-1", "Harbour")
    for supplier, cost in (("Harbour", 290), ("Quay", 300)):
        path = _file(tmp_path, f"speaker,cost,currency\n{CENTRE.name},{cost},EUR\n")
        import_prices(shop, supplier, path, date(2020, 1, 1))
    (found,) = _read(shop, to_order)
    assert (found.free, found.coming, found.to_order, found.supplier, found.article) == (5, 0, 4, "Harbour", "HC-1")
    assert (found.cost_each, found.currency, found.lead_time) == (Decimal("290.00"), "EUR", 9)
    _order(shop)
    # what comes for stock counts, what comes for a job doesn't
    assert _read(shop, to_order) == []
    desk.reserve(shop, replace(MILL, quantity=4), LATER)
    _order(shop, job="Mill House")
    assert [(one.free, one.coming, one.to_order) for one in _read(shop, to_order)] == [(1, 3, 5)]
    desk.sell(shop, replace(PAIR, quantity=4))
    assert {one.speaker: one.to_order for one in _read(shop, to_order)} == {CENTRE.name: 5, TOWER.name: 4}
    with writing(shop) as session:
        for least, up_to in ((3, 2), (-1, 2), (1, 10**9)):
            with pytest.raises(BadInput):
                set_reorder_point(session, CENTRE.name, least, up_to)
        with pytest.raises(BadInput, match="even number"):
            set_reorder_point(session, TOWER.name, 1, 3)
        set_reorder_point(session, CENTRE.name, 0, 0)
    assert [one.speaker for one in _read(shop, to_order)] == [TOWER.name]
    assert [one.number for one in _read(shop, article_numbers)] == ["OURS 1", "HC-1"]
    with writing(shop) as session, pytest.raises(BadInput, match="is Oatfell Linden Centre already"):
        save_article(session, TOWER.name, "ours 1")


def test_what_was_earned_is_the_price_less_what_went_out_first(engine: sa.Engine) -> None:
    shop_in(engine)
    for units, cost in ((2, 30000), (2, 33000)):
        desk.receive(engine, replace(AT, quantity=units, amount=cost, currency="EUR"))
    desk.sell(engine, replace(MILL, quantity=3, amount=40000, currency="EUR"))
    desk.sell(engine, AT)
    # three at 400 that cost 300, 300 and 330
    (mill, none) = _read(engine, earned, EarnedBy.JOB)
    assert (mill.key, mill.units, mill.net, mill.cost) == ("Mill House", 3, Decimal("1200.00"), Decimal("930.00"))
    assert mill.margin == pytest.approx(0.225)
    assert (none.key, none.units, none.unpriced, none.net, none.margin) == (None, 1, 1, Decimal(0), None)
    assert _read(engine, stock_value) == []
    line = [one for one in _read(engine, ledger, LinesAsked()) if one.kind == "sell"][-1].number
    desk.undo(engine, line)
    desk.take_back(engine, replace(MILL, quantity=1))
    (mill,) = _read(engine, earned, EarnedBy.JOB)
    assert (mill.units, mill.net, mill.cost) == (2, Decimal("800.00"), Decimal("600.00"))
    worth = {(one.grade, one.units): one.cost for one in _read(engine, stock_value)}
    assert worth == {("new", 1): Decimal("330.00"), ("quarantine", 1): Decimal("330.00")}
    (month,) = _read(engine, earned, EarnedBy.MONTH)
    assert (month.key, month.units) == (f"{datetime.now(UTC):%Y-%m}", 2)


def test_a_quote_has_finishes_a_discount_and_the_days_of_its_location(shop: sa.Engine) -> None:
    from triptych.catalog.stock.locations import save_location
    from triptych.catalog.stock.quote_page import quote_page

    for finish in ("oak", "ash"):
        desk.receive(shop, replace(AT, finish=finish))
    with writing(shop) as session:
        save_location(session, "shop", "Pacific/Kiritimati")
        save_location(session, "store", "Europe/Lisbon")
    items = [Item(f"{CENTRE.name}, oak", discount=12.5), Item(f"{CENTRE.name}, ash <b>"), Item(TOWER.name)]
    offer = desk.make_quote(shop, "Mill & House", items, "2030-03-04", location="shop").offer
    assert (offer.zone, offer.until) == ("Pacific/Kiritimati", datetime(2030, 3, 4, 10, tzinfo=UTC))
    assert [(one.finish, one.discount, one.full_price, one.price) for one in offer.lines] == [
        ("oak", 12.5, Decimal("480.00"), Decimal("420.00")),
        ("ash <b>", None, None, Decimal("480.00")),
        (None, None, None, Decimal("1200.00")),
    ]
    assert offer.total == Decimal("2100.00")
    page = quote_page(offer)
    for words in ("Mill &amp; House", "ash &lt;b&gt;", "<s>480.00 EUR</s> less 12.5 %", "2100.00 EUR", "4 Mar 2030"):
        assert words in page
    assert "Prices include tax of 20 %." in page
    # what it costs us is on no page for others
    assert "argin" not in page.split("</style>")[1]
    with pytest.raises(NotFound, match="no location is named 'shpo'"):
        desk.make_quote(shop, "Barn", items, location="shpo")
    for discount in (0.0, -1.0, 101.0, float("nan")):
        with pytest.raises(BadInput, match="must be above 0 and up to 100"):
            desk.make_quote(shop, "Barn", [Item(CENTRE.name, discount=discount)])
    _sound(shop)
