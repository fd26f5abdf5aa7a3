"""What a little more money would buy, and in which order to buy when the money comes in steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from triptych.recommender.money.planner.problem import PlanProblem, System

FRONT_THREE = ("mains", "centre")


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
    first: Sequence[str] = FRONT_THREE,
) -> tuple[Purchase, ...]:
    """The roles of a system in the order in which to buy them: the front three, then as the rule set spends.

    Parameters
    ----------
    problem : PlanProblem
        Where costs are looked up.
    system : System
        What is to be bought in the end.
    order : sequence of str
        Roles as the rule set spends on them; it also orders `first`.
    steps : sequence of int
        Money as it comes in. [minor units]
    first : sequence of str
        Roles that come before all others.
    """
    rank = {role: at for at, role in enumerate(order)}
    roles = sorted(problem.roles, key=lambda role: (role.role not in first, rank.get(role.role, len(rank)), role.role))
    costs = [int(role.cost[system.chosen[role.role]]) for role in roles]
    money = list(accumulate(steps))
    return tuple(
        Purchase(role.role, cost, together, next((at for at, there in enumerate(money) if there >= together), None))
        for role, cost, together in zip(roles, costs, accumulate(costs), strict=True)
    )
