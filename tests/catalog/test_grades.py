"""Units of another grade than is asked for: told of with their price wherever a new one is not there."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, LATER, TOWER, open_shop, shop_in
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Grade
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.records import PricePer
from triptych.catalog.stock import desk
from triptych.catalog.stock.articles import model_named
from triptych.catalog.stock.availability import Promise, promises
from triptych.catalog.stock.deeds import DeedsAsked, history
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.grade_prices import grade_prices, set_grade_price
from triptych.catalog.stock.quotes import Item
from triptych.catalog.stock.timing import until_words

AT = Request(CENTRE.name, "shop")
DEMO = replace(AT, grade=Grade.DEMO)
TOLD = "1 demo free at 'shop' for 400.00 EUR each"


def _fill(engine: sa.Engine) -> None:
    """One demo centre at a price, two open box without one at the store, and no new one."""
    shop_in(engine)
    with writing(engine) as session:
        set_grade_price(session, CENTRE.name, Grade.DEMO, 40000, "EUR")
    desk.receive(engine, DEMO)
    desk.receive(engine, replace(AT, location="store", grade=Grade.OPEN_BOX, quantity=2))


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    return filled(engine, _fill)


def promise(engine: sa.Engine, quantity: int = 1) -> Promise:
    with reading(engine) as session:
        number = model_named(session, CENTRE.name).number
        return promises(session, [number], quantity)[number]


def test_a_promise_tells_other_grades_line_by_line(shop: sa.Engine) -> None:
    found = promise(shop)
    assert (found.available, found.when) == (0, None)
    assert [one.words for one in found.others] == [TOLD, "2 open box free at 'store', no price stated"]
    assert found.why == "no new one in stock, and no supplier has stated when"
    assert found.told == "; ".join([found.why, *(one.words for one in found.others)])


def test_what_is_reserved_has_its_date(shop: sa.Engine) -> None:
    until = datetime(2999, 5, 1, tzinfo=UTC)
    desk.reserve(shop, replace(DEMO, job="Barn"), until)
    assert "1 demo reserved, free on 2999-05-01 if nobody takes it for 400.00 EUR each" in promise(shop).told
    desk.receive(shop, AT)
    desk.reserve(shop, replace(AT, job="Barn"), until)
    assert promise(shop).why == "reserved; free on 2999-05-01 if nobody takes it"
    few = promise(shop, 2)
    assert few.why == "1 reserved, free on 2999-05-01 if nobody takes it", "too few, and still told"


@pytest.mark.parametrize("what", ["sell", "reserve"])
def test_a_refusal_names_what_there_is_of_other_grades(shop: sa.Engine, what: str) -> None:
    do = {"sell": lambda: desk.sell(shop, AT), "reserve": lambda: desk.reserve(shop, replace(AT, job="Barn"), LATER)}
    with pytest.raises(Refused) as refusal:
        do[what]()
    assert str(refusal.value) == (
        f"cannot {what} 1 at 'shop': 0 on hand, 0 reserved, new; there is 1 demo at 'shop' for 400.00 EUR each and 2"
        " open box at 'store', no price stated: say which with --grade and --location; nothing was written"
    )


def test_a_refusal_says_until_when_units_are_reserved(shop: sa.Engine) -> None:
    desk.receive(shop, replace(AT, quantity=2))
    desk.reserve(shop, replace(AT, job="Barn"), LATER)
    desk.reserve(shop, replace(AT, job="Byre"), LATER + timedelta(days=1))
    with pytest.raises(Refused) as refusal:
        desk.sell(shop, AT)
    assert f"2 on hand, 2 reserved, the first until {until_words(LATER)} (stock reservations" in str(refusal.value)
    assert "1 demo at 'shop' for 400.00 EUR each" in str(refusal.value)


def test_what_is_in_quarantine_is_never_offered(engine: sa.Engine) -> None:
    shop_in(engine)
    desk.take_back(engine, AT, before=True)
    with pytest.raises(Refused) as refusal:
        desk.sell(engine, AT)
    assert "quarantine" not in str(refusal.value)
    assert promise(engine).others == ()


def test_a_quote_takes_the_price_of_the_grade_and_tells_it_for_others(shop: sa.Engine) -> None:
    made = desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 1)])
    assert any(TOLD in warning for warning in made.warnings)
    demo = desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 1, Grade.DEMO)]).offer.lines[0]
    assert (demo.price, demo.tax, demo.tax_rate) == (Decimal("400.00"), "included", 20.0)
    dear = desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 1, Grade.OPEN_BOX)])
    assert "no price is kept for open box, so it is quoted as new, 480.00 EUR each" in dear.warnings[0]
    desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 1, Grade.OPEN_BOX, amount=30000)])
    with pytest.raises(Refused, match=r"0 of 1 available.*" + TOLD):
        desk.accept_quote(shop, 1)


def test_prices_of_grades_are_kept_listed_changed_and_taken_away(engine: sa.Engine) -> None:
    shop_in(engine)
    with writing(engine) as session:
        with pytest.raises(BadInput, match="is sold in pairs, and it isn't said what the amount buys"):
            set_grade_price(session, TOWER.name, Grade.B_STOCK, 90000, "EUR")
        told = set_grade_price(session, TOWER.name, Grade.B_STOCK, 90000, "EUR", PricePer.PAIR)
        assert told == "900.00 EUR a pair"
        set_grade_price(session, TOWER.name, Grade.B_STOCK, 85000, "EUR", PricePer.PAIR)
        assert set_grade_price(session, TOWER.name, Grade.DEMO, 40000, "EUR", PricePer.EACH) == "400.00 EUR each"
    with reading(engine) as session:
        found = [(one.grade, one.price, one.per) for one in grade_prices(session)]
        said = [(one.deed, one.said) for one in history(session, DeedsAsked(subject="grade_price"))]
    assert found == [("b_stock", Decimal("850.00"), "pair"), ("demo", Decimal("400.00"), "each")]
    assert said[:2] == [
        ("made", "grade b_stock, amount 900.00 EUR, per pair"),
        ("changed", "grade b_stock, amount 850.00 EUR, per pair"),
    ]
    with writing(engine) as session:
        assert set_grade_price(session, TOWER.name, Grade.B_STOCK, None, None) == "no price"
        assert len(grade_prices(session)) == 1


@pytest.mark.parametrize(
    ("speaker", "grade", "amount", "refusal", "words"),
    [
        (TOWER.name, Grade.NEW, 1, BadInput, "the catalogue's price"),
        (TOWER.name, Grade.QUARANTINE, 1, BadInput, "regrade it first"),
        (TOWER.name, Grade.DEMO, -1, BadInput, "minor units"),
        (TOWER.name, Grade.DEMO, 10**18, BadInput, "minor units"),
        ("Nobody", Grade.DEMO, 1, NotFound, "Nobody"),
    ],
)
def test_a_price_that_no_grade_has_is_refused(
    engine: sa.Engine, speaker: str, grade: Grade, amount: int, refusal: type[Exception], words: str
) -> None:
    with writing(engine) as session:
        open_shop(session)
        with pytest.raises(refusal, match=words):
            set_grade_price(session, speaker, grade, amount, "EUR")
