"""The shopper's money in a real Chromium: judged, mended, taken back, and a whole system chosen."""

from __future__ import annotations

from threading import Event
from time import sleep
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.recommender.page.served import House
from tests.recommender.page.test_steps_in_browser import press
from tests.recommender.page.windows import entered, sound
from triptych.catalog.money import money
from triptych.recommender.advise.planning.plan_answer import PlanAnswer
from triptych.recommender.api import DEFAULT_RULES, Catalogue, chosen_system, judged_budget
from triptych.recommender.money.budget.check import Check
from triptych.recommender.money.budget.mend import Mend
from triptych.recommender.page import systems
from triptych.recommender.page.purse import budget_table, purse_in

BOUGHT = {
    "limit": "6000", "currency": "EUR", "line.1.item": "Bramble Thatch Trivet Tower", "line.2.item": "a small one",
    "line.2.price": "300", "line.3.price": "1900", "line.5.price": "900",
}  # fmt: skip


def judged(page: Page, catalogue: Catalogue) -> tuple[Check, Mend]:
    """What the function that the command calls says of what stands in the address."""
    texts = purse_in(tuple(parse_qsl(urlsplit(page.url).query)))
    return judged_budget(catalogue, budget_table(texts), catalogue.rule_set(DEFAULT_RULES))


def told(page: Page, checked: Check) -> None:
    """The verdict, the sum, both wholes of the picture and each rule with its numbers are seen."""
    within = page.locator("#judged")
    expect(within).to_contain_text(f"{money(checked.budget.total, 'EUR')} of".replace(" EUR", "\u00a0EUR"))
    for whole in ("Audio total", "Loudspeakers + subwoofer"):
        expect(within.locator("figure")).to_contain_text(whole)
    rows = within.get_by_role("region", name="Rules").get_by_role("row")
    expect(rows).to_have_count(len(checked.results) + 1)
    for one in checked.results:
        expect(rows.filter(has_text=one.why)).to_have_count(1)


def test_money_is_judged_mended_taken_back_and_a_system_chosen(
    browser: Browser, seeded: House, own_catalogue: Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = entered(browser, seeded, viewport={"width": 1280, "height": 900})
    page.goto(f"http://127.0.0.1:{seeded.port}/money?room=Mill+House")
    for name, text in BOUGHT.items():
        page.fill(f"[id='{name}']", text)
    page.select_option("[id='line.3.per']", "pair")
    page.wait_for_url("**line.3.per=pair**")
    before, mended = judged(page, own_catalogue)
    told(page, before)
    assert mended.changes
    expect(page.locator("#judged")).to_contain_text(mended.changes[0].words)
    page.get_by_role("link", name="Take this change").click()
    expect(page.locator(".changed")).to_be_focused()
    after, _ = judged(page, own_catalogue)
    assert after.budget.total == sum(mended.amounts)
    told(page, after)
    page.get_by_role("link", name="Take it back").click()
    expect(page.get_by_role("link", name="Take this change")).to_be_visible()
    again, _ = judged(page, own_catalogue)
    assert [line.amount for line in again.budget.lines] == [line.amount for line in before.budget.lines]
    told(page, again)

    # a plan tells how far it is, is stopped, and is begun anew
    go_on, found = Event(), list[PlanAnswer]()

    def slowly(*given: Any, say: Any, **options: Any) -> PlanAnswer:
        step = 0
        while not go_on.is_set():
            step += 1
            say(f"looking at system {step}")
            sleep(0.02)
        found.append(chosen_system(*given, say=say, **options))
        return found[-1]

    monkeypatch.setattr(systems, "chosen_system", slowly)
    press(page, "Choose a system")
    at_work = page.locator("#plan").get_by_role("status")
    expect(at_work).to_contain_text("looking at system")
    seen = at_work.inner_text()
    expect(at_work).not_to_have_text(seen)
    press(page, "Stop")
    expect(page.get_by_role("alert")).to_have_text("stopped; nothing was written")
    page.goto(f"http://127.0.0.1:{seeded.port}/money?room=Mill+House&limit=6000&currency=EUR")
    press(page, "Choose a system")
    expect(at_work).to_contain_text("looking at system")
    go_on.set()
    expect(page.get_by_role("heading", name="The best: ")).to_be_visible()
    expect(page.get_by_role("heading", name="The best: ")).to_contain_text(money(found[0].systems[0].total, "EUR"))
    for pick in found[0].systems[0].picks:
        expect(page.get_by_role("region", name="The best system").get_by_role("row").filter(has_text=pick.speaker)
               ).not_to_have_count(0)  # fmt: skip
    sound(page)
