"""What is bought, labelled and sold by grade, in a browser: the commands' own functions, words and refusals."""

from __future__ import annotations

import re
from html import unescape

import pytest

from tests.recommender.page.served import Reply, Visitor
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.stock import reading as shelves
from triptych.catalog.stock.grade_prices import grade_prices
from triptych.catalog.stock.quote_reading import offers
from triptych.catalog.stock.reordering import set_reorder_point
from triptych.catalog.stock.suppliers import orders, suppliers
from triptych.recommender.api import Catalogue

CENTRE = "Bramble Thatch Trivet Stacked Centre"
ALIKE = {"model": CENTRE, "location": "shop", "grade": "new"}


def done(visitor: Visitor, answer: Reply) -> Reply:
    assert answer.status == 303, answer.words[-600:]
    return visitor.ask("GET", answer.headers["location"].partition("#")[0])


def keep(visitor: Visitor, view: str, **fields: str) -> Reply:
    return visitor.post("/books", {"view": view, **fields})


def move(visitor: Visitor, what: str, **fields: str) -> Reply:
    return visitor.post("/counter", {"what": what, **ALIKE, **fields})


def fields_of(form: str) -> dict[str, str]:
    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)"', form)
    return {unescape(name): unescape(value) for name, value in found}


@pytest.fixture
def buyer(shopper: Visitor) -> Visitor:
    """Somebody who buys from one firm."""
    done(shopper, keep(shopper, "suppliers", supplier="Harbour Trading", lead_time="12"))
    return shopper


@pytest.mark.slow
def test_an_order_is_written_comes_and_is_cancelled(buyer: Visitor, own_catalogue: Catalogue) -> None:
    page = done(
        buyer,
        keep(buyer, "orders", model=CENTRE, supplier="Harbour Trading", quantity="4", finish="oak", job="Mill House"),
    )
    assert f"order 1: 4 × {CENTRE}, oak from Harbour Trading" in page.words
    done(buyer, keep(buyer, "orders", model=CENTRE, supplier="Harbour Trading", quantity="2", expected="2099-01-31"))
    with reading(own_catalogue.engine) as session:
        first, second = orders(session)
    assert (first.quantity, first.job, first.finish) == (4, "Mill House", "oak")
    assert str(second.expected) == "2099-01-31"
    page = buyer.get("/books", {"view": "orders"})
    link = next(unescape(one) for one in re.findall(r'href="([^"]*)"', page.text) if "what=receive" in one)
    form = buyer.ask("GET", link.partition("#")[0])
    assert 'name="order" value="1"' in form.text
    done(buyer, move(buyer, "receive", quantity="3", finish="oak", order="1"))
    with reading(own_catalogue.engine) as session:
        assert [(one.come, one.state) for one in orders(session)] == [(3, "open"), (0, "open")]
    button = next(one for one in page.text.split("<form")[1:] if "> 2</span>" in one)
    page = done(buyer, buyer.post("/books", {**fields_of(button), "step": "cancel"}))
    assert "order 2 cancelled" in page.words
    with reading(own_catalogue.engine) as session:
        assert [one.number for one in orders(session)] == [1]
    assert "cancelled" in buyer.get("/books", {"view": "orders", "every": "yes"}).words


@pytest.mark.whole
def test_what_is_below_its_point_is_ordered_in_one_click(buyer: Visitor, own_catalogue: Catalogue) -> None:
    listed = f"speaker,cost,currency\n{CENTRE},310.00,EUR\n".encode()
    said = {"view": "suppliers", "step": "prices", "supplier": "Harbour Trading", "trial": "yes"}
    page = done(buyer, buyer.send("/books", {"file": ("prices.csv", listed)}, said))
    assert "1 would change; nothing was written" in page.words
    assert "1 changed" in done(buyer, buyer.send("/books", {"file": ("p.csv", listed)}, said | {"trial": ""})).words
    with writing(own_catalogue.engine) as session:
        set_reorder_point(session, CENTRE, 2, 5)
    page = buyer.get("/books", {"view": "order"})
    assert "Harbour Trading, 310.00 EUR each, 12 days" in page.words
    link = next(unescape(one) for one in re.findall(r'href="([^"]*)"', page.text) if "view=orders&amp;quantity" in one)
    form = buyer.ask("GET", link.partition("#")[0])
    assert 'name="quantity" value="5"' in form.text
    assert '<option value="Harbour Trading" selected>' in form.text
    assert '<details id="write" open>' in form.text


@pytest.mark.slow
def test_grades_have_prices_that_quotes_take(buyer: Visitor, own_catalogue: Catalogue) -> None:
    page = done(buyer, keep(buyer, "grades", model=CENTRE, grade="demo", price="400 EUR"))
    assert f"{CENTRE}, demo: 400.00 EUR each" in page.words
    with reading(own_catalogue.engine) as session:
        assert [(one.speaker, one.grade, str(one.price)) for one in grade_prices(session)] == [
            (CENTRE, "demo", "400.00")
        ]
    done(buyer, move(buyer, "receive", quantity="1", grade="demo"))
    quoted = {"step": "make", "quote.job": "Blake", "quote.1.model": CENTRE, "quote.1.grade": "demo"}
    done(buyer, buyer.post("/quote", quoted))
    with reading(own_catalogue.engine) as session:
        assert str(offers(session, 1)[0].lines[0].price) == "400.00"
    assert "no price" in done(buyer, keep(buyer, "grades", model=CENTRE, grade="demo", step="none")).words
    with reading(own_catalogue.engine) as session:
        assert grade_prices(session) == []


