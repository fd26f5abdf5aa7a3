"""Hand-overs that are told by where the drivers' ranges meet: 'the woofers run up to 280 Hz, from 2.6 kHz a ribbon'."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.drivers import kind_of
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.joining import RANGED
from triptych.catalog.datasheet.readings import resolve
from triptych.catalog.datasheet.tweeters import FOLDED, RIBBON
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind

_EDGE: Final = re.compile(
    r"\b(?:bis(?: zu)?|up to|below|jusqu'?a|hasta|fino a|tot|do|unter(?:halb)?|sotto|sous|ab|from|above|oberhalb|uber|"
    r"au-dela de|a partir de|desde|da|vanaf|od|powyzej|sopra|boven|von|de|van)"
    r"(?: (?:about|around|etwa|rund|ca\.?|circa|environ|unos|okolo|ongeveer))?\s+$"
)
_LINK: Final = re.compile(rf"\s*{RANGED}\s*")
_CONE: Final = re.compile(r"kon(?:us|en)\b|\bcones?\b|\bconus\b|\bconos?\b|\bconi?\b")
_LIMITS: Final = (80.0, 8000.0)
"""Beyond them a range ends where the loudspeaker's does; common practice, no source. [Hz]."""
_TOLD: Final = "told by where the drivers' ranges meet"
_TOPICS: Final = (None, "tweeter", "midrange", "woofer", "drivers", "response", "low", "high")


def edges(text: str) -> list[float]:
    """Return where a folded statement says that a driver's range begins or ends. [Hz].

    >>> edges("der mitteltoner von 300 bis 2500 hz"), edges("the tweeter reaches up to 25 khz")
    ([300.0, 2500.0], [])
    """
    if _kind(text) is None and not _CONE.search(text):
        return []
    found = amounts(text)
    units = [_unit(place, found, text) for place in range(len(found))]
    return _between_limits([one for one, unit in zip(found, units, strict=True) if unit], [u for u in units if u])


def _kind(clause: str) -> str | None:
    return kind_of(clause) or ("tweeter" if FOLDED.search(clause) or RIBBON.search(clause) else None)


def _unit(place: int, found: Sequence[WrittenAmount], text: str) -> str | None:
    """The unit of a frequency that an edge's word stands before; the first of two shares that of the second."""
    one, unit = found[place], found[place].unit
    if unit is None and place + 1 < len(found) and _LINK.fullmatch(text[one.end : found[place + 1].start]):
        unit = found[place + 1].unit
    linked = place > 0 and _LINK.fullmatch(text[found[place - 1].end : one.start])
    return unit if unit in ("Hz", "kHz") and (linked or _EDGE.search(text[: one.start])) else None


def _frequencies(text: str) -> list[float]:
    """Every frequency of a statement at which drivers could hand over. [Hz]."""
    found = [one for one in amounts(text) if one.kind is Kind.FREQUENCY]
    return _between_limits(found, [one.unit for one in found])


def _between_limits(found: Sequence[WrittenAmount], units: Sequence[str | None]) -> list[float]:
    read = [resolve(one, LOUDSPEAKER["crossover"], unit).value for one, unit in zip(found, units, strict=True)]
    return [value for value in read if value is not None and _LIMITS[0] <= value <= _LIMITS[1]]


def is_of_drivers(entry: SheetEntry) -> bool:
    """Return whether frequencies in running text are where drivers take over from one another, no response."""
    return not entry.key and bool(edges(entry.value))


def settle(entries: Sequence[SheetEntry], draft: Draft) -> None:
    """Take hand-overs from the ranges of the drivers, where these are as many as there are places to meet."""
    told = [entry for entry in entries if not entry.key and entry.topic in _TOPICS]
    meeting = [entry for entry in told if edges(entry.value)]
    if not meeting or "crossover" in draft.fields:
        return
    values = tuple(sorted({value for entry in meeting for value in edges(entry.value)}))
    kinds = {_kind(clause) for entry in told for clause in re.split(r"[,;]\s", entry.value)} - {None}
    if "midrange" not in kinds and any(_CONE.search(entry.value) for entry in meeting):
        kinds.add("midrange")
    raw = " | ".join(dict.fromkeys(entry.raw for entry in meeting))
    stray = any(set(_frequencies(entry.value)) - set(values) for entry in meeting)
    if len(values) == len(kinds) - 1 and not stray:
        draft.put("crossover", values, raw, (_TOLD,), inferred=True)
    else:
        why = "ranges of drivers, and not as many as their hand-overs"
        draft.refuse("crossover", why, raw, f"{why}; at which frequencies do the drivers hand over?")
