"""The gate of seats: speech that dips at a regular seat."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from sqlalchemy import Engine

from tests.recommender import scenes
from tests.recommender.advise.scenarios import ROOM, STACKED, TOP, WIDE, account, ask, fill, ranked, record, standing
from triptych.recommender.advise.advice import GateAnswer, Standing
from triptych.recommender.judge.gates.speech import DEAD_DIP, FAIR_DIP, LOST_DIP, dead_seat, seats
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.physics import erb


def seats_of(entry: Standing) -> GateAnswer:
    return next(gate for gate in entry.gates if gate.gate == "seats")


def test_the_gate_by_hand() -> None:
    # middle, side and an occasional seat; up to 4 dB is fair, to 6 poor, beyond it the seat is lost (common practice)
    listeners = replace(scenes.seats((0.0, 1.3, 2.0)), regular=np.array([True, True, False]))
    levels = np.zeros((4, 3, erb.BANDS))
    levels[:, 1, 10] = -3.9, -4.1, -6.1, -40.0
    levels[:, 2, 12] = -30.0
    # the last band lies above 6 kHz, where no speech is judged
    levels[:, 1, -1] = -50.0
    usable = np.array([True, True, True, False])
    across = np.array([[0.0, 25.0, 38.0]] * 4)
    heard = SimpleNamespace(levels=levels, sound=SimpleNamespace(usable=usable), around=~np.ones(4, dtype=bool),
                            spacing=SimpleNamespace(across=across))  # fmt: skip
    gate = seats(heard, np.arange(4), 5, listeners)  # type: ignore[arg-type]  # as much of `Heard` as the gate looks at
    assert [Verdict(code).word for code in gate.verdict] == ["pass", *["conditional"] * 3, "pass"]
    assert dead_seat(gate).tolist() == [False, False, True, True, False]
    assert gate.margin[:3] == pytest.approx([0.1, -0.1, -2.1])
    assert gate.why(2) == f"speech is hollow at seat 1: -6.1 dB against the axis at {erb.bands()[10]:.0f} Hz"
    assert gate.question(3)


@pytest.mark.whole
def test_the_seat_that_loses_speech_is_named_with_depth_and_frequency(engine: Engine) -> None:
    # trade practice, from its own model: 0.28 m and 2.4 kHz lose 14 dB at 20 deg and all at 25 deg; smoothed less
    fill(engine, record(WIDE), record(STACKED))
    answer = ask(engine, TOP)
    lost, whole = seats_of(standing(answer, "Wide")), seats_of(standing(answer, "Stacked"))
    assert lost.verdict == "conditional"
    assert whole.verdict == "pass"
    assert "left end" in lost.why or "right end" in lost.why
    assert lost.margin is not None
    assert lost.margin < FAIR_DIP - DEAD_DIP
    assert lost.margin < FAIR_DIP - LOST_DIP
    assert "over 15 dB" in lost.why
    assert " Hz" in lost.why
    told = next(one for one in standing(answer, "Wide").criteria if one.criterion == "coverage")
    assert told.inputs["dip"] is not None
    assert lost.margin - FAIR_DIP <= told.inputs["dip"] + 1e-6


@pytest.mark.whole
def test_an_occasional_seat_is_not_judged(engine: Engine) -> None:
    fill(engine, record(WIDE))
    occasional = ROOM.replace('x = "-1.3 m"', 'x = "-1.3 m"\nregular = false')
    occasional = occasional.replace('x = "1.3 m"', 'x = "1.3 m"\nregular = false')
    assert seats_of(standing(ask(engine, TOP, room=occasional), "Wide")).verdict == "pass"


@pytest.mark.whole
def test_beyond_6_db_kin_comes_after_a_stranger_that_is_worse_in_all_else(engine: Engine) -> None:
    poor = {"maker": "Birch Holm", "series": "Quartz", "low_limit": "105", "sensitivity": "83.5", "price": "690"}
    fill(engine, record(WIDE), record(STACKED, **poor))
    answer = ask(engine, TOP)
    assert ranked(answer) == ["Stacked", "Wide"]
    assert answer.ranked[1].dead_seat
    assert not answer.ranked[0].dead_seat


@pytest.mark.whole
def test_a_place_in_which_no_seat_is_dead_is_taken_before_one_that_scores_more(engine: Engine) -> None:
    # on a stand a lying box may stand upright: then its pair lies one over the other
    stand = "[[place]]\nname = 'stand'\nkind = 'stand'\nbase = '300 mm'\nfront = '450 mm'\n"
    fill(engine, record(WIDE, family="Own"))
    best = standing(ask(engine, TOP, stand), "Wide")
    assert (best.place, best.pose, best.dead_seat) == ("stand", "on_end", False)
    told = account(engine, "Alder Croft Flint Wide", TOP, stand)
    assert [entry.dead_seat for entry in told.ranked] == sorted(entry.dead_seat for entry in told.ranked)
