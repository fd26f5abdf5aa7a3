"""The fit sheet: one A4 page that an installer takes along."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from textwrap import shorten
from typing import Any, Final

from triptych.recommender.advise.picturing import Dossier, Shown
from triptych.recommender.drawing.drawn_numbers import Unit, length
from triptych.recommender.drawing.front_elevation import front
from triptych.recommender.drawing.side_section import side
from triptych.recommender.judge.gates.pointing import STEEP, TILT_ENOUGH
from triptych.recommender.report.cable import Run, centre_length, main_length, run
from triptych.recommender.report.on_paper import angle, distance, plain, pose, told
from triptych.recommender.report.page import inlined, rendered
from triptych.recommender.report.reasons import conditions, left_words, lift_words
from triptych.recommender.report.settings import NEAR, Settings, settings

NAME: Final = 70
"""Longer names are cut on the sheet, which has one page; the report has them whole."""

SETTLED: Final = 4
"""So many open points are told on the sheet."""

SHEET_DRAWING: Final = 93.0
"""Width of each of the two drawings [mm]."""

CHECKS: Final = (
    "Opening measured at its narrowest point: trims, hinges and door lips",
    "Polarity of all three; both ends of each cable labelled",
    "Aim: a string or laser from the tweeter meets the ear at the primary seat",
    "Distances measured from tweeter to ear and entered",
    "Levels of the three within 0.5 dB at the primary seat (1 dB accepted)",
    "Crossover checked after auto set-up: the centre not at “large”, no trim at its limit",
    "Sweep 40–300 Hz at level: nothing buzzes in furniture, picture or cables",
    "Speech heard at every seat, the end seats too",
    "Amplifier’s vents free after ten minutes at level",
)
"""Checks where it stands. Common practice."""


@dataclass(frozen=True, slots=True)
class LabelledRow:
    """A label and what is told beside it."""

    label: str
    value: str


def sheet_page(dossier: Dossier, unit: Unit = Unit.MILLIMETRE) -> str:
    """The fit sheet of the one centre of a dossier, as an HTML page that prints on one A4."""
    shown = dossier.shown[0]
    found = shown.pictures
    drawings = [inlined(front(found.front, unit, SHEET_DRAWING))] if found.front else []
    drawings += [inlined(side(found.side, unit, SHEET_DRAWING))] if found.side else []
    return rendered("sheet.html.j2", _values(dossier, shown, unit) | {"drawings": drawings})


def _values(dossier: Dossier, shown: Shown, unit: Unit) -> dict[str, Any]:
    entry = shown.standing
    return {
        "centre": cut(entry.speaker),
        "mains": cut(dossier.advice.mains),
        "room": cut(dossier.advice.room),
        "place": cut(entry.place),
        "where": list(where(shown, unit)),
        "cables": [(one.to, cable_words(one, unit)) for one in cables(dossier, shown)],
        "channels": [
            (one.name, distance(one.distance, unit), told(one.delay, 2, "ms"), told(one.trim, 1, "dB"))
            for one in channel_settings(shown).channels
        ],
        "crossover": told(channel_settings(shown).crossover, 0, "Hz"),
        "near": length(NEAR, unit),
        "settle": to_settle(conditions(entry)),
        "checks": CHECKS,
        "cautions": shown.cautions,
    }


def cut(name: str) -> str:
    """A name short enough for the sheet."""
    cleaned = plain(name)
    return cleaned if len(cleaned) <= NAME else cleaned[: NAME - 1].rstrip() + "…"


def to_settle(open_points: list[str]) -> list[str]:
    """What to settle before it is fixed, as far as the one page has room for it."""
    told = [shorten(words, 200, placeholder=" …") for words in open_points[:SETTLED]]
    more = len(open_points) - SETTLED
    return told + ([f"and {more} more, which the full account has"] if more > 0 else [])


def where(shown: Shown, unit: Unit) -> Iterator[LabelledRow]:
    """What goes where."""
    place, box, free = shown.place, shown.record, shown.clearance
    yield LabelledRow("Pose", pose(shown.standing.pose).capitalize())
    if shown.baffle is not None:
        edge = "flush with the front edge" if place.setback == 0 else f"{length(place.setback, unit)} behind the edge"
        yield LabelledRow("Front", f"{length(shown.baffle, unit)} from the front wall, {edge}")
    yield LabelledRow("Sideways", _sideways(free.side, free.needed_side, unit))
    yield LabelledRow("Height", _height(shown, unit))
    yield LabelledRow("Tilt", tilt_words(shown, unit))
    if free.above is not None:
        yield LabelledRow(
            "Above", f"{length(free.above, unit)} free as tilted; {length(free.needed_above, unit)} are needed"
        )
    yield LabelledRow("Plugs", _behind(free.behind, free.needed_behind, unit))
    bears = (
        ""
        if place.load != place.load
        else f"; put no more than {place.load / 2:.0f}\u00a0kg here, half of what it may still bear"
    )
    weight = "not known: weigh it" if box.weight is None else f"{box.weight:.1f}\u00a0kg"
    yield LabelledRow("Weight", weight + bears)


def _sideways(side: float | None, needed: float, unit: Unit) -> str:
    middle = "Middle of the box under the middle of the picture"
    if side is None:
        return middle
    return f"{middle}; {length(side, unit)} free at each side, {length(needed, unit)} are needed"


def _height(shown: Shown, unit: Unit) -> str:
    base = "floor of the place not surveyed" if shown.place.base != shown.place.base else length(shown.place.base, unit)
    ear = shown.pictures.front.ear if shown.pictures.front else None
    if shown.axis is None or ear is None:
        return f"Stands {base} above the floor; where its axis is is not known"
    about = "about " if shown.record.axis_height is None or shown.record.feet is None else ""
    return f"Stands {base} above the floor; tweeter axis {about}{length(shown.axis, unit)}, ear {length(ear, unit)}"


def tilt_words(shown: Shown, unit: Unit) -> str:
    """How far to tilt it, and which edge to raise."""
    entry = shown.standing
    lift = entry.quantities["lift_mm"]
    if shown.tilt is None or lift is None:
        return "Not known: measure the height of the tweeter above the box’s base, then aim it at the ear"
    if not lift_words(entry):
        return _untilted(entry.quantities["residual_deg"])
    edge, way = ("front", "up") if shown.tilt > 0 else ("rear", "down")
    turned, left = f"{angle(abs(shown.tilt))} {way}", left_words(entry)
    if entry.place_kind == "wall":
        return f"{turned}, by its bracket{left}"
    held = ", on a cradle or wedge that it can’t slide off" if abs(shown.tilt) > STEEP else ""
    return f"{turned}: raise the {edge} edge by {length(lift / 1000, unit)}{held}{left}"


def _untilted(residual: float | None) -> str:
    """Why it isn't tilted: it needs no tilt, or none fits."""
    if residual is None or abs(residual) < TILT_ENOUGH:
        return "None: it looks at the ears as it stands"
    return (
        f"None fits here: as it stands it looks {angle(abs(residual))} {'below' if residual > 0 else 'above'} the ears"
    )


