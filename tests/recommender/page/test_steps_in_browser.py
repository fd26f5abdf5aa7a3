"""The shopper's steps in a real Chromium, one after the other: sheet, room, what-ifs, and what was installed."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.recommender.page.served import House, serving
from tests.recommender.page.test_installed import FIRST, TRIO, text_of
from tests.recommender.page.windows import entered, sound
from triptych.catalog.database.as_built import checks
from triptych.catalog.database.engine import reading
from triptych.catalog.database.reads import count, room, stored
from triptych.catalog.files.room_edits import edited_room
from triptych.catalog.records import RoomRecord
from triptych.recommender.advise.advice import Advice
from triptych.recommender.api import Catalogue

SHEET = """Oatfell Wren Tower
Floor-standing loudspeaker, 3-way
Dimensions (H x W x D): 985 x 195 x 310 mm
Weight 21.5 kg
Sensitivity 88 dB (2.83 V, 1 m, anechoic)
Nominal impedance 6 ohm
Frequency response 45 Hz - 20 kHz
Serial plate 4711
"""
TABLE = "\n".join((
    "Model | Wren Tower | Wren Centre", "Weight | 21.5 kg | 9.1 kg", "Width | 195 mm | 480 mm",
    "Height | 985 mm | 180 mm",
))  # fmt: skip


LONGEST = 180_000
"""What a report as PDF may take on a loaded machine; six seconds on a quiet one [ms]."""


def there(catalogue: Catalogue) -> int:
    with reading(catalogue.engine) as session:
        return count(session)


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).first.click()


def dropped(page: Page, name: str, kind: str, content: bytes) -> None:
    page.set_input_files("#sheet-file", {"name": name, "mimeType": kind, "buffer": content})
    press(page, "Read the file")


def test_a_sheet_is_dropped_or_pasted_corrected_answered_and_kept(browser: Browser, own_catalogue: Catalogue) -> None:
    with serving(own_catalogue, enter=False) as house:
        page = entered(browser, house, viewport={"width": 1280, "height": 800})
        own, before = f"http://127.0.0.1:{house.port}", there(own_catalogue)
        page.goto(f"{own}/mains")
        page.keyboard.type("trivet tow")  # the field is where a page begins
        expect(page.get_by_text("2 found.")).to_be_visible()
        page.locator("#q").fill("oatfell")
        expect(page.get_by_text("None of the mains in the catalogue")).to_be_visible()
        page.get_by_role("link", name="Not there? Paste its datasheet").click()

        paper = page.context.new_page()
        paper.set_content(f"<pre>{SHEET}</pre>")
        printed = paper.pdf()
        paper.set_content('<svg width="200" height="90"><rect width="90" height="70"/></svg>')
        scanned = paper.pdf()
        paper.close()
        dropped(page, "wren.html", "text/html", b"<h1>Oatfell Wren</h1><p>Weight: 14.2 kg</p>")
        expect(page.locator("#row-0-weight")).to_contain_text("14.2 kg")
        page.go_back()
        dropped(page, "scan.pdf", "application/pdf", scanned)
        expect(page.get_by_role("alert")).to_contain_text("scan.pdf")
        dropped(page, "wren.pdf", "application/pdf", printed)
        expect(page.get_by_role("heading", name="What was read of wren.pdf")).to_be_visible()
        expect(page.locator("#row-0-weight")).to_contain_text("21.5 kg")

        # one of several, all as one, and what is pasted in their stead
        page.get_by_text("Change the text, or say what it is about").click()
        page.fill("#text", TABLE)
        press(page, "Read it again")
        expect(page.get_by_role("heading", name="Loudspeaker 2")).to_be_visible()
        page.get_by_text("Change the text, or say what it is about").click()
        page.get_by_label("Of several, only these").fill("Wren Centre")
        press(page, "Read it again")
        expect(page.get_by_role("heading", name="Loudspeaker 2")).to_have_count(0)
        expect(page.locator("#row-0-weight")).to_contain_text("9.1 kg")
        page.get_by_text("Change the text, or say what it is about").click()
        page.get_by_label("Of several, only these").fill("")
        page.get_by_label("one loudspeaker, all of it").check()
        page.fill("#text", SHEET)
        press(page, "Read it again")

        # each number that was read leads to its figure
        marked = page.locator("a.n")
        expect(marked).to_have_count(8)
        for one in marked.all():
            row = page.locator(f"[id='{(one.get_attribute('href') or '')[1:]}']")
            one.click()
            expect(row).to_be_in_viewport()
            assert row.evaluate("one => one.matches(':target')")
        expect(page.locator("li", has_text="Serial plate 4711").first).to_be_visible()

        # a click corrects a figure; what can't be read is told at its field
        for text, told in (("heavy", "21.5 kg"), ("22 kg", "22 kg")):
            weight = page.locator("#row-0-weight")
            if not weight.locator("input").is_visible():
                weight.locator("summary").click()
            weight.locator("input").fill(text)
            weight.locator("input").press("Enter")
            expect(page.locator("#row-0-weight summary")).to_have_text(told)
            expect(page.locator("[id='fix.0.weight-wrong']")).to_have_count(1 if text == "heavy" else 0)
        expect(page.locator("#row-0-weight")).to_contain_text("given by hand")
        page.get_by_label("low limit drop: ").fill("6")
        page.get_by_label("maker", exact=True).fill("Oatfell")
        page.get_by_label("model", exact=True).fill("Wren Tower")
        page.get_by_label("roles", exact=True).fill("main")
        press(page, "Take the answers")
        expect(page.get_by_label("low limit drop: ")).to_have_count(0)

        # nothing is stored before what would be is shown, and nothing that was changed since
        press(page, "What would be stored?")
        expect(page.locator("#plan-head")).to_be_focused()
        expect(page.locator("#plan-head")).to_be_in_viewport()
        page.get_by_label("series", exact=True).fill("Birds")
        press(page, "Store Oatfell Wren Tower")
        expect(page.get_by_text("nothing is stored yet")).to_be_visible()
        assert there(own_catalogue) == before
        page.get_by_label("series", exact=True).fill("")
        press(page, "What would be stored?")
        press(page, "Store Oatfell Wren Tower")
        expect(page.get_by_role("status")).to_contain_text("added 1, changed 0, unchanged 0")
        sound(page)
    with reading(own_catalogue.engine) as session:
        found = stored(session, "Oatfell Wren Tower").record
    assert (found.weight, found.low_limit_drop) == (22.0, 6.0)
    assert (found.figures["weight"].source == "pasted text", found.figures["width"].source) == (False, "wren.pdf")


def bottom_of(found: RoomRecord) -> float:
    assert found.screen is not None
    assert found.screen.bottom is not None
    return found.screen.bottom


def test_a_room_is_drawn_as_it_is_typed_and_two_do_not_overwrite_each_other(
    browser: Browser, seeded: House, own_catalogue: Catalogue
) -> None:
    page = entered(browser, seeded, viewport={"width": 1280, "height": 900})
    own = f"http://127.0.0.1:{seeded.port}"
    page.goto(f"{own}/room?mains=Bramble+Thatch+Trivet+Tower")
    page.fill("#name", "Loft")
    typed = {
        "screen.diagonal": "65 in",
        "screen.bottom": "32 in",
        "seat.1.distance": "9'10\"",
        "place.1.width": "63 in",
    }
    for name, text in {**typed, "place.1.base": "20 in", "money.centre": "700 EUR"}.items():
        page.fill(f"[id='{name}']", text)
    page.select_option("[id='place.1.kind']", "top")
    drawn = page.locator("#drawn")
    expect(drawn).to_contain_text("lengths in inches")
    expect(drawn).to_contain_text("32 in picture foot")
    page.fill("[id='screen.bottom']", "36 in")
    page.keyboard.press("Tab")
    expect(drawn).to_contain_text("36 in picture foot")
    page.fill("[id='screen.bottom']", "36 ells")
    page.keyboard.press("Tab")
    expect(drawn).to_contain_text("screen bottom")
    page.fill("[id='screen.bottom']", "36 in")
    page.keyboard.press("Tab")
    expect(drawn).to_contain_text("36 in picture foot")

    # what is supposed is told, and made one's own
    supposed = drawn.get_by_role("button", name="So it is").count()
    assert supposed
    first = drawn.get_by_role("button", name="So it is").first
    path, _, value = (first.get_attribute("value") or "").partition("=")
    first.click()
    expect(page.locator(f"[id='{path}']")).to_have_value(value)
    expect(page.locator("#drawn").get_by_role("button", name="So it is")).to_have_count(supposed - 1)
    press(page, "Add a seat")
    page.fill("[id='seat.2.name']", "corner")
    page.fill("[id='seat.2.distance']", "10 ft")
    page.fill("[id='seat.2.x']", "3 ft")
    page.keyboard.press("Tab")
    expect(page.locator("#drawn")).to_contain_text("corner")
    press(page, "Keep it and find centres")
    expect(page.get_by_role("heading", name="A centre for Bramble Thatch Trivet Tower in Loft")).to_be_visible()
    with reading(own_catalogue.engine) as session:
        kept = room(session, "Loft")
    assert [seat.name for seat in kept.seats] == ["middle", "corner"]
    assert bottom_of(kept) == pytest.approx(36 * 0.0254)

    # two windows with the same room: the later one is told, and what was typed stands
    page.goto(f"{own}/room?room=Loft")
    other = page.context.new_page()
    other.goto(f"{own}/room?room=Loft")
    other.fill("[id='screen.bottom']", "30 in")
    press(other, "Keep it and find centres")
    expect(other.get_by_role("heading", name="A centre for")).to_be_visible()
    page.fill("[id='place.1.base']", "18 in")
    press(page, "Keep it and find centres")
    expect(page.get_by_role("alert")).to_be_focused()
    expect(page.get_by_role("alert")).to_contain_text("somebody")
    expect(page.locator("[id='place.1.base']")).to_have_value("18 in")
    with reading(own_catalogue.engine) as session:
        assert bottom_of(room(session, "Loft")) == pytest.approx(30 * 0.0254)
    sound(page)


def as_pdf(page: Page, link: str) -> None:
    """Where a link leads, asked by the browser itself, is a PDF; its viewer may never close, so none opens.

    A click says that it takes a while.
    """
    asked = (
        "async link => { const a = await fetch(link.href);"
        " return [a.status, a.headers.get('content-type'), (await a.text()).slice(0, 5)] }"
    )
    assert page.get_by_role("link", name=link).evaluate(asked, timeout=LONGEST) == [200, "application/pdf", "%PDF-"]
    page.evaluate("addEventListener('click', one => one.preventDefault(), { once: true })")
    page.get_by_role("link", name=link).click()
    expect(page.get_by_role("status").get_by_text("The PDF is being made")).to_be_visible()


def first_of(advice: Advice) -> str:
    return advice.ranked[0].speaker


def test_what_ifs_rank_again_and_what_was_found_is_taken_away(
    browser: Browser, seeded: House, own_catalogue: Catalogue
) -> None:
    """Target, tilt, a seat that counts and stock; two side by side; fit sheet and report, as PDF too."""
    page = entered(browser, seeded, viewport={"width": 1280, "height": 900})
    own, mill = f"http://127.0.0.1:{seeded.port}", own_catalogue.room("Mill House")
    page.goto(f"{own}/centres?room=Mill+House")
    ranked = page.locator("#ranked-head")
    plain = ranked.inner_text()
    changed = page.locator(".changed")
    page.locator("#tilt").focus()
    page.keyboard.press("Home")
    page.wait_for_url("**tilt=0**")
    expect(changed).to_be_visible()
    expect(page.locator("#tilt")).to_be_focused()
    flat = own_catalogue.match(edited_room(mill, {f"place.{one.name}.tilt_limit": "0" for one in mill.places}))
    expect(page.locator(".entry.first h3")).to_contain_text(first_of(flat))
    expect(ranked).to_have_text(f"Ranked: {len(flat.ranked)}")
    page.get_by_role("link", name="As the room says").click()
    expect(ranked).to_have_text(plain)
    page.locator("#target").focus()
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    page.wait_for_url("**target=103**")
    expect(page.locator("#target-shown")).to_have_text("103")
    loud = own_catalogue.match(edited_room(mill, {"listening.target_peak": "103"}))
    expect(ranked).to_have_text(f"Ranked: {len(loud.ranked)}")
    expect(changed).to_be_visible()
    page.goto(f"{own}/centres?room=Mill+House")
    page.get_by_label("corner", exact=True).select_option("no")
    page.wait_for_url("**try.seat.corner=no**")
    expect(changed).to_be_visible()
    fewer = own_catalogue.match(edited_room(mill, {"seat.corner.regular": "no"}))
    expect(page.locator(".entry.first h3")).to_contain_text(first_of(fewer))
    expect(ranked).to_have_text(f"Ranked: {len(fewer.ranked)}")
    page.get_by_label("only what can be promised from stock now").check()
    page.wait_for_url("**stock=yes**")
    expect(ranked).not_to_have_text(f"Ranked: {len(fewer.ranked)}")

    page.goto(f"{own}/centres?room=Mill+House")
    beside = [page.locator("article h3 a").nth(at).inner_text() for at in range(2)]
    for name in beside:
        page.get_by_role("checkbox", name=f"side by side {name}").check()
    press(page, "Set the marked ones side by side")
    for name in beside:
        expect(page.get_by_role("columnheader", name=name)).to_be_visible()
    page.get_by_role("link", name="All centres for").click()
    as_pdf(page, "Report as PDF")
    page.get_by_role("link", name="Report for the client").click()
    expect(page.get_by_role("heading", name="The answer")).to_be_visible()
    page.go_back()
    page.get_by_role("link", name=f"Drawings and numbers of {beside[0]}").click()
    expect(page.get_by_role("heading", name="Drawn to scale")).to_be_visible()
    as_pdf(page, "Fit sheet as PDF")
    page.get_by_role("link", name="Fit sheet", exact=True).click()
    expect(page.get_by_role("heading", name=f"Fit sheet: {beside[0]}")).to_be_visible()
    sound(page)


def three_files(page: Page) -> None:
    for name, level in {"left": TRIO.left, "centre": TRIO.centre, "right": TRIO.right}.items():
        page.set_input_files(f"#{name}", {"name": f"{name}.txt", "mimeType": "text/plain", "buffer": text_of(level)})


def measured_in(page: Page) -> None:
    """Drop the three, say what stands where, and look at what came of it."""
    three_files(page)
    page.get_by_label("The centre that was installed").fill(FIRST)
    page.get_by_label("Where it stands").select_option("top of the unit")
    page.get_by_label("The centre that was installed").press("Enter")
    expect(page.locator("#found-head")).to_be_focused()


def test_three_measured_files_are_judged_beside_the_model_and_stored_once(
    browser: Browser, seeded: House, own_catalogue: Catalogue
) -> None:
    page = entered(browser, seeded, viewport={"width": 768, "height": 1024})
    page.goto(f"http://127.0.0.1:{seeded.port}/installed")
    press(page, "Take it")
    three_files(page)
    page.get_by_label("The centre that was installed").fill("Nobody's")
    press(page, "Check it")
    expect(page.get_by_role("alert")).to_contain_text("no loudspeaker is named")
    expect(page.get_by_label("The centre that was installed")).to_have_value("Nobody's")
    measured_in(page)
    expect(page.locator(".drawings figure svg")).to_have_count(2)
    expect(page.get_by_role("region", name="How near the centre is").get_by_role("row")).to_have_count(4)
    expect(page.get_by_text("Timbre: promised")).to_be_visible()
    with reading(own_catalogue.engine) as session:
        assert checks(session, "Mill House") == []
    press(page, "Store it as built")
    expect(page.get_by_role("status")).to_have_text("stored with Mill House")
    expect(page.locator("section", has=page.locator("#stored-head"))).to_contain_text(FIRST)
    page.go_back()  # which sends nothing again
    expect(page.locator("#found-head")).to_be_visible()
    page.reload()
    expect(page.locator("#found-head")).to_be_visible()
    measured_in(page)
    press(page, "Store it as built")
    expect(page.get_by_role("status")).to_contain_text("holds this measurement already")
    with reading(own_catalogue.engine) as session:
        assert [(one.speaker, one.place) for one in checks(session, "Mill House")] == [(FIRST, "top of the unit")]
    sound(page)
