"""What there is of what a line of the ledger speaks of, in one statement, and the locks that keep it so.

On SQLite there is one writer, so what was looked at still holds when a line is written. On a server others write too:
there it is a hint until its holding is locked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from triptych.catalog.database import rows
from triptych.catalog.database.engine import READS
from triptych.catalog.database.models import Holding, Job, Location, Loudspeaker, Movement, Reservation
from triptych.catalog.database.stock_levels import PACK, is_last_line, on_server, reserved_of
from triptych.catalog.errors import NotFound
from triptych.catalog.stock.job_names import whole_job
from triptych.catalog.stock.movement_lines import MovementLine, refuse_unstorable


@dataclass(frozen=True, slots=True)
class Level:
    """What there is of something: on hand, and reserved out of it."""

    on_hand: int
    reserved: int

    @property
    def available(self) -> int:
        """What may be promised."""
        return self.on_hand - self.reserved


@dataclass(frozen=True, slots=True)
class There:
    """What the ledger knows of what a line speaks of; a number is None where nothing has that name yet.

    Attributes
    ----------
    zone : str, optional
        The time zone of the location.
    now : datetime
        The time that the next line may have: it never runs back in one holding.
    serial_sequence : int
        How many lines there are of the serial, the line's or that of its reservation.
    rest, until, serial : int, datetime and str, optional
        What is left of the reservation, until when, and of which serial; None where it is not one of these units.
    digest : str, optional
        That of the last line of the holding.
    """

    location_id: int | None
    zone: str | None
    job_id: int | None
    holding_id: int | None
    pack: int
    sequence: int
    on_hand: int
    tracked: int
    reserved: int
    now: datetime
    serial_sequence: int
    rest: int | None
    until: datetime | None
    serial: str | None
    digest: str | None = None

    @classmethod
    def of_levels(cls, pack: int, on_hand: int, reserved: int, zone: str) -> There:
        """Give what is told of units where no line of theirs is written."""
        return cls(None, zone, None, 0, pack, 0, on_hand, 0, reserved, datetime.now(UTC), 0, None, None, None)

    @property
    def level(self) -> Level:
        """What there is."""
        return Level(self.on_hand, self.reserved)


def _look_query(*, server: bool) -> sa.Select[*tuple[Any, ...]]:
    time = Movement.at.type
    clock = sa.func.clock_timestamp(type_=time) if server else sa.bindparam("now", type_=time)
    pack = sa.func.coalesce(sa.bindparam("pack", type_=sa.Integer), PACK)
    named = aliased(Movement)
    alike = (
        Holding.loudspeaker_id == Loudspeaker.id,
        Holding.location_id == Location.id,
        Holding.grade == sa.bindparam("grade", type_=Holding.grade.type),
        Holding.pack == pack,
        Holding.finish_key == sa.bindparam("finish"),
    )
    of_these = (Reservation.movement_id == sa.bindparam("reservation"), Reservation.holding_id == Holding.id)
    serial = sa.func.coalesce(sa.bindparam("serial", type_=sa.String), Reservation.serial)
    of_serial = (named.loudspeaker_id == Loudspeaker.id, named.serial == serial)
    return (
        sa.select(
            Location.id,
            Location.zone,
            sa.select(whole_job(Job)).where(Job.name_key == sa.bindparam("job")).scalar_subquery(),
            Holding.id,
            pack,
            *(sa.func.coalesce(column, 0) for column in (Movement.sequence, Movement.on_hand, Movement.tracked)),
            reserved_of(Holding.id, clock),
            sa.type_coerce(sa.case((Movement.at > clock, Movement.at), else_=clock), time),
            sa.select(sa.func.coalesce(sa.func.max(named.serial_sequence), 0)).where(*of_serial).scalar_subquery(),
            Reservation.rest,
            Reservation.until,
            Reservation.serial,
            Movement.digest,
        )
        .select_from(Loudspeaker)
        .outerjoin(Location, Location.name_key == sa.bindparam("location"))
        .outerjoin(Holding, sa.and_(*alike))
        .outerjoin(Movement, is_last_line())
        .outerjoin(Reservation, sa.and_(*of_these))
        .where(Loudspeaker.id == sa.bindparam("loudspeaker"))
    )


_LOOK: Final = {server: _look_query(server=server) for server in (False, True)}
"""Built once: for a ledger that many write, putting a statement together costs as much as running it."""


def look(session: Session, line: MovementLine) -> There:
    """Give all that the ledger knows of what a line speaks of, in one statement; by the clock of the database.

    Raises
    ------
    NotFound
        There is no such loudspeaker.
    """
    refuse_unstorable(line)
    values = {
        "loudspeaker": line.loudspeaker_id,
        "location": rows.name_key(line.location),
        "grade": line.grade,
        "pack": line.pack,
        "finish": rows.name_key(line.finish),
        "job": rows.name_key(line.job),
        "reservation": line.reservation_id,
        "serial": serial_of(line),
        "now": datetime.now(UTC),
    }
    found = session.connection().execute(_LOOK[on_server(session)], values).first()
    if found is None:
        raise NotFound(f"no loudspeaker has the number {line.loudspeaker_id}")
    return There(*found)


def look_locked(session: Session, line: MovementLine) -> There:
    """Give what there is of what a line speaks of, which nobody else can change now."""
    there = look(session, line)
    if there.holding_id is None or not on_server(session):
        return there
    lock(session, [there.holding_id])
    return look(session, line)


def lock(session: Session, holdings: Iterable[int]) -> None:
    """Let one writer at a time change these holdings, always in one order; SQLite has one writer anyway."""
    if on_server(session) and READS not in session.info:
        session.connection().execute(_LOCK, {"numbers": sorted(set(holdings))})


def lock_model(session: Session, loudspeaker_id: int) -> None:
    """Let one writer at a time change what there is of a loudspeaker anywhere."""
    if on_server(session):
        session.execute(_LOCK_MODEL, {"number": loudspeaker_id})


_LOCK_MODEL: Final = sa.text(
    "SELECT lock_holdings(ARRAY(SELECT id FROM holding WHERE loudspeaker_id = :number ORDER BY id))"
)
_LOCK: Final = sa.text("SELECT lock_holdings(CAST(:numbers AS integer[]))")


def level(session: Session, line: MovementLine) -> Level:
    """Give what there is of the model, finish, grade and pack at the location that a line speaks of."""
    return look(session, line).level


def serial_of(line: MovementLine) -> str | None:
    """Give the serial of a line as the ledger keeps it."""
    return None if line.serial is None else " ".join(line.serial.split())
