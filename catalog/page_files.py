"""A page onto the disk as HTML or PDF: whole, or not at all."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import Any, Final

from triptych.catalog.errors import BadInput
from triptych.catalog.outputs import is_stream, refuse_no_file, write_file

HTML: Final = (".html", ".htm")
PDF: Final = ".pdf"
INSTALL: Final = "install the extra: pip install '.[pdf]'; or write .html and print it from a browser"


def refuse_name(path: Path) -> None:
    """Refuse a file that can't be written to, before anything is computed for it.

    Raises
    ------
    BadInput
        Its name doesn't end in .html or .pdf, its folder isn't there, or what makes a PDF isn't installed.
    """
    if is_stream(path):
        return
    if path.suffix.lower() not in (*HTML, PDF):
        raise BadInput(f"--out {path}: name a file that ends in .html or .pdf")
    refuse_no_file(path)
    if path.suffix.lower() == PDF:
        _printer()


def write(page: str, path: Path) -> None:
    """Write a page, in place of a file of that name if there is one; if it fails, that one is left as it was.

    Raises
    ------
    BadInput
        The file cannot be written, or what makes a PDF isn't installed.
    """
    write_file(path, pdf(page) if path.suffix.lower() == PDF else page.encode())


def pdf(page: str) -> bytes:
    """A page as PDF.

    Raises
    ------
    BadInput
        What makes a PDF isn't installed.
    """
    made = _printer().HTML(string=page, url_fetcher=_fetch_nothing).write_pdf()
    return bytes(made)


def _fetch_nothing(url: str) -> dict[str, object]:
    """A page asks nobody for anything, whatever a name in it says."""
    raise ValueError(f"not fetched: {url}")


def _printer() -> Any:
    try:
        return import_module("weasyprint")
    except (ImportError, OSError) as problem:  # OSError: the package is there and Pango isn't
        raise BadInput(f"a PDF needs weasyprint, which is not here ({problem}); {INSTALL}") from None
