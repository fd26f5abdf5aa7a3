"""How long a loudspeaker cable gets and how thick it should be, from positions; common practice throughout."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, pi
from typing import Final

from triptych.recommender.physics.wire import area_needed

WIRE_SECTIONS: Final = (0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0)
"""Usual cross sections [mm²]."""

GAUGES: Final = (18, 16, 14, 12, 10, 8)
"""Usual American wire gauges."""

SPARE: Final = 1.0
"""Left over at the ends for pulling a box out [m]. Common practice."""

TERMINALS_HEIGHT: Final = 0.3
"""Height of a floor-standing main's terminals [m]. Common practice."""

ASSUMED_IMPEDANCE: Final = 4.0
"""What a loudspeaker is taken to be where nobody states its impedance [ohm]."""


@dataclass(frozen=True, slots=True)
class Run:
    """One cable: to what, its length [m], the impedance it feeds [ohm], and whether that was stated."""

    to: str
    length: float
    ohm: float
    stated: bool

    @property
    def area(self) -> float:
        """The thinnest usual cross section that is enough [mm²]."""
        return next((area for area in WIRE_SECTIONS if area >= area_needed(self.length, self.ohm)), WIRE_SECTIONS[-1])

    @property
    def gauge(self) -> int:
        """The thinnest usual American gauge that is enough."""
        return next((n for n in GAUGES if gauge_area(n) >= area_needed(self.length, self.ohm)), GAUGES[-1])

    @property
    def enough(self) -> bool:
        """Whether the thickest usual cable is enough for it."""
        return area_needed(self.length, self.ohm) <= WIRE_SECTIONS[-1]


def gauge_area(gauge: int) -> float:
    """Return the cross section of an American wire gauge [mm²]: ASTM B258, from memory.

    Examples
    --------
    >>> round(gauge_area(14), 2)
    2.08
    """
    diameter = 0.127 * float(92 ** ((36 - gauge) / 39))
    return pi / 4 * diameter**2


def run(to: str, length: float, nominal: float | None, minimum: float | None) -> Run:
    """Return a cable of a length rounded up to half a metre, for what a datasheet says of the impedance."""
    ohm = nominal if nominal is not None else None if minimum is None else minimum / 0.8
    return Run(to, ceil(2 * length - 1e-9) / 2, ASSUMED_IMPEDANCE if ohm is None else ohm, ohm is not None)


def centre_length(place_width: float | None, depth: float) -> float:
    """Return the way from an amplifier in or under the same place to the centre's terminals, with its spare [m]."""
    return min(place_width if place_width is not None else 1.0, 2.0) / 2 + depth + SPARE


def main_length(spacing: float, from_wall: float, base: float) -> float:
    """Return the way from the same amplifier down to the floor, along the wall, and out to a main [m]."""
    return base + spacing / 2 + from_wall + TERMINALS_HEIGHT + SPARE
