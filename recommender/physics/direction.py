"""Directions as a box sees them, and as the room does.

Angles are seen from the box: azimuth to the right as the listener sees it, elevation up.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within

__all__ = ["direction", "direction_in_box", "plane_angles"]


class Direction(NamedTuple):
    """A direction: azimuth to the right, elevation up [deg]."""

    azimuth: FloatArray
    elevation: FloatArray


class Vector(NamedTuple):
    """A unit vector: to the right, up, and out of the baffle [1]."""

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


def direction_in_box(
    azimuth: ArrayLike, elevation: ArrayLike, toe_in: ArrayLike = 0.0, tilt: ArrayLike = 0.0
) -> Direction:
    """Return a room's direction as an aimed box sees it, off the box's own axis [deg].

    azimuth, elevation: from the box in the room: right of straight ahead, and above the horizon [deg]
    toe_in: how far the front is turned to the right as the listener sees it; positive for the left main [deg]
    tilt: how far the front looks up [deg]

    The box is tilted about its own lateral axis first, then turned about the vertical.
    Source: plane rotations.
    """
    right, up, out = direction(np.asarray(azimuth, float) - np.asarray(toe_in, float), elevation)
    lean = np.radians(within("tilt", tilt, -90.0, 90.0, "deg"))
    up, out = up * np.cos(lean) - out * np.sin(lean), up * np.sin(lean) + out * np.cos(lean)
    return Direction(np.degrees(np.arctan2(right, out)), np.degrees(np.arcsin(np.clip(up, -1.0, 1.0))))


def plane_angles(azimuth: ArrayLike, elevation: ArrayLike) -> Direction:
    """Return the angles in a box's two planes at which path differences are those of a direction [deg].

    azimuth, elevation: in the box's frame, right and up [deg]

    Arc sines of the direction's components to the right and up.
    Source: plane trigonometry.
    """
    right, up, _ = direction(azimuth, elevation)
    return Direction(np.degrees(np.arcsin(right)), np.degrees(np.arcsin(up)))
