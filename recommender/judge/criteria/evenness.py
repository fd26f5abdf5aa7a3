"""How evenly a centre plays to the seats off its axis: coverage."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from triptych.recommender.judge.criteria.definitions import COVERAGE
from triptych.recommender.judge.criteria.unsaid import doubts, middle, modelled_middle, once_said, together
from triptych.recommender.judge.criterion import CriterionValues, at_most_middle, criterion_values
from triptych.recommender.physics import coverage
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.loudspeaker import Assumed
from triptych.recommender.scene.arrays import FloatArray, IndexArray, Kin, Seats
from triptych.recommender.scene.hearing import Heard

UNTOLD_COVERAGE: Final = (0.5, 20.0, 45.0)
"""Coverage where a model can't be made: on the axis [dB], and likely and at most for each unit of the sine of the
widest seat [dB]. Of seven usual layouts in a lying box the middle loses 8 dB at 27 deg and the worst 17; at 15 deg 2
and 7; at 8 deg 1 and 2. Assumed."""

MODEL_DOUBT: Final = 1.4
"""By this factor coverage may be off either way however much is stated [1]: see `scene.model_doubt.MODEL_SHIFT`. Our
own figure."""

_AT_WORST: Final = "worst regular seat, smoothed as the ear hears: {spread:.1f} dB rms, deepest dip {dip:.1f} dB"

_RAISED: Final = "; {raised:.0%} added for what its datasheet doesn't say of its drivers"

LEAST_RAISED: Final = 0.005
"""So much is told, rounded to a hundredth [1]."""

UNHEARD_TIMBRE: Final = "its drivers aren't described, so nothing was modelled; a range is assumed"


@dataclass(frozen=True, slots=True)
class WorstSeat:
    """Where each box loses most against its own axis: at which seat, how much rms and in the deepest dip [dB]."""

    seat: IndexArray
    spread: FloatArray
    dip: FloatArray

    @property
    def loss(self) -> FloatArray:
        """Half of each [dB]."""
        return _loss(self.spread, self.dip)


def _loss(spread: FloatArray, dip: FloatArray) -> FloatArray:
    return np.asarray((spread + np.abs(dip)) / 2)


def worst_seat(levels: Single) -> WorstSeat:
    """The worst of the seats, from levels against the axis [boxes, seats, bands]; one of which nothing is known is."""
    spread, dip = coverage.spread(levels), coverage.deepest_dip(levels)
    row, worst = np.arange(len(levels)), np.argmax(_loss(spread, dip), axis=1)
    return WorstSeat(worst, spread[row, worst], dip[row, worst])


def modelled_loss(levels: Single, assumed: Assumed, kin: Kin) -> FloatArray:
    """The coverage of boxes of which nothing is measured, at some seats [N, S, B] alone [dB]."""
    loss = worst_seat(levels).loss
    return np.asarray(loss * modelled_middle(assumed, kin, loss))


def coverage_of(heard: Heard, seats: Seats) -> CriterionValues:
    """What the worst regular seat loses of the centre against the centre's own axis [dB].

    Its range is what the worst seat would lose with the least and the largest spacing the drivers may have, where that
    is assumed, off by `MODEL_DOUBT` for what no datasheet says and by `UNSAID` for what this one doesn't; none of it
    where the levels were measured. The likely value is the middle of what the unsaid may make of it.
    """
    regular = heard.levels[:, seats.regular]
    worst = worst_seat(regular)
    known = heard.sound.usable | heard.around
    widest = np.sin(np.radians(np.abs(heard.spacing.across[:, seats.regular]).max(axis=1)))
    near, likely, at_most = UNTOLD_COVERAGE
    raised = middle(heard, worst.loss)
    model = np.where(heard.around, 0.0, np.log(MODEL_DOUBT))
    less, more = doubts(heard, worst.loss)
    there = regular[np.arange(len(raised)), worst.seat]
    least, most = _spacing_range(heard, there, np.flatnonzero(seats.regular)[worst.seat], worst.loss)
    ends = once_said(heard, worst.loss, (least, most), (less, more))
    middling = at_most_middle(COVERAGE, worst.loss * raised, *ends)
    value = np.where(known, middling, near + likely * widest)
    # once one thing is said the others are as open as they are now
    most_said = ends[1] * np.divide(middling, worst.loss * raised, out=np.ones_like(value), where=worst.loss > 0)
    raised = np.divide(middling, worst.loss, out=np.ones_like(value), where=worst.loss > 0)
    return replace(
        criterion_values(
            COVERAGE,
            value,
            np.where(known, least * np.exp(-np.hypot(model, together(less))), 0.0),
            np.where(known, most * np.exp(np.hypot(model, together(more))), near + at_most * widest),
            np.where(heard.around, 1.0, np.where(heard.sound.usable, heard.sound.stated, 0.0)),
            "modelled",
            "",
            spread=np.where(known, worst.spread, np.nan),
            dip=np.where(known, worst.dip, np.nan),
            raised=raised - 1.0,
            drivers_low=np.where(known, ends[0], 0.0),
            drivers_high=np.where(known, most_said, near + at_most * widest),
        ),
        measured=heard.around,
        remark=np.select([heard.around, known & (raised >= 1 + LEAST_RAISED), known], [1, 3, 0], 2).astype(np.intp),
        remarks=(_AT_WORST, _AT_WORST + "; from its measured set of angles", UNHEARD_TIMBRE, _AT_WORST + _RAISED),
    )


def _spacing_range(heard: Heard, levels: Single, seat: IndexArray, likely: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Coverage at a seat of each box with the spacing, likely, least and largest, that gives the lowest and highest."""
    least, most = likely.copy(), likely.copy()
    boxes = np.flatnonzero(heard.spacing.assumed & heard.sound.usable & ~heard.around)
    if len(boxes):
        for change in heard.spacing.changes(boxes, seat[boxes]):
            there = levels[boxes] + change
            found = _loss(coverage.spread(there), coverage.deepest_dip(there))
            least[boxes], most[boxes] = np.minimum(least[boxes], found), np.maximum(most[boxes], found)
    return least, most
