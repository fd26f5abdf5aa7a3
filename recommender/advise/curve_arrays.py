"""Measured curves between the catalogue and the physics: prepared for storing, and read back for criteria and plots."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.database import measured_curves as stored_curves
from triptych.catalog.database.columns import Columns
from triptych.catalog.database.measured_curves import Prepared
from triptych.catalog.records import CurveKind, CurveRecord
from triptych.recommender.physics import curve, erb, standard
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.polar_set import ORBIT, PolarSet, polar_set
from triptych.recommender.physics.profile import Profile, decibels
from triptych.recommender.scene.arrays import BoolArray, FloatArray
from triptych.recommender.scene.measured import HORIZONTAL, MEASURED_ANGLES, VERTICAL, Measured, needed_bands, plane_of

NORMALISED: Final = 0.05
"""A set whose curve at 0 deg is flat to this was divided by its axis [dB]."""

Orbit = Mapping[float, FloatArray]
"""Levels by angle, of one plane."""


def prepare(record: CurveRecord) -> Prepared:
    """A curve with its levels on the logarithmic grid and in the ear's bands."""
    frequency, level = np.array(record.frequency), np.array(record.level)
    grid = curve.log_grid(frequency[0], frequency[-1])
    on_grid = curve.resample(frequency, level, grid)
    return Prepared(
        record=record,
        version=curve.CURVE_VERSION,
        per_octave=curve.PER_OCTAVE,
        grid_first=round(float(np.log2(grid[0] / curve.REFERENCE)) * curve.PER_OCTAVE),
        grid=on_grid.astype("<f4").tobytes(),
        bands=curve.band_levels(grid, on_grid).astype("<f4").tobytes(),
    )


def gridded(found: Prepared) -> tuple[FloatArray, FloatArray]:
    """The frequencies [Hz] and levels [dB] of a stored curve on its grid."""
    level = np.frombuffer(found.grid, dtype="<f4").astype(np.float64)
    steps = found.grid_first + np.arange(level.size)
    return curve.REFERENCE * 2.0 ** (steps / found.per_octave), level


def takes_part(found: Prepared) -> bool:
    """Whether a curve covers the bands that a match needs."""
    bands = np.frombuffer(found.bands, dtype="<f4")
    return found.record.kind is not CurveKind.IN_ROOM and bool(np.isfinite(bands[needed_bands()]).all())


Curves = dict[int, dict[CurveKind, dict[float, FloatArray]]]
"""Levels in the ear's bands by loudspeaker, kind and angle."""


class CurveShelf:
    """The curves of all loudspeakers in the ear's bands, read once when first asked for."""

    def __init__(self, session: Session, found: Curves | None = None) -> None:
        self._session = session
        self._found = found

    @property
    def found(self) -> Curves | None:
        """What was read; None where nobody asked for it yet."""
        return self._found

    def _curves(self) -> Curves:
        if self._found is None:
            self._found = _by_loudspeaker(self._session, stored_curves.bands(self._session))
        return self._found

    def has(self, numbers: Sequence[int]) -> BoolArray:
        """Of which of the loudspeakers with these numbers there are curves."""
        found = self._curves()
        return np.array([number in found for number in numbers], dtype=np.bool_)

    def measured(self, numbers: Sequence[int], profile: Profile) -> Measured:
        """What was measured of the loudspeakers with these numbers, whose modelled profiles are given too."""
        found = self._curves()
        places = [place for place, number in enumerate(numbers) if number in found] if found else []
        result = Measured.none(len(numbers))
        if not places:
            return result
        window = decibels(profile.listening_window[places])
        sets = [_filled(result, place, found[numbers[place]], window[at]) for at, place in enumerate(places)]
        rows = [place for place, made in zip(places, sets, strict=True) if made is not None]
        made = [one for one in sets if one is not None]
        if not made:
            return result
        result.row[rows] = np.arange(len(rows))
        planes, reach = np.stack([one[0] for one in made]), np.stack([one[1] for one in made])
        return Measured(result.axis, result.direct, result.power, result.whole, result.row, planes, reach)


Kinds = Mapping[CurveKind, Mapping[float, FloatArray]]


def _by_loudspeaker(session: Session, columns: Columns) -> Curves:
    """Levels in the ear's bands by loudspeaker, kind and angle; only curves that cover what a match needs."""
    found: Curves = {}
    needed = needed_bands()
    for number, kind, angle, version, packed in zip(*columns.values(), strict=True):
        if version != curve.CURVE_VERSION:
            packed = _anew(session, number, CurveKind(kind), angle)
        level = np.frombuffer(packed, dtype="<f4").astype(np.float64)
        if np.isfinite(level[needed]).all():
            found.setdefault(number, {}).setdefault(CurveKind(kind), {})[angle or 0.0] = level
    return found


