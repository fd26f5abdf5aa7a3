"""How far a modelled response may be from that of the box itself, and what a datasheet that is silent adds to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.loudspeaker import Assumed, Sources
from triptych.recommender.physics.timbre import seat_weights
from triptych.recommender.scene.arrays import BoolArray, FloatArray, InRoom, Kin, Loading

MODEL_SHIFT: Final = 1.5
"""By so many of the ear's bands a feature of a modelled response may lie elsewhere. Our own figure.

What it gives holds five in six of the differences, at seats within 25 deg and in sound power, that centres of the usual
layouts show where cones are 4 % larger or smaller (baskets of one nominal size differ so), domes 15 %, crossovers 10 %
higher or lower, or slopes of order 2, 3, 6 or 8 rather than 4; common practice, no source.
"""

UNSAID_SHIFT: Final = {"layout": 6.0, "size": 1.5, "tweeter": 7.0, "crossover": 3.0, "order": 2.0, "spacing": 1.5}
"""By so many of the ear's bands more it may lie elsewhere where a datasheet leaves an input out: a crossover a third
higher or lower, a slope of order 2 to 4, all kinds of tweeters, the usual layouts. Our own figures."""

UNSAID_LEFT: Final = {
    "layout": (0.25, 4.0), "size": (0.8, 1.25), "tweeter": (0.22, 3.1), "crossover": (0.4, 2.4), "order": (0.6, 1.35),
    "spacing": (0.35, 2.4),
}  # fmt: skip
"""What is left at least and at most of the square of a difference in responses where a datasheet leaves one input out
[1]: what its plausible values make of it in nineteen of twenty boxes of the usual layouts. Our own figures."""

GUIDED_CROSSOVER_LEFT: Final = (0.6, 5.0)
"""The same of a crossover to a waveguide or a horn, which is taken at the low end of what it may be."""

SPREAD_CROSSOVER_LEFT: Final = (0.22, 1.4)
"""The same of one to a ribbon, which is taken at the high end."""

SIZED_TWEETER_LEFT: Final = (0.85, 1.3)
"""The same of a tweeter whose kind is stated."""

STACKED_LEFT: Final = (0.9, 1.1)
"""The same of the spacing of drivers over each other."""


@dataclass(frozen=True, slots=True)
class Unsaid:
    """What the inputs that a datasheet leaves out may do to each modelled response.

    By how many bands a feature may lie elsewhere for all of them, and what any one leaves of the square of a difference
    at least and at most [1].
    """

    shift: FloatArray
    least_left: FloatArray
    most_left: FloatArray


def side_by_side(sources: Sources) -> BoolArray:
    """Of which loudspeakers the drivers are further apart across than up, so that seats aside hear their spacing."""
    across, up = (np.where(sources.mask, part, 0.0) for part in (sources.x, sources.y))
    return np.asarray(np.ptp(across, axis=1) > np.ptp(up, axis=1))


def unsaid(assumed: Assumed, kin: Kin, lying: BoolArray) -> Unsaid:
    """What is left out of each datasheet; of a tweeter whose kind is stated that shifts an eighth.

    The spacing of drivers that are over each other, as they are not in `lying` boxes, is hardly heard at any seat.
    """
    untyped = kin.loading == Loading.UNKNOWN
    shifts = dict(UNSAID_SHIFT) | {"tweeter": UNSAID_SHIFT["tweeter"] * np.where(untyped, 1.0, 0.125)}
    squares = [np.square(shift) * getattr(assumed, name) for name, shift in shifts.items()]
    least, most = (
        [np.where(getattr(assumed, name), left, 1.0) for name, left in _left(assumed, kin, lying, which).items()]
        for which in (0, 1)
    )
    return Unsaid(np.asarray(np.sqrt(np.sum(squares, axis=0))), np.min(least, axis=0), np.max(most, axis=0))


def _left(assumed: Assumed, kin: Kin, lying: BoolArray, which: int) -> dict[str, FloatArray | float]:
    """What each input leaves of the square of a difference at least (0) or at most (1) where it is left out [1]."""
    usual = {name: ends[which] for name, ends in UNSAID_LEFT.items()}
    guided, spread = np.isin(kin.loading, (Loading.WAVEGUIDE, Loading.HORN)), kin.loading == Loading.RIBBON
    return usual | {
        # what crossover is taken follows from the tweeter, so a kind that is said moves that too
        "tweeter": np.where(
            kin.loading == Loading.UNKNOWN,
            usual["tweeter"] * np.where(assumed.crossover, usual["crossover"], 1.0),
            SIZED_TWEETER_LEFT[which],
        ),
        "spacing": np.where(lying, usual["spacing"], STACKED_LEFT[which]),
        "crossover": np.select(
            [guided, spread], [GUIDED_CROSSOVER_LEFT[which], SPREAD_CROSSOVER_LEFT[which]], usual["crossover"]
        ),
    }


def free_air(
    levels: Single, power: Single, axis: Single, around: BoolArray, whole: BoolArray, untold: Unsaid
) -> InRoom:
    """Loudspeakers at the regular seats before any room, from levels and sound power against their axis [dB].

    Cones of one nominal size, domes, crossovers and their slopes differ, so two loudspeakers of one description differ
    too: what one does at a frequency another does `MODEL_SHIFT` bands beside it, and more for what is `untold`. Nothing
    of that where levels `around` or the `whole` sound power were measured.
    """
    at_seats = np.einsum("ns,s->n", np.square(_shifted(levels)), seat_weights(levels.shape[1]).astype(np.float32))
    spread = np.sqrt((np.where(around, 0, at_seats) + np.where(whole, 0, np.square(_shifted(power)))) / 2)
    nothing, modelled = np.zeros(len(levels)), ~(around & whole)
    spread = spread.astype(np.float64)
    return InRoom(
        direct=(levels + axis[:, None])[:, None],
        power=(power + axis)[:, None],
        unknown=nothing,
        spread=spread,
        unsaid=spread * untold.shift / MODEL_SHIFT,
        least_left=np.where(modelled, untold.least_left, 1.0),
        most_left=np.where(modelled, untold.most_left, 1.0),
    )


def _shifted(levels: Single) -> Single:
    """How much levels [..., B] change if all they show lay `MODEL_SHIFT` bands elsewhere [dB rms]."""
    return np.asarray(MODEL_SHIFT * np.sqrt(np.nanmean(np.square(np.diff(levels, axis=-1)), axis=-1)))
