"""Labels as sheets to print: three by eight on A4, each with its serial as a Code 128, drawn for scanners."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from importlib import import_module
from itertools import groupby
from typing import Any, Final

from triptych.catalog.database.models import Grade
from triptych.catalog.errors import BadInput
from triptych.catalog.stock.labels import UnitLabel
from triptych.catalog.stock.movement_lines import at_place

INSTALL_BARCODES: Final = "install the extra: pip install '.[labels]'"

CODE_C: Final = 99
"""The sign that changes to the set of pairs of digits, and within that set the pair 99. ISO/IEC 15417, from memory."""

QUIET: Final = 10
"""Modules that stay white on either side of a code. ISO/IEC 15417, from memory."""

WIDEST_MODULE: Final = 0.5
NARROWEST_MODULE: Final = 0.25
"""How wide a module is at most and at least [mm]. What office printers draw and hand scanners read: common practice,
no source."""

WIDTHS: Final = (57.0, 120.0, 183.0)
"""How much of a label that spans one, two or three columns a code may take [mm]."""

CODE_HEIGHT: Final = 0.15
"""How high bars are at least, as a share of their length; never below `LOWEST`. ISO/IEC 15417, from memory."""

LOWEST: Final = 10.0
"""How high bars are at least [mm]. Common practice, no source."""

_STYLE: Final = """
@page { size: A4; margin: 12mm 8mm }
body { font: 8pt/1.25 sans-serif; color: #000; margin: 0 auto; width: 194mm }
.sheet { display: flex; flex-wrap: wrap }
.label { box-sizing: border-box; width: 64.6mm; min-height: 34mm; padding: 2mm 3mm; break-inside: avoid;
  border: .2mm dotted #bbb; overflow-wrap: anywhere }
.wide { width: 129.2mm }
.widest { width: 193.8mm }
b { font-size: 9pt }
p { margin: 0 }
svg { display: block; margin: 1mm 0 .5mm }
.serial { font-family: monospace }
@media screen and (max-width: 200mm) { body { width: auto } .sheet { display: block }
  .label { width: auto } svg { max-width: 100%; height: auto } }
"""
_SPANS: Final = ("label", "label wide", "label widest")


def label_page(labels: Sequence[UnitLabel]) -> tuple[str, list[str]]:
    """Give the page, one self-contained file, and what is to be told of serials that no barcode can hold.

    Raises
    ------
    BadInput
        What makes barcodes isn't installed.
    """
    coder = code_maker() if any(one.serial is not None for one in labels) else None
    told: list[str] = []
    shown = "\n".join(_label(one, coder, told) for one in labels)
    page = (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Labels</title>'
        f'<style>{_STYLE}</style></head>\n<body><div class="sheet">\n{shown}\n</div></body></html>\n'
    )
    return page, told


def code_maker() -> Any:
    """Give what makes a Code 128 of a text.

    Raises
    ------
    BadInput
        It isn't installed.
    """
    try:
        base: Any = import_module("barcode.codex").Code128
    except ImportError as problem:
        raise BadInput(f"a barcode needs python-barcode, which is not here ({problem}); {INSTALL_BARCODES}") from None

    class WholeCode(base):  # type: ignore[misc]
        """Code 128 that keeps the digits 99 at its beginning: its maker takes their sign for one that changes sets."""

        def _try_to_optimize(self, encoded: list[int]) -> list[int]:
            shorter: list[int] = super()._try_to_optimize(list(encoded))
            return encoded if encoded[1] == CODE_C else shorter

    return WholeCode


def _label(label: UnitLabel, coder: Any, told: list[str]) -> str:
    code, span = ("", 0) if label.serial is None else _drawn(label.serial, coder, told)
    sort = ", ".join(filter(None, (label.finish, _grade(label.grade), "pair" if label.pack == 2 else None)))
    serial = "" if label.serial is None else f'<p class="serial">{escape(label.serial)}</p>'
    job = f"for {label.job}, " if label.job else ""
    where = at_place(label.location)
    return (
        f'<div class="{_SPANS[span]}"><b>{escape(label.speaker)}</b><p>{escape(sort)}</p>{code}{serial}'
        f"<p>{escape(f'{job}{where}')}</p></div>"
    )


def _grade(grade: Grade) -> str:
    return grade.value.replace("_", " ")


def _drawn(serial: str, coder: Any, told: list[str]) -> tuple[str, int]:
    """Give the barcode of a serial and how many columns it spans beyond one; nothing where none can hold it."""
    if not (serial.isascii() and serial.isprintable()):
        told.append(f"serial {serial!r} has letters that a Code 128 has none for: its label has no barcode")
        return "", 0
    modules = coder(serial).build()[0]
    total = len(modules) + 2 * QUIET
    for span, width in enumerate(WIDTHS):
        module = min(WIDEST_MODULE, width / total)
        if module >= NARROWEST_MODULE:
            return _bars(modules, module), span
    told.append(f"serial {serial[:40]!r}... is too long for a barcode on a label: {len(serial)} characters")
    return "", 0


def _bars(modules: str, module: float) -> str:
    """Draw modules, 1 black and 0 white, of a width in mm."""
    total = len(modules) + 2 * QUIET
    height = max(LOWEST, CODE_HEIGHT * len(modules) * module)
    high = height / module
    bars, place = [], QUIET
    for black, run in groupby(modules):
        wide = len(list(run))
        if black == "1":
            bars.append(f"M{place} 0h{wide}v{high:.2f}h-{wide}z")
        place += wide
    return (
        f'<svg viewBox="0 0 {total} {high:.2f}" width="{total * module:.3f}mm" height="{height:.3f}mm"'
        f' shape-rendering="crispEdges"><path d="{"".join(bars)}"/></svg>'
    )
