"""The books in a browser: what the commands of the firm tell, and what they write."""

from __future__ import annotations

import re
from html import unescape

import pytest

from tests.recommender.page.served import Reply, Visitor
from triptych.catalog.database.engine import reading
from triptych.catalog.stock import reading as shelves
from triptych.catalog.stock.carrying import loans
from triptych.catalog.stock.job_sums import jobs
from triptych.catalog.stock.proof import check as prove
from triptych.catalog.stock.quote_reading import offers
from triptych.catalog.stock.reordering import to_order
from triptych.recommender.api import Catalogue

CENTRE = "Bramble Thatch Trivet Stacked Centre"
TOWER = "Bramble Thatch Trivet Tower"
ALIKE = {"model": CENTRE, "location": "shop", "grade": "new"}


def done(visitor: Visitor, answer: Reply) -> Reply:
    assert answer.status == 303, answer.words[-600:]
    return visitor.ask("GET", answer.headers["location"].partition("#")[0])


def move(visitor: Visitor, what: str, **fields: str) -> Reply:
    return done(visitor, visitor.post("/counter", {"what": what, **ALIKE, **fields}))


def there(catalogue: Catalogue) -> dict[tuple[str, str, str], int]:
    with reading(catalogue.engine) as session:
        found = shelves.stock_list(session, None, None)
        assert all(one.holds for one in prove(session))
    return {(one.speaker, one.location, one.finish or ""): one.on_hand for one in found}


@pytest.fixture
def keeper(shopper: Visitor) -> Visitor:
    """Somebody with five centres in oak at the shop, of which one was sold and one is lent."""
    move(shopper, "receive", quantity="5", cost="310 EUR", finish="oak")
    move(shopper, "sell", quantity="1", price="500 EUR", job="Quay Loft", finish="oak")
    move(shopper, "lend", quantity="1", job="Mill House", until="2099-05-01", finish="oak")
    return shopper


@pytest.mark.whole
def test_each_view_tells_what_the_commands_tell(keeper: Visitor, own_catalogue: Catalogue) -> None:
    with reading(own_catalogue.engine) as session:
        known, lent = jobs(session, every=True), loans(session)
    page = keeper.get("/books", {"every": "yes"})
    assert {one.job for one in known} == {"Quay Loft", "Mill House"}
    assert all(one.job in page.words for one in known)
    assert f"{CENTRE}, oak" in keeper.get("/books", {"view": "jobs", "job": "Mill House"}).words
    told = keeper.get("/books", {"view": "loans"}).words
    assert (len(lent), "the end of 1 May 2099" in told, "Mill House" in told) == (1, True, True)
    assert "Together 1240.00 EUR" in keeper.get("/books", {"view": "value"}).words
    for by in ("month", "job", "quote"):
        assert "38.0%" in keeper.get("/books", {"view": "margin", "by": by}).words  # (500 - 310) / 500
    assert "Nothing is below its point" in keeper.get("/books", {"view": "order"}).words


def test_the_ledger_is_narrowed_by_day_person_job_and_place(keeper: Visitor) -> None:
    whole = keeper.get("/books", {"view": "ledger"})
    lines = re.findall(r"<th scope=\"row\"[^>]*>(\d+)</th>", whole.text)
    assert lines == sorted(lines, key=int, reverse=True)
    assert len(lines) >= 3
    for asked, count in (
        ({"job": "Quay Loft"}, 1),
        ({"day": "2001-01-01"}, 0),
        ({"day": "2001-01-01", "to": "2098-01-01"}, len(lines)),
        ({"who": "nobody at all"}, 0),
        ({"at": "shop", "job": "Quay Loft"}, 1),
    ):
        told = keeper.get("/books", {"view": "ledger", **asked})
        assert len(re.findall(r"<th scope=\"row\"", told.text)) == count, asked
    for asked, words in (({"day": "soon"}, "day"), ({"job": "Quay Lost"}, "Quay Loft"), ({"model": "No"}, "No")):
        refused = keeper.get("/books", {"view": "ledger", **asked})
        assert (refused.status, words in refused.words) == (422, True), asked
        assert f'value="{next(iter(asked.values()))}"' in refused.text


@pytest.mark.slow
def test_what_is_lent_comes_back_and_singles_become_a_pair(shopper: Visitor, own_catalogue: Catalogue) -> None:
    move(shopper, "receive", model=TOWER, quantity="2")
    move(shopper, "lend", model=TOWER, quantity="2", job="Mill House")
    with reading(own_catalogue.engine) as session:
        assert [one.units for one in loans(session)] == [2]
    page = shopper.get("/counter")
    links = [unescape(one) for one in re.findall(r'href="(/counter\?[^"]*bring-back[^"]*)"', page.text)]
    form = shopper.ask("GET", next(one for one in links if "job=" in one).partition("#")[0])
    assert 'value="Mill House"' in form.text
    move(shopper, "bring-back", model=TOWER, job="Mill House", quantity="2")
    assert there(own_catalogue) == {(TOWER, "shop", ""): 2}
    page = move(shopper, "receive", serials="A1, A2", quantity="2")
    assert "received 2" in page.words
    assert "A1" in shopper.get("/counter", {"serial_is": "A1"}).words
    refused = shopper.post("/counter", {"what": "join", **ALIKE, "serials": "A1, A2"})
    assert (refused.status, "pair" in refused.words) == (422, True)


