"""The same field as `loudspeaker.pressure_at`, as power in the ear's bands, in single precision: for many at once.

Exact paths cannot be looked up: each seat of each room asks for its own. What makes them quick is a table in place of
the Bessel function, single-precision sines, and working arrays that stay in the processor's cache.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triptych.recommender.physics import erb, kernel, loudspeaker, piston
from triptych.recommender.physics.checks import FloatArray, within
from triptych.recommender.physics.constants import SPEED_OF_SOUND
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.loudspeaker import Radiator, Sources
from triptych.recommender.physics.symmetry import turning

__all__ = ["power_at", "size_at"]

RAY_PER_BAND: Final = 2
"""Frequencies in each band: within 0.1 dB of many, down to 28 dB under the axis."""

RAYS_AT_ONCE: Final = 50_000
"""Numbers in each working array: a few of them fit a processor core's own cache."""

UNHEARD: Final = 3e-4
"""What a driver gives less than of the pressure at the axis is left out [1]: -70 dB."""

Places: TypeAlias = NDArray[np.intp]
Rows: TypeAlias = Places | slice


class _Ray(NamedTuple):
    """From drivers to P points: longer than from the axis [m], nearer [1], and the sine, right, up and out of its way.

    Of all K drivers of n loudspeakers [K, P, n], or of one driver of some.
    """

    longer: Single
    nearer: Single
    across: FloatArray
    right: FloatArray
    up: FloatArray
    out: FloatArray

    def of(self, driver: int, rows: Rows) -> _Ray:
        """Those from one driver of some loudspeakers, [P, n]."""
        return _Ray(*(part[driver][:, rows] for part in self))


class _Scratch(NamedTuple):
    """Working arrays for n loudspeakers at P points, [F, P, n]: runs over memory are as long as there are loudspeakers.

    Made once for many, so that no time goes into getting memory: the pressure, and what one driver adds to it.
    """

    real: Single
    imaginary: Single
    field: Single
    phase: Single
    spare: Single
    entry: Places

    def first(self, frequencies: int, count: int) -> _Scratch:
        """As much of each as so many frequencies and loudspeakers need."""
        points = self.real.shape[1]
        size = frequencies * points * count
        cut: list[Any] = [part.reshape(-1)[:size].reshape(frequencies, points, count) for part in self]
        return _Scratch(*cut)


def power_at(sources: Sources, points: ArrayLike) -> Single:
    """Return the power in the ear's bands at points by exact paths, times distance squared, re the axis, [N, P, B] [1].

    sources: N loudspeakers [m, Hz]
    points: in the frame of each (right, up, out of the baffle), [N, P, 3] [m]

    `loudspeaker.pressure_at`, smoothed by `erb.band_power`. NaN for a loudspeaker that is not usable.
    """
    return _of_all(sources, points, erb.fine_grid(RAY_PER_BAND), lambda power: erb.band_power(power, axis=0), UNHEARD)


def size_at(sources: Sources, points: ArrayLike, frequency: FloatArray) -> Single:
    """Return the size of the pressure at points by exact paths, times distance, re the axis, [N, P, F] [1].

    sources: N loudspeakers [m, Hz]
    points: in the frame of each (right, up, out of the baffle), [N, P, 3] [m]
    frequency: rising, [F] [Hz]

    That of `loudspeaker.pressure_at`, within `OFF_AT_MOST`. NaN for a loudspeaker that is not usable.
    """
    return _of_all(sources, points, frequency, lambda power: np.sqrt(power, out=power), 0.0)


OFF_AT_MOST: Final = 7e-5
"""By so much a size may be off: what the nearest entry of the table is off by, and some rounding [1]."""


