"""The counter in a browser: the desk's own movements, words and refusals."""

from __future__ import annotations

import re
from html import unescape
from urllib.parse import parse_qsl, urlsplit

import pytest

from tests.quick_ones import quick_after
from tests.recommender.page.served import Reply, Visitor, serving
from triptych.catalog.database.engine import reading
from triptych.catalog.database.models import Grade
from triptych.catalog.stock import desk
from triptych.catalog.stock import reading as shelves
from triptych.catalog.stock.proof import check as prove
from triptych.catalog.stock.quote_lines import Item
from triptych.recommender.api import Catalogue

CENTRE = "Bramble Thatch Trivet Stacked Centre"
ALIKE = {"model": CENTRE, "location": "shop", "grade": "new"}


def levels(catalogue: Catalogue, *, proven: bool = True) -> dict[str, tuple[int, int, int]]:
    with reading(catalogue.engine) as session:
        found = shelves.stock_list(session, None, None)
        assert not proven or all(one.holds for one in prove(session))
    return {one.location: (one.on_hand, one.reserved, one.available) for one in found}


def done(visitor: Visitor, answer: Reply) -> Reply:
    assert answer.status == 303, answer.words[-500:]
    return visitor.ask("GET", answer.headers["location"].partition("#")[0])


def move(visitor: Visitor, what: str, **fields: str) -> Reply:
    return visitor.post("/counter", {"what": what, **ALIKE, **fields})


def filled(page: Reply, what: str, **said: str) -> dict[str, str]:
    """What the form holds that a link of the counter fills in, by what its address says."""
    links = [unescape(one).partition("#")[0] for one in re.findall(r'href="(/counter\?[^"]*)"', page.text)]
    wanted = [f"what={what}&", *(f"{name}={value}" for name, value in said.items())]
    link = next(one for one in links if all(word in f"{one}&" for word in wanted))
    return dict(parse_qsl(urlsplit(link).query))


@pytest.mark.whole
def test_the_whole_way_of_a_unit(shopper: Visitor, own_catalogue: Catalogue) -> None:
    page = done(shopper, move(shopper, "receive", quantity="3", cost="310 EUR"))
    assert "received 3" in page.words
    assert "now 3 on hand, 0 reserved, 3 available" in page.words
    page = done(shopper, move(shopper, "reserve", job="Mill House", quantity="1"))
    assert "for Mill House until" in page.words
    assert levels(own_catalogue) == {"shop": (3, 1, 2)}
    assert "Mill House" in shopper.get("/counter", {"job_is": "mill"}).words
    # who stands at a counter has no terminal: the page tells where it does that itself
    mistyped = move(shopper, "reserve", job="Mil House", quantity="1")
    assert (mistyped.status, "make it first in the books, under Jobs; nothing" in mistyped.words) == (422, True)
    assert "triptych job" not in mistyped.words
    done(shopper, move(shopper, "sell", job="Mill House", price="500 EUR"))
    done(shopper, move(shopper, "transfer", to="van", quantity="1"))
    assert levels(own_catalogue) == {"shop": (1, 0, 1), "van": (1, 0, 1)}
    page = done(shopper, move(shopper, "return", job="Mill House", note="sounds rough"))
    assert "quarantine" in page.words
    done(shopper, move(shopper, "regrade", grade="quarantine", goal="open_box"))
    done(shopper, move(shopper, "count", counted="0", reason="it is gone"))
    done(shopper, move(shopper, "write-off", location="van", reason="fell off"))
    assert CENTRE in shopper.get("/counter", {"q": "stacked", "all": "yes"}).words


@pytest.mark.parametrize(
    ("what", "fields", "told"),
    quick_after(
        [
            ("sell", {"quantity": "9"}, "available"),
            ("reserve", {"quantity": "9", "job": "Mill House"}, "available"),
            ("sell", {"quantity": "few"}, "a whole number is wanted"),
            ("receive", {"model": "No Such"}, "no loudspeaker is named"),
            ("transfer", {"to": ""}, "blank"),
            ("sell", {"location": "shp"}, "shop"),
            ("count", {"counted": ""}, "it isn't said how many"),
            ("count", {"counted": "1"}, "reason"),
            ("sell", {"price": "lots"}, "price"),
            ("sell", {"grade": "shiny"}, "is no grade"),
            ("reserve", {"until": "2020-01-01", "job": "Mill House"}, "2020"),
        ],
        3,
    ),
)
def test_a_refusal_is_told_in_place_and_the_form_kept(
    shopper: Visitor, own_catalogue: Catalogue, what: str, fields: dict[str, str], told: str
) -> None:
    done(shopper, move(shopper, "receive", quantity="2"))
    before = levels(own_catalogue, proven=False)
    answer = move(shopper, what, **fields)
    assert answer.status == 422
    assert told in answer.words, answer.words[:900]
    for value in {**ALIKE, **fields}.values():
        assert not value or f'value="{value}"' in answer.text or value == "shiny"
    assert levels(own_catalogue) == before
    assert shopper.post("/counter", {"what": "juggle"}).status in (404, 422)


