"""Windows of a real Chromium that open the page, in which nothing may go wrong unseen."""

from __future__ import annotations

import shutil
from typing import Any

from playwright.sync_api import Browser, Page, expect

from tests.recommender.page.served import House

expect.set_options(timeout=60_000)  # what a loaded machine takes says nothing of the page


def program() -> str:
    """The Chromium of this machine."""
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert found, "these tests need Chromium: apt-get install chromium"
    return found


def entered(browser: Browser, house: House, **options: Any) -> Page:
    """A window that opened the address, in which nothing may go wrong unseen."""
    context = browser.new_context(**options)
    page = context.new_page()
    page.set_default_timeout(60_000)
    faults: list[str] = []
    page.on("pageerror", lambda problem: faults.append(str(problem)))
    page.on("console", lambda said: faults.append(said.text) if "Content Security Policy" in said.text else None)
    own = f"http://127.0.0.1:{house.port}/"
    page.on("request", lambda asked: None if asked.url.startswith(own) else faults.append(asked.url))
    page.faults = faults  # type: ignore[attr-defined]
    page.goto(f"{own}enter?key={house.guard.keys.address}")
    return page


def sound(page: Page) -> None:
    assert page.faults == []  # type: ignore[attr-defined]
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    page.context.close()
