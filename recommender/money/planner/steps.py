"""What a little more money would buy, and in which order to buy when the money comes in steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

from triptych.recommender.money.planner.problem import Plan, Problem, System
from triptych.recommender.money.planner.solve import solve

FRONT_THREE = ("mains", "centre")


@dataclass(frozen=True, slots=True)
class MoreMoney:
    """The best system for a higher limit, beside the one for the limit there is.

    Parameters
    ----------
    limit : int
        The higher limit. [minor units]
    plan : Plan
        The best systems for it.
    gain : float
        How much more the best one is worth.
    changed : tuple of str
        The roles in which it differs.
    costs : int
        How much more it takes. [minor units]
    """

    limit: int
    plan: Plan
    gain: float
    changed: tuple[str, ...]
    costs: int


def with_more_money(
    problem: Problem, system: System, part: Fraction = Fraction(1, 10), time_limit: float = 60.0
) -> MoreMoney:
    """What the next part of the limit would buy, found by solving again."""
    limit = problem.limit + int(problem.limit * part)
    plan = solve(problem.with_limit(limit), systems=1, time_limit=time_limit)
    best = plan.best or system
    changed = tuple(role for role, at in best.chosen.items() if system.chosen[role] != at)
    return MoreMoney(limit, plan, best.value - system.value, changed, best.cost - system.cost)


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
    problem: Problem,
    system: System,
    order: Sequence[str],
    steps: Sequence[int] = (),
    first: Sequence[str] = FRONT_THREE,
) -> tuple[Purchase, ...]:
    """The roles of a system in the order in which to buy them: the front three, then as the rule set spends.

    Parameters
    ----------
    problem : Problem
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