def _anew(session: Session, number: int, kind: CurveKind, angle: float | None) -> bytes:
    """The bands of a curve that an older version of the physics prepared, from its raw points."""
    curves = stored_curves.by_number(session, number)
    return next(prepare(one.record).bands for one in curves if stored_curves.place(one.record) == (kind, angle))


def _filled(result: Measured, place: int, kinds: Kinds, modelled_window: Single) -> tuple[Single, FloatArray] | None:
    """Fill the rows of one loudspeaker, and give its planes and their reach if it has a set of angles."""
    axis = on_axis(kinds)
    window = kinds.get(CurveKind.LISTENING_WINDOW, {}).get(0.0)
    if axis is None and window is not None:
        axis = window - modelled_window
    if axis is not None:
        result.axis[place], result.direct[place] = axis, True
    across, up = (relative(kinds, kind) for kind in (CurveKind.HORIZONTAL, CurveKind.VERTICAL))
    power = _sound_power(across, up)
    if power is not None and axis is not None:
        result.power[place], result.whole[place] = power, True
    if len(across) < 2 and len(up) < 2:
        return None
    planes = np.full((2, MEASURED_ANGLES.size, erb.BANDS), np.nan, np.float32)
    reach = np.full((2, 2), np.nan)
    for plane, orbit in ((HORIZONTAL, across), (VERTICAL, up)):
        if len(orbit) > 1:
            levels = np.stack(list(orbit.values()))
            # most boxes are alike left and right, few are above and below the axis
            planes[plane], reach[plane] = plane_of(np.array(list(orbit)), levels, mirrored=plane == HORIZONTAL)
    return planes, reach


def on_axis(kinds: Kinds) -> FloatArray | None:
    """The response on the axis: its own curve, else that at 0 deg of a set that was not divided by it."""
    if (own := kinds.get(CurveKind.ON_AXIS, {}).get(0.0)) is not None:
        return own
    for kind in (CurveKind.HORIZONTAL, CurveKind.VERTICAL):
        at_zero = kinds.get(kind, {}).get(0.0)
        if at_zero is not None and not normalised(at_zero):
            return at_zero
    return None


def normalised(at_zero: FloatArray) -> bool:
    """Whether a curve at 0 deg shows that its set was divided by it: flat at 0 dB."""
    return bool(np.nanmax(np.abs(at_zero)) < NORMALISED)


def relative(kinds: Kinds, kind: CurveKind) -> Orbit:
    """One orbit against its axis, angles rising; empty where the axis was not measured with it."""
    orbit = kinds.get(kind, {})
    zero = orbit.get(0.0)
    if zero is None:
        # both orbits of one measurement share the axis
        other = CurveKind.VERTICAL if kind is CurveKind.HORIZONTAL else CurveKind.HORIZONTAL
        zero = kinds.get(other, {}).get(0.0, kinds.get(CurveKind.ON_AXIS, {}).get(0.0))
    if zero is None or not orbit:
        return {}
    whole = {0.0: zero, **orbit}
    return {angle: whole[angle] - zero for angle in sorted(whole)}


def _sound_power(across: Orbit, up: Orbit) -> FloatArray | None:
    """Sound power against the axis from both orbits; None unless all 70 curves are there."""
    polar = polar_of(np.asarray(erb.bands()), across, up)
    return standard.sound_power(polar) if polar.complete else None


def polar_of(frequency: FloatArray, across: Orbit, up: Orbit) -> PolarSet:
    """The standard's angles out of two orbits; the vertical one shares 0 and 180 deg with the horizontal one."""
    parts = []
    for orbit in (across, up):
        angles = [angle for angle in orbit if angle in ORBIT]
        levels = np.stack([orbit[angle] for angle in angles]) if angles else np.empty((0, frequency.size))
        parts += [np.array(angles), levels]
    return polar_set(frequency, *parts)


def voiced(power: Single, measured: Measured, usable: BoolArray) -> Single:
    """Sound power against the axis: measured where it was, else modelled; 0 where there is neither."""
    if not measured.whole.any():
        return power
    model = np.where(usable[:, None], power, np.float32(0))
    chosen = np.where(np.isnan(measured.power), model, measured.power)
    return np.where(measured.whole[:, None], chosen, power)
