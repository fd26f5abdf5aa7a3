"""How each quantity comes about: its formula, what went into it, where that is from, and the source of the formula."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.advise.advice import Derivation, known
from triptych.recommender.advise.beside import Option
from triptych.recommender.advise.placed import Scene
from triptych.recommender.judge.criteria.definitions import REACH, TIMBRE
from triptych.recommender.judge.criterion import Criterion, CriterionValues
from triptych.recommender.scene.aiming import (
    Aim,
    depth_behind,
    free_depth,
    opening_height,
    rear_allowance,
    stood_height,
)
from triptych.recommender.scene.arrays import Boxes, PlaceFigures, Seats, SensitivityCode
from triptych.recommender.scene.levels import ear_distances, impedance, likely_yielding, lowest_load, mains_distances

GEOMETRY: Final = "plane geometry"


@dataclass(frozen=True, slots=True)
class _Way:
    """A formula, the names of its inputs, its source, and what it is worth when all inputs are stated."""

    formula: str
    inputs: tuple[str, ...]
    source: str
    evidence: str = "stated"


WAYS: Final = {
    "elevation_deg": _Way(
        "atan((axis − ear) / distance), before it is tilted", ("axis_m", "ear_m", "distance_m"), GEOMETRY
    ),
    "tilt_needed_deg": _Way(
        "t = atan((E − up) / √((ahead + back)² + aside²)), the axis being D sin t + A cos t up and A sin t back; "
        "looking down, A cos t up and (H − A) sin |t| back; A and E axis and ear above the surface",
        ("axis_above_surface_m", "ear_above_surface_m", "height_m", "depth_m", "ahead_m", "aside_m"),
        GEOMETRY,
    ),
    "tilt_fits_deg": _Way(
        "largest t with H cos t + D sin t ≤ opening height and D cos t + H sin t ≤ opening depth, and as much as is "
        "allowed, signed as the tilt needed",
        ("height_m", "depth_m", "opening_height_m", "opening_depth_m", "tilt_allowed_deg", "tilt_needed_deg"),
        GEOMETRY,
    ),
    "tilt_used_deg": _Way(
        "the tilt needed, or what fits of it; half of it where nobody measured what fits",
        ("tilt_needed_deg", "tilt_fits_deg"),
        GEOMETRY,
    ),
    "residual_deg": _Way(
        "atan((E − up) / √((ahead + back)² + aside²)) − tilt used, up and back as for the tilt needed, at the tilt "
        "used; nothing where all of it fits",
        (
            "axis_above_surface_m", "ear_above_surface_m", "height_m", "depth_m", "ahead_m", "aside_m",
            "tilt_needed_deg", "tilt_used_deg",
        ),
        GEOMETRY,
    ),
    "lift_mm": _Way("D sin |t|", ("depth_m", "tilt_used_deg"), GEOMETRY),
    "envelope_height_mm": _Way("H cos t + D sin |t|", ("height_m", "depth_m", "tilt_used_deg"), GEOMETRY),
    "envelope_depth_mm": _Way("D cos t + H sin |t|", ("height_m", "depth_m", "tilt_used_deg"), GEOMETRY),
    "rear_clearance_mm": _Way(
        "free depth − setback − envelope depth", ("free_depth_m", "setback_m", "envelope_depth_m"), GEOMETRY
    ),
    "setback_mm": _Way("as the room says; flush where it says nothing", ("setback_m",), "the room's survey"),
    "setback_max_mm": _Way(
        "D h / H, from the surface's front edge, for the box before it is tilted",
        ("from_edge_m", "axis_above_surface_m", "ear_above_surface_m"),
        "image source: Kuttruff",
    ),
    "bounce_notch_hz": _Way(
        "c / (2 (r2 − r1)), r = √(distance² + (H ∓ h)²), if the baffle is set back as far as D h / H, for the box "
        "before it is tilted",
        ("distance_m", "axis_above_surface_m", "ear_above_surface_m", "setback_m", "from_edge_m"),
        "image source: Kuttruff",
        "modelled",
    ),
    "cavity_resonance_hz": _Way(
        "lowest root of cot(k L) = k V / S: V = (place depth − setback − D) · place width · place height, "
        "S = place width · place height − W H, L = D + 2 δ, δ = (a²b asinh(b/a) + ab² asinh(a/b) + (a³ + b³)/3 − "
        "√(a² + b²)³/3) / (π a b), a = place width + 2 H, b = S / a",
        ("place_width_m", "place_height_m", "place_depth_m", "width_m", "height_m", "depth_m", "setback_m"),
        "duct and cavity: Kinsler et al. ch. 10, from memory",
        "modelled",
    ),
    "peak_level_db": _Way(
        "S + 20 log10(V / 2.83) − 20 log10 r + room gain, V = √(P · R) · min(1, Z / lowest load)^yielding, at "
        "most √(power rating · Z); yielding 1 below a stated lowest load, 0.5 where none is stated",
        (
            "sensitivity_db", "power_w", "into_ohm", "lowest_load_ohm", "yielding", "impedance_ohm",
            "power_rating_w", "farthest_m", "room_gain_db",
        ),
        "IEC 60268-5, from memory; spherical spreading",
    ),
    "trim_db": _Way(
        "mains' S − mean of 20 log10 of both ways to the mains − (S − 20 log10 of the way to the centre), both for "
        "2.83 V, straight from axis to ear",
        ("sensitivity_db", "mains_sensitivity_db", "slant_m", "left_slant_m", "right_slant_m"),
        "spherical spreading",
    ),
    "timbre_rms_db": _Way(TIMBRE.formula, (), TIMBRE.source, "modelled"),
    "crossover_hz": _Way(
        "max(80 Hz, 1.3 × F3), up to the next 10 Hz; F3 is the limit at 3 dB, with a bung in 1.6 times that (assumed)",
        ("low_limit_hz", "low_limit_drop_db", "f3_hz"),
        "common practice, no source",
    ),
}  # fmt: skip
"""Every quantity of the contract that isn't a list."""


