"""The acoustic profile of a loudspeaker: what it radiates to each side, computed once a revision and stored.

Levels are ERB-smoothed and relative to the axis, so the axis itself is 0 dB in every band.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triptych.recommender.physics import erb, kernel, polar_set, standard
from triptych.recommender.physics.checks import BoolArray, FloatArray, OutOfRange, within
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.loudspeaker import Assumed, Sources

__all__ = [
    "MODEL_VERSION",
    "PROFILE_ANGLES",
    "Profile",
    "decibels",
    "level_at_each",
    "levels_at",
    "pack",
    "profile",
    "unpack",
]

MODEL_VERSION: Final = 2
"""Changes whenever a stored profile would come out otherwise, by more than the rounding of its last digit."""

PROFILE_STEP: Final = 2
"""Between two angles of a profile [deg]."""

PROFILE_ANGLES: Final[NDArray[np.int64]] = np.arange(-72, 73, PROFILE_STEP)
"""Angles of a profile, to the right in the horizontal plane, up in the vertical one [deg]."""

PER_BAND: Final = 6
"""Frequencies computed in each band."""

PER_BAND_BEHIND: Final = 3
"""The same beyond the angles of a profile, where they count for the sound power alone."""

TAPS: Final = 8
"""Angles that an interpolated level is drawn from."""

SCALE: Final = 32768.0
"""Stored whole numbers to each unit of pressure: 0.002 dB at -24 dB, up to +6 dB."""

FLOOR: Final = 1e-4
"""Least power that is told apart from nothing: -40 dB."""

FLAGS: Final = tuple(f.name for f in fields(Assumed))
"""The assumed inputs, in the order of their bits; the next bit says that a loudspeaker is usable."""

RECORD: Final = np.dtype(
    [("version", "<u2"), ("flags", "<u2"), ("spacing_low", "<f4"), ("spacing_high", "<f4"),
     ("planes", "<u2", (2, PROFILE_ANGLES.size, erb.BANDS)),
     ("sound_power", "<u2", (erb.BANDS,)), ("listening_window", "<u2", (erb.BANDS,))]
)  # fmt: skip
"""One stored profile: little-endian, 8300 bytes."""


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Profiles of N loudspeakers.

    planes: root of the smoothed power re the axis, in the horizontal and vertical plane, [N, 2, A, B] [1/32768]
    sound_power, listening_window: the same for the averages of ANSI/CTA-2034-A, [N, B] [1/32768]
    usable: whether there is a model at all, [N]
    assumed: which inputs were typical values
    spacing_low, spacing_high: range of the driver spacing as factors of the likely one; 1 where it is stated, [N] [1]
    """

    planes: NDArray[np.uint16]
    sound_power: NDArray[np.uint16]
    listening_window: NDArray[np.uint16]
    usable: BoolArray
    assumed: Assumed
    spacing_low: FloatArray
    spacing_high: FloatArray

    def __len__(self) -> int:
        return len(self.usable)

    def take(self, rows: NDArray[np.intp]) -> Profile:
        """Return those of the loudspeakers at some rows, in that order."""
        return self._each(lambda part: part[rows])

    def beside(self, other: Profile) -> Profile:
        """Return these, then others."""
        rest = iter(other._parts())
        return self._each(lambda part: np.concatenate([part, next(rest)]))

    def _parts(self) -> list[NDArray[Any]]:
        """All arrays, in one order."""
        own = [getattr(self, f.name) for f in fields(self) if f.name != "assumed"]
        return own + [getattr(self.assumed, name) for name in FLAGS]

    def _each(self, made: Callable[[NDArray[Any]], NDArray[Any]]) -> Profile:
        """Return what is made of each array, asked in that order."""
        names = [f.name for f in fields(self) if f.name != "assumed"]
        parts = [made(part) for part in self._parts()]
        return Profile(**dict(zip(names, parts, strict=False)), assumed=Assumed(*parts[len(names) :]))


def decibels(stored: NDArray[np.uint16]) -> Single:
    """Return stored values as levels re the axis, not below -40. [dB]."""
    amplitude = np.maximum(stored.astype(np.float32) / np.float32(SCALE), np.float32(np.sqrt(FLOOR)))
    return np.asarray(20 * np.log10(amplitude), dtype=np.float32)


