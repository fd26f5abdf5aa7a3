"""A choice held to what fits: electronics as a role of its own, stands and cables in what each loudspeaker costs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import isnan
from typing import Final

import numpy as np

from triptych.recommender.advise.planning.ground import Ground
from triptych.recommender.advise.planning.offers import LeftOut, RoleOffer, told
from triptych.recommender.advise.planning.outfit import (
    ACCESSORIES,
    ELECTRONICS,
    DriveDemand,
    DriveSet,
    Extras,
    Outfit,
    demand_of,
    drive_sets,
    extras_of,
    grains,
    loads,
)
from triptych.recommender.money.budget.budget_lines import Budget, BudgetLine
from triptych.recommender.money.budget.errors import BadBudget
from triptych.recommender.money.budget.fitting import PASSIVE, Fitting, fits
from triptych.recommender.money.budget.rules import Duty, Rule, RuleSet
from triptych.recommender.money.planner.problem import BoolArray, Candidates, IntArray, LinearRule
from triptych.recommender.money.planner.relax import Barred

MISFIT: Final = "misfit"
"""The measure of what nothing in the catalogue drives, bears or feeds."""

NOT_STATED: Final = "no impedance is stated, so nothing says what may drive it"


@dataclass(frozen=True, slots=True)
class Fitted:
    """What a choice has beside its loudspeakers, and what it is held to."""

    outfit: Outfit
    rules: tuple[LinearRule, ...]
    measures: Mapping[str, Mapping[str, IntArray]]
    chooses: tuple[str, ...]

    def counts(self, counts: Mapping[str, int]) -> dict[str, int]:
        """The roles that are to be chosen, with those that fit the others."""
        return {**counts, **dict.fromkeys(self.chooses, 1)}

    def dressed(self, role: Candidates) -> Candidates:
        """The candidates of a role at what they cost with all that they need, and with their measures."""
        measures = self.measures.get(role.role, {})
        return Candidates(role.role, role.cost + measures.get(ACCESSORIES, 0), role.worth, measures)

    @property
    def electronics(self) -> tuple[Candidates, ...]:
        """The sets that could drive it all, as a role; none where they are not chosen."""
        if not self.outfit.sets:
            return ()
        cost = np.array([one.cost for one in self.outfit.sets], dtype=np.int64)
        return (Candidates(ELECTRONICS, cost, np.zeros(len(cost)), self.measures[ELECTRONICS]),)


def possible_counts(ground: Ground, rule_set: RuleSet) -> tuple[Mapping[str, int], ...]:
    """The numbers of boxes for which what drives them on the lines is enough.

    Raises
    ------
    BadBudget
        It is for none.
    """
    fixed, rules = ground.wanted.fixed, RuleSet("channels", _musts(rule_set, Fitting.CHANNELS))
    reasons, kept = [], []
    for counts in ground.wanted.counts:
        lines = (*fixed.lines, *(BudgetLine(role, 0, pieces) for role, pieces in counts.items()))
        wrong = [one.why for one in fits(replace(fixed, lines=lines), rules) if not one.holds]
        reasons += wrong
        kept += [] if wrong and not ground.wanted.chooses(ELECTRONICS) else [counts]
    if not kept:
        mend = "want fewer, or a line of electronics with more"
        raise BadBudget(f"want: {reasons[0]}; {mend}")
    return tuple(kept)


def _musts(rule_set: RuleSet, *fittings: Fitting) -> tuple[Rule, ...]:
    return tuple(rule for rule in rule_set.rules if rule.fitting in fittings and rule.kind is Duty.MUST)


def fitted(ground: Ground, rule_set: RuleSet, counts: Mapping[str, int], offers: Mapping[str, RoleOffer]) -> Fitted:
    """What drives, bears and joins the candidates of a choice."""
    wanted = ground.wanted
    must = {rule.fitting for rule in _musts(rule_set, *Fitting)}
    sets = drive_sets(ground.articles, demand(ground, counts)) if wanted.chooses(ELECTRONICS) else ()
    lines_load = _load_of_lines(wanted.fixed) if not wanted.chooses(ELECTRONICS) else np.nan
    driven = Fitting.LOAD in must and (bool(sets) or not isnan(lines_load))
    left_out: list[LeftOut] = []
    extras: dict[str, Extras] = {}
    measures: dict[str, dict[str, IntArray]] = {}
    for role, offered in offers.items():
        misfit = np.zeros(len(offered), dtype=np.bool_)
        here = measures.setdefault(role, {})
        if wanted.chooses(ACCESSORIES) and not offered.fixed:
            words = [one.value for one in must if one is not None]
            found, without = extras_of(ground.catalogue, offered, ground.articles, wanted.runs.get(role), must=words)
            extras[role], misfit = found, misfit | found.misfit
            here[ACCESSORIES] = found.cost
            left_out += without
        if driven and role in PASSIVE:
            load = loads(ground.catalogue.boxes.take(offered.rows))
            here["load"] = grains(load)
            unknown = np.isnan(load) & (not offered.fixed)
            misfit |= unknown
            left_out += told(role, _named(ground, offered, unknown))
            # what is owned and says nothing is for its owner to look up
            here["load"] = np.where(np.isnan(load), _ENDLESS, here["load"])
        if Fitting.POWER in must and sets and role in PASSIVE:
            asked = ground.catalogue.least_power * ground.catalogue.boxes.impedance_nominal
            here["power"] = -grains(np.nan_to_num(asked[offered.rows]))
        here[MISFIT] = misfit.astype(np.int64)
    if sets:
        measures[ELECTRONICS] = {
            "load": grains([one.load for one in sets]),
            "power": grains([one.voltage_squared for one in sets]),
        }
    dressed = any(one.cost.any() for one in extras.values())
    chooses = (*([ELECTRONICS] if sets else []), *([ACCESSORIES] if dressed else []))
    return Fitted(Outfit(sets, extras, tuple(left_out)), _rules(measures, sets, lines_load, driven), measures, chooses)


_ENDLESS: Final = 10**12
"""A load that is never too low."""


def demand(ground: Ground, counts: Mapping[str, int]) -> DriveDemand:
    """What electronics have to drive, at least as well as the room's amplifier where it names one."""
    return demand_of(counts, ground.wanted.fixed, ground.drive)


