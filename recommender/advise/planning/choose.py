"""Candidates and rules as problems for the planner, and the best few systems over all numbers of boxes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from time import monotonic
from typing import Final

import numpy as np

from triptych.recommender.advise.planning.bounds import most_of_pairs, most_scores
from triptych.recommender.advise.planning.fitted import fitted, possible_counts, without_asking
from triptych.recommender.advise.planning.front import FrontStage
from triptych.recommender.advise.planning.ground import NO_TIME, Ground, Judged
from triptych.recommender.advise.planning.judgement import Judgement
from triptych.recommender.advise.planning.offers import LeftOut, RoleOffer
from triptych.recommender.advise.planning.outfit import Outfit
from triptych.recommender.advise.planning.scored_once import ScoredOnce
from triptych.recommender.advise.planning.worth import AROUND
from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS, TIMBRE
from triptych.recommender.judge.criteria.sound import kinship
from triptych.recommender.judge.criterion import utility
from triptych.recommender.money.budget.rules import RuleSet
from triptych.recommender.money.planner.linear_rules import linear_rules
from triptych.recommender.money.planner.problem import (
    Candidates,
    FloatArray,
    IntArray,
    Match,
    Outcome,
    PlanProblem,
    System,
    nothing,
)
from triptych.recommender.money.planner.relax import Barred
from triptych.recommender.money.planner.solve import solve
from triptych.recommender.money.planner.thrift import Chosen, Thrift, ThriftAmong
from triptych.recommender.scene.arrays import BoolArray, IndexArray, Life

KIN_SHARE: Final = 0.25
"""How much of the worth of what stands around the listener is its kinship with the front. Assumed: less than its own
worth, as effects are seldom compared with the front side by side."""

DEAD_SEAT: Final = 100.0
"""What a centre's score loses where a regular seat loses its speech [points of the score]: it comes after all others,
and among its like the better one stays the better by as much. Assumed."""

HELD_WHOLE: Final = 100_000
"""Up to so many pairs the scores are computed once and kept; beyond, in runs as the search asks for them."""


ANY: Final = 1e18
"""With this tolerance the first system that is possible ends a search."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One problem: the roles with their numbers of boxes, and what each candidate of the problem is."""

    counts: Mapping[str, int]
    offers: Mapping[str, RoleOffer]
    judged: Mapping[str, Judged]
    front: FrontStage
    problem: PlanProblem
    barred: tuple[Barred, ...]
    outfit: Outfit
    unread: frozenset[str] = frozenset()

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """All that could not be considered for some role, and why."""
        mains = self.front.mains.left_out if self.front.mains else ()
        others = (one for role in self.judged.values() for one in role.left_out)
        return (*mains, *self.front.left_out, *others, *self.outfit.left_out)

    @property
    def cut(self) -> bool:
        """Whether there was no time to read and judge all."""
        return bool(self._late)

    @property
    def _late(self) -> set[str]:
        """The roles of which there was no time to read and judge all."""
        return {one.role for one in self.left_out if one.reason == NO_TIME} | self.unread

    def most_unjudged(self, weights: Mapping[str, float]) -> float:
        """No system with something that there was no time to judge is worth more; minus infinity if all was. [points].

        What was not heard is worth no more than its figures let it, and a front no more than its role counts.
        """
        late = self._late
        if not late:
            return -np.inf
        total = weights["front"] if "centre" in self.offers or "centre" in late else 0.0
        for role in self.problem.roles:
            if role.role == "centre":
                continue
            most = float(role.worth.max(initial=0.0))
            if role.role in late:
                judged = self.front.mains if role.role == "mains" else self.judged[role.role]
                unheard = judged.unheard if judged is not None and role.role not in self.unread else 1.0
                share = 1.0 - KIN_SHARE if role.role in AROUND and role.worth.ndim == 2 else 1.0
                most = max(most, weights[role.role] * (share * unheard + 1.0 - share))
            total += most
        return total

    def of(self, kept: Sequence[IntArray]) -> Choice:
        """The same choice among some of the candidates of each role, by their places."""
        by_role = dict(zip((role.role for role in self.problem.roles), kept, strict=True))
        offers = {role: offered.take(by_role[role]) for role, offered in self.offers.items()}
        return replace(self, problem=self.problem.only(tuple(kept)), offers=offers, outfit=self.outfit.of(by_role))

    def row(self, system: System, role: str) -> int | None:
        """The row of the catalogue that a system has in a role; None for a role that is not filled."""
        offered = self.offers.get(role)
        return int(offered.rows[system.chosen[role]]) if offered is not None else None


