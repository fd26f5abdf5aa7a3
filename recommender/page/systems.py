"""The whole system for a sum: asked for as a form, worked on with progress, told as `budget plan` tells it."""

from __future__ import annotations

from typing import Any, Final

from starlette.responses import Response

from triptych.catalog.errors import BadInput, CatalogError
from triptych.catalog.money import currency as code_of
from triptych.catalog.money import in_words, read_amount
from triptych.catalog.money import money as told_money
from triptych.catalog.numbers import whole
from triptych.recommender.advise.planning.plan_answer import PlanAnswer
from triptych.recommender.advise.planning.told import takes_of
from triptych.recommender.api import DEFAULT_RULES, chosen_system
from triptych.recommender.givens import refusals
from triptych.recommender.page.asked import Visit, room_as_asked
from triptych.recommender.page.at_work import Jobs
from triptych.recommender.page.purse import (
    CHOSEN_ROLES,
    CHOSEN_TOO,
    budget_table,
    in_form,
    known_rules,
    purse_in,
    rules_named,
    wished,
)
from triptych.recommender.page.rendering import moved, shown

LONGEST_PLAN: Final = 600
"""The most seconds that a plan may be given."""

_jobs: Final[Jobs[PlanAnswer]] = Jobs()


def begin(asked: Visit) -> Response:
    """Begin to choose a system."""
    try:
        name = _begun(asked)
    except CatalogError as problem:
        rules, wish = known_rules(asked), wished(asked)
        return shown(
            "plan_refused.html.j2", asked, 422, step="money", problem=in_form(str(problem)), rule_sets=rules, wish=wish
        )
    return moved(asked.link("/plan", job=name))


def _begun(asked: Visit) -> str:
    want = {role: asked.word(f"want.{role}") for role, _ in CHOSEN_ROLES}
    want |= {role: text for role, _ in CHOSEN_TOO if (text := asked.word(f"want.{role}"))}
    numbers = {role: int(text) for role, text in want.items() if text.isdecimal() and len(text) < 7}
    numbers = {role: number for role, number in numbers.items() if number or role in dict(CHOSEN_TOO)}
    if bad := next((text for text in want.values() if text and not text.isdecimal()), ""):
        raise BadInput(f"how many is {bad[:40]!r}: a whole number is wanted")
    runs = {role: text for role, _ in CHOSEN_ROLES if (text := asked.word(f"run.{role}"))}
    table: dict[str, Any] = {**budget_table(purse_in(asked.form)), "want": numbers, "runs": runs}
    table = {key: value for key, value in table.items() if key not in ("line", "runs") or value}
    rule_set = rules_named(asked, asked.word("rules") or DEFAULT_RULES)
    room = room_as_asked(asked) if asked.word("room") else None
    seconds = _seconds(asked.word("seconds"))
    catalogue, in_stock = asked.catalogue, asked.word("in_stock") == "yes"

    def work(say: Any) -> PlanAnswer:
        with refusals():
            return chosen_system(catalogue, table, room, rule_set, in_stock=in_stock, time_limit=seconds, say=say)

    return _jobs.begin(_sum(asked.word("limit"), asked.word("currency")), work)


def _sum(limit: str, currency: str) -> str:
    """What may be spent, as the catalogue writes it; as it was typed where that can't be read."""
    try:
        return in_words(read_amount(limit).value, code_of(currency))
    except BadInput:
        return f"{limit} {currency}"


def _seconds(text: str) -> float:
    if not text:
        return 60.0
    try:
        return float(whole(text, 1, LONGEST_PLAN))
    except BadInput as problem:
        raise BadInput(f"at most so many seconds: {problem}") from None


def plan(asked: Visit) -> Response:
    """A system that is being chosen, or was."""
    job = _jobs.named(asked.word("job"))
    values: dict[str, Any] = {
        "job": job, "name": asked.word("job"), "over": job.over.is_set(), "answer": job.result,
        **(_answer(job.result) if job.result else {}),
    }  # fmt: skip
    if asked.fragment:
        return shown("plan_part.html.j2", asked, **values)
    return shown("plan.html.j2", asked, step="money", **values)


def stop(asked: Visit) -> Response:
    """Stop choosing at the next step."""
    _jobs.named(asked.word("job")).halt.set()
    return moved(asked.link("/plan", job=asked.word("job")))


def _answer(answer: PlanAnswer) -> dict[str, Any]:
    currency = answer.currency
    return {
        "limit": told_money(answer.limit, currency),
        "systems": [
            {
                "rank": one.rank,
                "total": told_money(one.total, currency),
                "left": told_money(one.left, currency),
                "worth": f"{one.value:.1f} of {sum(answer.weights.values()):.0f}",
                "loses": f"{one.loses:.2f}",
                "instead": one.instead,
                "missing": one.check.missing,
                "picks": [
                    {
                        "role": pick.role,
                        "named": pick.named,
                        "cost": takes_of(pick, one) or told_money(pick.cost, currency),
                        "worth": f"{pick.worth:.1f} of {pick.most:.0f}",
                        "place": pick.place,
                        "why": pick.why,
                        "score": "" if pick.score is None else f"{pick.score:.0f}",
                    }
                    for pick in one.picks
                ],
                "equipment": [
                    (piece.role, piece.named, piece.serves or "all", told_money(piece.cost, currency))
                    for piece in one.equipment
                ],
                "rules": [(r.rule.name, r.rule.kind.value, r.judged, r.holds, r.why) for r in one.check.results],
            }
            for one in answer.systems
        ],
        "order": [
            (one.role, one.item, told_money(one.cost, currency), told_money(one.together, currency), one.plays)
            for one in answer.order
        ],
        "lacks": [in_form(words) for words in answer.lacks],
        "not_judged": [in_form(words) for words in answer.not_judged],
        "ways_out": [one.words for one in answer.ways_out],
        "left_out": [(one.role, len(one.speakers), in_form(one.reason)) for one in answer.left_out],
    }