def _of_all(
    sources: Sources, points: ArrayLike, frequency: FloatArray, told: Callable[[Single], Single], least: float
) -> Single:
    """What is told of the power at frequencies of some loudspeakers [F, P, n], of all of them [N, P, ...]."""
    points = np.asarray(points, float)
    found: list[tuple[Places, Single]] = []
    step = max(1, RAYS_AT_ONCE // max(1, points.shape[1] * frequency.size))
    odd, lowest = turning(sources), np.fmin.reduce(sources.crossover, axis=1, initial=np.inf)
    alike = np.where(sources.mask, sources.kind + 1, 0) @ 4 ** np.arange(sources.kind.shape[1])
    scratch = _scratch(frequency.size, points.shape[1], min(step, len(sources)))
    for rows in (np.flatnonzero(sources.usable & ~odd), np.flatnonzero(sources.usable & odd)):
        # neighbours have the same kinds of drivers, which are heard at the same frequencies
        ordered = rows[np.lexsort((lowest[rows], alike[rows]))]
        some, there = loudspeaker.take(sources, ordered), points[ordered]
        for start in range(0, len(ordered), step):
            part = slice(start, start + step)
            power = _power(loudspeaker.take(some, part), there[part], frequency, bool(odd[ordered[0]]), scratch, least)
            found.append((ordered[part], told(power).T.copy()))
    width = found[0][1].shape[-1] if found else told(scratch.real[:, :, :0].copy()).shape[0]
    result = np.full((len(sources), points.shape[1], width), np.nan, dtype=np.float32)
    for places, values in found:
        result[places] = values
    return result


def _scratch(frequencies: int, points: int, count: int) -> _Scratch:
    shape = (frequencies, points, count)
    new = [np.empty(shape, np.float32) for _ in range(5)]
    return _Scratch(new[0], new[1], new[2], new[3], new[4], np.empty(shape, np.intp))


def _power(
    sources: Sources,
    points: FloatArray,
    frequency: FloatArray,
    complex_weights: bool,
    scratch: _Scratch,
    least: float,
) -> Single:
    """Power of a few loudspeakers, [F, P, n]; what a driver gives less than the least of is left out."""
    wave_number = (2 * np.pi * frequency / SPEED_OF_SOUND).astype(np.float32)[:, None, None]
    right, up, out = np.ascontiguousarray(points.T)
    distance = within("distance", np.sqrt(right**2 + up**2 + out**2), 0.05, 1e6, "m")
    found = scratch.first(frequency.size, len(points))
    found.real.fill(0)
    found.imaginary.fill(0)
    weights: Any = loudspeaker.weights if complex_weights else kernel.real_weights
    parts = weights(sources, frequency)
    # so that nobody's figures depend on who is computed beside it
    parts[np.abs(parts) < least] = 0
    parts = np.ascontiguousarray(parts.transpose(1, 2, 0), np.complex64 if complex_weights else np.float32)
    rays = _rays(sources, right, up, out, distance)
    for driver, kind, rows, heard in _drivers(sources, parts):
        ray, waves = rays.of(driver, rows), wave_number[heard]
        some = scratch.first(len(waves), ray.longer.shape[1])
        _pattern(sources, rows, driver, kind, ray, waves, some)
        at_axis = not (sources.x[rows, driver].any() or sources.y[rows, driver].any())
        add_up = _add_at_axis if at_axis else _add_turning if complex_weights else _add
        at = (heard,) if isinstance(rows, slice) else (heard, slice(None), rows)
        add_up(found, at, parts[driver, heard][:, None, rows], ray, waves, some)
    power = np.square(found.real, out=found.real)
    power += np.square(found.imaginary, out=found.imaginary)
    behind = np.minimum(out / distance, 0.0)
    if behind.any():
        shade = loudspeaker.rear_shading(wave_number, sources.baffle, behind)
        power *= np.square(shade).astype(np.float32)
    return power


def _drivers(sources: Sources, parts: NDArray[Any]) -> Iterator[tuple[int, Radiator, Rows, slice]]:
    """Each driver and kind with the loudspeakers that have it, a slice where all do, and where they are heard."""
    kinds = np.where(sources.mask, sources.kind, -1)
    for driver, heard in enumerate(np.asarray(parts.any(axis=2))):
        if not heard.any():
            continue
        first, last = heard.argmax(), len(heard) - heard[::-1].argmax()
        present = kinds[:, driver]
        least, most = int(present.min()), int(present.max())
        for kind in range(max(least, 0), most + 1):
            rows = slice(None) if least == most else np.flatnonzero(present == kind)
            if isinstance(rows, slice) or len(rows):
                yield driver, Radiator(kind), rows, slice(int(first), int(last))


def _rays(sources: Sources, right: FloatArray, up: FloatArray, out: FloatArray, distance: FloatArray) -> _Ray:
    """The ways from all drivers to points [P, n], and the directions in which they leave."""
    right, up = right - sources.x.T[:, None], up - sources.y.T[:, None]
    aside = right**2 + up**2
    path = np.maximum(np.sqrt(aside + out**2), 1e-3)
    longer, nearer = (part.astype(np.float32) for part in (path - distance, distance / path))
    return _Ray(longer, nearer, np.sqrt(aside) / path, right / path, up / path, out / path)


def _pattern(
    sources: Sources, rows: Rows, driver: int, kind: Radiator, ray: _Ray, wave_number: Single, scratch: _Scratch
) -> None:
    """Put the pressure of a driver re its axis towards the points into `field`; behind the baffle, that at its rim."""
    across, behind = ray.across, ray.out < 0
    sine = np.where(behind, 1.0, across)
    size_x, size_y = sources.size_x[rows, driver], sources.size_y[rows, driver]
    if kind is Radiator.PISTON:
        _pistons(size_x * sine, wave_number, scratch)
        return
    unit = np.where(behind & (across > 0), 1 / np.maximum(across, 1e-12), 1.0)
    planes = ((ray.right, size_x, sources.coverage_x), (ray.up, size_y, sources.coverage_y))
    if kind is Radiator.RECTANGLE:
        scratch.field[...] = piston.rectangle(*((part * unit * size / 2) * wave_number for part, size, _ in planes))
        return
    angle = np.degrees(np.arctan2(sine, np.maximum(ray.out, 0.0))) / np.where(across > 0, across, 1.0)
    frequency = wave_number * np.float32(SPEED_OF_SOUND / (2 * np.pi))
    scratch.field.fill(0)
    for part, mouth, coverage in planes:
        cover = coverage[rows, driver]
        widening = np.maximum(1.0, piston.control_frequency(cover, mouth).astype(np.float32) / frequency)
        narrow = np.square(2 / (cover.astype(np.float32) * widening))
        np.multiply(np.square(part * angle).astype(np.float32), narrow, out=scratch.phase)
        np.subtract(scratch.field, scratch.phase, out=scratch.field)
    np.exp2(scratch.field, out=scratch.field)


def _pistons(reach: FloatArray, wave_number: Single, scratch: _Scratch) -> None:
    """Pistons at a [m] times the sine of the angle, from the table."""
    most = float(reach.max()) * float(wave_number.max(initial=0.0))
    table = kernel.piston_table(2 ** max(2, int(np.ceil(np.log2(max(most, 1.0))))))
    entry = np.multiply((reach * kernel.STEPS).astype(np.float32), wave_number, out=scratch.phase)
    entry += np.float32(0.5)
    np.copyto(scratch.entry, entry, casting="unsafe")
    np.take(table, scratch.entry, out=scratch.field, mode="clip")


def _add_at_axis(
    found: _Scratch, at: tuple[Any, ...], parts: NDArray[Any], ray: _Ray, wave_number: Single, scratch: _Scratch
) -> None:
    """Add what a driver at the axis gives, whose way is the reference."""
    if np.iscomplexobj(parts):
        found.imaginary[at] += parts.imag * scratch.field
    scratch.field[...] *= parts.real
    found.real[at] += scratch.field


def _add(
    found: _Scratch, at: tuple[Any, ...], parts: Single, ray: _Ray, wave_number: Single, scratch: _Scratch
) -> None:
    """Add what a driver gives to some of the sum, nearer and delayed by its way."""
    field, phase, spare = scratch.field, scratch.phase, scratch.spare
    np.multiply(field, parts, out=field)
    np.multiply(field, ray.nearer, out=field)
    np.multiply(ray.longer, wave_number, out=phase)
    np.cos(phase, out=spare)
    found.real[at] += np.multiply(spare, field, out=spare)
    np.sin(phase, out=phase)
    found.imaginary[at] -= np.multiply(phase, field, out=phase)


def _add_turning(
    found: _Scratch, at: tuple[Any, ...], parts: NDArray[Any], ray: _Ray, wave_number: Single, scratch: _Scratch
) -> None:
    """The same where weights are complex."""
    field = parts * (scratch.field * ray.nearer)
    phase = ray.longer * wave_number
    cosine, sine = np.cos(phase), np.sin(phase)
    found.real[at] += field.real * cosine + field.imag * sine
    found.imaginary[at] += field.imag * cosine - field.real * sine
