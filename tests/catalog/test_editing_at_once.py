"""Two people at one loudspeaker or one room: neither overwrites what the other has changed."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from tests.catalog.stock_shop import CENTRE
from triptych.catalog.database import reads, writes
from triptych.catalog.database.engine import writing
from triptych.catalog.database.renaming import rename_loudspeaker
from triptych.catalog.files.room_edits import edited_room
from triptych.catalog.records import RoomRecord, Seat

EDITS = 6

PERSON = """
import sys
from triptych.catalog.cli import speaker
column, first, count = sys.argv[1:]
for value in range(int(first), int(first) + int(count)):
    try:
        speaker.app(["edit", "oatfell linden centre", "--set", f"{column}={value}"])
    except SystemExit as end:
        assert end.code == 0, end.code
"""

Pause = Callable[[], object]


@pytest.mark.processes
def test_edits_of_two_processes_all_stand(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [CENTRE])
    url = engine.url.render_as_string(hide_password=False)
    environment = os.environ | {"TRIPTYCH_DB": url, "PYTHONPATH": str(Path(".package").resolve())}
    people = [
        subprocess.Popen(
            [sys.executable, "-c", PERSON, column, first, str(EDITS)], env=environment, stderr=subprocess.PIPE
        )
        for column, first in (("weight", "10"), ("depth", "200"))
    ]
    for person in people:
        _, said = person.communicate(timeout=120)
        assert person.returncode == 0, said
    with writing(engine) as session:
        item = reads.stored(session, CENTRE.name)
    assert item.revision == 1 + 2 * EDITS
    assert (item.record.weight, item.record.depth) == (10.0 + EDITS - 1, (200 + EDITS - 1) / 1000)


def _beside(engine: sa.Engine, first: Callable[[Session, Pause], None], second: Callable[[Session], object]) -> None:
    """Begin what the second does while the first has read and not yet written."""
    read, go_on = threading.Event(), threading.Event()
    failures: list[BaseException] = []

    def pause() -> None:
        read.set()
        go_on.wait(1)

    def slow() -> None:
        try:
            with writing(engine) as session:
                first(session, pause)
        except BaseException as problem:
            failures.append(problem)

    person = threading.Thread(target=slow)
    person.start()
    assert read.wait(10)
    threading.Timer(0.2, go_on.set).start()
    with writing(engine) as session:
        second(session)
    person.join()
    assert failures == []


@pytest.mark.whole
def test_what_is_held_while_it_is_edited_is_not_overwritten(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [CENTRE])

    def weigh(session: Session, pause: Pause) -> None:
        item = reads.stored(session, CENTRE.name, hold=True)
        pause()
        writes.save_loudspeakers(session, [replace(item.record, weight=12.0)])

    _beside(engine, weigh, lambda session: rename_loudspeaker(session, CENTRE.name, {"model": "Middle"}))
    with writing(engine) as session:
        assert reads.loudspeaker(session, "Oatfell Linden Middle").weight == 12.0


def test_a_room_that_is_edited_twice_at_once_has_both_changes(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_room(session, RoomRecord("Mill", seats=(Seat("middle", 3.0, primary=True),), places=()))

    def edit(session: Session, key: str, text: str, pause: Pause = lambda: None) -> None:
        room = reads.room(session, "Mill", hold=True)
        pause()
        writes.replace_room(session, "Mill", edited_room(room, {key: text}))

    _beside(
        engine,
        lambda session, pause: edit(session, "screen.width", "1.4 m", pause),
        lambda session: edit(session, "amplifier.power", "95"),
    )
    with writing(engine) as session:
        room = reads.room(session, "Mill")
    assert room.screen is not None
    assert room.amplifier is not None
    assert (room.screen.width, room.amplifier.power) == (1.4, 95.0)
