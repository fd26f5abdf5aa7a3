"""The same field as `loudspeaker.pressure_at`, as power in the ear's bands, in single precision: for many at once.

Exact paths cannot be looked up: each seat of each room asks for its own. What makes them quick is a table in place of
the Bessel function, single-precision sines, and working arrays that stay in the processor's cache.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triptych.recommender.physics import erb, kernel, loudspeaker, piston
from triptych.recommender.physics.checks import FloatArray, within
from triptych.recommender.physics.constants import SPEED_OF_SOUND
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.loudspeaker import Radiator, Sources
from triptych.recommender.physics.symmetry import turning

__all__ = ["power_at"]

RAY_PER_BAND: Final = 2
"""Frequencies in each band: within 0.1 dB of many, down to 28 dB under the axis."""

RAYS_AT_ONCE: Final = 120_000
"""Numbers in each working array: a few of them fit a processor core's own cache."""

UNHEARD: Final = 3e-4
"""What a driver gives less than of the pressure at the axis is left out [1]: -70 dB."""

Rows = NDArray[np.intp]


class _Ray(NamedTuple):
    """From one driver of n loudspeakers to P points, [n, P, 1]: longer than from the axis [m], and what it shades."""

    longer: Single
    gain: Single
    right: FloatArray
    up: FloatArray
    out: FloatArray


