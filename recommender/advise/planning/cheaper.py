"""The cheapest system that nobody could tell from the best, and what less money would lose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import gcd
from time import monotonic

import numpy as np

from triptych.recommender.advise.planning.choose import ANY, Choice, Found, of_one, thrift_of
from triptych.recommender.advise.planning.ground import Ground
from triptych.recommender.money.planner.narrow import capped, narrowed
from triptych.recommender.money.planner.problem import System
from triptych.recommender.money.planner.thrift import ThriftAmong

Chosen = tuple[Choice, System]


def cheaper(ground: Ground, among: Sequence[Choice], found: Found, band: float, deadline: float) -> Chosen | None:
    """The cheapest system worth no more than `band` less than the best; None where that is the best itself.

    By halving what it may cost: each time some system is sought that is worth so much and costs no more, among what
    can be worth so much at all.
    """
    best = found.systems[0][1]
    least, cheapest, below = best.value - band, None, best.cost
    for choice in among:
        one = _cheapest(ground, choice, least, below, deadline)
        if one is not None:
            cheapest, below = (choice, one), one.cost
    return cheapest


def _cheapest(ground: Ground, choice: Choice, least: float, below: int, deadline: float) -> System | None:
    """The cheapest system of a choice that is worth so much and costs less; of those that cost as much the best."""
    problem, left = narrowed(choice.problem, least)
    part, cheapest = replace(choice.of(left), problem=problem), None
    # what is left out could still be had instead of something
    thrift = thrift_of(ground, choice).only(left)
    base = sum(int(role.cost.min()) if len(role) else 0 for role in problem.roles)
    # all sums are so many steps above the least, so there is nothing to ask between
    step = (
        gcd(*(int(over) for role in problem.roles if len(role) for over in np.unique(role.cost - role.cost.min()))) or 1
    )
    low, high = 0, (below - 1 - base) // step
    while low <= high and monotonic() < deadline:
        middle = (low + high) // 2
        some = _one(ground, part, thrift, least, base + middle * step, deadline, ANY)
        if some is None:
            low = middle + 1
        else:
            cheapest, high = some, (some.cost - base) // step - 1
    if cheapest is None:
        return None
    found = _one(ground, part, thrift, least, cheapest.cost, deadline, 0.0) or cheapest
    roles = (role.role for role in choice.problem.roles)
    places = {role: int(items[found.chosen[role]]) for role, items in zip(roles, left, strict=True)}
    return replace(found, chosen=places)


def _one(
    ground: Ground, choice: Choice, thrift: ThriftAmong, least: float, cost: int, deadline: float, tolerance: float
) -> System | None:
    """Some system that is worth so much and costs no more, or with no tolerance the best of them."""
    held = replace(choice, problem=capped(choice.problem, cost))
    systems = of_one(ground, held, 1, max(0.0, deadline - monotonic()), tolerance, least, thrift)[2]
    return systems[0] if systems else None