@pytest.mark.parametrize(
    ("view", "fields", "words"),
    [
        ("orders", {"model": CENTRE, "supplier": "Harbour Trading"}, "how many are ordered"),
        ("orders", {"model": "No Such", "supplier": "Harbour Trading", "quantity": "1"}, "No Such"),
        ("orders", {"model": CENTRE, "supplier": "Nobody", "quantity": "1"}, "no supplier is named"),
        ("orders", {"model": CENTRE, "supplier": "Harbour Trading", "quantity": "1", "expected": "soon"}, "soon"),
        ("orders", {"step": "cancel", "number": "77"}, "77"),
        ("suppliers", {"supplier": " "}, "give a name"),
        ("suppliers", {"supplier": "A", "lead_time": "-1"}, "whole number"),
        ("suppliers", {"supplier": "Harbour Trading", "step": "prices"}, "no file was chosen"),
        ("grades", {"model": CENTRE, "grade": "demo"}, "for how much"),
        ("grades", {"model": CENTRE, "grade": "new", "price": "4 EUR"}, "catalogue's price"),
        ("grades", {"model": CENTRE, "grade": "gone", "price": "4 EUR"}, "no grade"),
    ],
)
def test_refusals_are_told_in_place_and_keep_what_was_typed(
    buyer: Visitor, own_catalogue: Catalogue, view: str, fields: dict[str, str], words: str
) -> None:
    page = keep(buyer, view, **fields)
    assert page.status in (409, 422)
    assert words in page.words
    if "model" in fields:
        assert f'value="{fields["model"]}"' in page.text
    with reading(own_catalogue.engine) as session:
        assert (orders(session, every=True), grade_prices(session), len(suppliers(session))) == ([], [], 1)


@pytest.mark.whole
def test_labels_are_found_told_and_printed(buyer: Visitor) -> None:
    done(buyer, move(buyer, "receive", quantity="2", serials="LC-1,LC-2"))
    done(buyer, move(buyer, "receive", quantity="1", finish="oak", location="van"))
    page = buyer.get("/books", {"view": "labels", "find": "yes", "at": "shop"})
    assert "Open 2 labels" in page.words
    link = unescape(re.search(r'href="(/labels[^"]*)"', page.text)[1])  # type: ignore[index]
    sheet = buyer.ask("GET", link)
    assert sheet.status == 200
    assert ("LC-1" in sheet.words, "LC-2" in sheet.words, "oak" in sheet.words) == (True, True, False)
    assert "'unsafe-inline'" in sheet.headers["content-security-policy"].split("style-src")[1].split(";")[0]
    assert "script-src 'none'" in sheet.headers["content-security-policy"] or "default-src 'none'" in str(sheet.headers)
    pdf = buyer.ask("GET", f"{link}&form=pdf")
    assert (pdf.headers["content-type"], pdf.body[:5]) == ("application/pdf", b"%PDF-")
    page = buyer.get("/books", {"view": "labels", "find": "yes", "job": "Blake"})
    assert (page.status, "Blake" in page.words) == (422, True)


@pytest.mark.whole
def test_which_finish_is_asked_in_place(buyer: Visitor, own_catalogue: Catalogue) -> None:
    done(buyer, move(buyer, "receive", quantity="2", finish="oak"))
    done(buyer, move(buyer, "receive", quantity="3", finish="walnut"))
    page = move(buyer, "sell", quantity="1", job="Blake", price="500 EUR")
    assert page.status == 422
    assert "Which is meant?" in page.words
    asked = page.text.split("Which is meant?")[1].split("</div>")[0]
    forms = {unescape(re.search(r"<button[^>]*>([^<]*)", one)[1]): fields_of(one) for one in asked.split("<form")[1:]}  # type: ignore[index]
    assert list(forms) == ["2 in 'oak'", "3 in 'walnut'"]
    done(buyer, buyer.post("/counter", forms["3 in 'walnut'"]))
    with reading(own_catalogue.engine) as session:
        left = {one.finish: one.on_hand for one in shelves.stock_list(session, None, None)}
    assert left == {"oak": 2, "walnut": 2}


@pytest.mark.slow
def test_which_finish_of_a_quotes_line_is_asked_in_place(buyer: Visitor, own_catalogue: Catalogue) -> None:
    done(buyer, move(buyer, "receive", quantity="2", finish="oak"))
    done(buyer, move(buyer, "receive", quantity="3", finish="walnut"))
    quoted = {"step": "make", "quote.job": "Blake", "quote.1.model": CENTRE, "quote.1.quantity": "1"}
    page = buyer.post("/quote", {**quoted, "quote.1.finish": ""})
    assert "Which is meant?" in page.words
    asked = page.text.split("Which is meant?")[1].split("</div>")[0]
    first = fields_of(asked.split("<form")[1])
    assert first["quote.1.finish"] == "oak"
    done(buyer, buyer.post("/quote", first))
    with reading(own_catalogue.engine) as session:
        assert [line.finish for line in offers(session, 1)[0].lines] == ["oak"]
