"""Watts: what an amplifier should have, what the loudspeaker bears for long, and what is only a peak."""

from __future__ import annotations

import re
from typing import Final

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts, contexts
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.joining import AND, FROM, RANGED
from triptych.catalog.datasheet.readings import UnitReading, refused, resolve
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind

_CONTINUOUS: Final = re.compile(
    r"\brms\b|contin|long[- ]?term|\baes\b|\biec\b|\bdin\b|sinus|dauer|\bnenn|nominal|nominel|efficace|"
    r"eficaz|thermal|average|rated|ciagl"
)
_PEAK: Final = re.compile(
    r"peak|\bmax|music|musik|muziek|muzyczn|muzyk|program|spitze|impuls|szczyt|"
    r"crete|picco|\bpico\b|\bpiek|short[- ]?term|kurz|dynami|"
    r"momentan|musique|musical"
)
_RANGE: Final = re.compile(rf"\s*(?:w|watts?|wrms)?\s*(?:rms)?\s*(?:{RANGED}|{AND})\s*")
_UP_TO: Final = re.compile(
    r"up to|hochstens|au plus|al massimo|\bmassim|\bmaks|\bhochst|como maximo|\bmost\b|hooguit|\bmax|bis zu|jusqu|"
    r"fino a|hasta|\btot\b|<|≤"
)
_FROM: Final = re.compile(rf"\bmin|\b(?:{FROM})\b|>|≥|at least|\bleast\b|mindest|minstens|a partir")
_OF_AN_AMPLIFIER: Final = re.compile(r"\b(?:ampli\w*|finale|integrato|monotriodo|single-ended|valvolare) da\b")
"""An amplifier of so many watts, in Italian: what somebody has, and no least."""
_ASK: Final = "how many watts does it bear continuously?"


def read_amplifier(entry: SheetEntry, draft: Draft) -> bool:
    """Take a recommended amplifier: a range, or one end that says which."""
    found = _watts(entry)
    if len(found) > 2 and "," in entry.value[found[1].end : found[2].start]:
        # what stands in a further clause is about another amplifier
        found = found[:2]
    pair = _range(entry, found) or _with_stroke(entry, found)
    if pair is not None:
        _put_range(pair, entry, draft)
        return True
    words = contexts(entry.value, found)
    for amount, own in zip(found, words, strict=True):
        _one_end(amount, own, entry, draft)
    return bool(found)


def _with_stroke(entry: SheetEntry, found: list[WrittenAmount]) -> tuple[WrittenAmount, WrittenAmount] | None:
    """An advised amplifier from the less to the more: '20/150 W'."""
    between = entry.value[found[0].end : found[1].start] if len(found) == 2 else ""
    return (found[0], found[1]) if between.strip() == "/" and found[0].bare < found[1].bare else None


def _one_end(amount: WrittenAmount, own: str, entry: SheetEntry, draft: Draft) -> None:
    for said in (_OF_AN_AMPLIFIER.sub(" ", own), entry.key):
        both = _UP_TO.search(said) and _FROM.search(said)
        for column, pattern in (("amplifier_max", _UP_TO), ("amplifier_min", _FROM)):
            if pattern.search(said) and not both:
                draft.take(column, resolve(amount, LOUDSPEAKER[column], raw=entry.raw), entry.raw)
                return
    why = f"{amount.printed!r} is one figure, and nothing says whether it is the least or the most"
    draft.refuse("amplifier_max", why, entry.raw)


def read_power(entry: SheetEntry, draft: Draft) -> bool:
    """Take power handling; a range is an amplifier's, a peak is no handling, and 'power' alone is neither."""
    found = _watts(entry)
    pair = _range(entry, found)
    if pair is not None:
        _put_range(pair, entry, draft, "a range of power is an amplifier's; taken so")
        draft.refuse("power_handling", "a range is no continuous power", entry.raw, _ASK)
        return True
    words = contexts(entry.value, found)
    peaks = [_PEAK.search(own) is not None and _CONTINUOUS.search(own) is None for own in words]
    if len(found) == 2 and not any(peaks) and _CONTINUOUS.search(entry.key) and _PEAK.search(entry.key):
        peaks = _by_key(entry.key)
    ordered = re.search(
        r"\(?\b(?:rms|din|nenn|cont\w*|nom\w*|rated|znam\.?) ?/ ?(?:peak|max\w*|musi[ck]\w*)\b", entry.text
    )
    if len(found) == 2 and ordered:
        peaks = [False, True]
    if _rated_first(entry, found, peaks):
        peaks = [False, True]
    for amount, own, peak in zip(found, words, peaks, strict=True):
        reading = _handling(amount, own, entry, peak=peak, of=peaks.count(False))
        draft.take("power_handling", reading, entry.raw, f"{reading.refusal}; {_ASK}" if reading.refusal else None)
    return bool(found)


