"""The drawings as a browser sets them: the words' true size in its own font, and no word on another."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from html import unescape
from pathlib import Path
from typing import TypedDict

import pytest

from tests.recommender.drawing import examples
from tests.recommender.drawing.reading import read
from tests.recommender.drawing.test_drawing_rules import HARD_NAMES
from triptych.recommender.drawing.section import Side
from triptych.recommender.drawing.side_section import side

SCRIPT = """
const told = [...document.querySelectorAll('svg')].map(svg => {
  const page = svg.viewBox.baseVal;
  const words = [...svg.querySelectorAll('text')].map(text => {
    const box = text.getBBox();
    return {text: text.textContent, left: box.x, right: box.x + box.width, top: box.y, bottom: box.y + box.height};
  });
  return {width: page.width, height: page.height, fill: getComputedStyle(svg.querySelector('.page')).fill, words};
});
document.body.innerHTML = '';
document.body.appendChild(document.createElement('pre')).textContent = JSON.stringify(told);
"""


class Word(TypedDict):
    text: str
    left: float
    right: float
    top: float
    bottom: float


class Page(TypedDict):
    width: float
    height: float
    fill: str
    words: list[Word]


def browser() -> str:
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert found, "these tests need Chromium: apt-get install chromium"
    return found


def opened(svgs: list[str], folder: Path, dark: bool = False) -> list[Page]:
    page = folder / "drawings.html"
    body = "".join(f"<div>{svg}</div>" for svg in svgs)
    head = '<!doctype html><meta charset="utf-8"><meta name="color-scheme" content="light dark">'
    page.write_text(f"{head}<body>{body}<script>{SCRIPT}</script></body>", encoding="utf-8")
    command = [browser(), "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
    command += ["--disable-background-networking", "--disable-component-update", "--disable-sync"]
    command += [f"--user-data-dir={folder / 'profile'}", f"--blink-settings=preferredColorScheme={0 if dark else 1}"]
    done = subprocess.run([*command, "--dump-dom", page.as_uri()], capture_output=True, timeout=120, check=True)
    told = re.search(r"<pre>(.*)</pre>", done.stdout.decode(), re.DOTALL)
    assert told
    pages: list[Page] = json.loads(unescape(told[1]))
    return pages


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> list[Page]:
    named = [side(Side(name, examples.BAY, examples.LOW, 0.45, 6.0, 3.0, 1.02)) for name in HARD_NAMES]
    return opened([draw() for draw in examples.ALL.values()] + named, tmp_path_factory.mktemp("drawings"))


def test_every_word_is_on_its_page(pages: list[Page]) -> None:
    assert len(pages) == len(examples.ALL) + len(HARD_NAMES)
    for page in pages:
        for word in page["words"]:
            assert word["left"] >= 0, word
            assert word["top"] >= 0, word
            assert word["right"] <= page["width"], word
            assert word["bottom"] <= page["height"], word


def test_no_word_stands_on_another(pages: list[Page]) -> None:
    # a browser's box holds the whole line of the font; half a millimetre of it is air
    for page in pages:
        words = page["words"]
        for index, one in enumerate(words):
            for other in words[index + 1 :]:
                across = min(one["right"], other["right"]) - max(one["left"], other["left"])
                down = min(one["bottom"], other["bottom"]) - max(one["top"], other["top"])
                assert across <= 0 or down <= 0.5, (one, other)


def test_words_are_no_wider_than_estimated(pages: list[Page]) -> None:
    for draw, page in zip(examples.ALL.values(), pages, strict=False):
        for estimated, word in zip(read(draw()).words, page["words"], strict=True):
            assert word["right"] - word["left"] <= estimated.box.right - estimated.box.left + 0.05, word


def test_the_page_is_white_in_the_light_and_dark_in_the_dark(pages: list[Page], tmp_path: Path) -> None:
    assert pages[0]["fill"] == "rgb(255, 255, 255)"
    (dark,) = opened([examples.ALL["plan, mm, 180 mm"]()], tmp_path, dark=True)
    assert dark["fill"] == "rgb(21, 25, 29)"
