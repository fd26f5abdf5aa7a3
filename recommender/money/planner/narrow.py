"""The part of a choice that holds every system worth so much, and the cheapest of these systems."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from triptych.recommender.money.planner.pairs import Pairs
from triptych.recommender.money.planner.problem import FloatArray, IntArray, LinearRule, Match, PlanProblem
from triptych.recommender.money.planner.solve import KEEP, Work, possible

CHEAPER: Final = "cheaper"
"""The name of the rule that a system costs no more than so much."""


def capped(problem: PlanProblem, cost: int) -> PlanProblem:
    """The same choice among the systems that cost no more."""
    cap = LinearRule(CHEAPER, {role.role: -1 for role in problem.roles}, -cost)
    return replace(problem, rules=(*problem.rules, cap))


def narrowed(problem: PlanProblem, least: float) -> tuple[PlanProblem, tuple[IntArray, ...]]:
    """The same choice without what is in no system worth so much, and the places of what is left. [points].

    Under any multipliers a system is worth no more than their bound less the losses of its parts (multipliers.py), so
    that nothing is lost, whatever they are.
    """
    kept = possible(problem)
    if not all(len(items) for items in kept):
        return problem, tuple(np.arange(len(role)) for role in problem.roles)
    some = problem.only(kept)
    work, floor = Work.of(some), float(some.grains(np.array(least))) - 1.0
    multipliers = work.first_multipliers().multipliers
    pairs = work.bounded(np.arange(len(some.mains)), multipliers, floor)
    if not 0 < len(pairs.mains) < KEEP:
        return some, kept
    mains, centre = np.unique(pairs.mains), np.unique(pairs.centre)
    left = (mains, centre, *_items(work, pairs, multipliers, floor))
    part = replace(some.only(left), match=_among(some, pairs, mains, centre), most=None, kin=None, most_of=None)
    return part, tuple(items[places] for items, places in zip(kept, left, strict=True))


def _items(work: Work, pairs: Pairs, multipliers: FloatArray, floor: float) -> list[IntArray]:
    """The candidates of the other roles that could be in a system above the floor, beside some kept pair."""
    voice = work.problem.voice_of(pairs.mains)
    groups, place = np.unique(voice, return_inverse=True)
    highest = np.full(len(groups), -np.inf)
    np.maximum.at(highest, place, pairs.bound)
    found = [np.zeros(len(work.problem.roles[at]), dtype=np.bool_) for at in work.others]
    for group, bound in zip(groups.tolist(), highest.tolist(), strict=True):
        for keep, block in zip(found, work.other_blocks(group), strict=True):
            price = block.value + multipliers @ block.use
            keep |= bound - (price.max() - price) > floor - 1.0
    return [np.flatnonzero(keep) for keep in found]


def _among(problem: PlanProblem, pairs: Pairs, mains: IntArray, centre: IntArray) -> Match:
    """What the kept pairs are worth together; the others are forbidden, as none of them comes so far."""
    whole = np.full((len(mains), len(centre)), -np.inf)
    whole[np.searchsorted(mains, pairs.mains), np.searchsorted(centre, pairs.centre)] = [
        problem.points(grains) for grains in pairs.together.tolist()
    ]
    return lambda rows, some: whole[np.ix_(rows, some)]
