"""Weight: the net weight of one, told from that of a pair and from what the carton weighs."""

from __future__ import annotations

import re
from dataclasses import replace

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts, joined
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.readings import UnitReading, agree, merged, refused, resolve
from triptych.catalog.datasheet.sheet_words import EACH, PAIR, SHIPPING, WITHOUT
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind

_ASK = "what does one weigh, unpacked?"


def read_weight(entry: SheetEntry, draft: Draft) -> bool:
    """Take the net weight of one; halve that of a pair and say so; leave the carton's out."""
    found = [amount for amount in amounts(entry.value) if amount.kind in (Kind.MASS, None)]
    if any(amount.kind is Kind.MASS for amount in found):
        found = [one for place, one in enumerate(found) if one.unit or _stroked(entry.value, found, place)]
    if times := re.search(r"(?<![\d.,])[2-9] ?x ?\d[\d.,]* ?(?:kg|lb)", entry.value):
        why = f"{times[0]!r} may be each or together"
        draft.refuse("weight", why, entry.raw, f"{why}; {_ASK}")
        return True
    grouped: dict[str, list[UnitReading]] = {}
    kinds = _kinds(entry, found)
    for kind, reading in kinds:
        grouped.setdefault(kind, []).append(reading)
    packed = [amount.printed for amount, (kind, _) in zip(found, kinds, strict=True) if kind == "carton"]
    for kind in ("each", "one", "pair", "two", "less", "carton"):
        if kind in grouped:
            one = grouped[kind][0] if kind == "carton" else merged(grouped[kind], "weight")
            one = one.flagged(*(f"also stated: {printed}, packed" for printed in packed if kind != "carton"))
            reading = _of_one(kind, one, entry.raw)
            draft.take("weight", reading, entry.raw, f"{reading.refusal}; {_ASK}" if reading.refusal else None)
            if reading.value is not None:
                break
    return bool(found)


def _stroked(text: str, found: list[WrittenAmount], place: int) -> bool:
    """Whether a bare number goes by a stroke with one that has a unit: '15.6/18.2 kg'."""
    if re.match(r"\s*[a-z]", text[found[place].end :]):
        # '8.6 kg/1pc'
        return False
    after = found[place + 1] if place + 1 < len(found) else None
    before = found[place - 1] if place else None
    return bool(
        (after and re.fullmatch(r"\s*/\s*", text[found[place].end : after.start]))
        or (before and re.fullmatch(r"\s*/\s*", text[before.end : found[place].start]))
    )


def _kinds(entry: SheetEntry, found: list[WrittenAmount]) -> list[tuple[str, UnitReading]]:
    """Each amount with what it weighs; the same figure in two units weighs the same thing."""
    ordered = _ordered(entry, found)
    readings = [_weight(amount, entry, found) for amount in found]
    if ordered:
        return list(zip(ordered, readings, strict=True))
    words = _words(entry.value, found)
    kinds = [_kind(own, "") for own in words]
    for place in range(1, len(found)):
        if _again(entry.value, found, readings, place):
            stated = next((kind for kind in kinds[place - 1 : place + 1] if kind), "")
            kinds[place - 1 : place + 1] = [stated, stated]
    keyed = _kind(entry.key, "one")
    packed = keyed == "carton"
    return [
        (keyed if packed and kind != "one" else kind or keyed, reading)
        for kind, reading in zip(kinds, readings, strict=True)
    ]


def _words(text: str, found: list[WrittenAmount]) -> list[str]:
    """What stands at each amount: before it from a mark on, after it up to one."""
    ends = [0, *(amount.end for amount in found)]
    starts = [*(amount.start for amount in found), len(text)]
    if len(found) == 1:
        return [f"{text[: found[0].start]} | {text[found[0].end :]}"]
    own = []
    for place, amount in enumerate(found):
        before = re.split(r"[(,;]|/ (?=\w)", text[ends[place] : amount.start])[-1]
        between = re.sub(r"[^,;()/]*:\s*$", "", text[amount.end : starts[place + 1]])
        after = re.split(r"\s[(]|[,;]|\)\s*(?=\w)", between)[0]
        following = re.match(r"\s*\(([^()\d]*)\)", text[amount.end : starts[place + 1]])
        own.append(f"{before} | {after} {following[1] if following else ''}")
    return own


def _again(text: str, found: list[WrittenAmount], readings: list[UnitReading], place: int) -> bool:
    """Whether an amount is the one before it in the other unit."""
    left, right = found[place - 1], found[place]
    alike = agree(readings[place - 1], readings[place])
    packed = not alike and SHIPPING.search(text[right.end :].split(")")[0]) and not SHIPPING.search(text[: left.end])
    return (joined(text, left, right) and not packed) or (left.unit != right.unit and alike)


def _ordered(entry: SheetEntry, found: list[WrittenAmount]) -> list[str] | None:
    """What two figures weigh by the order of two words in the key: 'Weight (net/gross)'."""
    words = entry.key if SHIPPING.search(entry.key) else entry.text.split(found[0].printed)[0] if found else ""
    net, carton = re.search(r"\bnet|\bn\.? ?w\b", words), SHIPPING.search(words)
    if not net or not carton or len(found) != 2:
        return None
    if re.search(r"\b2 ?pcs", entry.value):
        return ["two", "two"]
    if PAIR.search(entry.value[found[1].end :]):
        return ["pair", "carton"] if net.start() < carton.start() else ["carton", "pair"]
    return ["one", "carton"] if net.start() < carton.start() else ["carton", "one"]


def _kind(words: str, otherwise: str) -> str:
    if WITHOUT.search(words):
        return "one" if SHIPPING.search(words) else "less"
    if SHIPPING.search(words):
        return "carton"
    if PAIR.search(words):
        return "pair"
    if EACH.search(words):
        return "each"
    return "one" if re.search(r"\bnet", words) else otherwise


def _weight(amount: WrittenAmount, entry: SheetEntry, found: list[WrittenAmount]) -> UnitReading:
    named = next((unit for unit, sign in (("lb", "lb"), ("kg", "kg")) if sign in entry.key), None)
    named = named or next((other.unit for other in reversed(found) if other.unit), None)
    reading = resolve(amount, replace(LOUDSPEAKER["weight"], high=300.0), named, entry.raw)
    bare = amount.unit is None and named is None and reading.value is not None
    return reading.flagged("no unit stated; taken as kg", inferred=True) if bare else reading


def _of_one(kind: str, reading: UnitReading, raw: str) -> UnitReading:
    if reading.value is None:
        return reading
    if kind == "carton":
        return refused("the weight of the packed carton is not the net weight", raw)
    if kind == "two":
        return refused("two to a carton: the net weight may be of one or of both", raw)
    value = reading.value / 2 if kind == "pair" else reading.value
    quantity = LOUDSPEAKER["weight"]
    if not quantity.low <= value <= quantity.high:
        return refused(f"outside the plausible range {quantity.low:g} to {quantity.high:g} kg", raw)
    if kind == "pair":
        return replace(reading, value=value).flagged("stated for a pair; half of it", inferred=True)
    return reading
