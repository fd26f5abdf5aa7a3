"""What is left of a centre's coverage, at least and at most, where its datasheet leaves an input of the model out."""

from __future__ import annotations

from typing import Final

import numpy as np

from triptych.recommender.physics.loudspeaker import Assumed
from triptych.recommender.scene.arrays import FloatArray, Kin, Loading
from triptych.recommender.scene.hearing import Heard

LOSSES: Final = np.log([0.5, 1.0, 2.0, 4.0, 7.0, 10.0, 15.0])
"""The losses at which `UNSAID` says what an input left out makes of them [log dB]."""

UNSAID: Final = {
    "spacing": ((0.82, 0.69, 0.62, 0.6, 0.58, 0.6, 0.5), (1.5, 1.4, 1.65, 1.9, 1.7, 1.35, 1.2)),
    "layout": ((0.33,) * 7, (3.0,) * 7),
    "size": ((0.96, 0.92, 0.9, 0.9, 0.9, 0.9, 0.9), (1.1, 1.17, 1.2, 1.2, 1.25, 1.3, 1.25)),
    "tweeter": ((0.64, 0.78, 0.8, 0.79, 0.78, 0.74, 0.7), (5.0, 3.3, 2.0, 1.6, 1.55, 1.75, 1.7)),
    "crossover": ((0.5, 0.4, 0.38, 0.37, 0.37, 0.33, 0.27), (2.5, 3.3, 3.3, 4.4, 3.7, 2.6, 1.7)),
    "order": ((0.48, 0.48, 0.57, 0.7, 0.66, 0.55, 0.45), (2.6, 2.1, 1.7, 1.4, 1.27, 1.2, 1.17)),
}  # fmt: skip
"""What is left of a loss at least and at most where a datasheet leaves an input out, at each of `LOSSES` [1]: what the
plausible values of each (all kinds of tweeters, crossovers of 1.8 to 3 kHz or 300 to 500 Hz, slopes of order 2 to 4,
cones a size smaller or larger) make of 300 boxes of the usual layouts at seats up to 27 deg aside. A small loss may be
twice as large and stay small; one of 4 to 10 dB moves by a quarter with the slope; only a deep null fills up by half.
What the spacing does is found box by box, and that much beside. Our own figures."""

MIDDLE_OF: Final = {"layout": 3.0, "size": 1.4, "tweeter": 3.0, "crossover": 2.6, "spacing": 1.0}
"""By which factor coverage is off in the middle of what each thing unsaid may be: all of it, but for spacings, which
are tried box by box."""

MIDDLE_SLOPE: Final = (2.35, 1.95, 1.75, 1.75, 1.75, 1.75, 1.75)
"""The same of slopes at each of `LOSSES`: a gentler one makes much of a small loss, and little of a large one."""


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
    told = dict(MIDDLE_OF) | {
        "tweeter": np.where(untyped, MIDDLE_OF["tweeter"], TWEETER_OF_ITS_KIND),
        "order": np.interp(np.log(np.maximum(loss, 1e-6)), LOSSES, MIDDLE_SLOPE),
    }
    logs = [np.log(factor) * getattr(assumed, name) for name, factor in told.items()]
    return np.asarray(np.cosh(together(np.stack(logs))))


def doubts(heard: Heard, loss: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The logarithms of what each thing unsaid leaves of a loss at least and at most, spacing first, [U, N] [1]."""
    untyped, at = heard.sound.kin.loading == Loading.UNKNOWN, np.log(np.maximum(loss, 1e-6))
    unsaid = {name: getattr(heard.assumed, name) & ~heard.around for name in UNSAID}
    lines = [(unsaid[name], ends) for name, ends in UNSAID.items() if name != "tweeter"]
    lines += [(unsaid["tweeter"] & untyped, UNSAID["tweeter"]), (unsaid["tweeter"] & ~untyped, SIZED_TWEETER)]
    least, most = (
        np.stack([np.where(there, np.interp(at, LOSSES, np.log(ends[which])), 0.0) for there, ends in lines])
        for which in (0, 1)
    )
    return least, most


def together(logs: FloatArray) -> FloatArray:
    """The logarithm of the factor by which coverage may be off for several reasons at once [1]."""
    return np.asarray(np.sqrt(np.square(logs).sum(axis=0)))
