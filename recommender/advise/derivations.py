"""How each quantity comes about: its formula, what went into it, where that is from, and the source of the formula."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.advise.advice import Derivation
from triptych.recommender.advise.beside import Option
from triptych.recommender.advise.evaluate import Scene
from triptych.recommender.scene.aiming import free_depth, opening_height, rear_allowance, stood_height
from triptych.recommender.scene.levels import farthest, mains_distances

GEOMETRY: Final = "plane geometry"


@dataclass(frozen=True, slots=True)
class _Way:
    """A formula, the names of its inputs, its source, and what it is worth when all inputs are stated."""

    formula: str
    inputs: tuple[str, ...]
    source: str
    evidence: str = "stated"


WAYS: Final = {
    "elevation_deg": _Way("atan((axis − ear) / distance)", ("axis_m", "ear_m", "distance_m"), GEOMETRY),
    "tilt_needed_deg": _Way("−elevation", ("axis_m", "ear_m", "distance_m"), GEOMETRY),
    "tilt_fits_deg": _Way(
        "largest t with H cos t + D sin t ≤ opening height and D cos t + H sin t ≤ opening depth, 30 deg at most",
        ("height_m", "depth_m", "opening_height_m", "opening_depth_m"),
        GEOMETRY,
    ),
    "residual_deg": _Way("tilt needed − tilt used", ("tilt_needed_deg", "tilt_fits_deg"), GEOMETRY),
    "lift_mm": _Way("D sin t", ("depth_m", "tilt_used_deg"), GEOMETRY),
    "envelope_height_mm": _Way("H cos t + D sin t", ("height_m", "depth_m", "tilt_used_deg"), GEOMETRY),
    "envelope_depth_mm": _Way("D cos t + H sin t", ("height_m", "depth_m", "tilt_used_deg"), GEOMETRY),
    "rear_clearance_mm": _Way(
        "free depth − setback − envelope depth", ("free_depth_m", "setback_m", "envelope_depth_m"), GEOMETRY
    ),
    "setback_mm": _Way("as the room says; flush where it says nothing", ("setback_m",), "the room's survey"),
    "setback_max_mm": _Way(
        "d h / (h + H)", ("distance_m", "axis_above_surface_m", "ear_above_surface_m"), "image source: Kuttruff"
    ),
    "bounce_notch_hz": _Way(
        "c / (2 (r2 − r1)), if the point of reflection lies on the surface",
        ("distance_m", "axis_above_surface_m", "ear_above_surface_m", "setback_m"),
        "image source: Kuttruff",
        "modelled",
    ),
    "cavity_resonance_hz": _Way(
        "lowest root of cot(k L) = k V / S, V the air behind the box, S the gap around it, L its depth with its ends",
        ("place_width_m", "place_height_m", "place_depth_m", "width_m", "height_m", "depth_m"),
        "duct and cavity: Kinsler et al. ch. 10, from memory",
        "modelled",
    ),
    "peak_level_db": _Way(
        "S + 20 log10(V / 2.83) − 20 log10 r + room gain, V = √(P · R), limited by the load and the power rating",
        ("sensitivity_db", "power_w", "into_ohm", "farthest_m", "room_gain_db"),
        "IEC 60268-5, from memory; spherical spreading",
    ),
    "trim_db": _Way(
        "level of the mains − level of the centre at the primary seat, both for 2.83 V",
        ("sensitivity_db", "mains_sensitivity_db", "distance_m", "mains_distance_m"),
        "spherical spreading",
    ),
    "timbre_rms_db": _Way("see the criterion timbre", (), "see the criterion timbre", "modelled"),
    "crossover_hz": _Way(
        "max(80 Hz, 1.3 × F3), up to the next 10 Hz",
        ("low_limit_hz", "low_limit_drop_db"),
        "common practice, no source",
    ),
}
"""Every quantity of the contract that isn't a list."""


def derivations(scene: Scene, option: Option, here: int) -> tuple[Derivation, ...]:
    """The derivations of the quantities of the box at `here` in an option."""
    inputs = _inputs(scene, option, here)
    guessed = bool(option.aim.unknown[here] or option.aim.axis_unknown[here])

    def evidence(way: _Way) -> str:
        resting_on_aim = guessed and {"axis_m", "ear_m", "distance_m", "axis_above_surface_m"} & set(way.inputs)
        missing = any(inputs[name] is None for name in way.inputs if name not in UNLIMITED)
        return "assumed" if resting_on_aim or missing else way.evidence

    return tuple(
        Derivation(name, way.formula, {key: inputs[key] for key in way.inputs}, evidence(way), way.source)
        for name, way in WAYS.items()
    )


UNLIMITED: Final = frozenset({"opening_height_m", "opening_depth_m", "free_depth_m", "place_height_m", "place_width_m"})
"""Inputs that may be missing because the place sets no limit."""


def _inputs(scene: Scene, option: Option, here: int) -> dict[str, float | None]:
    """Every input of every formula for one box."""
    aim, place, boxes, drive = option.aim, option.place, option.boxes.take(np.array([here])), scene.drive
    free, allowance = free_depth(place), float(rear_allowance(boxes)[0])
    alone = aim.take(np.array([here]))
    numbers = {
        "axis_m": aim.axis_height[here],
        "ear_m": aim.ear_height,
        "distance_m": aim.ear_distance[here],
        "height_m": stood_height(boxes)[0],
        "width_m": boxes.width[0],
        "depth_m": boxes.depth[0],
        "opening_height_m": opening_height(place),
        "opening_depth_m": free - place.setback - allowance,
        "tilt_needed_deg": aim.tilt_needed[here],
        "tilt_fits_deg": aim.tilt_fits[here],
        "tilt_used_deg": aim.tilt_used[here],
        "free_depth_m": free,
        "setback_m": place.setback,
        "envelope_depth_m": aim.envelope_depth[here],
        "axis_above_surface_m": aim.axis_height[here] - aim.floor,
        "ear_above_surface_m": aim.ear_height - aim.floor,
        "place_width_m": place.width,
        "place_height_m": place.height,
        "place_depth_m": place.depth,
        "sensitivity_db": np.nan if np.isnan(boxes.sensitivity[0]) else option.levels.sensitivity[here],
        "mains_sensitivity_db": scene.mains.sensitivity[0],
        "power_w": drive.power,
        "into_ohm": drive.into,
        "farthest_m": farthest(alone, scene.seats)[0],
        "mains_distance_m": mains_distances(scene.mains.stands, scene.seats, scene.seats.primary)[0].mean(),
        "room_gain_db": drive.room_gain,
        "low_limit_hz": boxes.low_limit[0],
        "low_limit_drop_db": boxes.low_limit_drop[0],
    }
    return {name: float(value) if np.isfinite(value) else None for name, value in numbers.items()}