RESTING_ON_AIM: Final = frozenset({"axis_m", "ear_m", "distance_m", "axis_above_surface_m", "slant_m"})
"""Inputs that are guessed where the axis, the ear or the place isn't measured."""

UNLIMITED: Final = frozenset({
    "opening_height_m", "opening_depth_m", "free_depth_m", "place_height_m", "place_width_m", "power_rating_w",
})  # fmt: skip
"""Inputs that may be missing because nothing sets a limit."""


def derivations(scene: Scene, option: Option, here: int) -> tuple[Derivation, ...]:
    """The derivations of the quantities of the box at `here` in an option."""
    inputs = _inputs(scene, option, here)
    guessed = bool(option.aim.guessed[here] or option.aim.axis_unknown[here])
    assumed = _assumed(scene, option, here)

    def evidence(name: str, way: _Way) -> str:
        missing = any(inputs[key] is None for key in way.inputs if key not in UNLIMITED)
        resting = guessed and RESTING_ON_AIM & set(way.inputs)
        return "assumed" if missing or resting or name in assumed else way.evidence

    told = {name: {key: inputs[key] for key in way.inputs} for name, way in WAYS.items()}
    kept = int(np.searchsorted(option.kept, here))
    told["timbre_rms_db"] = {
        f"{name}_db": known(values[kept])
        for name, values in _criterion(option, TIMBRE).numbers.items()
        if name != "voicing_share"
    }
    return tuple(
        Derivation(name, way.formula, told[name], evidence(name, way), way.source) for name, way in WAYS.items()
    )


def _assumed(scene: Scene, option: Option, here: int) -> set[str]:
    """Quantities of a box that rest on a figure which nobody stated, though none is missing."""
    boxes, stands = option.boxes, scene.mains.stands
    converted = int(boxes.basis[here]) not in (SensitivityCode.ANECHOIC, SensitivityCode.TAKEN)
    loads = bool(np.isnan(boxes.impedance_nominal[here]) or np.isnan(scene.drive.lowest_load))
    mains = not (bool(stands.axis_stated[0]) and stands.wall_stated)
    limit = _criterion(option, REACH).evidence_of(int(np.searchsorted(option.kept, here))) == "assumed"
    doubtful = {
        "peak_level_db": converted or loads or bool(np.isnan(scene.drive.room_gain)),
        "trim_db": converted or mains,
        "crossover_hz": limit or float(boxes.low_limit_drop[here]) != 3.0,
    }
    return {name for name, here_too in doubtful.items() if here_too}


def _criterion(option: Option, criterion: Criterion) -> CriterionValues:
    return next(values for values in option.criteria if values.criterion is criterion)


