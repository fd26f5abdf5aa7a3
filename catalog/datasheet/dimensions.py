"""Width, height and depth as printed: labelled triples and single figures, in one unit or two."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts, contexts, joined
from triptych.catalog.datasheet.draft import AXES, Draft, ReadSide
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.readings import UnitReading, agree, refused, resolve
from triptych.catalog.datasheet.sheet_words import FEET, GRILLE, SHIPPING, TERMINALS, WITHOUT
from triptych.catalog.datasheet.side_orders import ASKS_ORDER, AXIS_WORDS, SIDE_WORD, known_axes, order_of, unit_in
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind, Quantity

_LABEL: Final = re.compile(rf"(?<![a-z])({SIDE_WORD})(?![a-z])")
_BEFORE: Final = re.compile(rf"(?<![a-z'’])({SIDE_WORD})\.?\s*[:=(]?\s*$")
_AFTER: Final = re.compile(rf"[\s()\[\],]*(?:(?:de|di|in|en) )?({SIDE_WORD})(?![a-z])")
_NAMED: Final = re.compile(rf"\d ?(?:mm|cm|in|inch(?:es)?|\")? (?:de |di |in |en )?({SIDE_WORD})(?![a-z])")
"""A side that is named behind its figure: '8 wide'."""
_LABEL_FIRST: Final = re.compile(r"(?<![a-z0-9])([hwdbtplasgf]|a[ln])(?=\d)")
_UNIT_AFTER_LABEL: Final = re.compile(r"(\d) ?\(?([hwdbtpl])\)? ?(mm|cm|in\b|\")")
_LETTERS: Final = (
    "w",
    "h",
    "d",
    "b",
    "t",
    "p",
    "l",
    "a",
    "f",
    "s",
    "g",
    "al",
    "an",
    "pr",
    "sz",
    "szer",
    "wys",
    "gl",
    "gleb",
)
_POLISH: Final = re.compile(r"(?<![a-z])[swg](?![a-z])")
_SPELT: Final = {"s": "szer", "w": "wys", "g": "gleb"}
_LISTED: Final = re.compile(r"(?<=\d)\s*[,;]\s+(?=\d)")
_TRIPLE: Final = re.compile(
    r"[:\s]*\d+(?:[.,]\d+)?\s*[,;]\s+\d+(?:[.,]\d+)?\s*[,;]\s+\d+(?:[.,]\d+)?\s*(?:mm|cm|in|\")?"
)
_LINK: Final = re.compile(r"\sx\s|\bby\b")
_WRONG_UNIT: Final = re.compile(r"^\s*[a-z]{2,}")
_FAIR: Final = 100.0
_PARTS: Final = (("feet", FEET), ("grille", GRILLE), ("terminals", TERMINALS))
_WITHIN: Final = r"with\b|incl\w*|inkl\w*|mit\b|avec\b|con\b|met\b"
_LACKING: Final = r"without|w/o|excl\w*|exkl\w*|ohne|sans|senza|sin\b|zonder"
_REMARK: Final = re.compile(rf"\s*\((?:{SIDE_WORD})\.? (?:{_WITHIN}|{_LACKING})")
"""A bracket that says how a side was taken, and not which the figure is: '340 mm (height without spikes)'."""
_WITH_AND_WITHOUT: Final = re.compile(rf"\b({_WITHIN}|{_LACKING})\.?(?: ?\w+)? ?/ ?(?:{_WITHIN}|{_LACKING})\.?")
_PACKED: Final = re.compile(rf"\([^()]*(?:{SHIPPING.pattern})[^()]*\)")
"""What the packed carton measures, in brackets behind the size."""
_GRILLE_DEPTH: Final = Quantity("grille", Kind.LENGTH, "what a grille adds", 0.0, 0.15, "mm")
_ASK_ORDER: Final = "which is the width, which the height, which the depth? Their order will do, such as whd"


@dataclass(slots=True)
class _Part:
    """One component of a chain: a figure in one unit or two."""

    amounts: list[WrittenAmount]
    label: str | None = None
    words: str = ""


def read_size(entry: SheetEntry, draft: Draft) -> bool:
    """Take the dimensions of an entry that names several; whether anything was there to take."""
    entry = replace(entry, value=_PACKED.sub(" ", entry.value))
    order, text = order_of(entry)
    inherited, known = order is None and draft.order is not None, len(draft.sides)
    order = list(draft.order) if inherited and draft.order else order
    if order and len(order) == 3:
        text = _LISTED.sub(" x ", text) if _TRIPLE.fullmatch(text.strip()) else text
    spaced = _LABEL_FIRST.sub(r"\1 ", _UNIT_AFTER_LABEL.sub(r"\1 \3 \2", text))
    spaced = _spelt(spaced)
    found = [amount for amount in amounts(spaced, _LETTERS) if amount.kind in (Kind.LENGTH, None)]
    chains = _chains(spaced, found)
    taken = False
    default = unit_in(entry.key) or unit_in(" ".join(re.findall(r"\([^()\d]*\)", entry.value))) or draft.unit
    for chain in chains:
        axes = _axes(chain, order)
        order = order or (axes if all(axes) and len(chain) > 1 else None)
        condition = _condition(" ".join(part.words for part in chain))
        if len(chain) == 1 and axes[0] is None and condition == "with grille" and len(draft.sides) > known:
            axes = ["depth"] if _is_deeper(chain[0], default, draft.sides[known:], entry) else axes
        condition = _condition(entry.key) if condition == "box" else condition
        condition = f"without {_taken_off(entry)}" if condition == "without" else condition
        taken |= _take_chain(chain, axes, condition, default, entry.raw, draft)
    if inherited:
        why = "in the order of the sheet's other loudspeakers"
        draft.sides[known:] = [replace(s, reading=s.reading.flagged(why, inferred=True)) for s in draft.sides[known:]]
    _add_grille(entry, default or next((a.unit for a in found if a.unit), None), draft)
    return taken


def _spelt(text: str) -> str:
    """A text with the letters of Polish sides spelt, where W is the height: 'S 200 x W 320 x G 260 mm'."""
    letters = _POLISH.findall(text)
    return _POLISH.sub(lambda one: _SPELT[one[0]], text) if sorted(letters) == sorted(_SPELT) else text


def _is_deeper(part: _Part, default: str | None, sides: Sequence[ReadSide], entry: SheetEntry) -> bool:
    """Whether a figure with the grille is the depth of a box that is told before: '... x 280 mm (with grille: 295)'."""
    box = next((side.reading.value for side in sides if side.axis == "depth"), None)
    unit = default or next((amount.unit for amount in amounts(entry.value) if amount.unit), None)
    whole = resolve(part.amounts[0], LOUDSPEAKER["depth"], unit).value
    return box is not None and whole is not None and box <= whole <= 1.2 * box


def _add_grille(entry: SheetEntry, unit: str | None, draft: Draft) -> None:
    """Add to the depth what a grille adds: 'HWD 6.5/17.75/9.5 inches, grille adds .6'."""
    said = re.search(r"(?:grill\w*|gitter|cache|griglia|rejilla) (?:adds?|ajoute|aggiunge) ", entry.value)
    added = [amount for amount in amounts(entry.value) if said and amount.start >= said.end()][:1]
    depth = next((side for side in draft.sides if side.axis == "depth" and side.reading.raw == entry.raw), None)
    if added and depth:
        amount = added[0] if added[0].unit else replace(added[0], unit=unit)
        draft.sides.append(_with_grille(depth, amount))


def _taken_off(entry: SheetEntry) -> str:
    """The part that a bare 'without' speaks of."""
    return next((name for name, pattern in _PARTS if pattern.search(entry.text)), "grille")


def read_side(entry: SheetEntry, draft: Draft) -> bool:
    """Take an entry that is about one side: 'Depth: 300 mm (315 mm with grille)'."""
    axis = entry.topic or ""
    named = {AXIS_WORDS[word] for word in _NAMED.findall(entry.value)}
    if len(_LINK.findall(entry.value)) >= 2 or len(named) > 1:
        return read_size(replace(entry, topic="size"), draft)
    found = [a for a in amounts(entry.value, ("feet",)) if a.kind in (Kind.LENGTH, None)]
    if any(amount.unit for amount in found):
        found = [one for place, one in enumerate(found) if one.unit or _is_linked(entry.value, found, place)]
    if not found and amounts(entry.value):
        draft.refuse(axis, f"{entry.said!r} is no length", entry.raw)
        return True
    if SHIPPING.search(entry.value) or SHIPPING.search(entry.key):
        draft.refuse(axis, "what the packed carton measures is not the loudspeaker's size", entry.raw)
        return True
    sides = _with_conditions(axis, found, entry, draft.unit)
    draft.sides += [_with_grille(sides[0], found[1])] if _adds_grille(entry.value, found) else sides
    return bool(found)


def _is_linked(text: str, found: Sequence[WrittenAmount], place: int) -> bool:
    """Whether a bare number stands by a mark at one that has a unit, opens the text, or has a side's word behind it."""
    if _AFTER.match(text[found[place].end :]) or not text[: found[place].start].strip():
        return True
    sides = [left for left in (place - 1, place) if 0 <= left < len(found) - 1]
    between = [text[found[left].end : found[left + 1].start] for left in sides]
    return any(re.fullmatch(r"[^;.]{0,24}[(/x+,|-][^;.\d]{0,24}", one) for one in between)


