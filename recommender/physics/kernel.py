"""The same field as `loudspeaker.pressure`, as power in single precision, fast: for profiles of a whole catalogue.

What makes it fast: a table in place of the Bessel function, single-precision sines, arrays that stay in the processor's
cache, and the symmetry that baffles have: a pair of drivers either side of the axis costs one cosine, drivers in line
cost none, and a plane in which all are paired or in line is computed on one side only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from recommender.physics import loudspeaker, piston
from recommender.physics.checks import BoolArray, FloatArray, within
from recommender.physics.constants import SPEED_OF_SOUND
from recommender.physics.direction import direction
from recommender.physics.loudspeaker import Gain, Kind, Sources

__all__ = ["power"]

Single: TypeAlias = NDArray[np.float32]
Rows: TypeAlias = NDArray[np.intp]

STEPS: Final = 4096
"""Table entries to each unit of ka sin; the nearest one is off by 5e-5 at most."""

CACHE: Final = 60_000
"""Numbers in each working array: a few of them fit a processor core's own cache."""

SAME_PLACE: Final = 1e-6
"""Drivers nearer than that are in line [m]."""


class _Scratch(NamedTuple):
    """Working arrays, [n, U, F]: made once for many chunks, so that no time goes into getting memory."""

    real: Single
    imaginary: Single
    pattern: Single
    other: Single
    spare: Single
    entry: NDArray[np.int32]

    @staticmethod
    def of(shape: tuple[int, ...]) -> _Scratch:
        new = [np.empty(shape, np.float32) for _ in range(5)]
        return _Scratch(new[0], new[1], new[2], new[3], new[4], np.empty(shape, np.int32))

    def first(self, count: int) -> _Scratch:
        cut = [array[:count] for array in (self.real, self.imaginary, self.pattern, self.other, self.spare)]
        return _Scratch(cut[0], cut[1], cut[2], cut[3], cut[4], self.entry[:count])


class Chunk(NamedTuple):
    """Power of some loudspeakers [n, U, F] at the distinct directions, and which of those each direction is."""

    rows: Rows
    power: Single
    direction: Rows


@dataclass(frozen=True, slots=True)
class Element:
    """One driver, or several that radiate as one: `drivers` are summed, `style` is how they lie about the axis."""

    drivers: tuple[int, ...]
    kind: Kind
    style: str  # "axis", "pair" or "single"


def power(sources: Sources, frequency: ArrayLike, azimuth: ArrayLike, elevation: ArrayLike) -> Single:
    """Return the far-field power re the axis, within 0.002 dB of `loudspeaker.pressure` squared down to -12 dB.

    Parameters
    ----------
    sources : Sources
        The loudspeakers, N of them.
    frequency : array_like
        Frequencies, [F]. [Hz]
    azimuth, elevation : array_like
        Directions in the box's frame, [D] each or one for all. [deg]

    Returns
    -------
    ndarray
        Power re the axis, [N, D, F]; NaN for a loudspeaker that is not usable. [1]
    """
    frequency = np.atleast_1d(within("frequency", frequency, 1.0, 1e5, "Hz"))
    count = np.broadcast(np.atleast_1d(azimuth), np.atleast_1d(elevation)).size
    result = np.full((len(sources), count, frequency.size), np.nan, dtype=np.float32)
    for chunk in chunks(sources, frequency, azimuth, elevation):
        result[chunk.rows] = unfolded(chunk.power, chunk.direction)
    return result


