"""What the contract says of one centre in one place, worked out by hand: plain Python, one number at a time.

Nothing here comes from the product, and nothing from the other oracle (`physics/oracle.py`, which turns points by
matrices in one kind of place). It was written from the contract before the product's own geometry was read. Boxes are
turned by their corners, angles are found by halving intervals, drivers are summed with their phases and filters. What
it gives is closed form, not published. Lengths in m, angles in deg, levels in dB.
"""

from __future__ import annotations

from cmath import exp
from dataclasses import dataclass
from functools import lru_cache
from math import asin, asinh, atan2, cos, degrees, dist, hypot, log10, pi, radians, sin, sqrt, tan

C = 343.2
Point = tuple[float, float, float]
"""To the right, from the front wall, above the floor; in the frame of a box to the right, out of the front, up."""


@dataclass(frozen=True)
class Driver:
    """A cone on the front, right and up of the acoustic axis; `way` counts from the lowest."""

    right: float
    up: float
    radius: float
    way: int


@dataclass(frozen=True)
class Box:
    """A box on its feet, with what its datasheet states."""

    width: float
    height: float
    depth: float
    axis: float
    rear: float
    drivers: tuple[Driver, ...]
    crossovers: tuple[float, ...]
    order: int
    sensitivity: float
    impedance: float
    rating: float | None


@dataclass(frozen=True)
class Opening:
    """A place; None where nothing is stated."""

    kind: str
    height: float | None
    width: float
    depth: float
    base: float
    front: float
    back: str | None
    setback: float


SURFACES = ("cavity", "open_shelf", "top")


def halved(rises: object, low: float, high: float) -> float:
    """Where a function that is positive before a point and negative after it changes its sign."""
    assert callable(rises)
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if rises(middle) > 0 else (low, middle)
    return low


def axis_of(box: Box, place: Opening, tilt: float) -> Point:
    """Where the axis is when the edge that stays down is on the surface and the foremost corner where the front was."""
    s, c = sin(radians(tilt)), cos(radians(tilt))
    # bottom edge of the front: raised by a tilt up; drawn back by a tilt down, as the top of the front is foremost then
    out = place.front - place.setback + (box.height * s if tilt < 0 else 0.0)
    up = place.base + (box.depth * s if tilt > 0 else 0.0)
    return 0.0, out - box.axis * s, up + box.axis * c


def rise(start: Point, end: Point) -> float:
    return degrees(atan2(end[2] - start[2], hypot(end[0] - start[0], end[1] - start[1])))


def tilt_needed(box: Box, place: Opening, ear: Point) -> float:
    return halved(lambda tilt: rise(axis_of(box, place, tilt), ear) - tilt, -85.0, 85.0)


def extent(box: Box, tilt: float) -> tuple[float, float]:
    """Height and depth of the tilted box, from its corners."""
    s, c = sin(radians(tilt)), cos(radians(tilt))
    corners = [(out * c - up * s, out * s + up * c) for out in (0.0, -box.depth) for up in (0.0, box.height)]
    outs, ups = zip(*corners, strict=True)
    return max(ups) - min(ups), max(outs) - min(outs)


def free_depth(place: Opening) -> float:
    """How far back a box may reach: to the back, to the wall, or to the nearer on a wall or behind a screen."""
    if place.back == "closed":
        return place.depth
    return min(place.depth, place.front) if place.kind in ("wall", "behind_screen") else place.front


def tilt_fits(box: Box, place: Opening) -> float:
    """The largest tilt reached from flat in steps of a twentieth and then of a thousandth of a degree, 30 at most."""
    deep = free_depth(place) - place.setback - box.rear

    def too_large(step: int) -> bool:
        high, long = extent(box, step / 1000)
        return (place.height is not None and high > place.height - 0.010 + 1e-9) or long > deep + 1e-9

    for stride in range(0, 30_001, 50):
        if too_large(stride):
            first = next(step for step in range(max(0, stride - 49), stride + 1) if too_large(step))
            return max(0, first - 1) / 1000
    return 30.0


def bounce(place: Opening, source: Point, ear: Point) -> float | None:
    """First notch off the surface in front; None where the mirrored ray meets it beyond its edge."""
    low, high = source[2] - place.base, ear[2] - place.base
    if place.kind not in SURFACES or place.setback <= 0 or high <= 0:
        return None
    if source[1] + (ear[1] - source[1]) * low / (low + high) > place.front:
        return None
    image = source[0], source[1], place.base - low
    return C / 2 / (dist(image, ear) - dist(source, ear))


def largest_setback(box: Box, place: Opening, ear: Point) -> float | None:
    high = ear[2] - place.base
    return None if place.kind not in SURFACES or high <= 0 else (ear[1] - place.front) * box.axis / high


def slot_end(a: float, b: float) -> float:
    """End correction of a flanged rectangle: the integral of 1/r over itself twice."""
    inner = a * a * b * asinh(b / a) + a * b * b * asinh(a / b) + (a**3 + b**3 - hypot(a, b) ** 3) / 3
    return inner / (pi * a * b)


