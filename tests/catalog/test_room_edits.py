from __future__ import annotations

import pytest
import sqlalchemy as sa

from triptych.catalog.database import reads, writes
from triptych.catalog.database.as_built import AsBuiltRecord, MeasuredSeat, checks, save_as_built
from triptych.catalog.database.engine import writing
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.files.room_edits import edited_room
from triptych.catalog.records import (
    CurveKind,
    CurveRecord,
    Hot,
    MainsPosition,
    Place,
    PlaceKind,
    RoomRecord,
    Screen,
    Seat,
)

ROOM = RoomRecord(
    "Mill House",
    seats=(Seat("middle", 3.0, primary=True), Seat("by the window. left", 3.1, x=1.2)),
    places=(Place("bay", PlaceKind.CAVITY, width=0.64),),
    screen=Screen(width=1.4, height=0.8),
)


def test_keys_change_where_they_stand() -> None:
    changes = {
        "name": "Old Mill",
        "screen.bottom": "82 cm",
        "seat.MIDDLE.ear_height": "1.02 m",
        "seat.by the window. left.regular": "no",
        "place.bay.width": "",
        "place.bay.hot": "unknown",
        "mains.speaker": "Oatfell Linden Tower",
    }
    room = edited_room(ROOM, changes)
    assert (room.name, room.screen) == ("Old Mill", Screen(width=1.4, height=0.8, bottom=0.82))
    assert room.seats == (
        Seat("middle", 3.0, primary=True, ear_height=1.02),
        Seat("by the window. left", 3.1, x=1.2, regular=False),
    )
    assert room.places == (Place("bay", PlaceKind.CAVITY, hot=Hot.UNKNOWN),)
    assert room.mains == MainsPosition(speaker="Oatfell Linden Tower")


def test_parts_come_and_go() -> None:
    added = edited_room(ROOM, {"place.shelf.kind": "top", "seat.end.distance": "2 m"}, ["place.shelf", "seat.end"])
    assert added.places[1] == Place("shelf", PlaceKind.TOP)
    assert added.seats[2] == Seat("end", 2.0)
    assert edited_room(added, {}, removed=["place.SHELF", "seat.end"]) == ROOM
    assert edited_room(ROOM, {}, removed=["screen"]).screen is None


@pytest.mark.parametrize(
    ("changes", "added", "removed", "told"),
    [
        ({"screen.botom": "1 m"}, [], [], "botom: is no key of screen; did you mean 'bottom'"),
        ({"scren.bottom": "1 m"}, [], [], "'scren' is no section of a room; did you mean 'screen'"),
        ({"seat.midle.x": "1 m"}, [], [], "no seat is named 'midle'; did you mean 'middle'"),
        ({"seat.x": "1 m"}, [], [], "write seat, its name and a key"),
        ({"seat.middle.distance": ""}, [], [], "distance: is not there; it is required"),
        ({"seat.middle.distance": "far"}, [], [], "'far' is no quantity"),
        ({}, ["place.shelf"], [], "kind: is not there; it is required"),
        ({"seat.MIDDLE.distance": "2 m"}, ["seat.MIDDLE"], [], "2 are called 'middle'"),
        ({}, ["screen"], [], "a seat or a place can be added"),
        ({}, [], ["seat.middle"], None),
        ({}, [], ["seat.middle", "seat.by the window. left"], "there is none; describe at least one"),
        ({}, [], ["amplifier"], r"has no \[amplifier\]"),
        ({}, [], ["screen.width"], "a section goes whole"),
    ],
)
def test_what_cannot_be_is_refused(
    changes: dict[str, str], added: list[str], removed: list[str], told: str | None
) -> None:
    if told is None:
        assert [seat.name for seat in edited_room(ROOM, changes, added, removed).seats] == ["by the window. left"]
        return
    with pytest.raises(BadInput, match=told):
        edited_room(ROOM, changes, added, removed)


def _measured() -> AsBuiltRecord:
    curve = CurveRecord(CurveKind.IN_ROOM, (100.0, 1000.0), (80.0, 81.0), "m.txt")
    return AsBuiltRecord((MeasuredSeat("middle", curve, curve, curve),))


def test_a_room_keeps_what_was_measured_under_a_new_name(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_room(session, ROOM)
        save_as_built(session, "Mill House", _measured())
        assert writes.replace_room(session, "mill house", edited_room(ROOM, {"name": "Old Mill"})).changed
        assert reads.rooms(session) == ["Old Mill"]
        assert len(checks(session, "Old Mill")) == 1


def test_no_two_rooms_come_to_have_one_name(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_room(session, ROOM)
        writes.save_room(session, edited_room(ROOM, {"name": "Loft"}))
        with pytest.raises(BadInput, match="another room is named 'LOFT'"):
            writes.replace_room(session, "Mill House", edited_room(ROOM, {"name": "LOFT"}))


def test_a_room_goes_unless_something_was_measured_in_it(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_room(session, ROOM)
        save_as_built(session, "Mill House", _measured())
        with pytest.raises(Refused, match="for a check after installing tell"):
            writes.remove_room(session, "Mill House")
        assert writes.remove_room(session, "MILL house", measured=True) == "Mill House"
        assert reads.rooms(session) == []
        with pytest.raises(NotFound):
            writes.remove_room(session, "Mill House")
