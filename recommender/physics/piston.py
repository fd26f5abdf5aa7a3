"""What one driver radiates: circular pistons, rectangles and horns, each by itself.

Front half space only; angles and sines are those off the driver's own axis.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within

__all__ = [
    "control_frequency",
    "directivity",
    "directivity_of_many",
    "dome_radius",
    "effective_radius",
    "horn",
    "rectangle",
]

LARGEST_ARGUMENT: Final = 400.0
"""Largest ka for which the sums below keep their precision; a 0.5 m cone reaches 185 at 20 kHz."""

CELLS: Final = 256
"""Cells of the table to each unit of ka sin."""

LAST_OF_TABLE: Final = 399
"""Its last argument; what comes after is summed up."""

SIZES: Final = np.array([76.2, 88.9, 101.6, 114.3, 127.0, 133.35, 139.7, 152.4, 165.1, 177.8, 203.2, 254.0]) / 1e3
"""Nominal diameters of cones from 3 to 10 in [m]."""

CONE_AREAS: Final = np.array([28.0, 38, 54, 66, 80, 88, 95, 113, 136, 155, 215, 330]) / 1e4
"""Effective area of a cone of each size [m²]. Typical of data sheets, from memory; baskets differ by 8 %."""

DOME_RATIO: Final = 2.9 / 2.5
"""Effective over nominal diameter of a dome: part of the surround moves too. Typical, from memory."""


def directivity(argument: ArrayLike) -> FloatArray:
    """Return the pressure of a rigid circular piston in a baffle, re its axis; negative past the first null [1].

    argument: ka times the sine of the angle off the axis, up to 400 [1]

    2 J1(x)/x as a sum over strips of the piston: Poisson's integral by Gauss's rule of the second kind, exact to
    rounding once the strips outnumber x by a little. Raises `OutOfRange` beyond 400.

    >>> directivity([0.0, 1.0, 3.0])
    array([1.     , 0.88010, 0.22604])

    Source: Vigran, *Building Acoustics*, eq. 3.51; Abramowitz & Stegun, *Handbook of Mathematical Functions*, eq.
    9.1.20.
    """
    argument = within("ka sin", argument, -LARGEST_ARGUMENT, LARGEST_ARGUMENT, "")
    largest = np.nanmax(np.abs(argument), initial=0.0) if np.any(np.isfinite(argument)) else 0.0
    half = 10 + int(largest) // 2
    angles = np.pi * np.arange(1, half + 1) / (2 * half + 1)
    total = np.zeros_like(argument)
    for weight, place in zip(np.sin(angles) ** 2, np.cos(angles), strict=True):
        total += weight * np.cos(place * argument)
    return np.asarray(total * (4 / (2 * half + 1)))


def directivity_of_many(argument: ArrayLike) -> FloatArray:
    """Return the same as `directivity`, drawn from a table: within 1e-12, for many at once [1].

    argument: ka times the sine of the angle off the axis, up to 400 [1]

    Cubic through the four values around; the error of that is 0.0235 f h^4, and f is 1/8 at most.
    Source: Abramowitz & Stegun, *Handbook of Mathematical Functions*, eq. 25.2.13.
    """
    place = np.abs(np.asarray(argument, dtype=float)) * CELLS
    known = place
    if not (most := float(place.max(initial=0.0)) / CELLS) <= LAST_OF_TABLE:
        within("ka sin", argument, -LARGEST_ARGUMENT, LARGEST_ARGUMENT, "")
        known = np.nan_to_num(place)
        if (most := float(known.max(initial=0.0)) / CELLS) > LAST_OF_TABLE:
            return directivity(argument)
    cell = known.astype(np.intp)
    cubics = _cubics(min(2 ** max(2, int(np.ceil(np.log2(max(most, 1.0))))), LAST_OF_TABLE)).take(cell, axis=0)
    part = np.subtract(place, cell, out=np.empty(np.shape(place)))
    told = cubics[..., 3] * part
    for power in (2, 1, 0):
        told += cubics[..., power]
        if power:
            told *= part
    return np.asarray(told)


@lru_cache(maxsize=8)
def _cubics(reach: int) -> FloatArray:
    """The cubic of each cell up to an argument, lowest power first, [cells, 4]."""
    values = directivity(np.arange(-1, reach * CELLS + 3) / CELLS)
    before, here, after, beyond = (values[step : len(values) - 3 + step] for step in range(4))
    first = after - here / 2 - before / 3 - beyond / 6
    return np.stack([here, first, (before + after) / 2 - here, (beyond - before) / 6 + (here - after) / 2], axis=-1)


def rectangle(half_phase_x: ArrayLike, half_phase_y: ArrayLike = 0.0) -> FloatArray:
    """Return the pressure of a rigid rectangular piston in a baffle, re its axis: sin X/X sin Y/Y [1].

    half_phase_x, half_phase_y: pi f l/c times the direction's component along the side of length l [rad]

    Source: Beranek & Mellow, *Acoustics: Sound Fields, Transducers and Vibration*, 2nd ed., eq. 13.318.
    """
    x, y = np.asarray(half_phase_x, float), np.asarray(half_phase_y, float)
    return np.asarray(np.sinc(x / np.pi) * np.sinc(y / np.pi))


def control_frequency(coverage: ArrayLike, mouth: ArrayLike) -> FloatArray:
    """Return the frequency above which a horn or waveguide holds its coverage angle: 25400/(angle size) [Hz].

    coverage: full angle between the -6 dB points [deg]
    mouth: its size in the same plane [m]

    Source: Keele, "What's so sacred about exponential horns?", AES preprint 1038 (1975) (from memory).
    """
    coverage = within("coverage", coverage, 5.0, 360.0, "deg")
    mouth = within("mouth", mouth, 0.005, 3.0, "m")
    return np.asarray(25400.0 / (coverage * mouth))


def horn(angle: ArrayLike, coverage: ArrayLike, control: ArrayLike, frequency: ArrayLike) -> FloatArray:
    """Return the pressure of a horn or waveguide in one plane, re its axis [1].

    angle: off the axis, taken as 90 behind it [deg]
    coverage: full angle between the -6 dB points [deg]
    control: above it the coverage holds, below it the horn widens as the wave does [Hz]
    frequency: [Hz]

    2^-(2 angle/full angle)^2: a bell through the half-pressure points, exact on the axis and at the stated angle.
    Source: own approximation to the stated -6 dB angles; widening below control as in Keele (1975) (from memory).
    """
    coverage = within("coverage", coverage, 5.0, 360.0, "deg")
    widening = np.maximum(1.0, np.asarray(control, float) / np.maximum(np.asarray(frequency, float), 1e-6))
    bounded = np.minimum(np.abs(np.asarray(angle, float)), 90.0)
    return np.asarray(np.exp2(-((2 * bounded / (coverage * widening)) ** 2)))


def effective_radius(nominal: ArrayLike) -> FloatArray:
    """Return the radius of the piston that a cone of a nominal size works as [m].

    nominal: diameter [m]

    From typical areas between 3 and 10 in, straight lines between; 0.8 of the nominal radius outside.
    Source: typical data sheets (from memory); 0.8 of nominal: common practice, no source.
    """
    nominal = within("nominal size", nominal, 0.005, 1.0, "m")
    tabled = np.interp(nominal, SIZES, np.sqrt(CONE_AREAS / np.pi))
    return np.where((nominal < SIZES[0]) | (nominal > SIZES[-1]), 0.4 * nominal, tabled)


def dome_radius(nominal: ArrayLike) -> FloatArray:
    """Return the radius of the piston that a dome of a nominal size works as [m].

    nominal: diameter of the dome [m]

    Source: a 25 mm dome works as one of about 29 mm: typical data sheets (from memory).
    """
    return np.asarray(within("nominal size", nominal, 0.005, 0.4, "m") * (DOME_RATIO / 2))