def choices(ground: Ground, rule_set: RuleSet, judgement: Judgement) -> tuple[Choice, ...]:
    """A problem for every combination of numbers, held to the musts, the shoulds at a price."""
    ahead, weight = judgement.ahead, ground.wanted.weights["front"]
    match, most = _match(ahead, weight), _most(ahead, weight)
    made = []
    for counts in possible_counts(ground, rule_set):
        others = {role: pieces for role, pieces in counts.items() if role not in ("mains", "centre")}
        judged = {role: judgement.others[role, pieces] for role, pieces in others.items()}
        made.append(_choice(ground, rule_set, counts, judged, ahead, match, most))
    return tuple(made)


def _match(ahead: FrontStage, weight: float) -> Match | None:
    if (pairs := ahead.pairs) is None:
        return None
    lost = _lost(ahead)
    if len(pairs) > HELD_WHOLE:
        once = ScoredOnce(pairs)
        return lambda mains, centres: weight / 100 * (once.scores(mains, centres) - lost[centres])
    whole = weight / 100 * (pairs.scores(np.arange(len(pairs.mains))) - lost)
    return lambda mains, centres: whole[np.ix_(mains, centres)]


def _most(ahead: FrontStage, weight: float) -> tuple[FloatArray, IntArray, Match] | None:
    """What a centre is worth at most beside mains of each kin; not found where all is held anyway."""
    pairs = ahead.pairs
    if pairs is None or len(pairs) <= HELD_WHOLE:
        return None
    most, kin = most_scores(pairs)
    most_of, lost = most_of_pairs(pairs, most, kin), _lost(ahead)
    return (
        weight / 100 * (most - lost),
        kin,
        lambda mains, centres: weight / 100 * (most_of(mains, centres) - lost[centres]),
    )


def _lost(ahead: FrontStage) -> FloatArray:
    """What each centre's score loses where it comes after all others; nothing where it is there already."""
    count = len(ahead.centre) if ahead.centre is not None else 0
    if ahead.dead is None or ahead.centre is None or ahead.centre.fixed:
        return np.zeros(count)
    return np.where(ahead.dead, DEAD_SEAT, 0.0)


def _choice(
    ground: Ground,
    rule_set: RuleSet,
    counts: Mapping[str, int],
    judged: Mapping[str, Judged],
    ahead: FrontStage,
    match: Match | None,
    most: tuple[FloatArray, IntArray, Match] | None,
) -> Choice:
    wanted, weights = ground.wanted, ground.wanted.weights
    voice, speaks_for = _voices(ground, ahead.mains, judged)
    mains = nothing("mains")
    if ahead.mains is not None:
        mains = Candidates("mains", ahead.mains.offer.cost, weights["mains"] * ahead.mains.worth.own)
    offers = {"mains": ahead.mains.offer} if ahead.mains else {}
    offers |= {"centre": ahead.centre} if ahead.centre is not None else {}
    offers |= {role: one.offer for role, one in judged.items()}
    found = fitted(ground, rule_set, counts, offers)
    others = (_other(ground, role, one, weights[role], speaks_for) for role, one in judged.items())
    problem = PlanProblem(
        found.dressed(mains),
        found.dressed(_centre(ahead, weights["front"])),
        (*(found.dressed(one) for one in others), *found.electronics),
        wanted.fixed.limit,
        (*linear_rules(rule_set, found.counts(counts), wanted.fixed, wanted.should_costs), *found.rules),
        match,
        voice,
        wanted.fixed.total,
        *(most or ()),
    )
    everyone = [*([ahead.mains] if ahead.mains else []), *judged.values()]
    barred = (*ahead.barred, *(gate for one in everyone for gate in one.barred))
    return Choice(counts, offers, judged, ahead, problem, without_asking(barred), found.outfit, ground.unread)


