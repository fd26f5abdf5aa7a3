"""The two seed rooms hold to the contract's keys and pose the questions that the demo is there to answer."""

from __future__ import annotations

import csv
import math
import tomllib
from dataclasses import fields
from importlib.resources import files
from typing import Any

import pytest

from triptych.catalog.files.rooms import room_from_toml, toml_of
from triptych.catalog.records import (
    Amplifier,
    Back,
    Hot,
    Listening,
    MainsPosition,
    Money,
    Place,
    PlaceKind,
    Screen,
    Seat,
    WallKind,
)

SEED = files("triptych.seed_data")
ROOMS: dict[str, dict[str, Any]] = {
    name: tomllib.loads((SEED / f"{name}.toml").read_text(encoding="utf-8")) for name in ("mill_house", "sail_loft")
}
LOUDSPEAKERS = {
    f"{row['maker']} {row['series']} {row['model']}": row
    for row in csv.DictReader((SEED / "loudspeakers.csv").read_text(encoding="utf-8").splitlines())
}
SECTIONS = {
    "screen": Screen,
    "mains": MainsPosition,
    "seat": Seat,
    "place": Place,
    "amplifier": Amplifier,
    "listening": Listening,
    "money": Money,
}
EITHER_ROOM = pytest.mark.parametrize("room", ROOMS.values(), ids=ROOMS.keys())


def millimetres(text: str | float) -> float:
    number, unit = str(text).split() if isinstance(text, str) else (str(text), "mm")
    return float(number) * {"mm": 1, "cm": 10, "m": 1000, "in": 25.4}[unit]


def place(room: dict[str, Any], name: str) -> dict[str, Any]:
    return next(entry for entry in room["place"] if entry["name"] == name)


@EITHER_ROOM
def test_a_room_has_the_contracts_sections_and_keys(room: dict[str, Any]) -> None:
    assert set(room) == {"name", *SECTIONS}
    for section, record in SECTIONS.items():
        entries = room[section] if isinstance(room[section], list) else [room[section]]
        allowed = {field.name for field in fields(record)}
        assert all(set(entry) <= allowed for entry in entries), section


@pytest.mark.parametrize("name", ROOMS)
def test_a_room_imports_and_comes_back_the_same(name: str) -> None:
    room = room_from_toml((SEED / f"{name}.toml").read_text(encoding="utf-8"), name)
    assert room.name == ROOMS[name]["name"]
    assert [seat.x * 1000 for seat in room.seats] == pytest.approx([millimetres(s["x"]) for s in ROOMS[name]["seat"]])
    assert room_from_toml(toml_of(room), name) == room


@EITHER_ROOM
def test_words_come_from_the_vocabulary(room: dict[str, Any]) -> None:
    for entry in room["place"]:
        PlaceKind(entry["kind"])
        Back(entry.get("back", "open"))
        WallKind(entry.get("wall", "unknown"))
        Hot(entry.get("hot", "no"))


@EITHER_ROOM
def test_five_seats_one_of_them_primary_and_three_or_four_places(room: dict[str, Any]) -> None:
    assert len(room["seat"]) == 5
    assert [seat.get("primary", False) for seat in room["seat"]].count(True) == 1
    assert 3 <= len(room["place"]) <= 4
    for entries in (room["seat"], room["place"]):
        assert len({entry["name"] for entry in entries}) == len(entries)


@EITHER_ROOM
def test_the_mains_are_in_the_catalogue_and_a_third_can_be_bought(room: dict[str, Any]) -> None:
    mains = LOUDSPEAKERS[room["mains"]["speaker"]]
    assert mains["roles"] == "main"
    assert mains["sold_as"] == "either"
    assert float(mains["price"]) / 2 <= room["money"]["centre"]


def test_between_them_the_rooms_have_every_kind_of_place() -> None:
    assert {entry["kind"] for room in ROOMS.values() for entry in room["place"]} == {kind.value for kind in PlaceKind}


# Mill House


def test_the_outer_seats_are_where_a_wide_two_way_has_lost_its_voices() -> None:
    # First null of two outer drivers, f = c/(2 d sin angle): in the midrange, below the hand-over, at the outermost
    # seat. Kinsler et al., from memory; c = 343.2 m/s.
    wide = LOUDSPEAKERS["Bramble Thatch Trivet Wide Centre"]
    seat = ROOMS["mill_house"]["seat"][-1]
    ahead = millimetres(seat["distance"]) - millimetres(place(ROOMS["mill_house"], "top of the unit")["front"])
    angle = math.atan2(millimetres(seat["x"]), ahead)
    null = 343.2 / (2 * float(wide["woofer_spacing"]) * 1e-3 * math.sin(angle))
    assert 25 < math.degrees(angle) < 40
    assert 500 < null < float(wide["crossover"])


def test_the_stacked_centre_is_too_high_for_the_bay_and_goes_on_top() -> None:
    box = LOUDSPEAKERS["Bramble Thatch Trivet Stacked Centre"]
    height = float(box["height"]) + float(box["feet"])
    assert height > millimetres(place(ROOMS["mill_house"], "media unit bay")["height"]) - 10
    assert height <= millimetres(place(ROOMS["mill_house"], "top of the unit")["height"]) - 10


def test_one_fits_the_top_flat_but_not_at_its_tilt() -> None:
    box, spot = LOUDSPEAKERS["Cobble Mere Pestle Centre"], place(ROOMS["mill_house"], "top of the unit")
    height, depth, feet = (float(box[side]) for side in ("height", "depth", "feet"))
    rise = 1020 - millimetres(spot["base"]) - feet - float(box["axis_height"])
    tilt = math.atan2(rise, 3000 - millimetres(spot["front"]))
    free = millimetres(spot["height"]) - feet - 10
    assert height <= free < height * math.cos(tilt) + depth * math.sin(tilt)


def test_one_port_is_too_near_the_wall_and_one_is_not_told() -> None:
    front = millimetres(place(ROOMS["mill_house"], "top of the unit")["front"])
    rear = LOUDSPEAKERS["Furrow Lantern Mantle Centre"]
    assert (rear["port_location"], rear["bung"]) == ("rear", "no")
    assert front - float(rear["depth"]) < max(100, 2 * float(rear["port_diameter"]))
    untold = LOUDSPEAKERS["Furrow Lantern Mantle Long Centre"]
    assert not untold["port_location"]
    assert front - float(untold["depth"]) < 100


# Sail Loft


def test_a_third_main_stands_behind_the_transparent_screen_at_the_ear() -> None:
    room = ROOMS["sail_loft"]
    mains, spot = LOUDSPEAKERS[room["mains"]["speaker"]], place(room, "floor behind the screen")
    assert room["screen"]["transparent"]
    assert float(mains["height"]) + float(mains["feet"]) < millimetres(spot["height"])
    assert float(mains["depth"]) + 40 < millimetres(spot["depth"])
    primary = next(seat for seat in room["seat"] if seat.get("primary"))
    rise = millimetres(primary["ear_height"]) - float(mains["axis_height"]) - float(mains["feet"])
    assert abs(math.degrees(math.atan2(rise, 3200))) < 5
