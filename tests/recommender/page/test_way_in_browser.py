"""The shopper's whole way, counted: from an empty catalogue and pasted datasheets to a printed fit sheet."""

from __future__ import annotations

import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.recommender.page.served import serving
from tests.recommender.page.test_page_in_browser import SHEET
from tests.recommender.page.windows import entered, sound
from triptych.recommender.api import open_catalogue

CENTRE: Final = """Oatfell Wren Centre
Type: centre loudspeaker, 2-way, sealed
Dimensions (H x W x D): 170 x 480 x 260 mm
Weight 9.1 kg
Sensitivity 88 dB (2.83 V, 1 m, anechoic)
Nominal impedance 8 ohm, minimum 6.4 ohm
Crossover: 2.4 kHz
Drivers: 25 mm dome tweeter, 2 x 130 mm woofers
Price: 420 EUR each
"""
ROOM: Final = {
    "screen.diagonal": "65 in", "screen.bottom": "90 cm", "seat.1.distance": "3 m",
    "place.1.width": "1.6 m", "place.1.height": "300 mm", "place.1.depth": "450 mm", "place.1.base": "520 mm",
    "money.centre": "700 EUR",
}  # fmt: skip
"""What a tape measure tells in a few minutes, and a cap."""

POINT, THINK, KEY, PASTE = 1.1, 1.35, 0.28, 2.0
"""What a click, the thought before each thing done, a key and a paste take [s]: the first three are those of the
keystroke-level model (Card, Moran and Newell, 1980)."""


@dataclass
class Shopper:
    """Somebody whose clicks and fields are counted."""

    page: Page
    clicks: list[str] = field(default_factory=list)
    fields: int = 0
    seconds: float = 0.0
    began: float = field(default_factory=time.monotonic)

    def click(self, role: Any, name: str) -> None:
        self.page.get_by_role(role, name=name, exact=True).first.click()
        self.clicks.append(name)
        self.seconds += THINK + POINT

    def fill(self, name: str, text: str) -> None:
        self.page.fill(f"[id='{name}']", text)
        self.fields += 1
        self.seconds += THINK + POINT + (PASTE if "\n" in text else KEY * len(text))

    def choose(self, name: str, value: str) -> None:
        self.page.select_option(f"[id='{name}']", value)
        self.fields += 1
        self.seconds += THINK + 2 * POINT

    def measured(self) -> float:
        """The minutes of a person, and those that the pages took on this machine."""
        minutes = (self.seconds + time.monotonic() - self.began) / 60
        counted = f"{len(self.clicks)} clicks, {self.fields} fields, {minutes:.1f} minutes"
        sys.stdout.write(f"\n{counted}: {', '.join(self.clicks)}\n")
        return minutes


def described(shopper: Shopper, room: Mapping[str, str]) -> None:
    for name, value in room.items():
        shopper.fill(name, value)
    shopper.choose("place.1.kind", "top")
    expect(shopper.page.locator("#drawn svg").first).to_be_visible()
    shopper.click("button", "Keep it and find centres")


def printed(shopper: Shopper) -> None:
    expect(shopper.page.get_by_role("heading", name="Ranked: 1")).to_be_visible()
    shopper.click("link", "Fit sheet for Oatfell Wren Centre")
    expect(shopper.page.get_by_text("Middle of the box under the middle of the picture").first).to_be_visible()
    assert shopper.page.pdf(prefer_css_page_size=True).startswith(b"%PDF")


@pytest.mark.parametrize("width", [1280, 390])
def test_two_sheets_one_after_the_other(browser: Browser, tmp_path: Path, width: int) -> None:
    with open_catalogue(str(tmp_path / "c.db"), quiet=True) as opened, serving(opened, enter=False) as house:
        shopper = Shopper(entered(browser, house, viewport={"width": width, "height": 800}))
        shopper.click("link", "Paste a datasheet")
        for text, name in ((SHEET, "Oatfell Wren Tower"), (CENTRE, "Oatfell Wren Centre")):
            shopper.fill("text", text)
            shopper.click("button", "Read it")
            if not shopper.page.get_by_role("button", name=f"Store {name}").count():
                shopper.click("button", "What would be stored?")
            shopper.click("button", f"Store {name}")
            if text is SHEET:
                shopper.click("link", f"paste a centre for {name}")
        shopper.click("link", "To the room")
        described(shopper, ROOM)
        printed(shopper)
        assert (len(shopper.clicks), shopper.fields) <= (11, 13)
        assert shopper.measured() < 5
        sound(shopper.page)


@pytest.mark.parametrize("width", [1280, 390])
def test_both_sheets_in_one_paste(browser: Browser, tmp_path: Path, width: int) -> None:
    with open_catalogue(str(tmp_path / "c.db"), quiet=True) as opened, serving(opened, enter=False) as house:
        shopper = Shopper(entered(browser, house, viewport={"width": width, "height": 800}))
        shopper.click("link", "Paste a datasheet")
        shopper.fill("text", f"{SHEET}\n{CENTRE}")
        shopper.click("button", "Read it")
        shopper.click("button", "Store Oatfell Wren Tower, Oatfell Wren Centre")
        shopper.click("link", "describe the room for Oatfell Wren Tower")
        described(shopper, ROOM)
        printed(shopper)
        assert (len(shopper.clicks), shopper.fields) <= (6, 12)
        assert shopper.measured() < 4
        sound(shopper.page)
