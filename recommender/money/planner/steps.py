"""What a little more money would buy, and in which order to buy when the money comes in steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from triptych.recommender.money.planner.problem import PlanProblem, System

TO_PLAY = ("electronics", "accessories", "mains", "centre")
"""What comes first, in this order, so that something plays as early as can be and ever after: an amplifier, cables and
stands, two loudspeakers, then the dialogue."""


PLAYS_NOTHING = ("electronics", "accessories")
"""What plays nothing by itself."""


@dataclass(frozen=True, slots=True)
class Purchase:
    """One role bought.

    Parameters
    ----------
    role : str
        Its name.
    cost : int
        What it takes. [minor units]
    together : int
        What has been taken by then. [minor units]
    step : int or None
        The first step, from 0, by which there is enough money; None if the steps do not bring enough.
    """

    role: str
    cost: int
    together: int
    step: int | None


def order_to_buy(
    problem: PlanProblem,
    system: System,
    order: Sequence[str],
    steps: Sequence[int] = (),
    first: Sequence[str] = TO_PLAY,
) -> tuple[Purchase, ...]:
    """The roles of a system in the order in which to buy them: what plays, then as the rule set spends.

    Parameters
    ----------
    problem : PlanProblem
        Where costs are looked up.
    system : System
        What is to be bought in the end.
    order : sequence of str
        Roles as the rule set spends on them.
    steps : sequence of int
        Money as it comes in. [minor units]
    first : sequence of str
        Roles that come before all others, in this order.
    """
    in_order = [*first, *(role for role in order if role not in first)]
    rank = {role: at for at, role in enumerate(in_order)}
    roles = sorted(problem.roles, key=lambda role: (rank.get(role.role, len(rank)), role.role))
    costs = [int(role.cost[system.chosen[role.role]]) for role in roles]
    sums, money = list(accumulate(costs)), list(accumulate(steps))
    needed = list(sums)
    for at in reversed(range(len(roles) - 1)):
        # what plays nothing by itself is bought no earlier than what follows it
        if roles[at].role in PLAYS_NOTHING and any(costs[at + 1 :]):
            needed[at] = needed[at + 1]
    return tuple(
        Purchase(role.role, cost, together, next((at for at, there in enumerate(money) if there >= enough), None))
        for role, cost, together, enough in zip(roles, costs, sums, needed, strict=True)
    )