@pytest.mark.slow
def test_a_count_over_what_somebody_else_moved_is_refused(shopper: Visitor, own_catalogue: Catalogue) -> None:
    done(shopper, move(shopper, "receive", quantity="3"))
    page = shopper.get("/counter")
    link = unescape(re.search(r'href="([^"]*what=count[^"]*seen=3[^"]*)"', page.text)[1])  # type: ignore[index]
    form = shopper.ask("GET", link.partition("#")[0])
    assert 'name="seen" value="3"' in form.text
    done(shopper, move(shopper, "sell"))  # meanwhile
    answer = move(shopper, "count", counted="3", seen="3", reason="counted")
    assert (answer.status, "somebody has moved some since" in answer.words) == (409, True)
    assert levels(own_catalogue)["shop"][0] == 2


@pytest.mark.slow
def test_quotes_go_from_made_to_sold(shopper: Visitor, own_catalogue: Catalogue) -> None:
    done(shopper, move(shopper, "receive", quantity="2"))
    made = {"step": "make", "quote.job": "Mill House", "quote.1.model": CENTRE, "quote.1.quantity": "1"}
    page = done(shopper, shopper.post("/quote", made))
    number = re.search(r"quote (\d+) for Mill House: open", page.words)
    assert number
    page = done(shopper, shopper.post("/quote", {"step": "accept", "number": number[1]}))
    assert levels(own_catalogue)["shop"] == (2, 1, 1)
    page = done(shopper, shopper.post("/quote", {"step": "sell", "number": number[1]}))
    assert f"quote {number[1]} for Mill House: sold" in page.words
    assert levels(own_catalogue)["shop"] == (1, 0, 1)
    again = shopper.post("/quote", {"step": "sell", "number": number[1]})
    assert again.status == 422
    bad = shopper.post("/quote", {**made, "quote.1.model": "No Such"})
    assert (bad.status, 'value="Mill House"' in bad.text) == (422, True)
    assert shopper.post("/quote", {"step": "sell", "number": "x"}).status == 422


@pytest.mark.slow
def test_a_serial_is_found_and_a_line_taken_back(shopper: Visitor, own_catalogue: Catalogue) -> None:
    page = done(shopper, move(shopper, "receive", serial="8841A"))
    line = re.search(r"\(line (\d+)\)", page.words)
    assert line
    found = shopper.get("/counter", {"serial_is": "8841"})
    assert f"8841A : {CENTRE}" in found.words
    assert f"line {line[1]}" in found.words
    assert "No serial has" in shopper.get("/counter", {"serial_is": "0000"}).words
    done(shopper, shopper.post("/ledger", {"step": "undo", "number": line[1]}))
    assert levels(own_catalogue) == {}
    sent = done(shopper, move(shopper, "receive", quantity="2"))
    assert sent.status == 200
    away = done(shopper, move(shopper, "transfer", to="van", quantity="1", send="yes"))
    number = re.search(r"on their way as line (\d+)", away.words)
    assert number
    done(shopper, shopper.post("/ledger", {"step": "arrive", "number": number[1]}))
    assert levels(own_catalogue)["van"] == (1, 0, 1)


@pytest.mark.slow
def test_a_promise_is_told_and_kept_by_its_sort(shopper: Visitor, own_catalogue: Catalogue) -> None:
    """The row of a promise shows finish and grade, and its own links release and sell just those units."""
    ash = {"finish": "ash", "grade": "open_box"}
    done(shopper, move(shopper, "receive", quantity="3", **ash))
    done(shopper, move(shopper, "reserve", quantity="2", job="Mill House", **ash))
    page = shopper.get("/counter")
    assert f"{CENTRE} , ash open box Mill House 2 Sell" in page.words.replace(f"{CENTRE},", f"{CENTRE} ,")
    for what in ("release", "sell"):
        done(shopper, shopper.post("/counter", {**filled(page, what, job="Mill+House"), "quantity": "1"}))
    assert levels(own_catalogue) == {"shop": (2, 0, 2)}


@pytest.mark.slow
def test_a_single_of_what_is_sold_in_pairs_is_sold_by_its_own_links(shopper: Visitor, own_catalogue: Catalogue) -> None:
    pair = {"model": "Kettle Moss Bobbin Tower", "single": "yes"}
    done(shopper, move(shopper, "receive", quantity="2", **pair))
    done(shopper, move(shopper, "reserve", quantity="1", job="Mill House", **pair))
    page = shopper.get("/counter")
    done(shopper, shopper.post("/counter", filled(page, "sell", job="Mill+House")))
    done(shopper, shopper.post("/counter", filled(page, "sell", seen="2")))
    assert levels(own_catalogue) == {}


