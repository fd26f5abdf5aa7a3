"""The choice of a whole system, stated as arrays: one set of candidates a role, prices in minor units, linear rules."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from enum import Enum
from math import inf, prod
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

# What a mains loudspeaker and a centre are worth together, for some mains against some centres: rows × centres.
# Minus infinity forbids a pair.
Match = Callable[[IntArray, IntArray], FloatArray]

GRAIN: Final = 0.001
"""Two systems whose worths differ by less are equal [points]: a thousandth of what nobody could hear."""

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
    measures : mapping of str to array of int, (N,)
        What else rules may ask of it, by name; what is not named is 0.
    """

    role: str
    cost: IntArray
    worth: FloatArray
    measures: Mapping[str, IntArray] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "cost", _whole(self.cost, self.role))
        object.__setattr__(self, "worth", np.asarray(self.worth, dtype=np.float64))
        if self.cost.ndim != 1 or self.worth.ndim not in (1, 2) or self.worth.shape[-1:] != self.cost.shape:
            raise ProblemError(
                f"{self.role}: cost is {self.cost.shape} and worth {self.worth.shape}; state both for each"
            )
        if not np.isfinite(self.worth).all():
            raise ProblemError(f"{self.role}: a worth is unknown or infinite; leave such a candidate out, or settle it")
        for name, measure in self.measures.items():
            if np.shape(measure) != self.cost.shape or not np.issubdtype(np.asarray(measure).dtype, np.integer):
                raise ProblemError(f"{self.role}: {name} is no whole number for each")

    def __len__(self) -> int:
        return len(self.cost)

    def only(self, items: IntArray) -> Candidates:
        """Some of them."""
        measures = {name: measure[items] for name, measure in self.measures.items()}
        return Candidates(self.role, self.cost[items], self.worth[..., items], measures)

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


def whole_up(grains: FloatArray) -> FloatArray:
    """The next whole grain up, which is what missing a rule costs."""
    return np.ceil(grains)


def nothing(role: str) -> Candidates:
    """A role that is not wanted: one candidate that costs nothing and is worth nothing."""
    return Candidates(role, np.zeros(1, dtype=np.int64), np.zeros(1))


@dataclass(frozen=True, slots=True)
class LinearRule:
    """What costs and other measures add by their coefficients, plus `limit` times the limit, is at least `least`.

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
    price : float
        What it costs to miss it by one minor unit of money; infinite for a row that must be kept. [points of worth]
    measures : mapping of (str, str) to int
        Coefficients of other measures than cost, by role and name.
    fixed : bool
        Nothing is gained by giving way: what does not fit does not fit.
    """

    name: str
    coefficients: Mapping[str, int]
    least: int = 0
    limit: int = 0
    unit: int = 1
    price: float = inf
    measures: Mapping[tuple[str, str], int] = field(default_factory=dict)
    fixed: bool = False

    @property
    def hard(self) -> bool:
        """Whether it must be kept."""
        return self.price == inf

    @property
    def price_of_row(self) -> float:
        """What each unit of the row costs by which it is missed. [points]."""
        return self.price / self.unit

    def use(self, role: Candidates) -> IntArray:
        """What each candidate of a role adds to the row."""
        total = self.coefficients.get(role.role, 0) * role.cost
        for name, measure in role.measures.items():
            if share := self.measures.get((role.role, name), 0):
                total = total + share * measure
        return total

    def largest(self, role: Candidates) -> int:
        """No candidate of a role adds more to the row, either way."""
        total = abs(self.coefficients.get(role.role, 0)) * int(role.cost.max(initial=0))
        for name, measure in role.measures.items():
            total += abs(self.measures.get((role.role, name), 0)) * int(np.abs(measure).max(initial=0))
        return total

    def missed(self, use: int, limit: int) -> int:
        """By how much a system that uses so much of it misses it, in the row's own units."""
        return max(0, self.least - self.limit * limit - use)


