"""The page in a real Chromium, as people use it: the shopper's whole way, the counter, keyboard, phone and paper."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, expect

from tests.recommender.page import pictures
from tests.recommender.page.served import House, serving
from tests.recommender.page.windows import entered, sound
from triptych.catalog.stock import desk
from triptych.recommender.api import Catalogue, open_catalogue

SHEET = """Oatfell Wren Tower
Type: floorstanding loudspeaker, 2.5-way, rear ported
Dimensions (H x W x D): 985 x 195 x 310 mm
Weight 21.5 kg
Sensitivity 88 dB (2.83 V, 1 m, anechoic)
Nominal impedance 8 ohm, minimum 6.4 ohm
Crossover: 400 Hz, 2.4 kHz
Price: 640 EUR each
"""
HEAD = (
    *("maker", "series", "model", "roles", "width", "height", "depth", "weight", "sensitivity", "impedance_nominal"),
    *("impedance_minimum", "layout", "tweeter_size", "woofer_size", "woofer_count", "woofer_spacing", "crossover"),
    *("axis_height", "enclosure", "port_location", "price", "currency", "tax"),
)
ROWS = (
    "Oatfell,Wren,Centre,centre,480,170,260,9.1,88,8,6.4,WTW,25,130,2,300,2.4 kHz,85,sealed,none,420,EUR,included",
    "Oatfell,Wren,Low,centre,430,140,240,7.5,87,8,6.4,WTW,25,100,2,280,2.4 kHz,70,sealed,none,300,EUR,included",
    "Oatfell,Wren,High,centre,500,600,260,19,88,8,6.4,WTW,25,130,2,300,2.4 kHz,300,sealed,none,300,EUR,included",
)
CENTRES = "\n".join((",".join(HEAD), *ROWS, "")).encode()


@pytest.mark.parametrize("width", [1280, 390])
def test_from_an_empty_catalogue_to_a_printed_fit_sheet(browser: Browser, tmp_path: Path, width: int) -> None:
    with open_catalogue(str(tmp_path / "c.db"), quiet=True) as opened, serving(opened, enter=False) as house:
        page = entered(browser, house, viewport={"width": width, "height": 800})
        clicks = []

        def click(role: Any, name: str) -> None:
            page.get_by_role(role, name=name, exact=True).first.click()
            clicks.append(name)

        expect(page.get_by_text("The catalogue is empty")).to_be_visible()
        page.set_input_files("#import-file", {"name": "centres.csv", "mimeType": "text/csv", "buffer": CENTRES})
        click("button", "Import it")
        expect(page.get_by_text("added 3")).to_be_visible()
        click("link", "Paste a datasheet")
        page.fill("#text", SHEET)
        click("button", "Read it")
        page.fill("[id='said.0.maker']", "Oatfell")
        page.fill("[id='said.0.model']", "Tower")
        page.fill("[id='said.0.series']", "Wren")
        page.fill("[id='said.0.roles']", "main")
        click("button", "What would be stored?")
        expect(page.get_by_role("heading", name="To be stored: Oatfell Wren Tower")).to_be_visible()
        click("button", "Store Oatfell Wren Tower")
        expect(page.get_by_text("added 1")).to_be_visible()
        click("link", "describe the room for Oatfell Wren Tower")
        for field, value in {
            "screen.diagonal": "65 in", "screen.bottom": "90 cm", "seat.1.distance": "3 m",
            "place.1.width": "1.6 m",
            "place.1.height": "300 mm", "place.1.depth": "450 mm", "place.1.base": "520 mm",
            "money.centre": "700 EUR",
        }.items():  # fmt: skip
            page.fill(f"[id='{field}']", value)
        page.select_option("[id='place.1.kind']", "top")
        expect(page.locator("#drawn svg").first).to_be_visible()
        expect(page.get_by_text("lengths in inches")).to_have_count(0)
        click("button", "Keep it and find centres")
        expect(page.get_by_role("heading", name="A centre for Oatfell Wren Tower in My room")).to_be_visible()
        expect(page.get_by_role("heading", name="Ranked: 2")).to_be_visible()
        click("link", "Fit sheet for Oatfell Wren Centre")
        expect(page.get_by_text("Middle of the box under the middle of the picture").first).to_be_visible()
        printed = page.pdf(prefer_css_page_size=True)
        assert printed.startswith(b"%PDF")
        assert len(clicks) <= 12, clicks
        page.go_back()
        expect(page.get_by_role("heading", name="Ranked: 2")).to_be_visible()
        page.reload()
        expect(page.get_by_role("heading", name="Ranked: 2")).to_be_visible()
        sound(page)


def test_a_slider_ranks_again_and_says_what_changed(browser: Browser, seeded: House) -> None:
    page = entered(browser, seeded, viewport={"width": 1280, "height": 900})
    own = f"http://127.0.0.1:{seeded.port}"
    page.goto(f"{own}/centres?room=Mill+House")
    first = page.locator(".entry.first h3").inner_text()
    page.fill("#cap", "500")
    page.locator("#cap").press("Tab")
    expect(page.locator(".changed")).to_contain_text("is first now")
    assert page.locator(".entry.first h3").inner_text() != first
    assert "cap=500" in page.url
    slider = page.locator("[id='weight.coverage']")
    slider.focus()
    for _ in range(30):
        slider.press("ArrowRight")
    expect(page.locator("[id='weight.coverage-shown']")).to_have_text("0.5")
    page.wait_for_url("**weight.coverage=0.5**")
    page.go_back()
    page.wait_for_url(lambda url: "weight.coverage=0.5" not in url)
    expect(page.locator(".entry.first h3")).to_be_visible()
    other = page.context.new_page()  # in the same window it may be cut off by what was asked on the way back
    other.goto(f"{own}/centres?room=Mill+House", timeout=60_000)
    expect(other.locator(".entry.first h3")).to_have_text(first)
    sound(page)


def test_a_pending_question_is_answered_in_place(browser: Browser, seeded: House) -> None:
    page = entered(browser, seeded)
    page.goto(f"http://127.0.0.1:{seeded.port}/centres?room=Mill+House")
    expect(page.get_by_role("heading", name="One answer away: 5")).to_be_visible()
    entry = page.locator("article", has_text="On which face is the port").first
    entry.locator("select").first.select_option("front")
    entry.get_by_role("button", name="Store the answer and rank again").click()
    expect(page.get_by_role("heading", name="One answer away: 4")).to_be_visible()
    sound(page)


def test_everything_works_with_scripting_off_and_by_keyboard(browser: Browser, seeded: House) -> None:
    page = entered(browser, seeded, java_script_enabled=False)
    own = f"http://127.0.0.1:{seeded.port}"
    page.goto(f"{own}/mains")
    page.locator("#q").focus()
    page.keyboard.type("trivet tower")
    page.keyboard.press("Enter")
    expect(page.get_by_role("link", name="Take these Bramble Thatch Trivet Tower")).to_be_visible()
    page.get_by_role("link", name="Take these Bramble Thatch Trivet Tower").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="The room", exact=True)).to_be_visible()
    page.select_option("#known-room", "Mill House")
    page.get_by_role("button", name="Find centres for it").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Ranked: 14")).to_be_visible()
    page.fill("#cap", "500")
    page.get_by_role("button", name="Rank again", exact=True).focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**cap=500**")
    for name in ("side by side Kettle Moss Bobbin Stand", "side by side Kettle Moss Bobbin One"):
        page.get_by_role("checkbox", name=name).focus()
        page.keyboard.press("Space")
    page.get_by_role("button", name="Set the marked ones side by side").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Side by side")).to_be_visible()
    page.context.close()


def test_the_counter_takes_and_gives(browser: Browser, seeded: House) -> None:
    page = entered(browser, seeded, viewport={"width": 820, "height": 1100})
    page.goto(f"http://127.0.0.1:{seeded.port}/counter")
    page.fill("#model", "Kettle Moss Bobbin Centre")
    page.fill("#location", "shop")
    page.fill("#quantity", "2")
    page.get_by_role("button", name="Receive", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("received 2")
    page.get_by_role("link", name="Reserve Kettle Moss Bobbin Centre at shop").click()
    page.fill("#quantity", "5")
    page.fill("#job", "Mill House")
    page.get_by_role("button", name="Reserve", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("cannot reserve 5")
    assert page.input_value("#job") == "Mill House"
    page.fill("#quantity", "1")
    page.get_by_role("button", name="Reserve", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("for Mill House until")
    sound(page)


SEEN = """() => [...document.querySelectorAll(".rows tbody :is(th,td,td a)")].map(one => {
  const box = one.getBoundingClientRect(), outer = one.closest(".wide");
  return [one.dataset.name || one.textContent.trim(), box.left >= 0 && box.right <= innerWidth && box.height > 0
    && outer.scrollWidth <= outer.clientWidth];
})"""


@pytest.mark.parametrize("width", [320, 390])
def test_a_phone_shows_the_counters_rows_whole(
    browser: Browser, seeded: House, own_catalogue: Catalogue, width: int
) -> None:
    """No cell and no link of what there is and what is promised is cut off."""
    ash = desk.Request("Kettle Moss Bobbin Low Centre", "shop in the old town", 3, finish="smoked ash")
    desk.receive(own_catalogue.engine, ash)
    desk.reserve(own_catalogue.engine, replace(ash, job="Mill House on the hill"))
    page = entered(browser, seeded, viewport={"width": width, "height": 844})
    page.goto(f"http://127.0.0.1:{seeded.port}/counter")
    cells = page.evaluate(SEEN)
    assert {"available", "to do", "place", "on hand", "reserved", "job", "units", "until"} <= {
        name for name, _ in cells
    }
    assert [name for name, whole in cells if not whole] == []
    sound(page)


def test_the_readmes_pictures_are_made_from_these_pages(browser: Browser, seeded: House, tmp_path: Path) -> None:
    """`python -m tests.recommender.page.pictures` makes them anew; the README shows each, and none is large."""
    page = entered(browser, seeded)
    made = pictures.take(page, f"http://127.0.0.1:{seeded.port}", tmp_path)
    readme = (pictures.HERE.parents[2] / "README.md").read_text(encoding="utf-8")
    for one in made:
        kept = pictures.FOLDER / one.name
        assert kept.stat().st_size < 90_000
        assert pictures.size(kept) == pictures.size(one)
        assert f"](tests/recommender/page/shown/{one.name})" in readme
    assert {one.name for one in pictures.FOLDER.iterdir()} == {one.name for one in made}
    sound(page)


PAGES = (
    "/", "/mains", "/room", "/room?room=Mill+House", "/centres?room=Mill+House", "/datasheet", "/counter",
    "/counter?what=join", "/books", "/books?view=ledger", "/books?view=delivery", "/books?view=order",
    "/books?view=orders", "/books?view=suppliers", "/books?view=grades", "/books?view=labels",
    "/centre?room=Mill+House&name=Bramble+Thatch+Trivet+Stacked+Centre", "/installed?room=Mill+House",
    "/compare?room=Mill+House&pick=Kettle+Moss+Bobbin+Centre&pick=Kettle+Moss+Bobbin+Low+Centre",
    "/money?limit=4000&currency=EUR&line.1.role=mains&line.1.price=900&line.1.quantity=2", "/centres?room=nowhere",
    "/loudspeaker?name=Kettle+Moss+Bobbin+Centre",
)  # fmt: skip


FITS = """[innerWidth, [document.documentElement, ...document.querySelectorAll(".stays")].every(
  one => one.scrollWidth <= one.clientWidth)]"""


def test_no_page_is_wider_than_its_window(browser: Browser, seeded: House) -> None:
    page = entered(browser, seeded)
    for path in PAGES:
        page.goto(f"http://127.0.0.1:{seeded.port}{path}")
        for width in (360, 1024, 2560):
            page.set_viewport_size({"width": width, "height": 900})
            shown, fits = page.evaluate(FITS)
            assert (shown, fits) == (width, True), path
    sound(page)


REACHED = """() => {
  const one = document.activeElement, look = getComputedStyle(one), box = one.getBoundingClientRect();
  if (one === document.body) return null;
  const ringed = look.outlineStyle !== "none" && parseFloat(look.outlineWidth) > 0 || look.boxShadow !== "none";
  const shown = box.width > 0 && box.bottom > 0 && box.top < innerHeight;
  if (one.dataset.reached) return null;
  one.dataset.reached = "yes";
  return [ringed && shown, one.outerHTML.slice(0, 160)];
}"""
"""What the key Tab came to, and whether it is seen there; null at the end, or where it begins again."""

LEFT_OUT = """[...document.querySelectorAll("a[href], button, input:not([type=hidden], [type=radio]), select, summary")]
  .filter(one => one.checkVisibility() && !one.dataset.reached).map(one => one.outerHTML.slice(0, 160))"""


def test_the_key_tab_comes_to_everything_is_seen_there_and_goes_on(browser: Browser, seeded: House) -> None:
    page = entered(browser, seeded, viewport={"width": 1280, "height": 800})
    for path in (one for one in PAGES if one.startswith(("/mains", "/counter", "/books", "/installed"))):
        page.goto(f"http://127.0.0.1:{seeded.port}{path}")
        for _ in ("from the field that a page begins with", "from the top"):
            page.keyboard.press("Tab")
            while (reached := page.evaluate(REACHED)) is not None:
                assert reached[0], f"{path}: {reached[1]}"
                page.keyboard.press("Tab")
        assert page.evaluate(LEFT_OUT) == [], path
    sound(page)


@pytest.fixture(scope="module")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The rules of axe-core, from npm or from where TRIPTYCH_TEST_AXE says; left out where neither is there."""
    if named := os.environ.get("TRIPTYCH_TEST_AXE"):
        return Path(named).read_text(encoding="utf-8")
    npm, folder = shutil.which("npm"), tmp_path_factory.mktemp("axe")
    if npm is None:
        pytest.skip("no npm here to fetch axe-core by; TRIPTYCH_TEST_AXE may name its axe.min.js")
    done = subprocess.run(
        [npm, "install", "--silent", "--no-save", "--ignore-scripts", "--prefix", str(folder), "axe-core@4"],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    if done.returncode:
        pytest.skip(f"axe-core can't be fetched: {done.stderr[-200:]}")
    return (folder / "node_modules/axe-core/axe.min.js").read_text(encoding="utf-8")


RUN = """async () => {
  const found = await axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]});
  return found.violations.map(one => [one.id, one.nodes.slice(0, 3).map(node => node.html.slice(0, 160))]);
}"""


@pytest.mark.parametrize(("width", "dark"), [(360, False), (390, True), (1280, False)])
def test_axe_finds_nothing(browser: Browser, seeded: House, axe: str, width: int, dark: bool) -> None:
    page = entered(
        browser, seeded, viewport={"width": width, "height": 900}, color_scheme="dark" if dark else "light",
        bypass_csp=True,
    )  # fmt: skip
    found = {}
    for path in PAGES:
        page.goto(f"http://127.0.0.1:{seeded.port}{path}")
        page.evaluate(axe)
        if told := page.evaluate(RUN):
            found[path] = told
    for path, button in (("/datasheet", "Read it"), ("/money?limit=6000&currency=EUR", "Choose a system")):
        page.goto(f"http://127.0.0.1:{seeded.port}{path}")
        if path == "/datasheet":
            page.fill("#text", f"{SHEET}Frequency response 45 Hz - 20 kHz\nSerial plate 4711\n")
        page.get_by_role("button", name=button, exact=True).click()
        page.wait_for_url("**/plan?**" if "money" in path else "**/datasheet")
        page.evaluate(axe)
        if told := page.evaluate(RUN):
            found[button] = told
    assert found == {}, json.dumps(found, indent=1)
    page.context.close()


def test_on_paper_stands_what_was_found_and_nothing_to_press(browser: Browser, seeded: House) -> None:
    page = entered(browser, seeded, viewport={"width": 1280, "height": 800}, color_scheme="dark")
    own = f"http://127.0.0.1:{seeded.port}"
    room = "room=Mill+House&mains=Bramble+Thatch+Trivet+Tower"
    money = "limit=4000&currency=EUR&line.1.role=centre&line.1.item=One+that+stands+here&line.1.price=600"
    page.emulate_media(media="print")
    for path in (f"/centres?{room}", f"/money?{money}", f"/room?{room}", "/counter", "/books"):
        page.goto(own + path)
        assert page.locator("body").evaluate("one => getComputedStyle(one).backgroundColor") in PAPER
        for one in page.locator("button, .button, .top, footer").all():
            assert not one.is_visible(), f"{path}: {one.inner_text()}"
    page.goto(f"{own}/centres?{room}")
    assert page.locator("form.prints .entry").count() >= 8
    assert page.locator("form.prints .entry").first.is_visible()
    page.goto(f"{own}/money?{money}")
    assert page.get_by_label("What", exact=True).first.is_visible()
    sound(page)


PAPER = ("rgb(255, 255, 255)", "rgba(0, 0, 0, 0)")
