"""What a cable takes of a loudspeaker's impedance."""

from __future__ import annotations

from typing import Final

COPPER: Final = 0.017241
"""Resistivity of annealed copper at 20 °C [ohm mm²/m]: IEC 60028, from memory."""

LOSS: Final = 0.05
"""The loop's resistance is at most this share of the nominal impedance. Common practice."""


def area_needed(length: float, ohm: float) -> float:
    """Return the copper that keeps a loop of twice this length within its share of the impedance [mm²].

    Examples
    --------
    >>> round(area_needed(10.0, 8.0), 2)
    0.86
    """
    return 2 * COPPER * length / (LOSS * ohm)
