"""A day at the counter in a real Chromium: all that is done there, each refusal in its place, and two at one unit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from threading import Barrier
from typing import Any

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.databases import beside, on_server
from tests.recommender.page.served import House, serving
from tests.recommender.page.windows import entered, sound
from triptych.catalog.database.engine import reading
from triptych.catalog.stock import desk
from triptych.catalog.stock import reading as shelves
from triptych.catalog.stock.proof import check as prove
from triptych.catalog.stock.quote_reading import offers
from triptych.recommender.api import Catalogue, open_catalogue
from triptych.recommender.page.counter_forms import WHATS

LOW = "Kettle Moss Bobbin Centre"
STACKED = "Bramble Thatch Trivet Stacked Centre"
TOWER = "Kettle Moss Bobbin Tower"


def there(catalogue: Catalogue) -> dict[tuple[str, str, str], tuple[int, int]]:
    """What is on hand and reserved, by loudspeaker, place and grade; every invariant of the ledger holds."""
    with reading(catalogue.engine) as session:
        assert [one for one in prove(session) if not one.holds] == []
        found = shelves.stock_list(session, None, None)
    return {(one.speaker, one.location, one.grade): (one.on_hand, one.reserved) for one in found}


def filled(within: Locator, fields: Mapping[str, str]) -> None:
    """Type into fields by their labels, choose where one is chosen."""
    for label, text in fields.items():
        field = within.get_by_label(label, exact=True)
        if field.evaluate("one => one.tagName") == "SELECT":
            field.select_option(text)
        elif text in ("on", "off"):
            field.set_checked(text == "on")
        else:
            field.fill(text)


def opened(page: Page, what: str) -> Locator:
    """The form of a movement, by its name above it."""
    page.locator("#move .facts").get_by_role("link", name=what, exact=True).click()
    expect(page.locator("#move-head")).to_have_text(what)
    return page.locator("#move > form")


def done(page: Page, form: Locator, fields: Mapping[str, str], words: str) -> str:
    """Fill a form in, send it by the key Enter, and give what was told; the keyboard goes on from there."""
    filled(form, fields)
    form.locator("button.main").press("Enter")
    told = page.get_by_role("status").filter(has_text=words)
    expect(told).to_be_focused()
    expect(told).to_be_in_viewport()
    return told.inner_text()


def refused(page: Page, form: Locator, fields: Mapping[str, str], words: str) -> None:
    """Fill a form in and send it: the reason is seen beside it, and what was typed stands in it."""
    filled(form, fields)
    form.locator("button.main").click()
    told = page.locator("#move").get_by_role("alert")
    expect(told).to_contain_text(words)
    expect(told).to_be_focused()
    expect(told).to_be_in_viewport()
    expect(page.get_by_role("alert")).to_have_count(1)
    for label, text in fields.items():
        field = page.locator("#move > form").get_by_label(label, exact=True)
        if text not in ("on", "off"):
            expect(field).to_have_value(text)


def row(page: Page, link: str) -> Locator:
    """The form that a link of a row opens, filled in with what the row is of."""
    page.get_by_role("link", name=link, exact=True).click()
    return page.locator("#move > form")


def test_a_day_at_the_counter(browser: Browser, seeded: House, own_catalogue: Catalogue) -> None:
    """Taken in, promised, sold, quoted, delivered in parts, taken back, moved, lent, counted, traced and taken out."""
    page = entered(browser, seeded, viewport={"width": 820, "height": 1100})
    page.goto(f"http://127.0.0.1:{seeded.port}/counter")
    shop = {"Where": "shop"}
    bought = {"Which loudspeaker": LOW, **shop, "How many": "4", "Cost, before tax": "310 EUR"}
    done(page, opened(page, "Receive"), bought, "received 4")
    two = {"Which loudspeaker": STACKED, **shop, "How many": "2", "Serials": "SC-8841A, SC-8841B"}
    done(page, opened(page, "Receive"), two, "received 2")

    # what is available, by loudspeaker, place and job
    page.get_by_role("search").get_by_label("Loudspeaker").fill("bobbin")
    page.keyboard.press("Enter")
    expect(page.get_by_role("region", name="What there is").get_by_role("row")).to_have_count(2)
    form = row(page, f"Reserve {LOW} at shop")
    refused(page, form, {"How many": "5", "For which job": "Mill House"}, "cannot reserve 5")
    done(page, page.locator("#move > form"), {"How many": "2"}, "for Mill House until")
    page.get_by_role("search").get_by_label("Job").fill("mill")
    page.keyboard.press("Enter")
    expect(page.get_by_role("region", name="Promised").get_by_role("row")).to_have_count(2)
    expect(page.get_by_role("region", name="What there is").get_by_role("row")).to_have_count(2)
    done(
        page, row(page, f"Sell {LOW} for Mill House"), {"How many": "1", "Price of one, before tax": "500 EUR"}, "sold"
    )
    done(page, row(page, f"Release {LOW} for Mill House"), {}, "released 1")

    # by way of a van
    told = done(page, row(page, f"Move {LOW} at shop"), {"To which place": "van", "By way of a van: "
                "They are on their way until they arrive": "on"}, "on their way as line")  # fmt: skip
    page.get_by_text("What was sent has come, or a line was mistyped").click()
    page.get_by_label("Line of the ledger").fill(re.findall(r"on their way as line (\d+)", told)[0])
    page.get_by_role("button", name="It has come").click()
    expect(page.get_by_role("status")).to_be_visible()
    page.get_by_role("search").get_by_label("Place").select_option("van")
    page.get_by_role("button", name="Find").click()
    expect(page.get_by_role("region", name="What there is").get_by_role("row")).to_have_count(2)
    assert there(own_catalogue)[LOW, "van", "new"] == (1, 0)

    # quoted, accepted, delivered in parts
    page.goto(f"http://127.0.0.1:{seeded.port}/counter")
    page.get_by_text("Make a quote", exact=True).click()
    lines = {"For which job": "Quay Loft", "Loudspeaker 1": STACKED}
    filled(page.locator("form", has=page.get_by_role("button", name="Make the quote")), lines)
    page.locator("[id='quote.1.quantity']").fill("2")
    page.locator("[id='quote.1.price']").fill("600 EUR")
    page.get_by_role("button", name="Make the quote").click()
    expect(page.get_by_role("status")).to_contain_text("quote 1 for Quay Loft: open, 1200.00 EUR")
    page.get_by_role("button", name="Accept and reserve quote 1").click()
    expect(page.get_by_role("status")).to_contain_text("accepted")
    page.get_by_text("Deliver a part of it").click()
    page.get_by_role("button", name="Sell these of quote 1").click()
    expect(page.locator("section", has=page.locator("#quotes")).get_by_role("alert")).to_contain_text("write how many")
    page.get_by_text("Deliver a part of it").click()
    page.get_by_label(f"How many {STACKED}").fill("1")
    page.get_by_role("button", name="Sell these of quote 1").click()
    expect(page.get_by_role("status")).to_contain_text("sold 1")
    page.get_by_role("button", name="Sell all that is left of quote 1").click()
    expect(page.get_by_role("status")).to_contain_text("quote 1 for Quay Loft: sold")
    page.get_by_text("Make a quote", exact=True).click()
    filled(page.locator("form", has=page.get_by_role("button", name="Make the quote")), {"For which job": "Barn"})
    page.locator("[id='quote.1.model']").fill(LOW)
    page.locator("[id='quote.1.model']").press("Enter")
    page.get_by_role("button", name="End it").click()
    expect(page.get_by_role("status")).to_contain_text("quote 2 for Barn: ")
    with reading(own_catalogue.engine) as session:
        assert [offers(session, number)[0].state for number in (1, 2)] == ["sold", "lapsed"]

    # taken back, looked at, found by its serial
    back = {"Which loudspeaker": STACKED, **shop, "For which job": "Quay Loft", "Serial": "SC-8841B", "Note": "hums"}
    done(page, opened(page, "Take back"), back, "quarantine")
    again = {"Which loudspeaker": STACKED, **shop, "Grade": "quarantine", "Grade it becomes": "open_box",
             "Serial": "SC-8841B"}  # fmt: skip
    done(page, opened(page, "Regrade"), again, "open box")
    page.get_by_role("search").get_by_label("Serial").fill("8841B")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Serial 8841B")).to_be_visible()
    expect(page.locator("section", has=page.locator("#traced-head")).get_by_role("listitem")).not_to_have_count(0)
    assert there(own_catalogue)[STACKED, "shop", "open_box"] == (1, 0)

    # lent, brought back, a pair made two and one again
    lent = {"Which loudspeaker": LOW, **shop, "How many": "1", "For which job": "Barn"}
    done(page, opened(page, "Lend out"), lent, "lent")
    done(page, row_of_loan(page), {}, "shop")
    pair = {"Which loudspeaker": TOWER, **shop, "How many": "2", "Serials": "P-1"}
    done(page, opened(page, "Receive"), pair, "received 2")
    done(page, opened(page, "Split a pair"), {"Which loudspeaker": TOWER, **shop, "Serial": "P-1",
         "Serials": "P-1L, P-1R"}, "split")  # fmt: skip
    joined = {"Which loudspeaker": TOWER, **shop, "Serials": "P-1L, P-1R", "Serial": "P-2"}
    done(page, opened(page, "Join to a pair"), joined, "join")

    # counted, written off, and a line taken back
    counted = {"How many are there": "1", "Reason": "the shelf was counted"}
    told = done(page, row(page, f"Count {LOW} at shop"), counted, "1 on hand")
    gone = {"Which loudspeaker": LOW, "Where": "van", "How many": "1", "Reason": "fell off"}
    told = done(page, opened(page, "Write off"), gone, "0 on hand")
    page.get_by_text("What was sent has come, or a line was mistyped").click()
    page.get_by_label("Line of the ledger").fill(re.findall(r"line (\d+)", told)[0])
    page.get_by_role("button", name="Take the line back").click()
    expect(page.get_by_role("status")).to_contain_text("1 on hand")
    left = there(own_catalogue)
    assert {key: left[key] for key in ((LOW, "shop", "new"), (LOW, "van", "new"), (TOWER, "shop", "new"))} == {
        (LOW, "shop", "new"): (1, 0), (LOW, "van", "new"): (1, 0), (TOWER, "shop", "new"): (2, 0)
    }  # fmt: skip
    sound(page)


def row_of_loan(page: Page) -> Locator:
    """The form that brings back what is lent, as its row fills it in."""
    page.get_by_role("region", name="What there is").get_by_role("link", name=re.compile("^Bring back")).click()
    form = page.locator("#move > form")
    filled(form, {"Where": "shop"})
    return form


LEFT_ALONE: Mapping[str, tuple[Mapping[str, str], str]] = {
    "Reserve": ({"How many": "9", "For which job": "Mill House"}, "cannot reserve 9"),
    "Sell": ({"How many": "9", "Price of one, before tax": "480 EUR"}, "cannot sell 9"),
    "Receive": ({"How many": "few"}, "a whole number is wanted"),
    "Move": ({"To which place": ""}, "blank"),
    "Count": ({"How many are there": "1"}, "reason"),
    "Lend out": ({"How many": "9", "For which job": "Mill House"}, "9"),
    "Bring back": ({"For which job": "Mill House"}, "Mill House"),
    "Take back": ({"How many": "1", "For which job": "Mill House"}, "did not come back"),
    "Release": ({"For which job": "Mill House"}, "Mill House"),
    "Regrade": ({"Grade": "quarantine", "Grade it becomes": "open_box", "How many": "9"}, "9"),
    "Split a pair": ({"Serials": "A, B"}, "pair"),
    "Join to a pair": ({"Serials": "A, B"}, "pair"),
    "Write off": ({"How many": "9", "Reason": "broken"}, "9"),
}
"""Each movement, with what there is no ground for, and a word of the reason."""


def test_each_refusal_stands_at_its_form_on_a_phone(browser: Browser, seeded: House, own_catalogue: Catalogue) -> None:
    desk.receive(own_catalogue.engine, desk.Request(LOW, "shop", 2))
    before = there(own_catalogue)
    page = entered(browser, seeded, viewport={"width": 390, "height": 844})
    page.goto(f"http://127.0.0.1:{seeded.port}/counter")
    for what, (fields, words) in LEFT_ALONE.items():
        refused(page, opened(page, what), {"Which loudspeaker": LOW, "Where": "shop", **fields}, words)
    assert {entry[0] for entry in WHATS.values()} == set(LEFT_ALONE)
    assert there(own_catalogue) == before
    page.goto(f"http://127.0.0.1:{seeded.port}/labels?model={LOW.replace(' ', '+')}")
    expect(page.get_by_text(LOW)).to_have_count(2)
    sound(page)


@pytest.fixture
def on_postgresql(postgresql_url: str, postgresql_template: str) -> Any:
    """The address of a catalogue on a server, with the demo in it."""
    name = "two_windows"
    on_server(postgresql_url, f"CREATE DATABASE {name} TEMPLATE {postgresql_template}")
    yield beside(postgresql_url, name)
    on_server(postgresql_url, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.mark.server
def test_two_windows_at_the_last_unit_on_a_server(
    browser: Browser, on_postgresql: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two people, two programs, one unit: one gets it, the other reads why not, and overwrites nothing."""
    with open_catalogue(on_postgresql, quiet=True) as one, open_catalogue(on_postgresql, quiet=True) as other:
        one.import_demo()
        desk.receive(one.engine, desk.Request(LOW, "shop", 1))
        with serving(one, enter=False) as first, serving(other, enter=False) as second:
            windows = [entered(browser, house, viewport={"width": 820, "height": 1100}) for house in (first, second)]
            for house, page in zip((first, second), windows, strict=True):
                page.goto(f"http://127.0.0.1:{house.port}/counter")
                filled(row(page, f"Reserve {LOW} at shop"), {"For which job": f"Job of {house.port}"})
            won, lost = at_once(windows, "reserve", "Reserve", monkeypatch)
            expect(won.get_by_role("status")).to_contain_text("until")
            expect(lost.locator("#move").get_by_role("alert")).to_contain_text("cannot reserve 1 at 'shop'")
            expect(lost.locator("#move").get_by_role("alert")).to_contain_text("1 reserved")
            assert there(one) == {(LOW, "shop", "new"): (1, 1)}

            # the one who was late counts what was there before; the other has sold it meanwhile
            counted = row(lost, f"Count {LOW} at shop")
            won.get_by_role("link", name=re.compile(f"^Sell {LOW} for ")).click()
            done(won, won.locator("#move > form"), {}, "sold 1")
            refused(
                lost, counted, {"How many are there": "1", "Reason": "it stood there"}, "somebody has moved some since"
            )
            assert there(one) == {}

            # both take the last one of a quote, and both sell the last one
            desk.receive(one.engine, desk.Request(LOW, "shop", 1))
            for house, page in zip((first, second), windows, strict=True):
                page.goto(f"http://127.0.0.1:{house.port}/counter")
                row(page, f"Sell {LOW} at shop")
            won, lost = at_once(windows, "sell", "Sell", monkeypatch)
            expect(won.get_by_role("status")).to_contain_text("sold 1")
            expect(lost.locator("#move").get_by_role("alert")).to_contain_text("cannot sell 1")
            assert there(other) == {}
            for page in windows:
                sound(page)


def at_once(windows: list[Page], movement: str, button: str, monkeypatch: pytest.MonkeyPatch) -> tuple[Page, Page]:
    """Press a button in both windows, both at the desk before either goes on: the one that got it, and the other."""
    both, asked = Barrier(len(windows), timeout=60), getattr(desk, movement)

    def met(*given: Any) -> Any:
        both.wait()
        return asked(*given)

    with monkeypatch.context() as patched:
        patched.setattr(desk, movement, met)
        for page in windows:
            page.locator("#move > form").get_by_role("button", name=button, exact=True).click(no_wait_after=True)
        for page in windows:
            expect(page.locator("[role=status], #move [role=alert]").first).to_be_visible()
    lost = [page for page in windows if page.get_by_role("alert").count()]
    assert len(lost) == 1
    return next(page for page in windows if page is not lost[0]), lost[0]
