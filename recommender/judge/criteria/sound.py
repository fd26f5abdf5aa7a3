"""How a centre sounds beside the mains, and at the seats off its axis: timbre and coverage."""

from __future__ import annotations

from dataclasses import replace
from enum import IntEnum
from typing import Final

import numpy as np

from triptych.recommender.judge.criteria.definitions import COVERAGE, TIMBRE
from triptych.recommender.judge.criterion import CriterionValues, criterion_values
from triptych.recommender.physics import coverage, timbre
from triptych.recommender.physics.kernel import Single
from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray, Loading, Seats
from triptych.recommender.scene.hearing import Heard, Voices

UNTOLD_TIMBRE: Final = (1.0, 3.3, 5.0)
"""Low, likely and high timbre difference where a model can't be made [dB]. Assumed."""

UNTOLD_COVERAGE: Final = (0.5, 5.5, 8.0)
"""Low, likely and high coverage where a model can't be made [dB]. Assumed."""

VOICING_DOUBT: Final = 0.5
"""The assumed voicing figures may be off by this share either way. Assumed."""


class Relation(IntEnum):
    """Kinship of a candidate with the mains, nearest first."""

    IDENTICAL = 0
    FAMILY = 1
    MAKER = 2
    UNRELATED = 3


RELATION_WORD: Final = {
    Relation.IDENTICAL: "identical",
    Relation.FAMILY: "family",
    Relation.MAKER: "maker",
    Relation.UNRELATED: "unrelated",
}


def voicing(voices: Heard, mains_loading: int) -> FloatArray:
    """The assumed voicing difference of each candidate [dB]: by kinship, and by how the tweeters are loaded."""
    known = (voices.loading != Loading.UNKNOWN) & (mains_loading != Loading.UNKNOWN)
    differs = known & (voices.loading != mains_loading)
    words = np.array([RELATION_WORD[relation] for relation in Relation])[voices.relation]
    return np.asarray(timbre.voicing_difference(words, differs))


def voicing_left(direct: BoolArray, whole: BoolArray) -> FloatArray:
    """The share of the voicing term that remains where direct sound, and sound power too, were measured on both sides.

    The term stands for what the model can't tell of two parts that count alike, direct sound and sound power. Each part
    that was measured on both sides takes its half of the term's square away: one half leaves 0.71, both leave 0.
    """
    return np.sqrt(1.0 - (direct.astype(np.float64) + (direct & whole)) / 2)


def timbre_of(
    voices: Heard, primary: int, mains_voice: Voices, mains_direct: FloatArray, mains_aside: bool = True
) -> CriterionValues:
    """The difference in timbre between each centre and the mains at the primary seat [dB].

    What was measured takes the model's place, on each side for itself: the response on the axis, the way from there
    to the seat's angle, the sound power. `mains_aside` says whether `mains_direct` takes no model.
    """
    mains_measured = mains_voice.measured
    found = timbre.difference(
        voices.levels[:, primary] + voices.axis,
        mains_direct,
        voices.power + voices.axis,
        mains_voice.power[0] + mains_measured.axis[0],
    )
    direct, whole = voices.direct & mains_measured.direct[0], voices.whole & mains_measured.whole[0]
    usable = (voices.usable | voices.whole) & (mains_voice.usable[0] | mains_measured.whole[0])
    own = voicing(voices, int(mains_voice.loading[0])) * voicing_left(direct, whole)
    low_factor, high_factor = 1 - VOICING_DOUBT, 1 + VOICING_DOUBT
    low, likely, high = (
        np.where(usable, timbre.combined(found.combined, own * factor), fallback)
        for factor, fallback in zip((low_factor, 1.0, high_factor), UNTOLD_TIMBRE, strict=True)
    )
    modelled = np.where(usable, np.minimum(voices.stated, mains_voice.stated[0]) / 2, 0.0)
    known = (np.where(direct, 1.0, modelled) + np.where(direct & whole, 1.0, modelled)) / 2
    return replace(
        criterion_values(
            TIMBRE,
            likely,
            low,
            high,
            np.where(voices.relation == Relation.IDENTICAL, 1.0, known),
            "modelled",
            "direct sound {direct:.1f} dB, sound power {power:.1f} dB apart; voicing {voicing:.1f} dB (assumed)",
            direct=found.direct,
            power=found.power,
            voicing=own,
        ),
        measured=direct & usable,
        remark=_compared(voices, mains_measured.direct[0], whole, voices.aside & mains_aside),
        remarks=COMPARED,
    )


