"""Does the box go where it has to live? Envelope, tilt, port, sight, load, height."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from triptych.recommender.judge.verdicts import Case, GateVerdicts, Verdict, judge, missing_words, triangular_chance
from triptych.recommender.scene.aiming import (
    FEET_AT_MOST,
    SIDE_CLEARANCE,
    Aim,
    aim_question,
    free_depth,
    opening_height,
    rear_allowance,
    stood_height,
)
from triptych.recommender.scene.arrays import Boxes, FloatArray, Picture, PlaceFigures, Port

MILLIMETRE: Final = 1e-3
"""[m]."""

SLACK: Final = 1e-9
"""Slack for sums of floats, so that an exact fit fits [m, kg, ohm, dB]."""

PORT_DISTANCE: Final = 0.100
"""Least distance from a port to a wall [m]. Common practice; sources differ from 50 to 150 mm."""

PORT_AT_MOST: Final = 0.090
"""Diameter of a port that a datasheet doesn't mention, at most [m]. Common practice, no source."""

SCREEN_GAP: Final = 0.100
"""Least distance from a box to a woven screen [m]. Common practice, no source."""

PLAIN_PLASTERBOARD: Final = 2.3
"""What plain plasterboard may bear [kg]. Common practice of installers, no standard."""


def envelope(boxes: Boxes, place: PlaceFigures) -> GateVerdicts:
    """Box, feet, grille, plugs and clearances against the opening; the margin is that of the binding dimension [mm]."""
    # a box may stand over the edges of a stand's plate
    width_limit, depth_limit = (np.nan, np.nan) if place.kind == "stand" else (place.width, place.depth)
    height = opening_height(place) - stood_height(boxes)
    width = width_limit - 2 * SIDE_CLEARANCE - boxes.width
    support = depth_limit - place.setback - boxes.depth
    behind = free_depth(place) - place.setback - boxes.depth - rear_allowance(boxes)
    backed = place.depth - place.setback - boxes.depth - rear_allowance(boxes)
    on_surface = support < np.where(np.isnan(behind), np.inf, behind)
    margins = np.vstack([width, np.where(np.isinf(height), np.nan, height), np.fmin(support, behind)])
    limits = np.array([not np.isnan(width_limit), not np.isnan(place.height), not np.isnan(free_depth(place))])
    sizes_missing = (np.isnan(margins) & limits[:, None]).any(axis=0)
    place_missing = place.kind == "cavity" and not limits.all()
    binding = np.argmin(np.where(np.isnan(margins), np.inf, margins), axis=0)
    margin = np.fmin(np.fmin(margins[0], margins[1]), margins[2])
    fails = margin < -SLACK
    feet_matter = np.isnan(boxes.feet) & np.isfinite(height) & (height < FEET_AT_MOST - SLACK)
    words = ("width", "height", "depth")
    cases = [
        (fails & (binding == k), Case(Verdict.FAIL, f"{word}: {{short:.0f}} mm short{detail}"))
        for k, (word, detail) in enumerate(zip(words, _detail(place), strict=True))
    ]
    # what stands out over its shelf has all the air for plugs that it wants
    out = "depth: {short:.0f} mm short ({box_depth:.0f} mm" + SET_BACK * bool(place.setback) + " on {depth:.0f} mm)"
    cases.insert(0, (fails & (binding == 2) & on_surface, Case(Verdict.FAIL, out)))
    opening = " and ".join(
        word
        for word, size in (
            ("wide", width_limit),
            ("high", place.height),
            ("deep, front edge to back,", free_depth(place)),
        )
        if np.isnan(size)
    )
    verdicts = judge(
        "envelope", "mm", margin / MILLIMETRE,
        [
            *cases,
            (place_missing, Case(Verdict.UNKNOWN, "the opening isn't fully measured",
                                 f"How {opening} is the opening at the narrowest?")),
            (sizes_missing, Case(Verdict.UNKNOWN, "an outside size of the box isn't stated",
                                 "How much is the box's outside {sizes}, grille on?")),
            (feet_matter, Case(Verdict.CONDITIONAL, "fits with {margin:.0f} mm over, feet not stated: if it has feet, "
                                                    "they may add up to 15 mm and there are {over:.0f} mm",
                               "How high are its feet, if it has any?", "too_high")),
            (place.maybe_backed & (backed < -SLACK),
             Case(Verdict.CONDITIONAL, "fits if the shelf has no back: before one it is {before:.0f} mm short",
                  ASK_BACK, "has_back", shared=True)),
            (np.isnan(margin), Case(Verdict.PASS, "nothing around the place limits the box")),
            *[(binding == k, Case(Verdict.PASS, f"{word} decides: {{margin:.0f}} mm left"))
              for k, word in enumerate(words)],
            (True, Case(Verdict.PASS, "{margin:.0f} mm left")),
        ],
        short=-margin / MILLIMETRE, over=height / MILLIMETRE, before=-backed / MILLIMETRE, has_back=HAS_BACK,
        box_width=boxes.width / MILLIMETRE, width=place.width / MILLIMETRE,
        box_height=stood_height(boxes) / MILLIMETRE, height=place.height / MILLIMETRE,
        box_depth=boxes.depth / MILLIMETRE, plugs=np.where(on_surface, 0.0, rear_allowance(boxes)) / MILLIMETRE,
        depth=np.where(on_surface, depth_limit, free_depth(place)) / MILLIMETRE, setback=place.setback / MILLIMETRE,
        too_high=HAS_FEET * np.clip((FEET_AT_MOST - height) / (FEET_AT_MOST - FEET_AT_LEAST), 0.0, 1.0),
    )  # fmt: skip
    return asking_sizes(verdicts, boxes)


