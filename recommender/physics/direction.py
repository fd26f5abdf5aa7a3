"""Directions as a box sees them, and as the room does.

Direction are seen from the box: azimuth to the right as the listener sees it, elevation up.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within

__all__ = ["direction", "direction_in_box", "plane_angles", "point_in_box"]


class Direction(NamedTuple):
    """A direction: azimuth to the right, elevation up [deg]."""

    azimuth: FloatArray
    elevation: FloatArray


class Vector(NamedTuple):
    """A unit vector [1], or a point [m]: to the right, up, and out of the baffle."""

    right: FloatArray
    up: FloatArray
    out: FloatArray


def direction(azimuth: ArrayLike, elevation: ArrayLike) -> Vector:
    """Return the unit vector of a direction: to the right, up, and out of the baffle [1].

    azimuth, elevation: to the right, and up [deg]

    Source: plane trigonometry.
    """
    azimuth = np.radians(within("azimuth", azimuth, -360.0, 360.0, "deg"))
    elevation = np.radians(within("elevation", elevation, -360.0, 360.0, "deg"))
    right, up, out = np.sin(azimuth) * np.cos(elevation), np.sin(elevation), np.cos(azimuth) * np.cos(elevation)
    return Vector(*np.broadcast_arrays(right, up, out))


def point_in_box(
    right: ArrayLike, up: ArrayLike, ahead: ArrayLike, toe_in: ArrayLike = 0.0, tilt: ArrayLike = 0.0
) -> Vector:
    """Return a point of the room as an aimed box has it: to the right, up, and out of its baffle [m].

    right, up, ahead: from the acoustic axis at the baffle: to the right, above it, and toward the listeners [m]
    toe_in: how far the front is turned to the right as the listener sees it; positive for the left main [deg]
    tilt: how far the front looks up [deg]

    The box is tilted about its own lateral axis first, then turned about the vertical.
    Source: plane rotations.
    """
    right, up, ahead = (np.asarray(part, float) for part in (right, up, ahead))
    turn = np.radians(within("toe-in", toe_in, -360.0, 360.0, "deg"))
    lean = np.radians(within("tilt", tilt, -90.0, 90.0, "deg"))
    aside = right * np.cos(turn) - ahead * np.sin(turn)
    before = right * np.sin(turn) + ahead * np.cos(turn)
    above = up * np.cos(lean) - before * np.sin(lean)
    return Vector(*np.broadcast_arrays(aside, above, up * np.sin(lean) + before * np.cos(lean)))


def direction_in_box(
    azimuth: ArrayLike, elevation: ArrayLike, toe_in: ArrayLike = 0.0, tilt: ArrayLike = 0.0
) -> Direction:
    """Return a room's direction as an aimed box sees it, off the box's own axis [deg].

    azimuth, elevation: from the box in the room: right of straight ahead, and above the horizon [deg]
    toe_in, tilt: as in `point_in_box` [deg]

    Source: plane rotations.
    """
    right, up, out = point_in_box(*direction(azimuth, elevation), toe_in, tilt)
    return Direction(np.degrees(np.arctan2(right, out)), np.degrees(np.arcsin(np.clip(up, -1.0, 1.0))))


def plane_angles(azimuth: ArrayLike, elevation: ArrayLike) -> Direction:
    """Return the angles in a box's two planes at which path differences are those of a direction [deg].

    azimuth, elevation: in the box's frame, right and up [deg]

    Arc sines of the direction's components to the right and up.
    Source: plane trigonometry.
    """
    right, up, _ = direction(azimuth, elevation)
    return Direction(np.degrees(np.arcsin(right)), np.degrees(np.arcsin(up)))
