"""What a floor gives back of the sound that falls on it."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics import erb
from triptych.recommender.physics.checks import FloatArray, within

__all__ = ["given_back"]

OCTAVES: Final = (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0)
"""Where tables of absorption state it [Hz]."""

ABSORPTION: Final = MappingProxyType(
    {
        "unknown": ((0.0,) * 6, (1.0,) * 6),
        "hard": ((0.01, 0.01, 0.01, 0.01, 0.02, 0.02), (0.15, 0.11, 0.10, 0.07, 0.06, 0.07)),
        "carpet": ((0.01, 0.05, 0.10, 0.20, 0.45, 0.65), (0.08, 0.24, 0.57, 0.69, 0.71, 0.73)),
    }
)
"""Share of the power that a floor takes, in octaves: the least and the most that one of its kind does [1].

Hard: from marble or glazed tiles to boards on joists. Carpet: from a thin one on concrete to a heavy one on foam. They
are for sound from all sides; that a bounce is taken as such is an approximation of our own. Unknown: from a rigid one
to none, since a rug, a table or feet may take all that goes there.
Source: tables of absorption as M. D. Egan, *Architectural Acoustics*, reprints them (from memory).
"""


def given_back(absorption: ArrayLike) -> FloatArray:
    """Return the part of the pressure that a surface gives back in the ear's bands, [..., B] [1].

    absorption: share of the power that it takes, at `OCTAVES`, [..., 6] [1]

    The root of 1 - absorption, straight over the logarithm of frequency between octaves and level beyond them.
    Source: H. Kuttruff, *Room Acoustics*, absorption and reflection factor (from memory).
    """
    kept = np.sqrt(1.0 - within("absorption", absorption, 0.0, 1.0, ""))
    places = np.interp(np.log2(erb.bands()), np.log2(OCTAVES), np.arange(len(OCTAVES)))
    first = np.minimum(places.astype(int), len(OCTAVES) - 2)
    share = places - first
    return np.asarray(kept[..., first] * (1 - share) + kept[..., first + 1] * share)