def _adds_grille(text: str, found: Sequence[WrittenAmount]) -> bool:
    """Whether a second figure is what the grille adds: '300 mm + 15 mm grille'."""
    between = text[found[0].end : found[1].start] if len(found) == 2 else ""
    return between.strip() == "+" and GRILLE.search(text) is not None


def _with_grille(side: ReadSide, added: WrittenAmount) -> ReadSide:
    box, grille = side.reading, resolve(added, _GRILLE_DEPTH).value
    if box.value is None or grille is None:
        return side
    total = replace(box, value=round(box.value + grille, 7)).flagged("box and grille added", inferred=True)
    return ReadSide(side.axis, "with grille", total)


def _with_conditions(axis: str, found: Sequence[WrittenAmount], entry: SheetEntry, told: str | None) -> list[ReadSide]:
    """Each amount with its condition: its own, that of the same figure in the other unit, or the key's."""
    words = contexts(entry.value, found)
    conditions = [_condition(own) for own in words]
    conditions = [f"without {_taken_off(entry)}" if one == "without" else one for one in conditions]
    units = {amount.unit for amount in found if amount.unit}
    default = unit_in(entry.key) or (units.pop() if len(units) == 1 else told)
    sides = [
        _side(axis, condition, amount, default, entry, own)
        for amount, own, condition in zip(found, words, conditions, strict=True)
    ]
    for place in range(1, len(sides)):
        if sides[place - 1].axis == sides[place].axis and _same_figure(entry.value, found, sides, place):
            stated = next((s.condition for s in sides[place - 1 : place + 1] if s.condition != "box"), "box")
            sides[place - 1 : place + 1] = [replace(s, condition=stated) for s in sides[place - 1 : place + 1]]
    if any(side.axis == "feet" for side in sides) and re.search(r"\bincl|\binkl|compris", entry.value):
        sides = [replace(s, condition="with feet") if s.axis == "height" else s for s in sides]
    paired = _paired(entry.text) if len(sides) == 2 and found[0].unit in (None, found[1].unit) else None
    if paired is not None:
        return [replace(side, condition=condition) for side, condition in zip(sides, paired, strict=True)]
    keyed = _condition(entry.key)
    return [replace(s, condition=keyed) if s.condition == "box" and s.axis != "feet" else s for s in sides]


