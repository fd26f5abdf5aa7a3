"""What to enter into the amplifier: sizes, crossover, distances, trims, delays; rounded as its menus are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil
from typing import Final

from triptych.recommender.physics.constants import SPEED_OF_SOUND

TRIM_STEP: Final = 0.5
"""Amplifiers take trims in such steps [dB]. Common practice."""

CROSSOVER_STEP: Final = 10.0
"""... and crossovers in such [Hz]."""

NEAR: Final = 0.07
"""A distance entered so near the true one is not heard [m]: 0.2 ms. Common practice."""


@dataclass(frozen=True, slots=True)
class ChannelSetting:
    """One of the three: distance [m], delay [ms], trim [dB]; None where a figure is not known."""

    name: str
    distance: float | None
    delay: float | None
    trim: float | None


@dataclass(frozen=True, slots=True)
class Settings:
    """What to enter: the crossover of the centre [Hz], and each channel."""

    crossover: float | None
    channels: tuple[ChannelSetting, ...]


def settings(distances: Mapping[str, float | None], trim: float | None, crossover: float | None) -> Settings:
    """Return what to enter for distances from the primary ear [m], a trim [dB] and a crossover [Hz].

    The farthest has no delay; the mains have no trim, because the centre is set against them.
    """
    known = [one for one in distances.values() if one is not None]
    farthest = max(known, default=None)
    return Settings(
        None if crossover is None else ceil(crossover / CROSSOVER_STEP - 1e-9) * CROSSOVER_STEP,
        tuple(ChannelSetting(name, one, _delay(one, farthest), _trim(name, trim)) for name, one in distances.items()),
    )


def _delay(distance: float | None, farthest: float | None) -> float | None:
    if distance is None or farthest is None:
        return None
    return (farthest - distance) / SPEED_OF_SOUND * 1000


def _trim(name: str, trim: float | None) -> float | None:
    if name != "centre":
        return 0.0
    return None if trim is None else round(trim / TRIM_STEP) * TRIM_STEP