ASK_BACK: Final = "Has the shelf a back, closed or open?"

HAS_BACK: Final = 0.2
"""How often an open shelf of which nobody says so has a back [1]. Common practice, no source."""

HAS_FEET: Final = 0.7
"""How often a box of whose feet nothing is said has some [1]. Common practice, no source."""

FEET_AT_LEAST: Final = 0.008
"""Feet that a box has, at least [m]. Common practice, no source."""


SET_BACK: Final = " set back by {setback:.0f} mm"


def _detail(place: PlaceFigures) -> tuple[str, str, str]:
    """What each dimension is made of, to the last millimetre."""
    back = SET_BACK if place.setback else ""
    return (
        " ({box_width:.0f} mm and 5 mm at each side in {width:.0f} mm)",
        " ({box_height:.0f} mm with feet and 10 mm clearance in {height:.0f} mm)",
        f" ({{box_depth:.0f}} mm{back} and {{plugs:.0f}} mm for plugs in {{depth:.0f}} mm)",
    )


def asking_sizes(gate: GateVerdicts, boxes: Boxes) -> GateVerdicts:
    """The gate with the words that name which sizes of each box aren't stated, all in one question."""
    sizes = {"width": boxes.width, "height": boxes.height, "depth": boxes.depth}
    numbers, words = missing_words(list(sizes), [np.isnan(size) for size in sizes.values()])
    return replace(gate, texts={**gate.texts, "sizes": numbers}, words={**gate.words, "sizes": words})


BOOM: Final = Case(Verdict.CONDITIONAL, "the port feeds the bay from above or below: listen for boom")


