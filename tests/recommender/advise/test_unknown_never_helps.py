"""Unknown never helps: over every figure of a centre, of mains and of a room.

With one figure unknown the interval holds the score for every plausible value of it, the likely score is no better than
the middle of those, and what some value would rule out isn't passed without a word.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from statistics import median
from typing import Any

import numpy as np
import pytest
import tomli_w
from sqlalchemy import Engine

from tests.recommender.advise import scenarios
from tests.recommender.advise.plausible import LOUDSPEAKER, MEASURED_PICTURE, NO_FIGURE, ROOM, TOWER, Plausible
from tests.recommender.advise.scenarios import (
    BAY,
    BEHIND,
    ON_SHELF,
    ON_STAND,
    ON_WALL,
    STACKED,
    TOP,
    WIDE,
    fill,
    record,
)
from triptych.catalog.database.candidates import candidate_columns
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.profiles import save_profiles
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import (
    Amplifier,
    Listening,
    LoudspeakerRecord,
    MainsPosition,
    Money,
    Place,
    RoomRecord,
    Screen,
    Seat,
)
from triptych.catalog.stated_records import record_from_texts
from triptych.recommender.advise.advice import Standing
from triptych.recommender.advise.catalogue import loudspeakers_of
from triptych.recommender.advise.match import Question, ask
from triptych.recommender.advise.voices import VoiceBook

pytestmark = [pytest.mark.whole, pytest.mark.slow]

TOLD = 0.05
"""Scores are told to a tenth of a point."""

MIDDLE = 0.35
"""So far above the middle a likely score may lie, as no plausible values are the only ones [points]."""

WHOLE = {"low_limit_drop": "3", "crossover_order": "4", "rear_allowance": "40", "bung": "no", "tax_rate": "20",
         "sensitivity_basis": "anechoic", "power_handling": "120", "family": "Alder Croft Flint"}  # fmt: skip
CENTRE = {**WIDE, **WHOLE, "axis_height": "82.5", "port_diameter": "50"}
THREE_WAY = {**STACKED, **WHOLE, "axis_height": "90", "port_diameter": "50"}
MAINS = {**scenarios.TOWER, **WHOLE}
FULL_ROOM = scenarios.ROOM + TOP + BAY
SCREEN_ROOM = scenarios.SCREEN + BEHIND + ON_SHELF + ON_WALL + ON_STAND
SEATS = {"wide": "1.3 m", "middling": "680 mm", "narrow": "350 mm"}
"""Where the outer seats are: a two-way loses them, hears them poorly, or well."""


def sat(across: str) -> str:
    """The full room with its outer seats elsewhere."""
    return FULL_ROOM.replace("1.3 m", across)


def blank(texts: Mapping[str, str], name: str, told: Plausible) -> dict[str, str]:
    return {**texts, name: "", **dict.fromkeys(told.beside, "")}


def of_centre(name: str, usual: Mapping[str, str]) -> dict[str, str]:
    """A centre in which a figure means something."""
    texts = THREE_WAY if name.startswith("midrange") else usual
    if name == "tweeter_coverage":
        return {**texts, "tweeter_type": "horn", name: "90 x 60"}
    if name == "layout":
        return {**texts, "woofer_count": "", "woofer_spacing": "", "midrange_count": ""}
    if name == "enclosure":
        return {**texts, "port_location": "", "port_diameter": "", "bung": ""}
    return {**texts, "low_limit_drop": ""} if name == "low_limit" else dict(texts)


def with_value(texts: Mapping[str, str], name: str, value: str) -> dict[str, str]:
    if name == "layout" and value != "MTM" and texts["orientation"] == "lying":
        count = "2" if value == "WMTMW" else "1"
        return {**texts, name: value, "midrange_count": count, "midrange_size": "75", "crossover": "400/2400"}
    return {**texts, name: value}


def held(unknown: Standing, told: Sequence[Standing], likely: str = "") -> list[str]:
    """What is wrong with what is said of an unknown, against what is said of each of its values.

    `likely` is why its likely value is fixed.
    """
    left = [one for one in told if one.verdict != "fail"]
    if not left or unknown.verdict == "fail":
        return []
    wrong = ["passes what a value would rule out"] * (len(left) < len(told) and unknown.verdict == "pass")
    scores = [one.score for one in left]
    low, high = unknown.score_low - TOLD, unknown.score_high + TOLD
    wrong += [f"{score:.1f} is outside {low:.1f} to {high:.1f}" for score in scores if not low <= score <= high]
    middle = max(median(scores), (min(scores) + max(scores)) / 2)
    if not likely and unknown.score > middle + MIDDLE:
        wrong.append(f"{unknown.score:.1f} likely, and the middle is {middle:.1f}")
    return wrong


def fill_with_profiles(engine: Engine, *records: LoudspeakerRecord) -> None:
    """Store loudspeakers and what each sounds like far away, so that no question works it out again."""
    fill(engine, *records)
    with reading(engine) as session:
        found = loudspeakers_of(candidate_columns(session))
        book = VoiceBook(session, found)
        book.of(np.arange(len(found.names)))
    with writing(engine) as session:
        save_profiles(session, book.fresh)


def stood(engine: Engine, mains: str, room: RoomRecord, names: list[str]) -> dict[tuple[str, str], Standing]:
    """Each of some centres at each place, as it was designed to stand."""
    with reading(engine) as session:
        account = ask(session, Question(mains, room), names)
        found = {}
        for option in account.options_at(None):
            if account.found[option].pose == "as_designed":
                for one in account.stood(list(range(len(names))), [option] * len(names)):
                    found[one.speaker, one.place] = one
        return found


def test_the_table_names_every_figure_there_is() -> None:
    figures = {entry.name for entry in fields(LoudspeakerRecord)} - {"maker", "model", "roles", "figures"}
    assert set(LOUDSPEAKER) == figures
    parts = {"screen": Screen, "mains": MainsPosition, "seat": Seat, "place": Place, "amplifier": Amplifier,
             "listening": Listening, "money": Money}  # fmt: skip
    of_room = {entry.name for entry in fields(RoomRecord)} - {"name", "seats", "places"}
    assert of_room <= set(parts), "a part of a room that the property doesn't try"
    told = {(part, name) for part, name, _ in (*ROOM, *MEASURED_PICTURE)}
    missing = {
        (part, entry.name)
        for part, record_type in parts.items()
        for entry in fields(record_type)
        if (part, entry.name) not in told and entry.name not in NO_FIGURE
    }
    assert missing == set()


@pytest.mark.parametrize(
    ("usual", "across"), [(CENTRE, one) for one in SEATS] + [(THREE_WAY, "wide")], ids=[*SEATS, "three-way"]
)
def test_of_a_centre(engine: Engine, usual: dict[str, str], across: str) -> None:
    asked: dict[str, tuple[str, list[str]]] = {}
    records: list[LoudspeakerRecord] = []

    def kept(texts: dict[str, str]) -> str:
        made, faults = record_from_texts({**texts, "model": f"number {len(records)}"}, "test")
        assert made is not None, faults
        records.append(made)
        return made.name

    for name, told in LOUDSPEAKER.items():
        base = of_centre(name, usual)
        values = [with_value(base, name, str(value)) for value in told.values if allowed(base, name, str(value))]
        asked[name] = kept(blank(base, name, told)), [kept(texts) for texts in values]
    fill(engine, *records)
    room = room_from_toml(sat(SEATS[across]), "test")
    found = stood(engine, "Alder Croft Flint Tower", room, [one.name for one in records])
    wrong = {
        (name, place): faults
        for name, (unknown, values) in asked.items()
        for place in ("top", "bay")
        if (faults := held(found[unknown, place], [found[value, place] for value in values], LOUDSPEAKER[name].likely))
    }
    assert wrong == {}


def allowed(texts: dict[str, str], name: str, value: str) -> bool:
    """Whether a value agrees with the other figures, of which some can't be told apart from it."""
    return record_from_texts(with_value(texts, name, value), "test")[0] is not None