def _named(ground: Ground, offered: RoleOffer, which: BoolArray) -> dict[str, list[str]]:
    names = [ground.catalogue.names[row] for row in offered.rows[which]]
    return {NOT_STATED: names} if names else {}


def _load_of_lines(fixed: Budget) -> float:
    """The highest of the lowest loads that what drives on the lines is rated for [ohm]; NaN where none is stated."""
    stated = [line.gives.lowest_load for line in fixed.lines if line.gives is not None and line.gives.drives]
    return max((one for one in stated if not isnan(one)), default=np.nan)


def _rules(
    measures: Mapping[str, Mapping[str, IntArray]], sets: tuple[DriveSet, ...], lines_load: float, driven: bool
) -> tuple[LinearRule, ...]:
    made = []
    if any(here[MISFIT].any() for here in measures.values() if MISFIT in here):
        shares = {(role, MISFIT): -1 for role, here in measures.items() if MISFIT in here}
        made.append(LinearRule("fits", {}, measures=shares, fixed=True))
    least = 0 if isnan(lines_load) else int(grains([lines_load])[0])
    for role, here in measures.items():
        if role == ELECTRONICS:
            continue
        for name in ("load", "power"):
            if name in here and (name == "power" or driven):
                other = {(ELECTRONICS, name): -1 if name == "load" else 1} if sets else {}
                asked = {(role, name): 1, **other}
                made.append(LinearRule(f"{name}_fit", {}, 0 if sets else least, measures=asked, fixed=True))
    return tuple(made)


def without_asking(barred: Iterable[Barred]) -> tuple[Barred, ...]:
    """What gates keep out, of which it is not asked what drives, bears and feeds it, but whether the gate may give."""
    return tuple(replace(one, measures={"load": np.full(len(one.cost), _ENDLESS)}) for one in barred)