def port(boxes: Boxes, place: PlaceFigures, aim: Aim) -> GateVerdicts:
    """The distance from a port or radiator to what it would blow at; the margin is what is left of it [mm]."""
    sized = ~np.isnan(boxes.port_diameter) | boxes.radiator
    least = np.maximum(PORT_DISTANCE, 2 * np.nan_to_num(boxes.port_diameter))
    at_most = np.where(sized, least, np.maximum(least, 2 * PORT_AT_MOST))
    distance = _port_distance(boxes, place, aim)
    backed = place.depth - place.setback - aim.envelope_depth
    anywhere = np.minimum(aim.rear_clearance, _beside(boxes, place))
    bay = np.full(len(boxes), place.closed_bay)
    maybe_bay = np.full(len(boxes), place.kind == "cavity" and place.back == "unknown")
    breathes_back = (boxes.port == Port.REAR) | (boxes.port == Port.SIDE)
    into_bay = ((boxes.port == Port.BOTTOM) | (boxes.port == Port.TOP)) & (bay | maybe_bay)
    unstated = boxes.port == Port.UNKNOWN
    bung, maybe_bung = boxes.bung & ~boxes.radiator, boxes.bung_unknown & ~boxes.radiator
    near = "{distance:.0f} mm from the port to the nearest surface, {least:.0f} mm wanted"
    ask_port = "On which face is the port or radiator, if it has one: front, rear or side?"
    plugged = PLUG
    return judge(
        "port", "mm", (distance - least) / MILLIMETRE,
        [
            (boxes.port == Port.NONE, Case(Verdict.PASS, "no port")),
            (boxes.port == Port.FRONT, Case(Verdict.PASS, "the port is on the front")),
            (breathes_back & (bay | maybe_bay) & bung,
             Case(Verdict.CONDITIONAL, f"the port would blow into a closed bay: {plugged}")),
            (breathes_back & bay & maybe_bung,
             Case(Verdict.UNKNOWN, "its port would blow into a closed bay, unless it is plugged", ASK_BUNG)),
            (breathes_back & bay, Case(Verdict.FAIL, "a rear or side port or radiator in a closed bay")),
            (breathes_back & maybe_bay, Case(Verdict.UNKNOWN, "it breathes at the rear, and the bay's back isn't known",
                                             "Is the back of the bay closed or open?")),
            (unstated & (anywhere >= at_most - SLACK) & ~bay & ~maybe_bay,
             Case(Verdict.PASS, "where it breathes isn't stated, and doesn't matter in free air")),
            (unstated & bung, Case(Verdict.CONDITIONAL, f"where it breathes isn't stated; unless in front, {plugged}")),
            (unstated & (bay | maybe_bay), Case(Verdict.UNKNOWN, "where it breathes isn't stated", ask_port)),
            (unstated & np.isnan(anywhere),
             Case(Verdict.CONDITIONAL, "where it breathes isn't stated; keep it 100 mm from any wall")),
            (unstated, Case(Verdict.UNKNOWN, "where it breathes isn't stated, and a wall is near", ask_port)),
            (boxes.port == Port.BOTTOM, Case(Verdict.PASS, "the port is underneath, on the maker's own feet")),
            (np.isnan(distance), Case(Verdict.CONDITIONAL, "keep its port 100 mm or two port diameters from any wall")),
            ((distance < least - SLACK) & bung, Case(Verdict.CONDITIONAL, f"{near}: {plugged}")),
            (distance < -SLACK, Case(Verdict.FAIL, "the box doesn't go in, so its port has no air")),
            ((distance < least - SLACK) & (boxes.port == Port.REAR) & place.unplaced,
             Case(Verdict.UNKNOWN, f"{near}, if the place is at the wall", ASK_FRONT)),
            ((distance < least - SLACK) & breathes_back & maybe_bung,
             Case(Verdict.UNKNOWN, f"{near}, unless it is plugged", ASK_BUNG)),
            (distance < least - SLACK, Case(Verdict.FAIL, near)),
            (distance < at_most - SLACK,
             Case(Verdict.CONDITIONAL, "{distance:.0f} mm from a port of unstated size: two diameters must be less",
                  "What is the diameter of its port?", "too_near")),
            (place.maybe_backed & (boxes.port == Port.REAR) & (backed < at_most - SLACK),
             Case(Verdict.CONDITIONAL, "{backed:.0f} mm from the port to the shelf's back, if it has one", ASK_BACK,
                  "has_back", shared=True)),
            (np.isinf(distance), Case(Verdict.PASS, "the port has free air")),
            (True, Case(Verdict.PASS, "{distance:.0f} mm from the port to the nearest surface")),
        ],
        distance=distance / MILLIMETRE, least=least / MILLIMETRE, backed=backed / MILLIMETRE, has_back=HAS_BACK,
        too_near=np.nan_to_num(1.0 - triangular_chance(distance / 2, *PLAUSIBLE_PORT)),
    ).worsened(into_bay, BOOM)  # fmt: skip


