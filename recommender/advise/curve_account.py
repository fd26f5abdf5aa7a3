"""What the measured curves of one loudspeaker amount to: the standard's averages, and the preference figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.database import measured_curves as stored_curves
from triptych.catalog.database.measured_curves import Prepared, StoredCurve
from triptych.catalog.records import CurveKind, Evidence
from triptych.recommender.advise.curve_arrays import gridded, on_axis, polar_of, relative
from triptych.recommender.physics import preference, standard
from triptych.recommender.physics.checks import OutOfRange
from triptych.recommender.physics.standard import Curves
from triptych.recommender.scene.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class Preference:
    """The preference figure of a full measured set; None, and why, where there is none."""

    value: float | None
    why: str


SOURCE = "S. E. Olive, AES convention papers 6113 and 6190 (2004), coefficients from memory"


@dataclass(frozen=True, slots=True)
class CurveAccount:
    """The curves of a loudspeaker, the standard's averages of them where there is a set, and the preference figure."""

    curves: tuple[StoredCurve, ...]
    averages: Curves | None
    preference: Preference


def account_of(found: Sequence[StoredCurve]) -> CurveAccount:
    """Account for curves."""
    averages, absolute = averages_of(found)
    measured = all(one.record.evidence is Evidence.MEASURED for one in found)
    return CurveAccount(tuple(found), averages, _preference(averages, absolute, measured))


def averages_of(found: Sequence[Prepared]) -> tuple[Curves | None, bool]:
    """The standard's curves from both orbits, and whether they hold the response on the axis or are relative to it."""
    orbits = [one for one in found if one.record.kind.orbit]
    if not any(one.record.kind is CurveKind.HORIZONTAL for one in orbits):
        return None, False
    used = [*orbits, *(one for one in found if one.record.kind is CurveKind.ON_AXIS)]
    frequency, kinds = _on_one_grid(used)
    if not frequency.size:
        return None, False
    across, up = relative(kinds, CurveKind.HORIZONTAL), relative(kinds, CurveKind.VERTICAL)
    if len(across) < 2:
        return None, False
    axis = on_axis(kinds)
    shift = np.zeros(frequency.size) if axis is None else axis
    moved = [{angle: level + shift for angle, level in orbit.items()} for orbit in (across, up)]
    return standard.curves(polar_of(frequency, *moved)), axis is not None


def _on_one_grid(found: Sequence[Prepared]) -> tuple[FloatArray, dict[CurveKind, dict[float, FloatArray]]]:
    """The frequencies that all curves share, and the levels there by kind and angle."""
    spans = [(one.grid_first, one.grid_first + len(one.grid) // 4) for one in found]
    first, last = max(start for start, _ in spans), min(stop for _, stop in spans)
    kinds: dict[CurveKind, dict[float, FloatArray]] = {}
    frequency: FloatArray = np.empty(0)
    for one in found if last > first else ():
        own, level = gridded(one)
        part = slice(first - one.grid_first, last - one.grid_first)
        frequency = own[part]
        kinds.setdefault(one.record.kind, {})[one.record.angle or 0.0] = level[part]
    return frequency, kinds


def _preference(averages: Curves | None, absolute: bool, measured: bool) -> Preference:
    if averages is None:
        return Preference(None, "a preference figure needs a full measured set: 70 curves on two orbits, 10 deg apart")
    if averages.missing:
        lacking = sorted({angle for angles in averages.missing.values() for angle in angles})
        return Preference(
            None, f"a preference figure needs a full measured set; {len(lacking)} of its curves are missing"
        )
    if not absolute:
        return Preference(None, "the set was divided by its axis, and no curve on the axis is there")
    try:
        value = float(preference.preference(averages, "measured" if measured else "stated"))
    except OutOfRange as problem:
        return Preference(None, str(problem))
    if np.isnan(value):
        return Preference(None, "the sound power does not fall 6 dB within the measured range, so its reach is unknown")
    return Preference(value, f"from the full measured set; {SOURCE}")


def preference_of(session: Session, number: int) -> Preference:
    """The preference figure of the loudspeaker of that number."""
    return account_of(stored_curves.by_number(session, number)).preference