def bay(box: Box, place: Opening) -> float | None:
    """The lowest resonance of the air behind the box with the gap around it."""
    if place.kind != "cavity" or place.back != "closed" or place.height is None:
        return None
    mouth = place.width * place.height
    volume, gap = (place.depth - place.setback - box.depth) * mouth, mouth - box.width * box.height
    if volume <= 0 or box.width > place.width or box.height > place.height:
        return None
    long = place.width + 2 * box.height
    duct = box.depth + 2 * slot_end(long, gap / long)
    return C / (2 * pi) * halved(lambda k: 1 / tan(k * duct) - k * volume / gap, 1e-9, pi / 2 / duct)


def seen(tilt: float, axis: Point, point: Point) -> Point:
    """A point in the frame of the tilted box."""
    right, out, up = (point[i] - axis[i] for i in range(3))
    s, c = sin(radians(tilt)), cos(radians(tilt))
    return right, out * c + up * s, up * c - out * s


def across(at: Point) -> float:
    return degrees(asin(at[0] / hypot(*at)))


STEPS = 24
HALVES = [(t, sin(t)) for t in (pi * (n + 0.5) / STEPS for n in range(STEPS))]


def bessel(x: float) -> float:
    """J1 by its integral, which the midpoint rule gives to rounding: its error is about J47, below 1e-20 up to 12."""
    assert x < 12
    return sum([cos(t - x * s) for t, s in HALVES]) / STEPS


def filtered(frequency: float, corner: float, order: int) -> tuple[complex, complex]:
    """Low-pass and high-pass of Linkwitz and Riley: a Butterworth of half the order twice, in phase with each other."""
    s, half, polynomial = 1j * frequency / corner, order // 2, 1.0 + 0j
    for n in range(half):
        polynomial *= s - exp(1j * pi * (2 * n + half + 1) / (2 * half))
    low, high = 1 / polynomial**2, (s**half / polynomial) ** 2
    return low, (-1) ** half * high


@lru_cache(4096)  # every seat and place asks for the same bands
def shares(box: Box, frequency: float) -> list[complex]:
    """What each way gives of the whole on the axis, which is an all-pass: lower ways get that of the ones above."""
    lows_and_highs = [filtered(frequency, corner, box.order) for corner in box.crossovers]
    found, left = [], 1.0 + 0j
    for number, (low, high) in enumerate(lows_and_highs):
        above = 1.0 + 0j
        for one, other in lows_and_highs[number + 1 :]:
            above *= one + other
        found.append(left * low * above)
        left *= high
    return [*found, left]


def level(box: Box, frequency: float, at: Point) -> float:
    """Level at a point by exact ways, against the axis far away, the distance taken off."""
    ways, k, away = shares(box, frequency), 2 * pi * frequency / C, hypot(*at)
    total = 0j
    for driver in box.drivers:
        ray = at[0] - driver.right, at[1], at[2] - driver.up
        length = hypot(*ray)
        x = k * driver.radius * hypot(ray[0], ray[2]) / length
        cone = 2 * bessel(x) / x if x > 1e-6 else 1.0
        alike = sum(other.way == driver.way for other in box.drivers)
        total += ways[driver.way] / alike * cone * away / length * exp(-1j * k * (length - away))
    return 20 * log10(abs(total) / abs(sum(ways)))


def dip(box: Box, at: Point) -> float:
    """The lowest level from 200 Hz to 6 kHz: coarsely, then thrice more finely around the lowest."""
    low, high, found = 200.0, 6000.0, 0.0
    for steps in (240, 20, 20):
        ratio = (high / low) ** (1 / steps)
        levels = [(level(box, low * ratio**n, at), low * ratio**n) for n in range(steps + 1)]
        found, there = min(levels)
        low, high = max(200.0, there / ratio), min(6000.0, there * ratio)
    return found


def null(box: Box, at: Point) -> float | None:
    """Where both outer drivers of the lowest way, side by side, differ by half a wave."""
    row = sorted((one for one in box.drivers if one.way == 0), key=lambda one: one.right)
    if row[-1].right - row[0].right < 1e-3:
        return None
    ways = [dist((one.right, 0.0, one.up), at) for one in (row[0], row[-1])]
    return None if abs(ways[0] - ways[1]) < 1e-9 else C / 2 / abs(ways[0] - ways[1])


def ears(box: Box, at: Point) -> tuple[float, float]:
    """Rms and deepest of the levels in the ear's bands from 200 Hz to 6 kHz, each one bandwidth wide."""
    first, levels = 21.4 * log10(1 + 0.00437 * 200), []
    for band in range(28):
        places = [(10 ** ((first + band + (n + 0.5) / 16 - 0.5) / 21.4) - 1) / 0.00437 for n in range(16)]
        if (10 ** ((first + band) / 21.4) - 1) / 0.00437 <= 6000:
            levels.append(10 * log10(sum(10 ** (level(box, place, at) / 10) for place in places) / 16))
    return sqrt(sum(one * one for one in levels) / len(levels)), min(levels)


def peak(box: Box, power: float, into: float, lowest: float | None, away: float, gain: float) -> float:
    """The peak at a distance: the amplifier's voltage, less by the load, and no more than the rating.

    Below a stated lowest load its current is the limit; where none is stated, below the rated one its power, as likely.
    """
    share = min(1.0, box.impedance / (into if lowest is None else lowest))
    voltage = sqrt(power * into) * (sqrt(share) if lowest is None else share)
    if box.rating is not None:
        voltage = min(voltage, sqrt(box.rating * box.impedance))
    return box.sensitivity + 20 * log10(voltage / 2.83) - 20 * log10(away) + gain
