"""From the systems that were found to plain values and words."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from math import ceil, floor, log10
from typing import Final

import numpy as np

from triptych.catalog.money import minor_digits, money
from triptych.recommender.advise.advice import known
from triptych.recommender.advise.planning.choose import Choice, Found, Searched
from triptych.recommender.advise.planning.ground import Ground
from triptych.recommender.advise.planning.outfit import OutfitPiece, asks_of_row
from triptych.recommender.advise.planning.plan_answer import (
    SEAT_LOST,
    Buy,
    Exchange,
    NextMoney,
    Pick,
    WayOut,
    WholeSystem,
    many,
)
from triptych.recommender.judge.criterion import CriterionValues
from triptych.recommender.money.budget.budget_lines import SPEAKERS_AND_SUB, Budget, BudgetLine
from triptych.recommender.money.budget.check import check
from triptych.recommender.money.budget.rules import RuleSet
from triptych.recommender.money.planner.problem import Candidates, Outcome, PlanProblem, System
from triptych.recommender.money.planner.relax import Obstacle, Relaxation
from triptych.recommender.money.planner.steps import Purchase, order_to_buy

Chosen = tuple[Choice, System]

OUTCOME: Final = {
    Outcome.BEST: "optimal",
    Outcome.OUT_OF_TIME: "stopped_early",
    Outcome.IMPOSSIBLE: "impossible",
}

LAST: Final = f"seats: {SEAT_LOST}, so it comes after every centre that keeps it"
"""What is told of a centre with a dead seat."""

_FRONT = ("mains", "centre")
_NOWHERE = ("", "", None)


def statement(
    searched: Searched, rules: Mapping[str, str], missing: Sequence[str] = (), misfits: Sequence[str] = ()
) -> str:
    """How far what was found is proven, in a sentence.

    `rules` are what each asks, by its name; `missing` has no line, so that the system isn't whole; `misfits` are
    shoulds on what fits that do not hold.
    """
    found = searched.found
    if found.outcome is Outcome.IMPOSSIBLE:
        return "no system keeps the musts within the limit"
    if not found.systems:
        return f"stopped after {found.seconds:.1f} s before any system was found; give it more time with --time-limit"
    if found.outcome is Outcome.OUT_OF_TIME:
        least = f"a better one would be worth {told_points(found.gap or 0.0)} more at most"
        if any(choice.cut for choice in searched.among):
            least = f"not all could be judged, and {least}"
        return f"stopped after {found.seconds:.1f} s: {least}; {_held(*found.systems[0], rules, missing, misfits)}"
    proven = f"optimal: of {found.of:,} systems none is worth more, or as much for less"
    if found.of == 1:
        proven = "optimal: it is the only system there is"
    return f"{proven}; {_held(*found.systems[0], rules, missing, misfits)}"


def told_points(points: float) -> str:
    """Points of worth as they are told; what is there is never told as nothing.

    >>> told_points(0.004), told_points(0.294)
    ('less than 0.01', '0.29')
    """
    return "less than 0.01" if 0 < points < 0.005 else f"{points:.2f}"


def _held(
    choice: Choice, system: System, rules: Mapping[str, str], missing: Sequence[str], misfits: Sequence[str]
) -> str:
    """What a system lacks, and what it costs itself by the shoulds that it breaks."""
    broken = {rules.get(name, name): cost for name, cost in choice.problem.penalties(system).items()}
    whole = f"incomplete, without a line for {', '.join(missing)}" if missing else ""
    asked = ", ".join(rules.get(name, name) for name in misfits)
    strange = f"; what does not fit: {asked}" if misfits else ""
    if not broken:
        return (whole or ("every must holds" if misfits else "every rule that is judged holds")) + strange
    if not any(broken.values()):
        return f"{whole or 'every must holds'}; it breaks, as shoulds cost nothing here, {', '.join(broken)}{strange}"
    named = ", ".join(f"{name} ({told_points(cost)})" for name, cost in broken.items())
    return f"{whole or 'every must holds'}; what it breaks of the shoulds has cost it worth: {named}{strange}"


def whole_systems(ground: Ground, found: Found, rule_set: RuleSet) -> tuple[WholeSystem, ...]:
    """The systems as plain values, each beside the best."""
    return tuple(_whole(ground, rank, one, found, rule_set) for rank, one in enumerate(found.systems, start=1))


def beside_best(ground: Ground, other: Chosen, found: Found, rule_set: RuleSet) -> WholeSystem:
    """A system beside the best, in no rank of its own."""
    return _whole(ground, 0, other, found, rule_set)


def _whole(ground: Ground, rank: int, chosen: Chosen, found: Found, rule_set: RuleSet) -> WholeSystem:
    fixed, (choice, system) = ground.wanted.fixed, chosen
    best, picks = found.systems[0][1], tuple(picks_of(ground, choice, system))
    total, pieces = fixed.total + system.cost, choice.outfit.bought(system.chosen)
    return WholeSystem(
        rank=rank,
        value=system.value,
        total=total,
        left=fixed.limit - total,
        costs_more=system.cost - best.cost,
        loses=max(0.0, best.value - system.value),
        instead=tuple(one.words for one in _changed(ground, found.systems[0], chosen)),
        picks=picks,
        equipment=pieces,
        shoulds=choice.problem.penalties(system),
        check=check(as_budget(ground, chosen, picks, pieces), rule_set),
    )


def _changed(ground: Ground, before: Chosen, after: Chosen) -> list[Exchange]:
    """The roles in which two systems differ, what drives them among these."""
    old, new = (_all_named(ground, one) for one in (before, after))
    lost = _seat_lost(*after)
    return [replace(one, seat_lost=lost and one.role == "centre") for one in exchanges(old, new)]


def _seat_lost(choice: Choice, system: System) -> bool:
    """Whether the centre of a system stands where a regular seat loses its speech."""
    pairs, at = choice.front.pairs, system.chosen["centre"]
    if pairs is None or not any(one.dead[one.index == at].any() for one in choice.front.places):
        return False
    found = pairs.best_place(system.chosen["mains"], at)
    return found is not None and bool(found[0].dead[0])


def _all_named(ground: Ground, chosen: Chosen) -> dict[str, str]:
    """What a system has by role, by its name with how many there are, what drives it too."""
    choice, system = chosen
    rows = {role: choice.row(system, role) for role in _roles(choice)}
    loudspeakers = {
        role: many(ground.catalogue.names[row], choice.offers[role].pieces)
        for role, row in rows.items()
        if row is not None
    }
    return {**loudspeakers, **{one.role: one.named for one in choice.outfit.driven_by(system.chosen)}}


def _roles(choice: Choice) -> tuple[str, ...]:
    return ("mains", "centre", *choice.judged)


def as_budget(ground: Ground, chosen: Chosen, picks: Sequence[Pick], pieces: Sequence[OutfitPiece]) -> Budget:
    """A system as the lines of a budget, with what rules on what fits take, beside the lines that stand.

    All are fixed: what was chosen costs what it costs, and the search has weighed already what moving money would mend.
    """
    fixed, runs = ground.wanted.fixed, ground.wanted.runs
    rows = {one.role: chosen[0].row(chosen[1], one.role) for one in picks}
    lines = [
        BudgetLine(one.role, one.cost, one.pieces, one.speaker, fixed=True, run=runs.get(one.role),
                   asks=None if row is None else asks_of_row(ground.catalogue, row))
        for one in picks if not one.fixed for row in (rows[one.role],)
    ]  # fmt: skip
    lines += [
        BudgetLine(one.role, one.cost, one.quantity, one.item, fixed=True, serves=one.serves, gives=one.gives)
        for one in pieces
    ]
    lines += [replace(line, fixed=True) for line in fixed.lines]
    return Budget(fixed.currency, fixed.limit, fixed.tax_included, tuple(lines))


def exchanges(before: Mapping[str, str], after: Mapping[str, str]) -> list[Exchange]:
    """The roles in which two systems differ, by what each has there."""
    changed = (role for role in before if role in after and before[role] != after[role])
    return [Exchange(role, before[role], after[role]) for role in changed]


def picks_of(ground: Ground, choice: Choice, system: System) -> Iterator[Pick]:
    """What a system has in every role."""
    for role in _roles(choice):
        row = choice.row(system, role)
        if row is None:
            continue
        offered, at = choice.offers[role], system.chosen[role]
        worth, most = _worth_in(choice, system, role), ground.wanted.weights["front" if role == "centre" else role]
        own = (
            role,
            ground.catalogue.names[row],
            offered.pieces,
            int(offered.cost[at]),
            offered.fixed,
            worth,
            most,
        )
        if role == "centre":
            yield _centre(choice, system, own)
        else:
            judged = choice.front.mains if role == "mains" else choice.judged[role]
            yield Pick(*own, *_NOWHERE, False, *_told(judged.worth.criteria if judged else (), at))


def _centre(choice: Choice, system: System, own: tuple[str, str, int, int, bool, float, float]) -> Pick:
    at, pairs = system.chosen["centre"], choice.front.pairs
    if pairs is None:
        place = next(one for one in choice.front.places if at in one.index)
        return Pick(
            *own, place.place, place.pose, None, False, *_told(place.own, int(np.searchsorted(place.index, at)))
        )
    found = pairs.best_place(system.chosen["mains"], at)
    if found is None:
        return Pick(*own)
    here, score = found
    quantities, words = _told(here.own, 0)
    lost = bool(here.dead[0])
    last = (LAST,) if lost else ()
    return Pick(*own, here.place, here.pose, score, lost, quantities, (*words, *last))


def _told(criteria: Sequence[CriterionValues], at: int) -> tuple[dict[str, float | None], tuple[str, ...]]:
    """What criteria say of one loudspeaker, in numbers and in words."""
    return (
        {f"{one.criterion.name}_{_unit(one)}": known(one.value[at]) for one in criteria},
        tuple(f"{one.criterion.name}: {one.told(at)}" for one in criteria),
    )


def _unit(one: CriterionValues) -> str:
    return one.criterion.unit.lower()


def next_money(ground: Ground, best: Chosen, more: Found, limit: int) -> NextMoney:
    """What another limit would buy, beside the best for the limit there is."""
    choice, system = more.systems[0] if more.systems else best
    changed = _changed(ground, best, (choice, system))
    gain = system.value - best[1].value
    return NextMoney(limit, gain, system.cost - best[1].cost, more.gap == 0.0, tuple(changed))


def purchases(ground: Ground, best: WholeSystem, rule_set: RuleSet, driven: bool) -> tuple[Buy, ...]:
    """In which order to buy: what plays, then all else as the rule set spends; stands and cables with what they serve.

    `driven`: whether there is something that drives it, so that loudspeakers play.
    """
    fixed = [line for line in ground.wanted.fixed.lines if line.amount]
    items = [(one.role, one.named, one.cost) for one in best.picks if not one.fixed]
    items += [(one.serves or one.role, one.named, one.cost) for one in best.equipment]
    items += [(line.role, line.item or "set aside", line.amount) for line in fixed]
    costs: dict[str, int] = {}
    for role, _, cost in items:
        costs[role] = costs.get(role, 0) + cost
    roles = {role: Candidates(role, np.array([cost]), np.zeros(1)) for role, cost in costs.items()}
    mains, centre = (roles.pop(role, Candidates(role, np.zeros(1, dtype=np.int64), np.zeros(1))) for role in _FRONT)
    problem = PlanProblem(mains, centre, tuple(roles.values()), 0)
    all_of_it = System({role.role: 0 for role in problem.roles}, 0.0, 0)
    found = [one for one in order_to_buy(problem, all_of_it, rule_set.order, ground.wanted.steps) if one.role in costs]
    there = [line.role for line in ground.wanted.fixed.lines if line.owned]
    boxes = {
        role: sum(line.pieces for line in best.check.budget.lines if line.role == role) for role in SPEAKERS_AND_SUB
    }
    bought = [{*there, *(one.role for one in found[: at + 1])} for at in range(len(found))]
    return tuple(
        Buy(one.role, _items(one.role, items), one.cost, one.together, None if one.step is None else one.step + 1,
            _layout(boxes, roles_there) if driven and ("electronics" in roles_there or not _buys(found)) else "")
        for one, roles_there in zip(found, bought, strict=True)
    )  # fmt: skip


def _buys(found: Sequence[Purchase]) -> bool:
    """Whether electronics are still to be bought."""
    return any(one.role == "electronics" for one in found)


def _layout(boxes: Mapping[str, int], there: Collection[str]) -> str:
    """What plays, as loudspeakers around, subwoofers, and heights where there are some; empty without a loudspeaker."""
    some = {role: many if role in there else 0 for role, many in boxes.items()}
    around = sum(many for role, many in some.items() if role not in ("sub", "heights"))
    heights = f".{some['heights']}" if some["heights"] else ""
    return f"{around}.{some['sub']}{heights}" if around else ""


def _items(role: str, items: Sequence[tuple[str, str, int]]) -> str:
    return ", ".join(name for other, name, _ in items if other == role)


def takes_of(pick: Pick, system: WholeSystem) -> str:
    """What stands where a price would, of what wasn't chosen: whether it is owned, or on a line; empty for the rest."""
    if not pick.fixed:
        return ""
    owned = any(line.owned for line in system.check.budget.lines if line.role == pick.role)
    return "owned" if owned else "on a line"