def plugged(boxes: Boxes, gate: GateVerdicts) -> FloatArray:
    """How far the bung is in that the gate of ports asks for, or would be if the answer lets a box in [1].

    Half, where nobody says on which face the port is, and one on the front stays open.
    """
    behind = (boxes.port == Port.REAR) | (boxes.port == Port.SIDE)
    asked = np.array([case.question == ASK_BUNG for case in gate.cases])[gate.case]
    wanted = (boxes.bung & ~boxes.radiator & behind & (gate.verdict == Verdict.CONDITIONAL)) | asked
    perhaps = (boxes.bung | boxes.bung_unknown) & ~boxes.radiator & (boxes.port == Port.UNKNOWN)
    return np.where(wanted, 1.0, np.where(perhaps & (gate.verdict != Verdict.PASS), 0.5, 0.0))


PLUG: Final = "fit the bung that comes with it"

ASK_BUNG: Final = "Does a bung for its port come with it?"
"""A plug is nothing that a datasheet denies: where it would decide, it is asked for like any other unknown."""

ASK_FRONT: Final = "How far is the place's front edge from the front wall?"

PLAUSIBLE_PORT: Final = (0.03, 0.055, PORT_AT_MOST)
"""Diameter of a port that a datasheet doesn't mention: low, likely, high [m]. Common practice, no source."""


def _beside(boxes: Boxes, place: PlaceFigures) -> FloatArray:
    """From each side of a box to the wall of its place [m]; inf where there is none."""
    walled = place.kind in ("cavity", "open_shelf") and not np.isnan(place.width)
    return (place.width - boxes.width) / 2 if walled else np.full(len(boxes), np.inf)


def _port_distance(boxes: Boxes, place: PlaceFigures, aim: Aim) -> FloatArray:
    """From each box's port to the surface it faces [m]; NaN where that isn't known, inf in free air."""
    above = place.height - aim.envelope_height if not np.isnan(place.height) else np.full(len(boxes), np.inf)
    return np.select(
        [boxes.port == Port.REAR, boxes.port == Port.SIDE, boxes.port == Port.TOP],
        [aim.rear_clearance, _beside(boxes, place), above],
        np.nan,
    )


def sight(
    boxes: Boxes, place: PlaceFigures, aim: Aim, picture: Picture, base: FloatArray | None = None
) -> GateVerdicts:
    """The part of the picture that the box stands in front of; the margin is free height, or minus the overlap [mm].

    `base` as for `aim`.
    """
    bottom = np.full(len(boxes), place.base) if base is None else base
    top = bottom + aim.envelope_height
    overlap = np.minimum(top, picture.top) - np.maximum(bottom, picture.bottom)
    below, above = picture.bottom - top, bottom - picture.top
    behind = place.kind == "behind_screen"
    verdicts = judge(
        "sight", "mm", np.where(overlap > 0, -overlap, np.fmax(below, above)) / MILLIMETRE,
        [
            (not picture.stated and not behind,
             Case(Verdict.CONDITIONAL, "no picture is described: see that the box stays clear of it", fails="unseen",
                  shared=True)),
            (behind and not picture.transparent, Case(Verdict.FAIL, "behind a screen that sound doesn't pass")),
            (behind and place.gap < SCREEN_GAP - SLACK,
             Case(Verdict.CONDITIONAL, "{gap:.0f} mm to the fabric: 100 mm for a woven one, 300 mm for a perforated")),
            (behind, Case(Verdict.PASS, "behind a screen that sound passes")),
            (place.kind == "cavity" and np.isnan(picture.bottom),
             Case(Verdict.CONDITIONAL, "the picture's lower edge isn't known: see that the furniture stays below it",
                  fails="unseen", shared=True)),
            (np.isnan(picture.bottom) | np.isnan(bottom),
             Case(Verdict.UNKNOWN, "the heights of the place and the picture aren't both known",
                  _heights(picture, aim))),
            (below >= -SLACK, Case(Verdict.PASS, "{below:.0f} mm below the picture")),
            (np.isnan(picture.top),
             Case(Verdict.UNKNOWN, "it reaches above the picture's lower edge, and the picture's height isn't known",
                  "How high is the picture?")),
            (above >= -SLACK, Case(Verdict.PASS, "above the picture")),
            (np.isnan(top), Case(Verdict.UNKNOWN, "the box's height or depth isn't stated",
                                 "How much is the box's outside {sizes}, grille on?")),
            (True, Case(Verdict.FAIL, "it hides {overlap:.0f} mm of the picture")),
        ],
        overlap=overlap / MILLIMETRE, below=below / MILLIMETRE, gap=place.gap / MILLIMETRE,
        unseen=IN_THE_PICTURE,
    )  # fmt: skip
    return asking_sizes(verdicts, boxes)