def _paired(text: str) -> tuple[str, str] | None:
    """What two figures are by two words with a stroke between: 'with/without grille', 'front/rear'."""
    if re.search(r"\b(?:front|vorne?) ?/ ?(?:rear|back|hinten)", text):
        return "front", "rear"
    if re.search(r"\b(?:rear|back|hinten) ?/ ?(?:front|vorne?)", text):
        return "rear", "front"
    part = next((name for name, pattern in _PARTS if pattern.search(text)), None)
    match = _WITH_AND_WITHOUT.search(text)
    if part is None or match is None:
        return None
    pair = (f"with {part}", f"without {part}")
    return pair[::-1] if WITHOUT.match(match[1]) else pair


def _same_figure(text: str, found: Sequence[WrittenAmount], sides: Sequence[ReadSide], place: int) -> bool:
    """Whether an amount is the one before it in another unit."""
    left, right = found[place - 1], found[place]
    units = left.unit != right.unit and None not in (left.unit, right.unit)
    return joined(text, left, right) or (units and agree(sides[place - 1].reading, sides[place].reading))


def _side(
    axis: str, condition: str, amount: WrittenAmount, default: str | None, entry: SheetEntry, own: str
) -> ReadSide:
    reading = _length(amount, axis, default, entry.raw)
    if axis == "height" and condition == "with feet" and reading.value is None and amount.unit:
        feet = resolve(amount, LOUDSPEAKER["feet"], default, entry.raw)
        if feet.value is not None:
            return ReadSide("feet", "box", feet)
    if (
        amount.unit is None
        and default is None
        and _WRONG_UNIT.match(entry.value[amount.end :])
        and not _LABEL.search(own)
    ):
        reading = refused(f"{amount.printed!r} has no unit that is one of length", entry.raw)
    bare = amount if amount.unit is None and default is None else None
    return ReadSide(axis, condition, reading, bare)


