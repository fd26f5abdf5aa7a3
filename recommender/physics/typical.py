"""Typical values that stand in for what a data sheet leaves out. Common practice; always flagged *assumed*."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np

from triptych.recommender.physics.checks import FloatArray

TWEETER_SIZE: Final[Mapping[str | None, float]] = MappingProxyType(
    {"dome": 0.025, "waveguide_dome": 0.025, "horn": 0.025, "ribbon": 0.07, "folded_ribbon": 0.05, "ring": 0.025,
     "cone": 0.06, None: 0.025}
)  # fmt: skip
"""Diameter, or longer side of a ribbon, by tweeter type [m]."""

RIBBON_SHAPE: Final[Mapping[str, float]] = MappingProxyType({"ribbon": 0.15, "folded_ribbon": 0.6})
"""Shorter over longer side of a ribbon [1]."""

HORN_COVERAGE: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {"horn": (90.0, 60.0), "waveguide_dome": (100.0, 100.0)}
)
"""Horizontal and vertical coverage of horns and waveguides [deg]."""

HORN_MOUTH: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {"horn": (0.8, 0.25), "waveguide_dome": (0.7, 0.15)}
)
"""Mouth as a part of the baffle's narrower side [1], and at most [m]."""

FACEPLATE: Final = 0.1
"""Least frame of a dome or ring tweeter [m]."""

FRAME: Final = 1.05
"""Frame over nominal size of a cone driver [1]."""

FRAME_GAP: Final = 0.015
"""Baffle between two frames [m]."""

BAFFLE_MARGIN: Final = 0.012
"""Baffle between a frame and the edge of the box [m]."""

MIDRANGE_SIZE: Final = 0.1
"""Midrange of a three-way [m]."""

SHORT_SIDE: Final = 0.22
"""Narrower side of a baffle of unknown size [m]."""

TWEETER_CROSSOVER: Final[Mapping[str | None, float]] = MappingProxyType(
    {"horn": 1600.0, "waveguide_dome": 1800.0, "ribbon": 3000.0, "folded_ribbon": 2800.0, "cone": 3000.0}
)
"""Crossover to the tweeter where its type says something [Hz]."""

TYPICAL_CROSSOVERS: Final[Mapping[str, tuple[float, ...]]] = MappingProxyType(
    {"TM": (2400.0,), "TW": (2400.0,), "TB": (2000.0,), "MW": (400.0,), "MB": (300.0,), "WB": (120.0,),
     "TMW": (400.0, 2600.0), "TMB": (300.0, 2600.0), "TWB": (120.0, 2400.0), "MWB": (120.0, 400.0),
     "TMWB": (120.0, 400.0, 2600.0)}
)  # fmt: skip
"""Crossovers by the bands that occur, lowest first [Hz]: middles of the ranges in trade use."""

ORDER: Final = 4
"""Acoustic order of a crossover."""


def woofer_size(narrower_side: FloatArray) -> FloatArray:
    """Size of the woofer that fills a baffle of this width [m]."""
    return np.asarray(np.clip(0.85 * (np.where(np.isnan(narrower_side), SHORT_SIDE, narrower_side) - 0.02), 0.07, 0.25))


def crossovers(bands: str, tweeter_type: str | None) -> FloatArray:
    """Crossovers of a loudspeaker with these bands, lowest first [Hz]."""
    key = "".join(letter for letter in "TMWB" if letter in bands)
    found = np.array(TYPICAL_CROSSOVERS.get(key, ()))
    if found.size and "T" in key:
        found[-1] = TWEETER_CROSSOVER.get(tweeter_type, found[-1])
    return found
