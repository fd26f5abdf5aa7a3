"""The one way into the ledger: look at what there is, refuse what it doesn't bear, add one line.

A session must come from `database.writing`. SQLite has one writer, so what was looked at still holds when the line is
written. On a server others write too: there the look is a hint, and a trigger takes a lock and fills in the totals.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from datetime import datetime
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Holding, Movement, MovementKind
from triptych.catalog.database.models.ledger_tables import INTO
from triptych.catalog.database.stock_levels import on_server
from triptych.catalog.errors import Overtaken, Refused
from triptych.catalog.stock import ledger_rows
from triptych.catalog.stock.digests import HOLDING, deed_number, digest_of
from triptych.catalog.stock.line_refusals import no_reservation, refuse_overdrawn, refuse_unfit, serial_taken
from triptych.catalog.stock.looking import There, lock, look, serial_of
from triptych.catalog.stock.movement_lines import MovementLine, effect_of, instant, refuse_incomplete
from triptych.catalog.stock.shortfalls import too_few


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
    refuse_unfit(session, out, there)
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
        raise no_reservation(line)
    raise too_few(session, line, there)


def _beyond(session: Session, line: MovementLine, there: There, seen: There | None) -> There:
    """Give what there is where a line goes to, with a holding."""
    if line.to is None:
        raise AssertionError("a line that leaves for elsewhere says where")
    goal = replace(line, location=line.to.location, grade=line.to.grade, pack=line.to.pack or there.pack)
    beyond = seen or look(session, goal)
    if beyond.holding_id is None:
        beyond = _made(session, goal, beyond)
    if beyond.holding_id == there.holding_id:
        raise Refused(f"cannot {line.units}: it is {line.place} as {line.grade_words} already")
    return beyond


def _made(session: Session, line: MovementLine, there: There) -> There:
    """Make a holding, with its location where there is none yet."""
    location = there.location_id or ledger_rows.location_id(session, line.location)
    key = rows.name_key(line.finish)
    values = {"loudspeaker_id": line.loudspeaker_id, "location_id": location, "grade": line.grade, "pack": there.pack}
    ledger_rows.insert_once(session, Holding, [values | {"finish": line.finish, "finish_key": key}])
    return look(session, replace(line, pack=there.pack))


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
    serial = serial_of(line)
    if line.reservation_id is not None:
        refuse_overdrawn(line, there)
        serial = serial or there.serial
    refuse_unfit(session, line, there)
    effect = effect_of(line)
    if serial is None and there.tracked > there.on_hand + effect:
        raise Refused(
            f"cannot {line.units} {line.place}: {there.tracked} of the {there.on_hand} there have serials:"
            " name the serial; nothing was written"
        )
    values = {name: getattr(line, name) for name in _COPIED} | {
        "holding_id": there.holding_id,
        "to_holding_id": target,
        "effect": effect,
        "job_id": None if line.job is None else there.job_id or ledger_rows.job_id(session, line.job),
        "until": None if line.until is None else instant(line.until),
        "serial": serial,
    }
    if on_server(session):
        return values | _BY_SERVER
    values |= _totals(there, effect, serial) | {"deed_number": _deed(session)}
    alike = (there.location_id, line.grade, there.pack, rows.name_key(line.finish))
    return values | {"digest": digest_of(there.digest, values, dict(zip(HOLDING, alike, strict=True)))}


_DEED: Final = "deed"


def _deed(session: Session) -> int:
    """Give the number of the deed that a transaction is."""
    if _DEED not in session.info:
        session.info[_DEED] = deed_number()
    return int(session.info[_DEED])


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
        if _SERIAL_TAKEN in str(problem.orig) and values["serial"] is not None:
            raise serial_taken(session, line, values["serial"]) from problem
        raise _refusal(f"cannot {line.units}", problem) from problem


_SERIAL_TAKEN: Final = "a serial is in one place: it is there already"
"""What both engines say of a serial that comes where it is, or is somewhere else."""


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
