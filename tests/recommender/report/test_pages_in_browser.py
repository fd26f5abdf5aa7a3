"""The pages as a browser shows and prints them."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from tests.recommender.report import made
from tests.recommender.report.browser import Browser, chromium, pages_of
from tests.recommender.report.made import BAY, HARD, TOP
from tests.recommender.verify.in_room import FLAT, hole, measured
from triptych.catalog.database.address import as_url
from triptych.catalog.database.engine import open_engine
from triptych.recommender.drawing.drawn_numbers import Unit
from triptych.recommender.report.client_report import report_page
from triptych.recommender.report.fit_sheet import sheet_page

PHONE, DESKTOP = 360, 1280
MAINS = "Bramble Thatch Trivet Tower"

CONTRAST = """(() => {
  const parse = text => text.match(/[\\d.]+/g).map(Number);
  const light = rgb => rgb.slice(0, 3).map(v => v / 255).map(v => v <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [.2126, .7152, .0722][i], 0);
  const paper = getComputedStyle(document.body).backgroundColor;
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode, holder = node.parentElement;
    if (!node.data.trim() || holder.closest("script,style,title,desc") || holder.closest(".on-primary")) continue;
    const style = getComputedStyle(holder);
    const ink = parse(holder.closest("svg") ? style.fill : style.color);
    const [a, b] = [light(ink), light(parse(paper))].sort((x, y) => y - x);
    found.push([(a + .05) / (b + .05), node.data.trim().slice(0, 40)]);
  }
  return found.sort((x, y) => x[0] - y[0]).slice(0, 1).concat([[found.length, "texts"]]);
})()"""

OVERFLOWING = """[...document.querySelectorAll("body *")].filter(e => {
  if (e.closest("svg") || e.closest(".wide") || e.matches(".skip")) return false;
  const box = e.getBoundingClientRect();
  return box.width > 0 && box.right > innerWidth + 1;
}).map(e => e.outerHTML.slice(0, 80))"""

COLUMN = """[...document.querySelector("table.sorted tbody").rows].map(row => row.cells[%d].textContent.trim())"""

Files = dict[str, Path]


def stored(template: Path, path: Path) -> sa.Engine:
    return open_engine(as_url(str(shutil.copy(template, path))))


def write_seed(template: Path, folder: Path) -> Files:
    engine = stored(template, folder / "seed.db")
    house, loft = made.seed_room(), made.seed_room("sail_loft")
    found = made.asked(engine, house, MAINS)
    trios = [measured(hole(1500, 14, 0.15)), measured(FLAT, seat="far left")]
    pages = {
        "report": report_page(found, made.extra(trios, found)),
        "loft": report_page(made.asked(engine, loft, MAINS)),
        "sheet": sheet_page(made.fitted(engine, found.shown[0].standing.speaker, house, MAINS)),
        "loft sheet": sheet_page(made.fitted(engine, MAINS, loft, MAINS), Unit.INCH),
    }
    engine.dispose()
    return written(pages, folder)


def write_hard(template: Path, folder: Path) -> Files:
    pages = {}
    for kind, name in HARD.items():
        engine = stored(template, folder / f"{kind}.db")
        whole = made.hard_catalogue(engine, name)
        surveyed = made.room(TOP, BAY, name=name)
        pages[f"{kind} report"] = report_page(made.asked(engine, surveyed))
        pages[f"{kind} sheet"] = sheet_page(made.fitted(engine, whole, surveyed))
        engine.dispose()
    return written(pages, folder)


def written(pages: dict[str, str], folder: Path) -> Files:
    files = {name: folder / f"{name}.html" for name in pages}
    for name, page in pages.items():
        files[name].write_text(page, encoding="utf-8")
    return files


@pytest.fixture(scope="module")
def files(sqlite_template: Path, seeded_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Files:
    folder = tmp_path_factory.mktemp("pages")
    return write_seed(seeded_template, folder) | write_hard(sqlite_template, folder)


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with chromium(tmp_path_factory.mktemp("browser")) as opened:
        yield opened


def test_no_page_logs_an_error_or_asks_anybody_for_anything(browser: Browser, files: Files) -> None:
    for path in files.values():
        browser.go(path)
        assert browser.logged == []
        assert browser.requested == [path.as_uri()]


def test_the_policy_stops_a_request_that_a_page_would_make(browser: Browser, files: Files) -> None:
    browser.go(files["report"])
    browser.ask("document.body.append(Object.assign(new Image(), {src: 'http://example.invalid/x.png'}))")
    browser.ask("new Promise(done => setTimeout(done, 200))")
    assert any("Content Security Policy" in line for line in browser.logged)


@pytest.mark.parametrize("width", [320, PHONE, 768, DESKTOP])
def test_no_page_is_wider_than_the_screen(browser: Browser, files: Files, width: int) -> None:
    for name, path in files.items():
        browser.go(path, width=width)
        assert browser.ask("document.documentElement.scrollWidth <= innerWidth"), (name, browser.ask(OVERFLOWING))
        assert browser.ask(OVERFLOWING) == [], name


@pytest.mark.parametrize("dark", [False, True])
def test_every_word_can_be_read_on_its_ground(browser: Browser, files: Files, dark: bool) -> None:
    for name in ("report", "sheet"):
        browser.go(files[name], dark=dark)
        (lowest, words), (count, _) = browser.ask(CONTRAST)
        assert lowest >= 4.5, (name, words)
        assert count > 50
    paper = browser.ask("getComputedStyle(document.body).backgroundColor")
    assert paper == ("rgb(21, 25, 29)" if dark else "rgb(255, 255, 255)")


def test_drawings_are_read_on_a_phone(browser: Browser, files: Files) -> None:
    # the smallest words of a drawing are 2.6 mm on a sheet of 100 mm; 7 px is the least that is read
    browser.go(files["report"], width=PHONE)
    smallest = browser.ask(
        "Math.min(...[...document.querySelectorAll('svg text')].map(t => t.getBoundingClientRect().height))"
    )
    assert smallest >= 7


def sorts(browser: Browser, column: int) -> Any:
    browser.ask(f"document.querySelector('table.sorted').tHead.rows[0].cells[{column}].querySelector('button').click()")
    return browser.ask(COLUMN % column)


def test_the_ranking_sorts_by_number_and_by_name_both_ways(browser: Browser, files: Files) -> None:
    browser.go(files["report"])
    names = sorts(browser, 1)
    assert names == sorted(names, key=str.casefold)
    assert sorts(browser, 1) == sorted(names, key=str.casefold, reverse=True)
    ranks = [int(word.rstrip("*")) for word in sorts(browser, 0)]
    assert ranks == sorted(ranks)
    assert len(ranks) > 9  # "10" before "9" would be by name
    head = "[...document.querySelectorAll('table.sorted')[0].tHead.rows[0].cells].map(c => c.getAttribute('aria-sort'))"
    assert browser.ask(head) == ["ascending", None, None, None, None, None, None]


def test_folding_hides_and_shows_and_says_so(browser: Browser, files: Files) -> None:
    browser.go(files["report"])
    state = "[f.offsetHeight > 0, b.getAttribute('aria-expanded')]"
    look = (
        f"(() => {{const f = document.querySelector('[data-fold]'), b = f.previousElementSibling; return {state}}})()"
    )
    assert browser.ask(look) == [False, "false"]
    browser.ask("document.querySelector('.fold').focus()")
    browser.press("Enter")
    assert browser.ask(look) == [True, "true"]


def test_the_keyboard_reaches_the_answer_first(browser: Browser, files: Files) -> None:
    browser.go(files["report"])
    browser.press("Tab")
    assert browser.ask("document.activeElement.getAttribute('href')") == "#answer"
    assert browser.ask("document.activeElement.getBoundingClientRect().left >= 0")


def test_without_its_script_everything_is_there(browser: Browser, files: Files) -> None:
    browser.send("Emulation.setScriptExecutionDisabled", value=True)
    try:
        browser.go(files["report"])
        browser.send("Emulation.setScriptExecutionDisabled", value=False)
        assert browser.ask("document.querySelectorAll('.fold, .folded').length") == 0
        assert browser.ask("[...document.querySelectorAll('[data-fold]')].every(f => f.offsetHeight > 0)")
    finally:
        browser.send("Emulation.setScriptExecutionDisabled", value=False)


def test_every_sheet_prints_on_one_page_with_its_drawings_large_enough(browser: Browser, files: Files) -> None:
    for name, path in files.items():
        if not name.endswith("sheet"):
            continue
        browser.go(path, width=718, height=1047)  # A4 less the margins at 96 dots to the inch
        assert pages_of(browser.pdf()) == 1, name
        browser.send("Emulation.setEmulatedMedia", media="print")
        heights = browser.ask("[...document.querySelectorAll('figure')].map(f => f.offsetHeight)")
        assert len(heights) == 2
        assert min(heights) >= 90 / 25.4 * 96, name
        assert browser.ask("(s => s.scrollHeight <= s.clientHeight + 1)(document.querySelector('.sheet'))"), name


def test_a_report_prints_with_what_was_folded_and_without_its_buttons(browser: Browser, files: Files) -> None:
    browser.go(files["report"], width=680)
    assert 3 < pages_of(browser.pdf()) < 25
    browser.send("Emulation.setEmulatedMedia", media="print")
    assert browser.ask("[...document.querySelectorAll('[data-fold]')].every(f => f.offsetHeight > 0)")
    assert browser.ask("[...document.querySelectorAll('.fold, nav')].every(e => e.offsetHeight === 0)")
    assert browser.ask("document.documentElement.scrollWidth <= innerWidth")
