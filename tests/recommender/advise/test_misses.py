"""Answers that were missed: a phantom for a weak best, a second pair, a bung, the question to answer first."""

from __future__ import annotations

import pytest
from sqlalchemy import Engine

from tests.recommender.advise.scenarios import (
    BAY,
    ROOM,
    STACKED,
    TOP,
    TOWER,
    WIDE,
    account,
    ask,
    criterion,
    fill,
    record,
    ruled_out,
)
from triptych.catalog.database.models import Grade
from triptych.catalog.stock.desk import Request, receive

pytestmark = pytest.mark.whole

SEATS = ROOM.split("[[seat]]")
ALONE = "[[seat]]".join([SEATS[0], next(seat for seat in SEATS[1:] if "primary" in seat)])
ONE_SEAT = ALONE.split("[amplifier]")[0] + "[amplifier]" + ROOM.split("[amplifier]")[1]


def kinds(engine: Engine, *places: str, room: str = ONE_SEAT) -> set[str]:
    return {piece.kind for piece in ask(engine, *places, room=room).advice}


def test_a_phantom_hangs_on_weakness_on_the_axis_and_not_on_price_or_score(engine: Engine) -> None:
    open_room = ONE_SEAT.replace("centre = 700\n", "")
    fill(engine, record(WIDE, price="3000", family="Own"))
    assert "phantom" not in kinds(engine, TOP, room=open_room)
    fill(engine, record(WIDE, price="300", low_limit="140", low_limit_drop="3"))
    assert "phantom" in kinds(engine, TOP, room=open_room)


def test_a_bung_that_the_gate_asks_for_is_in_for_the_score_too(engine: Engine) -> None:
    fill(engine, record(WIDE, port_location="rear", bung="yes"))
    plugged = criterion(account(engine, "Alder Croft Flint Wide", BAY).ranked[0], "surroundings")
    fill(engine, record(WIDE, enclosure="sealed", port_location="none", port_diameter="", bung=""))
    sealed = criterion(account(engine, "Alder Croft Flint Wide", BAY).ranked[0], "surroundings")
    fill(engine, record(WIDE, port_location="rear", bung="no"))
    unplugged = criterion(account(engine, "Alder Croft Flint Wide", BAY).ranked[0], "surroundings")
    assert plugged.value == sealed.value < unplugged.value


@pytest.mark.parametrize(("changed", "room", "quantity"), [
    ({"port_location": "rear", "bung": "yes"}, ROOM, "crossover_hz"),
    ({"low_limit_drop": "10"}, ROOM, "crossover_hz"),
    ({"sensitivity_basis": "in_room"}, ROOM, "peak_level_db"),
    ({"sensitivity_basis": "in_room"}, ROOM, "trim_db"),
    ({}, ROOM.replace('from_wall = "450 mm"', ""), "trim_db"),
])  # fmt: skip
def test_what_rests_on_an_assumption_is_not_called_stated(
    engine: Engine, changed: dict[str, str], room: str, quantity: str
) -> None:
    def evidence(of: str, **cells: str) -> str:
        fill(engine, record(WIDE, **cells))
        entry = account(engine, "Alder Croft Flint Wide", BAY, room=of).ranked[0]
        return next(one.evidence for one in entry.derivations if one.quantity == quantity)

    assert evidence(ROOM) == "stated"
    assert evidence(room, **changed) == "assumed"


def test_what_a_bung_makes_of_the_lower_end_is_told_as_assumed(engine: Engine) -> None:
    fill(engine, record(WIDE, port_location="rear", bung="yes"))
    plugged = criterion(account(engine, "Alder Croft Flint Wide", BAY).ranked[0], "reach")
    assert plugged.evidence == "assumed"
    assert "with its bung in, F3 is 1.6 times its own (assumed)" in plugged.why
    fill(engine, record(WIDE))
    assert criterion(account(engine, "Alder Croft Flint Wide", BAY).ranked[0], "reach").evidence == "stated"


