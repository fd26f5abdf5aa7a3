"""Synthetic in-room responses whose mismatch is known."""

from __future__ import annotations

import numpy as np

from triptych.recommender.physics.checks import FloatArray
from triptych.recommender.verify.trio import SeatCurve, Trio, trio

GRID: FloatArray = np.geomspace(20.0, 20000.0, 1200)
FLAT: FloatArray = np.zeros(GRID.size)
ROOM: FloatArray = 70.0 - 1.0 * np.log2(GRID / 1000.0) + 1.5 * np.sin(3.1 * np.log(GRID)) + np.sin(7.0 * np.log(GRID))
"""A sloping, wavy response such as any room gives; alike for all three."""


def measured(centre: FloatArray, left: FloatArray = FLAT, right: FloatArray = FLAT, seat: str = "middle") -> Trio:
    """Three in a room, each with something of its own added to what the room does to all."""
    return trio(seat, *(SeatCurve(GRID, ROOM + own) for own in (left, centre, right)))


def comb(notch: float, reflected: float = 0.6) -> FloatArray:
    """What a bounce adds whose first notch is at `notch`: half a wave late, so much weaker than the direct sound."""
    delay = 0.5 / notch
    return np.asarray(20 * np.log10(np.abs(1 + reflected * np.exp(-2j * np.pi * GRID * delay))))


def hole(frequency: float, depth: float, octaves: float) -> FloatArray:
    """A dip of this depth, so wide at half of it."""
    return np.asarray(-depth * np.exp(-np.log(2) * (2 * np.log2(GRID / frequency) / octaves) ** 2))
