"""Clients' cases as a practitioner answers them: who is first and where, what is refused and why, what is said.

An answer that tells the one expected to be as good as the first agrees.
"""

from __future__ import annotations

import pytest
from _pytest.mark import ParameterSet
from sqlalchemy import Engine

from tests.recommender.advise.reasons_held import wrong_reasons
from tests.recommender.advise.scenarios import fill
from tests.recommender.advise.trade_cases import TRADE_CASES, TradeCase
from triptych.catalog.database.engine import reading
from triptych.catalog.database.models import Grade
from triptych.catalog.stock.desk import Request, receive
from triptych.recommender.advise.advice import Advice
from triptych.recommender.advise.match import Question, match
from triptych.recommender.report.reasons import as_good

pytestmark = pytest.mark.whole


def answered(engine: Engine, case: TradeCase) -> Advice:
    """What is advised in a case."""
    fill(engine, case.mains, *case.centres)
    for model, grade in case.stock.items():
        receive(engine, Request(case.full_name(model), "shop", 1, grade=Grade(grade)))
    with reading(engine) as session:
        question = Question(case.mains.name, case.room, in_stock=case.told.get("in_stock", False))
        return match(session, question)[0]


def parameter(case: TradeCase) -> ParameterSet:
    """A case; one that is answered better than its own words is known to disagree with them."""
    words = case.told.get("otherwise")
    marks = [pytest.mark.xfail(reason=words, strict=True)] if words else []
    return pytest.param(case, id=("aside, " if case.aside else "") + case.name, marks=marks)


@pytest.mark.parametrize("case", [parameter(one) for one in TRADE_CASES])
def test_a_practitioner_agrees(engine: Engine, case: TradeCase) -> None:
    answer = answered(engine, case)
    told = case.told
    assert list(wrong_reasons(answer)) == []
    names = [entry.speaker for entry in answer.ranked]
    equals = {one.speaker for one in as_good(answer)}
    if not told["first"] or case.full_name(told["first"]) not in equals:
        assert names[:1] == ([case.full_name(told["first"])] if told["first"] else []), case.why
    assert not {case.full_name(model) for model in told.get("never", ())} & set(names[:1]), case.why
    for better, worse in told.get("before", ()):
        assert not {case.full_name(better), case.full_name(worse)} - set(names), case.why
        assert names.index(case.full_name(better)) < names.index(case.full_name(worse)), case.why
    if names:
        first = answer.ranked[0]
        assert first.place == told.get("place", first.place), case.why
        conditional = {gate.gate for gate in first.gates if gate.verdict != "pass"}
        assert set(told.get("says", ())) <= conditional, case.why
    gates = {one.speaker: {reason.gate for reason in one.reasons} for one in answer.excluded}
    for model, gate in told.get("refused", {}).items():
        assert gate in gates.get(case.full_name(model), set()), case.why
    if "waiting" in told:
        assert {one.gate for one in answer.pending} == {told["waiting"]}, case.why
    kinds = {one.kind for one in answer.advice}
    assert set(told.get("advice", ())) <= kinds, case.why
    assert not set(told.get("not_advice", ())) & kinds, case.why
