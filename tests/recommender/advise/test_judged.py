"""Cases that practitioners judged before any answer was given: who is first, out or waits, and what must be said."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.recommender.advise.judged_cases import CASES, JudgedCase, faults
from tests.recommender.advise.reasons_held import wrong_reasons
from tests.recommender.advise.scenarios import fill
from triptych.catalog.database.engine import open_catalogue, reading
from triptych.recommender.advise.advice import Advice
from triptych.recommender.advise.match import Question, match

SETS = tuple(dict.fromkeys(case.told["set"] for case in CASES))


def answered(case: JudgedCase, address: Path) -> Advice:
    engine = open_catalogue(str(address))
    fill(engine, *case.offered)
    with reading(engine) as session:
        answer, _ = match(session, Question(case.told["mains"], case.room))
    engine.dispose()
    return answer


@pytest.mark.whole
@pytest.mark.slow
@pytest.mark.parametrize("who", SETS)
def test_a_practitioner_who_judged_first_agrees(who: str, tmp_path: Path) -> None:
    differ: dict[str, list[str]] = {}
    argued: dict[str, list[str]] = {}
    for number, case in enumerate(one for one in CASES if one.told["set"] == who):
        answer = answered(case, tmp_path / f"{number}.db")
        told = [*faults(case.told, answer), *wrong_reasons(answer)]
        differ |= {case.told["name"]: told} if told else {}
        argued |= {case.told["name"]: list(case.otherwise)} if case.otherwise else {}
    assert differ == argued


@pytest.mark.parametrize("who", SETS)
def test_every_judged_case_says_what_must_come_of_it(who: str) -> None:
    wants = {"first", "excluded", "out", "pending", "pend", "pend_or_excl", "none_ranked", "not_first", "advice"}
    for case in (one for one in CASES if one.told["set"] == who):
        assert wants & set(case.told), case.told["name"]
        assert case.told["mains"] in {one.name for one in case.offered}