def _behind(behind: float | None, needed: float, unit: Unit) -> str:
    if behind is None:
        return f"Keep {length(needed, unit)} behind the box for plugs and the bend of the cable"
    return f"{length(behind, unit)} free behind the box; plugs and the cable’s bend need {length(needed, unit)}"


def cables(dossier: Dossier, shown: Shown) -> list[Run]:
    """The three cable runs, from an amplifier in or under the same place."""
    base = 0.0 if shown.place.base != shown.place.base else shown.place.base
    room, mains, box = dossier.room, dossier.mains, shown.record
    width = None if shown.place.width != shown.place.width else shown.place.width
    plan = shown.pictures.plan
    spacing = plan.spacing if plan else room.mains.spacing or 2.5
    from_wall = plan.from_wall if plan else room.mains.from_wall or 0.5
    each = main_length(spacing, from_wall, base)
    return [
        run("Centre", centre_length(width, box.depth or 0.3), box.impedance_nominal, box.impedance_minimum),
        run("Left, right", each, mains.impedance_nominal, mains.impedance_minimum),
    ]


def cable_words(one: Run, unit: Unit) -> str:
    """A cable's length and gauge."""
    ohm = f"{one.ohm:g} ohm" if one.stated else f"{one.ohm:g} ohm, not stated"
    long = f"{one.length:.1f}\u00a0m" if unit is Unit.MILLIMETRE else distance(one.length, unit)
    if not one.enough:
        return f"{long} is too long for one cable at {ohm}: move the amplifier, or run two in parallel"
    return f"{long}, at least {one.area:g}\u00a0mm² (AWG\u00a0{one.gauge}) at {ohm}"


def channel_settings(shown: Shown) -> Settings:
    """What to enter for the three."""
    numbers, far = shown.standing.quantities, shown.distances
    distances = {"left": far.left, "centre": far.centre, "right": far.right}
    return settings(distances, numbers["trim_db"], numbers["crossover_hz"])
