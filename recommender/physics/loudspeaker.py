"""One model of a loudspeaker for everything: drivers with places, sizes and crossovers, to pressure in any direction.

The box's own frame: x to the right as the listener sees it, y up, z out of the baffle; the origin is the acoustic axis
at the baffle. Angles are seen from the box: azimuth to the right, elevation up. Pressure is relative to the axis.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from enum import IntEnum
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triptych.recommender.physics import crossover, piston
from triptych.recommender.physics.checks import BoolArray, ComplexArray, FloatArray, within
from triptych.recommender.physics.constants import SPEED_OF_SOUND
from triptych.recommender.physics.direction import direction

__all__ = [
    "Assumed",
    "Radiator",
    "Sources",
    "outer_pair",
    "pressure",
    "pressure_at",
    "rear_shading",
    "spread_out",
    "take",
    "turned",
    "weights",
]


Gain = TypeVar("Gain", np.float32, np.complex128)


class Radiator(IntEnum):
    """What a driver radiates as."""

    PISTON = 0
    RECTANGLE = 1
    HORN = 2


@dataclass(frozen=True, slots=True, eq=False)
class Assumed:
    """Which inputs of each loudspeaker are typical values in place of unknown ones, [loudspeaker]."""

    layout: BoolArray
    size: BoolArray
    tweeter: BoolArray
    crossover: BoolArray
    order: BoolArray
    spacing: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Sources:
    """The drivers of N loudspeakers, K at most in each, and X crossovers at most: a structure of arrays.

    x, y: centre of each driver, [N, K] [m]
    kind: what it radiates as, a `Radiator`, [N, K]
    size_x, size_y: effective radius of a piston (both), sides of a rectangle, mouth of a horn, [N, K] [m]
    coverage_x, coverage_y: full angle of a horn between the -6 dB points, NaN for others, [N, K] [deg]
    band: which band it works in, 0 the lowest, [N, K] [1]
    share: its part of its band's pressure; negative if its polarity is turned; 0 where there is no driver, [N, K] [1]
    roll_off: where it rolls off early, as the outer woofer of a 2.5-way does; NaN if it does not, [N, K] [Hz]
    crossover: lowest first, NaN beyond the last, [N, X] [Hz]
    order: acoustic order of the crossovers, [N] [1]
    baffle: narrower side of the baffle, [N] [m]
    usable: whether enough is known for a model at all, [N]
    assumed: which inputs were typical values
    spacing_low, spacing_high: range of the spacing as factors of what x and y hold; 1 where it is stated, [N] [1]
    """

    x: FloatArray
    y: FloatArray
    kind: NDArray[np.int8]
    size_x: FloatArray
    size_y: FloatArray
    coverage_x: FloatArray
    coverage_y: FloatArray
    band: NDArray[np.int8]
    share: FloatArray
    roll_off: FloatArray
    crossover: FloatArray
    order: NDArray[np.int8]
    baffle: FloatArray
    usable: BoolArray
    assumed: Assumed
    spacing_low: FloatArray
    spacing_high: FloatArray

    def __len__(self) -> int:
        return len(self.order)

    @property
    def mask(self) -> BoolArray:
        """Where there is a driver, [N, K]."""
        return np.not_equal(self.share, 0)


def take(sources: Sources, index: ArrayLike | slice) -> Sources:
    """Return some of the loudspeakers, by number, mask or slice."""
    rows = index if isinstance(index, slice) else np.asarray(index)
    assumed = Assumed(*(getattr(sources.assumed, f.name)[rows] for f in fields(Assumed)))
    parts: dict[str, Any] = {f.name: getattr(sources, f.name)[rows] for f in fields(Sources) if f.name != "assumed"}
    return Sources(**parts, assumed=assumed)


def turned(sources: Sources) -> Sources:
    """Return the same boxes turned on their side, top to the left; whatever lay is then upright, left end down."""
    return replace(
        sources,
        x=-sources.y,
        y=sources.x,
        size_x=sources.size_y,
        size_y=sources.size_x,
        coverage_x=sources.coverage_y,
        coverage_y=sources.coverage_x,
    )


def spread_out(sources: Sources, factor: ArrayLike) -> Sources:
    """Return the same boxes with their drivers so many times as far apart."""
    factor = np.asarray(factor, float)[:, None]
    return replace(sources, x=sources.x * factor, y=sources.y * factor)


def rear_shading(wave_number: ArrayLike, baffle: ArrayLike, out: ArrayLike) -> FloatArray:
    """Return the pressure behind a box re what a piston in an endless baffle gives at its rim [1].

    wave_number: [rad/m]
    baffle: its narrower side [m]
    out: cosine of the angle off the axis; 1 is returned in front, where it is positive [1]

    1 / sqrt(1 + (k b min(0, cos)/2)^2): a smooth way into the shadow, -3 dB straight behind at 109 m/s over the width,
    near the usual 115 m/s for the baffle step.
    Source: own approximation; baffle step of 115/width: common practice, no source.
    """
    behind = np.minimum(np.asarray(out, float), 0.0) * np.asarray(baffle, float) * np.asarray(wave_number, float) / 2
    return np.asarray(1 / np.sqrt(1 + behind**2))


def band_gains(lower: NDArray[Gain], known: BoolArray) -> NDArray[Gain]:
    """What each band gives of the pressure on the axis, [N, X + 1, F], from the lower share at each crossover.

    Changes `lower`, [N, X, F]: where a loudspeaker has no such crossover (`known`, [N, X]) nothing is handed over.
    """
    lower[~known] = 1.0
    count, corners, width = lower.shape
    gains = np.ones((count, corners + 1, width), dtype=lower.dtype)
    gains[:, :-1] = lower
    for i in range(corners):
        gains[:, i + 1 :] *= (1 - lower[:, i])[:, None]
    return gains


def weights(sources: Sources, frequency: ArrayLike) -> ComplexArray:
    """Return each driver's part of the pressure on the axis, which sum to 1, [N, K, F] [1].

    sources: N loudspeakers [m, Hz]
    frequency: [F], or [N, F] for each loudspeaker its own [Hz]

    Bands hand over in turn, lowest crossover first, each half relative to the sum of both: what all drivers have in
    common (the all-pass of each crossover) is divided out. A driver that rolls off early follows a Linkwitz–Riley
    low-pass of order 2 (common practice, no source).
    Source: Linkwitz, JAES 24(1), 1976 (from memory).
    """
    frequency = np.atleast_1d(within("frequency", frequency, 1.0, 1e5, "Hz"))
    known = ~np.isnan(sources.crossover)
    corner = np.where(known, sources.crossover, 1e3)[:, :, None]
    each = frequency if frequency.ndim == 1 else frequency[:, None]
    gains = band_gains(crossover.lower_share(each, corner, sources.order[:, None, None]), known)
    parts = sources.share[:, :, None] * gains[np.arange(len(sources))[:, None], sources.band]
    early = np.argwhere(~np.isnan(sources.roll_off))
    for driver in np.unique(early[:, 1]):
        rows = early[early[:, 1] == driver, 0]
        parts[rows, driver] *= crossover.low_pass(
            frequency if frequency.ndim == 1 else frequency[rows], sources.roll_off[rows, driver][:, None], 2
        )
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(parts * (1 / parts.sum(axis=1, keepdims=True)))


def _patterns(
    sources: Sources, frequency: FloatArray, right: FloatArray, up: FloatArray, out: FloatArray
) -> FloatArray:
    """Each driver's own directivity towards [N, K, D] directions at [F] frequencies, or [N, F], [N, K, D, F]."""
    sine = np.hypot(right, up)
    unit = np.where((out < 0) & (sine > 0), 1 / np.maximum(sine, 1e-12), 1.0)
    right, up, sine = right * unit, up * unit, np.where(out < 0, 1.0, sine)
    angle = np.degrees(np.arctan2(sine, np.maximum(out, 0.0)))
    result = np.ones((*right.shape, frequency.shape[-1]))
    for kind in Radiator:
        n, k = np.nonzero((sources.kind == kind) & sources.mask)
        if n.size:
            heard = frequency if frequency.ndim == 1 else frequency[n, None]
            wave_number = 2 * np.pi * heard / SPEED_OF_SOUND
            size_x, size_y = sources.size_x[n, k, None], sources.size_y[n, k, None]
            along = [part[n, k] for part in (right, up, sine, angle)]
            if kind is Radiator.PISTON:
                pattern = piston.directivity_of_many((size_x * along[2])[..., None] * wave_number)
            elif kind is Radiator.RECTANGLE:
                half = [(s * a / 2)[..., None] * wave_number for s, a in zip((size_x, size_y), along[:2], strict=True)]
                pattern = piston.rectangle(*half)
            else:
                pattern = _horns(sources, (n, k), along, heard)
            if n.size == sources.kind.size:
                return pattern.reshape(result.shape)
            result[n, k] = pattern
    return result