def _stored(power: Single) -> NDArray[np.uint16]:
    """Power as it is stored; 0 where there is none."""
    amplitude = np.rint(np.sqrt(np.fmax(power, np.float32(0))) * np.float32(SCALE))
    return np.asarray(np.clip(amplitude, 0, 65535), dtype=np.uint16)


def _smoothed(sources: Sources, azimuth: ArrayLike, elevation: ArrayLike, per_band: int, among: int) -> Single:
    """Power in each band [N, D, B]."""
    count = np.broadcast(np.atleast_1d(azimuth), np.atleast_1d(elevation)).size
    result = np.full((len(sources), count, erb.BANDS), np.nan, dtype=np.float32)
    for chunk in kernel.chunks(sources, erb.fine_grid(per_band), azimuth, elevation, among):
        result[chunk.rows] = kernel.unfolded(erb.band_power(chunk.power), chunk.direction)
    return result


def profile(sources: Sources, among: int = 0) -> Profile:
    """Return the profiles of loudspeakers: both planes, and the standard's sound power and listening window.

    among: how many are computed one after the other, these with them [1]
    """
    planes = np.empty((len(sources), 2, PROFILE_ANGLES.size, erb.BANDS), dtype=np.float32)
    planes[:, 0] = _smoothed(sources, PROFILE_ANGLES, 0.0, PER_BAND, among)
    planes[:, 1] = _smoothed(sources, 0.0, PROFILE_ANGLES, PER_BAND, among)
    return Profile(
        planes=_stored(planes),
        sound_power=_stored(_sound_power(sources, planes, among)),
        listening_window=_stored(_listening_window(planes)),
        usable=sources.usable,
        assumed=sources.assumed,
        spacing_low=sources.spacing_low,
        spacing_high=sources.spacing_high,
    )


def _at(angles: Iterable[int]) -> list[int]:
    return [int(np.searchsorted(PROFILE_ANGLES, angle)) for angle in angles]


def _listening_window(planes: Single) -> Single:
    across, up = polar_set.AVERAGED_ANGLES["listening_window"]
    squares = np.concatenate([planes[:, 0, _at(across)], planes[:, 1, _at(up)]], axis=1)
    return standard.mean_square("listening_window", squares)


def _sound_power(sources: Sources, planes: Single, among: int) -> Single:
    """Both orbits: what the planes hold is taken from them, the rest is computed, coarser."""
    orbits = [np.array(orbit) for orbit in polar_set.AVERAGED_ANGLES["sound_power"]]
    squares = [np.empty((len(sources), orbit.size, erb.BANDS), dtype=np.float32) for orbit in orbits]
    for plane, (orbit, square) in enumerate(zip(orbits, squares, strict=True)):
        held = np.abs(orbit) <= PROFILE_ANGLES[-1]
        far = orbit[~held]
        turn, rise = (far, 0.0) if plane == 0 else (np.where(np.abs(far) > 90, 180, 0), _risen(far))
        square[:, held] = planes[:, plane, _at(orbit[held])]
        square[:, ~held] = _smoothed(sources, turn, rise, PER_BAND_BEHIND, among)
    return standard.mean_square("sound_power", np.concatenate(squares, axis=1))


def _risen(angle: NDArray[np.int64]) -> NDArray[np.int64]:
    """Elevation of a point of the vertical orbit that goes over the top to azimuth 180."""
    return np.where(np.abs(angle) > 90, np.sign(angle) * (180 - np.abs(angle)), angle)


def pack(profile: Profile) -> list[bytes]:
    """Return each profile as a blob of 8300 bytes."""
    records = np.zeros(len(profile), dtype=RECORD)
    records["version"] = MODEL_VERSION
    bits = [getattr(profile.assumed, name) for name in FLAGS] + [profile.usable]
    records["flags"] = sum(bit.astype(np.uint16) << i for i, bit in enumerate(bits))
    for name in RECORD.names[2:] if RECORD.names else ():
        records[name] = getattr(profile, name)
    return [record.tobytes() for record in records]


def unpack(blobs: Iterable[bytes]) -> Profile:
    """Return the profiles in blobs, without a copy of what is in them; `OutOfRange` where one is of another version."""
    return read(b"".join(blobs))


