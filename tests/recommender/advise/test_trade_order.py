"""Cases that a practitioner would decide at once: the order was written down before any of them was run.

Expected by trade practice: a dip up to 2 dB at a seat is fine, to 4 fair, to 6 poor, beyond that it rejects the centre
for a regular seat; voices from one family or one kind of tweeter match; a crossover above 120 Hz can be located; price
is no measure of sound. Common practice, no source, unless a case says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from sqlalchemy import Engine

from tests.recommender.advise.scenarios import BAY, BEHIND, ROOM, STACKED, TOP, TOWER, WIDE, ask, fill, ranked, record
from triptych.catalog.records import LoudspeakerRecord
from triptych.recommender.advise.beside import YIELDS
from triptych.recommender.report.reasons import nobody, order_words, steps, weaknesses

STRANGER = {"maker": "Birch Holm", "series": "Quartz"}

SEAT = "[[seat]]\nname = {name!r}\nx = {x!r}\ndistance = '3.0 m'\near_height = '1.02 m'\n"


def seats_at(*across: str) -> str:
    """The plain room with its side seats elsewhere, or without any."""
    head, rest = ROOM.split('[[seat]]\nname = "left end"', 1)
    tail = rest.split("[amplifier]", 1)[1]
    sides = "".join(SEAT.format(name=f"at {x}", x=x) for x in across)
    return head + sides + "[amplifier]" + tail


NARROW, MIDDLING = seats_at("-350 mm", "350 mm"), seats_at("-680 mm", "680 mm")
"""Side seats at 8 and at 15 degrees from a baffle that stands 450 mm off the wall."""

ALONE = seats_at()
RICH = ROOM.replace("centre = 700", "centre = 5000")


def stacked(model: str, **changed: str) -> LoudspeakerRecord:
    """A three-way centre with its tweeter over its midrange, of the mains' family."""
    return record(STACKED, model=model, **changed)


def wide(model: str, **changed: str) -> LoudspeakerRecord:
    """A lying two-way centre, of the mains' family."""
    return record(WIDE, model=model, **changed)


COAXIAL = {"layout": "W(TM)W", "width": "540", "height": "175"}
CLOSE = {"woofer_size": "100", "woofer_spacing": "200", "crossover": "1.8 kHz", "width": "400"}
FAR_APART = {"woofer_size": "165", "woofer_spacing": "320", "crossover": "2.8 kHz", "width": "540", "height": "190"}
SMALL = {"layout": "TM", "orientation": "upright", "width": "165", "height": "250", "depth": "200",
         "axis_height": "190", "woofer_spacing": "", "woofer_count": "1", "woofer_size": "130"}  # fmt: skip
NOTHING_OF_DRIVERS = {"layout": "", "woofer_count": "", "woofer_size": "", "woofer_spacing": "", "crossover": "",
                      "midrange_count": "", "midrange_size": ""}  # fmt: skip
HORN = {"tweeter_type": "horn", "tweeter_coverage": "90 x 60"}


@dataclass(frozen=True)
class Case:
    """What is to be chosen from, where, and in which order a practitioner puts it; what isn't named is ruled out."""

    name: str
    centres: tuple[LoudspeakerRecord, ...]
    order: tuple[str, ...]
    room: str = ROOM
    place: str = TOP
    mains: tuple[tuple[str, str], ...] = ()