def _horns(
    sources: Sources, at: tuple[NDArray[np.intp], NDArray[np.intp]], along: list[FloatArray], frequency: FloatArray
) -> FloatArray:
    """Bells in both planes: the angle off the axis is split as the direction's components are."""
    right, up, sine, angle = along
    total = np.ones((*right.shape, frequency.shape[-1]))
    planes = ((right, sources.coverage_x, sources.size_x), (up, sources.coverage_y, sources.size_y))
    for component, coverage, mouth in planes:
        split = angle * component / np.where(sine > 0, sine, 1.0)
        cover = coverage[at][:, None, None]
        total *= piston.horn(
            split[..., None], cover, piston.control_frequency(cover, mouth[at][:, None, None]), frequency
        )
    return total


def pressure(sources: Sources, frequency: ArrayLike, azimuth: ArrayLike, elevation: ArrayLike) -> ComplexArray:
    """Return the complex far-field pressure re the axis, NaN for one that is not usable, [N, D, F] [1].

    sources: N loudspeakers [m, Hz]
    frequency: [F] [Hz]
    azimuth, elevation: in the box's frame, right and up: [D], or [N, D] for each loudspeaker its own [deg]

    The sum over drivers of weight, own directivity and e^(jk (x u_x + y u_y)).
    Source: Beranek & Mellow, *Acoustics*, 2nd ed., sec. 13.16 (product theorem).
    """
    frequency = np.atleast_1d(within("frequency", frequency, 1.0, 1e5, "Hz"))
    vectors = [np.atleast_1d(part) for part in direction(azimuth, elevation)]
    right, up, out = (np.broadcast_to(part, (len(sources), part.shape[-1]))[:, None] for part in vectors)
    wave_number = 2 * np.pi * frequency / SPEED_OF_SOUND
    shape = (*sources.x.shape, right.shape[-1])
    pattern = _patterns(sources, frequency, *(np.broadcast_to(part, shape) for part in (right, up, out)))
    path = sources.x[:, :, None] * right + sources.y[:, :, None] * up
    field = weights(sources, frequency)[:, :, None] * pattern * np.exp(1j * path[..., None] * wave_number)
    shading = rear_shading(wave_number, sources.baffle[:, None, None], out[:, 0, :, None])
    return np.asarray(field.sum(axis=1) * shading)


