"""Width, height, depth and feet, decided from everything that was printed of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from triptych.catalog.datasheet.draft import AXES, DENSITY, Draft, ReadSide
from triptych.catalog.datasheet.readings import UnitReading, merged, resolve
from triptych.catalog.fields import LOUDSPEAKER


def settle(draft: Draft) -> None:
    """Decide width, height and depth from all that was printed of them."""
    _by_weight(draft)
    for axis in ("feet", *AXES):
        sides = [side for side in draft.sides if side.axis == axis]
        if sides:
            by_condition = {
                condition: merged([side.reading for side in sides if side.condition == condition], axis)
                for condition in dict.fromkeys(side.condition for side in sides)
            }
            _settle_axis(axis, by_condition, draft)


def _by_weight(draft: Draft) -> None:
    """Take sides without a unit in the only one in which a box of that size can weigh what this one does."""
    weight = draft.known("weight")
    bare = {side.axis: side for side in reversed(draft.sides) if side.bare is not None}
    if weight is None or not all(axis in bare for axis in AXES):
        return
    if all(bare[axis].reading.value is not None for axis in AXES):
        # large figures are millimetres
        return
    fitting = [unit for unit in ("mm", "cm", "in") if _fits(bare, unit, weight)]
    if len(fitting) != 1:
        return
    [unit] = fitting
    why = f"no unit stated; {unit} is the only one in which it can weigh {weight:g} kg"
    for place, side in enumerate(draft.sides):
        if side.bare is not None and side.axis in AXES:
            reading = resolve(side.bare, LOUDSPEAKER[side.axis], unit, side.reading.raw)
            draft.sides[place] = replace(side, reading=reading.flagged(why, inferred=True))


def _fits(bare: Mapping[str, ReadSide], unit: str, weight: float) -> bool:
    """Whether sides in a unit are plausible, and the box neither lighter nor heavier than boxes are."""
    volume = 1.0
    for axis in AXES:
        amount = bare[axis].bare
        value = resolve(amount, LOUDSPEAKER[axis], unit).value if amount is not None else None
        if value is None:
            return False
        volume *= value
    return DENSITY[0] <= weight / volume <= DENSITY[1]


_FIRST: Final = ("with grille", "box", "without feet", "without terminals", "front", "rear")


def _settle_axis(axis: str, found: Mapping[str, UnitReading], draft: Draft) -> None:
    known = {condition: reading for condition, reading in found.items() if reading.value is not None}
    best = next((condition for condition in _FIRST if condition in known), None)
    bad = next((reading for reading in found.values() if reading.refusal and "disagree" in reading.refusal), None)
    if bad is not None or not known:
        reading = bad or next(iter(found.values()))
        draft.take(axis, reading, reading.raw, f"{reading.refusal}; what is it?")
        return
    if "front" in known and "rear" in known and best in ("front", "rear"):
        reading = _tapered(known["front"], known["rear"])
    elif best is None and axis == "height" and "with feet" in known and draft.known("feet") is not None:
        reading = _less_feet(known["with feet"], draft.known("feet"))
    elif best is None:
        reading = _conditional(axis, known, draft)
    else:
        reading = known[best]
    others = [f"{_mm(other)} {condition}" for condition, other in known.items() if other.value != reading.value]
    draft.take(axis, reading.flagged(*(f"also stated: {other}" for other in others)), reading.raw)
    if axis == "height":
        _feet(known, draft)


def _mm(reading: UnitReading) -> str:
    return f"{(reading.value or 0.0) * 1000:.6g} mm"


def _tapered(front: UnitReading, rear: UnitReading) -> UnitReading:
    larger = max(front, rear, key=lambda reading: reading.value or 0.0)
    return larger.flagged("tapered cabinet: the larger of front and rear", inferred=True)


def _less_feet(whole: UnitReading, feet: float) -> UnitReading:
    value = round((whole.value or 0.0) - feet, 7)
    return replace(whole, value=value).flagged("height with feet less the feet", inferred=True)


def _conditional(axis: str, known: Mapping[str, UnitReading], draft: Draft) -> UnitReading:
    """Only a figure with an addition, or without a part that counts, is stated."""
    condition, reading = next(iter(known.items()))
    if condition == "without grille":
        draft.ask(axis, "stated without the grille only; how much does the grille add?")
        return reading.flagged("without grille; the grille adds to it", inferred=True)
    draft.ask(axis, f"stated {condition} only; what is it without?")
    return reading.flagged(f"{condition}, so the box alone is smaller", inferred=True)


def _feet(known: Mapping[str, UnitReading], draft: Draft) -> None:
    """The feet are what the height with them has more than the height without."""
    whole = known.get("with feet")
    box = next((known[condition] for condition in _FIRST if condition in known), None)
    if whole is None or box is None or whole.value is None or box.value is None:
        return
    difference = round(whole.value - box.value, 7)
    if 0 <= difference <= LOUDSPEAKER["feet"].high:
        draft.put("feet", difference, whole.raw, ("height with feet less height without",), inferred=True)