COMPARED: Final = (
    "",
    "; measured direct sound of the centre against the model of the mains",
    "; model of the centre against the measured direct sound of the mains",
    "; direct sound measured on both sides, off the axis by the model; sound power modelled",
    "; direct sound measured on both sides, sound power modelled",
    "; sound power measured on both sides, direct sound too, but off the axis by the model",
    "; direct sound and sound power measured on both sides, so no voicing is assumed",
)
"""What was compared with what, where anything was measured."""


def _compared(voices: Heard, mains_direct: bool, whole: BoolArray, aside: BoolArray) -> IndexArray:
    both = voices.direct & mains_direct
    conditions = [both & whole & aside, both & whole, both & aside, both, voices.direct]
    one_side = np.select(conditions, [6, 5, 4, 3, 1], 0)
    return np.where(~voices.direct & mains_direct, 2, one_side).astype(np.intp)


DRIVER_DOUBT: Final = 0.3
"""By this share coverage may be off where no datasheet gave layout, sizes, tweeter and crossovers. Assumed."""


def coverage_of(voices: Heard, seats: Seats) -> CriterionValues:
    """What the worst regular seat loses of the centre against the centre's own axis [dB].

    Its range is what the worst seat would lose with the least and the largest spacing the drivers may have, where that
    is assumed, and `DRIVER_DOUBT` for the share of the other inputs that are; none of it where the levels were
    measured.
    """
    regular = voices.levels[:, seats.regular]
    spread, dip = coverage.spread(regular), coverage.deepest_dip(regular)
    each = (spread + np.abs(dip)) / 2
    worst = np.argmax(each, axis=1)
    row = np.arange(len(worst))
    known = voices.usable | voices.around
    value = np.where(known, each[row, worst], UNTOLD_COVERAGE[1])
    doubt = np.where(voices.around, 0.0, DRIVER_DOUBT * (1.0 - voices.drivers))
    least, most = _spacing_range(voices, regular[row, worst], np.flatnonzero(seats.regular)[worst], value)
    return replace(
        criterion_values(
            COVERAGE,
            value,
            np.where(known, least * (1 - doubt), UNTOLD_COVERAGE[0]),
            np.where(known, most * (1 + doubt), UNTOLD_COVERAGE[2]),
            np.where(voices.around, 1.0, np.where(voices.usable, voices.stated, 0.0)),
            "modelled",
            "worst regular seat, smoothed as the ear hears: {spread:.1f} dB rms, deepest dip {dip:.1f} dB",
            spread=spread[row, worst],
            dip=dip[row, worst],
        ),
        measured=voices.around,
        remark=voices.around.astype(np.intp),
        remarks=("", "; from its measured set of angles"),
    )


def _spacing_range(
    voices: Heard, levels: Single, seat: IndexArray, likely: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Coverage at a seat of each box with the spacing, likely, least and largest, that gives the lowest and highest."""
    least, most = likely.copy(), likely.copy()
    boxes = np.flatnonzero(voices.spacing.assumed & voices.usable & ~voices.around)
    if len(boxes):
        for change in voices.spacing.changes(boxes, seat[boxes]):
            there = levels[boxes] + change
            found = (coverage.spread(there) + np.abs(coverage.deepest_dip(there))) / 2
            least[boxes], most[boxes] = np.minimum(least[boxes], found), np.maximum(most[boxes], found)
    return least, most