def test_a_third_main_sold_in_pairs_only_is_told_where_it_would_stand_free(engine: Engine) -> None:
    fill(engine, record({**TOWER, "sold_as": "pair"}), record(WIDE))
    high = ROOM.replace('bottom = "820 mm"', 'bottom = "1300 mm"')
    stand = TOP.replace('kind = "top"', 'kind = "stand"').replace('base = "520 mm"', 'base = "0 mm"')
    stand = stand.replace('front = "450 mm"', 'front = "700 mm"').replace('depth = "450 mm"', 'depth = "700 mm"')
    told = [piece.why for piece in ask(engine, stand, room=high).advice if piece.kind == "third_main"]
    assert any("buy a second pair" in why for why in told)


def test_no_second_pair_is_advised_for_a_main_that_fits_on_its_side_only(engine: Engine) -> None:
    small = {
        **TOWER, "height": "340", "width": "190", "weight": "7 kg", "axis_height": "250", "midrange_size": "",
        "midrange_count": "", "woofer_count": "1", "woofer_spacing": "", "layout": "TM", "crossover": "2.4 kHz",
        "roles": "main;centre", "sold_as": "pair",
    }  # fmt: skip
    fill(engine, record(small), record(WIDE))
    answer = ask(engine, TOP)
    gates = {(one.pose, one.gate) for one in ruled_out(answer, "Tower").reasons}
    assert ("as_designed", "sight") in gates
    assert {gate for pose, gate in gates if pose == "on_side"} == {"supply"}
    assert "third_main" not in {piece.kind for piece in answer.advice}


def test_where_all_wait_the_question_that_admits_most_is_told(engine: Engine) -> None:
    hot = TOP + 'hot = "yes"\n'
    fill(engine, record(WIDE), record({**WIDE, "model": "Other"}))
    (none,) = [piece.why for piece in ask(engine, hot).advice if piece.kind == "none"]
    assert "2 of 2" in none
    assert "How warm does it get there" in none


def test_a_question_about_the_room_is_told_once(engine: Engine) -> None:
    fill(engine, record(WIDE), record({**WIDE, "model": "Other"}), record(STACKED, impedance_nominal=""))
    questions = ask(engine, TOP + 'hot = "yes"\n').questions
    (heat,) = [one for one in questions if "How warm" in one.question]
    assert (heat.about, heat.speaker) == ("room", None)
    groups = [("mains", "room", "candidate").index(one.about) for one in questions]
    assert groups == sorted(groups)


def test_a_free_unit_of_another_grade_is_told_where_none_is_new(engine: Engine) -> None:
    fill(engine, record(WIDE), record(STACKED))
    receive(engine, Request("Alder Croft Flint Wide", "shop", 2, grade=Grade.OPEN_BOX))
    answer = ask(engine, TOP, in_stock=True)
    told = [reason.why for reason in ruled_out(answer, "Wide").reasons if reason.gate == "supply"]
    assert told
    assert all("2 open box free at 'shop', no price stated; new: no new one in stock" in why for why in told)


def test_a_bung_that_the_port_gate_asks_for_takes_from_how_low_it_plays(engine: Engine) -> None:
    # a ported box of fourth order that is plugged is a closed one of Q 0.60, 1.9 times as high; a higher Q less
    fill(engine, record(STACKED, port_location="rear", port_diameter="50", bung="yes"))
    in_bay, free = (
        next(one for one in account(engine, "Alder Croft Flint Stacked", place).ranked if one.pose == "as_designed")
        for place in (BAY, TOP.replace("450 mm", "900 mm"))
    )
    assert criterion(in_bay, "reach").value == pytest.approx(1.3 * 1.6 * 60.0)
    assert criterion(in_bay, "reach").high == pytest.approx(1.3 * 1.9 * 60.0)
    assert criterion(free, "reach").value == 80.0


def test_only_what_is_missing_is_asked_and_once(engine: Engine) -> None:
    no_base = BAY.replace('base = "340 mm"\n', "")
    fill(engine, record(STACKED, depth=""), record(WIDE, width="", height=""))
    for place in (BAY, no_base):
        answer = ask(engine, place)
        asked = {entry.speaker.split()[-1]: " ".join(entry.questions) for entry in answer.pending}
        assert "depth" in asked["Stacked"]
        assert "width" not in asked["Stacked"]
        assert "height" not in asked["Stacked"].replace("high above", "")
        assert "width and height" in asked["Wide"]
        assert "depth" not in asked["Wide"]
        assert all(question.count("How high above the floor") <= 1 for question in asked.values())
        assert ("is the place?" in asked["Stacked"]) == (place is no_base)
        assert "ear" not in asked["Stacked"].replace("Near", "")