def pressure_at(sources: Sources, frequency: ArrayLike, points: ArrayLike) -> ComplexArray:
    """Return the complex pressure at points by exact paths, times distance, re the far field's axis, [N, P, F] [1].

    sources: N loudspeakers [m, Hz]
    frequency: [F], or [N, F] for each loudspeaker its own [Hz]
    points: in the box's frame (right, up, out of the baffle), [P, 3] or [N, P, 3] [m]

    Tends to `pressure` far away. Each driver is taken as small against its distance.
    Source: Kinsler, Frey, Coppens & Sanders, *Fundamentals of Acoustics*, 4th ed., ch. 7 (from memory).
    """
    frequency = np.atleast_1d(within("frequency", frequency, 1.0, 1e5, "Hz"))
    points = np.broadcast_to(np.asarray(points, float), (len(sources), *np.shape(points)[-2:]))
    wave_number = 2 * np.pi * (frequency if frequency.ndim == 1 else frequency[:, None]) / SPEED_OF_SOUND
    right, up, out = (points[:, None, :, i] for i in range(3))
    distance = within("distance", np.linalg.norm(points, axis=2)[:, None], 0.05, 1e6, "m")
    dx, dy = right - sources.x[:, :, None], up - sources.y[:, :, None]
    path = np.maximum(np.sqrt(dx**2 + dy**2 + out**2), 1e-3)
    ways = (dx / path, dy / path, np.broadcast_to(out, path.shape) / path, distance / path, path - distance)
    parts = weights(sources, frequency)
    real_parts = parts.real if not parts.imag.any() else None
    total = np.zeros((len(sources), path.shape[2], frequency.shape[-1]), dtype=complex)
    # driver by driver, so that what is worked on stays in the processor's cache
    for k in np.flatnonzero(sources.mask.any(axis=0)).tolist():
        right, up, ahead, nearer, longer = (way[:, k : k + 1] for way in ways)
        field = _patterns(_only(sources, k), frequency, right, up, ahead)[:, 0]
        phase = longer[:, 0, :, None] * wave_number
        if real_parts is None:
            total += parts[:, k, None] * field * nearer[:, 0, :, None] * _delayed(phase)
            continue
        # most weights are real, which halves the work
        field = np.multiply(real_parts[:, k, None], field, out=field)
        field *= nearer[:, 0, :, None]
        turned = np.cos(phase)
        total.real += np.multiply(turned, field, out=turned)
        np.sin(phase, out=phase)
        total.imag -= np.multiply(phase, field, out=phase)
    behind = (out / distance[:, :1])[:, 0, :, None]
    if not (behind < 0).any():
        return total
    return np.asarray(total * rear_shading(wave_number, sources.baffle[:, None, None], behind))