RELAXED_BY: Final[Mapping[str, str]] = {
    "level": "by a target peak so much lower or an amplifier so much louder",
    "envelope": "by an opening so much larger",
}
"""What a gate is relaxed by, where that is said in a word."""


def enough(by: float) -> str:
    """A figure in three digits that is no less.

    >>> enough(5.9833), enough(0.02), enough(126.4), enough(0.0)
    ('5.99', '0.02', '127', '0')
    """
    if not by:
        return "0"
    step = 10.0 ** (floor(log10(by)) - 2)
    return f"{ceil(round(by / step, 6)) * step:.3g}"


def way_out(one: Relaxation, choice: Choice, currency: str, rules: Mapping[str, str]) -> WayOut:
    """One relaxation in words."""
    names = " and ".join(one.names)
    if one.obstacle is Obstacle.ROLE:
        return WayOut(
            "role", one.names, (), "", f"nothing that may be chosen now can be the {names}: see what was left out"
        )
    if one.bar is not None:
        where = f" at {one.bar.place!r}" if one.bar.place else ""
        words = f"relax the {one.bar.gate} gate by {enough(one.by[0])} {one.bar.unit} for the {one.role}{where}"
        words += f", {RELAXED_BY[one.bar.gate]}" if one.bar.gate in RELAXED_BY else ""
        words += f": {one.lets_in} then {'do' if ' and the ' in one.role else 'does'}" if one.lets_in else ""
        return WayOut("gate", one.names, one.by, one.bar.unit, words)
    minor = [round(by) for by in one.by]
    amounts = tuple(float(by) / 10 ** minor_digits(currency) for by in minor)
    if one.obstacle is Obstacle.LIMIT:
        return WayOut("limit", one.names, amounts, currency, f"raise the limit by {money(minor[0], currency)}")
    asked = [f"'{name}'" + (f" ({rules[name]})" if name in rules else "") for name in one.names]
    told = " and ".join(f"{name} by {money(by, currency)}" for name, by in zip(asked, minor, strict=True))
    return WayOut("rule", one.names, amounts, currency, f"relax {told}")


def _worth_in(choice: Choice, system: System, role: str) -> float:
    """What a system's loudspeaker adds to the value in its role; for the centre with its match to the mains."""
    problem = choice.problem
    mains, at = np.array([system.chosen["mains"]]), system.chosen[role]
    candidates = next(one for one in problem.roles if one.role == role)
    own = float(problem.grains(candidates.worth_beside(int(problem.voice_of(mains)[0]))[at]))
    together = float(problem.grains(problem.match_rows(mains, np.array([at])))[0, 0]) if role == "centre" else 0.0
    return problem.points(own + together)
