"""Money in a browser: the verdict, the words and the mend of `budget check`, the system of `budget plan`."""

from __future__ import annotations

import re
import time
from html import unescape
from pathlib import Path
from threading import Event

import pytest

from tests.recommender.page.served import Reply, Visitor
from triptych.catalog.errors import NotFound, Refused
from triptych.recommender.api import Catalogue
from triptych.recommender.page.at_work import MOST_AT_WORK, Jobs
from triptych.recommender.page.purse import PASSES_WORDS
from triptych.recommender.report.on_paper import amount

TOWER = "Bramble Thatch Trivet Tower"
BUDGET = {
    "limit": "6000", "currency": "EUR", "tax_included": "yes", "rules": "film-first",
    "line.1.role": "mains", "line.1.item": TOWER, "line.1.quantity": "2",
    "line.2.role": "centre", "line.2.price": "300", "line.2.item": "a small one", "line.2.tax_included": "yes",
    "line.3.role": "surrounds", "line.3.price": "1900", "line.3.per": "pair", "line.3.tax_included": "yes",
    "line.4.role": "electronics", "line.4.price": "900", "line.4.tax_included": "yes",
}  # fmt: skip
AS_TOML = f"""
limit = 6000
currency = "EUR"
tax_included = true
[[line]]
role = "mains"
item = "{TOWER}"
quantity = 2
[[line]]
role = "centre"
item = "a small one"
price = 300
tax_included = true
[[line]]
role = "surrounds"
price = 1900
per = "pair"
tax_included = true
[[line]]
role = "electronics"
price = 900
tax_included = true
"""


def link(page: Reply, words: str) -> str:
    found = re.search(rf'<a (?:class="[^"]*" )?href="([^"]*)">{words}</a>', page.text)
    assert found, words
    return unescape(found[1])


@pytest.mark.whole
def test_the_verdict_is_that_of_budget_check(reader: Visitor, read_catalogue: Catalogue, tmp_path: Path) -> None:
    (tmp_path / "b.toml").write_text(AS_TOML)
    checked, mended = read_catalogue.check_budget(tmp_path / "b.toml")
    page = reader.get("/money", BUDGET)
    assert page.status == 200
    assert f"the budget {PASSES_WORDS[checked.verdict.value]}" in page.words
    for one in checked.results:
        assert one.why in page.words
    for change in mended.changes:
        assert change.words in page.words
    for caution in checked.cautions:
        assert caution in page.words
    assert "Where the money goes" in page.words
    assert " ".join(amount(checked.budget.total / 100, "EUR").split()) in page.words
    music = reader.get("/money", {**BUDGET, "rules": "music-first"})
    assert "By music-first" in music.words


@pytest.mark.whole
def test_a_mend_is_taken_by_a_click_and_taken_back(reader: Visitor) -> None:
    page = reader.get("/money", BUDGET)
    taken = reader.ask("GET", link(page, "Take this change"))
    assert taken.status == 200
    assert "A mend is taken" in taken.words
    assert "Take this change" not in taken.words
    back = reader.ask("GET", link(taken, "Take it back"))
    assert "Take this change" in back.words
    assert link(back, "Take this change") == link(page, "Take this change")
    for words in ('value="1900"', 'value="300"', f'value="{TOWER}"'):
        assert words in back.text


@pytest.mark.parametrize(
    ("change", "status", "told"),
    [
        ({"limit": "lots"}, 422, "limit"),
        ({"limit": "-3"}, 422, "limit"),
        ({"currency": "XXQ"}, 422, "XXQ"),
        ({"line.2.price": "three hundred"}, 422, "line 2 (centre): price"),
        ({"line.2.quantity": "some"}, 422, "line 2 (centre): quantity"),
        ({"line.2.price": "", "line.2.item": "No Such Thing"}, 422, "price is missing"),
        ({"rules": "/etc/passwd.toml"}, 422, "no rule set is named"),
        ({"rules": "nobody's"}, 422, "no rule set is named"),
    ],
)
def test_what_cannot_be_taken_is_told_and_kept(reader: Visitor, change: dict[str, str], status: int, told: str) -> None:
    page = reader.get("/money", {**BUDGET, **change})
    assert (page.status, told in page.words) == (status, True), page.words[-300:]
    for value in change.values():
        if value and "rules" not in change:
            assert f'value="{value}"' in page.text


@pytest.mark.whole
def test_lines_come_and_go(reader: Visitor) -> None:
    more = reader.get("/money", {**BUDGET, "add": "line"})
    assert "Line 5" in more.words
    fewer = reader.get("/money", {**BUDGET, "remove": "2"})
    assert "Line 4" not in fewer.words
    assert "a small one" not in fewer.words


def wait(reader: Visitor, url: str) -> Reply:
    end = time.monotonic() + 120
    while time.monotonic() < end:
        page = reader.ask("GET", url)
        if "every 700ms" not in page.text:
            return page
        time.sleep(0.2)
    raise AssertionError("the plan doesn't end")


@pytest.mark.whole
def test_a_line_that_was_just_added_is_not_judged_yet(reader: Visitor) -> None:
    page = reader.get("/money", {**BUDGET, "add": "line"})
    assert (page.status, "the budget" in page.words, 'role="alert"' in page.text) == (200, True, False)


