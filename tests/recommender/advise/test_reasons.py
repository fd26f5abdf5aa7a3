"""The reasons that are told are those that decide between a centre and the next, and nothing that was not modelled."""

from __future__ import annotations

from math import log

import pytest
from sqlalchemy import Engine

from tests.recommender.advise.scenarios import BEHIND, ROOM, STACKED, TOP, WIDE, account, ask, criterion, fill, record
from triptych.recommender.advise.advice import Standing
from triptych.recommender.report.reasons import rival, strengths, weaknesses

pytestmark = pytest.mark.whole

NO_DRIVERS = {"layout": "", "woofer_size": "", "woofer_count": "", "woofer_spacing": "", "tweeter_size": ""}
NO_DRIVERS |= {"midrange_size": "", "midrange_count": "", "crossover": "", "tweeter_type": ""}


def decides(one: Standing, other: Standing) -> str:
    """The criterion of the largest weighted difference in the logarithm of utility."""
    pairs = zip(one.criteria, other.criteria, strict=True)
    return max(pairs, key=lambda pair: abs(pair[0].weight * log(pair[0].utility / pair[1].utility)))[0].criterion


def test_the_first_reason_is_what_decides_against_the_next(engine: Engine) -> None:
    fill(engine, record(WIDE), record(STACKED))
    answer = ask(engine, TOP, BEHIND, room=ROOM.replace("[mains]", "transparent = true\n[mains]"))
    first, second = answer.ranked[0], answer.ranked[1]
    assert strengths(first, rival(answer, first))[0].startswith(decides(first, second))
    for other in answer.ranked[1:]:
        assert weaknesses(other, rival(answer, other))[0].startswith(decides(other, first))


def test_what_is_equal_in_both_is_no_reason(engine: Engine) -> None:
    fill(engine, record(WIDE), record(STACKED))
    answer = ask(engine, TOP)
    told = [line for entry in answer.ranked for line in (*strengths(entry, rival(answer, entry)),
            *weaknesses(entry, rival(answer, entry)))]  # fmt: skip
    assert told
    assert not any(line.startswith(("surroundings", "balance")) for line in told)


def test_of_twins_the_price_is_the_reason(engine: Engine) -> None:
    fill(engine, *(record(STACKED, model=model, price=price) for model, price in (("A", "500"), ("B", "400"))))
    answer = ask(engine, TOP)
    assert strengths(answer.ranked[0], answer.ranked[1]) == ["price: scores the same as the next, and costs less"]


def test_where_no_model_was_made_no_modelled_figure_is_shown(engine: Engine) -> None:
    fill(engine, record(STACKED, **NO_DRIVERS))
    entry = account(engine, "Alder Croft Flint Stacked", TOP).ranked[0]
    for name in ("coverage", "timbre"):
        told = criterion(entry, name)
        assert told.evidence == "assumed"
        assert "nothing was modelled" in told.why
        assert told.inputs["spread" if name == "coverage" else "direct"] is None
    assert entry.quantities["timbre_rms_db"] is None