def test_of_mains(engine: Engine) -> None:
    records = [record(THREE_WAY)]
    asked: dict[str, list[str]] = {}
    for name, told in TOWER.items():
        base = {**MAINS, "woofer_count": "", "midrange_count": "", "woofer_spacing": ""} if name == "layout" else MAINS
        values = [with_value(base, name, str(value)) for value in told.values if allowed(base, name, str(value))]
        for texts in [blank(base, name, told), *values]:
            records.append(record(texts, model=f"tower {len(records)}"))
            asked.setdefault(name, []).append(records[-1].name)
    fill_with_profiles(engine, *records)
    room, centre = room_from_toml(FULL_ROOM, "test"), records[0].name
    wrong = {}
    for name, mains in asked.items():
        unknown, *told_ones = [stood(engine, one, room, [centre]) for one in mains]
        for key, one in unknown.items():
            if faults := held(one, [told_one[key] for told_one in told_ones]):
                wrong[name, key[1]] = faults
    assert wrong == {}


@pytest.mark.parametrize(("text", "figures"), [(FULL_ROOM, ROOM), (SCREEN_ROOM, MEASURED_PICTURE)])
def test_of_a_room(engine: Engine, text: str, figures: dict[tuple[str, str, int], Plausible]) -> None:
    rear = record(THREE_WAY, model="Rear", port_location="rear")
    heavy = record(THREE_WAY, model="Heavy", impedance_nominal="4", impedance_minimum="3.2")
    fill_with_profiles(engine, record(MAINS), record(THREE_WAY), rear, heavy)
    names = ["Alder Croft Flint Stacked", rear.name, heavy.name]
    wrong = {}
    for (part, key, number), told in figures.items():
        rooms = [
            changed(text, part, number, change) for change in (without(key), *(put(key, one) for one in told.values))
        ]
        unknown, *values = [stood(engine, "Alder Croft Flint Tower", room, names) for room in rooms]
        for spot, one in unknown.items():
            if faults := held(one, [value[spot] for value in values]):
                wrong[part, key, number, spot] = faults
    assert wrong == {}


def changed(text: str, part: str, number: int, change: Callable[[dict[str, Any]], None]) -> RoomRecord:
    """A room with a change in one of its parts."""
    room = tomllib.loads(text)
    change(room[part][number] if isinstance(room[part], list) else room[part])
    return room_from_toml(tomli_w.dumps(room), "test")


def without(key: str) -> Callable[[dict[str, Any]], None]:
    return lambda part: part.pop(key, None) and None


def put(key: str, value: object) -> Callable[[dict[str, Any]], None]:
    return lambda part: part.update({key: value})