@pytest.mark.whole
def test_a_price_of_the_catalogue_is_of_what_the_form_shows(reader: Visitor) -> None:
    """Two that are said to be each cost a pair; where nothing is said, the form claims nothing else."""
    two = {"limit": "9000", "currency": "EUR", "line.1.role": "mains", "line.1.item": "Bramble Thatch Trivet Tower"}
    two["line.1.quantity"] = "2"
    each = reader.get("/money", {**two, "line.1.per": "each"})
    assert "1290.00 EUR" in " ".join(each.words.split())
    assert '<option value="each" selected>' in each.text
    assert '<option value="" selected>as it is sold' in reader.get("/money", two).text


@pytest.mark.plan
def test_a_system_is_chosen_with_progress(reader: Visitor, read_catalogue: Catalogue, tmp_path: Path) -> None:
    plan = {"limit": "6000", "currency": "EUR", "tax_included": "yes", "seconds": "60", "want.mains": "2"}
    plan |= {"want.centre": "1", "want.surrounds": "2", "want.sub": "1", "want.heights": "0"}
    begun = reader.post("/plan?room=Mill+House", plan)
    assert begun.status == 303
    page = wait(reader, begun.headers["location"])
    (tmp_path / "p.toml").write_text(
        'limit = 6000\ncurrency = "EUR"\ntax_included = true\n[want]\nmains = 2\ncentre = 1\nsurrounds = 2\nsub = 1\n'
    )
    answer = read_catalogue.plan(tmp_path / "p.toml", "Mill House")
    assert answer.statement in page.words
    for pick in answer.systems[0].picks:
        assert pick.speaker in page.words


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"limit": ""}, "limit"),
        ({"want.mains": "many"}, "whole number"),
        ({"seconds": "0"}, "seconds"),
        ({"seconds": "000600999"}, "write a whole number from 1 to 600"),
        ({"rules": "x.toml"}, "no rule set"),
    ],
)
def test_a_plan_that_cannot_be_asked_is_told(reader: Visitor, change: dict[str, str], told: str) -> None:
    plan = {"limit": "6000", "currency": "EUR", "tax_included": "yes", "seconds": "5", "want.mains": "2", **change}
    page = reader.post("/plan", plan)
    if page.status == 303:  # it is found out at work
        page = wait(reader, page.headers["location"])
    assert told in page.words
    assert reader.get("/plan", {"job": "nobody"}).status == 404


def test_work_tells_what_it_does_and_is_stopped() -> None:
    jobs: Jobs[str] = Jobs()
    going = Event()

    def work(say: object) -> str:
        assert callable(say)
        for step in range(10_000):
            say(f"step {step}")
            going.set()
            time.sleep(0.002)
        return "done"

    names = [jobs.begin("a plan", work) for _ in range(MOST_AT_WORK)]
    with pytest.raises(Refused, match="at work already"):
        jobs.begin("one more", work)
    assert going.wait(10)
    assert jobs.named(names[0]).doing.startswith("step")
    for name in names:
        jobs.named(name).halt.set()
        assert jobs.named(name).over.wait(10)
        assert jobs.named(name).problem == "stopped; nothing was written"
    with pytest.raises(NotFound):
        jobs.named("another")


@pytest.mark.plan
def test_a_plan_keeps_what_is_owned_and_takes_the_length_of_cables(
    reader: Visitor, read_catalogue: Catalogue, tmp_path: Path
) -> None:
    lines = {
        **{"line.1.role": "mains", "line.1.item": "Bramble Thatch Trivet Tower", "line.1.quantity": "2"},
        **{"line.1.owned": "yes", "line.2.role": "sub", "line.2.item": "Some sub", "line.2.price": "500"},
        **{"line.3.role": "surrounds", "line.3.price": "300", "line.3.quantity": "2"},
    }
    asked = {"limit": "5000", "currency": "EUR", **lines}
    page = reader.get("/money", asked)
    kept = re.findall(r"<li>([^<]*)<input type=\"hidden\" name=\"line", page.text)
    assert kept == ["mains, Bramble Thatch Trivet Tower, 2 × owned"]
    part = reader.get("/money", {**asked, "line.2.fixed": "yes"}, HX_Request="true")
    assert 'id="kept" hx-swap-oob="true"' in part.text
    assert "sub, Some sub, 1 × 500" in part.words
    form = [(name, value) for name, value in asked.items() if not name.startswith(("line.2", "line.3"))]
    form += [("want.centre", "1"), ("want.surrounds", "2"), ("run.surrounds", "9 m"), ("want.accessories", "0")]
    form += [("want.accessories", "1"), ("want.electronics", "0"), ("seconds", "60")]
    begun = reader.post("/plan?room=Mill+House", form)
    assert begun.status == 303
    told = wait(reader, begun.headers["location"]).words
    text = """
        currency = "EUR"
        limit = 5000
        want = { centre = 1, surrounds = 2, electronics = 0, accessories = 1 }
        runs = { surrounds = "9 m" }
        [[line]]
        role = "mains"
        item = "Bramble Thatch Trivet Tower"
        quantity = 2
        owned = true
    """
    (tmp_path / "p.toml").write_text(text)
    best = read_catalogue.plan(tmp_path / "p.toml", "Mill House").systems[0]
    assert {piece.role for piece in best.equipment} == {"accessories"}
    assert all(piece.named in told for piece in best.equipment)
    assert all(pick.named in told for pick in best.picks)
    assert "mains" in told
