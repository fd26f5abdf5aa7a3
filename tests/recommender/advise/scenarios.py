"""Small catalogues and rooms for tests of the main job, in the words of the contract."""

from __future__ import annotations

from sqlalchemy import Engine

from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.writes import save_loudspeakers
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stated_records import record_from_texts
from triptych.recommender.advise.advice import Advice, CriterionAnswer, RuledOut, Standing, Waiting
from triptych.recommender.advise.match import Question, explain, match

TOWER = {
    "maker": "Alder Croft", "series": "Flint", "model": "Tower", "roles": "main", "orientation": "upright",
    "width": "200", "height": "980", "depth": "300", "feet": "10", "weight": "18 kg", "enclosure": "ported",
    "port_location": "rear",
    "port_diameter": "60", "sensitivity": "88", "impedance_nominal": "8", "impedance_minimum": "6.4",
    "low_limit": "45",
    "low_limit_drop": "3", "tweeter_type": "dome", "tweeter_size": "25", "axis_height": "900", "midrange_size": "100",
    "midrange_count": "1", "woofer_size": "150", "woofer_count": "2", "layout": "TMWW", "woofer_spacing": "170",
    "crossover": "400/2800", "price": "1200", "currency": "EUR", "price_per": "pair", "tax": "included",
    "sold_as": "either", "status": "current",
}  # fmt: skip

WIDE = {
    **TOWER, "model": "Wide", "roles": "centre", "orientation": "lying", "width": "480", "height": "165",
    "depth": "270", "feet": "5", "weight": "9 kg", "port_location": "front", "axis_height": "", "midrange_size": "",
    "midrange_count": "", "woofer_size": "130", "layout": "MTM", "woofer_spacing": "280", "crossover": "2.4 kHz",
    "low_limit": "60",
    "price": "600", "price_per": "each", "sold_as": "single",
}  # fmt: skip

STACKED = {
    **WIDE, "model": "Stacked", "width": "560", "height": "180", "layout": "W(T/M)W", "woofer_spacing": "390",
    "midrange_size": "100", "midrange_count": "1", "crossover": "400/2800",
}  # fmt: skip

ROOM = """
name = "Plain room"
[screen]
diagonal = "65 in"
aspect = "16:9"
bottom = "820 mm"
[mains]
speaker = "Alder Croft Flint Tower"
spacing = "2.6 m"
from_wall = "450 mm"
toe_in = 12
[[seat]]
name = "middle"
distance = "3.0 m"
ear_height = "1.02 m"
primary = true
[[seat]]
name = "left end"
x = "-1.3 m"
distance = "3.0 m"
ear_height = "1.02 m"
[[seat]]
name = "right end"
x = "1.3 m"
distance = "3.0 m"
ear_height = "1.02 m"
[amplifier]
power = 95
into = 8
lowest_load = 6
trim_range = 12
[listening]
target_peak = 95
room_gain = 3
[money]
centre = 700
currency = "EUR"
"""

TOP = """
[[place]]
name = "top"
kind = "top"
width = "1.6 m"
depth = "450 mm"
base = "520 mm"
front = "450 mm"
load = "60 kg"
"""

BAY = """
[[place]]
name = "bay"
kind = "cavity"
width = "700 mm"
height = "260 mm"
depth = "400 mm"
base = "340 mm"
front = "450 mm"
back = "closed"
load = "60 kg"
"""

BEHIND = """
[[place]]
name = "behind"
kind = "behind_screen"
base = "0 mm"
front = "600 mm"
gap = "150 mm"
load = "60 kg"
"""


SCREEN = """
name = "Screen room"
[screen]
width = "2.2 m"
height = "1.25 m"
bottom = "620 mm"
transparent = true
""" + ROOM[ROOM.index("[mains]") :]

ON_SHELF = """
[[place]]
name = "shelf"
kind = "open_shelf"
width = "1 m"
height = "260 mm"
depth = "400 mm"
base = "300 mm"
front = "450 mm"
back = "open"
load = "60 kg"
"""

ON_WALL = """
[[place]]
name = "wall"
kind = "wall"
base = "350 mm"
wall = "masonry"
load = "60 kg"
"""

ON_STAND = """
[[place]]
name = "stand"
kind = "stand"
base = "300 mm"
front = "700 mm"
depth = "350 mm"
load = "60 kg"
"""


def record(texts: dict[str, str], **changed: str) -> LoudspeakerRecord:
    """A loudspeaker from cells."""
    made, faults = record_from_texts({**texts, **changed}, "test")
    assert made is not None, faults
    return made


def fill(engine: Engine, *records: LoudspeakerRecord) -> None:
    """Store the tower and some others."""
    named = {made.name: made for made in (record(TOWER), *records)}
    with writing(engine) as session:
        save_loudspeakers(session, list(named.values()))


def ask(engine: Engine, *places: str, room: str = ROOM, **question: object) -> Advice:
    """The advice for the plain room with some places."""
    surveyed = room_from_toml(room + "".join(places), "test")
    with reading(engine) as session:
        answer, _ = match(session, Question(room=surveyed, **{"mains": "Alder Croft Flint Tower"} | question))  # type: ignore[arg-type]  # keywords of Question, checked at run time
    return answer


def account(engine: Engine, centre: str, *places: str, room: str = ROOM) -> Advice:
    """What explain says of one centre."""
    surveyed = room_from_toml(room + "".join(places), "test")
    with reading(engine) as session:
        answer, _ = explain(session, Question("Alder Croft Flint Tower", surveyed), centre)
    return answer


def ranked(answer: Advice) -> list[str]:
    """The last word of each ranked name, in order."""
    return [entry.speaker.split()[-1] for entry in answer.ranked]


def standing(answer: Advice, model: str) -> Standing:
    """The ranked entry of a model."""
    return next(entry for entry in answer.ranked if entry.speaker.endswith(model))


def criterion(entry: Standing, name: str) -> CriterionAnswer:
    """One criterion of an entry."""
    return next(one for one in entry.criteria if one.criterion == name)


def waiting(answer: Advice, model: str) -> Waiting:
    """The pending entry of a model."""
    return next(entry for entry in answer.pending if entry.speaker.endswith(model))


def ruled_out(answer: Advice, model: str) -> RuledOut:
    """The excluded entry of a model."""
    return next(entry for entry in answer.excluded if entry.speaker.endswith(model))
