"""The reasons that are told are those that decide between a centre and the next, and nothing that was not modelled."""

from __future__ import annotations

from dataclasses import replace
from math import log
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import Engine

from tests.benchmarks.bench_calibration import AT_ONCE, case, stored
from tests.recommender.advise.reasons_held import wrong_reasons
from tests.recommender.advise.scenarios import BEHIND, ROOM, STACKED, TOP, WIDE, account, ask, criterion, fill, record
from triptych.catalog.database import reads
from triptych.catalog.database.address import as_url
from triptych.catalog.database.engine import open_engine, reading
from triptych.catalog.records import Role
from triptych.recommender.advise.advice import Standing
from triptych.recommender.advise.match import Question, match
from triptych.recommender.report.reasons import as_good, as_good_words, limits, rival, sides, strengths, weaknesses

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


def test_of_equal_scores_what_orders_them_comes_before_the_figures(engine: Engine) -> None:
    fill(engine, *(record(STACKED, model=model, price=price) for model, price in (("A", "500"), ("B", "400"))))
    second = ask(engine, TOP).ranked[1]
    assert weaknesses(second, ask(engine, TOP).ranked[0])[0] == "price: scores the same as the first, and costs more"


def test_a_seat_that_loses_speech_is_told_before_any_figure(engine: Engine) -> None:
    fill(engine, record(WIDE), record(STACKED, maker="Birch Holm", series="Quartz", price="690", sensitivity="84"))
    answer = ask(engine, TOP)
    first, second = answer.ranked[0], answer.ranked[1]
    assert second.dead_seat
    told = "seats: speech is whole, or nearly, at each regular seat; of the next it is not, or may not be (speech is "
    assert strengths(first, second)[0].startswith(told)
    assert weaknesses(second, first)[0].startswith(("seats: speech is lost at", "seats: speech is hollow at"))


def test_what_puts_it_behind_is_told_once_and_its_question_stays(engine: Engine) -> None:
    fill(engine, record(WIDE), record(STACKED, maker="Birch Holm", series="Quartz", price="690", sensitivity="84"))
    first, second = ask(engine, TOP).ranked[:2]
    by_seat = next(gate for gate in second.gates if gate.gate == "seats")
    asks = replace(by_seat, question="Where do they sit?")
    second = replace(second, gates=(asks, *(gate for gate in second.gates if gate is not by_seat)))
    told = weaknesses(second, first)
    assert sum(by_seat.why in line for line in told) == 1
    assert "seats: Where do they sit?" in told
    # as likely as not ruled out: it scores more here, and no seat of it is lost
    dips = (replace(asks, margin=0.0), *second.gates[1:])
    near = replace(second, gates=dips, score=first.score + 1)
    told = weaknesses(near, first)
    assert told[0].startswith("conditions: as likely as not one rules it out (")
    assert sum(by_seat.why in line for line in told) == 1
    assert sum("Where do they sit?" in line for line in told) == 1


def test_of_one_alone_its_figures_speak_against_nobody(engine: Engine) -> None:
    fill(engine, record(STACKED))
    answer = ask(engine, TOP)
    only = answer.ranked[0]
    assert rival(answer, only) is None
    assert strengths(only, None) == weaknesses(only, None) == []
    told = dict(sides(answer, only))
    assert list(told) == ["What limits it most"]
    costs = sorted(only.criteria, key=lambda one: one.weight * log(one.utility))
    assert [line.split(" ")[0] for line in told["What limits it most"]] == [one.criterion for one in costs[:2]]
    assert not any(word in line for line in told["What limits it most"] for word in ("the next", "the first"))


def test_what_takes_nothing_of_the_score_limits_nothing(engine: Engine) -> None:
    fill(engine, record(STACKED))
    only = ask(engine, TOP).ranked[0]
    perfect = replace(only, criteria=tuple(replace(one, utility=1.0) for one in only.criteria))
    assert limits(perfect, None) == []


@pytest.mark.slow
def test_reasons_in_the_rooms_of_the_seed(seeded_template: Path) -> None:
    opened = open_engine(as_url(str(seeded_template)))
    with reading(opened) as session:
        mains = [one.name for one in reads.loudspeakers(session) if Role.MAIN in one.roles]
        asked = [(name, reads.room(session, room)) for room in reads.rooms(session) for name in mains[::3]]
        wrong = [(name, *wrong_reasons(match(session, Question(name, room))[0])) for name, room in asked]
    opened.dispose()
    assert len(asked) >= 10
    assert [told for told in wrong if len(told) > 1] == []


@pytest.mark.slow
def test_reasons_in_random_catalogues(engine: Engine) -> None:
    chance = np.random.default_rng(7)
    cases = [case(chance, number) for number in range(AT_ONCE // 4)]
    fill(engine, *(stored(texts, "told") for one in cases for _, texts in (one.mains, *one.centres)))
    wrong = []
    with reading(engine) as session:
        for one in cases:
            answer = match(session, Question(stored(one.mains[1], "told").name, one.room))[0]
            assert len(answer.ranked) >= 10
            wrong += list(wrong_reasons(answer))
    assert wrong == []


def test_near_equals_are_told_as_such(engine: Engine) -> None:
    # the same box of two strangers of which nobody knows how they are voiced: either may sound more like the mains
    fill(engine, *(record(STACKED, model="A", maker=maker, series="Quartz") for maker in ("Birch Holm", "Cedar Howe")))
    answer = ask(engine, TOP)
    assert [one.speaker for one in as_good(answer)] == [answer.ranked[1].speaker]
    assert as_good_words(answer).startswith(f"As good as the first, for all that is known: {answer.ranked[1].speaker}")


def test_what_scores_the_same_is_told_however_often_the_first_is_first(engine: Engine) -> None:
    fill(engine, *(record(STACKED, model="A", maker=maker, series="Quartz") for maker in ("Birch Holm", "Cedar Howe")))
    answer = ask(engine, TOP)
    first, second = answer.ranked[0], answer.ranked[1]
    assert first.chances is not None
    for lead, named in ((0.5, 1), (0.7, 0)):
        ahead = replace(first, score=second.score + lead, chances=replace(first.chances, first=0.8))
        assert len(as_good(replace(answer, ranked=(ahead, second)))) == named


def test_what_is_clearly_ahead_has_no_equal(engine: Engine) -> None:
    fill(engine, record(STACKED), record(STACKED, model="Far", maker="Birch Holm", series="Quartz", low_limit="140"))
    answer = ask(engine, TOP)
    assert len(answer.ranked) == 2
    assert as_good(answer) == ()
    assert as_good_words(answer) == ""


def test_where_no_model_was_made_no_modelled_figure_is_shown(engine: Engine) -> None:
    fill(engine, record(STACKED, **NO_DRIVERS))
    entry = account(engine, "Alder Croft Flint Stacked", TOP).ranked[0]
    for name in ("coverage", "timbre"):
        told = criterion(entry, name)
        assert told.evidence == "assumed"
        assert "nothing was modelled" in told.why
        assert told.inputs["spread" if name == "coverage" else "direct"] is None
    assert entry.quantities["timbre_rms_db"] is None
