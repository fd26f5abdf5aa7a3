from __future__ import annotations

from dataclasses import replace
from importlib.resources import files

import pytest
import sqlalchemy as sa

from triptych.catalog.database.as_built import AsBuiltRecord, MeasuredSeat, checks, save_as_built
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.writes import save_room
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import CurveKind, CurveRecord

ROOM = room_from_toml(files("triptych.seed_data").joinpath("mill_house.toml").read_text(encoding="utf-8"), "seed")


def curve(level: float, source: str = "in.txt") -> CurveRecord:
    hertz = tuple(20.0 * 2.0 ** (step / 3) for step in range(30))
    return CurveRecord(CurveKind.IN_ROOM, hertz, tuple(level + step / 7 for step in range(30)), source)


def record(**changed: object) -> AsBuiltRecord:
    seats = (
        MeasuredSeat("middle", curve(70.1), curve(68.0), curve(70.3)),
        MeasuredSeat("far left", curve(70.0), curve(66.0), curve(71.0)),
    )
    whole = AsBuiltRecord(seats, "Bramble Thatch Trivet Wide Centre", "top of the unit", "Trivet Tower", -1.5)
    return replace(whole, **changed)  # type: ignore[arg-type]  # names of its fields


@pytest.fixture
def room(engine: sa.Engine) -> sa.Engine:
    with writing(engine) as session:
        save_room(session, ROOM)
    return engine


def test_what_is_stored_comes_back_to_the_last_bit(room: sa.Engine) -> None:
    with writing(room) as session:
        assert save_as_built(session, "mill HOUSE", record())
    with reading(room) as session:
        (found,) = checks(session, ROOM.name)
    assert found == record()
    assert found.made_at is not None


def test_the_same_again_is_stored_once_and_another_beside_it_newest_first(room: sa.Engine) -> None:
    with writing(room) as session:
        assert save_as_built(session, ROOM.name, record())
        assert not save_as_built(session, ROOM.name, record())
        assert save_as_built(session, ROOM.name, record(trim_set=0.5))
    with reading(room) as session:
        assert [one.trim_set for one in checks(session, ROOM.name)] == [0.5, -1.5]


def test_the_checks_stay_when_the_room_is_surveyed_again(room: sa.Engine) -> None:
    with writing(room) as session:
        save_as_built(session, ROOM.name, record(speaker=None, place=None, mains=None))
        save_room(session, replace(ROOM, seats=ROOM.seats[:1]))
    with reading(room) as session:
        (found,) = checks(session, ROOM.name)
    assert (found.speaker, found.place, found.mains) == (None, None, None)


def test_a_room_that_is_not_there_is_refused_with_the_nearest_name(room: sa.Engine) -> None:
    with writing(room) as session, pytest.raises(NotFound, match="Mill House"):
        save_as_built(session, "Mill Hose", record())


def test_a_check_without_a_seat_is_refused(room: sa.Engine) -> None:
    with writing(room) as session, pytest.raises(BadInput, match="no seat"):
        save_as_built(session, ROOM.name, AsBuiltRecord(()))
