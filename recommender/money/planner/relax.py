"""Why there is no system at all: which limit, rule that must hold, or gate to relax, and by how little.

Each is found by solving the same choice without the row in question, with what that row lacks as the thing to make
small; so how near it is to the smallest is proven, as with the choice itself. Only one is relaxed at a time. Where no
single one is enough, two rows are dropped together and what both then lack is made small in sum.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from fractions import Fraction
from itertools import combinations
from math import ceil, gcd, inf
from time import monotonic

import numpy as np

from triptych.recommender.money.planner.problem import (
    Candidates,
    FloatArray,
    IntArray,
    LinearRule,
    Match,
    Outcome,
    Plan,
    PlanProblem,
    System,
)
from triptych.recommender.money.planner.solve import solve

# With this tolerance the first system that is possible ends the search.
_ANY = 1e18


class Obstacle(Enum):
    """What stands in the way."""

    LIMIT = "limit"
    RULE = "rule"
    GATE = "gate"
    ROLE = "role"


@dataclass(frozen=True, slots=True)
class Bar:
    """A gate that keeps something out: its name, its unit, and the place; empty where it does so anywhere."""

    gate: str
    unit: str
    place: str = ""


@dataclass(frozen=True, slots=True)
class Barred:
    """Candidates that one gate keeps out of a role, and that pass all others.

    Parameters
    ----------
    bar : Bar
        The gate.
    role : str
        The role.
    cost : array of int, (N,)
        What each would take. [minor units]
    short : array of float, (N,)
        By how much each misses the gate, in the gate's own unit.
    measures : mapping of str to array of int, (N,)
        What else rules may ask of each.
    names : sequence of str, N
        What each is called; empty where nobody is to be named.
    """

    bar: Bar
    role: str
    cost: IntArray
    short: FloatArray
    measures: Mapping[str, IntArray] = field(default_factory=dict)
    names: Sequence[str] = ()

    def only(self, at: Sequence[int]) -> Barred:
        """Some of them, by their places."""
        measures = {name: measure[list(at)] for name, measure in self.measures.items()}
        names = [self.names[one] for one in at] if self.names else ()
        return Barred(self.bar, self.role, self.cost[list(at)], self.short[list(at)], measures, names)


@dataclass(frozen=True, slots=True)
class Relaxation:
    """One way out.

    Parameters
    ----------
    obstacle : Obstacle
        What is relaxed; `ROLE` if a role has no candidates and nothing that is barred would do.
    names : tuple of str
        Rule, gate or role; several rules where they come to the same, or where one is not enough.
    by : tuple of float
        By how much each: money of the rule's left side, or the gate's own unit. [minor units]
    system : System or None
        A system that is then possible; its value means nothing. Places beyond the role's own are barred candidates.
    within : float
        How much less might still do, in the unit of the first of `by`; infinite if that is not known.
    bar : Bar or None
        The gate, where one is relaxed.
    role, lets_in : str
        For which role a gate is relaxed, and what it then lets in; empty where none is or nobody is named.
    """

    obstacle: Obstacle
    names: tuple[str, ...]
    by: tuple[float, ...]
    system: System | None
    within: float = 0.0
    bar: Bar | None = None
    role: str = ""
    lets_in: str = ""


def relaxations(
    problem: PlanProblem, barred: Sequence[Barred] = (), time_limit: float = 60.0, within: int = 100
) -> tuple[Relaxation, ...]:
    """Every single relaxation after which there is a system, or a pair of them; empty if even that is not enough.

    Parameters
    ----------
    problem : PlanProblem
        A choice that is impossible.
    barred : sequence of Barred
        What gates keep out.
    time_limit : float
        For all of it. [s]
    within : int
        How far from the smallest a relaxation may be; nobody's budget hangs on the last one, and to find it can take
        long. [minor units]
    """
    problem = replace(problem, rules=tuple(rule for rule in problem.rules if rule.hard))
    search = Search(monotonic() + time_limit, within)
    gates = tuple(way for one in barred if (way := _gate(problem, one, search)))
    empty = tuple(Relaxation(Obstacle.ROLE, (role.role,), (), None) for role in problem.roles if not len(role))
    if empty:
        return gates or tuple(_for_all(problem, barred, search)) or empty
    limit = _limit(problem, search)
    single = [_rules(problem, (alike,), search) for alike in _alike(problem.rules)]
    found = tuple(one for one in (limit, *single, *gates) if one)
    return found or tuple(_two_rules(problem, search))


def _alike(rules: Sequence[LinearRule]) -> list[tuple[LinearRule, ...]]:
    """Rules in groups that come to the same row; to relax one of a group does nothing without the rest."""
    groups: dict[tuple[object, ...], list[LinearRule]] = {}
    for rule in rules:
        if rule.fixed:
            continue
        shares = sorted((role, share) for role, share in rule.coefficients.items() if share)
        shares += sorted((f"{role} {name}", share) for (role, name), share in rule.measures.items() if share)
        divisor = gcd(rule.least, rule.limit, *(share for _, share in shares)) or 1
        row = (rule.least // divisor, rule.limit // divisor, *((role, share // divisor) for role, share in shares))
        groups.setdefault(row, []).append(rule)
    return [tuple(group) for group in groups.values()]


@dataclass(frozen=True, slots=True)
class Search:
    """How long, and how closely, to look."""

    deadline: float
    within: int

    def least(self, problem: PlanProblem, tolerance: float) -> Plan:
        """The system that lacks least."""
        return solve(problem, 1, max(0.0, self.deadline - monotonic()), tolerance)


def _allowed(problem: PlanProblem) -> Match | None:
    """Nothing for a pair that is allowed: what it is worth does not matter here."""
    if problem.match is None:
        return None
    return lambda mains, some: np.where(np.isneginf(problem.match_rows(mains, some)), -np.inf, 0.0)


def _for_use(
    problem: PlanProblem, worth: Callable[[Candidates], FloatArray], rules: tuple[LinearRule, ...], limit: int
) -> PlanProblem:
    """The same choice, with something else as the only worth."""
    mains, centre, *others = (Candidates(role.role, role.cost, worth(role), role.measures) for role in problem.roles)
    return PlanProblem(mains, centre, tuple(others), limit, rules, _allowed(problem), spent=problem.spent, grain=0.0)


def _cheapest(role: Candidates) -> FloatArray:
    return -role.cost.astype(np.float64)


def _limit(problem: PlanProblem, search: Search) -> Relaxation | None:
    """The smallest limit with which there is a system."""
    steady = tuple(rule for rule in problem.rules if not rule.limit)
    plan = search.least(_for_use(problem, _cheapest, steady, _enough(problem)), search.within)
    if plan.best is None:
        return None
    low, system = ceil(-plan.bound) + problem.spent, plan.best
    high = _limit_for(problem, system)
    while high is not None and low + search.within < high:
        middle = (low + high) // 2
        tried = search.least(_for_use(problem, _cheapest, problem.rules, middle), _ANY)
        if tried.best is not None:
            high, system = middle, tried.best
        elif tried.outcome is Outcome.IMPOSSIBLE:
            low = middle + 1
        else:
            break
    if high is None or high <= problem.limit:
        return None
    return Relaxation(Obstacle.LIMIT, ("limit",), (float(high - problem.limit),), system, float(high - low))


def _enough(problem: PlanProblem) -> int:
    return problem.spent + sum(int(role.cost.max()) for role in problem.roles)


def _limit_for(problem: PlanProblem, system: System) -> int | None:
    """The smallest limit with which this system keeps all rules; None if no limit does it."""
    least = system.cost + problem.spent
    for rule in problem.rules:
        if rule.limit > 0:
            least = max(least, -(-(rule.least - problem.use(rule, system)) // rule.limit))
    kept = all(problem.use(rule, system) + rule.limit * least >= rule.least for rule in problem.rules)
    return least if kept else None


def _rules(problem: PlanProblem, groups: Sequence[tuple[LinearRule, ...]], search: Search) -> Relaxation | None:
    """By how much some groups of rules must give way, if they alone do."""
    dropped = tuple(rule for group in groups for rule in group)
    rest = tuple(rule for rule in problem.rules if rule not in dropped)
    firsts = [rule for rule, *_ in groups]

    def used(role: Candidates) -> FloatArray:
        return np.asarray(sum(rule.use(role) / rule.unit for rule in firsts), dtype=np.float64)

    plan = search.least(_for_use(problem, used, rest, problem.limit), search.within)
    if plan.best is None:
        return None
    lacking = [rule.least - rule.limit * problem.limit - problem.use(rule, plan.best) for rule in dropped]
    by = tuple(float(max(Fraction(0), Fraction(lack, rule.unit))) for lack, rule in zip(lacking, dropped, strict=True))
    within = plan.gap if len(groups) == 1 else inf
    return Relaxation(Obstacle.RULE, tuple(rule.name for rule in dropped), by, plan.best, within)


def _two_rules(problem: PlanProblem, search: Search) -> Iterator[Relaxation]:
    """Two rules at a time; what is found is possible, but that less would not do is not shown."""
    for two in combinations(_alike(problem.rules), 2):
        found = _rules(problem, two, search)
        if found:
            yield found


def _gate(problem: PlanProblem, barred: Barred, search: Search) -> Relaxation | None:
    """The least by which a gate must give way, taking in candidates that only it keeps out."""
    if not len(barred.cost):
        return None
    plan = search.least(_taking_in(problem, [barred]), 0.0)
    if plan.best is None:
        return None
    by, at = -plan.best.value + 0.0, plan.best.chosen[barred.role] - _own(problem, barred.role)
    lets_in = barred.names[at] if barred.names and at >= 0 else ""
    return Relaxation(Obstacle.GATE, (barred.bar.gate,), (by,), plan.best, plan.gap, barred.bar, barred.role, lets_in)


def _for_all(problem: PlanProblem, barred: Sequence[Barred], search: Search) -> Iterator[Relaxation]:
    """The least by which one gate must give way for all roles at once, where it leaves several of them empty."""
    empty = [role.role for role in problem.roles if not len(role)]
    for bar in dict.fromkeys(replace(one.bar, place="") for one in barred):
        held = [one for one in barred if (one.bar.gate, one.bar.unit) == (bar.gate, bar.unit) and len(one.cost)]
        if len(empty) < 2 or not {*empty} <= {one.role for one in held}:
            continue
        least = max(min(float(one.short.min()) for one in held if one.role == role) for role in empty)
        steps = np.unique(np.concatenate([one.short for one in held]))
        steps, found = steps[steps >= least], None
        while len(steps):
            middle = len(steps) // 2
            some = [one.only(np.flatnonzero(one.short <= steps[middle]).tolist()) for one in held]
            plan = search.least(_taking_in(problem, some), _ANY)
            if plan.best is not None:
                found, steps = (float(steps[middle]), plan.best, some), steps[:middle]
            else:
                steps = steps[middle + 1 :]
        if found is not None:
            by, system, some = found
            roles, names = zip(*_let_in(problem, some, system), strict=True)
            yield Relaxation(
                Obstacle.GATE, (bar.gate,), (by,), system, 0.0, bar, _listed(roles, ", the "), _listed(names, ", ")
            )


def _let_in(problem: PlanProblem, barred: Sequence[Barred], system: System) -> Iterator[tuple[str, str]]:
    """The roles in which a system has what was barred, and its names."""
    for role in problem.roles:
        names = [name for one in barred if one.role == role.role for name in one.names or [""] * len(one.cost)]
        if (at := system.chosen[role.role] - len(role)) >= 0:
            yield role.role, names[at]


def _listed(words: Sequence[str], between: str) -> str:
    *first, last = words
    if not all(words):
        return ""
    return f"{between.join(first)} and {'the ' if 'the' in between else ''}{last}" if first else last


def _own(problem: PlanProblem, name: str) -> int:
    """How many candidates a role has without those that are barred."""
    return next(len(role) for role in problem.roles if role.role == name)


def _taking_in(problem: PlanProblem, barred: Sequence[Barred]) -> PlanProblem:
    mains, centre, *others = (_with_barred(role, barred) for role in problem.roles)
    allowed = _allowed(problem)
    match = None if allowed is None else _match_with_barred(problem, allowed)
    return replace(
        problem,
        mains=mains,
        centre=centre,
        others=tuple(others),
        match=match,
        voice=None,
        most=None,
        kin=None,
        grain=0.0,
    )


def _with_barred(role: Candidates, barred: Sequence[Barred]) -> Candidates:
    some = [one for one in barred if one.role == role.role]
    cost = np.concatenate([role.cost, *(one.cost for one in some)]).astype(np.int64)
    measures = {
        name: np.concatenate(
            [
                measure,
                *(one.measures.get(name, np.zeros(len(one.cost), dtype=np.int64)) for one in some),
            ]
        )
        for name, measure in role.measures.items()
    }
    short = [-np.asarray(one.short, dtype=np.float64) for one in some]
    return Candidates(role.role, cost, np.concatenate([np.zeros(len(role)), *short]), measures)


def _match_with_barred(problem: PlanProblem, allowed: Match) -> Match:
    """Barred mains and centres go with everything."""

    def match(rows: IntArray, some: IntArray) -> FloatArray:
        ours, theirs = rows < len(problem.mains), some < len(problem.centre)
        whole = np.zeros((len(rows), len(some)))
        if ours.any() and theirs.any():
            whole[np.ix_(ours, theirs)] = allowed(rows[ours], some[theirs])
        return whole

    return match
