"""Hand-overs between drivers, lowest first, and their slope."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts
from triptych.catalog.datasheet.band import unit_in
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.joining import AND, FROM, RANGED, TO, UP_TO
from triptych.catalog.datasheet.readings import UnitReading, resolve
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind

_WAYS: Final = re.compile(r"\(?\b\d(?:[.,]\d)?(?: 1/2)?[ -]?(?:ways?|wege?|voies?|vie|vias|weg|weg-)\b[a-z-]*\)?")
_WITH_SUB: Final = re.compile(r"\d+ ?hz \(?(?:(?:to|with|for|zum|mit) )?(?:the )?sub\w*\)?,?")
_VARIABLE: Final = re.compile(r"variab|adjust|regelbar|einstellbar|regla|switchable|stufenlos|continuously")
_ORDINALS: Final = (
    (r"\b(?:1st|first|1re|1er|premier|primo|primer|erster|eerste)[ -]", 1),
    (
        r"(?<![\w.])ii[ -](?=rzedu|ordine|ordre|orden|order)|\b2\. rzedu|"
        r"\b(?:2nd|second|2e|2eme|deuxieme|secondo|segundo|zweiter|tweede)[ -]",
        2,
    ),
    (
        r"(?<![\w.])iii[ -](?=rzedu|ordine|ordre|orden|order)|"
        r"\b(?:3rd|third|3e|3eme|troisieme|terzo|tercer|dritter|derde)[ -]",
        3,
    ),
    (
        r"(?<![\w.])iv[ -](?=rzedu|ordine|ordre|orden|order)|"
        r"\b(?:4th|fourth|4e|4eme|quatrieme|quarto|cuarto|vierter|vierde)[ -]",
        4,
    ),
    (r"\b(?:8th|eighth)[ -]", 8),
)
_ORDER_WORD: Final = re.compile(
    r"order|rzedu|ordnung|ordre|ordine|orden|orde\b|low|high|linkwitz|butterworth|bessel|slope|electr|acoust"
)
_SUB_TAKES_OVER: Final = 150.0
"""Up to it the only hand-over that is told may be to a subwoofer; common practice, no source. [Hz]."""
_LINK: Final = re.compile(rf"\s*(?:/|,|&|-|\+|;|u\.?|{AND}|{TO})\s*")
_ORDINAL: Final = re.compile(
    r"\s*(?:\.|st|nd|rd|th|eme|db|order|ordn|-|(?:e|er|re|de|te|ro|a|o|°|º) ?(?:ord|rze|grad))"
)
"""Behind a number that counts no hertz."""
_DECADE: Final = re.compile(r"db\s*(?:/|per|pro|par|por)\s*(?:okt|oct|ott)")


def read_crossover(entry: SheetEntry, draft: Draft) -> bool:
    """Take hand-overs, lowest first, and the slope."""
    # where a subwoofer takes over is no hand-over of the loudspeaker's own
    text = _WITH_SUB.sub(" ", _WAYS.sub(" ", entry.value))
    ordered = read_slope(replace(entry, value=text), draft)
    found = [a for a in amounts(text) if a.kind is Kind.FREQUENCY or _could_be_frequency(a, text)]
    if not entry.key and any(a.kind is Kind.FREQUENCY for a in found):
        found = _listed(found, text)
    if not found:
        return ordered
    if _VARIABLE.search(entry.text) or _dashed(text, found, entry):
        why = "a range of frequencies is no hand-over"
        draft.refuse("crossover", why, entry.raw, f"{why}; at which frequencies do the drivers hand over?")
        return True
    _take_crossover(_shared(found, unit_in(entry.key), entry.raw), entry, draft)
    return True


def _could_be_frequency(amount: WrittenAmount, text: str) -> bool:
    after = text[amount.end :]
    return (amount.unit is None and not amount.sign and not _ORDINAL.match(after)) or (
        amount.unit is None and bool(re.match(r"\s*-\s*\d", after))
    )


def _listed(found: Sequence[WrittenAmount], text: str) -> list[WrittenAmount]:
    """In running text a bare number is a frequency only in a list with one: '350 and 2800 Hz', not '35 years'."""
    linked = [bool(_LINK.fullmatch(text[left.end : right.start])) for left, right in pairwise(found)]
    return [
        one
        for place, one in enumerate(found)
        if one.kind is Kind.FREQUENCY or any(linked[max(0, place - 1) : place + 1])
    ]


def _dashed(text: str, found: Sequence[WrittenAmount], entry: SheetEntry) -> bool:
    """Whether two frequencies stand as a range, and nothing says that there are two hand-overs."""
    if len(found) != 2 or not re.fullmatch(rf"\s*{RANGED}\s*", text[found[0].end : found[1].start]):
        return False
    return not re.search(
        r"\b(?:3|3.5|4)[ -]?(?:way|wege|voies|vie|vias|weg)|frequencies|frequenzen|points|"
        r"frequences de|frequenze|frecuencias|scheidingsfrequenties|czestotliwosci",
        entry.text,
    )


_HERTZ: Final = r"(?P<{0}>\d[\d.,]*) ?(?P<{0}_unit>k?hz)?"
_RANGES: Final = (
    re.compile(rf"\(\s*{UP_TO} {_HERTZ.format('high')}\s*\)"),
    re.compile(rf"\(\s*{FROM} {_HERTZ.format('low')}\s*\)"),
    re.compile(rf"\(\s*{_HERTZ.format('low')} ?{RANGED} ?{_HERTZ.format('high')}\s*\)"),
)
"""The range of one driver in brackets: '(bis 280 Hz)', '(280 bis 2.600 Hz)', '(ab 2.600 Hz)'."""


def from_ranges(entry: SheetEntry, draft: Draft) -> None:
    """Take the hand-overs that the ranges of drivers tell: where one ends and the next begins."""
    ends: dict[str, set[float]] = {"low": set(), "high": set()}
    if "hz" not in entry.value or "(" not in entry.value:
        return
    for pattern in _RANGES:
        for match in pattern.finditer(entry.text):
            told = match.groupdict()
            unit = told.get("high_unit") or told.get("low_unit")
            for end in told.keys() & ends.keys():
                [amount, *_] = amounts(f"{told[end]} {told[f'{end}_unit'] or unit or 'hz'}")
                value = resolve(amount, LOUDSPEAKER["crossover"], None, entry.raw).value
                ends[end] |= {value} if value is not None else set()
    if ends["high"] and ends["high"] == ends["low"]:
        draft.put("crossover", tuple(sorted(ends["high"])), entry.raw)


def _shared(found: Sequence[WrittenAmount], named: str | None, raw: str) -> list[UnitReading]:
    """Frequencies of one list: a bare one takes the next unit that makes it plausible, else the other."""
    units = [next((a.unit for a in found[place:] if a.unit), named) for place in range(len(found))]
    last = next((a.unit for a in reversed(found) if a.unit), None)
    readings: list[UnitReading] = []
    for amount, unit in zip(found, units, strict=True):
        readings.append(_hand_over(amount, amount.unit or unit or last, raw))
    return readings


def _hand_over(amount: WrittenAmount, unit: str | None, raw: str) -> UnitReading:
    quantity = LOUDSPEAKER["crossover"]
    reading = resolve(amount, quantity, unit, raw)
    if amount.unit is not None or (unit is not None and reading.value is not None):
        return reading
    others = [(name, resolve(amount, quantity, name, raw)) for name in ("Hz", "kHz") if name != unit]
    plausible = [(name, other) for name, other in others if other.value is not None]
    if len(plausible) == 1:
        name, other = plausible[0]
        return other.flagged(f"{amount.printed!r} is taken in {name}; otherwise it is not plausible", inferred=True)
    return reading


def _take_crossover(readings: Sequence[UnitReading], entry: SheetEntry, draft: Draft) -> None:
    bad = next((reading for reading in readings if reading.value is None), None)
    if bad is not None:
        draft.take("crossover", bad, entry.raw)
        return
    if not entry.key and len(readings) == 1 and (readings[0].value or 0.0) <= _SUB_TAKES_OVER:
        why = "so low a hand-over may be where a subwoofer takes over"
        draft.refuse("crossover", why, entry.raw, f"{why}; at which frequencies do its own drivers hand over?")
        return
    values = tuple(reading.value for reading in readings if reading.value is not None)
    flags = [flag for reading in readings for flag in reading.flags]
    inferred = any(reading.inferred for reading in readings)
    if any(low >= high for low, high in pairwise(values)):
        if len(set(values)) < len(values) or len(values) > 3:
            draft.refuse("crossover", "the frequencies do not rise", entry.raw)
            return
        flags.append("printed in falling order; lowest first here")
    draft.put("crossover", tuple(sorted(values)), entry.raw, flags, inferred=inferred)


def read_slope(entry: SheetEntry, draft: Draft) -> bool:
    """Take the order of the hand-over from its slope or its name; only LR and 'acoustic' speak of the acoustic one."""
    orders = orders_in(entry.value)
    if not orders:
        return False
    raw = entry.raw
    if len(orders) > 1:
        why = f"several orders: {', '.join(map(str, sorted(orders)))}"
        draft.refuse("crossover_order", why, raw, f"{why}; which is the acoustic order of the hand-over?")
        return True
    order = orders.pop()
    if re.search(r"electr|elektr", entry.text):
        why = f"order {order} is the electrical one, not the acoustic"
        draft.refuse("crossover_order", why, raw, f"{why}; what is the acoustic order?")
    elif not 1 <= order <= 8:
        draft.refuse("crossover_order", f"{order} is outside the plausible range 1 to 8", raw)
    else:
        sure = re.search(r"\blr ?-?\d|linkwitz|acoust|akust", entry.text)
        flags = () if sure else ("electrical or acoustic is not stated; taken as acoustic",)
        draft.put("crossover_order", order, raw, flags, inferred=not sure)
    return True


def orders_in(text: str) -> set[int]:
    """Return the orders that a text names, by their number, their name or their slope."""
    if alone := re.fullmatch(r"\W*([1-8])(?: ?[°ºª.]|st|nd|rd|th|e|er|eme|o|a)?\W*", text):
        return {int(alone[1])}
    named = {int(match[1]) for match in re.finditer(r"\b(?:lr|bw) ?-?([1-8])\b", text)}
    listed = re.finditer(rf"((?:\d{{1,2}}\s*(?:db)?\s*(?:/|,|{AND}|&)\s*)*)(\d{{1,2}})\s*-?\s*" + _DECADE.pattern, text)
    slopes = [int(number) for match in listed for number in re.findall(r"\d{1,2}", f"{match[1]} {match[2]}")]
    if any(slope % 6 for slope in slopes):
        return {0}
    named |= {slope // 6 for slope in slopes}
    if _ORDER_WORD.search(text):
        named |= {order for pattern, order in _ORDINALS if re.search(pattern, text)}
        named |= {int(match[1]) for match in re.finditer(r"\b([1-8])\. ?(?:ordnung|orde)", text)}
        named |= {int(match[1]) for match in re.finditer(r"order ([1-8])\b|ordre ([1-8])\b", text) if match[1]}
    return named
