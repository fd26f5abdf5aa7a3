"""Drivers that nothing names, told by what stands beside them."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from triptych.catalog.datasheet.cones import CONES
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.drivers import SMALLEST_BASS, largest, read_one
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.result import ReadStatus

_NUMBER_WORD: Final = (
    "one|two|twin|dual|three|ein|zwei|drei|un|une|deux|trois|uno|una|due|tre|dos|tres|een|twee|drie|jeden|dwa|trzy"
)
_HAS: Final = r"\w+ (?:(?:has|have|with|hat|mit|a|avec|ha|con|tiene|heeft|met|ma|z) )?"
_NAMELESS: Final = re.compile(
    rf"\W*(?:{_HAS}(?=(?:{_NUMBER_WORD}|\d ?x)\b))?(?:\(?\d\)? ?x ?|(?:{_NUMBER_WORD}) )?"
    r"\d[\d.,/ -]* ?-?(?:mm|cm|in(?:ch)?|\"|zoll|pouces?)\W*"
    r"(?:(?:poly\w*|paper|pulp|kevlar|glass ?fib\w*|carbon|cone|magnesium|alumin\w*|papier|zellulose|celuloz\w*|"
    r"konus)\W*)*"
)
"""A driver that nothing names, by its size and its cone."""


def nameless(entry: SheetEntry, draft: Draft) -> None:
    """Note a piece that gives a count and a size of a cone and no more."""
    size = largest(entry.value) if _NAMELESS.fullmatch(entry.value) else None
    if size is not None and size >= SMALLEST_BASS:
        draft.cones.append((entry.value, entry.raw))
        return
    cones(entry, draft)


def cones(entry: SheetEntry, draft: Draft) -> None:
    """Note cones that a sentence tells with their number and size, and with no name of a driver."""
    for found in CONES.finditer(entry.value):
        size = largest(found[0])
        told = any(found[0].strip(" ,;(") in text or text in found[0] for text, _ in draft.cones)
        if size is not None and size >= SMALLEST_BASS and not told:
            draft.cones.append((found[0].strip(" ,;("), entry.raw))


def settle(draft: Draft) -> None:
    """Take for the woofer what nobody names so, where none is told: a cone, or the mid of a two-way loudspeaker."""
    if draft.known("woofer_size") is not None:
        _between(draft)
    if "woofer_size" in draft.fields:
        return
    if len(draft.cones) == 1 and draft.known("tweeter_type") is not None:
        [(text, raw)] = draft.cones
        entry = SheetEntry("woofer", "woofers", text, text, raw)
        read_one("woofer", text, entry, draft)
        _infer("woofer", "named by nothing; the only cone that is told beside the tweeter", draft)
        return
    size, count = draft.fields.get("midrange_size"), draft.fields.get("midrange_count")
    if size is None or size.value is None or "midrange_size" in draft.given or size.value < SMALLEST_BASS:
        return
    if len(draft.known("crossover") or ()) != 1:
        return
    draft.fields["woofer_size"] = size
    draft.fields.pop("midrange_size")
    if count is not None:
        draft.fields["woofer_count"] = count
        draft.fields.pop("midrange_count")
    draft.questions.pop("midrange_count", None)
    _infer(
        "woofer", "called a midrange, but of a two-way loudspeaker no other driver is told beside the tweeter", draft
    )


def _between(draft: Draft) -> None:
    """Take for the midrange the one cone that nobody names, smaller than the woofer and beside a tweeter."""
    if len(draft.cones) != 1 or "midrange_size" in draft.fields or draft.known("tweeter_type") is None:
        return
    [(text, raw)] = draft.cones
    size = largest(text)
    if size is not None and size < draft.known("woofer_size"):
        read_one("midrange", text, SheetEntry("midrange", "midrange", text, text, raw), draft)
        _infer("midrange", "named by nothing; the only cone that is told beside woofer and tweeter", draft)


def _infer(kind: str, why: str, draft: Draft) -> None:
    for column in (f"{kind}_size", f"{kind}_count"):
        found = draft.fields.get(column)
        if found is not None and found.value is not None:
            draft.fields[column] = replace(found, status=ReadStatus.INFERRED, flags=(*found.flags, why))