@pytest.mark.whole
def test_a_quote_has_finishes_and_a_discount_and_is_delivered_in_parts(
    keeper: Visitor, own_catalogue: Catalogue
) -> None:
    made = {
        **{"step": "make", "quote.job": "Barn", "quote.discount": "10", "quote.tax_rate": "20"},
        **{"quote.1.model": CENTRE, "quote.1.quantity": "2", "quote.1.finish": "oak", "quote.1.price": "500 EUR"},
    }
    done(keeper, keeper.post("/quote", made))
    with reading(own_catalogue.engine) as session:
        offer = offers(session)[-1]
    assert [(one.finish, str(one.price), one.discount) for one in offer.lines] == [("oak", "450.00", 10.0)]
    assert [one.tax_rate for one in offer.lines] == [20.0]
    customers = keeper.get("/quote", {"number": str(offer.number)})
    assert "450.00" in customers.words
    assert "310" not in customers.words  # what it costs us is nobody's business
    number = {"number": str(offer.number)}
    done(keeper, keeper.post("/quote", {"step": "accept", **number, "from": "shop"}))
    part = {"part.1.model": CENTRE, "part.1.finish": "oak", "part.1.quantity": ""}
    none = keeper.post("/quote", {"step": "sell", **number, **part})
    assert (none.status, "write how many" in none.words) == (422, True)
    many = keeper.post("/quote", {"step": "sell", **number, **part, "part.1.quantity": "3"})
    assert many.status == 422
    before = there(own_catalogue)[CENTRE, "shop", "oak"]
    page = done(keeper, keeper.post("/quote", {"step": "sell", **number, **part, "part.1.quantity": "1"}))
    assert "sold 1" in page.words
    assert there(own_catalogue)[CENTRE, "shop", "oak"] == before - 1
    assert "accepted" in page.words
    done(keeper, keeper.post("/quote", {"step": "sell", **number}))
    assert there(own_catalogue)[CENTRE, "shop", "oak"] == before - 2
    for field, told in (("discount", "the discount"), ("tax_rate", "the tax rate")):
        bad = keeper.post("/quote", {**made, f"quote.{field}": "lots"})
        assert (bad.status, told in bad.words) == (422, True)


@pytest.mark.slow
def test_points_articles_and_names_of_jobs_are_kept(keeper: Visitor, own_catalogue: Catalogue) -> None:
    point = {"view": "order", "model": CENTRE, "least": "6", "up_to": "8", "finish": "oak"}
    assert "at least 6, up to 8" in done(keeper, keeper.post("/books", point)).words
    with reading(own_catalogue.engine) as session:
        assert [(one.least, one.up_to) for one in to_order(session)] == [(6, 8)]
    assert "nobody has stated a price" in keeper.get("/books", {"view": "order"}).words
    bad = keeper.post("/books", {**point, "up_to": "2"})
    assert (bad.status, 'value="6"' in bad.text) == (422, True)
    assert keeper.post("/books", {**point, "least": ""}).status == 422
    article = {"view": "articles", "model": CENTRE, "article": "SC-1", "finish": "oak"}
    done(keeper, keeper.post("/books", article))
    assert "SC-1" in keeper.get("/books", {"view": "articles"}).words
    done(keeper, keeper.post("/books", {"view": "jobs", "job": "Quay Loft", "new": "Quay Barn", "step": "rename"}))
    done(keeper, keeper.post("/books", {"view": "jobs", "job": "Quay Barn", "new": "Mill House", "step": "merge"}))
    with reading(own_catalogue.engine) as session:
        assert {one.job for one in jobs(session, every=True)} == {"Mill House"}
    assert keeper.post("/books", {"view": "jobs", "job": "No Such", "new": "X", "step": "rename"}).status in (404, 422)
    assert keeper.post("/books", {"view": "value"}).status == 404
    assert keeper.get("/books", {"view": "juggling"}).status == 404


@pytest.mark.slow
def test_a_delivery_comes_from_a_file_once(shopper: Visitor, own_catalogue: Catalogue) -> None:
    rows = f'speaker,quantity,cost,serial\n{CENTRE},2,310 EUR,"K1,K2"\n{TOWER},2,400 EUR,\n'.encode()
    about = {"view": "delivery", "number": "4711", "at": "shop"}
    move(shopper, "receive", quantity="1")
    trial = done(shopper, shopper.send("/books", {"file": ("note.csv", rows)}, {**about, "trial": "yes"}))
    assert "nothing was written" in trial.words
    assert there(own_catalogue) == {(CENTRE, "shop", ""): 1}
    page = done(shopper, shopper.send("/books", {"file": ("note.csv", rows)}, about))
    assert "4 in 2 rows were taken in" in page.words
    assert there(own_catalogue) == {(CENTRE, "shop", ""): 3, (TOWER, "shop", ""): 2}
    again = shopper.send("/books", {"file": ("note.csv", rows)}, about)
    assert (again.status, "4711" in again.words) == (409, True)
    bad = shopper.send("/books", {"file": ("note.csv", rows.replace(b",2,310", b",two,310"))}, {**about, "number": "2"})
    assert (bad.status, "two" in bad.words) == (422, True)
    assert shopper.send("/books", {"file": ("note.exe", rows)}, {**about, "number": "3"}).status == 422
    assert shopper.post("/books", about).status == 422
    assert there(own_catalogue) == {(CENTRE, "shop", ""): 3, (TOWER, "shop", ""): 2}
