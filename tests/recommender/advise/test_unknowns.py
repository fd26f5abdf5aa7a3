"""Every figure left out, one at a time: nothing vanishes without a reason, and only what matters is asked."""

from __future__ import annotations

import pytest
from sqlalchemy import Engine

from tests.recommender.advise.scenarios import (
    BAY,
    ROOM,
    STACKED,
    TOP,
    WIDE,
    ask,
    fill,
    ranked,
    record,
    standing,
    waiting,
)
from triptych.catalog.errors import BadInput
from triptych.recommender.advise.advice import Advice

pytestmark = pytest.mark.whole

BARE = {"maker": "Alder Croft", "series": "Flint", "model": "Bare", "roles": "centre"}


def whole(answer: Advice) -> Advice:
    """An answer in which each loudspeaker is somewhere, with a reason, a question or a score."""
    assert all(entry.reasons for entry in answer.excluded)
    assert all(entry.question and 0 < entry.score_if_passed <= 100 for entry in answer.pending)
    assert all(0 < entry.score <= 100 for entry in answer.ranked)
    return answer


@pytest.mark.parametrize("missing", sorted(set(STACKED) - {"maker", "model", "roles", "series"}))
def test_no_missing_figure_makes_a_loudspeaker_vanish(engine: Engine, missing: str) -> None:
    with_it = {"currency": ("price",), "low_limit": ("low_limit_drop",)}.get(missing, ())
    fill(engine, record(STACKED, **dict.fromkeys((missing, *with_it), "")))
    answer = whole(ask(engine, TOP, BAY))
    assert not any(entry.speaker.endswith("Stacked") for entry in answer.excluded)


def test_a_row_with_a_name_alone_waits(engine: Engine) -> None:
    fill(engine, record(BARE))
    assert waiting(whole(ask(engine, TOP)), "Bare").questions


def test_a_place_of_unknown_height_asks(engine: Engine) -> None:
    fill(engine, record(WIDE))
    assert waiting(whole(ask(engine, TOP.replace('base = "520 mm"', ""))), "Wide").gate == "tilt"


@pytest.mark.parametrize(
    ("room", "place", "lacking", "asked"),
    [
        (ROOM.replace('ear_height = "1.02 m"\nprimary = true', "primary = true"), TOP, "the height of the ear", "ear?"),
        (ROOM, TOP.replace('front = "450 mm"', ""), "how far the place's front edge is from the wall", "front wall?"),
    ],
)
def test_an_ear_or_a_front_edge_that_nobody_measured_is_assumed_told_and_asked(
    engine: Engine, room: str, place: str, lacking: str, asked: str
) -> None:
    fill(engine, record(STACKED))
    answer, known = whole(ask(engine, place, room=room)), whole(ask(engine, TOP))
    one, whole_one = standing(answer, "Stacked"), standing(known, "Stacked")
    assert one.score_low - 0.5 <= whole_one.score <= one.score_high
    assert one.score <= whole_one.score + 0.5
    assert one.confidence < whole_one.confidence
    tilt = next(gate for gate in one.gates if gate.gate == "tilt")
    assert (tilt.verdict, lacking in tilt.why) == ("conditional", True)
    question = next(one for one in answer.questions if one.unknown == "ear")
    assert question.question.endswith(asked)
    assert not any(one.unknown == "ear" for one in known.questions)


def test_another_ear_that_nobody_measured_is_a_caution(engine: Engine) -> None:
    fill(engine, record(WIDE))
    left = 'x = "-1.3 m"\ndistance = "3.0 m"\n'
    room = ROOM.replace(left + 'ear_height = "1.02 m"\n', left)
    answer = ask(engine, TOP, room=room)
    assert ranked(answer) == ["Wide"]
    assert any("left end" in caution for caution in answer.cautions)


@pytest.mark.parametrize("section", ["[screen]", "[amplifier]", "[listening]", "[money]"])
def test_a_room_without_a_section_still_ranks(engine: Engine, section: str) -> None:
    fill(engine, record(STACKED))
    head, _, rest = ROOM.partition(section)
    lines = rest.split("\n[", 1)
    room = head + ("[" + lines[1] if len(lines) > 1 else "")
    assert ranked(whole(ask(engine, TOP, room=room))) == ["Stacked"]


def test_a_bay_without_depth_isnt_measured(engine: Engine) -> None:
    fill(engine, record(WIDE))
    assert waiting(ask(engine, BAY.replace('depth = "400 mm"', "")), "Wide").gate == "envelope"


def test_a_seat_before_the_mains_is_told_in_one_line(engine: Engine) -> None:
    fill(engine, record(WIDE))
    with pytest.raises(BadInput, match="measure both from the front wall"):
        ask(engine, TOP, room=ROOM.replace('distance = "3.0 m"', 'distance = "0.4 m"', 1))


