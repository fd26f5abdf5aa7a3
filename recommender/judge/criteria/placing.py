"""What the place makes of a centre: aim and surroundings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from triptych.recommender.judge.criteria.definitions import AIM, SURROUNDINGS
from triptych.recommender.judge.criterion import CriterionValues, criterion_values
from triptych.recommender.physics import bounce as bouncing
from triptych.recommender.physics import boundary, cavity, erb, geometry, reflection, screen
from triptych.recommender.scene.aiming import (
    FEET_AT_MOST,
    LIKELY_HEIGHT,
    Aim,
    elevation_range,
    residual_range,
    stood_height,
)
from triptych.recommender.scene.arrays import Boxes, FloatArray, Picture, PlaceFigures, Port, Seats, Stands
from triptych.recommender.scene.boundaries import MAINS_AXIS, furniture_fronts
from triptych.recommender.scene.levels import mains_distances

BOUNCE_GRID: Final = np.geomspace(170.0, 9000.0, 240)
"""Frequencies at which a bounce is computed before it is smoothed [Hz]."""

SURFACES: Final = frozenset({"cavity", "open_shelf", "top"})
"""Kinds of place with a surface that goes on in front of a baffle that is set back."""


def aim_left(aim: Aim, stands: Stands, seats: Seats) -> FloatArray:
    """The likely angle that is left between every mains and every centre [deg], mains x centres."""
    apart = np.abs(_heights_apart(aim.tilted_height, aim, stands, seats, MAINS_AXIS[1]))
    return np.hypot(aim.likely_residual, np.maximum(apart, from_above(np.abs(aim.elevation))))


RISES_FROM: Final = 15.0
"""Up to here a tilt cures an elevation [deg]. Common practice, no source; beyond 20 deg nobody puts a centre who has
another place for it, tilted or not, as voices come from there and not from the picture."""

RISE: Final = AIM.worst / (20.0 - RISES_FROM)
"""So much each degree beyond counts, for the end of the scale to be where the trade's limit is [1]."""


def from_above(elevation: FloatArray) -> FloatArray:
    """What an elevation costs beside any mains and at any tilt, as an angle between them [deg]."""
    return np.asarray(RISE * np.maximum(np.nan_to_num(elevation) - RISES_FROM, 0.0))


def aim_of(boxes: Boxes, aim: Aim, stands: Stands, seats: Seats) -> CriterionValues:
    """Residual elevation and the height difference to every mains, seen from the primary seat [deg].

    Where the ear or the distance was assumed, from the least to the most at the ends of what they may plausibly be; the
    likely is no better than the middle of them.
    """
    values = _aim_there(boxes, aim, stands, seats)
    if not aim.ends:
        return values
    ends = [_aim_there(boxes, end, stands, seats) for end in aim.ends]
    told = np.stack([end.value for end in ends])
    return replace(
        values,
        value=np.where(aim.unknown, values.value, np.maximum(values.value, (told.min(axis=0) + told.max(axis=0)) / 2)),
        low=np.minimum(values.low, np.min([end.low for end in ends], axis=0)),
        high=np.maximum(values.high, np.max([end.high for end in ends], axis=0)),
        stated=np.where(aim.assumed, 0.0, values.stated),
    )


