"""Where the keyboard is after something was pressed, what a phone shows of wide tables, and what stands on paper."""

from __future__ import annotations

from dataclasses import replace
from threading import Event
from typing import Any
from urllib.parse import urlencode

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.recommender.page.served import House
from tests.recommender.page.test_page_in_browser import SHEET
from tests.recommender.page.windows import entered, sound
from triptych.catalog.stock import desk
from triptych.catalog.stock.quote_lines import Item
from triptych.recommender.advise.planning.plan_answer import PlanAnswer
from triptych.recommender.api import Catalogue, chosen_system
from triptych.recommender.page import systems

CENTRE = "Kettle Moss Bobbin Centre"
OVER = [
    ("limit", "4000"), ("currency", "EUR"),
    *((f"line.1.{key}", value) for key, value in (("role", "mains"), ("item", "Two"), ("price", "2600"))),
    *((f"line.2.{key}", value) for key, value in (("role", "centre"), ("item", "One"), ("price", "1900"))),
]  # fmt: skip
BUDGET = f"/money?{urlencode(OVER)}"


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).first.focus()
    page.keyboard.press("Enter")


def test_the_keyboard_goes_on_from_what_was_told_in_place(browser: Browser, seeded: House) -> None:
    page = entered(browser, seeded)
    page.goto(f"http://127.0.0.1:{seeded.port}/centres?room=Mill+House")
    entry = page.locator("article", has_text="On which face is the port").first
    entry.get_by_role("button").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".refusal")).to_be_focused()
    entry.locator("select").first.select_option("front")
    entry.get_by_role("button").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="One answer away: 4")).to_be_visible()
    page.wait_for_function("document.activeElement !== document.body")
    assert page.locator("#answer").evaluate("one => one.contains(document.activeElement)")
    sound(page)


def test_the_keyboard_goes_on_from_the_message_or_near_what_was_pressed(browser: Browser, seeded: House) -> None:
    page = entered(browser, seeded)
    own = f"http://127.0.0.1:{seeded.port}"
    page.goto(f"{own}/counter")
    for model, told in ((CENTRE, "received 2"), ("Nobody's", "no loudspeaker")):
        for name, value in (("model", model), ("location", "shop"), ("quantity", "2")):
            page.fill(f"#{name}", value)
        press(page, "Receive")
        message = page.locator(".told, .refusal").filter(has_text=told)
        expect(message).to_be_focused()
    page.goto(f"{own}{BUDGET}")
    press(page, "Add a line")
    expect(page.get_by_role("group", name="Line 3")).to_be_visible()
    expect(page.get_by_role("button", name="Add a line")).to_be_focused()
    expect(page.get_by_role("alert")).to_have_count(0)
    page.goto(f"{own}{BUDGET}")
    page.get_by_role("link", name="Take this change").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text("A mend is taken")).to_be_visible()
    expect(page.locator(".changed")).to_be_focused()
    page.goto(f"{own}{BUDGET}")
    assert page.evaluate("document.activeElement === document.body"), "nothing was pressed for this"
    sound(page)


def test_the_keyboard_stays_at_stop_while_a_plan_tells_how_far_it_is(
    browser: Browser, seeded: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen, chosen = Event(), chosen_system

    def waiting(*given: Any, **options: Any) -> PlanAnswer:
        assert seen.wait(60)
        return chosen(*given, **options)

    monkeypatch.setattr(systems, "chosen_system", waiting)
    page = entered(browser, seeded)
    page.goto(f"http://127.0.0.1:{seeded.port}/money?limit=6000&currency=EUR")
    press(page, "Choose a system")
    page.get_by_role("button", name="Stop", exact=True).focus()
    for _ in range(2):
        with page.expect_response("**/plan?job=**"):
            pass
    expect(page.get_by_role("button", name="Stop", exact=True)).to_be_focused()
    seen.set()
    expect(page.get_by_role("heading", name="Not judged")).to_be_visible()
    page.wait_for_function("document.activeElement !== document.body")
    assert page.locator("#plan").evaluate("one => one.contains(document.activeElement)")
    for words in ("[[line]]", "[rates]", "[runs]"):
        assert words not in page.locator("main").inner_text()
    sound(page)


CUT = """() => [...document.querySelectorAll(".wide")].filter(one => one.scrollWidth > one.clientWidth + 1)
  .map(one => one.getAttribute("aria-label"))"""


@pytest.mark.parametrize("width", [320, 390])
def test_a_phone_cuts_no_table(browser: Browser, seeded: House, width: int) -> None:
    page = entered(browser, seeded, viewport={"width": width, "height": 844})
    own = f"http://127.0.0.1:{seeded.port}"
    for path in ("/centre?room=Mill+House&name=Bramble+Thatch+Trivet+Stacked+Centre", BUDGET):
        page.goto(own + path)
        assert page.locator("table.rows").count(), path
        assert page.evaluate(CUT) == [], path
    page.goto(f"{own}/datasheet")
    page.fill("#text", SHEET)
    page.get_by_role("button", name="Read it", exact=True).click()
    expect(page.get_by_role("heading", name="Figures")).to_be_visible()
    assert page.evaluate(CUT) == []
    sound(page)


def test_a_phone_shows_a_quote_whole(browser: Browser, seeded: House, own_catalogue: Catalogue) -> None:
    two = [Item(CENTRE, 1, finish=finish, discount=7.5) for finish in ("black ash", "white")]
    desk.make_quote(own_catalogue.engine, "Mill House", two)
    page = entered(browser, seeded, viewport={"width": 390, "height": 844})
    page.goto(f"http://127.0.0.1:{seeded.port}/quote?number=1")
    sound(page)


WIDE, HIGH = 688, 1017
"""A4 within its margins [px]."""


def test_paper_shows_things_whole_and_names_what_it_is(
    browser: Browser, seeded: House, own_catalogue: Catalogue
) -> None:
    there = desk.Request(CENTRE, "shop", 3, finish="black ash")
    desk.receive(own_catalogue.engine, there)
    desk.reserve(own_catalogue.engine, replace(there, quantity=1, job="Mill House"))
    page = entered(browser, seeded, viewport={"width": WIDE, "height": HIGH}, color_scheme="dark")
    own = f"http://127.0.0.1:{seeded.port}"
    page.emulate_media(media="print")
    page.goto(own + BUDGET)
    for one in page.locator("figure svg").all():
        assert one.evaluate("one => one.getBoundingClientRect().height") < HIGH
    assert page.locator("a.button:visible, #whole:visible").count() == 0
    page.set_viewport_size({"width": HIGH, "height": WIDE})
    assert page.locator(".stays").evaluate("one => getComputedStyle(one).maxHeight") == "none"
    page.goto(f"{own}/counter")
    expect(page.get_by_text("on hand")).to_be_visible()
    for words in ("to do", "Reserve", "Release", "As the customer's page"):
        assert words not in page.locator("main").inner_text()
    page.goto(f"{own}/books?view=order")
    assert page.locator("h1").inner_text() == "The books: To order"
    sound(page)
