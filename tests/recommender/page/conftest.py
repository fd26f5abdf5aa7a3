"""A page of the seed's catalogue, which many tests only read, and one of an own copy."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.recommender.page.served import House, Visitor, serving
from triptych.recommender.api import Catalogue, open_catalogue

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Playwright


@pytest.fixture(scope="module")
def read_catalogue(seeded_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Catalogue]:
    with open_catalogue(str(shutil.copy(seeded_template, tmp_path_factory.mktemp("page") / "c.db"))) as opened:
        yield opened


@pytest.fixture(scope="module")
def read_house(read_catalogue: Catalogue) -> Iterator[House]:
    with serving(read_catalogue) as house:
        yield house


@pytest.fixture
def reader(read_house: House) -> Visitor:
    """Somebody who looks at the seed's catalogue and changes nothing."""
    return read_house.visitor


@pytest.fixture
def own_catalogue(seeded_template: Path, tmp_path: Path) -> Iterator[Catalogue]:
    with open_catalogue(str(shutil.copy(seeded_template, tmp_path / "c.db"))) as opened:
        yield opened


@pytest.fixture
def shopper(own_catalogue: Catalogue) -> Iterator[Visitor]:
    """Somebody with a catalogue of their own."""
    with serving(own_catalogue) as house:
        yield house.visitor


@pytest.fixture(scope="module")
def played() -> Iterator[Playwright]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playing:
        yield playing


@pytest.fixture(scope="module")
def browser(played: Playwright) -> Iterator[Browser]:
    from tests.recommender.page.windows import program

    opened = played.chromium.launch(executable_path=program(), args=["--no-sandbox", "--disable-gpu"])
    yield opened
    opened.close()


@pytest.fixture
def seeded(own_catalogue: Catalogue) -> Iterator[House]:
    own_catalogue.match("Mill House")
    with serving(own_catalogue, enter=False) as house:
        yield house
