"""A plan as JSON; money in the currency, shares from 0 to 1. Rounding happens here and in the tables."""

from __future__ import annotations

from typing import Any

from triptych.catalog.money import to_amount
from triptych.recommender.advise.planning.plan_answer import (
    NextMoney,
    Pick,
    PlanAnswer,
    PlanOtherwise,
    RoleOtherwise,
    WayOut,
    WholeSystem,
)
from triptych.recommender.cli.as_json import rounded
from triptych.recommender.money.budget.mend import mend
from triptych.recommender.money.budget.report import as_json


def plan(answer: PlanAnswer) -> dict[str, Any]:
    """The whole answer to `budget plan`."""
    currency = answer.currency
    return {
        "outcome": answer.outcome,
        "statement": answer.statement,
        "optimal": answer.outcome == "optimal",
        "gap": rounded(answer.gap, 4),
        "rule_set": answer.rule_set,
        "room": answer.room or None,
        "currency": currency,
        "tax_included": answer.tax_included,
        "limit": amount(answer.limit, currency),
        "fixed": amount(answer.fixed, currency),
        "weights": answer.weights,
        "systems": [system(one, currency) for one in answer.systems],
        "next_money": _next_money(answer.next_money, currency),
        "order": [
            {
                "role": one.role,
                "item": one.item,
                "cost": amount(one.cost, currency),
                "together": amount(one.together, currency),
                "step": one.step,
            }
            for one in answer.order
        ],
        "relax": [_way_out(one) for one in answer.ways_out],
        "left_out": [
            {"role": one.role, "reason": one.reason, "count": len(one.speakers), "speakers": list(one.speakers)}
            for one in answer.left_out
        ],
        "not_judged": list(answer.not_judged),
        "cautions": list(answer.cautions),
        **({"otherwise": otherwise(answer.otherwise, currency)} if answer.otherwise else {}),
    }


def amount(minor: int, currency: str) -> float:
    """Money in its currency."""
    return float(to_amount(minor, currency))


def system(one: WholeSystem, currency: str) -> dict[str, Any]:
    """One whole system, with the check of its budget."""
    return {
        "rank": one.rank,
        "value": rounded(one.value, 2),
        "total": amount(one.total, currency),
        "left": amount(one.left, currency),
        "costs_more": amount(one.costs_more, currency),
        "loses": rounded(one.loses, 2),
        "instead": list(one.instead),
        "roles": [_pick(pick, currency) for pick in one.picks],
        "check": as_json(one.check, mend(one.check.budget, one.check.rule_set)),
    }


def otherwise(one: PlanOtherwise, currency: str) -> dict[str, Any]:
    """What would have been chosen if all could be ordered; `when` and `why` are those of `match`."""
    return {
        "outcome": one.outcome,
        "statement": one.statement,
        "value": rounded(one.value, 2),
        "total": amount(one.total, currency),
        "left": amount(one.left, currency),
        "costs_more": None if one.costs_more is None else amount(one.costs_more, currency),
        "gains": rounded(one.gains, 2),
        "keeps": list(one.keeps),
        "when": one.when.isoformat() if one.when else None,
        "roles": [_role_otherwise(role, currency) for role in one.roles],
    }


def _role_otherwise(one: RoleOtherwise, currency: str) -> dict[str, Any]:
    own = _pick(one.pick, currency)
    keys = ("role", "speaker", "quantity", "cost", "worth", "worth_at_most", "place", "pose", "score")
    return {
        **{key: own[key] for key in keys},
        "instead_of": one.instead_of or None,
        "missing": one.missing,
        "when": one.when.isoformat() if one.when else None,
        "why": one.why,
    }


def _pick(one: Pick, currency: str) -> dict[str, Any]:
    return {
        "role": one.role,
        "speaker": one.speaker,
        "quantity": one.pieces,
        "cost": amount(one.cost, currency),
        "fixed": one.fixed,
        "worth": rounded(one.worth, 2),
        "worth_at_most": one.most,
        "place": one.place or None,
        "pose": one.pose or None,
        "score": rounded(one.score, 1),
        "quantities": {name: rounded(value) for name, value in one.quantities.items()},
        "why": list(one.why),
    }


def _next_money(one: NextMoney | None, currency: str) -> dict[str, Any] | None:
    if one is None:
        return None
    return {
        "limit": amount(one.limit, currency),
        "gain": rounded(one.gain, 2),
        "costs_more": amount(one.costs, currency),
        "proven": one.proven,
        "changes": [{"role": each.role, "from": each.before, "to": each.after} for each in one.exchanges],
    }


def _way_out(one: WayOut) -> dict[str, Any]:
    return {
        "obstacle": one.obstacle,
        "names": list(one.names),
        "by": [rounded(by) for by in one.by],
        "unit": one.unit,
        "words": one.words,
    }
