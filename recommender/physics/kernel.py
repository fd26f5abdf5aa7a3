"""The same field as `loudspeaker.pressure`, as power in single precision, fast: for profiles of a whole catalogue.

What makes it fast: a table in place of the Bessel function, single-precision sines, the symmetries of `symmetry`, and
working arrays [U, n, F] that stay in the processor's cache: a product of a direction and of what a loudspeaker has at
each frequency is then one run over memory a direction.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any, Final, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triptych.recommender.physics import loudspeaker, piston
from triptych.recommender.physics.checks import FloatArray
from triptych.recommender.physics.constants import SPEED_OF_SOUND
from triptych.recommender.physics.direction import direction
from triptych.recommender.physics.loudspeaker import Gain, Radiator, Sources
from triptych.recommender.physics.symmetry import Arrangement, Element, Group, Rows, alike

__all__ = ["Chunk", "chunks", "unfolded"]

Single: TypeAlias = NDArray[np.float32]

STEPS: Final = 4096
"""Table entries to each unit of ka sin; the nearest one is off by 5e-5 at most."""

CACHE: Final = 60_000
"""Numbers in each working array: a few of them fit a processor core's own cache."""

TOGETHER: Final = 200_000
"""Numbers that are worked out at once where they need no working arrays."""


class _Scratch(NamedTuple):
    """Working arrays, [U, n, F]: made once for many chunks, so that no time goes into getting memory."""

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
        cut = [array[:, :count] for array in (self.real, self.imaginary, self.pattern, self.other, self.spare)]
        return _Scratch(cut[0], cut[1], cut[2], cut[3], cut[4], self.entry[:, :count])


class _Towards(NamedTuple):
    """Directions, [U, 1, 1] each: what a phase, a piston, a rectangle and a horn make of them."""

    right: Single
    up: Single
    sine: Single
    """Of the angle off the axis; behind the baffle, that at its rim. [1]"""
    rim_right: Single
    rim_up: Single
    angle_right: Single
    """Angle off the axis, split by components; behind the baffle, the rim's. [deg]"""
    angle_up: Single

    @staticmethod
    def of(vectors: FloatArray) -> _Towards:
        right, up, out = vectors
        across = np.hypot(right, up)
        sine = np.where(out < 0, 1.0, across)
        unit = np.where((out < 0) & (across > 0), 1 / np.maximum(across, 1e-12), 1.0)
        split = np.degrees(np.arctan2(sine, np.maximum(out, 0.0))) / np.where(across > 0, across, 1.0)
        parts = (right, up, sine, right * unit, up * unit, right * split, up * split)
        single = [part.astype(np.float32)[:, None, None] for part in parts]
        return _Towards(*single)


class Chunk(NamedTuple):
    """Power of some loudspeakers [n, U, F] at the distinct directions, and which of those each direction is."""

    rows: Rows
    power: Single
    direction: Rows