def _centre(ahead: FrontStage, weight: float) -> Candidates:
    if ahead.centre is None:
        return nothing("centre")
    if ahead.pairs is not None:
        return Candidates("centre", ahead.centre.cost, np.zeros(len(ahead.centre)))
    alone = weight / 100 * ahead.alone(DEFAULT_WEIGHTS)
    return Candidates("centre", ahead.centre.cost, np.where(np.isfinite(alone), alone, 0.0))


def _voices(
    ground: Ground, mains: Judged | None, judged: Mapping[str, Judged]
) -> tuple[IntArray | None, IntArray | None]:
    """The voice group of each mains, and a row of the catalogue that speaks for each group."""
    around = [one.offer.rows for role, one in judged.items() if role in AROUND]
    if mains is None or not len(mains.offer) or not around:
        return None, None
    kin = ground.catalogue.kin.take(mains.offer.rows)
    # mains that are offered as surrounds too are identical with themselves, so each of them is a group of its own
    model = np.where(np.isin(mains.offer.rows, np.concatenate(around)), kin.model, -1)
    _, first, group = np.unique(
        np.column_stack([kin.maker, kin.family, kin.loading, model]), axis=0, return_index=True, return_inverse=True
    )
    return group.ravel().astype(np.int64), mains.offer.rows[first]


def _other(ground: Ground, role: str, judged: Judged, weight: float, speaks_for: IntArray | None) -> Candidates:
    own = judged.worth.own
    if role not in AROUND or speaks_for is None:
        return Candidates(role, judged.offer.cost, weight * own)
    unlike = kinship(ground.catalogue.kin.take(speaks_for), ground.catalogue.kin.take(judged.offer.rows))
    related = utility(TIMBRE, unlike)
    return Candidates(role, judged.offer.cost, weight * ((1 - KIN_SHARE) * own + KIN_SHARE * related))


@dataclass(frozen=True, slots=True)
class Found:
    """The best few systems, best first, and how far that is proven."""

    outcome: Outcome
    systems: tuple[tuple[Choice, System], ...]
    gap: float | None
    seconds: float
    of: int


def best_systems(
    ground: Ground,
    among: Sequence[Choice],
    count: int,
    time_limit: float,
    limit: int | None = None,
    tolerance: float = 0.0,
    known: tuple[Choice, System] | None = None,
) -> Found:
    """The best systems over all choices, none of which takes more boxes of a model than there are.

    What is worth less than a system that is `known` is not looked for, if that is possible within the limit.
    """
    start = monotonic()
    systems: list[tuple[Choice, System]] = []
    outcomes, bounds = [], []
    for place, choice in enumerate(among):
        left = max(0.0, start + time_limit - monotonic()) / (len(among) - place)
        problem = choice.problem if limit is None else choice.problem.with_limit(limit)
        least = -np.inf if known is None else _worth_at(known, problem.limit)
        outcome, bound, found = of_one(ground, replace(choice, problem=problem), count, left, tolerance, least)
        outcomes.append(outcome)
        bounds.append(bound)
        systems += [(choice, system) for system in found]
    systems.sort(key=lambda one: (-one[1].value, one[1].cost))
    unjudged = max(choice.most_unjudged(ground.wanted.weights) for choice in among)
    cut = unjudged > -np.inf
    outcome = Outcome.OUT_OF_TIME if cut or Outcome.OUT_OF_TIME in outcomes else Outcome.BEST
    if not systems and outcome is Outcome.BEST:
        outcome = Outcome.IMPOSSIBLE
    gap = max(0.0, max(unjudged, *bounds) - systems[0][1].value) if systems else None
    total = sum(choice.problem.systems for choice in among)
    return Found(outcome, tuple(systems[:count]), gap, monotonic() - ground.clock.start(start), total)


