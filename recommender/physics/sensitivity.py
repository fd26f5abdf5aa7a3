"""What a stated sensitivity means: for volts or watts, and in which field.

The voltage of a sensitivity is 2.83 V exactly as datasheets print it, not the root of 8 V: 1.0011 W into 8 ohm.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triptych.recommender.physics import erb
from triptych.recommender.physics.boundary import baffle_step
from triptych.recommender.physics.checks import FloatArray, OutOfRange

__all__ = ["anechoic_sensitivity", "half_space_step"]

REFERENCE_VOLTAGE: Final = 2.83
"""The voltage that sensitivity is stated for [V]."""

BASIS_OFFSETS = {
    "anechoic": (0.0, 0.0, 0.0),
    "in_room": (-4.0, -3.0, -2.0),
    "half_space": (0.0, 0.0, 0.0),
    "unknown": (-6.0, -3.0, 0.0),
}
"""What to add to a stated sensitivity for its free-field value, by the field it was stated in: low, likely, high [dB].
Common practice, no source; "unknown" spans all the others. A half-space figure is cut by `half_space_step`."""

HALF_SPACE_BANDS: Final = ((200.0, 2000.0), (200.0, 8000.0), (500.0, 8000.0))
"""From where to where a programme that plays low, an even one and one that plays high have their power [Hz]. Speech and
most music are the first; common practice, no source."""

PLAUSIBLE_SIDES: Final = (0.12, 0.25, 0.6)
"""Sides of a baffle that nobody measured: narrow, likely and wide [m]. Common practice, no source."""


class Range(NamedTuple):
    """A quantity that is known within limits."""

    low: FloatArray
    likely: FloatArray
    high: FloatArray


def half_space_step(narrower: ArrayLike = np.nan, wider: ArrayLike = np.nan) -> Range:
    """Return what a figure stated in half space loses in free air: low, likely and high, never above 0 [dB].

    narrower, wider: sides of the box's front; NaN where not stated [m]

    Only below the step of the box's own baffle has half a space given it anything, so the loss is the mean of the step
    over what is played: over 200 Hz to 8 kHz for a front as wide as the geometric mean of its sides; at the low end
    over 200 Hz to 2 kHz and the narrower side, at the high end over 500 Hz to 8 kHz and the wider one.
    Source: H. F. Olson, *J. Audio Eng. Soc.* 17 (1969), for the step (from memory); the bands: common practice.
    """
    stated = np.asarray(narrower, float), np.asarray(wider, float)
    likely = np.sqrt(stated[0] * stated[1])
    fronts = (stated[0], likely, stated[1])
    return Range(*(
        _mean_step(np.where(np.isnan(likely), usual, front), *band)
        for front, usual, band in zip(fronts, PLAUSIBLE_SIDES, HALF_SPACE_BANDS, strict=True)
    ))  # fmt: skip


def _mean_step(width: FloatArray, lowest: float, highest: float) -> FloatArray:
    """The mean of a baffle's step over the ear's bands between two frequencies [dB]."""
    bands = erb.bands()
    inside = bands[(bands >= lowest - 1e-6) & (bands <= highest)]
    return np.asarray(baffle_step(inside, width[..., None]).mean(axis=-1))


def anechoic_sensitivity(
    sensitivity: ArrayLike, basis: str | NDArray[np.str_], narrower: ArrayLike = np.nan, wider: ArrayLike = np.nan
) -> Range:
    """Return what a stated sensitivity may be in a free field: low, likely and high [dB].

    sensitivity: level at 1 m for 2.83 V as stated [dB]
    basis: the field it was stated in: `anechoic`, `in_room`, `half_space` or `unknown` [text]
    narrower, wider: sides of the box's front, for `half_space_step`; NaN where not stated [m]

    Raises `OutOfRange` where a basis is none of these.
    Source: common practice, no source: in-room figures are taken as 3 dB high, within 1 dB.
    """
    names, place = np.unique(np.asarray(basis, str), return_inverse=True)
    if strange := set(names.tolist()) - BASIS_OFFSETS.keys():
        raise OutOfRange(f"basis must be one of {', '.join(BASIS_OFFSETS)}, not {min(strange)!r}")
    offsets = np.array([BASIS_OFFSETS[name] for name in names.tolist()]).reshape(-1, 3)[place.reshape(np.shape(basis))]
    halved = np.asarray(basis, str) == "half_space"
    steps = half_space_step(narrower, wider) if halved.any() else Range(*np.zeros(3))
    return Range(*(
        np.asarray(sensitivity, float) + offsets[..., column] + np.where(halved, step, 0.0)
        for column, step in enumerate(steps)
    ))  # fmt: skip