def chunks(
    sources: Sources, frequency: FloatArray, azimuth: ArrayLike, elevation: ArrayLike, among: int = 0
) -> Iterator[Chunk]:
    """Yield the power of a few loudspeakers at a time, of `among` in all; the next overwrites it."""
    vectors = np.stack([np.atleast_1d(part) for part in direction(azimuth, elevation)])
    vectors[np.abs(vectors) < 1e-12] = 0.0
    from triptych.recommender.physics import compiled

    fast = compiled.pays(max(len(sources), among))
    for group in alike(sources, vectors):
        if fast and group.in_step and all(element.kind is Radiator.PISTON for element in group.elements):
            yield from _compiled(group, frequency)
            continue
        size = group.rows.size
        step = min(size, max(1, CACHE // (group.vectors.shape[1] * frequency.size)))
        scratch = _Scratch.of((group.vectors.shape[1], step, frequency.size))
        towards = _Towards.of(group.vectors)
        for start in range(0, size, step):
            some = slice(start, min(start + step, size))
            values = _field(group, some, frequency, towards, scratch.first(some.stop - start))
            yield Chunk(group.rows[some], values.transpose(1, 0, 2), group.which)


def unfolded(power: Single, which: Rows) -> Single:
    """Return the power at each direction [n, D, ...] from that at the distinct ones."""
    same = which.size == power.shape[1] and bool(np.all(which == np.arange(which.size)))
    return power if same else np.take(power, which, axis=1)


def _field(group: Group, some: slice, frequency: FloatArray, towards: _Towards, scratch: _Scratch) -> Single:
    """Power of a chunk, [U, n, F], in `scratch.real`."""
    wave_number = (2 * np.pi * frequency / SPEED_OF_SOUND).astype(np.float32)
    scratch.real.fill(0.0)
    two_parts = not group.in_step or any(element.style is Arrangement.SINGLE for element in group.elements)
    if two_parts:
        scratch.imaginary.fill(0.0)
    add_up = _sum if group.in_step else _sum_turning
    add_up(group, some, frequency, wave_number, towards, scratch)
    power = np.square(scratch.real, out=scratch.real)
    if two_parts:
        power += np.square(scratch.imaginary, out=scratch.imaginary)
    _shade(power, group, some, wave_number)
    return power


def _shade(power: Single, group: Group, some: slice, wave_number: Single) -> None:
    """Take from the power behind the box what its baffle shades."""
    behind = np.flatnonzero(group.vectors[2] < 0)
    if behind.size:
        out = group.vectors[2][behind, None, None]
        shading = loudspeaker.rear_shading(wave_number, group.sources.baffle[some, None], out)
        power[behind] *= np.square(shading).astype(np.float32)


def _compiled(group: Group, frequency: FloatArray) -> Iterator[Chunk]:
    """Yield the power of pistons in step by the compiled loop, which needs no working arrays: more at a time."""
    from triptych.recommender.physics import compiled

    wave_number = (2 * np.pi * frequency / SPEED_OF_SOUND).astype(np.float32)
    sources, towards = group.sources, _Towards.of(group.vectors)
    directions = np.stack([towards.right, towards.up, towards.sine])[:, :, 0, 0]
    radius, across, upward = (
        np.stack(parts).astype(np.float32)
        for parts in zip(*((one.size[:, 0] * STEPS, one.x, one.y) for one in group.elements), strict=True)
    )
    table = _table_for(radius / STEPS, wave_number, towards)
    style = np.array([element.style for element in group.elements], np.int64)
    nearness = np.where(np.isnan(sources.crossover), 0, 1 / sources.crossover).astype(np.float32)
    step = max(1, TOGETHER // (group.vectors.shape[1] * frequency.size))
    whole = np.empty((min(step, group.rows.size), directions.shape[1], frequency.size), np.float32)
    for start in range(0, group.rows.size, step):
        some = slice(start, min(start + step, group.rows.size))
        power = whole[: some.stop - start]
        compiled.power_of_pistons()(
            power.reshape(len(power), -1),
            radius[:, some],
            across[:, some],
            upward[:, some],
            style,
            _element_of(group),
            sources.share[some].astype(np.float32),
            sources.band[some],
            nearness[some],
            sources.order[some] // 2,
            wave_number,
            frequency.astype(np.float32),
            directions,
            table,
        )
        _shade(power.transpose(1, 0, 2), group, some, wave_number)
        yield Chunk(group.rows[some], power, group.which)


def _element_of(group: Group) -> Rows:
    """Which element each driver belongs to, -1 where it is none's: one of a pair stands for both."""
    found = np.full(group.sources.share.shape[1], -1)
    for number, element in enumerate(group.elements):
        found[list(element.drivers)] = number
    return found


def _weight(parts: NDArray[Gain], element: Element) -> NDArray[Gain]:
    """What an element gives on the axis, [n, F]; one sum for drivers in line, twice for a pair."""
    weight = parts[:, element.drivers[0]]
    for k in element.drivers[1:]:
        weight = weight + parts[:, k]
    return weight + weight if element.style is Arrangement.PAIR else weight


def _sum(
    group: Group, some: slice, frequency: FloatArray, wave_number: Single, towards: _Towards, scratch: _Scratch
) -> None:
    """Add up elements whose weights are real."""
    parts = real_weights(group.sources, frequency, some)
    for element in group.elements:
        pattern = _pattern(element, some, wave_number, towards, scratch)
        weighted = np.multiply(pattern, _weight(parts, element), out=scratch.pattern)
        if element.style is Arrangement.ORIGIN:
            scratch.real[...] += weighted
            continue
        angle = _phase(element, some, wave_number, towards, scratch)
        if element.style is Arrangement.SINGLE:
            sine = np.sin(angle, out=scratch.spare)
            sine *= weighted
            scratch.imaginary[...] += sine
        np.cos(angle, out=angle)
        angle *= weighted
        scratch.real[...] += angle


def _sum_turning(
    group: Group, some: slice, frequency: FloatArray, wave_number: Single, towards: _Towards, scratch: _Scratch
) -> None:
    """Add up elements whose weights are complex."""
    parts = loudspeaker.weights(loudspeaker.take(group.sources, some), frequency)
    for element in group.elements:
        weight = _weight(parts, element)
        along, across = weight.real.astype(np.float32), weight.imag.astype(np.float32)
        pattern = _pattern(element, some, wave_number, towards, scratch)
        if element.style is Arrangement.ORIGIN:
            scratch.real[...] += pattern * along
            scratch.imaginary[...] += pattern * across
            continue
        angle = _phase(element, some, wave_number, towards, scratch)
        cosine = np.cos(angle, out=scratch.spare)
        cosine *= pattern
        scratch.real[...] += cosine * along
        scratch.imaginary[...] += cosine * across
        if element.style is Arrangement.SINGLE:
            sine = np.sin(angle, out=angle)
            sine *= pattern
            scratch.real[...] -= sine * across
            scratch.imaginary[...] += sine * along


def real_weights(sources: Sources, frequency: FloatArray, some: slice = slice(None)) -> Single:
    """As `loudspeaker.weights` where orders are even, no driver rolls off early and none is turned over."""
    crossover, half = sources.crossover[some], sources.order[some] // 2
    known = ~np.isnan(crossover)
    corner = np.where(known, crossover, 1e3).astype(np.float32)
    squared = np.square(frequency.astype(np.float32) * np.reciprocal(corner)[:, :, None])
    handed = squared.copy()
    for power in range(1, int(half.max())):
        # a product, not a power, so that nobody's figures depend on who is computed beside it
        np.multiply(handed, squared, out=handed, where=(half > power)[:, None, None])
    handed += np.float32(1)
    gains = loudspeaker.band_gains(np.reciprocal(handed, out=handed), known)
    parts = gains[np.arange(len(half))[:, None], sources.band[some]]
    parts *= sources.share[some, :, None].astype(np.float32)
    return parts


def _product(of_each: FloatArray, wave_number: Single) -> Single:
    """What each loudspeaker has, times the wave number, [n, F]."""
    return of_each.astype(np.float32)[:, None] * wave_number


def _phase(element: Element, some: slice, wave_number: Single, towards: _Towards, scratch: _Scratch) -> Single:
    """Phase of an element towards each direction, [U, n, F], in `scratch.other`. [rad]."""
    phase = scratch.other
    if not element.y.any():
        return np.multiply(towards.right, _product(element.x[some], wave_number), out=phase)
    np.multiply(towards.up, _product(element.y[some], wave_number), out=phase)
    if element.x.any():
        phase += np.multiply(towards.right, _product(element.x[some], wave_number), out=scratch.spare)
    return phase


def _pattern(element: Element, some: slice, wave_number: Single, towards: _Towards, scratch: _Scratch) -> Single:
    """Pressure of an element's drivers re their axis, [U, n, F]; [U, 1, F] where they are of one size."""
    sizes = element.size[some]
    if (sizes == sizes[:1]).all():
        sizes = sizes[:1]
    if element.kind is Radiator.PISTON:
        return _pistons(sizes[:, 0], wave_number, towards, scratch.first(len(sizes)))
    if element.kind is Radiator.RECTANGLE:
        return _rectangles(sizes, wave_number, towards)
    return _horns(sizes, wave_number, towards)


@lru_cache(maxsize=8)
def piston_table(reach: int) -> Single:
    return piston.directivity(np.arange(reach * STEPS + 2) / STEPS).astype(np.float32)


def _table_for(radius: NDArray[Any], wave_number: Single, towards: _Towards) -> Single:
    """The table, as far as these pistons reach into it."""
    reach = float(radius.max()) * float(wave_number.max() * towards.sine.max())
    return piston_table(2 ** max(2, int(np.ceil(np.log2(max(reach, 1.0))))))


def _pistons(radius: FloatArray, wave_number: Single, towards: _Towards, scratch: _Scratch) -> Single:
    table = _table_for(radius, wave_number, towards)
    entry = np.multiply(towards.sine, _product(radius * STEPS, wave_number), out=scratch.other)
    entry += np.float32(0.5)
    np.copyto(scratch.entry, entry, casting="unsafe")
    return np.take(table, scratch.entry, out=scratch.pattern, mode="clip")


def _rectangles(sizes: FloatArray, wave_number: Single, towards: _Towards) -> Single:
    result = np.ones((len(towards.right), len(sizes), wave_number.size), np.float32)
    for size, component in ((sizes[:, 0], towards.rim_right), (sizes[:, 1], towards.rim_up)):
        if component.any():
            result *= np.sinc(component * _product(size / (2 * np.pi), wave_number))
    return result


def _horns(sizes: FloatArray, wave_number: Single, towards: _Towards) -> Single:
    frequency = wave_number * SPEED_OF_SOUND / (2 * np.pi)
    exponent = np.zeros((len(towards.right), len(sizes), frequency.size), np.float32)
    for mouth, cover, angle in (
        (sizes[:, 0], sizes[:, 2], towards.angle_right),
        (sizes[:, 1], sizes[:, 3], towards.angle_up),
    ):
        if angle.any():
            widening = np.maximum(1.0, piston.control_frequency(cover, mouth)[:, None] / frequency)
            exponent += np.square(angle) * np.square(2 / (cover[:, None] * widening)).astype(np.float32)
    np.negative(exponent, out=exponent)
    return np.exp2(exponent, out=exponent)