def test_a_seat_before_a_baffle_that_stands_out_is_told_in_one_line(engine: Engine) -> None:
    fill(engine, record(WIDE))
    near = ROOM.replace('distance = "3.0 m"', 'distance = "0.7 m"', 1)
    assert ask(engine, TOP, room=near)
    with pytest.raises(BadInput, match="top 650 mm: measure both from the front wall"):
        ask(engine, TOP.replace('front = "450 mm"', 'front = "450 mm"\nsetback = "-200 mm"'), room=near)


@pytest.mark.parametrize(
    "screen",
    [
        'width = "1439 mm"\naspect = "16:9"',
        'height = "809 mm"\naspect = "16:9"',
        'width = "1439 mm"\ndiagonal = "65 in"',
        'width = "1439 mm"\nheight = "809 mm"',
    ],
)
def test_a_shelf_over_the_picture_is_clear_of_it_however_it_is_measured(engine: Engine, screen: str) -> None:
    fill(engine, record(WIDE))
    room = ROOM.replace('diagonal = "65 in"\naspect = "16:9"', screen)
    shelf = TOP.replace('base = "520 mm"', 'base = "1.70 m"')
    sight = next(gate for gate in standing(ask(engine, shelf, room=room), "Wide").gates if gate.gate == "sight")
    assert sight.verdict == "pass"


def test_a_picture_of_unknown_height_is_asked_about_only_above_its_edge(engine: Engine) -> None:
    fill(engine, record(WIDE))
    room = ROOM.replace('diagonal = "65 in"\naspect = "16:9"\n', "")
    assert ranked(ask(engine, TOP, room=room)) == ["Wide"]
    assert waiting(ask(engine, TOP.replace('base = "520 mm"', 'base = "1.70 m"'), room=room), "Wide").gate == "sight"


def test_yen_have_no_hundredths(engine: Engine) -> None:
    fill(engine, record(WIDE, price="90000", currency="JPY"))
    room = ROOM.replace("centre = 700", "centre = 60000").replace("EUR", "JPY")
    answer = ask(engine, TOP, room=room)
    assert "money" in {reason.gate for entry in answer.excluded for reason in entry.reasons if "Wide" in entry.speaker}


def test_another_currency_is_no_ratio(engine: Engine) -> None:
    fill(engine, record(WIDE, currency="GBP"))
    room = ROOM.partition("[money]")[0]
    entry = waiting(ask(engine, TOP, room=room, budget=900.0), "Wide")
    assert entry.gate == "money"


def test_a_low_minimum_is_heard_even_where_the_amplifiers_limit_isnt_known(engine: Engine) -> None:
    fill(engine, record(WIDE, impedance_minimum="3"))
    entry = standing(ask(engine, TOP, room=ROOM.replace("lowest_load = 6\n", "")), "Wide")
    told = next(gate for gate in entry.gates if gate.gate == "amplifier")
    assert told.verdict == "conditional"
    assert "3.0 ohm" in told.why


def test_more_money_is_counted_with_its_tax(engine: Engine) -> None:
    fill(engine, record(STACKED, price="650", tax="excluded", tax_rate="20"), record(WIDE))
    told = [piece.why for piece in ask(engine, TOP).advice if piece.kind == "raise_budget"]
    assert told
    assert "80.00" in told[0]


def test_more_money_isnt_advised_where_another_answer_is_missing(engine: Engine) -> None:
    fill(engine, record(STACKED, price="900", impedance_nominal="", impedance_minimum=""), record(WIDE))
    assert not any(piece.kind == "raise_budget" for piece in ask(engine, TOP).advice)


def test_of_equals_the_one_that_can_be_had_comes_first(engine: Engine) -> None:
    gone = {**STACKED, "model": "Gone", "status": "discontinued"}
    fill(engine, record(gone), record(STACKED))
    assert ranked(ask(engine, TOP))[:2] == ["Stacked", "Gone"]


def test_what_else_is_in_the_catalogue_changes_nothing_about_one(engine: Engine) -> None:
    wall = '\n[[place]]\nname = "wall"\nkind = "wall"\nbase = "600 mm"\nload = "60 kg"\nwall = "masonry"\n'
    fill(engine, record(WIDE))
    alone = standing(ask(engine, wall), "Wide")
    deep = [record({**STACKED, "model": f"Deep {number}"}, depth="520") for number in range(5)]
    fill(engine, *deep)
    crowded = standing(ask(engine, wall), "Wide")
    assert (crowded.score, crowded.seats) == (alone.score, alone.seats)
