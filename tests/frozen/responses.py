"""Measured responses, invented."""

from __future__ import annotations

import math
from collections.abc import Callable


def curve(own: Callable[[float], float], count: int = 240, low: float = 20.0) -> str:
    """A measured response as text: what a room does to all, and something of its own."""
    lines = []
    for place in range(count):
        hertz = low * (20000 / low) ** (place / (count - 1))
        room = 70 - math.log2(hertz / 1000) + 1.5 * math.sin(3.1 * math.log(hertz)) + math.sin(7 * math.log(hertz))
        lines.append(f"{hertz:.4f}\t{room + own(hertz):.4f}\n")
    return "* invented\nfrequency [Hz]\tlevel [dB]\n" + "".join(lines)


def hole(frequency: float, depth: float, octaves: float) -> Callable[[float], float]:
    """A dip of this depth, so wide at half of it."""
    return lambda hertz: -depth * math.exp(-math.log(2) * (2 * math.log2(hertz / frequency) / octaves) ** 2)


def polar() -> str:
    """A table of horizontal curves, a column an angle: duller to the sides."""
    angles = range(-60, 61, 15)
    rows = [",".join(["frequency", *map(str, angles)])]
    for place in range(60):
        hertz = 100 * 200 ** (place / 59)
        levels = (88 - (hertz / 20000) * (abs(angle) / 10) ** 1.5 + angle / 200 for angle in angles)
        rows.append(",".join([f"{hertz:.3f}", *(f"{level:.3f}" for level in levels)]))
    return "\n".join(rows) + "\n"
