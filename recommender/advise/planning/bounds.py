"""The most that a centre can score beside mains of each kin, so that a plan needn't ask for every pair.

Found from the centre alone: what no mains change, the tilt that is left over, and the timbre that its kinship with the
mains leaves at least, where their responses were the same. The price counts for nothing in that; it does for single
pairs, which few are left to be.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from triptych.recommender.advise.beside import AllPairs
from triptych.recommender.advise.placed import Centres
from triptych.recommender.judge.criteria.definitions import AIM, BALANCE, TIMBRE
from triptych.recommender.judge.criteria.sound import WORDS, Relation
from triptych.recommender.judge.criteria.value import price_ratio
from triptych.recommender.judge.ranking import log_utility, score_of
from triptych.recommender.money.planner.problem import IntArray, Match
from triptych.recommender.physics import timbre
from triptych.recommender.scene.arrays import FloatArray

ROUNDING: Final = 0.01
"""What covers that responses are held in single precision, in scores."""

MOST_FIGURES: Final = 10_000_000
"""With more groups of kin the makers are the groups, and the nearest kin is taken for all of a maker."""


def most_scores(pairs: AllPairs) -> tuple[FloatArray, IntArray]:
    """What every centre can score at most beside each group of mains, groups x centres, and the group of each mains."""
    by_relation = np.full((len(WORDS), len(pairs.models)), -np.inf)
    for place in pairs.places:
        scores = _in_place(pairs, place)
        by_relation[:, place.index] = np.maximum(by_relation[:, place.index], scores)
    by_relation += ROUNDING
    # what can only be a third one stands beside no other model
    by_relation[Relation.FAMILY :, pairs.third_only] = -np.inf
    return _by_group(pairs, by_relation)


def most_of_pairs(pairs: AllPairs, most: FloatArray, group: IntArray) -> Match:
    """What single pairs can score at most, a mains and a centre each: as `most_scores` has it, and by their prices."""
    price = np.full(len(pairs.models), np.nan)
    for place in pairs.places:
        # it costs the same wherever it stands
        price[place.index] = place.price
    of_share = price_ratio(np.ones(1), pairs.mains.price, pairs.mains.surround)[:, 0]
    known = ~np.isnan(np.fmax(pairs.mains.price, pairs.mains.surround)) & ~np.isnan(pairs.mains.price)
    total = sum(pairs.weights[name] for name in _judged(pairs))

    def of(mains: IntArray, centres: IntArray) -> FloatArray:
        ratio = np.where(known[mains], price[centres] * of_share[mains], np.nan)
        lost = log_utility([(BALANCE, np.where(np.isnan(ratio), BALANCE.best, ratio))], pairs.weights)
        return np.asarray(most[group[mains], centres] * np.exp(lost / total))

    return of


def _judged(pairs: AllPairs) -> set[str]:
    """The criteria that a score is made of, in a room or in none."""
    names = {one.criterion.name for place in pairs.places for one in place.own} | {TIMBRE.name, BALANCE.name}
    return names | {AIM.name} if pairs.seats is not None and pairs.places and pairs.places[0].aim is not None else names


def _in_place(pairs: AllPairs, place: Centres) -> FloatArray:
    """The most that each centre can score in one place by its kinship with the mains, relations x centres."""
    sound, logs, total = place.sound, place.logs, sum(pairs.weights[name] for name in _judged(pairs))
    if pairs.seats is not None and place.aim is not None:
        logs = log_utility([(AIM, np.abs(place.aim.residual))], pairs.weights, logs)
    # the less the mains' datasheets state, the more kinship has to stand for; what was measured leaves it nothing
    kept = np.where(sound.measured, 0.0, 1.0)
    least = [timbre.voicing_difference(word, seen=sound.stated) ** 2 * kept for word in WORDS]
    unlike = np.sqrt(np.array(least) + sound.room.unknown**2)
    return score_of(log_utility([(TIMBRE, unlike)], pairs.weights, logs), total)


def _by_group(pairs: AllPairs, by_relation: FloatArray) -> tuple[FloatArray, IntArray]:
    """The same for the groups of mains of one maker and family, groups x centres, and the group of each mains."""
    mains, makers, families = pairs.mains.sound.kin, *_kin_of(pairs)
    named = np.column_stack([mains.maker, mains.family])
    if len(np.unique(named, axis=0)) * len(pairs.models) > MOST_FIGURES:
        named[:, 1] = -1
    groups, group = np.unique(named, axis=0, return_inverse=True)
    family = np.where(np.isin(pairs.models, mains.model), Relation.IDENTICAL, Relation.FAMILY)
    most = np.repeat(by_relation[[Relation.UNRELATED]], len(groups), axis=0)
    for row, (maker, own) in enumerate(groups.tolist()):
        alike = np.flatnonzero(makers == maker)
        near = np.where(families[alike] == own, family[alike], Relation.MAKER) if own >= 0 else family[alike]
        most[row, alike] = by_relation[near, alike]
    return most, group.ravel().astype(np.int64)


def _kin_of(pairs: AllPairs) -> tuple[IntArray, IntArray]:
    """The maker and the family of every centre that stands somewhere."""
    found = np.full((2, len(pairs.models)), -1, dtype=np.int64)
    for place in pairs.places:
        found[:, place.index] = place.sound.kin.maker, place.sound.kin.family
    return found[0], found[1]
