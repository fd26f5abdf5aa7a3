"""The one way into the ledger: look at what there is, refuse what it doesn't bear, add one line.

A session must come from `database.writing`. SQLite has one writer, so what was looked at still holds when the line is
written. On a server others write too: there the look is a hint, and a trigger takes a lock and fills in the totals.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import nullcontext
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session, aliased

from triptych.catalog.database import rows
from triptych.catalog.database.models import Holding, Job, Location, Loudspeaker, Movement, MovementKind, Reservation
from triptych.catalog.database.models.ledger_tables import INTO, OUT_OF
from triptych.catalog.database.stock_levels import PACK, is_last_line, on_server, reserved_of
from triptych.catalog.errors import BadInput, NotFound, Overtaken, Refused
from triptych.catalog.stock.digests import HOLDING, digest_of
from triptych.catalog.stock.job_names import whole_job
from triptych.catalog.stock.movement_lines import (
    LARGEST_QUANTITY,
    MovementLine,
    effect_of,
    instant,
    refuse_incomplete,
    refuse_unstorable,
)
from triptych.catalog.stock.timing import until_words


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
        "serial": _serial(line),
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
    if on_server(session):
        session.execute(_LOCK, {"numbers": sorted(set(holdings))})


_LOCK: Final = sa.text("SELECT lock_holdings(CAST(:numbers AS integer[]))")


def level(session: Session, line: MovementLine) -> Level:
    """Give what there is of the model, finish, grade and pack at the location that a line speaks of."""
    return look(session, line).level


def record_movement(session: Session, line: MovementLine) -> int:
    """Write one movement and give its number.

    Raises
    ------
    BadInput
        The line is incomplete, or its quantity is none.
    NotFound
        There is no such loudspeaker or reservation.
    Refused
        More would go out, or be promised, than there is, or another rule of the ledger says no. Nothing was written.
    """
    number, _ = write(session, line, look(session, line))
    return number


def write(session: Session, line: MovementLine, there: There, beyond: There | None = None) -> tuple[int, There]:
    """Write one movement where there is what was looked at; give its number, and what there is then.

    `beyond` is what there is where it goes to, where that was looked at.
    """
    refuse_incomplete(line)
    there = _refuse_nothing(session, line, there)
    target = None if line.to is None else _beyond(session, line, there, beyond).holding_id
    return _write(session, line, there, target)


def ends(
    session: Session, out: MovementLine, there: There | None = None, beyond: There | None = None
) -> tuple[There, There]:
    """Give what there is at either end of what leaves for elsewhere, where that was not looked at already.

    Both holdings are locked, in one order, so that who moves units the other way never waits for us for ever.
    """
    there = there or look(session, out)
    refuse_incomplete(out)
    there = _refuse_nothing(session, out, there)
    beyond = _beyond(session, out, there, beyond)
    _refuse_unfit(out, there)
    lock(session, [number for number in (there.holding_id, beyond.holding_id) if number is not None])
    return there, beyond


def write_through(
    session: Session, out: MovementLine, back: MovementLine, there: There | None = None, beyond: There | None = None
) -> list[int]:
    """Write what leaves and what of it arrives at once, both or neither, and give their numbers."""
    there, beyond = ends(session, out, there, beyond)
    first, _ = _write(session, out, there, beyond.holding_id)
    # of a serial there is a line more now
    beyond = replace(beyond, serial_sequence=beyond.serial_sequence + 1)
    second, _ = _write(session, replace(back, from_id=first), beyond, None)
    return [first, second]


def _refuse_nothing(session: Session, line: MovementLine, there: There) -> There:
    """Make a holding for what comes; refuse what would be taken from where nothing ever was."""
    if there.holding_id is not None:
        return there
    if line.kind in INTO and line.quantity > 0:
        return _made(session, line, there)
    if line.reservation_id is not None:
        raise _no_reservation(line)
    finish = f" in {line.finish!r}" if line.finish else ""
    sort = f"{line.grade_words}{finish}" + (", as pairs" if there.pack == 2 else "")
    raise Refused(f"cannot {line.units} at {line.location!r}: 0 on hand, 0 reserved, {sort}; nothing was written")


def _beyond(session: Session, line: MovementLine, there: There, seen: There | None) -> There:
    """Give what there is where a line goes to, with a holding."""
    if line.to is None:
        raise AssertionError("a line that leaves for elsewhere says where")
    goal = replace(line, location=line.to.location, grade=line.to.grade, pack=line.to.pack or there.pack)
    beyond = seen or look(session, goal)
    if beyond.holding_id is None:
        beyond = _made(session, goal, beyond)
    if beyond.holding_id == there.holding_id:
        raise Refused(f"cannot {line.units}: it is at {line.location!r} as {line.grade_words} already")
    return beyond


def _made(session: Session, line: MovementLine, there: There) -> There:
    """Make a holding, with its location where there is none yet."""
    location = there.location_id or location_id(session, line.location)
    key = rows.name_key(line.finish)
    values = {"loudspeaker_id": line.loudspeaker_id, "location_id": location, "grade": line.grade, "pack": there.pack}
    insert_once(session, Holding, [values | {"finish": line.finish, "finish_key": key}])
    return look(session, replace(line, pack=there.pack))


def insert_once(session: Session, table: type[Any], values: list[dict[str, Any]]) -> None:
    """Add rows, but those whose key is there already."""
    insert: Callable[..., Any] = postgresql.insert if on_server(session) else sqlite.insert
    session.execute(insert(table).on_conflict_do_nothing(), values)


def location_id(session: Session, name: str) -> int:
    """Give the number of a location, and make it in UTC where there is none yet."""
    return _number(session, Location, name, {"zone": "UTC"})


def job_id(session: Session, name: str) -> int:
    """Give the number of a job, and make it where there is none yet."""
    return _number(session, Job, name, {})


def _number(session: Session, table: type[Location] | type[Job], name: str, beside: dict[str, str]) -> int:
    key = rows.name_key(name)
    number = whole_job(Job) if table is Job else table.id
    query = sa.select(number).where(table.name_key == key)
    found = session.scalar(query)
    if found is None:
        insert_once(session, table, [{"name": " ".join(name.split()), "name_key": key, **beside}])
        found = session.scalars(query).one()
    return found


def _write(session: Session, line: MovementLine, there: There, target: int | None) -> tuple[int, There]:
    values = values_of(session, line, there, target)
    number, sequence, on_hand, tracked, at = _insert(session, line, values)
    held = line.quantity if line.kind is MovementKind.RESERVE else 0 if line.reservation_id is None else -line.quantity
    totals = {"sequence": sequence, "on_hand": on_hand, "tracked": tracked, "now": at, "digest": values["digest"]}
    return number, replace(there, **totals, reserved=there.reserved + held)


def values_of(session: Session, line: MovementLine, there: There, target: int | None) -> dict[str, Any]:
    """Give the row of a line where there is what was looked at; `target` is the holding that its units go to.

    Raises
    ------
    Refused
        More would go out, or be promised, than there is.
    """
    serial = _serial(line)
    if line.reservation_id is not None:
        _refuse_overdrawn(line, there)
        serial = serial or there.serial
    _refuse_unfit(line, there)
    effect = effect_of(line)
    if serial is None and there.tracked > there.on_hand + effect:
        raise Refused(
            f"cannot {line.units} at {line.location!r}: {there.tracked} of the {there.on_hand} there have serials:"
            " name the serial; nothing was written"
        )
    values = {name: getattr(line, name) for name in _COPIED} | {
        "holding_id": there.holding_id,
        "to_holding_id": target,
        "effect": effect,
        "job_id": None if line.job is None else there.job_id or job_id(session, line.job),
        "until": None if line.until is None else instant(line.until),
        "serial": serial,
    }
    if on_server(session):
        return values | _BY_SERVER
    values |= _totals(there, effect, serial)
    alike = (there.location_id, line.grade, there.pack, rows.name_key(line.finish))
    return values | {"digest": digest_of(there.digest, values, dict(zip(HOLDING, alike, strict=True)))}


_COPIED: Final = (
    "loudspeaker_id",
    "kind",
    "quantity",
    "reservation_id",
    "from_id",
    "order_id",
    "quote_id",
    "amount",
    "currency",
    "who",
    "note",
    "undoes_id",
    "carries_id",
)

_BY_SERVER: Final = dict.fromkeys(("sequence", "on_hand", "tracked", "serial_sequence", "at", "digest"))
"""Totals and a digest that a trigger fills in under the lock, which so is held for one statement."""


def _totals(there: There, effect: int, serial: str | None) -> dict[str, Any]:
    return {
        "sequence": there.sequence + 1,
        "on_hand": there.on_hand + effect,
        "tracked": there.tracked + (0 if serial is None else effect),
        "serial_sequence": None if serial is None else there.serial_sequence + 1,
        "at": there.now,
    }


_INSERT: Final = sa.insert(Movement).returning(
    Movement.id, Movement.sequence, Movement.on_hand, Movement.tracked, Movement.at
)


def _insert(session: Session, line: MovementLine, values: dict[str, Any]) -> sa.Row[int, int, int, int, datetime]:
    # only what no reading here has settled needs a point to come back to
    unsettled = values["serial"] is not None or line.order_id is not None
    point: Callable[[], Any] = session.begin_nested if unsettled else nullcontext
    try:
        with point():
            return session.connection().execute(_INSERT, values).one()
    except sa.exc.IntegrityError as problem:
        raise _refusal(f"cannot {line.units}", problem) from problem


def insert_lines(session: Session, values: list[dict[str, Any]]) -> None:
    """Write many rows of the ledger that nothing else can change meanwhile."""
    try:
        session.connection().execute(sa.insert(Movement), values)
    except sa.exc.IntegrityError as problem:
        raise _refusal(f"cannot write {len(values)} lines", problem) from problem


def _refusal(what: str, problem: sa.exc.IntegrityError) -> Refused | Overtaken:
    said = str(problem.orig).split("\n")[0].strip()
    # what was looked at just now bore it
    if any(word in said for word in ("uq_movement", "UNIQUE", "ck_movement_on_hand", "reserved never exceeds")):
        return Overtaken(f"{what}: somebody else was faster: try again; nothing was written")
    return Refused(f"{what}: {said}; nothing was written")


def _serial(line: MovementLine) -> str | None:
    return None if line.serial is None else " ".join(line.serial.split())


def _no_reservation(line: MovementLine) -> NotFound:
    return NotFound(f"no reservation of these units has the number {line.reservation_id}")


def _refuse_overdrawn(line: MovementLine, there: There) -> None:
    """Refuse a line that takes more of a reservation than is left of it, or after it lapsed."""
    if there.rest is None or there.until is None:
        raise _no_reservation(line)
    if there.until <= there.now:
        lapsed = until_words(there.until)
        raise Refused(f"reservation {line.reservation_id} lapsed at {lapsed}: reserve again; nothing was written")
    if line.quantity > there.rest:
        raise Refused(f"reservation {line.reservation_id} holds {there.rest}, not {line.quantity}; nothing was written")


def _refuse_unfit(line: MovementLine, there: There) -> None:
    pack = there.pack
    if line.quantity % pack:
        raise BadInput(f"quantity {line.quantity}: it is sold in pairs, so give an even number, or split a pair first")
    if line.serial is not None and abs(line.quantity) != pack:
        one = "one pair, which is 2" if pack == 2 else "one unit"
        raise BadInput(f"serial {line.serial!r} names {one}, not {line.quantity}")
    if line.until is not None and instant(line.until) <= there.now:
        past = until_words(instant(line.until))
        raise BadInput(f"until {past}: that has passed; a reservation ends in the future")
    if line.kind in OUT_OF or line.kind is MovementKind.RESERVE or line.quantity < 0:
        _refuse_too_few(line, there)
    if there.on_hand + line.quantity > LARGEST_QUANTITY * 1000:
        raise Refused(f"cannot {line.units}: {there.on_hand} are on hand already, which cannot be meant")


def _refuse_too_few(line: MovementLine, there: There) -> None:
    wanted = -line.quantity if line.kind in INTO else line.quantity
    own = line.quantity if line.reservation_id is not None else 0
    if wanted > there.on_hand - there.reserved + own:
        promised = f"{there.on_hand} on hand, {there.reserved} reserved"
        # what is promised may be what is in the way
        enough = there.reserved and wanted <= there.on_hand
        freed = " (stock reservations says for whom, stock release frees it)" if enough else ""
        raise Refused(f"cannot {line.units} at {line.location!r}: {promised}{freed}; nothing was written")