def test_a_stated_sensitivity_is_no_question_and_a_slope_alone_is_one(engine: Engine) -> None:
    rival = {**STACKED, "maker": "Hazel Yard", "series": "Flint", "family": "Alder Croft Flint"}
    told = {"sensitivity_basis": "anechoic"}
    fill(engine, record(STACKED, **told), record(rival, **told, crossover_order=""))
    questions = ask(engine, TOP, room=ROOM.replace("target_peak = 95", "target_peak = 99")).questions
    assert not any("sensitivity" in one.question for one in questions)
    assert all("sizes" not in one.question for one in questions if one.unknown == "drivers")


def test_what_a_room_adds_is_one_for_all_so_unsaid_it_puts_no_horn_before_kin(engine: Engine) -> None:
    """Just loud enough at 0 dB, and plenty at 2 to 4: what is unknown of the room is no lack of the nearest match."""
    room = ROOM.replace("-1.3 m", "-0.4 m").replace("1.3 m", "0.4 m").replace("target_peak = 95", "target_peak = 97.5")
    horn = {"maker": "Birch Holm", "series": "Quartz", "tweeter_type": "horn", "tweeter_coverage": "90 x 60"}
    fill(engine, record(STACKED), record(STACKED, model="Horn", sensitivity="96", price="550", **horn))
    bare = room.replace("room_gain = 3\n", "")
    assert bare != room
    first = {gain: ask(engine, TOP, room=room.replace("room_gain = 3", f"room_gain = {gain}")) for gain in (0, 2, 3, 4)}
    assert [one.ranked[0].speaker.split()[-1] for one in first.values()] == ["Horn", "Stacked", "Stacked", "Stacked"]
    unsaid = ask(engine, TOP, room=bare).ranked[0]
    assert unsaid.speaker.endswith("Stacked")
    told = [one.ranked[-1 if gain == 0 else 0] for gain, one in first.items()]
    assert unsaid.score <= (told[0].score + told[-1].score) / 2
    assert "the middle of what a room may add, 0 to 4 dB" in criterion(unsaid, "headroom").why


def test_who_is_explained_alone_is_told_of_itself(engine: Engine) -> None:
    """Of what else the catalogue has nothing was looked at, so nothing is said of it."""
    fill(engine, record(WIDE, port_location="rear", bung="no", price="100"))
    words = " ".join(piece.why for piece in account(engine, "Alder Croft Flint Wide", BAY).advice)
    assert "It passes nowhere in this room" in words
    assert "no loudspeaker" not in words
    words = " ".join(piece.why for piece in account(engine, "Alder Croft Flint Wide", TOP, room=ONE_SEAT).advice)
    assert "nothing dearer" not in words
    assert "No centre at all" not in words


def test_mains_whose_tweeters_nobody_measured_are_judged_near_what_they_may_be(engine: Engine) -> None:
    """Stand-mounted mains have no height of their own: what they are told is no better than the middle, and near it."""
    low = {"height": "330", "axis_height": "250", "width": "190", "depth": "260", "layout": "TM", "woofer_count": "1"}
    small = {**low, "midrange_size": "", "midrange_count": "", "woofer_spacing": "", "crossover": "2.4 kHz"}
    fill(engine, record(TOWER, **small), record(STACKED))
    heights = ("0.75 m", "0.85 m", "0.92 m", "1 m", "1.1 m")
    rooms = [ROOM.replace("toe_in = 12", f'toe_in = 12\naxis_height = "{height}"') for height in heights]
    scores = [ask(engine, TOP, room=room).ranked[0].score for room in rooms]
    unsaid = ask(engine, TOP).ranked[0]
    assert min(scores) - 3 < unsaid.score <= (min(scores) + max(scores)) / 2
    assert unsaid.score_low <= min(scores)
    assert max(scores) <= unsaid.score_high
