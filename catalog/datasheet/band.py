"""The frequency range, and how far down its ends are."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts, edge
from triptych.catalog.datasheet.draft import Band, Draft
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.joining import AND, AT, RANGED, TO
from triptych.catalog.datasheet.readings import UnitReading, resolve
from triptych.catalog.datasheet.sheet_words import IN_ROOM, topics_in
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind

DROPS: Final = (3.0, 6.0, 10.0)

_STANDARD: Final = re.compile(r"\b(?:iec|din|en|iso|cta|ansi)[ /-]*\d[\d-]*")
_ASK_DROP: Final = "at how many dB down, -3, -6 or -10 dB?"


def read_response(entry: SheetEntry, draft: Draft) -> bool:
    """Take the ends of a frequency range, each range with the drop that stands at it."""
    entry = replace(entry, value=_STANDARD.sub(lambda match: " " * len(match[0]), entry.value))
    found = _ends_and_drops(entry.value)
    frequencies = [amount for amount in found if not _is_drop(amount)]
    if not frequencies:
        return _lone_drop(found, entry, draft)
    key_drop = _drop([a for a in amounts(entry.key) if a.kind is Kind.LEVEL]) or _named_drop(entry.key)
    groups = _grouped(entry.value, found)
    for group, drops, words in groups:
        own = _drop(drops) if drops else (_named_drop(words) or key_drop)
        room = bool(IN_ROOM.search(words) or IN_ROOM.search(entry.key))
        _take_group(group, own, entry, draft, in_room=room, alone=len(groups) == 1)
    return True


def _ends_and_drops(text: str) -> list[WrittenAmount]:
    """Frequencies and drops; a bare number only beside a frequency, or where no number has its unit."""
    found = [a for a in amounts(text) if a.kind in (Kind.FREQUENCY, Kind.LEVEL, None) and a.unit != "V"]
    named = any(amount.kind is Kind.FREQUENCY for amount in found)

    return [a for place, a in enumerate(found) if a.unit or a.sign or not named or _beside(text, found, place)]


def _beside(text: str, found: Sequence[WrittenAmount], place: int) -> bool:
    """Whether a number is one end of a range whose other end is a frequency."""
    neighbours = [(other, place) if other < place else (place, other) for other in (place - 1, place + 1)]
    return any(
        left >= 0 and right < len(found) and _is_range(text, found[left], found[right])
        for left, right in neighbours
        if Kind.FREQUENCY in {found[n].kind for n in (left, right) if 0 <= n < len(found)}
    )


def _is_drop(amount: WrittenAmount) -> bool:
    return amount.kind is Kind.LEVEL or bool(amount.sign)


def _lone_drop(found: Sequence[WrittenAmount], entry: SheetEntry, draft: Draft) -> bool:
    """Keep how far down a line says that limits are told which stand elsewhere: 'Frequency response at -3 dB'."""
    drop = _drop(found) if len(found) == 1 and _is_drop(found[0]) else None
    if drop is None or "response" not in topics_in(entry.text):
        return False
    draft.drop = draft.drop or (drop, entry.raw)
    return True


def _named_drop(text: str) -> float | None:
    named = re.search(r"\bf ?-?(3|6|10)\b", text)
    return float(named[1]) if named else None


def _drop(found: Sequence[WrittenAmount]) -> float | None:
    """How far down: of '+1/-3 dB' the minus, of '±3 dB' the 3."""
    below = {amount.bare for amount in found if amount.sign != "+"} or {amount.bare for amount in found}
    return below.pop() if len(below) == 1 else None


_Group = tuple[list[WrittenAmount], list[WrittenAmount]]
"""Frequencies, and the drops that stand at them."""


def _grouped(text: str, found: Sequence[WrittenAmount]) -> list[tuple[list[WrittenAmount], list[WrittenAmount], str]]:
    """Frequencies in ones and twos, with the drops that stand before or after them, and their words."""
    groups: list[_Group] = []
    leading = _is_drop(found[0])
    for place, amount in enumerate(found):
        if groups and groups[-1][0] and _is_drop(amount) and _at(text, found, place):
            groups.append(([], []))
        ranged = place > 0 and _is_range(text, found[place - 1], amount)
        if not groups or _opens(groups[-1], amount, leading=leading, ranged=ranged):
            groups.append(([], []))
        groups[-1][_is_drop(amount)].append(amount)
    filled = [group for group in groups if group[0]]
    return [(pair, drops, _around(text, filled, place)) for place, (pair, drops) in enumerate(filled)]


def _at(text: str, found: Sequence[WrittenAmount], place: int) -> bool:
    """Whether a drop leads the frequency behind it: '-10 dB at 36 Hz'."""
    after = found[place + 1] if place + 1 < len(found) else None
    leads = rf"\s*(?:{AT}|:)\s*"
    return after is not None and not _is_drop(after) and bool(re.fullmatch(leads, text[found[place].end : after.start]))


def _opens(last: _Group, amount: WrittenAmount, *, leading: bool, ranged: bool) -> bool:
    """Whether an amount opens a new group: a drop only where drops lead, a frequency where the last group is full."""
    frequencies, drops = last
    if _is_drop(amount):
        return leading and bool(frequencies)
    return (
        len(frequencies) == 2
        or (bool(drops) and bool(frequencies) and not leading)
        or (bool(frequencies) and not ranged)
    )


def _around(text: str, groups: Sequence[_Group], place: int) -> str:
    """The words of one group: from the end of the last group to the start of the next."""
    start = max(a.end for a in (*groups[place - 1][0], *groups[place - 1][1])) if place else 0
    end = len(text)
    if place:
        start = edge(text, start, min(a.start for a in (*groups[place][0], *groups[place][1])))
    if place + 1 < len(groups):
        own = max(a.end for a in (*groups[place][0], *groups[place][1]))
        end = edge(text, own, min(a.start for a in (*groups[place + 1][0], *groups[place + 1][1])))
    return text[start:end]


def _is_range(text: str, left: WrittenAmount, right: WrittenAmount) -> bool:
    return bool(
        re.fullmatch(
            rf"\s*(?:{RANGED}|/|{AND}|{AND} \w+ {TO})\s*",
            text[left.end : right.start],
        )
    )


def _take_group(
    group: Sequence[WrittenAmount], drop: float | None, entry: SheetEntry, draft: Draft, *, in_room: bool, alone: bool
) -> None:
    if len(group) == 2:
        low, high = _ends(group[0], group[1], entry)
        draft.bands.append(Band(low, high, drop, in_room, entry.raw))
        return
    single = group[0]
    low = resolve(single, LOUDSPEAKER["low_limit"], unit_in(entry.key), entry.raw)
    high = resolve(single, LOUDSPEAKER["high_limit"], unit_in(entry.key), entry.raw)
    only_high = low.value is None and high.value is not None
    if entry.topic == "high" or (only_high and (entry.topic == "response" or not entry.key)):
        draft.bands.append(Band(None, high, drop, in_room, entry.raw))
    else:
        reading = (
            low
            if entry.topic == "low" or low.value is None or not alone
            else low.flagged("one figure; taken as the lower end", inferred=True)
        )
        draft.bands.append(Band(reading, None, drop, in_room, entry.raw))


def unit_in(key: str) -> str | None:
    """Return the unit of frequency that a key names."""
    return "kHz" if "khz" in key else "Hz" if "hz" in key else None


def _ends(left: WrittenAmount, right: WrittenAmount, entry: SheetEntry) -> tuple[UnitReading, UnitReading]:
    named = unit_in(entry.key)
    unit = right.unit or named
    high = resolve(right, LOUDSPEAKER["high_limit"], unit, entry.raw)
    if left.unit is not None or unit is None:
        low = resolve(left, LOUDSPEAKER["low_limit"], named, entry.raw)
        if right.unit is None and left.unit is not None:
            high = resolve(right, LOUDSPEAKER["high_limit"], left.unit, entry.raw)
        return _bare(low, left, named), high
    low = resolve(left, LOUDSPEAKER["low_limit"], unit, entry.raw)
    if low.value is None and unit == "kHz":
        plain = resolve(left, LOUDSPEAKER["low_limit"], "Hz", entry.raw)
        if plain.value is not None:
            low = plain.flagged(f"{left.printed!r} is taken in Hz; in kHz it is not plausible", inferred=True)
    return low, high


def _bare(reading: UnitReading, amount: WrittenAmount, named: str | None) -> UnitReading:
    if amount.unit is not None or named is not None or reading.value is None:
        return reading
    return reading.flagged("no unit stated; taken as Hz", inferred=True)


def settle(draft: Draft) -> None:
    """Take the range with the smallest known drop; a range in a room is not the loudspeaker's own."""
    lows = [band for band in draft.bands if band.low is not None]
    best = min((b for b in lows if not b.in_room and b.low and b.low.value is not None), key=_rank, default=None)
    if best is None:
        _refuse_low(lows, draft)
    else:
        _take_low(best, lows, draft)
    for band in draft.bands:
        if band.high is not None:
            flags = ("in a room",) if band.in_room else ()
            _take_high(band.high.flagged(*flags), band, draft)


