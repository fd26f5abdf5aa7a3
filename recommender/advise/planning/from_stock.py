"""What the stock keeps a plan from: of what more is needed, and what would be chosen if all could be ordered."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from triptych.recommender.advise.planning.choose import (
    ANY,
    Choice,
    Searched,
    Shortage,
    best_systems,
    choices,
    shortages,
)
from triptych.recommender.advise.planning.ground import Ground
from triptych.recommender.advise.planning.judgement import Judgement
from triptych.recommender.advise.planning.plan_answer import Pick, PlanOtherwise, RoleOtherwise, WayOut, WholeSystem
from triptych.recommender.advise.planning.told import OUTCOME, exchanges, picks_of, statement
from triptych.recommender.money.budget.rules import RuleSet, in_sentences
from triptych.recommender.money.planner.problem import Outcome
from triptych.recommender.money.planner.solve import solve

if TYPE_CHECKING:
    from triptych.catalog.stock.availability import Promise

LOOKED_AT: Final = 50
"""Among so many of the best systems the one that lacks the fewest boxes is looked for."""

NAMED: Final = 3
"""So many ways to lack equally few boxes are told at most."""


@dataclass(frozen=True, slots=True)
class Unlimited:
    """The same question as if all could be ordered, and what was found for it."""

    ground: Ground
    searched: Searched

    @property
    def impossible(self) -> bool:
        """Whether it is proven that no order would help."""
        return self.searched.found.outcome is Outcome.IMPOSSIBLE

    @property
    def stopped(self) -> bool:
        """Whether it ended before it could be proven."""
        return self.searched.found.outcome is Outcome.OUT_OF_TIME


def unlimited(ground: Ground, rule_set: RuleSet, judgement: Judgement, time_limit: float) -> Unlimited:
    """Search once more as if all could be ordered."""
    free = ground.unlimited()
    among = choices(free, rule_set, judgement)
    return Unlimited(free, Searched(best_systems(free, among, 1, time_limit), among))


def otherwise(
    chosen: Searched, systems: Sequence[WholeSystem], free: Unlimited, rule_set: RuleSet
) -> PlanOtherwise | None:
    """What would have been chosen if all could be ordered; None where that is no better than the best from stock."""
    if not free.searched.found.systems:
        return None
    best = systems[0] if systems else None
    picks = tuple(picks_of(free.ground, *free.searched.found.systems[0]))
    if best is not None and not (exchanges(_named(best.picks), _named(picks)) and _better(chosen, free.searched)):
        return None
    return _beside(chosen, best, picks, free, in_sentences(rule_set))


def _named(picks: Sequence[Pick]) -> dict[str, str]:
    return {one.role: one.named for one in picks}


def _better(chosen: Searched, free: Searched) -> bool:
    """Whether it is worth more than the best from stock, or as much for less."""
    (_, old), (_, new) = chosen.found.systems[0], free.found.systems[0]
    return (new.value, -new.cost) > (old.value, -old.cost)


def _beside(
    chosen: Searched, best: WholeSystem | None, picks: Sequence[Pick], free: Unlimited, rules: Mapping[str, str]
) -> PlanOtherwise:
    searched, fixed = free.searched, free.ground.wanted.fixed
    choice, system = searched.found.systems[0]
    broken = chosen.found.systems[0][0].problem.penalties(chosen.found.systems[0][1]) if best else {}
    total = fixed.total + system.cost
    roles = tuple(_roles(free, picks, best.picks if best else ()))
    days = [one.when for one in roles if one.when is not None]
    return PlanOtherwise(
        outcome=OUTCOME[searched.found.outcome],
        statement=statement(searched, rules),
        value=system.value,
        total=total,
        left=fixed.limit - total,
        costs_more=total - best.total if best else None,
        gains=system.value - best.value if best else None,
        keeps=tuple(name for name in broken if name not in choice.problem.penalties(system)),
        when=max(days) if len(days) == len(roles) else None,
        roles=roles,
    )


def _roles(free: Unlimited, picks: Sequence[Pick], before: Sequence[Pick]) -> Iterator[RoleOtherwise]:
    """The roles that differ; of a model in several roles, those that don't differ take theirs first."""
    instead = {one.role: one.named for one in before}
    taken = [one for one in picks if not one.fixed]
    taken.sort(key=lambda one: instead.get(one.role) != one.named)
    choice, system = free.searched.found.systems[0]
    rows = [int(choice.offers[one.role].rows[system.chosen[one.role]]) for one in taken]
    boxes: Counter[int] = Counter()
    up_to = []
    for row, one in zip(rows, taken, strict=True):
        number = free.ground.catalogue.ids[row]
        boxes[number] += one.pieces
        up_to.append((number, boxes[number]))
    promised = _promised(free.ground, up_to)
    for (number, quantity), one in zip(up_to, taken, strict=True):
        if instead.get(one.role) != one.named:
            promise = promised[number, quantity]
            missing = min(one.pieces, max(0, quantity - promise.available))
            yield RoleOtherwise(one, instead.get(one.role, ""), missing, promise.when, promise.told)


def _promised(ground: Ground, wanted: Sequence[tuple[int, int]]) -> Mapping[tuple[int, int], Promise]:
    """When so many of each model could be had together."""
    from triptych.catalog.stock.availability import promises

    found: dict[tuple[int, int], Promise] = {}
    for quantity in sorted({quantity for _, quantity in wanted}):
        told = promises(ground.session, [number for number, many in wanted if many == quantity], quantity)
        found |= {(number, quantity): promise for number, promise in told.items()}
    return found


def to_receive(ground: Ground, among: Sequence[Choice], seconds: float) -> tuple[WayOut, ...]:
    """Where systems fail only on one stock for several roles: of which model how many more are needed, for what."""
    lacking: dict[tuple[tuple[int, int], ...], list[Shortage]] = {}
    for choice in among:
        # the first that is possible tells whether there is any; the best are looked for only then
        if not (first := solve(choice.problem, 1, seconds, ANY).systems):
            continue
        for system in (*solve(choice.problem, LOOKED_AT, seconds).systems, *first):
            short = shortages(ground, choice, system)
            lacking.setdefault(tuple((one.row, one.missing) for one in short), short)
    fewest = min((_missing(short) for short in lacking.values()), default=0)
    return tuple(_way_out(ground, short) for short in lacking.values() if _missing(short) == fewest)[:NAMED]


def _missing(short: Sequence[Shortage]) -> int:
    return sum(one.missing for one in short)


def _way_out(ground: Ground, short: Sequence[Shortage]) -> WayOut:
    names = tuple(ground.catalogue.names[one.row] for one in short)
    told = [_receive(name, one) for name, one in zip(names, short, strict=True)]
    return WayOut("stock", names, tuple(float(one.missing) for one in short), "boxes", " and ".join(told))


def _receive(name: str, short: Shortage) -> str:
    roles = " and ".join(f"{role} ({pieces})" for role, pieces in short.roles.items())
    there = f"{short.available} {'is' if short.available == 1 else 'are'} available"
    return f"receive {short.missing} more {name}: {roles} would take {sum(short.roles.values())}, and {there}"