@pytest.mark.slow
def test_an_address_tells_nothing_was_done(shopper: Visitor, own_catalogue: Catalogue) -> None:
    """What an address says is no confirmation, and the page asked anew tells no second time what was done."""
    page = shopper.get("/counter", [("done", "sold 99 to nobody"), ("done", "all is paid")])
    assert (page.status, 'role="status"' in page.text, "99" in page.words) == (200, False, False)
    for answer in (
        move(shopper, "receive", quantity="2"),
        shopper.post("/quote", {"step": "make", "quote.job": "Mill House", "quote.1.model": CENTRE}),
        shopper.post("/ledger", {"step": "undo", "number": "1"}),
    ):
        assert re.search(r"/counter\?done=[\w-]{22}#main$", answer.headers["location"])
        first, again = done(shopper, answer), done(shopper, answer)
        assert ('role="status"' in first.text, 'role="status"' in again.text) == (True, False)


def test_a_quote_tells_finish_grade_and_discount(shopper: Visitor, own_catalogue: Catalogue) -> None:
    """Two lines of one loudspeaker are told apart."""
    done(shopper, move(shopper, "receive", quantity="2", grade="open_box", finish="oak"))
    items = [
        Item(CENTRE, 2, finish="ash", amount=50000, currency="EUR", discount=12.5),
        Item(CENTRE, 2, Grade.OPEN_BOX, "oak", amount=40000, currency="EUR"),
    ]
    desk.make_quote(own_catalogue.engine, "Mill House", items)
    words = shopper.get("/counter").words.replace(" ,", ",")
    assert f"2 × {CENTRE}, ash, 437.50 EUR each (500.00 EUR less 12.5 %)" in words
    assert f"2 × {CENTRE}, oak open box, 400.00 EUR each" in words


@pytest.mark.slow
def test_what_is_in_quarantine_is_offered_for_no_sale(shopper: Visitor, own_catalogue: Catalogue) -> None:
    """It can be moved and counted, and neither reserved nor sold."""
    done(shopper, move(shopper, "receive", quantity="2"))
    done(shopper, move(shopper, "sell", job="Mill House"))
    done(shopper, move(shopper, "return", job="Mill House"))
    links = re.findall(r'href="/counter\?([^"]*)"', unescape(shopper.get("/counter").text))
    offered = {
        grade: {found[1] for one in links if f"grade={grade}" in one and (found := re.search(r"what=(\w+)", one))}
        for grade in ("new", "quarantine")
    }
    assert offered == {"new": {"reserve", "sell", "transfer", "count"}, "quarantine": {"transfer", "count"}}


@pytest.mark.server
def test_of_two_browsers_on_a_server_one_gets_the_last_unit(empty_url: str) -> None:
    """Both take the last unit at once, through pages of their own, on each engine."""
    from concurrent.futures import ThreadPoolExecutor

    from triptych.recommender.api import open_catalogue

    with open_catalogue(empty_url, quiet=True) as one, open_catalogue(empty_url, quiet=True) as other:
        one.import_demo()
        with serving(one) as first, serving(other) as second:
            done(first.visitor, move(first.visitor, "receive"))
            with ThreadPoolExecutor(2) as pool:
                asked = [pool.submit(move, house.visitor, "sell") for house in (first, second)]
                answers = [one.result() for one in asked]
            assert sorted(answer.status for answer in answers) == [303, 422]
            refused = next(answer for answer in answers if answer.status == 422)
            assert "available" in refused.words or "on hand" in refused.words
            assert levels(one) == {}


@pytest.mark.whole
def test_a_quote_that_is_delivered_in_part_is_ended_when_that_is_meant(
    shopper: Visitor, own_catalogue: Catalogue
) -> None:
    done(shopper, move(shopper, "receive", quantity="3"))
    desk.make_quote(own_catalogue.engine, "Barn", [Item(CENTRE, 3, amount=50000, currency="EUR")])
    desk.accept_quote(own_catalogue.engine, 1)
    part = {"number": "1", "step": "sell", "part.1.model": CENTRE, "part.1.quantity": "2"}
    done(shopper, shopper.post("/quote", part))
    asked = shopper.post("/quote", {"number": "1", "step": "lapse"})
    assert asked.status == 409
    assert "2 of 3 were delivered and stay sold. Let go of the rest for good?" in asked.words
    assert levels(own_catalogue) == {"shop": (1, 1, 0)}
    assert 'name="for_good" value="yes"' in asked.text
    ended = done(shopper, shopper.post("/quote", {"number": "1", "step": "lapse", "for_good": "yes"}))
    assert "quote 1 for Barn: lapsed" in ended.words
    assert levels(own_catalogue) == {"shop": (1, 0, 1)}