def _rated_first(entry: SheetEntry, found: list[WrittenAmount], peaks: list[bool]) -> bool:
    """Whether a stroke parts what it bears for long from what for a moment, as is custom: 'Belastbarkeit 80/120 W'."""
    if len(found) != 2 or any(peaks) or not re.search(r"belast|tenue|tenuta", entry.text):
        return False
    return (
        entry.value[found[0].end : found[1].start].strip() == "/" and found[0].bare < found[1].bare <= 3 * found[0].bare
    )


def _by_key(key: str) -> list[bool]:
    """Which of two figures is the peak, by the order of the words in the key: 'Nenn-/Musikbelastbarkeit'."""
    continuous, peak = _CONTINUOUS.search(key), _PEAK.search(key)
    first = bool(peak and continuous and peak.start() < continuous.start())
    return [first, not first]


def _handling(amount: WrittenAmount, own: str, entry: SheetEntry, *, peak: bool, of: int) -> UnitReading:
    said = _CONTINUOUS.search(own) or (_CONTINUOUS.search(entry.key) and of <= 2)
    if peak or (_PEAK.search(entry.key) and not said):
        return refused(f"{amount.printed!r} is a peak or a maximum, not what it bears continuously", entry.raw)
    plain = re.fullmatch(
        r"(?:max\w* )?(?:power|leistung|puissance|potenza|potencia|vermogen|watts?)(?: ?\(.*\))?", entry.key
    )
    if not said and (plain or (of > 1 and "power_handling" not in entry.key)):
        return refused(
            f"{amount.printed!r}: nothing says whether it is continuous, a peak or an amplifier's", entry.raw
        )
    reading = resolve(amount, LOUDSPEAKER["power_handling"], raw=entry.raw)
    return reading if said else reading.flagged("'continuous' is not stated", inferred=True)


def _watts(entry: SheetEntry) -> list[WrittenAmount]:
    found = amounts(entry.value)
    units = any(amount.kind is Kind.POWER for amount in found)
    return [
        amount
        for place, amount in enumerate(found)
        if amount.kind is Kind.POWER
        or (amount.unit is None and not amount.sign and (not units or _shares(entry.value, found, place)))
    ]


def _shares(text: str, found: list[WrittenAmount], place: int) -> bool:
    """Whether a bare number takes the unit of the next: '15-120 W', '120/200 W'."""
    if place + 1 >= len(found) or found[place + 1].kind is not Kind.POWER:
        return False
    between = text[found[place].end : found[place + 1].start]
    return bool(re.fullmatch(rf"\s*(?:{RANGED}|/|{AND}|,? ?\bma[xk]\w*\.?)\s*", between))


def _range(entry: SheetEntry, found: list[WrittenAmount]) -> tuple[WrittenAmount, WrittenAmount] | None:
    if len(found) < 2 or (len(found) > 2 and not re.search(r"peak|\bmax", entry.value[found[1].end :])):
        return None
    if re.search(r"\(?rms ?/ ?(?:peak|max|music)", entry.text):
        return None
    between = entry.value[found[0].end : found[1].start]
    least = _FROM.search(entry.value[: found[0].start]) and _UP_TO.search(between)
    bare = re.sub(r"\([^()]*\)", "", between)
    return (found[0], found[1]) if _RANGE.fullmatch(bare) or least else None


def _put_range(
    pair: tuple[WrittenAmount, WrittenAmount], entry: SheetEntry, draft: Draft, flag: str | None = None
) -> None:
    unit = pair[1].unit
    for amount, column in zip(pair, ("amplifier_min", "amplifier_max"), strict=True):
        reading = resolve(amount, LOUDSPEAKER[column], unit, entry.raw)
        draft.take(column, reading.flagged(flag, inferred=True) if flag else reading, entry.raw)
