"""Sensitivity: level at 1 m for 2.83 V, from whatever voltage, power, distance and field the sheet states."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts
from triptych.catalog.datasheet.draft import Draft, ReadLevel
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import RANGED
from triptych.catalog.datasheet.owner import MOST_REFERENCE_WATTS
from triptych.catalog.datasheet.readings import UnitReading, agree, refused, resolve
from triptych.catalog.datasheet.sheet_words import ANECHOIC, HALF_SPACE, IN_ROOM
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind, Quantity
from triptych.catalog.records import SensitivityBasis

REFERENCE_VOLTS: Final = 2.83
REFERENCE_LOAD: Final = 8.0
"""The load in which the reference voltage is one watt, as near as the trade cares. [ohm]."""

_WATT: Final = re.compile(
    r"(?:db|/|\b1 ?|\bone )\s?/?(?:1 ?)?w(?:att)?s?(?![a-z])|\bper watt|/watt|watt/met|w/m\b|\b1 ?w\b"
)
_PEAK: Final = re.compile(r"\bmax|\bpeak\b|spitze|crete|picco|\bpico\b")
_ROOMS: Final = f"{IN_ROOM.pattern}|{ANECHOIC.pattern}|{HALF_SPACE.pattern}"
_LEVEL: Final = replace(LOUDSPEAKER["sensitivity"], low=40.0, high=140.0)
_ASK_BASIS: Final = "for 2.83 V or for 1 W? They agree only at 8 ohm"
_ORDER: Final = ("anechoic", "unknown", "half_space", "in_room")


def read_sensitivity(entry: SheetEntry, draft: Draft) -> bool:
    """Take every level of an entry with what it was measured under."""
    found = amounts(entry.value)
    levels = [amount for amount in found if _is_level(amount, found)]
    if not levels:
        if any(amount.kind is Kind.PERCENT for amount in found):
            draft.refuse("sensitivity", "an efficiency in percent is no level", entry.raw, _ASK_BASIS)
        draft.condition = draft.condition or (_basis(entry.text), _volts(found))
        return bool(found)
    if _is_range(entry.value, levels):
        draft.refuse("sensitivity", f"{entry.value!r} is a range, not one level", entry.raw)
        return True
    fields = _fields_in_key(entry, levels)
    for amount, words in zip(levels, _stretches(entry.value, levels), strict=True):
        if fields:
            entry = replace(entry, key=fields[levels.index(amount)])
        _take_level(amount, words if len(levels) > 1 else entry.value, entry, draft)
    return True


def _fields_in_key(entry: SheetEntry, levels: Sequence[WrittenAmount]) -> list[str]:
    """The fields of two levels, where the key names both in their order: 'Room / anechoic: 90 dB / 87 dB'."""
    named = re.search(
        rf"((?:in[- ]?)?\w*(?:room|raum)|{_ROOMS}) ?/ ?((?:in[- ]?)?\w*(?:room|raum)|{_ROOMS})", entry.key
    )
    between = entry.value[levels[0].end : levels[1].start] if len(levels) == 2 else ""
    if not named or between.strip() != "/":
        return []
    return [re.sub(r"^(?:room|raum)$", "in room", one) for one in named.groups()]


def read_max_level(entry: SheetEntry, draft: Draft) -> bool:
    """Say that a maximum level is no sensitivity."""
    draft.refuse("sensitivity", "a maximum level is not a sensitivity", entry.raw, f"what is it? {_ASK_BASIS}")
    return True


def _is_level(amount: WrittenAmount, found: Sequence[WrittenAmount]) -> bool:
    if amount.sign == "±":
        return False
    if amount.kind is Kind.LEVEL:
        return amount.bare > 20 or amount.sign == ""
    alone = not any(other.kind is Kind.LEVEL and other.bare > 20 for other in found)
    return amount.unit is None and alone and amount.bare >= 60 and amount.sign == ""


def _is_range(text: str, levels: Sequence[WrittenAmount]) -> bool:
    before = re.search(rf"(\d+(?:[.,]\d+)?)\s*{RANGED}\s*$", text[: levels[0].start])
    if re.search(r"\d\s*/\s*\d+(?:[.,]\d+)?\s*/\s*$", text[: levels[0].start]):
        return True
    between = text[levels[0].end : levels[1].start] if len(levels) == 2 else ""
    return bool(before) or bool(re.fullmatch(rf"\s*{RANGED}\s*", between))


def _stretches(text: str, levels: Sequence[WrittenAmount]) -> list[str]:
    """The text from one level to the next, for each; where words lead, from the mark before it."""
    leading = bool(re.search(r"[a-z0-9]", text[: levels[0].start]))
    edges = [0]
    for left, right in pairwise(levels):
        between = text[left.end : right.start]
        named = re.search(r"[,;(]\s*(?:our measurement|measured|" + _ROOMS + ")", between)
        mark = max(between.rfind(sign) for sign in ",;/|") if leading or named else -1
        edges.append(left.end + mark if mark >= 0 else right.start)
    return [text[start:end] for start, end in zip(edges, [*edges[1:], len(text)], strict=True)]


def _take_level(amount: WrittenAmount, words: str, entry: SheetEntry, draft: Draft) -> None:
    reading = resolve(amount, _LEVEL, raw=entry.raw)
    own = re.sub(re.escape(amount.printed), " ", words, count=1)
    if _PEAK.search(own):
        read_max_level(entry, draft)
        return
    scope = f"{own} | {entry.key}"
    others = amounts(scope)
    volts = _volts(others)
    powers = [power for other in others if other.unit == "W" if (power := _plain(other))]
    watts = next((power for power in powers if power <= MOST_REFERENCE_WATTS), None)
    if watts is None and (_WATT.search(scope) or re.search(r"db\s*/\s*(?:1 ?)?w", words)):
        watts = 1.0
    distance = next((d for d in map(_metres, others) if d), None)
    load = next((z for other in others if other.kind is Kind.RESISTANCE for z in [_plain(other)] if z), None)
    flags = _remarks(scope)
    draft.levels.append(ReadLevel(reading.flagged(*flags), volts, watts, distance, load, _basis(scope), entry.raw))


def _volts(found: Sequence[WrittenAmount]) -> float | None:
    return next((v for amount in found if amount.unit == "V" for v in [_plain(amount)] if v), None)


def _under(level: ReadLevel, draft: Draft) -> ReadLevel:
    """A level with the field and the voltage that another line tells of, where its own says nothing."""
    basis, volts = draft.condition or ("unknown", None)
    stated = level.volts is not None or level.watts is not None
    return replace(
        level,
        basis=basis if level.basis == "unknown" else level.basis,
        volts=level.volts if stated else volts,
    )


def _plain(amount: WrittenAmount) -> float | None:
    value = amount.bare
    return value if 0.01 <= value <= 1000 else None


def _metres(amount: WrittenAmount) -> float | None:
    if amount.kind is not Kind.LENGTH:
        return None
    return resolve(amount, Quantity("distance", Kind.LENGTH, "distance", 0.3, 4.0, "m")).value


def _remarks(words: str) -> Iterator[str]:
    if "pink" in words or "rosa" in words:
        yield "with pink noise"
    if re.search(r"efficien|wirkungsgrad|rendement|rendimento", words):
        yield "called efficiency; read as a level"
    band = re.search(r"\d[\d.,]*(?: ?k?hz)? ?- ?\d[\d.,]* ?k?hz", words)
    if band:
        yield f"average of {band[0]}"


def _basis(words: str) -> str:
    for name, pattern in (("in_room", IN_ROOM), ("half_space", HALF_SPACE), ("anechoic", ANECHOIC)):
        if pattern.search(words):
            return name
    return "unknown"


_MEASURED: Final = re.compile(
    r"\b(?:measured|gemessen|mesure|misurat\w+|medid[ao]|gemeten|pomiar|zmierzon\w+|our lab|lab)\b"
)
_CLAIMED: Final = re.compile(
    r"\b(?:claimed|listed|stated|maker\W?s|manufacturer\W?s|quoted|annonce\w*|herstellerangabe|angegeben|dichiarat\w+|"
    r"declarad[ao]|opgegeven|producent|fabrikant|hersteller|constructeur|fabricante|produttore|deklarowan\w+)\b"
)


_ROUNDED: Final = 1.0
"""Levels nearer to each other say the same in other words; tried, no source. [dB]."""


def settle(draft: Draft) -> None:
    """Convert what was printed to 2.83 V and 1 m, and take the best stated."""
    nominal = draft.known("impedance_nominal")
    levels = [_under(level, draft) for level in draft.levels]
    found = [(level, _converted(level, nominal)) for level in levels]
    known = [(level, reading) for level, reading in found if reading.value is not None]
    if not known:
        for level, reading in found[:1]:
            question = f"{reading.refusal}; {_ASK_BASIS}"
            draft.refuse("sensitivity", reading.refusal or "", level.raw, question)
        return
    known, measured = _claimed(known)
    level, reading = min(known, key=lambda pair: (_ORDER.index(pair[0].basis), pair[0].volts is None, pair[1].inferred))
    odd = next(
        (other for one, other in known if one.basis == level.basis and not _near(one, level, other, reading)), None
    )
    if odd is not None:
        draft.refuse("sensitivity", f"two levels that disagree: {reading.raw} and {odd.raw}", level.raw, _ASK_BASIS)
        return
    others = {
        f"also stated: {o.value:.6g} dB, {one.basis.replace('_', '-')}" for one, o in known if one.basis != level.basis
    } | {
        f"also stated: {o.value:.6g} dB ({one.raw})"
        for one, o in known
        if one is not level and one.basis == level.basis and abs((o.value or 0.0) - (reading.value or 0.0)) > _ROUNDED
    }
    draft.take("sensitivity", reading.flagged(*sorted(others), *measured), level.raw)
    if level.load is not None and nominal is None and level.watts is not None:
        why = ("the load that the sensitivity is stated for",)
        draft.put("impedance_nominal", level.load, level.raw, why, inferred=True)
    _put_basis(level, draft)


def _claimed(known: list[tuple[ReadLevel, UnitReading]]) -> tuple[list[tuple[ReadLevel, UnitReading]], list[str]]:
    """The levels that the maker claims, and what a test measured beside them."""
    tested = [pair for pair in known if _MEASURED.search(folded(pair[0].raw))]
    claimed = [pair for pair in known if _CLAIMED.search(folded(pair[0].raw))]
    if not tested or not claimed or len(tested) + len(claimed) < len(known):
        return known, []
    return claimed, [f"also stated: {reading.value:.6g} dB, measured by a test" for _, reading in tested]


def _near(one: ReadLevel, best: ReadLevel, other: UnitReading, reading: UnitReading) -> bool:
    """Whether two levels of one basis say the same; a converted one is never held against a printed one."""
    if (one.volts is None) != (best.volts is None) or one is best:
        return True
    return agree(other, reading)


def _put_basis(level: ReadLevel, draft: Draft) -> None:
    if level.basis != "unknown":
        draft.put("sensitivity_basis", SensitivityBasis(level.basis), level.raw)
    elif draft.known("sensitivity_basis") is None:
        flag = "the sheet does not say whether anechoic, half-space or in a room"
        draft.put("sensitivity_basis", SensitivityBasis.UNKNOWN, level.raw, (flag,), inferred=True)


def _converted(level: ReadLevel, nominal: float | None) -> UnitReading:
    """The level at 2.83 V and 1 m, or why it is not known."""
    reading = _to_voltage(level, nominal)
    if reading.value is None:
        return reading
    if level.distance is not None and abs(level.distance - 1) > 1e-9 and level.basis == "in_room":
        return refused(f"stated at {level.distance:g} m in a room, from which no level at 1 m follows", level.raw)
    if level.distance is not None and abs(level.distance - 1) > 1e-9:
        gain = 20 * math.log10(level.distance)
        value = round(reading.value + gain, 2)
        reading = replace(reading, value=value).flagged(
            f"stated at {level.distance:g} m: {gain:+.2f} dB", inferred=True
        )
    quantity = LOUDSPEAKER["sensitivity"]
    if not quantity.low <= (reading.value or 0.0) <= quantity.high:
        why = f"{reading.value:g} dB is outside the plausible range {quantity.low:g} to {quantity.high:g} dB"
        return refused(why, level.raw)
    return reading


def _to_voltage(level: ReadLevel, nominal: float | None) -> UnitReading:
    reading, volts, watts, load = level.reading, level.volts, level.watts, level.load or nominal
    if reading.value is None:
        return reading
    if volts is not None and watts is not None and load is None:
        return refused("2.83 V and 1 W are the same only at 8 ohm, and the load is not known", level.raw)
    if volts is not None and watts is not None and load is not None and not _same_power(volts, watts, load):
        return refused(f"{volts:g} V into {load:g} ohm is not {watts:g} W, so two readings are possible", level.raw)
    if volts is not None:
        return _from_volts(reading, volts)
    if watts is not None:
        return _from_watts(level, watts, load)
    return _unstated(level, load)


def _same_power(volts: float, watts: float, load: float) -> bool:
    """Within a hundredth: the reference voltage squared is 8.009, called 8."""
    return abs(volts**2 / load / watts - 1) < 0.02


def _from_volts(reading: UnitReading, volts: float) -> UnitReading:
    if 2.8 <= volts <= 2.83:
        return reading
    gain = 20 * math.log10(REFERENCE_VOLTS / volts)
    value = round((reading.value or 0.0) + gain, 2)
    return replace(reading, value=value).flagged(f"stated for {volts:g} V: {gain:+.2f} dB", inferred=True)


def _from_watts(level: ReadLevel, watts: float, load: float | None) -> UnitReading:
    if load is None:
        return refused(f"stated for {watts:g} W, and without the nominal impedance that is no voltage", level.raw)
    gain = 10 * math.log10(REFERENCE_LOAD / load / watts)
    reading = level.reading
    if abs(gain) < 1e-9:
        return reading.flagged("stated for 1 W; at 8 ohm that is 2.83 V")
    value = round((reading.value or 0.0) + gain, 2)
    return replace(reading, value=value).flagged(
        f"stated for {watts:g} W, at {load:g} ohm: {gain:+.2f} dB", inferred=True
    )


def _unstated(level: ReadLevel, load: float | None) -> UnitReading:
    """Neither voltage nor power: taken as 2.83 V where that is the lower of the two readings."""
    reading = level.reading
    if load is not None and load > REFERENCE_LOAD:
        return refused(f"neither 2.83 V nor 1 W is stated, and at {load:g} ohm they differ", level.raw)
    flag = "neither 2.83 V nor 1 W stated; taken as 2.83 V"
    if load is not None and load < REFERENCE_LOAD:
        flag += f", the lower reading: for 1 W it would be {10 * math.log10(REFERENCE_LOAD / load):.2f} dB more"
    return reading.flagged(flag, inferred=True)
