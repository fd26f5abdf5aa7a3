"""A check and its mend in the form of the contract; the only place here where money is rounded."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from triptych.catalog.money import round_up, to_amount
from triptych.recommender.money.budget.check import Check, RuleResult, Share
from triptych.recommender.money.budget.mend import Mend


def as_json(check: Check, mend: Mend) -> dict[str, Any]:
    """A check as JSON: amounts in the budget's currency, shares from 0 to 1."""
    budget = check.budget
    return {
        "verdict": check.verdict.value,
        "rule_set": check.rule_set.name,
        "currency": budget.currency,
        "tax_included": budget.tax_included,
        "total": _amount(budget.total, check),
        "limit": _amount(budget.limit, check),
        "over": _amount(check.over, check),
        "denominators": {name: _amount(total, check) for name, total in check.denominators.items()},
        "shares": [_share(share, check) for share in check.shares],
        "rules": [_result(result, check) for result in check.results],
        "missing": list(check.missing),
        "advised": list(check.advised),
        "mend": [{"change": change.words, "by": _amount(change.by, check)} for change in mend.changes],
        "mend_outcome": mend.outcome.value,
        "mend_words": mend.words,
        "mend_limit": None if mend.limit is None else _amount(mend.limit, check),
        "mend_proven": mend.proven,
        "cautions": list(check.cautions),
    }


def _amount(minor: int | Fraction, check: Check) -> float:
    return float(to_amount(minor, check.budget.currency))


def _share(share: Share, check: Check) -> dict[str, Any]:
    return {
        "role": share.role,
        "amount": _amount(share.amount, check),
        "of_audio_total": _part(share.of_audio_total),
        "of_speakers_and_sub": _part(share.of_speakers_and_sub),
    }


def _part(part: Fraction | None) -> float | None:
    return None if part is None else round(float(part), 6)


def _result(result: RuleResult, check: Check) -> dict[str, Any]:
    return {
        "rule": result.rule.name,
        "kind": result.rule.kind.value,
        "holds": result.holds,
        "judged": result.judged,
        "have": _amount(result.have, check),
        "need": _amount(result.need, check),
        "short": _amount(round_up(result.short), check),
        "why": result.why,
    }