def _aim_there(boxes: Boxes, aim: Aim, stands: Stands, seats: Seats) -> CriterionValues:
    box_height = np.where(np.isnan(boxes.height), LIKELY_HEIGHT, boxes.height)
    lowest_axis = np.where(aim.axis_unknown, aim.floor, aim.tilted_height)
    highest_axis = np.where(aim.axis_unknown, aim.floor + box_height, aim.tilted_height)
    highest_axis = highest_axis + np.where(np.isnan(boxes.feet), FEET_AT_MOST, 0.0)
    on_feet = replace(stands, axis_height=stands.axis_height + stands.feet)
    ends = np.stack([
        _heights_apart(axis, aim, mains, seats, height)
        for axis in (lowest_axis, highest_axis)
        for mains, height in ((stands, MAINS_AXIS[0]), (on_feet, MAINS_AXIS[2]))
    ])  # fmt: skip
    crossing = ends.min(axis=0) * ends.max(axis=0) < 0
    least_rise, most_rise = (from_above(end) for end in _elevation_ends(boxes, aim, box_height))
    least_apart = np.maximum(np.where(crossing, 0.0, np.abs(ends).min(axis=0)), least_rise)
    most_apart = np.maximum(np.abs(ends).max(axis=0), most_rise)
    residual, harsh = np.abs(aim.residual), np.abs(aim.residual_on_feet)
    fits = np.where(np.isnan(aim.tilt_fits), aim.tilt_allowed, np.abs(aim.tilt_fits))
    untilted = np.maximum(np.abs(aim.tilt_needed) - aim.tilt_allowed, 0.0)
    lowest, highest = residual_range(boxes, aim, fits)
    least = np.where(aim.axis_unknown, lowest, np.where(aim.untried, untilted, residual))
    most = np.where(aim.axis_unknown, highest, harsh)
    flat = np.where(aim.axis_unknown, elevation_range(boxes, aim)[1], np.abs(aim.elevation))
    most = np.where(aim.untried, flat, most)
    apart = np.abs(_heights_apart(aim.tilted_height, aim, stands, seats, MAINS_AXIS[1]))
    rise = from_above(np.abs(aim.elevation))
    stated = np.where(boxes.axis_stated, 0.5, 0.0) + np.where(stands.axis_stated, 0.5, 0.0)[:, None]
    values = criterion_values(
        AIM,
        aim_left(aim, stands, seats),
        np.where(aim.unknown, AIM.best, np.hypot(least, least_apart)),
        np.where(aim.unknown, AIM.worst, np.hypot(most, most_apart)),
        np.where(aim.unknown, 0.0, stated),
        "stated",
        "",
        residual=aim.likely_residual,
        apart=apart,
        feet=harsh - residual,
        from_ear=np.abs(aim.elevation),
        rise=rise,
    )
    said = (
        aim.likely_residual >= LEAST_TILT_TOLD / 2,
        harsh - residual >= LEAST_TILT_TOLD,
        (rise > apart) & ~aim.unknown,
    )
    bits = np.stack([np.broadcast_to(one, values.value.shape) for one in said])
    remark = np.tensordot(1 << np.arange(len(said)), bits, axes=1).astype(np.intp)
    return replace(values, remark=remark, remarks=AIM_WORDS)


LEAST_TILT_TOLD: Final = 0.1
"""So much of what feet take off the tilt is told [deg]."""

UNSTATED_FEET: Final = "; feet that nobody stated may take {feet:.1f} deg of the tilt, of which half is counted"

FROM_ABOVE: Final = (
    "; its axis is {from_ear:.1f} deg from the ear: beyond 15 deg voices come from there whatever its tilt, which "
    "counts as {rise:.1f} deg"
)

AIM_WORDS: Final = tuple(
    f"{left}, {{apart:.1f}} deg between its axis and the mains'{feet}{high}"
    for high in ("", FROM_ABOVE)
    for feet in ("", UNSTATED_FEET)
    for left in ("it points at the ear", "{residual:.1f} deg left to the ear after the tilt that fits")
)
"""What is told of an aim: what is left of it, unstated feet and a height that no tilt cures, each where it is so."""


