"""The choice of a whole system, stated as arrays: one set of candidates a role, prices in minor units, linear rules."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from enum import Enum
from math import prod

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# What a mains loudspeaker and a centre are worth together, for a run of mains against every centre: rows × centres.
# Minus infinity forbids a pair.
Match = Callable[[IntArray], FloatArray]

# Sums of prices times whole coefficients must stay whole in 64 bits.
_LARGEST_SUM = 2**62


class ProblemError(ValueError):
    """A choice is not stated in a way that can be solved."""


class Outcome(Enum):
    """How a search ended."""

    BEST = "best"
    OUT_OF_TIME = "out_of_time"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True, slots=True)
class Candidates:
    """What could fill a role.

    Parameters
    ----------
    role : str
        Its name.
    cost : array of int, (N,)
        What the whole role then takes from the limit: a pair's price for a pair, nothing if owned. [minor units]
    worth : array of float, (N,) or (G, N)
        What the candidate is worth in its role; with G rows, what it is worth beside mains of each voice group.
    """

    role: str
    cost: IntArray
    worth: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "cost", _whole(self.cost, self.role))
        object.__setattr__(self, "worth", np.asarray(self.worth, dtype=np.float64))
        if self.cost.ndim != 1 or self.worth.ndim not in (1, 2) or self.worth.shape[-1:] != self.cost.shape:
            raise ProblemError(
                f"{self.role}: cost is {self.cost.shape} and worth {self.worth.shape}; state both for each"
            )
        if not np.isfinite(self.worth).all():
            raise ProblemError(f"{self.role}: a worth is unknown or infinite; leave such a candidate out, or settle it")

    def __len__(self) -> int:
        return len(self.cost)

    def only(self, items: IntArray) -> Candidates:
        """Some of them."""
        return Candidates(self.role, self.cost[items], self.worth[..., items])

    def worth_beside(self, voice: int) -> FloatArray:
        """What each is worth beside mains of a voice group."""
        row: FloatArray = self.worth if self.worth.ndim == 1 else self.worth[voice]
        return row


def _whole(cost: IntArray, role: str) -> IntArray:
    array = np.asarray(cost)
    if array.size and not np.issubdtype(array.dtype, np.integer):
        raise ProblemError(f"{role}: cost is {array.dtype}; state whole minor units")
    if (array < 0).any():
        raise ProblemError(f"{role}: a cost is below zero")
    return array.astype(np.int64)


def nothing(role: str) -> Candidates:
    """A role that is not wanted: one candidate that costs nothing and is worth nothing."""
    return Candidates(role, np.zeros(1, dtype=np.int64), np.zeros(1))


@dataclass(frozen=True, slots=True)
class LinearRule:
    """The sum of coefficient times cost over roles, plus `limit` times the limit, is at least `least`.

    Parameters
    ----------
    name : str
        What it is called when it stands in the way.
    coefficients : mapping of str to int
        By role; a role that is not named has none.
    least : int
        What is fixed already has been taken to this side.
    limit : int
        Coefficient of the limit.
    unit : int
        How many units of this row are one minor unit of money on the rule's own left side.
    """

    name: str
    coefficients: Mapping[str, int]
    least: int = 0
    limit: int = 0
    unit: int = 1


@dataclass(frozen=True, slots=True)
class PlanProblem:
    """Choose one candidate a role: within the limit, keeping every rule, worth as much as can be.

    A system is worth the sum of what its candidates are worth in their roles, plus what mains and centre are worth
    together. What another role is worth may depend on the mains' voice group, and on nothing else.

    Parameters
    ----------
    mains, centre : Candidates
        The two roles that are matched to each other.
    others : tuple of Candidates
        The rest, each judged by itself.
    limit : int
        What all of them together may cost. [minor units]
    rules : tuple of LinearRule
        Floors, caps and ratios.
    match : callable or None
        Rows of `match` for an array of places of mains; nothing if not given.
    voice : array of int, (mains,), or None
        The mains' voice groups, rows of the others' worth; all 0 if not given.
    spent : int
        What fixed lines take; it is part of the limit that is stated. [minor units]
    """

    mains: Candidates
    centre: Candidates
    others: tuple[Candidates, ...]
    limit: int
    rules: tuple[LinearRule, ...] = ()
    match: Match | None = None
    voice: IntArray | None = None
    spent: int = 0
    _names: frozenset[str] = field(init=False, repr=False, compare=False, default=frozenset())

    def __post_init__(self) -> None:
        names = [role.role for role in self.roles]
        object.__setattr__(self, "_names", frozenset(names))
        if len(self._names) < len(names):
            raise ProblemError(f"roles are {', '.join(names)}; name each once")
        for rule in self.rules:
            _check_rule(rule, self)
        _check_voice(self)

    @property
    def roles(self) -> tuple[Candidates, ...]:
        """Mains, centre, and the others."""
        return (self.mains, self.centre, *self.others)

    @property
    def all_rules(self) -> tuple[LinearRule, ...]:
        """The limit as a rule, and the rules."""
        return (LinearRule("limit", {role.role: -1 for role in self.roles}, self.spent, 1), *self.rules)

    @property
    def systems(self) -> int:
        """How many systems there are, kept rules or not."""
        return prod(len(role) for role in self.roles)

    def voice_of(self, mains: IntArray) -> IntArray:
        """Voice groups of some mains."""
        return np.zeros(len(mains), dtype=np.int64) if self.voice is None else self.voice[mains]

    def match_rows(self, mains: IntArray) -> FloatArray:
        """What some mains and every centre are worth together: rows × centres."""
        if self.match is None:
            return np.zeros((len(mains), len(self.centre)))
        rows = np.asarray(self.match(mains), dtype=np.float64)
        if rows.shape != (len(mains), len(self.centre)):
            raise ProblemError(f"match gave {rows.shape} for {len(mains)} mains and {len(self.centre)} centres")
        if rows.size and not rows.max() < np.inf:
            raise ProblemError(
                "match: what a pair is worth is unknown or infinite; give a number, or -inf to forbid it"
            )
        return rows

    def with_limit(self, limit: int) -> PlanProblem:
        """The same choice with another limit."""
        return replace(self, limit=limit)

    def _match_among(self, mains: IntArray, centre: IntArray) -> Match:
        return lambda rows: np.take(self.match_rows(mains[rows]), centre, axis=1)

    def only(self, kept: tuple[IntArray, ...]) -> PlanProblem:
        """The same choice among some of the candidates of each role, by their places."""
        mains, centre, *others = (role.only(items) for role, items in zip(self.roles, kept, strict=True))
        voice = None if self.voice is None else self.voice[kept[0]]
        everyone = len(mains) == len(self.mains) and len(centre) == len(self.centre)
        match = self.match if everyone or self.match is None else self._match_among(kept[0], kept[1])
        return replace(self, mains=mains, centre=centre, others=tuple(others), voice=voice, match=match)


def _check_rule(rule: LinearRule, problem: PlanProblem) -> None:
    unknown = set(rule.coefficients) - problem._names
    if unknown:
        raise ProblemError(f"rule '{rule.name}' names {', '.join(sorted(unknown))}, which is no role here")
    largest = sum(
        abs(rule.coefficients.get(role.role, 0)) * int(role.cost.max(initial=0)) for role in problem.roles
    ) + abs(rule.limit * problem.limit)
    if largest + abs(rule.least) >= _LARGEST_SUM:
        raise ProblemError(f"rule '{rule.name}' has too many digits; state its factor with fewer")


def _check_voice(problem: PlanProblem) -> None:
    groups = min((len(role.worth) for role in problem.others if role.worth.ndim == 2), default=None)
    if any(role.worth.ndim == 2 for role in (problem.mains, problem.centre)):
        raise ProblemError("mains and centre have one worth each; what they are worth together belongs in match")
    if problem.voice is None:
        return
    voice = np.asarray(problem.voice)
    if voice.shape != problem.mains.cost.shape or not np.issubdtype(voice.dtype, np.integer):
        raise ProblemError("voice: state one whole number for each of the mains")
    if voice.size and (voice.min() < 0 or (groups is not None and voice.max() >= groups)):
        raise ProblemError("voice: a voice group has no row of worth")


@dataclass(frozen=True, slots=True)
class System:
    """One whole system.

    Parameters
    ----------
    chosen : mapping of str to int
        The place of its candidate, by role.
    value : float
        What it is worth.
    cost : int
        What it takes from the limit, without what is fixed. [minor units]
    """

    chosen: Mapping[str, int]
    value: float
    cost: int


@dataclass(frozen=True, slots=True)
class Plan:
    """The best systems, and how far that is proven.

    Parameters
    ----------
    outcome : Outcome
        `BEST`: no system that is not listed is worth more than the last one that is.
    systems : tuple of System
        Best first, all different.
    bound : float
        No system is worth more; minus infinity if there is none.
    nodes : int
        Parts into which the search was split.
    combinations : int
        Systems that were looked at one by one.
    pairs : int
        Pairs of mains and centre that were bounded.
    seconds : float
        How long it took. [s]
    """

    outcome: Outcome
    systems: tuple[System, ...]
    bound: float
    nodes: int
    combinations: int
    pairs: int
    seconds: float

    @property
    def best(self) -> System | None:
        """The best system found."""
        return self.systems[0] if self.systems else None

    @property
    def gap(self) -> float:
        """By how much a better one could still be better; 0 if the best is proven."""
        if self.best is None:
            return 0.0 if self.outcome is Outcome.IMPOSSIBLE else float("inf")
        return max(0.0, self.bound - self.best.value)
