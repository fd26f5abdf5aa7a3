"""A small change of a figure makes a small change of a score: a millimetre, a tenth of a decibel, a euro move no first.

No more than `SMALL`, over the centres that come first and over the room, as long as no gate rules anything out.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

import pytest
import tomli_w
from sqlalchemy import Engine

from tests.recommender.advise.practice import STRANGER, seats_at
from tests.recommender.advise.scenarios import BAY, STACKED, TOP, WIDE, fill, record
from triptych.catalog.database.engine import reading
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import LoudspeakerRecord, RoomRecord
from triptych.recommender.advise.advice import Standing
from triptych.recommender.advise.match import Question, ask
from triptych.recommender.advise.settle import certainty_of
from triptych.recommender.report.reasons import equals

pytestmark = [pytest.mark.whole, pytest.mark.slow]

SMALL: Final = 0.6
"""A score may change so far [points]."""

STEPS: Final = {
    "width": 1e-3, "height": 1e-3, "depth": 1e-3, "feet": 1e-3, "weight": 0.1, "sensitivity": 0.1, "low_limit": 0.5,
    "impedance_nominal": 0.1, "impedance_minimum": 0.1, "tweeter_size": 2e-4, "midrange_size": 1e-3,
    "woofer_size": 1e-3, "woofer_spacing": 1e-3,
}  # fmt: skip
"""What a small change of each figure of a loudspeaker is, in its unit inside."""

OF_THE_ROOM: Final = (
    ("screen", 0, "bottom", "mm"), ("mains", 0, "spacing", "mm"), ("mains", 0, "from_wall", "mm"),
    ("mains", 0, "toe_in", ""), ("seat", 0, "distance", "mm"), ("seat", 0, "ear_height", "mm"),
    ("seat", 1, "x", "mm"), ("seat", 1, "distance", "mm"), ("place", 0, "width", "mm"), ("place", 0, "depth", "mm"),
    ("place", 0, "base", "mm"), ("place", 0, "front", "mm"), ("place", 1, "width", "mm"), ("place", 1, "height", "mm"),
    ("place", 1, "depth", "mm"), ("place", 1, "base", "mm"), ("amplifier", 0, "power", ""),
    ("listening", 0, "target_peak", ""), ("listening", 0, "room_gain", ""),
)  # fmt: skip

CENTRES: Final = (
    record(STACKED, model="Stacked"),
    record(STACKED, model="Stranger", **STRANGER),
    record(WIDE, model="Wide", woofer_spacing="220", crossover="2 kHz"),
)
SEATED: Final = seats_at("-680 mm", "680 mm") + TOP + BAY


def changed_a_little(centre: LoudspeakerRecord) -> Iterator[LoudspeakerRecord]:
    """A centre with each of its figures a little smaller and a little larger."""
    for name, step in STEPS.items():
        if (value := getattr(centre, name)) is not None:
            for way, sign in (("down", -1), ("up", 1)):
                yield replace(
                    centre, model=f"{centre.model} {name.replace('_', ' ')} {way}", **{name: value + sign * step}
                )
    if centre.price is not None:
        yield replace(centre, model=f"{centre.model} dearer", price=centre.price + 1)


def standings(engine: Engine, room: RoomRecord, names: list[str]) -> dict[tuple[str, str], Standing]:
    """Each of some centres at each place, as it was designed to stand."""
    with reading(engine) as session:
        account = ask(session, Question("Alder Croft Flint Tower", room), names)
        return {
            (one.speaker, one.place): one
            for option in account.options_at(None)
            if account.found[option].pose == "as_designed"
            for one in account.stood(list(range(len(names))), [option] * len(names))
        }


def moved(before: Standing, after: Standing) -> float:
    """By how much a score moved where no gate rules it out."""
    return 0.0 if "fail" in (before.verdict, after.verdict) else abs(after.score - before.score)


def test_of_figures_of_centres(engine: Engine) -> None:
    variants = {centre.name: list(changed_a_little(centre)) for centre in CENTRES}
    fill(engine, *CENTRES, *(one for some in variants.values() for one in some))
    names = [*variants, *(one.name for some in variants.values() for one in some)]
    found = standings(engine, room_from_toml(SEATED, "test"), names)
    jumps = {
        (one.name, place): step
        for name, some in variants.items()
        for one in some
        for place in ("top", "bay")
        if (step := moved(found[name, place], found[one.name, place])) > SMALL
    }
    assert sum(len(some) for some in variants.values()) >= 70
    assert jumps == {}


def test_of_keys_of_the_room(engine: Engine) -> None:
    fill(engine, *CENTRES)
    names = [centre.name for centre in CENTRES]
    before = standings(engine, room_from_toml(SEATED, "test"), names)
    jumps = {}
    for part, number, key, unit in OF_THE_ROOM:
        for sign in (-1, 1):
            for spot, after in standings(engine, stirred(part, number, key, unit, sign), names).items():
                if (step := moved(before[spot], after)) > SMALL:
                    jumps[part, number, key, sign, spot] = step
    assert jumps == {}


def test_a_first_that_a_small_change_moves_was_told_to_have_an_equal(engine: Engine) -> None:
    # two strangers of one build, one a little louder and reaching less low: near equals of which either may be first
    near = record(STACKED, model="Near", maker="Cedar Howe", series="Quartz", sensitivity="84.5", low_limit="65.6")
    other = record(STACKED, model="Other", sensitivity="84.4", **STRANGER)
    variants = [(one, changed) for one in (near, other) for changed in changed_a_little(one)]
    fill(engine, near, other, *(changed for _, changed in variants))
    room = room_from_toml(SEATED, "test")
    before = first_and_equals(engine, room, [near.name, other.name])
    moved_first = 0
    for one, changed in variants:
        names = [changed.name if name == one.name else name for name in (near.name, other.name)]
        first, _ = first_and_equals(engine, room, names)
        first = one.name if first == changed.name else first
        if first != before[0]:
            moved_first += 1
            assert first in before[1]
    assert moved_first


def first_and_equals(engine: Engine, room: RoomRecord, names: list[str]) -> tuple[str, list[str]]:
    """Who comes first of some centres, and who is told to be as good."""
    with reading(engine) as session:
        account = ask(session, Question("Alder Croft Flint Tower", room), names)
        account = replace(account, sure=certainty_of(account.scene, account.found, account.result))
        ranked = account.standings(range(len(account.result.ranked))).records()
    return ranked[0].speaker, [one.speaker for one in equals(ranked)]


def stirred(part: str, number: int, key: str, unit: str, sign: int) -> RoomRecord:
    """The room with one of its keys a millimetre, or a tenth, off."""
    room: dict[str, Any] = tomllib.loads(SEATED)
    there = room[part][number] if isinstance(room[part], list) else room[part]
    plain = room_from_toml(SEATED, "test")
    record_of = getattr(plain, f"{part}s" if isinstance(room[part], list) else part)
    value = getattr(record_of[number] if isinstance(room[part], list) else record_of, key)
    there[key] = f"{value * 1e3 + sign:.3f} mm" if unit else value + sign * 0.1
    return room_from_toml(tomli_w.dumps(room), "test")