def power_at(sources: Sources, points: ArrayLike) -> Single:
    """Return the power in the ear's bands at points by exact paths, times distance squared, re the axis, [N, P, B] [1].

    sources: N loudspeakers [m, Hz]
    points: in the frame of each (right, up, out of the baffle), [N, P, 3] [m]

    `loudspeaker.pressure_at`, smoothed by `erb.band_power`. NaN for a loudspeaker that is not usable.
    """
    points = np.asarray(points, float)
    result = np.full((len(sources), points.shape[1], erb.BANDS), np.nan, dtype=np.float32)
    step = max(1, RAYS_AT_ONCE // max(1, points.shape[1] * erb.BANDS * RAY_PER_BAND))
    odd, lowest = turning(sources), np.fmin.reduce(sources.crossover, axis=1, initial=np.inf)
    alike = (np.where(sources.mask, sources.kind + 1, 0) @ 4 ** np.arange(sources.kind.shape[1])).astype(float)
    for rows in (np.flatnonzero(sources.usable & ~odd), np.flatnonzero(sources.usable & odd)):
        ordered = rows[np.lexsort((lowest[rows], alike[rows]))]
        for start in range(0, len(ordered), step):
            some = ordered[start : start + step]
            result[some] = _power(loudspeaker.take(sources, some), points[some], bool(odd[some[0]]))
    return result


def _power(sources: Sources, points: FloatArray, complex_weights: bool) -> Single:
    """Power of a few loudspeakers, [n, P, B]."""
    frequency = erb.fine_grid(RAY_PER_BAND)
    wave_number = (2 * np.pi * frequency / SPEED_OF_SOUND).astype(np.float32)
    distance = within("distance", np.linalg.norm(points, axis=2), 0.05, 1e6, "m")
    real, imaginary = (np.zeros((*distance.shape, frequency.size), np.float32) for _ in range(2))
    parts = loudspeaker.weights(sources, frequency) if complex_weights else kernel.real_weights(sources, frequency)
    # so that nobody's figures depend on who is computed beside it
    parts[np.abs(parts) < UNHEARD] = 0
    for driver in range(sources.x.shape[1]):
        for kind in Radiator:
            rows = np.flatnonzero(sources.mask[:, driver] & (sources.kind[:, driver] == kind))
            if not len(rows):
                continue
            ray = _ray(sources, rows, driver, points, distance)
            heard = _heard(parts[rows, driver])
            pattern = _pattern(sources, rows, driver, kind, ray, wave_number[heard]) * ray.gain
            _add(
                real,
                imaginary,
                rows,
                heard,
                parts[rows, driver, None, heard] * pattern,
                ray.longer * wave_number[heard],
            )
    power = np.square(real, out=real)
    power += np.square(imaginary, out=imaginary)
    behind = np.minimum(points[:, :, 2] / distance, 0.0)
    if behind.any():
        shade = loudspeaker.rear_shading(wave_number, sources.baffle[:, None, None], behind[:, :, None])
        power *= np.square(shade).astype(np.float32)
    return erb.band_power(power)


def _ray(sources: Sources, rows: Rows, driver: int, points: FloatArray, distance: FloatArray) -> _Ray:
    """The way from a driver to the points, and the direction in which it leaves."""
    right = points[rows, :, 0] - sources.x[rows, driver, None]
    up = points[rows, :, 1] - sources.y[rows, driver, None]
    out = points[rows, :, 2]
    path = np.maximum(np.sqrt(right**2 + up**2 + out**2), 1e-3)
    longer, gain = ((part)[..., None].astype(np.float32) for part in (path - distance[rows], distance[rows] / path))
    return _Ray(longer, gain, right / path, up / path, out / path)


def _heard(parts: NDArray[np.float32] | NDArray[np.complex128]) -> slice:
    """The frequencies between the first and the last at which one of the drivers counts."""
    counts = np.flatnonzero(parts.any(axis=0))
    return slice(int(counts[0]), int(counts[-1]) + 1) if counts.size else slice(0, 0)


def _pattern(sources: Sources, rows: Rows, driver: int, kind: Radiator, ray: _Ray, wave_number: Single) -> Single:
    """Pressure of a driver re its axis towards the points, [n, P, F]; behind the baffle, that at its rim."""
    across = np.hypot(ray.right, ray.up)
    behind = ray.out < 0
    sine = np.where(behind, 1.0, across)
    size_x, size_y = sources.size_x[rows, driver, None], sources.size_y[rows, driver, None]
    if kind is Radiator.PISTON:
        return _pistons((size_x * sine)[..., None], wave_number)
    unit = np.where(behind & (across > 0), 1 / np.maximum(across, 1e-12), 1.0)
    planes = ((ray.right, size_x, sources.coverage_x), (ray.up, size_y, sources.coverage_y))
    if kind is Radiator.RECTANGLE:
        phases = [(part * unit * size / 2)[..., None] * wave_number for part, size, _ in planes]
        return piston.rectangle(*phases).astype(np.float32)
    angle = np.degrees(np.arctan2(sine, np.maximum(ray.out, 0.0))) / np.where(across > 0, across, 1.0)
    frequency = wave_number * np.float32(SPEED_OF_SOUND / (2 * np.pi))
    exponent = np.zeros((*across.shape, wave_number.size), np.float32)
    for part, mouth, coverage in planes:
        cover = coverage[rows, driver, None]
        widening = np.maximum(1.0, piston.control_frequency(cover, mouth) / frequency)
        narrow = (2 / (cover * widening)).astype(np.float32)[:, None]
        exponent -= np.square((part * angle).astype(np.float32)[..., None] * narrow)
    return np.asarray(np.exp2(exponent, out=exponent))


def _pistons(reach: FloatArray, wave_number: Single) -> Single:
    """Pistons at a [m] times the sine of the angle, from the table."""
    most = float(reach.max()) * float(wave_number.max(initial=0.0))
    table = kernel.piston_table(2 ** max(2, int(np.ceil(np.log2(max(most, 1.0))))))
    entry = (reach * kernel.STEPS).astype(np.float32) * wave_number
    entry += np.float32(0.5)
    return np.take(table, entry.astype(np.int32), mode="clip")


def _add(real: Single, imaginary: Single, rows: Rows, heard: slice, field: NDArray[Any], phase: Single) -> None:
    """Add what a driver of some rows gives, delayed by a phase."""
    cosine, sine = np.cos(phase), np.sin(phase)
    if np.iscomplexobj(field):
        along, across = field.real.astype(np.float32), field.imag.astype(np.float32)
        real[rows, :, heard] += along * cosine + across * sine
        imaginary[rows, :, heard] += across * cosine - along * sine
        return
    some = slice(None) if len(rows) == len(real) else rows
    real[some, :, heard] += np.multiply(cosine, field, out=cosine)
    imaginary[some, :, heard] -= np.multiply(sine, field, out=sine)
