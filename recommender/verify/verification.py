"""The whole check after installing: how near the centre is, what mends it, what nothing does, what was promised."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.physics import curve, timbre
from triptych.recommender.physics.checks import FloatArray, OutOfRange
from triptych.recommender.verify.dips import Dip, Sign, bay_sign, bounce_sign, cancelled, dips
from triptych.recommender.verify.filters import Fit, fit
from triptych.recommender.verify.trio import ABOVE, BELOW, SPEECH, Trio

CORRECTED: Final = (200.0, 10000.0)
"""The band that a correction is fitted over [Hz]; below, the room rules and every seat wants another."""

ALIKE, FAIR = 1.0, 2.0
"""An rms difference up to the first is alike, up to the second fair [dB]. Common practice."""

TRIM_NEAR: Final = 1.0
"""A measured trim so near the predicted is as promised [dB]: what balance between channels is accepted after set-up."""

ROOM_TIMBRE: Final = 1.0
"""What the room adds to a difference in timbre, since the three stand at different places [dB]. Common practice."""


@dataclass(frozen=True, slots=True)
class Closeness:
    """How near the centre is to the mains in one band, its level matched over the speech band. [Hz, dB].

    `mean` is how much the centre is above the mains there on average, `worst` the largest difference of a third of an
    octave, with its sign, and `at` where; `low` and `high` are those of the band that the curves hold.
    """

    band: str
    low: float
    high: float
    rms: float
    mean: float
    worst: float
    at: float

    @property
    def verdict(self) -> str:
        """`alike`, `fair` or `apart`."""
        return "alike" if self.rms <= ALIKE else "fair" if self.rms <= FAIR else "apart"


@dataclass(frozen=True, slots=True)
class SeatCloseness:
    """The same at one seat, with the trim that this seat alone would ask for [dB]."""

    seat: str
    trim: float
    bands: tuple[Closeness, ...]


@dataclass(frozen=True, slots=True)
class Predicted:
    """What was said before: trim and timbre [dB], first bounce notch and bay resonance [Hz]; None is unknown."""

    trim: float | None = None
    timbre: float | None = None
    timbre_high: float | None = None
    bounce: float | None = None
    bay: float | None = None


@dataclass(frozen=True, slots=True)
class PromisedFigure:
    """One figure that was promised beside the one that was measured, and the range in which it counts as kept [dB]."""

    what: str
    predicted: float
    low: float
    high: float
    measured: float

    @property
    def met(self) -> bool:
        """Whether the measured figure lies in the range."""
        return self.low <= self.measured <= self.high


@dataclass(frozen=True, slots=True)
class Verification:
    """What came of it. The first seat is the one that the trim is for.

    `trim` is what to add to the centre's present trim, `correction` the broad filters with the trim that goes with
    them in its `level`; `timbre` the rms difference in the ear's bands. [dB]
    """

    seats: tuple[SeatCloseness, ...]
    trim: float
    timbre: float
    correction: Fit
    dips: tuple[Dip, ...]
    signs: tuple[Sign, ...]
    promises: tuple[PromisedFigure, ...]


def verify(trios: Sequence[Trio], predicted: Predicted | None = None, trim_set: float = 0.0) -> Verification:
    """Judge what was measured at one seat or several.

    Parameters
    ----------
    trios : sequence of Trio
        One a seat, the primary one first; at least one.
    predicted : Predicted, optional
        What the recommender said of this centre at its place.
    trim_set : float
        What the centre's trim stood at against the mains' while it was measured. [dB]

    References
    ----------
    .. [1] Speech band: ITU-T G.712, 300 Hz to 3.4 kHz (from memory). The rest: own definitions, common practice.
    """
    first, told = trios[0], predicted or Predicted()
    own = trim(first)
    measured = heard_timbre(first)
    return Verification(
        tuple(SeatCloseness(one.seat, trim(one), tuple(closeness(one, trim(one)))) for one in trios),
        own,
        measured,
        correction(trios),
        dips(trios),
        tuple(_signs(first, told)),
        tuple(_promises(told, own + trim_set, measured)),
    )


def trim(one: Trio) -> float:
    """What to add to the centre so that it is as loud as one of the mains in the speech band, but for nulls [dB]."""
    band = one.within(SPEECH)
    judged = band & ~cancelled(one)
    return float(np.mean(one.difference[judged if judged.sum() > band.sum() / 3 else band]))


def closeness(one: Trio, added: float) -> Iterator[Closeness]:
    """How near the centre is in the speech band, above and below it, once the trim is added."""
    for name, band in (("speech", SPEECH), ("above", ABOVE), ("below", BELOW)):
        inside = one.within(band)
        if np.count_nonzero(inside) >= 12:
            apart, at = added - one.difference[inside], one.frequency[inside]
            worst = int(np.argmax(np.abs(apart)))
            rms = float(np.sqrt(np.mean(np.square(apart))))
            yield Closeness(
                name, float(at[0]), float(at[-1]), rms, float(np.mean(apart)), float(apart[worst]), float(at[worst])
            )


def correction(trios: Sequence[Trio]) -> Fit:
    """The broad correction that suits all seats measured: fitted to the mean of what the centre lacks at each."""
    low = max(CORRECTED[0], *(float(one.frequency[0]) for one in trios))
    high = min(CORRECTED[1], *(float(one.frequency[-1]) for one in trios))
    grid = curve.log_grid(low, high, 24)
    lacks: list[FloatArray] = [_on(grid, one, one.difference) for one in trios]
    marked = [_on(grid, one, cancelled(one).astype(np.float64)) > 0 for one in trios]
    judged = ~np.any(marked, axis=0)
    if np.count_nonzero(judged) < grid.size // 3:
        raise OutOfRange("more than two thirds of the curves are narrow deep dips: was the microphone at the seat?")
    return fit(grid, np.mean(lacks, axis=0), judged)


def _on(grid: FloatArray, one: Trio, values: FloatArray) -> FloatArray:
    return np.interp(np.log2(grid), np.log2(one.frequency), values)


def heard_timbre(one: Trio) -> float:
    """The rms difference in shape between centre and mains in the ear's bands [dB], as timbre is judged."""
    centre, mains = (curve.band_levels(one.frequency, level) for level in (one.centre, one.mains))
    return float(timbre.shape_difference(centre, mains))


def _signs(one: Trio, told: Predicted) -> Iterator[Sign]:
    if told.bounce is not None:
        yield bounce_sign(one, told.bounce)
    if told.bay is not None:
        yield bay_sign(one, told.bay)


def _promises(told: Predicted, measured_trim: float, measured_timbre: float) -> Iterator[PromisedFigure]:
    if told.trim is not None:
        yield PromisedFigure("trim", told.trim, told.trim - TRIM_NEAR, told.trim + TRIM_NEAR, measured_trim)
    if told.timbre is not None:
        high = (told.timbre if told.timbre_high is None else told.timbre_high) + ROOM_TIMBRE
        yield PromisedFigure("timbre", told.timbre, 0.0, high, measured_timbre)
