"""A page onto the disk as HTML or PDF: whole, or not at all."""

from __future__ import annotations

import os
import tempfile
from importlib import import_module
from pathlib import Path
from typing import Any, Final

from triptych.catalog.errors import BadInput

HTML: Final = (".html", ".htm")
PDF: Final = ".pdf"
INSTALL: Final = "install the extra: pip install 'triptych[pdf]'; or write .html and print it from a browser"


def refuse_name(path: Path) -> None:
    """Refuse a file that can't be written to, before anything is computed for it.

    Raises
    ------
    BadInput
        Its name doesn't end in .html or .pdf, its folder isn't there, or what makes a PDF isn't installed.
    """
    if path.suffix.lower() not in (*HTML, PDF):
        raise BadInput(f"--out {path}: name a file that ends in .html or .pdf")
    if path.is_dir() or not path.absolute().parent.is_dir():
        raise BadInput(f"--out {path}: there is no folder {path.absolute().parent}, or the file is one; name another")
    if path.suffix.lower() == PDF:
        _printer()


def write(page: str, path: Path) -> None:
    """Write a page, in place of a file of that name if there is one; if it fails, that one is left as it was.

    Raises
    ------
    BadInput
        The file cannot be written, or what makes a PDF isn't installed.
    """
    content = page.encode() if path.suffix.lower() in HTML else pdf(page)
    handle, name = -1, ""
    try:
        handle, name = tempfile.mkstemp(prefix=".triptych-", dir=path.absolute().parent)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        # mkstemp keeps others out; a page is an ordinary file
        os.chmod(name, 0o666 & ~_umask())
        os.replace(name, path)
    except OSError as problem:
        if name:
            Path(name).unlink(missing_ok=True)
        raise BadInput(f"{path} cannot be written: {problem.strerror or problem}") from None


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


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