def read(joined: bytes | bytearray | memoryview) -> Profile:
    """Return the profiles in a buffer of blobs laid end to end, as views; `OutOfRange` where it holds anything else."""
    if memoryview(joined).nbytes % RECORD.itemsize:
        raise OutOfRange(f"a stored profile has {RECORD.itemsize} bytes; these are {memoryview(joined).nbytes}")
    records = np.frombuffer(joined, dtype=RECORD)
    if np.any(records["version"] != MODEL_VERSION):
        raise OutOfRange(f"a stored profile is not of model version {MODEL_VERSION}; compute it anew")
    flags = records["flags"]
    assumed = Assumed(*((flags >> i & 1).astype(bool) for i in range(len(FLAGS))))
    return Profile(
        planes=records["planes"],
        sound_power=records["sound_power"],
        listening_window=records["listening_window"],
        usable=(flags >> len(FLAGS) & 1).astype(bool),
        assumed=assumed,
        spacing_low=records["spacing_low"].astype(float),
        spacing_high=records["spacing_high"].astype(float),
    )


_NODES: Final = np.arange(TAPS)
_LAGRANGE: Final = np.array([np.prod([i - j for j in _NODES if j != i]) for i in _NODES], float)
"""What Lagrange's polynomials at whole numbers are divided by."""


def _taps(angle: FloatArray) -> tuple[NDArray[np.intp], Single]:
    """First of the angles to draw from, and the weight of each [..., taps]: Lagrange's polynomial."""
    place = (
        within("angle", angle, float(PROFILE_ANGLES[0]), float(PROFILE_ANGLES[-1]), "deg") - PROFILE_ANGLES[0]
    ) / PROFILE_STEP
    first = np.clip(np.floor(np.nan_to_num(place)).astype(np.intp) - (TAPS // 2 - 1), 0, PROFILE_ANGLES.size - TAPS)
    apart = (place - first)[..., None] - _NODES
    before, after = np.ones((2, *apart.shape))
    np.cumprod(apart[..., :-1], axis=-1, out=before[..., 1:])
    np.cumprod(apart[..., :0:-1], axis=-1, out=after[..., -2::-1])
    return first, (before * after / _LAGRANGE).astype(np.float32)


def _levels(power: Single) -> Single:
    return np.asarray(10 * np.log10(np.maximum(power, np.float32(FLOOR))), dtype=np.float32)


def _power(stored: NDArray[np.uint16]) -> Single:
    amplitude = stored.astype(np.float32)
    return np.square(amplitude, out=amplitude)


def levels_at(plane: NDArray[np.uint16], angles: ArrayLike) -> Single:
    """Return the levels re the axis at a few angles for all loudspeakers, [N, S, B] [dB].

    plane: one of a profile, [N, A, B]
    angles: in that plane, up to 72 either way, [S] [deg]

    -40 at least, and throughout where a loudspeaker is not usable.
    """
    first, weights = _taps(np.atleast_1d(np.asarray(angles, float)))
    low, high = int(first.min()), int(first.max()) + TAPS
    matrix = np.zeros((first.size, high - low), np.float32)
    for row, start, values in zip(matrix, first - low, weights, strict=True):
        row[start : start + TAPS] = values / np.float32(SCALE**2)
    result = np.empty((len(plane), first.size, plane.shape[2]), np.float32)
    for start in range(0, len(plane), 64):
        part = slice(start, start + 64)
        np.matmul(matrix, _power(plane[part, low:high]), out=result[part])
    return _levels(result)


def level_at_each(plane: NDArray[np.uint16], angle: ArrayLike, rows: NDArray[np.intp] | None = None) -> Single:
    """Return the levels re the axis at an angle of each loudspeaker's own, [N, B]; NaN where the angle is [dB].

    plane: one of a profile, [M, A, B]
    angle: of each in that plane, up to 72 either way, [N] [deg]
    rows: which loudspeakers of the plane, [N]; all where None
    """
    rows = np.arange(len(plane)) if rows is None else rows
    angle = np.broadcast_to(np.asarray(angle, float), len(rows))
    first, weights = _taps(angle)
    picked = _power(plane[rows[:, None], first[:, None] + np.arange(TAPS)])
    return _levels(np.einsum("nt,ntb->nb", weights, picked) / np.float32(SCALE**2))