@dataclass(frozen=True, slots=True)
class PlanProblem:
    """Choose one candidate a role: within the limit, keeping every rule, worth as much as can be.

    A system is worth the sum of what its candidates are worth in their roles, plus what mains and centre are worth
    together, less what the rules cost that it misses. What another role is worth may depend on the mains' voice group,
    and on nothing else. Each of these is counted in whole grains, a cost in the next one up, so that sums are exact
    and equals are equal; between them the cheaper comes first.

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
        What some mains and some centres are worth together, by their places; nothing if not given.
    most : array of float, (K, centres), or None
        What `match` gives at most beside mains of each kin group, so that it needn't be asked for all.
    kin : array of int, (mains,), or None
        The mains' kin groups, rows of `most`; all 0 if not given.
    most_of : callable or None
        What `match` gives at most for single pairs, a mains and a centre each; no more than `most` has.
    grain : float
        What is too little to tell two worths apart; 0 to take them as they are, ties as they come. [points]
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
    most: FloatArray | None = None
    kin: IntArray | None = None
    most_of: Match | None = None
    grain: float = GRAIN
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

    def grains(self, worth: FloatArray) -> FloatArray:
        """Points of worth in whole grains, as they are counted; as they are where there is no grain."""
        return np.rint(worth / self.grain) if self.grain else worth

    def points(self, grains: float) -> float:
        """Grains as points."""
        return round(grains * self.grain, 9) if self.grain else grains

    def match_rows(self, mains: IntArray, centres: IntArray | None = None) -> FloatArray:
        """What some mains and some centres, or every one, are worth together: rows × centres. [points]."""
        some = np.arange(len(self.centre)) if centres is None else centres
        if self.match is None:
            return np.zeros((len(mains), len(some)))
        rows = np.asarray(self.match(mains, some), dtype=np.float64)
        if rows.shape != (len(mains), len(some)):
            raise ProblemError(f"match gave {rows.shape} for {len(mains)} mains and {len(some)} centres")
        if rows.size and not rows.max() < np.inf:
            raise ProblemError(
                "match: what a pair is worth is unknown or infinite; give a number, or -inf to forbid it"
            )
        return rows

    def with_limit(self, limit: int) -> PlanProblem:
        """The same choice with another limit."""
        return replace(self, limit=limit)

    def penalty(self, rule: LinearRule, missed: IntArray) -> FloatArray:
        """What a rule costs systems that miss it by so much. [grains]."""
        grains = np.asarray(rule.price_of_row / (self.grain or 1.0) * missed, dtype=np.float64)
        return whole_up(grains) if self.grain else grains

    def use(self, rule: LinearRule, system: System) -> int:
        """What a system uses of a rule's row."""
        return sum(int(rule.use(role.only(np.array([system.chosen[role.role]])))[0]) for role in self.roles)

    def penalties(self, system: System) -> dict[str, float]:
        """What the rules cost that a system misses, by their names. [points]."""
        found: dict[str, float] = {}
        for rule in self.rules:
            missed = rule.missed(self.use(rule, system), self.limit)
            if missed and not rule.hard:
                found[rule.name] = found.get(rule.name, 0.0) + self.points(float(self.penalty(rule, np.array(missed))))
        return found

    def only(self, kept: tuple[IntArray, ...]) -> PlanProblem:
        """The same choice among some of the candidates of each role, by their places."""
        mains, centre, *others = (role.only(items) for role, items in zip(self.roles, kept, strict=True))
        voice = None if self.voice is None else self.voice[kept[0]]
        kin = None if self.kin is None else self.kin[kept[0]]
        most = None if self.most is None else self.most[:, kept[1]]
        everyone = len(mains) == len(self.mains) and len(centre) == len(self.centre)
        match = self.match if everyone or self.match is None else _among(self.match_rows, kept[0], kept[1])
        most_of = self.most_of if everyone or self.most_of is None else _among(self.most_of, kept[0], kept[1])
        return replace(
            self,
            mains=mains,
            centre=centre,
            others=tuple(others),
            voice=voice,
            match=match,
            most=most,
            kin=kin,
            most_of=most_of,
        )


def _among(match: Match, mains: IntArray, centre: IntArray) -> Match:
    return lambda rows, some: match(mains[rows], centre[some])


def _check_rule(rule: LinearRule, problem: PlanProblem) -> None:
    unknown = ({*rule.coefficients} | {role for role, _ in rule.measures}) - problem._names
    if unknown:
        raise ProblemError(f"rule '{rule.name}' names {', '.join(sorted(unknown))}, which is no role here")
    largest = sum(rule.largest(role) for role in problem.roles) + abs(rule.limit * problem.limit)
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
        What it is worth, less what the rules cost that it misses.
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