def _only(sources: Sources, driver: int) -> Sources:
    """The same boxes with one of their drivers alone."""
    own = ("kind", "size_x", "size_y", "coverage_x", "coverage_y", "share")
    return replace(sources, **{name: getattr(sources, name)[:, driver : driver + 1] for name in own})


def _delayed(phase: FloatArray) -> ComplexArray:
    """e^(-j phase), which a sine and a cosine give in less than half of the time."""
    turned = np.empty(phase.shape, dtype=complex)
    np.cos(phase, out=turned.real)
    np.negative(np.sin(phase, out=turned.imag), out=turned.imag)
    return turned


class Pair(NamedTuple):
    """Where two outer drivers are, right and up, [N, 2] each; NaN where there are none [m]."""

    left: FloatArray
    right: FloatArray


def outer_pair(sources: Sources) -> Pair:
    """Return where the two outermost drivers that share a band are, left to right.

    Drivers in line with each other (within 1 mm) are no such pair; one that rolls off early shares no band. [m]
    """
    rows, widest = np.arange(len(sources)), np.full(len(sources), 1e-3)
    ends = Pair(*(np.full((len(sources), 2), np.nan) for _ in range(2)))
    free = sources.mask & np.isnan(sources.roll_off)
    for band in range(int(sources.band.max(initial=0)) + 1):
        members = free & (sources.band == band)
        if not members.any():
            continue
        last = np.where(members, sources.x, -np.inf).argmax(axis=1)
        first = np.where(members, sources.x, np.inf).argmin(axis=1)
        apart = np.where(members.any(axis=1), sources.x[rows, last] - sources.x[rows, first], 0.0)
        wider = apart > widest
        for end, driver in zip(ends, (first, last), strict=True):
            end[wider] = np.stack([sources.x[rows, driver], sources.y[rows, driver]], axis=1)[wider]
        widest = np.where(wider, apart, widest)
    return ends
