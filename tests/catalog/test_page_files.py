from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Any

import pytest

from triptych.catalog import page_files
from triptych.catalog.errors import BadInput


def test_a_page_is_written_whole_in_place_of_the_one_before(tmp_path: Path) -> None:
    path = tmp_path / "a page.html"
    page_files.write("<p>å first", path)
    page_files.write("<p>second", path)
    assert path.read_text(encoding="utf-8") == "<p>second"
    assert os.listdir(tmp_path) == [path.name]
    assert stat.S_IMODE(path.stat().st_mode) & stat.S_IRUSR


def test_what_fails_leaves_the_file_as_it_was_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "page.html"
    page_files.write("first", path)

    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(BadInput, match="No space left"):
        page_files.write("second", path)
    assert path.read_text() == "first"
    assert os.listdir(tmp_path) == [path.name]


@pytest.mark.parametrize("name", ["page.txt", "page", "page.docx"])
def test_another_ending_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"ends in \.html or \.pdf"):
        page_files.refuse_name(tmp_path / name)


def test_a_folder_that_is_not_there_is_refused_before_any_work(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no folder"):
        page_files.refuse_name(tmp_path / "nowhere" / "page.html")


def test_a_pdf_without_what_makes_it_is_refused_with_the_way_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing(name: str) -> Any:
        raise ImportError(f"No module named {name!r}")

    monkeypatch.setattr(page_files, "import_module", missing)
    with pytest.raises(BadInput, match=r"install '\.\[pdf\]'"):
        page_files.refuse_name(tmp_path / "page.pdf")


def test_what_makes_a_pdf_is_given_the_page_and_may_fetch_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Printer:
        @staticmethod
        def HTML(string: str, url_fetcher: Any) -> Any:
            with pytest.raises(ValueError, match="not fetched"):
                url_fetcher("http://example.invalid/x.png")

            class Document:
                @staticmethod
                def write_pdf() -> bytes:
                    return f"%PDF {string}".encode()

            return Document

    monkeypatch.setattr(page_files, "import_module", lambda _: Printer)
    page_files.write("a page", tmp_path / "page.pdf")
    assert (tmp_path / "page.pdf").read_bytes() == b"%PDF a page"
