"""The README's pictures of the page, made from the demo in a real Chromium.

`python -m tests.recommender.page.pictures` makes them anew.
"""

from __future__ import annotations

import shutil
import struct
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.recommender.page.served import serving
from triptych.recommender.api import open_catalogue

HERE = Path(__file__).parent
FOLDER = HERE / "shown"
WIDE, HIGH = 1120, 760
SHOWN = {
    "room.png": "/room?room=Mill+House",
    "centres.png": "/centres?room=Mill+House",
    "centre.png": "/centre?room=Mill+House&name=Bramble+Thatch+Trivet+Stacked+Centre",
}


def size(path: Path) -> tuple[int, int]:
    """Width and height of a PNG."""
    wide, high = struct.unpack(">II", path.read_bytes()[16:24])
    return int(wide), int(high)


def take(page: Page, own: str, folder: Path) -> list[Path]:
    """Take each picture into a folder, in few colours."""
    from PIL import Image

    found = []
    page.set_viewport_size({"width": WIDE, "height": HIGH})
    page.emulate_media(color_scheme="light", reduced_motion="reduce")
    for name, path in SHOWN.items():
        page.goto(own + path)
        if name == "centre.png":
            page.get_by_role("heading", name="Drawn to scale").scroll_into_view_if_needed()
            page.evaluate("document.querySelector('.drawings').scrollIntoView()")
        found.append(folder / name)
        page.screenshot(path=str(found[-1]))
        with Image.open(found[-1]) as taken:
            few = taken.convert("RGB").quantize(160)
        few.save(found[-1], optimize=True)
    return found


def main() -> None:
    program = shutil.which("chromium") or shutil.which("google-chrome")
    FOLDER.mkdir(exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as folder,
        open_catalogue(f"{folder}/c.db", quiet=True) as opened,
        sync_playwright() as playing,
    ):
        opened.import_demo()
        with serving(opened, enter=False) as house:
            browser = playing.chromium.launch(executable_path=program, args=["--no-sandbox"])
            page = browser.new_page()
            page.goto(f"http://127.0.0.1:{house.port}/enter?key={house.guard.keys.address}")
            take(page, f"http://127.0.0.1:{house.port}", FOLDER)
            browser.close()


if __name__ == "__main__":
    main()