def _length(amount: WrittenAmount, axis: str, default: str | None, raw: str) -> UnitReading:
    reading = resolve(amount, LOUDSPEAKER[axis], default, raw)
    if amount.unit is not None or default is not None or reading.value is None:
        return reading
    if axis in AXES and amount.plain(-1) < _FAIR:
        return refused(f"{amount.printed!r} has no unit; mm, cm and in are all plausible", raw)
    return reading.flagged("no unit stated; taken as mm", inferred=True)


def _chains(text: str, found: Sequence[WrittenAmount]) -> Iterator[list[_Part]]:
    """Amounts linked by 'x', each with its other unit; a further triple starts a new chain."""
    words = contexts(text, found)
    chain: list[_Part] = []
    for place, amount in enumerate(found):
        between = text[found[place - 1].end : amount.start] if place else ""
        part = _Part([amount], _label(text, found, place), words[place])
        if place and _alternative(text, found, place, chain):
            chain[-1].amounts.append(amount)
            chain[-1].words += words[place]
            chain[-1].label = chain[-1].label or part.label
        elif (place and (_LINK.search(between) or _slashed(between, found, place, chain)) and len(chain) < 3) or (
            place
            and len(chain) < 3
            and chain[-1].label
            and part.label
            and not any(p.label == part.label for p in chain)
        ):
            chain.append(part)
        else:
            if chain:
                yield chain
            chain = [part]
    if chain:
        yield chain


def _alternative(text: str, found: Sequence[WrittenAmount], place: int, chain: Sequence[_Part]) -> bool:
    """Whether an amount is the one before it in another unit, and not the start of a second triple."""
    if not joined(text, found[place - 1], found[place]):
        return False
    complete = len(chain) >= 2 and all(len(part.amounts) == 1 for part in chain[:-1])
    return not complete


def _slashed(between: str, found: Sequence[WrittenAmount], place: int, chain: Sequence[_Part]) -> bool:
    """Whether a stroke stands for 'x': '546/178/300 mm'."""
    left, right = found[place - 1], found[place]
    return bool(re.fullmatch(r"\s*[a-z]?\s*/\s*[a-z]?\s*", between)) and (left.unit is None or left.unit == right.unit)


