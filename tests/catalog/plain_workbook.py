"""A workbook of texts as plain as the format allows (ECMA-376): one with styles takes seven times as long."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from typing import Final
from xml.sax.saxutils import escape

MAIN: Final = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE: Final = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE: Final = "http://schemas.openxmlformats.org/package/2006"
KIND: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml"


def _related(kind: str, target: str) -> str:
    one = f'<Relationship Id="r1" Type="{OFFICE}/{kind}" Target="{target}"/>'
    return f'<Relationships xmlns="{PACKAGE}/relationships">{one}</Relationships>'


PARTS: Final = {
    "[Content_Types].xml": f'<Types xmlns="{PACKAGE}/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    f'<Override PartName="/xl/workbook.xml" ContentType="{KIND}.sheet.main+xml"/>'
    f'<Override PartName="/xl/sheet.xml" ContentType="{KIND}.worksheet+xml"/></Types>',
    "_rels/.rels": _related("officeDocument", "xl/workbook.xml"),
    "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}">'
    '<sheets><sheet name="shop" sheetId="1" r:id="r1"/></sheets></workbook>',
    "xl/_rels/workbook.xml.rels": _related("worksheet", "sheet.xml"),
}


def _cell(text: str) -> str:
    return f'<c t="inlineStr"><is><t xml:space="preserve">{escape(text)}</t></is></c>'


def plain_workbook(rows: Sequence[Sequence[str]]) -> bytes:
    """Give rows of text as a workbook whose cells are all texts."""
    lines = "".join(f"<row>{''.join(map(_cell, row))}</row>" for row in rows)
    sheet = f'<worksheet xmlns="{MAIN}"><sheetData>{lines}</sheetData></worksheet>'
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, part in {**PARTS, "xl/sheet.xml": sheet}.items():
            archive.writestr(name, f'<?xml version="1.0" encoding="UTF-8"?>{part}')
    return stream.getvalue()