def seat_derivations(scene: Scene, option: Option, here: int) -> tuple[Derivation, ...]:
    """How the angle of each seat in the frame of the box comes about, and where it cancels; named as the seats are."""
    aim, seats = option.aim.take(np.array([here])), scene.seats
    formula = (
        "asin(x / √(x² + y² + z²)), y and z ahead of and above the axis as the box is tilted; two drivers d apart side "
        "by side cancel at c / (2 d sin angle) far away, told by the exact ways as c / (2 |r1 − r2|)"
    )
    return tuple(
        Derivation(
            name,
            formula,
            {
                "x_m": float(seats.x[seat]),
                "y_m": float(seats.distance[seat] - aim.tilted_front[0]),
                "z_m": float(seats.ear_height[seat] - aim.tilted_height[0]),
            },
            "assumed" if aim.axis_unknown[0] or aim.guessed[0] or not seats.ear_stated[seat] else "stated",
            GEOMETRY,
        )
        for seat, name in enumerate(seats.name)
    )


def _inputs(scene: Scene, option: Option, here: int) -> dict[str, float | None]:
    """Every input of every formula for one box."""
    alone, seats = np.array([here]), scene.seats
    aim, boxes, place = option.aim.take(alone), option.boxes.take(alone), option.place
    numbers = {
        **_geometry(aim, boxes, place, seats),
        **_loudness(scene, option, here),
        "low_limit_hz": boxes.low_limit[0],
        "low_limit_drop_db": boxes.low_limit_drop[0],
        "f3_hz": _criterion(option, REACH).numbers["f3"][int(np.searchsorted(option.kept, here))],
    }
    return {name: known(value) for name, value in numbers.items()}


def _geometry(aim: Aim, boxes: Boxes, place: PlaceFigures, seats: Seats) -> dict[str, float]:
    """Lengths and angles of one box where it stands [m, deg]."""
    free = float(depth_behind(boxes, place)[0])
    return {
        "axis_m": aim.axis_height[0],
        "ear_m": aim.ear_height,
        "distance_m": aim.ear_distance[0],
        "ahead_m": seats.distance[seats.primary] - aim.baffle[0],
        "aside_m": seats.x[seats.primary],
        "from_edge_m": seats.distance[seats.primary] - place.front,
        "height_m": stood_height(boxes)[0],
        "width_m": boxes.width[0],
        "depth_m": boxes.depth[0],
        "opening_height_m": opening_height(place),
        "opening_depth_m": free_depth(place) - place.setback - float(rear_allowance(boxes)[0]),
        "tilt_needed_deg": aim.tilt_needed[0],
        "tilt_fits_deg": aim.tilt_fits[0],
        "tilt_allowed_deg": aim.tilt_allowed,
        "tilt_used_deg": aim.tilt_used[0],
        "free_depth_m": free,
        "setback_m": place.setback,
        "envelope_depth_m": aim.envelope_depth[0],
        "axis_above_surface_m": aim.axis_height[0] - aim.floor[0],
        "ear_above_surface_m": aim.ear_height - aim.floor[0],
        "place_width_m": place.width,
        "place_height_m": place.height,
        "place_depth_m": place.depth,
    }


def _loudness(scene: Scene, option: Option, here: int) -> dict[str, float]:
    """What peaks and trim are made of [dB, W, ohm, m]."""
    alone, drive, seats = np.array([here]), scene.drive, scene.seats
    boxes = option.boxes.take(alone)
    ways = ear_distances(option.aim.take(alone), seats)[0]
    left, right = mains_distances(scene.mains.stands, seats, seats.primary)[0]
    return {
        "sensitivity_db": np.nan if np.isnan(boxes.sensitivity[0]) else option.levels.sensitivity[here],
        "mains_sensitivity_db": scene.mains.sensitivity[0],
        "power_w": drive.power,
        "into_ohm": drive.into,
        "lowest_load_ohm": lowest_load(drive),
        "yielding": likely_yielding(drive),
        "impedance_ohm": impedance(boxes, drive)[0],
        "power_rating_w": boxes.power_handling[0],
        "room_gain_db": drive.room_gain,
        "farthest_m": ways[seats.regular].max(),
        "slant_m": ways[seats.primary],
        "left_slant_m": left,
        "right_slant_m": right,
    }
