"""What is left of a centre's coverage, at least and at most, where its datasheet leaves an input of the model out."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from triptych.recommender.physics.loudspeaker import Assumed
from triptych.recommender.scene.arrays import BoolArray, FloatArray, Kin, Loading
from triptych.recommender.scene.hearing import Heard

LOSSES: Final = np.log([0.5, 1.0, 2.0, 4.0, 7.0, 10.0, 15.0])
"""The losses at which `UNSAID` says what an input left out makes of them [log dB]."""

UNSAID: Final = {
    "spacing": ((0.82, 0.69, 0.62, 0.6, 0.58, 0.6, 0.5), (1.5, 1.4, 1.65, 1.9, 1.7, 1.35, 1.2)),
    "layout": ((0.33,) * 7, (3.0,) * 7),
    "size": ((0.72, 0.75, 0.83, 0.9, 0.9, 0.9, 0.9), (1.1, 1.17, 1.2, 1.2, 1.25, 1.3, 1.25)),
    "tweeter": ((0.6, 0.68, 0.67, 0.67, 0.63, 0.62, 0.6), (5.0, 3.3, 2.0, 1.6, 1.55, 1.75, 1.7)),
    "crossover": ((0.48, 0.5, 0.5, 0.53, 0.52, 0.45, 0.38), (1.8, 1.7, 1.65, 1.75, 2.0, 2.3, 1.9)),
    "order": ((0.36, 0.42, 0.57, 0.7, 0.66, 0.55, 0.45), (2.7, 2.1, 1.7, 1.4, 1.27, 1.2, 1.17)),
}  # fmt: skip
"""What is left of a loss at least and at most where a datasheet leaves an input out, at each of `LOSSES` [1]: what the
plausible values of each (all kinds of tweeters, crossovers of 1.8 to 3 kHz or 300 to 500 Hz, slopes of order 2 to 4,
cones a size smaller or larger) make of 500 boxes of the usual layouts at seats up to 27 deg aside. A small loss may be
twice as large and stay small; one of 4 to 10 dB moves by a quarter with the slope; only a deep null fills up by half.
What the spacing does is found box by box, and that much beside. Our own figures."""

GUIDED, SPREAD = (Loading.WAVEGUIDE, Loading.HORN), (Loading.RIBBON,)
"""Tweeters that are handed over to low, and those that are high."""

GUIDED_CROSSOVER: Final = ((0.7, 0.9, 0.94, 1.0, 1.0, 0.9, 0.8), (4.3, 3.6, 3.8, 5.5, 3.6, 3.2, 2.2))
"""The line of a crossover to a waveguide or a horn: it is taken at the low end of what it may be, so more is lost."""

SPREAD_CROSSOVER: Final = ((0.36, 0.35, 0.34, 0.33, 0.32, 0.27, 0.24), (1.6, 1.45, 1.36, 1.36, 1.26, 1.3, 1.15))
"""The line of one to a ribbon: it is taken at the high end, so less may be lost."""

MIDDLE_OF: Final = {"layout": 3.0, "size": 1.9, "tweeter": 3.0, "crossover": 2.6, "spacing": 1.0}
"""By which factor coverage is off in the middle of what each thing unsaid may be: all of it, but for spacings, which
are tried box by box."""

MIDDLE_SLOPE: Final = (2.35, 1.95, 1.75, 1.75, 1.75, 1.75, 1.75)
"""The same of slopes at each of `LOSSES`: a gentler one makes much of a small loss, and little of a large one."""

MIDDLE_GUIDED, MIDDLE_SPREAD = 5.0, 1.4
"""The same of crossovers to tweeters that are handed over to low, and to those that are high."""

TWEETER_OF_ITS_KIND: Final = 1.2
"""The same where the kind of tweeter is stated, but not its size or its angles [1]."""

SIZED_TWEETER: Final = ((0.5, 0.84, 0.85, 0.88, 0.88, 0.95, 0.95), (1.25, 1.1, 1.06, 1.06, 1.06, 1.06, 1.06))
"""Its line of `UNSAID`."""


def middle(heard: Heard, loss: FloatArray) -> FloatArray:
    """By how much coverage is raised to the middle of what is unsaid [1]."""
    return np.where(heard.around, 1.0, modelled_middle(heard.assumed, heard.sound.kin, loss))


def modelled_middle(assumed: Assumed, kin: Kin, loss: FloatArray) -> FloatArray:
    """The same where nothing is measured; it falls more slowly than a loss rises."""
    untyped = kin.loading == Loading.UNKNOWN
    guided, spread = np.isin(kin.loading, GUIDED), np.isin(kin.loading, SPREAD)
    told = dict(MIDDLE_OF) | {
        "crossover": np.select([guided, spread], [MIDDLE_GUIDED, MIDDLE_SPREAD], MIDDLE_OF["crossover"]),
        "tweeter": np.where(untyped, MIDDLE_OF["tweeter"], TWEETER_OF_ITS_KIND),
        "order": np.interp(np.log(np.maximum(loss, 1e-6)), LOSSES, MIDDLE_SLOPE),
    }
    logs = [np.log(factor) * getattr(assumed, name) for name, factor in told.items()]
    return np.asarray(np.cosh(together(np.stack(logs))))


Ends = tuple[tuple[float, ...], tuple[float, ...]]
"""What is left at least and at most, at each of `LOSSES` [1]."""


def _both(one: Ends, other: Ends) -> Ends:
    least, most = (tuple((np.array(one[which]) * other[which]).tolist()) for which in (0, 1))
    return least, most


Line = tuple[str, BoolArray, Ends]
"""An input, of which boxes it is left out, and what that leaves of a loss at least and at most at each of `LOSSES`."""


def _lines(heard: Heard) -> list[Line]:
    """What each input that may be left out does, spacing first; of one input no two lines are of the same box."""
    loading = heard.sound.kin.loading
    untyped, guided, spread = loading == Loading.UNKNOWN, np.isin(loading, GUIDED), np.isin(loading, SPREAD)
    unsaid = {name: getattr(heard.assumed, name) & ~heard.around for name in UNSAID}
    plain = [(name, unsaid[name], ends) for name, ends in UNSAID.items() if name not in ("tweeter", "crossover")]
    # what crossover is taken follows from the tweeter, so a kind that is said moves that too
    by_tweeter = unsaid["tweeter"] & untyped & unsaid["crossover"]
    return [
        *plain,
        ("tweeter", unsaid["tweeter"] & untyped & ~by_tweeter, UNSAID["tweeter"]),
        ("tweeter", by_tweeter, _both(UNSAID["tweeter"], UNSAID["crossover"])),
        ("tweeter", unsaid["tweeter"] & ~untyped, SIZED_TWEETER),
        ("crossover", unsaid["crossover"] & guided, GUIDED_CROSSOVER),
        ("crossover", unsaid["crossover"] & spread, SPREAD_CROSSOVER),
        ("crossover", unsaid["crossover"] & ~guided & ~spread, UNSAID["crossover"]),
    ]


def doubts(heard: Heard, loss: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The logarithms of what each thing unsaid leaves of a loss at least and at most, spacing first, [U, N] [1]."""
    at, lines = np.log(np.maximum(loss, 1e-6)), _lines(heard)
    least, most = (
        np.stack([np.where(there, np.interp(at, LOSSES, np.log(ends[which])), 0.0) for _, there, ends in lines])
        for which in (0, 1)
    )
    return least, most


def once_said(
    heard: Heard, loss: FloatArray, tried: tuple[FloatArray, FloatArray], doubted: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Coverage at least and at most where any one thing unsaid is said, and the rest is raised for as before [dB].

    `tried` is what is lost with the spacings that were tried, `doubted` are the `doubts`.
    """
    low = high = loss * middle(heard, loss)
    for row, (name, there, _) in enumerate(_lines(heard)):
        if not there.any():
            continue
        said = replace(heard.assumed, **{name: np.zeros_like(there)})
        for base, doubt in zip(tried, doubted, strict=True):
            left = (base if name == "spacing" else loss) * np.exp(doubt[row])
            found = left * np.where(heard.around, 1.0, modelled_middle(said, heard.sound.kin, left))
            low, high = np.where(there, np.minimum(low, found), low), np.where(there, np.maximum(high, found), high)
    return low, high


def together(logs: FloatArray) -> FloatArray:
    """The logarithm of the factor by which coverage may be off for several reasons at once [1]."""
    return np.asarray(np.sqrt(np.square(logs).sum(axis=0)))
