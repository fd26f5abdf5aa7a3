"""A PDF to its text, with the columns of the page kept; pages that are only pictures are refused."""

from __future__ import annotations

import logging
import re
from io import BytesIO
from typing import Final

from triptych.catalog.errors import BadInput

MOST_PAGES: Final = 100
"""What one datasheet may have."""
_SCALE: Final = 2.0
"""How wide a gap becomes in blanks; the larger, the further apart columns stay. Tried on printed tables."""


def is_pdf(content: bytes) -> bool:
    """Return whether the content of a file is a PDF."""
    return content.startswith(b"%PDF-")


def pdf_text(content: bytes, name: str) -> str:
    """Return the text of a PDF as it is laid out.

    Raises
    ------
    BadInput
        It can't be opened, is locked, has too many pages, or holds pictures instead of text.
    """
    try:
        # a heavy library that only a PDF needs, in an extra of its own
        from pypdf import PdfReader
        from pypdf.errors import PyPdfError
    except ImportError:
        raise BadInput(f"{name}: reading a PDF needs pip install '.[pdf]'; or paste its text") from None
    logging.getLogger("pypdf").setLevel(logging.ERROR)
    try:
        reader = PdfReader(BytesIO(content))
        if reader.is_encrypted and not reader.decrypt(""):
            raise BadInput(f"{name}: the PDF is locked by a password; save it without one, or paste its text")
        if len(reader.pages) > MOST_PAGES:
            raise BadInput(f"{name}: the PDF has {len(reader.pages)} pages; {MOST_PAGES} are the most, so cut it")
        pages = [page.extract_text(extraction_mode="layout", layout_mode_scale_weight=_SCALE) for page in reader.pages]
    except (PyPdfError, ValueError, KeyError, TypeError, IndexError, AttributeError, RecursionError) as problem:
        raise BadInput(f"{name}: no PDF that can be read ({problem}); save it again, or paste its text") from problem
    text = "\n\n".join(pages)
    if not re.search(r"\w", text):
        raise BadInput(f"{name}: the pages are pictures with no text in them; type or paste what they say")
    # a cell that begins right where the one before it ends
    return re.sub(r"(?<=\))(?=\d)", "  ", text)