def _rank(band: Band) -> float:
    return band.drop if band.drop in DROPS else 99.0


def _take_high(reading: UnitReading, band: Band, draft: Draft) -> None:
    """The first stated upper end stands; the others, at other drops, are flags."""
    old = draft.fields.get("high_limit")
    if old is not None and old.value is not None and reading.value is not None and old.value != reading.value:
        draft.flag("high_limit", f"also stated: {reading.value:g} Hz ({band.raw})")
    else:
        draft.take("high_limit", reading, band.raw)


def _refuse_low(lows: Sequence[Band], draft: Draft) -> None:
    for band in lows[:1]:
        why = (
            "stated in a room, which is not the loudspeaker's own limit"
            if band.in_room
            else (band.low and band.low.refusal)
        )
        draft.refuse("low_limit", why or "not readable", band.raw, f"{why}; what is it free of a room? {_ASK_DROP}")


def _take_low(best: Band, lows: Sequence[Band], draft: Draft) -> None:
    assert best.low is not None
    others = [
        f"also stated: {band.low.value:g} Hz"
        + (f" at -{band.drop:g} dB" if band.drop else "")
        + (" in a room" if band.in_room else "")
        for band in lows
        if band is not best and band.low is not None and band.low.value is not None
    ]
    same = [b.low.value for b in lows if b.drop == best.drop and not b.in_room and b.low and b.low.value is not None]
    if any(abs(value - (best.low.value or 0.0)) > 0.5 for value in same):
        draft.refuse(
            "low_limit", f"two figures that disagree: {', '.join(f'{value:g} Hz' for value in same)}", best.raw
        )
        return
    draft.take("low_limit", best.low.flagged(*others), best.raw)
    if best.drop is None and draft.drop is not None:
        best = replace(best, drop=draft.drop[0], raw=draft.drop[1])
    if best.drop in DROPS:
        draft.put("low_limit_drop", best.drop, best.raw)
    elif best.drop is not None:
        why = f"±{best.drop:g} dB is none of -3, -6 and -10 dB"
        draft.refuse("low_limit_drop", why, best.raw, f"{why}; {_ASK_DROP}")
    elif draft.known("low_limit_drop") is None:
        draft.ask("low_limit_drop", f"the lower end is stated without a drop; {_ASK_DROP}")
