"""A unit by its serial: where it is, where it was, and for whom."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Movement, MovementKind, Reservation
from triptych.catalog.database.models.ledger_tables import INTO, OUT_OF
from triptych.catalog.database.stock_levels import clock
from triptych.catalog.errors import BadInput
from triptych.catalog.stock.articles import model_of
from triptych.catalog.stock.movement_lines import LONGEST
from triptych.catalog.stock.reading import Entry, entries_of

MOST: Final = 50
"""So many serials are told at once; who searches for a part that more have in them is asked for more of it."""

_GONE: Final = {
    MovementKind.SELL: "sold",
    MovementKind.WRITE_OFF: "written off",
    MovementKind.COUNT: "counted out",
    MovementKind.SPLIT_PAIR: "split",
    MovementKind.TRANSFER_OUT: "on its way",
}
"""What became of a unit by the last line that moved it, where that took it out."""


@dataclass(frozen=True, slots=True)
class TracedUnit:
    """One, or one pair, that a serial names: what became of it, and for whom; `lines` is where it was, oldest first.

    `location` is where it is, or where it was last; on its way, where it goes to.
    """

    speaker: str
    serial: str
    state: str
    location: str
    grade: str
    finish: str | None
    pack: int
    job: str | None
    until: datetime | None
    quote: int | None
    zone: str
    lines: tuple[Entry, ...]


def units_of_serial(session: Session, text: str) -> list[TracedUnit]:
    """Give the units whose serial is this, in any case, or where there is none, has it in it.

    Raises
    ------
    BadInput
        The text is blank, or too many have it.
    """
    wanted = " ".join(text.split())
    if not wanted or len(wanted) > LONGEST:
        raise BadInput(f"a serial has 1 to {LONGEST} characters: name it, or a part of it")
    found = _known(session, wanted, "") or _known(session, wanted, "%")
    if len(found) > MOST:
        raise BadInput(f"more than {MOST} serials have {wanted!r} in them: name more of it")
    # one after the other: they are few
    return [_unit(session, speaker, serial) for speaker, serial in found]


def _known(session: Session, wanted: str, around: str) -> list[tuple[int, str]]:
    """Give loudspeakers and serials that are this text, or have it in them, in any case."""
    escaped = re.sub("([/%_])", r"/\1", wanted)
    same = sa.func.lower(Movement.serial).like(sa.func.lower(f"{around}{escaped}{around}"), escape="/")
    query = sa.select(Movement.loudspeaker_id, Movement.serial).where(same, Movement.serial.is_not(None)).distinct()
    rows = session.execute(query.order_by(Movement.serial, Movement.loudspeaker_id).limit(MOST + 1))
    return [(speaker, serial) for speaker, serial in rows if serial is not None]


def _unit(session: Session, speaker: int, serial: str) -> TracedUnit:
    named = (Movement.loudspeaker_id == speaker, Movement.serial == serial)
    found = entries_of(session, *named, order=Movement.serial_sequence)
    lines = tuple(entry for _, entry in found)
    moved = [line for line in lines if MovementKind(line.kind) in (*INTO, *OUT_OF)]
    last = moved[-1]
    kind = MovementKind(last.kind)
    here = kind in INTO and last.quantity > 0
    promise = _promise(session, speaker, serial, lines) if here else None
    told = promise or (last if kind is MovementKind.SELL else None)
    return TracedUnit(
        speaker=model_of(session, speaker).name,
        serial=serial,
        state="reserved" if promise else "on hand" if here else _GONE[kind],
        location=last.to or last.location if kind is MovementKind.TRANSFER_OUT else last.location,
        grade=last.grade,
        finish=last.finish,
        pack=last.pack,
        job=told.job if told else None,
        until=promise.until if promise else None,
        quote=told.quote if told else None,
        zone=last.zone,
        lines=lines,
    )


def _promise(session: Session, speaker: int, serial: str, lines: Sequence[Entry]) -> Entry | None:
    """Give the line by which the one of a serial is promised now."""
    live = (Reservation.serial == serial, Reservation.rest > 0, Reservation.until > clock(session))
    query = sa.select(Reservation.movement_id).join(Movement, Movement.id == Reservation.movement_id)
    number = session.scalars(query.where(*live, Movement.loudspeaker_id == speaker)).first()
    return next((line for line in lines if line.number == number), None)