CASES = (
    Case("stacked before wide where seats are wide", (wide("A"), stacked("B")), ("B", "A")),
    Case("a clean stranger before kin that is silent at the ends", (wide("A"), stacked("B", **STRANGER)), ("B", "A")),
    Case("a coaxial stranger before kin that is silent at the ends",
         (wide("A"), stacked("B", **STRANGER, **COAXIAL)), ("B", "A")),
    Case("kin before a stranger of the same build", (stacked("B", **STRANGER), stacked("A")), ("A", "B")),
    Case("family before the maker's other series", (stacked("B", series="Ochre"), stacked("A")), ("A", "B")),
    Case("kin that dips little before a stranger, narrow seats",
         (wide("A", **CLOSE), stacked("B", **STRANGER)), ("A", "B"), NARROW),
    Case("one listener hears no side: kin first", (stacked("B", **STRANGER), wide("A")), ("A", "B"), ALONE),
    Case("a close pair crossed low before a wide pair crossed high, 15 degrees",
         (wide("A", **FAR_APART), wide("B", **CLOSE, **STRANGER)), ("B", "A"), MIDDLING),
    Case("of two that are silent at the ends kin is first",
         (wide("B", **FAR_APART, **STRANGER), wide("A", **FAR_APART)), ("A", "B")),
    Case("a small two-way before a lying one that is silent at the ends",
         (wide("A", **FAR_APART), record(WIDE, model="B", **SMALL, **STRANGER)), ("B", "A")),
    Case("the cheaper of two twins", (stacked("B", price="600"), stacked("A", price="590")), ("A", "B")),
    Case("up to one main's price the dearer kin stays first",
         (stacked("B", **STRANGER, price="200"), stacked("A", price="600")), ("A", "B")),
    Case("three times the price of a main for the same sound",
         (stacked("B", price="1800"), stacked("A", price="600")), ("A", "B"), RICH),
    Case("a stranger that reaches 80 Hz before kin that needs 195 Hz",
         (stacked("B", low_limit="150"), stacked("A", **STRANGER)), ("A", "B")),
    Case("of two of a kind the one that plays lower",
         (stacked("B", low_limit="100"), stacked("A", low_limit="60")), ("A", "B")),
    Case("of two of a kind the louder", (stacked("B", sensitivity="84"), stacked("A", sensitivity="88")), ("A", "B")),
    Case("short of the target it is no choice", (stacked("B", sensitivity="79"), stacked("A", **STRANGER)), ("A",)),
    Case("below the amplifier's load it is no choice",
         (stacked("B", impedance_nominal="4", impedance_minimum="3.2"), stacked("A", **STRANGER)), ("A",)),
    Case("a rear port in a closed bay is no choice",
         (stacked("B", port_location="rear"), stacked("A", **STRANGER)), ("A",), ROOM, BAY),
    Case("a horn beside horns before a dome",
         (stacked("B", **STRANGER), stacked("A", maker="Cedar Howe", series="", **HORN)), ("A", "B"), ALONE, TOP,
         (*HORN.items(), ("crossover", "400/1800"))),
    Case("a dome beside domes before a horn",
         (stacked("B", **STRANGER, **HORN), stacked("A", maker="Cedar Howe", series="")), ("A", "B")),
    Case("described before the same with its drivers left blank",
         (stacked("B", **NOTHING_OF_DRIVERS), stacked("A")), ("A", "B")),
    Case("blanks hide no silent seat: a clean stranger is first",
         (wide("B", **NOTHING_OF_DRIVERS), stacked("A", **STRANGER)), ("A", "B")),
    Case("mains of which nothing is known: the centre without silent seats",
         (wide("B", **FAR_APART, maker="Cedar Howe"), stacked("A", **STRANGER)), ("A", "B"), ROOM, TOP,
         (*NOTHING_OF_DRIVERS.items(), ("maker", "Heirloom"), ("series", ""), ("family", ""))),
    Case("a maker that nobody knows makes no kin",
         (wide("B", **FAR_APART, maker="Unbranded", series=""), stacked("A", **STRANGER)), ("A", "B"), ROOM, TOP,
         (("maker", "unbranded"), ("series", ""), ("family", ""))),
    Case("a third main behind a screen before any centre",
         (stacked("B", depth="290"),), ("Tower", "B"), ROOM.replace("bottom", "transparent = true\nbottom"), BEHIND),
)  # fmt: skip


@pytest.mark.whole
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_practitioner_agrees(engine: Engine, case: Case) -> None:
    mains = record({**TOWER, **dict(case.mains)})
    fill(engine, mains, *case.centres)
    assert tuple(ranked(ask(engine, case.place, room=case.room, mains=mains.name))) == case.order


@pytest.mark.whole
def test_what_can_hardly_be_had_comes_after_its_near_equal_and_is_told_why(engine: Engine) -> None:
    """A discontinued model costs less, so it scores a little more than its current twin, which is the one to buy."""
    rich = RICH.replace("centre = 5000", "centre = 700")
    fill(engine, stacked("Old", status="discontinued", price="600"), stacked("New", price="630"))
    answer = ask(engine, TOP, room=rich)
    new, old = answer.ranked[0], answer.ranked[1]
    assert [one.speaker.split()[-1] for one in (new, old)] == ["New", "Old"]
    assert new.score < old.score < new.score + YIELDS
    assert any("as likely as not" in line for line in order_words(answer, answer.ranked))
    assert weaknesses(old, new)[0].startswith("conditions: as likely as not one rules it out (supply: discontinued")
    # where it is better by more than that it is the one to look for
    fill(engine, stacked("New", price="630", maker="Birch Holm", series="Quartz"))
    best = next(one.speaker for one in ask(engine, TOP, room=rich).ranked if one.speaker.split()[-1] != "New")
    assert best.endswith("Old")


@pytest.mark.whole
def test_a_first_that_comes_first_less_often_than_another_says_why(engine: Engine) -> None:
    fill(engine, stacked("Old", status="discontinued"), stacked("New", **STRANGER))
    answer = ask(engine, TOP)
    first, second = answer.ranked[0], answer.ranked[1]
    assert first.speaker.endswith("Old")
    assert first.chances is not None
    assert second.chances is not None
    told = [line for line in order_words(answer, answer.ranked) if "comes first more often" in line]
    assert bool(told) == (second.chances.first > first.chances.first + 0.05)


def test_nobody_is_told_to_buy_what_loses_the_speech_of_a_regular_seat(engine: Engine) -> None:
    fill(engine, wide("Only", **FAR_APART))
    answer = ask(engine, TOP)
    (only,) = [one for one in answer.ranked if one.speaker.endswith("Only")]
    assert only.dead_seat
    assert only.hopeless.startswith("speech is ")
    assert answer.advice[0].kind == "none"
    assert "None of these is to be bought for this room" in answer.advice[0].why
    assert steps(only)[0].startswith("Don’t buy it")
    assert nobody(answer).startswith("The only one that fits")