def _worth_at(known: tuple[Choice, System], limit: int) -> float:
    """What a system is worth within another limit; minus infinity where it is not possible there."""
    choice, system = known
    there = choice.problem.with_limit(limit)
    if any(rule.hard and rule.limit for rule in there.rules):
        # what must be kept of the limit may be kept by another then
        return -np.inf
    if any(rule.hard and rule.missed(there.use(rule, system), limit) for rule in there.all_rules):
        return -np.inf
    before, after = (sum(problem.penalties(system).values()) for problem in (choice.problem, there))
    return system.value + before - after


def of_one(
    ground: Ground,
    choice: Choice,
    count: int,
    seconds: float,
    tolerance: float,
    least: float = -np.inf,
    thrift: ThriftAmong | None = None,
) -> tuple[Outcome, float, list[System]]:
    """The best systems of one problem in which all is worth its price; `thrift` says of what, all of it if not given.

    More are asked for where some take more boxes than there are.
    """
    asked, deadline, thrift = count, monotonic() + seconds, thrift or thrift_of(ground, choice)
    while True:
        plan = solve(choice.problem, asked, max(0.0, deadline - monotonic()), tolerance, least, thrift)
        kept = _unlike(choice, [system for system in plan.systems if _to_be_had(ground, choice, system)])
        if len(kept) >= count or len(plan.systems) < asked or plan.outcome is Outcome.OUT_OF_TIME:
            return plan.outcome, plan.bound, kept[:count]
        asked *= 4


def thrift_of(ground: Ground, choice: Choice) -> ThriftAmong:
    """What could be exchanged in a choice for something cheaper that is to be had."""
    roles = [role.role for role in choice.problem.roles]

    def had(chosen: Chosen) -> bool:
        return _to_be_had(ground, choice, System(dict(zip(roles, chosen, strict=True)), 0.0, 0))

    free = tuple(
        _in_any_number(ground, choice.offers[role.role].rows, sum(choice.counts.values()))
        if role.role in choice.offers
        else np.ones(len(role), dtype=np.bool_)
        for role in choice.problem.roles
    )
    everything = all(one.all() for one in free)
    return ThriftAmong.of(Thrift(choice.problem, None if everything else had, None if everything else free))


def _unlike(choice: Choice, systems: Sequence[System]) -> list[System]:
    """Systems of other loudspeakers each, with what drives them best; they come best first."""
    first: dict[tuple[int, ...], System] = {}
    for system in systems:
        first.setdefault(tuple(system.chosen[role] for role in choice.offers), system)
    return list(first.values())


def _to_be_had(ground: Ground, choice: Choice, system: System) -> bool:
    return not shortages(ground, choice, system)


@dataclass(frozen=True, slots=True)
class Shortage:
    """A model of which a system takes more boxes, over all roles, than there are."""

    row: int
    roles: Mapping[str, int]
    available: int

    @property
    def missing(self) -> int:
        """How many more it would take."""
        return sum(self.roles.values()) - self.available


def shortages(ground: Ground, choice: Choice, system: System) -> list[Shortage]:
    """The models of which a system takes more boxes than there are."""
    boxes: dict[int, dict[str, int]] = {}
    for role, pieces in choice.counts.items():
        row = choice.row(system, role)
        if row is not None:
            boxes.setdefault(row, {})[role] = pieces
    found = ((row, roles, _available(ground, row)) for row, roles in boxes.items())
    return [Shortage(row, roles, int(there)) for row, roles, there in found if sum(roles.values()) > there]


def _in_any_number(ground: Ground, rows: IndexArray, boxes: int) -> BoolArray:
    """Of which of some rows there are so many boxes."""
    current: BoolArray = ground.catalogue.boxes.life[rows] != Life.DISCONTINUED
    found = current & (not ground.in_stock)
    few = np.flatnonzero(~found)
    found[few] = [_available(ground, row) >= boxes for row in rows[few].tolist()]
    return found


def _available(ground: Ground, row: int) -> float:
    limited = ground.in_stock or ground.catalogue.boxes.life[row] == Life.DISCONTINUED
    return float(ground.catalogue.available[row] or 0) if limited else np.inf


@dataclass(frozen=True, slots=True)
class Searched:
    """What was found among which choices."""

    found: Found
    among: tuple[Choice, ...]
