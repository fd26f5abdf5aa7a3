"""A file or an upload to the text of a datasheet: plain text in any usual encoding, a web page, or a PDF."""

from __future__ import annotations

from triptych.catalog.datasheet.pdf import is_pdf, pdf_text
from triptych.catalog.errors import BadInput

_WIDE_MARKS = (b"\xff\xfe", b"\xfe\xff")
"""What UTF-16 begins with."""


def sheet_text(content: bytes, name: str) -> str:
    """Return the text that the bytes called `name` hold.

    Raises
    ------
    BadInput
        They are no text, in no encoding that can be read, or a PDF that cannot be.
    """
    if is_pdf(content):
        return pdf_text(content, name)
    wide = content.startswith(_WIDE_MARKS)
    if b"\0" in content and not wide:
        raise BadInput(f"{name}: no text file; save the datasheet as plain text, in UTF-8, as a web page or as a PDF")
    for encoding in ("utf-16",) if wide else ("utf-8-sig", "cp1252"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise BadInput(f"{name}: the text is in no encoding that can be read; save it in UTF-8")