def _label(text: str, found: Sequence[WrittenAmount], place: int) -> str | None:
    """The axis that stands at an amount: before it if one stands before the first, else after it."""
    amount, end = found[place], found[place + 1].start if place + 1 < len(found) else len(text)
    if _BEFORE.search(text[: found[0].start]):
        match = _BEFORE.search(text[found[place - 1].end if place else 0 : amount.start])
    else:
        match = None if _REMARK.match(text, amount.end) else _AFTER.match(text[amount.end : end])
    return AXIS_WORDS[match[1]] if match else None


def _axes(chain: Sequence[_Part], order: Sequence[str | None] | None) -> list[str | None]:
    labels = [part.label for part in chain]
    if len(chain) == len(AXES) and labels.count(None) == len(AXES) - 1:
        # one name at three figures may as well be the first or the last of an order that was cut off
        labels = []
    if any(labels):
        return known_axes([label or "length" for label in labels], "") if all(labels) else list(labels)
    if order is not None and len(order) == len(chain):
        return list(order)
    return [None] * len(chain)


def _condition(words: str) -> str:
    """Under what condition a figure holds: box, with grille, without grille, with feet, without feet, ..."""
    ends = re.search(r"\bat (?:the )?(base|bottom|top)\b", words)
    if ends:
        return "rear" if ends[1] == "top" else "front"
    for name, pattern in _PARTS:
        named = list(pattern.finditer(words))
        if named:
            negated = any(WITHOUT.search(words[max(0, match.start() - 24) : match.start()]) for match in named)
            return f"without {name}" if negated else f"with {name}"
    if re.search(r"\bfront\b|\bvorn", words):
        return "front"
    if re.search(r"\brear\b|\bback\b|\bhinten", words):
        return "rear"
    if re.search(r"^\W*(?:without|ohne|sans|senza|sin|zonder|bez)\W*$", words):
        return "without"
    return "box"


def _take_chain(
    chain: Sequence[_Part],
    axes: Sequence[str | None],
    condition: str,
    default: str | None,
    raw: str,
    draft: Draft,
) -> bool:
    """Put the components of a chain where they belong, or refuse them where nobody says."""
    if len(chain) == 1 and axes[0] is None:
        return False
    every = [amount for part in chain for amount in part.amounts]
    shared = {amount.unit for amount in every if amount.unit}
    unit = default or (shared.pop() if len(shared) == 1 else None)
    largest = max(amount.plain(-1) for amount in every)
    for part, axis in zip(chain, axes, strict=True):
        for amount in part.amounts if axis in AXES else ():
            reading = _component(amount, axis or "", unit, largest, raw)
            bare = amount if unit is None and amount.unit is None else None
            draft.sides.append(ReadSide(axis or "", condition, reading, bare))
    if any(axis not in AXES for axis in axes):
        _refuse_order(axes, raw, draft)
    return True


def _component(amount: WrittenAmount, axis: str, unit: str | None, largest: float, raw: str) -> UnitReading:
    """One figure of a triple; without any unit it is taken as mm only where the triple is no other unit's."""
    reading = resolve(amount, LOUDSPEAKER[axis], unit, raw)
    if amount.unit is not None or unit is not None or reading.value is None:
        return reading
    if largest < 2 * _FAIR:
        return refused(f"{amount.printed!r} has no unit; mm, cm and in are all plausible", raw)
    return reading.flagged("no unit stated; taken as mm", inferred=True)


def _refuse_order(axes: Sequence[str | None], raw: str, draft: Draft) -> None:
    for axis in AXES:
        if axis not in axes:
            draft.refuse(
                axis,
                "the figures have no order: none says which side it is",
                raw,
                f"{raw}: {_ASK_ORDER}",
                of=ASKS_ORDER,
            )
