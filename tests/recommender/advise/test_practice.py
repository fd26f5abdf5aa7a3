"""A practitioner's answers: who is ranked in which order, who is out or waits and why, and what is advised."""

from __future__ import annotations

import pytest
from sqlalchemy import Engine

from tests.recommender.advise.practice import ASIDE, CASES, MAINS, Case
from tests.recommender.advise.scenarios import ask, fill, ranked, record, ruled_out, standing, waiting
from triptych.catalog.database.models import Grade
from triptych.catalog.stock.desk import Request, receive

pytestmark = pytest.mark.whole


def kept(engine: Engine, case: Case) -> None:
    """What the shop has of each, where the case says it."""
    for centre in case.centres:
        grade = case.stock.get(centre.model)
        if grade and grade != "none":
            receive(engine, Request(centre.name, "shop", 1, grade=Grade(grade)))


@pytest.mark.parametrize(
    "case", [*CASES, *ASIDE], ids=(*(case.name for case in CASES), *(f"aside, {case.name}" for case in ASIDE))
)
def test_a_practitioner_agrees(engine: Engine, case: Case) -> None:
    mains = record({**MAINS, **case.mains})
    fill(engine, mains, *case.centres)
    kept(engine, case)
    answer = ask(engine, *case.places, room=case.room, mains=mains.name, in_stock=bool(case.stock))
    assert tuple(ranked(answer)) == case.order, case.why
    for model, gate in case.out.items():
        assert gate in {reason.gate for reason in ruled_out(answer, model).reasons}, case.why
    for model, gate in case.waits.items():
        assert waiting(answer, model).gate == gate, case.why
    for model, gate in case.on_condition.items():
        judged = {one.gate: one.verdict for one in standing(answer, model).gates}
        assert judged[gate] == "conditional", case.why
    for model, place in case.where.items():
        assert standing(answer, model).place == place, case.why
    kinds = {one.kind for one in answer.advice}
    assert set(case.told) <= kinds, case.why
    assert not set(case.untold) & kinds, case.why
