"""The air behind and around a box in furniture, and how its resonance is fed.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within
from triptych.recommender.physics.constants import NANOMETRE, SPEED_OF_SOUND

__all__ = [
    "bay_resonance",
    "cavity_excitation",
    "duct_cavity_resonance",
    "slot_end_correction",
]


class Feed(IntEnum):
    """What of a box could drive the air in its bay."""

    UNKNOWN = -1
    SEALED = 0
    FRONT = 1
    INTO_BAY = 2


def slot_end_correction(width: ArrayLike, height: ArrayLike) -> FloatArray:
    """Return the length that the air outside adds to a rectangular opening in a large wall; 0 without width [m].

    width, height: sides of the opening, small against the wavelength [m]

    The mean over the rectangle of its own Rayleigh integral. The rule of the round opening of equal area comes out
    nearly twice too long for the slots of furniture (30:1).
    Source: Rayleigh, *The Theory of Sound*, vol. 2: mass of a rigid piston in a wall; the integral over a rectangle is
    our own and is checked against numerical integration.
    """
    a, b = within("width", width, 0.0, 10.0, "m"), within("height", height, 0.0, 10.0, "m")
    longer, ratio = np.maximum(a, b), np.minimum(a, b) / np.maximum(np.maximum(a, b), 1e-300)
    return longer * _end_correction_of_unit_slot(ratio)


def _end_correction_of_unit_slot(ratio: FloatArray) -> FloatArray:
    """Return the correction of a slot 1 by `ratio`, from 0 to 1."""
    b = np.where(ratio == 0.0, 1.0, ratio)
    # 1 + b³ − (1 + b²)^1.5, with the ones taken out beforehand: they would swallow the rest for a narrow slot
    remainder = b**3 - np.expm1(1.5 * np.log1p(b**2))
    whole = b * np.arcsinh(b) + b**2 * np.arcsinh(1.0 / b) + remainder / 3.0
    return np.where(ratio == 0.0, 0.0, whole / (np.pi * b))


def duct_cavity_resonance(volume: ArrayLike, area: ArrayLike, length: ArrayLike) -> FloatArray:
    """Return the lowest resonance of a duct that is open at one end and ends in a volume of air [Hz].

    volume: at the inner end; 0 for a duct that is simply closed [m³]
    area: cross-section of the duct [m²]
    length: of the duct with its end corrections [m]

    The lowest root of cot(kL) = kV/S: plane waves in the duct against the springiness of the volume. With x = kL and
    the share p = SL/(SL + V) of the duct in all the air, (1 - p) x sin x - p cos x rises all the way from 0 to a
    quarter wave, so that Newton's rule finds the one root.
    Source: L. E. Kinsler et al., *Fundamentals of Acoustics*, 4th ed., ch. 10: a pipe with a given impedance at its end
    (from memory).
    """
    length = within("length", length, 1e-6, 1e3, "m")
    within_duct = within("area", area, 1e-12, 1e4, "m²") * length
    p = within_duct / (within_duct + within("volume", volume, 0.0, 1e6, "m³"))
    x = np.sqrt(p / (1.0 - p + 4.0 * p / np.pi**2))
    for _ in range(6):
        excess = (1.0 - p) * x * np.sin(x) - p * np.cos(x)
        slope = (1.0 - p) * (np.sin(x) + x * np.cos(x)) + p * np.sin(x)
        x = x - excess / slope
    return np.asarray(SPEED_OF_SOUND * x / (2.0 * np.pi * length))


def bay_resonance(
    bay_width: ArrayLike,
    bay_height: ArrayLike,
    bay_depth: ArrayLike,
    box_width: ArrayLike,
    box_height: ArrayLike,
    box_depth: ArrayLike,
    setback: ArrayLike = 0.0,
) -> FloatArray:
    """Return the lowest resonance of a closed bay with a box standing in it [Hz].

    bay_width, bay_height, bay_depth: clear, to the closed back [m]
    box_width, box_height, box_depth: of the box with its feet [m]
    setback: baffle behind the front edge, negative when it stands proud [m]

    NaN where the box does not fit, leaves no gap at all, or a length is unknown. The air behind the box is the volume
    of `duct_cavity_resonance`; the gap around it, left, right and above, is a duct as long as the part of the box that
    stands in the bay, to which each end adds the correction of a slot of the gap's own width, laid out straight. That
    layout is an approximation of our own: one width stands for gaps that differ, and the air between baffle and front
    edge is left out.
    Source: L. E. Kinsler et al., *Fundamentals of Acoustics*, 4th ed., ch. 10 (from memory).
    """
    inside = np.asarray(box_depth, float) + np.minimum(setback, 0.0)
    behind = np.asarray(bay_depth, float) - np.maximum(setback, 0.0) - inside
    opening = np.asarray(bay_width, float) * np.asarray(bay_height, float)
    gap = opening - np.asarray(box_width, float) * np.asarray(box_height, float)
    fits = (np.asarray(box_width) <= np.asarray(bay_width) + NANOMETRE) & (behind >= -NANOMETRE) & (inside > 0.0)
    fits = fits & (np.asarray(box_height) <= np.asarray(bay_height) + NANOMETRE) & (gap > 1e-9)
    around = np.where(fits, np.asarray(bay_width, float) + 2.0 * np.asarray(box_height, float), np.nan)
    gap = np.where(fits, gap, np.nan)
    length = np.where(fits, inside, np.nan) + 2.0 * slot_end_correction(around, gap / around)
    return duct_cavity_resonance(np.where(fits, np.maximum(behind, 0.0) * opening, np.nan), gap, length)


BAY_BAND = (60.0, 250.0)
"""The band in which a bay's resonance colours voices [Hz]: a working assumption."""

FULL_EXCITATION = (1.0, 3.0, 8.0, np.nan)
"""How far the resonance of a bay rises in the band when fed by a sealed box, by a port in the front, by a port or
radiator that fires into it, and by a box of unknown port [dB]: assumed figures, common practice, no source."""


def cavity_excitation(resonance: ArrayLike, feed: ArrayLike) -> FloatArray:
    """Return the assumed rise at the resonance of a bay, by what feeds it; NaN where either is unknown [dB].

    resonance: of the bay with the box in it; NaN where there is none or it is unknown [Hz]
    feed: what could drive it, a `Feed` [1]

    The figure of `FULL_EXCITATION` from 60 to 250 Hz; outside it falls in a straight line over an octave to 0. The
    figures are assumed, and put the kinds in the order that practice does.
    Source: common practice, no source: no port into a closed bay, a front port or none at all instead.
    """
    kinds = np.asarray(within("feed", feed, -1, 2, "(a Feed)"), int)
    octaves = np.log2(np.asarray(resonance, float))
    outside = np.maximum(np.log2(BAY_BAND[0]) - octaves, octaves - np.log2(BAY_BAND[1]))
    return np.asarray(np.asarray(FULL_EXCITATION)[kinds] * np.clip(1.0 - outside, 0.0, 1.0))
