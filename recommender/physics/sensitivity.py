"""What a stated sensitivity means: for volts or watts, and in which field.

The voltage of a sensitivity is 2.83 V exactly as datasheets print it, not the root of 8 V: 1.0011 W into 8 ohm.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triptych.recommender.physics.checks import FloatArray, OutOfRange

__all__ = ["anechoic_sensitivity"]

REFERENCE_VOLTAGE: Final = 2.83
"""The voltage that sensitivity is stated for [V]."""

BASIS_OFFSETS = {
    "anechoic": (0.0, 0.0, 0.0),
    "in_room": (-4.0, -3.0, -2.0),
    "half_space": (-6.0, -4.5, -3.0),
    "unknown": (-6.0, -3.0, 0.0),
}
"""What to add to a stated sensitivity for its free-field value, by the field it was stated in: low, likely, high [dB].
Common practice, no source; "unknown" spans all the others."""


class Range(NamedTuple):
    """A quantity that is known within limits."""

    low: FloatArray
    likely: FloatArray
    high: FloatArray


def anechoic_sensitivity(sensitivity: ArrayLike, basis: str | NDArray[np.str_]) -> Range:
    """Return what a stated sensitivity may be in a free field: low, likely and high [dB].

    sensitivity: level at 1 m for 2.83 V as stated [dB]
    basis: the field it was stated in: `anechoic`, `in_room`, `half_space` or `unknown` [text]

    Raises `OutOfRange` where a basis is none of these.
    Source: common practice, no source: in-room figures are taken as 3 dB high, within 1 dB; half-space as 3 to 6 dB
    high.
    """
    names, place = np.unique(np.asarray(basis, str), return_inverse=True)
    if strange := set(names.tolist()) - BASIS_OFFSETS.keys():
        raise OutOfRange(f"basis must be one of {', '.join(BASIS_OFFSETS)}, not {min(strange)!r}")
    offsets = np.array([BASIS_OFFSETS[name] for name in names.tolist()]).reshape(-1, 3)[place.reshape(np.shape(basis))]
    return Range(*(np.asarray(sensitivity, float) + offsets[..., column] for column in range(3)))
