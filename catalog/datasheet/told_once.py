"""What a sheet says once of all its figures, away from them: how they were measured, how steep filters are, the tax."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

from triptych.catalog.datasheet.amounts import amounts
from triptych.catalog.datasheet.band import DROPS
from triptych.catalog.datasheet.crossovers import orders_in
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.parts import SheetPart
from triptych.catalog.datasheet.price import only_currency
from triptych.catalog.datasheet.price_tax import tax_in
from triptych.catalog.datasheet.result import ReadField, ReadStatus
from triptych.catalog.datasheet.sheet_words import (
    ANECHOIC,
    HALF_SPACE,
    IN_ROOM,
    MEASURED,
    PREDECESSOR,
    RIVAL,
    topics_in,
)
from triptych.catalog.quantities import Kind
from triptych.catalog.records import SensitivityBasis

ONCE: Final = "told once for all figures of the sheet"
"""The flag of what stands away from the figures that it is about."""
_SENTENCE: Final = re.compile(r"[^.;!?\n]*(?:[.;!?](?=[^\s])[^.;!?\n]*)*")
_NOTE: Final = re.compile(r"\([1-9a-f]\)\s+(?P<said>\S.*)")
_REFERENCE: Final = re.compile(r"\b2[.,]83 ?v")
_BASES: Final = (
    (SensitivityBasis.ANECHOIC, ANECHOIC),
    (SensitivityBasis.HALF_SPACE, HALF_SPACE),
    (SensitivityBasis.IN_ROOM, IN_ROOM),
)
_GROUND: Final[Mapping[str, str]] = {
    "sensitivity_basis": "sensitivity",
    "low_limit_drop": "low_limit",
    "crossover_order": "crossover",
    "tax": "price",
    "currency": "price",
}
"""What must be known of a loudspeaker, lest a condition be of nothing."""

Told = Mapping[str, tuple[Any, str]]
"""By column what is told once, and the sentence."""


def told_once(text: str, parts: Sequence[SheetPart]) -> Told:
    """Return what the sentences outside the loudspeakers' own text say once, each with its sentence."""
    taken = sorted(
        span for part in parts for piece in part.pieces if not piece.shared for span in piece.spans if span[0] < span[1]
    )
    found: dict[str, list[tuple[Any, str]]] = {}
    for match in _SENTENCE.finditer(text):
        said = match[0].strip()
        small = folded(said)
        if (note := _NOTE.match(said)) and text.count(note["said"].rstrip(" .")) > 1:
            # a note is put where its mark stands, and holds there
            continue
        if not said or RIVAL.search(small) or PREDECESSOR.search(small) or _overlaps(taken, match.span()):
            continue
        for column, read in _READERS.items():
            value = read(small)
            if value is not None:
                found.setdefault(column, []).append((value, said))
    once = {column: told[0] for column, told in found.items() if len({value for value, _ in told}) == 1}
    code = only_currency(folded(text))
    return {**once, "currency": (code, code)} if code else once


def _overlaps(taken: Iterable[tuple[int, int]], span: tuple[int, int]) -> bool:
    return any(start < span[1] and span[0] < end for start, end in taken)


def _basis(small: str) -> SensitivityBasis | None:
    named = [basis for basis, pattern in _BASES if pattern.search(small)]
    sure = _REFERENCE.search(small) or "sensitivity" in topics_in(small)
    if len(named) != 1 or not (sure or (named[0] is not SensitivityBasis.IN_ROOM and MEASURED.search(small))):
        return None
    return named[0]


def _drop(small: str) -> float | None:
    found = amounts(small)
    levels = {one.bare for one in found if one.kind is Kind.LEVEL}
    others = [one for one in found if one.kind not in (Kind.LEVEL, None)]
    if others or len(levels) != 1 or not {"response", "low"} & set(topics_in(small)):
        return None
    level = levels.pop()
    return level if level in DROPS else None


def _order(small: str) -> int | None:
    if any(one.kind is Kind.FREQUENCY for one in amounts(small)):
        return None
    found = orders_in(small) if {"slope", "crossover"} & set(topics_in(small)) or "network" in small else set()
    return found.pop() if len(found) == 1 and 1 <= min(found) <= 8 else None


_READERS: Final[Mapping[str, Callable[[str], Any]]] = {
    "sensitivity_basis": _basis,
    "low_limit_drop": _drop,
    "crossover_order": _order,
    "tax": tax_in,
}


def fill(told: Told, draft: Draft) -> None:
    """Give a loudspeaker what is told once, where its own text leaves it open."""
    for column, (value, said) in told.items():
        old = draft.fields.get(column)
        open_ = old is None or (old.value is SensitivityBasis.UNKNOWN and column not in draft.given)
        open_ |= column == "currency" and old is not None and old.value is None and column not in draft.given
        if open_ and draft.known(_GROUND[column]) is not None:
            draft.fields[column] = ReadField(value, ReadStatus.INFERRED, (ONCE,), said)
            draft.questions.pop(column, None)