def _elevation_ends(boxes: Boxes, aim: Aim, box_height: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The least and the largest elevation [deg] where the axis or the feet of a box aren't stated."""
    lowest = np.where(aim.axis_unknown, aim.floor, aim.axis_height)
    highest = np.where(aim.axis_unknown, aim.floor + box_height, aim.axis_height)
    highest = highest + np.where(np.isnan(boxes.feet), FEET_AT_MOST, 0.0)
    low, high = (geometry.elevation(axis, aim.ear_height, aim.ear_distance) for axis in (lowest, highest))
    least = np.where(low * high < 0, 0.0, np.minimum(np.abs(low), np.abs(high)))
    return least, np.maximum(np.abs(low), np.abs(high))


def _heights_apart(axis_height: FloatArray, aim: Aim, stands: Stands, seats: Seats, untold: float) -> FloatArray:
    """How much higher the axis of every centre is than that of every mains, which is `untold` where nobody stated it.

    The mean of left and right as the ear sees them, [deg], mains x centres.
    """
    on_a_level = replace(stands, axis_height=np.full(len(stands.axis_height), np.nan))
    height = np.where(np.isnan(stands.axis_height), untold, stands.axis_height)
    left, right = (
        geometry.height_difference_angle(
            axis_height, aim.tilted_distance, height[:, None], along[:, None], aim.ear_height
        )
        for along in mains_distances(on_a_level, seats, seats.primary).T
    )
    return np.asarray((left + right) / 2)


def bounces(place: PlaceFigures) -> bool:
    """Whether there is a surface in front of a baffle here that could reflect."""
    return place.kind in SURFACES and place.setback > 0


def bounce_elevation(aim: Aim) -> FloatArray:
    """The angle below each tilted box's own axis at which sound leaves for the surface, as an elevation [deg]."""
    below = reflection.bounce_angle(aim.tilted_height - aim.floor, aim.ear_height - aim.floor, aim.tilted_distance)
    return np.asarray(-np.nan_to_num(below) - aim.tilt_used)


def _over_the_surface(place: PlaceFigures, aim: Aim) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Axis of each tilted box and ear above the surface, the way between in plan, and how much of it is on it [m]."""
    ahead = np.sqrt(aim.tilted_distance**2 - aim.aside**2)
    behind = place.setback + aim.baffle - aim.tilted_front
    ear = aim.ear_height - aim.floor
    return aim.tilted_height - aim.floor, ear, aim.tilted_distance, behind * aim.tilted_distance / ahead


def heard_notch(place: PlaceFigures, aim: Aim) -> FloatArray:
    """The first notch that the surface in front of each tilted box makes at the primary ear; NaN where none [Hz]."""
    if not bounces(place):
        return np.full(len(aim.tilted_height), np.nan)
    source, ear, distance, surface = _over_the_surface(place, aim)
    notch = reflection.notch_frequency(reflection.path_difference(source, ear, distance))
    there = reflection.bounce_exists(source, ear, distance, surface) & ~(aim.guessed | aim.axis_unknown)
    return np.where(there, notch, np.nan)


def bounce(boxes: Boxes, place: PlaceFigures, aim: Aim, directivity: FloatArray) -> FloatArray:
    """The largest deviation that the surface in front of each tilted box makes at the primary seat [dB].

    `directivity` is what each box sends towards the surface less what it sends to the ear, in ERB bands [dB].
    """
    if not bounces(place):
        return np.zeros(len(boxes))
    scale = np.log(BOUNCE_GRID)
    sent = np.array([np.interp(scale, np.log(erb.bands()), row) for row in directivity])
    source, ear, distance, surface = _over_the_surface(place, aim)
    response = bouncing.bounce_response(
        BOUNCE_GRID[None, :],
        source[:, None],
        ear[:, None],
        distance[:, None],
        directivity=sent,
        setback=surface[:, None],
    )
    return np.asarray(bouncing.bounce_ripple(BOUNCE_GRID, response).largest)


def bay_resonance(boxes: Boxes, place: PlaceFigures) -> FloatArray:
    """The resonance of the air behind each box in a bay with the gap around it [Hz]; NaN where there is none."""
    if place.kind != "cavity" or place.back == "open":
        return np.full(len(boxes), np.nan)
    return cavity.bay_resonance(
        place.width, place.height, place.depth, boxes.width, stood_height(boxes), boxes.depth, setback=place.setback
    )


def feeds(boxes: Boxes, closed_bay: bool) -> FloatArray:
    """How each box feeds the air of a bay, as codes of `cavity.Feed`; a bung that the port gate asks for is in.

    Where nobody says whether there is one, a closed bay takes the box with it or not at all.
    """
    bung = boxes.bung | (boxes.bung_unknown & closed_bay)
    plugged = bung & ~boxes.radiator & ((boxes.port == Port.REAR) | (boxes.port == Port.SIDE))
    return np.select(
        [plugged, boxes.port == Port.UNKNOWN, boxes.port == Port.NONE, boxes.port == Port.FRONT],
        [cavity.Feed.SEALED, cavity.Feed.UNKNOWN, cavity.Feed.SEALED, cavity.Feed.FRONT],
        cavity.Feed.INTO_BAY,
    )


USUAL_BAY: Final = 0.7
"""Width of a bay until somebody measures it [m]. Assumed."""


def furniture(
    boxes: Boxes, place: PlaceFigures, places: Sequence[PlaceFigures] = ()
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What the front around a box in a bay adds, against mains in free air: least, likely, most [dB rms].

    Level-aligned. One figure where the room says how wide the front of the furniture is; else the likely is the root of
    the mean square of what the narrowest and the widest add. It depends on a box's width alone, so a short table does.
    """
    if place.kind != "cavity":
        nothing = np.zeros(len(boxes))
        return nothing, nothing, nothing
    widths = np.linspace(0.1, max(USUAL_BAY if np.isnan(place.width) else place.width, 0.2), 24)
    fronts = np.array(furniture_fronts(place, places))[[0, -1]]
    gain = boundary.furniture_gain(BOUNCE_GRID, widths[:, None], fronts[:, None, None])
    rms = bouncing.bounce_ripple(BOUNCE_GRID, gain).rms
    least, most = (np.nan_to_num(np.interp(boxes.width, widths, one)) for one in rms)
    return least, np.sqrt((least**2 + most**2) / 2), most


def surroundings(
    boxes: Boxes,
    place: PlaceFigures,
    aim: Aim,
    picture: Picture,
    spacing: float,
    directivity: FloatArray,
    places: Sequence[PlaceFigures] = (),
) -> CriterionValues:
    """Bounce, bay resonance, the front around the box, and a screen before the centre alone, added as squares [dB].

    `spacing` is that of the mains, which may be behind the screen too [m]; `places` are all of the room, of which one
    may be the top of the same furniture.
    """
    ripple, notch = bounce(boxes, place, aim, directivity), heard_notch(place, aim)
    fronts = furniture(boxes, place, places)
    resonance = bay_resonance(boxes, place)
    feed = feeds(boxes, place.closed_bay)
    roused = _roused(resonance, feed, place)
    fabrics = screen_mismatch(place, picture, spacing)
    low, likely, high = (
        np.sqrt(ripple**2 + fabric**2 + front**2 + bay**2)
        for fabric, front, bay in zip(fabrics, fronts, roused, strict=True)
    )
    values = criterion_values(
        SURROUNDINGS,
        likely,
        low,
        high,
        np.where(boxes.port == Port.UNKNOWN, 0.5, 1.0) if place.kind == "cavity" else 1.0,
        "modelled",
        "bounce {ripple:.1f} dB, bay {bay:.1f} dB, front around it {front:.1f} dB, screen {fabric:.1f} dB",
        ripple=ripple,
        bay=roused[1],
        front=fronts[1],
        fabric=fabrics[1],
        notch=notch,
    )
    return replace(values, remark=np.isfinite(notch).astype(np.intp), remarks=("", WITH_NOTCH))


WITH_NOTCH: Final = "; the bounce of the box as it is tilted has its first notch at {notch:.0f} Hz"


def _roused(resonance: FloatArray, feed: FloatArray, place: PlaceFigures) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What each box rouses in the bay, at least, likely and at most [dB].

    Where its port isn't known the likely is the middle. A bay that isn't measured resonates where it does most; one
    whose back may be open may do nothing.
    """
    unknown, bay = feed == cavity.Feed.UNKNOWN, place.kind == "cavity" and place.back != "open"
    unmeasured = np.isnan(resonance) & bay
    worst = np.where(unmeasured, BAY_AT_WORST, resonance)
    least, most = (
        np.nan_to_num(cavity.cavity_excitation(worst, np.where(unknown, end, feed)))
        for end in (cavity.Feed.SEALED, cavity.Feed.INTO_BAY)
    )
    return np.where(place.back == "unknown", 0.0, least), np.where(unmeasured, most, (least + most) / 2), most


BAY_AT_WORST: Final = 120.0
"""A resonance in the middle of the band in which a bay is roused most [Hz]; see `physics.cavity.BAY_BAND`."""


def screen_mismatch(place: PlaceFigures, picture: Picture, spacing: float) -> tuple[float, float, float]:
    """What a woven screen takes from the centre alone, at least, likely and at most [dB rms].

    Nothing where the mains are behind it too; where nobody said how wide it is they may be, or not.
    """
    if place.kind != "behind_screen" or spacing <= picture.width:
        return 0.0, 0.0, 0.0
    alone = float(np.std(screen.screen_mismatch(screen.woven_loss(BOUNCE_GRID), mains_behind=False)))
    return (0.0, alone / np.sqrt(2.0), alone) if np.isnan(picture.width) else (alone, alone, alone)
