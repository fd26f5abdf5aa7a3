"""Units in the heads of columns, such as `Width (cm)`: taken to the cells below, or refused if of another kind."""

from __future__ import annotations

import re
from typing import Final

from triptych.catalog.fields import Field
from triptych.catalog.number_texts import quoted
from triptych.catalog.units import KIND_OF, UNITS


def header_key(header: str) -> str:
    """A header as it is compared: case, blanks, hyphens and underscores make no difference."""
    return "_".join(header.replace("-", " ").replace("_", " ").casefold().split())


def unit_of(header: str, column: Field) -> str | None:
    """The unit or the currency that stands at the end of a header, such as `Width (cm)`; None where none does."""
    _, *others = re.findall(r"[^\s_,()\[\]]+", header) or [""]
    if not others or column.name == header_key(header):
        return None
    word, bracketed = others[-1], header.rstrip().endswith((")", "]"))
    if column.name == "price":
        return word if re.fullmatch("[A-Z]{3}|[€£¥₹₩]", word) else None
    unit = UNITS.get(word.casefold())
    fits = column.quantity is not None and unit is not None and KIND_OF.get(unit) is column.quantity.kind
    return unit if fits or (bracketed and column.quantity is not None) else None


_BARE: Final = re.compile(r"[\s\d.,+⁄/½¼¾⅛⅜⅝⅞-]*[\d½¼¾⅛⅜⅝⅞]\s*")
"""A number without a unit."""


def wrong_unit(header: str, column: Field) -> str | None:
    """What is wrong with a header whose unit is none of its column's."""
    unit = None if column.name == "price" else unit_of(header, column)
    if unit is None or (column.quantity is not None and KIND_OF.get(unit) is column.quantity.kind):
        return None
    return f"{quoted(header)} is in {unit}, and {column.name} in {column.unit or 'no unit'}; map it to another column"


def in_unit(cell: str, unit: str | None, column: Field) -> str:
    """A cell with the unit of its header; one that has a unit of its own keeps it."""
    if unit is None or not cell.strip():
        return cell
    between = column.about.mark.strip()
    parts = cell.split(between) if between else [cell]
    return column.about.mark.join(f"{part.strip()} {unit}" if _BARE.fullmatch(part) else part for part in parts)
