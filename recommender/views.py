"""Budgets, plans and rule sets as programs read them, where what is told is a selection from what was found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from triptych.catalog.ways_told import MINOR, Told, Views, key, keys_of
from triptych.recommender.advise.planning.offers import LeftOut
from triptych.recommender.advise.planning.outfit import OutfitPiece
from triptych.recommender.advise.planning.plan_answer import RoleOtherwise, WholeSystem
from triptych.recommender.advise.rulebook import built_in
from triptych.recommender.money.budget.check import Check, RoleShare, RuleResult
from triptych.recommender.money.budget.fitting import FitResult
from triptych.recommender.money.budget.mend import Change, Mend, Product, mend
from triptych.recommender.money.budget.rules import Rule, RuleSet, says

PART_OF_ONE: Final = Told(digits=6)
"""A part of a whole, from 0 to 1."""


@dataclass(frozen=True, slots=True)
class CheckedBudget:
    """A budget judged, with the change that mends it."""

    check: Check
    mend: Mend


BUDGET: Final[Views] = {
    CheckedBudget: (
        key("verdict", "check.verdict"),
        key("rule_set", "check.rule_set.name"),
        key("currency", "check.budget.currency"),
        key("tax_included", "check.budget.tax_included"),
        key("total", "check.budget.total", MINOR),
        key("limit", "check.budget.limit", MINOR),
        key("over", "check.over", MINOR),
        key("denominators", "check.denominators", MINOR),
        key("not_counted", "check.not_counted"),
        key("shares", "check.shares"),
        key("rules", "check.results"),
        key("fits", "check.fits"),
        key("missing", "check.missing"),
        key("advised", "check.advised"),
        key("mend", "mend.changes"),
        key("mend_outcome", "mend.outcome"),
        key("mend_words", "mend.words"),
        key("mend_limit", "mend.limit", MINOR),
        key("mend_proven", "mend.proven"),
        key("mend_stays", "mend.stays"),
        key("mend_breaks", "mend.breaks"),
        key("mend_products", "mend.products"),
        key("cautions", "check.cautions"),
    ),
    RoleShare: (
        key("role"),
        key("amount", told=MINOR),
        key("of_audio_total", told=PART_OF_ONE),
        key("of_speakers_and_sub", told=PART_OF_ONE),
    ),
    RuleResult: (
        key("rule", "rule.name"),
        key("kind", "rule.kind"),
        key("holds"),
        key("judged"),
        key("have", "has", MINOR),
        key("need", "wanted", MINOR),
        key("short", "lacks", MINOR),
        key("why"),
    ),
    FitResult: (key("rule", "rule.name"), key("kind", "rule.kind"), key("holds"), key("why")),
    Change: (key("change", "words"), key("by", told=MINOR)),
    Product: (key("role"), key("speaker"), key("cost", told=MINOR)),
}
"""`budget check`: amounts in the budget's currency, parts from 0 to 1."""

PLAN: Final[Views] = {
    **BUDGET,
    WholeSystem: keys_of(
        WholeSystem,
        check=lambda one: CheckedBudget(one.check, mend(one.check.budget, one.check.rule_set)),
    ),
    OutfitPiece: (
        key("role"),
        key("item"),
        key("quantity"),
        key("unit"),
        key("serves", told=Told(or_null=True)),
        key("cost", told=MINOR),
    ),
    RoleOtherwise: (
        key("role", "pick.role"),
        key("speaker", "pick.speaker"),
        key("quantity", "pick.pieces"),
        key("cost", "pick.cost", MINOR),
        key("worth", "pick.worth", Told(digits=2)),
        key("worth_at_most", "pick.most"),
        key("place", "pick.place", Told(or_null=True)),
        key("pose", "pick.pose", Told(or_null=True)),
        key("score", "pick.score", Told(digits=1)),
        key("instead_of", told=Told(or_null=True)),
        key("missing"),
        key("when"),
        key("why"),
    ),
    LeftOut: (key("role"), key("reason"), key("count", lambda one: len(one.speakers)), key("speakers")),
}
"""`budget plan`."""

RULES: Final[Views] = {
    RuleSet: (
        key("rule_set", "name"),
        key("supplied", lambda one: built_in(one.name)),
        key("why"),
        key("order"),
        key("rules"),
    ),
    Rule: (
        key("rule", "name"),
        key("form"),
        key("kind"),
        key("roles"),
        key("measure"),
        key("factor"),
        key("of"),
        key("of_measure"),
        key("says", says),
        key("why"),
    ),
}
"""`budget rules show`."""
