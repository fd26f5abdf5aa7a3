"""How a centre sounds beside the mains, and at the seats off its axis: timbre and coverage."""

from __future__ import annotations

from enum import IntEnum
from typing import Final

import numpy as np

from recommender.criteria.table import COVERAGE, TIMBRE
from recommender.hearing import Heard, Voices
from recommender.measures import Measure, measure
from recommender.physics import coverage, timbre
from recommender.scene import FloatArray, Loading, Seats

UNTOLD_TIMBRE: Final = (1.0, 3.0, 5.0)
"""Low, likely and high timbre difference where a model can't be made [dB]. Assumed."""

UNTOLD_COVERAGE: Final = (0.5, 4.0, 8.0)
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


def timbre_of(voices: Heard, primary: int, mains_voice: Voices, mains_direct: FloatArray) -> Measure:
    """The difference in timbre between each centre and the mains at the primary seat [dB]."""
    modelled = timbre.difference(voices.levels[:, primary], mains_direct, voices.power, mains_voice.power[0])
    usable = voices.usable & mains_voice.usable[0]
    own = voicing(voices, int(mains_voice.loading[0]))
    likely, low, high = (
        np.where(usable, timbre.combined(modelled.combined, own * factor), fallback)
        for factor, fallback in zip((1.0, 1 - VOICING_DOUBT, 1 + VOICING_DOUBT), (3.0, 1.0, 5.0), strict=True)
    )
    identical = voices.relation == Relation.IDENTICAL
    stated = np.where(usable, np.minimum(voices.stated, mains_voice.stated[0]) / 2, 0.0)
    return measure(
        TIMBRE,
        likely,
        low,
        high,
        np.where(identical, 1.0, stated),
        "modelled",
        "direct sound {direct:.1f} dB, sound power {power:.1f} dB apart; voicing {voicing:.1f} dB (assumed)",
        direct=modelled.direct,
        power=modelled.power,
        voicing=own,
    )


def coverage_of(voices: Heard, seats: Seats) -> Measure:
    """What the worst regular seat loses of the centre against the centre's own axis [dB]."""
    regular = voices.levels[:, seats.regular]
    spread, dip = coverage.spread(regular), coverage.deepest_dip(regular)
    each = (spread + np.abs(dip)) / 2
    worst = np.argmax(each, axis=1)
    row = np.arange(len(worst))
    value = np.where(voices.usable, each[row, worst], UNTOLD_COVERAGE[1])
    doubt = np.where(voices.usable, 1.0 - voices.stated, 0.0)
    low = np.where(voices.usable, value * (1 - 0.3 * doubt), UNTOLD_COVERAGE[0])
    high = np.where(voices.usable, value * (1 + 0.3 * doubt), UNTOLD_COVERAGE[2])
    return measure(
        COVERAGE,
        value,
        low,
        high,
        np.where(voices.usable, voices.stated, 0.0),
        "modelled",
        "worst regular seat: {spread:.1f} dB rms, deepest dip {dip:.1f} dB",
        spread=spread[row, worst],
        dip=dip[row, worst],
    )