def chunks(sources: Sources, frequency: FloatArray, azimuth: ArrayLike, elevation: ArrayLike) -> Iterator[Chunk]:
    """Yield the power of a few loudspeakers at a time; the next overwrites it."""
    vectors = np.stack([np.atleast_1d(part) for part in direction(azimuth, elevation)])
    vectors[np.abs(vectors) < 1e-12] = 0.0
    for rows in _alike(sources):
        group = loudspeaker.take(sources, rows)
        offset = _Offsets.of(group, vectors)
        elements = _elements(group, offset)
        even = offset.flat and all(element.style != "single" for element in elements)
        distinct, which = _distinct(vectors, even)
        step = min(rows.size, max(1, CACHE // (distinct.shape[1] * frequency.size)))
        scratch = _Scratch.of((step, distinct.shape[1], frequency.size))
        for start in range(0, rows.size, step):
            part = loudspeaker.take(group, slice(start, start + step))
            values = _field(part, elements, frequency, distinct, scratch.first(len(part)))
            yield Chunk(rows[start : start + step], values, which)


def unfolded(power: Single, which: Rows) -> Single:
    """Return the power at each direction [n, D, ...] from that at the distinct ones."""
    same = which.size == power.shape[1] and bool(np.all(which == np.arange(which.size)))
    return power if same else np.take(power, which, axis=1)


def _alike(sources: Sources) -> list[Rows]:
    """Group loudspeakers whose drivers are of like kinds on like sides of the axis, in order of size."""
    signs = [np.sign(part).round().astype(np.int8) for part in (sources.x, sources.y)]
    alone = np.column_stack([sources.usable, _turning(sources)])
    looks = np.concatenate([sources.mask, sources.kind, sources.band, *signs, alone], axis=1)
    order = np.argsort(sources.size_x[:, 0], kind="stable")
    packed = np.ascontiguousarray(looks[order].astype(np.int8)).view(f"V{looks.shape[1]}").ravel()
    _, member = np.unique(packed, return_inverse=True)
    groups = np.split(order[np.argsort(member, kind="stable")], np.cumsum(np.bincount(member))[:-1])
    return [rows for rows in groups if rows.size and sources.usable[rows[0]]]


def _turning(sources: Sources) -> BoolArray:
    """Whose drivers are out of step with each other, or turned over: their weights are complex."""
    odd = (sources.order % 2 == 1) & (np.count_nonzero(~np.isnan(sources.crossover), axis=1) > 0)
    return np.asarray(odd | (sources.share < 0).any(axis=1) | ~np.isnan(sources.roll_off).all(axis=1))


@dataclass(frozen=True, slots=True)
class _Offsets:
    """Offsets that matter towards some directions: a plane sees only its own component."""

    x: FloatArray
    y: FloatArray
    flat: bool

    @staticmethod
    def of(group: Sources, vectors: FloatArray) -> _Offsets:
        x = group.x * bool(vectors[0].any())
        y = group.y * bool(vectors[1].any())
        return _Offsets(x, y, not (vectors[0].any() and vectors[1].any()))

    def in_line(self, driver: int) -> bool:
        return bool(np.all(np.hypot(self.x[:, driver], self.y[:, driver]) < SAME_PLACE))

    def opposite(self, one: int, other: int) -> bool:
        apart = np.hypot(self.x[:, one] + self.x[:, other], self.y[:, one] + self.y[:, other])
        return bool(np.all(apart < SAME_PLACE))


def _same(group: Sources, one: int, other: int) -> bool:
    """Whether two drivers radiate alike in every loudspeaker of the group."""
    parts = (group.kind, group.size_x, group.size_y, group.coverage_x, group.coverage_y)
    return all(np.array_equal(part[:, one], part[:, other], equal_nan=part.dtype.kind == "f") for part in parts)


def _equal(group: Sources, one: int, other: int) -> bool:
    """Whether two drivers that radiate alike also carry the same signal."""
    parts = (group.band, group.share, group.roll_off)
    return all(np.array_equal(part[:, one], part[:, other], equal_nan=part.dtype.kind == "f") for part in parts)


def _elements(group: Sources, offset: _Offsets) -> list[Element]:
    left = [int(k) for k in np.flatnonzero(group.mask[0])]
    elements = []
    while left:
        k = left.pop(0)
        kind = Kind(int(group.kind[0, k]))
        if offset.in_line(k):
            same = [j for j in left if offset.in_line(j) and _same(group, k, j)]
            left = [j for j in left if j not in same]
            elements.append(Element((k, *same), kind, "axis"))
            continue
        partner = next((j for j in left if offset.opposite(k, j) and _same(group, k, j) and _equal(group, k, j)), None)
        if partner is not None:
            left.remove(partner)
        elements.append(Element((k,), kind, "single" if partner is None else "pair"))
    return elements


def _distinct(vectors: FloatArray, even: bool) -> tuple[FloatArray, Rows]:
    """Directions that differ, where left and right (or up and down) do not if the field is even."""
    folded = np.abs(vectors[:2]).round(12) if even else vectors[:2].round(12)
    _, first, which = np.unique(
        np.vstack([folded, vectors[2:].round(12)]), axis=1, return_index=True, return_inverse=True
    )
    kept = vectors[:, first]
    return (np.vstack([np.abs(kept[:2]), kept[2:]]) if even else kept), which.ravel()


@lru_cache(maxsize=4)
def _table(reach: int) -> Single:
    return piston.directivity(np.arange(reach * STEPS + 2) / STEPS).astype(np.float32)


def _field(
    group: Sources, elements: list[Element], frequency: FloatArray, vectors: FloatArray, scratch: _Scratch
) -> Single:
    """Power of a chunk, [n, U, F], in `scratch.real`."""
    wave_number = 2 * np.pi * frequency / SPEED_OF_SOUND
    scratch.real.fill(0.0)
    turning = bool(_turning(group).any())
    two_parts = turning or any(element.style == "single" for element in elements)
    if two_parts:
        scratch.imaginary.fill(0.0)
    if turning:
        _sum_turning(group, elements, wave_number, vectors, scratch)
    else:
        _sum(group, elements, wave_number, vectors, scratch)
    power = np.square(scratch.real, out=scratch.real)
    if two_parts:
        power += np.square(scratch.imaginary, out=scratch.imaginary)
    if np.any(vectors[2] < 0):
        shading = loudspeaker.rear_shading(wave_number, group.baffle[:, None, None], vectors[2][:, None])
        power *= np.square(shading).astype(np.float32)
    return power


def _weight(parts: NDArray[Gain], element: Element) -> NDArray[Gain]:
    """What an element gives on the axis, [n, 1, F]; one sum for drivers in line, twice for a pair."""
    weight = parts[:, element.drivers[0], None]
    for k in element.drivers[1:]:
        weight = weight + parts[:, k, None]
    return weight + weight if element.style == "pair" else weight


def _sum(
    group: Sources, elements: list[Element], wave_number: FloatArray, vectors: FloatArray, scratch: _Scratch
) -> None:
    """Add up elements whose weights are real."""
    parts = _real_weights(group, wave_number * (SPEED_OF_SOUND / (2 * np.pi)))
    for element in elements:
        pattern = _pattern(group, element, wave_number, vectors, scratch)
        weighted = np.multiply(pattern, _weight(parts, element), out=scratch.pattern)
        if element.style == "axis":
            scratch.real[...] += weighted
            continue
        angle = np.multiply(*_phase(group, element, wave_number, vectors), out=scratch.other)
        if element.style == "single":
            sine = np.sin(angle, out=scratch.spare)
            sine *= weighted
            scratch.imaginary[...] += sine
        np.cos(angle, out=angle)
        angle *= weighted
        scratch.real[...] += angle


def _sum_turning(
    group: Sources, elements: list[Element], wave_number: FloatArray, vectors: FloatArray, scratch: _Scratch
) -> None:
    """Add up elements whose weights are complex."""
    parts = loudspeaker.weights(group, wave_number * (SPEED_OF_SOUND / (2 * np.pi)))
    for element in elements:
        weight = _weight(parts, element)
        along, across = weight.real.astype(np.float32), weight.imag.astype(np.float32)
        pattern = _pattern(group, element, wave_number, vectors, scratch)
        if element.style == "axis":
            scratch.real[...] += pattern * along
            scratch.imaginary[...] += pattern * across
            continue
        angle = np.multiply(*_phase(group, element, wave_number, vectors), out=scratch.other)
        cosine = np.cos(angle) * pattern
        scratch.real[...] += cosine * along
        scratch.imaginary[...] += cosine * across
        if element.style == "single":
            sine = np.sin(angle, out=angle)
            sine *= pattern
            scratch.real[...] -= sine * across
            scratch.imaginary[...] += sine * along


def _real_weights(group: Sources, frequency: FloatArray) -> Single:
    """As `loudspeaker.weights` where orders are even, no driver rolls off early and none is turned over."""
    known = ~np.isnan(group.crossover)
    corner = np.where(known, group.crossover, 1e3).astype(np.float32)
    squared = np.square(frequency.astype(np.float32) / corner[:, :, None])
    half = group.order // 2
    if half.size and half.min() == half.max():
        handed = squared.copy()
        for _ in range(int(half[0]) - 1):
            handed *= squared
    else:
        handed = np.power(squared, half[:, None, None].astype(np.float32))
    gains = loudspeaker.band_gains(np.reciprocal(handed + np.float32(1)), known)
    parts = gains[np.arange(len(group))[:, None], group.band]
    parts *= group.share[:, :, None].astype(np.float32)
    return parts


def _phase(group: Sources, element: Element, wave_number: FloatArray, vectors: FloatArray) -> tuple[Single, Single]:
    """Path of an element towards each direction [n, U, 1] and the wave number [F]; their product is the phase."""
    k = element.drivers[0]
    path = group.x[:, k, None] * vectors[0] + group.y[:, k, None] * vectors[1]
    return path[..., None].astype(np.float32), wave_number.astype(np.float32)


def _pattern(
    group: Sources, element: Element, wave_number: FloatArray, vectors: FloatArray, scratch: _Scratch
) -> Single:
    """Pressure of an element's drivers re their axis, [n, U, F]; one row for all where they are of one size."""
    k = element.drivers[0]
    right, up, out = vectors
    sine = np.hypot(right, up)
    unit = np.where((out < 0) & (sine > 0), 1 / np.maximum(sine, 1e-12), 1.0)
    sizes = np.stack([p[:, k] for p in (group.size_x, group.size_y, group.coverage_x, group.coverage_y)], axis=1)
    if (sizes == sizes[:1]).all() or np.array_equal(sizes, np.broadcast_to(sizes[:1], sizes.shape), equal_nan=True):
        sizes = sizes[:1]
    if element.kind is Kind.PISTON:
        return _pistons(sizes[:, 0], np.where(out < 0, 1.0, sine), wave_number, scratch)
    if element.kind is Kind.RECTANGLE:
        return _rectangles(sizes, right * unit, up * unit, wave_number)
    angle = np.degrees(np.arctan2(np.where(out < 0, 1.0, sine), np.maximum(out, 0.0)))
    split = angle / np.where(sine > 0, sine, 1.0)
    return _horns(sizes, right * split, up * split, wave_number)


def _pistons(radius: FloatArray, sine: FloatArray, wave_number: FloatArray, scratch: _Scratch) -> Single:
    argument = (radius[:, None] * sine * STEPS)[..., None].astype(np.float32)
    largest = float(radius.max() * wave_number.max())
    table = _table(2 ** max(4, int(np.ceil(np.log2(max(largest, 1.0))))))
    n = len(radius)
    entry = np.multiply(argument, wave_number.astype(np.float32), out=scratch.other[:n])
    entry += np.float32(0.5)
    index = scratch.entry[:n]
    np.copyto(index, entry, casting="unsafe")
    return np.take(table, index, out=scratch.pattern[:n], mode="clip")


def _rectangles(sizes: FloatArray, right: FloatArray, up: FloatArray, wave_number: FloatArray) -> Single:
    result = np.ones((len(sizes), right.size, wave_number.size), np.float32)
    for size, component in ((sizes[:, 0], right), (sizes[:, 1], up)):
        if component.any():
            turns = (size[:, None] * component / (2 * np.pi))[..., None].astype(np.float32)
            result *= np.sinc(turns * wave_number.astype(np.float32))
    return result


def _horns(sizes: FloatArray, right: FloatArray, up: FloatArray, wave_number: FloatArray) -> Single:
    frequency = wave_number * SPEED_OF_SOUND / (2 * np.pi)
    exponent = np.zeros((len(sizes), right.size, frequency.size), np.float32)
    for mouth, cover, angle in ((sizes[:, 0], sizes[:, 2], right), (sizes[:, 1], sizes[:, 3], up)):
        widening = np.maximum(1.0, piston.control_frequency(cover, mouth)[:, None] / frequency)
        narrow = np.square(2 / (cover[:, None] * widening)).astype(np.float32)
        exponent += np.square(angle).astype(np.float32)[:, None] * narrow[:, None, :]
    np.negative(exponent, out=exponent)
    return np.exp2(exponent, out=exponent)