IN_THE_PICTURE: Final = 0.1
"""How often what fits a place stands in a picture of which nobody said where it is [1]. Common practice, no source."""


def _heights(picture: Picture, aim: Aim) -> str:
    """What to ask of the heights that decide about the picture; that of the place is asked for its aim, and once."""
    if np.isnan(picture.bottom):
        return "How high above the floor is the lower edge of the picture?"
    return aim_question(aim) if aim.missing else "How high above the floor is the place?"


def load(boxes: Boxes, place: PlaceFigures, base: FloatArray | None = None) -> GateVerdicts:
    """The box's weight against half of what the shelf or mount may still bear; the margin is what is left [kg].

    What stands on the room's floor is borne. A weight that nobody stated is asked for only where so large a box may be
    too heavy. `base` as for `aim`.
    """
    allowed = place.load / 2
    margin = allowed - boxes.weight
    bottom = np.full(len(boxes), place.base) if base is None else base
    litres = 1e3 * boxes.width * boxes.height * boxes.depth
    unstated = np.isnan(boxes.weight)
    likely = np.where(unstated, LITRE_WEIGHS[1] * litres, boxes.weight)
    heaviest = LITRE_WEIGHS[2] * litres
    return judge(
        "load", "kg", margin,
        [
            (np.isnan(place.load) & (bottom <= SLACK) & (place.kind != "wall"),
             Case(Verdict.PASS, "it stands on the floor")),
            (np.isnan(place.load),
             Case(Verdict.CONDITIONAL, "what the place may bear isn't known: ask before you load it", fails="too_heavy",
                  shared=True)),
            (unstated & (heaviest <= allowed + SLACK),
             Case(Verdict.PASS, "its weight isn't stated; a box of {litres:.0f} l rarely weighs over {heaviest:.0f} "
                                "kg, and {allowed:.1f} kg may stand here (half of the rating)")),
            (unstated, Case(Verdict.UNKNOWN, "its weight isn't stated", "What does one weigh, net?")),
            (margin < -SLACK, Case(Verdict.FAIL, "{weight:.1f} kg on a place that should bear {allowed:.1f} kg "
                                                    "(half of its rating)")),
            (True, Case(Verdict.PASS, "{weight:.1f} kg of {allowed:.1f} kg (half of the rating)")),
        ],
        weight=boxes.weight, allowed=allowed, litres=litres, heaviest=heaviest,
        too_heavy=np.nan_to_num(triangular_chance(2 * likely, *PLAUSIBLE_LOAD)),
    )  # fmt: skip


LITRE_WEIGHS: Final = (0.25, 0.42, 0.8)
"""What a loudspeaker weighs for each litre of its outside volume: low, likely, high [kg/l]. From a thin box with one
small woofer to a small one of thick walls; most are 0.35 to 0.6. Common practice, no source."""

PLAUSIBLE_LOAD: Final = (10.0, 40.0, 120.0)
"""What furniture may still bear where nobody knows: low, likely, high [kg]. Common practice, no source."""
