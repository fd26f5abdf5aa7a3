"""The page on the public interface is true: its code is run as it stands, in order, and prints what the page says.

`python -m tests.test_api` writes what it prints anew; read the difference before you commit it.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import tempfile
from importlib.metadata import version
from pathlib import Path

import pytest

import triptych
from triptych.catalog.errors import BadInput, CatalogError, NotFound

PAGE = Path(__file__).parents[1] / "recommender" / "API.md"
STEP = re.compile(r"(^```python\n(.*?)^```\n+```text\n)(.*?)(^```)", re.MULTILINE | re.DOTALL)


def as_it_runs(page: str) -> str:
    """The page with what its code prints, run in the present folder."""
    names: dict[str, object] = {}

    def run(step: re.Match[str]) -> str:
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(compile(step[2], "API.md", "exec"), names)
        return step[1] + printed.getvalue() + step[4]

    return STEP.sub(run, page)


@pytest.mark.whole
def test_the_page_is_true(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    page = PAGE.read_text(encoding="utf-8")
    assert len(STEP.findall(page)) == page.count("```python")
    assert as_it_runs(page) == page


@pytest.mark.whole
def test_what_it_refuses_it_refuses_as_the_catalogue_does(tmp_path: Path) -> None:
    with triptych.open_catalogue(tmp_path / "new.db") as catalogue:
        with pytest.raises(NotFound, match="Nowhere"):
            catalogue.match("Nowhere")
        with pytest.raises(BadInput, match=r"no\.toml"):
            catalogue.check_budget(tmp_path / "no.toml")
        with pytest.raises(CatalogError, match="rules"):
            catalogue.rule_set("no such rules")


def test_it_says_its_version_and_nothing_else() -> None:
    assert triptych.__version__ == version("triptych")
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = triptych.nothing


if __name__ == "__main__":
    text = PAGE.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        PAGE.write_text(as_it_runs(text), encoding="utf-8")
