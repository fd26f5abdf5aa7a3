"""Movements into the ledger: one, or several as a whole. The session must come from `database.writing`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Holding, Movement, MovementKind, Reservation
from triptych.catalog.database.models.ledger_tables import INTO, OUT_OF
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.stock import holdings
from triptych.catalog.stock.holdings import Spot, State
from triptych.catalog.stock.lines import LARGEST, Line, effect_of, instant, refuse_incomplete
from triptych.catalog.stock.timing import until_words


@dataclass(frozen=True, slots=True)
class Held:
    """A reservation as it stands: what is left of it, until when, and of what."""

    holding_id: int
    loudspeaker_id: int
    rest: int
    until: datetime
    serial: str | None


def record_movement(session: Session, line: Line, at: datetime | None = None) -> int:
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
    refuse_incomplete(line)
    place = _place(session, line, at)
    target = None if line.to is None else _target(session, line, place)
    return _write(session, line, place, target, at)


@dataclass(frozen=True, slots=True)
class Place:
    """A holding that a line is to change, and what there is; on a server only a hint, since others write too."""

    holding_id: int
    pack: int
    there: State


def _place(session: Session, line: Line, at: datetime | None) -> Place:
    spot = holdings.spot_of(line)
    found = holdings.look(session, spot, at)
    if found is None and line.kind in INTO and line.quantity > 0:
        holdings.find_or_make(session, spot)
        found = holdings.look(session, spot, at)
    if found is None:
        pack = line.pack or holdings.pack_of(session, line.loudspeaker_id)
        if line.reservation_id is not None:
            raise _no_reservation(line)
        what = f"0 on hand, 0 reserved, {_sort(line, pack)}"
        raise Refused(f"cannot {line.units} at {line.location!r}: {what}; nothing was written")
    return Place(*found)


def _write(session: Session, line: Line, place: Place, target: int | None, at: datetime | None) -> int:
    if line.reservation_id is not None:
        held = held_by(session, line.reservation_id)
        _refuse_overdrawn(line, place, held)
        line = line if line.serial is not None or held is None else replace(line, serial=held.serial)
    _refuse_unfit(line, place)
    return _insert(session, line, place, target, at)


def refuse_if_hopeless(session: Session, line: Line) -> None:
    """Refuse a line that could not be written now, without writing or locking anything.

    Raises
    ------
    CatalogError
        As `record_movement`.
    """
    if line.kind in INTO and line.quantity > 0:
        return
    place = _place(session, line, None)
    if line.reservation_id is not None:
        _refuse_overdrawn(line, place, held_by(session, line.reservation_id))
    _refuse_unfit(line, place)


def record_movements(session: Session, lines: Sequence[Line], at: datetime | None = None) -> list[int]:
    """Write several movements, all or none, and give their numbers.

    Their holdings are locked first, in one order, so that two who write the same ones never wait for each other.

    Raises
    ------
    CatalogError
        As `record_movement`. Nothing was written.
    """
    for line in lines:
        refuse_incomplete(line)
    places = [_place(session, line, at) for line in lines]
    holdings.lock(session, [place.holding_id for place in places])
    return [record_movement(session, line, at) for line in lines]


def record_through(session: Session, out: Line, back: Line, at: datetime | None = None) -> list[int]:
    """Write what leaves and what of it arrives at once, both or neither, and give their numbers.

    Both holdings are locked first, in one order, so that who moves units the other way never waits for us for ever.
    """
    refuse_incomplete(out)
    place = _place(session, out, at)
    target = _target(session, out, place)
    back = replace(back, from_id=back.from_id or LAST, pack=back.pack or place.pack)
    _refuse_unfit(out, place)
    if holdings.on_server(session):
        _refuse_untracked(out, place.there, effect_of(out), out.serial)
        first, second = _values(session, out, place.holding_id, target), _values(session, back, target, None)
        return _run_together(session, out, [first | {"at": at}, second | {"at": at}])
    first_number = _write(session, out, place, target, at)
    there = Place(target, place.pack, _place(session, back, at).there)
    return [first_number, _write(session, replace(back, from_id=first_number), there, None, at)]


LAST: Final = 0
"""Stands for the number of the line before, where two are written together."""


def held_by(session: Session, reservation_id: int) -> Held | None:
    """Give what is left of a reservation, lapsed or not; None where there is none of that number."""
    found = session.connection().execute(_HELD, {"reservation": reservation_id}).first()
    return None if found is None else Held(*found)


_HELD: Final = (
    sa.select(Reservation.holding_id, Holding.loudspeaker_id, Reservation.rest, Reservation.until, Reservation.serial)
    .join(Holding, Holding.id == Reservation.holding_id)
    .where(Reservation.movement_id == sa.bindparam("reservation"))
)


def _sort(line: Line, pack: int) -> str:
    finish = f" in {line.finish!r}" if line.finish else ""
    return f"{line.grade.value}{finish}" + (", as pairs" if pack == 2 else "")


def _target(session: Session, line: Line, place: Place) -> int:
    if line.to is None:
        raise AssertionError("a line that leaves for elsewhere says where")
    goal = Spot(line.loudspeaker_id, line.to.location, line.to.grade, line.to.pack or place.pack, line.finish)
    found = holdings.find_or_make(session, goal)
    if found == place.holding_id:
        raise Refused(f"cannot {line.units}: it is at {line.location!r} as {line.grade.value} already")
    return found


def _no_reservation(line: Line) -> NotFound:
    return NotFound(f"no reservation of these units has the number {line.reservation_id}")


def _refuse_overdrawn(line: Line, place: Place, held: Held | None) -> None:
    if held is None or held.holding_id != place.holding_id:
        raise _no_reservation(line)
    refuse_overdrawn(line, held.rest, held.until, place.there.now)


def refuse_overdrawn(line: Line, rest: int, until: datetime, now: datetime) -> None:
    """Refuse a line that takes more of a reservation than is left of it, or after it lapsed.

    Raises
    ------
    Refused
        Says what is left, or when it lapsed.
    """
    if until <= now:
        lapsed = until_words(until)
        raise Refused(f"reservation {line.reservation_id} lapsed at {lapsed}: reserve again; nothing was written")
    if line.quantity > rest:
        raise Refused(f"reservation {line.reservation_id} holds {rest}, not {line.quantity}; nothing was written")


def _refuse_unfit(line: Line, place: Place) -> None:
    pack, there = place.pack, place.there
    if line.quantity % pack:
        raise BadInput(f"quantity {line.quantity}: it is sold in pairs, so give an even number, or split a pair first")
    if line.serial is not None and abs(line.quantity) != pack:
        one = "one pair, which is 2" if pack == 2 else "one unit"
        raise BadInput(f"serial {line.serial!r} names {one}, not {line.quantity}")
    if line.until is not None and instant(line.until) <= there.now:
        past = until_words(instant(line.until))
        raise BadInput(f"until {past}: that has passed; a reservation ends in the future")
    if line.kind in OUT_OF or line.kind is MovementKind.RESERVE or line.quantity < 0:
        free = line.quantity if line.reservation_id is not None else 0
        holdings.refuse_too_few(line, there, free)
    if there.on_hand + line.quantity > LARGEST * 1000:
        raise Refused(f"cannot {line.units}: {there.on_hand} are on hand already, which cannot be meant")


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
)


def _insert(session: Session, line: Line, place: Place, target: int | None, at: datetime | None) -> int:
    values = _values(session, line, place.holding_id, target)
    _refuse_untracked(line, place.there, effect_of(line), line.serial)
    server = holdings.on_server(session)
    totals = _BY_SERVER | {"at": at} if server else _totals(session, line, place.there, values["serial"])
    return _run(session, line, values | totals)


def _values(session: Session, line: Line, holding: int, target: int | None) -> dict[str, Any]:
    return {name: getattr(line, name) for name in _COPIED} | {
        "holding_id": holding,
        "to_holding_id": target,
        "effect": effect_of(line),
        "job_id": None if line.job is None else holdings.job_id(session, line.job),
        "until": None if line.until is None else instant(line.until),
        "serial": None if line.serial is None else " ".join(line.serial.split()),
    }


_BY_SERVER: Final = {"sequence": None, "on_hand": None, "tracked": None, "serial_sequence": None}
"""Totals that a trigger fills in under the lock, which so is held for one statement."""


def _totals(session: Session, line: Line, there: State, serial: str | None) -> dict[str, Any]:
    effect = effect_of(line)
    return {
        "sequence": there.sequence + 1,
        "on_hand": there.on_hand + effect,
        "tracked": there.tracked + (effect if serial is not None else 0),
        "serial_sequence": None if serial is None else _serial_sequence(session, line.loudspeaker_id, serial),
        "at": there.now,
    }


def _run_together(session: Session, line: Line, values: list[dict[str, Any]]) -> list[int]:
    """Write lines in one call to the server."""
    import json

    lines = json.dumps(values, default=_as_text)
    point: Callable[[], Any] = nullcontext if line.serial is None else session.begin_nested
    try:
        with point():
            return list(session.connection().execute(_TOGETHER, {"lines": lines}).scalar_one())
    except sa.exc.IntegrityError as problem:
        raise Refused(f"cannot {line.units}: {_said(problem)}; nothing was written") from problem


_TOGETHER: Final = sa.text("SELECT record_lines(CAST(:lines AS jsonb))")


def _as_text(value: Any) -> str:
    return str(value.isoformat() if isinstance(value, datetime) else value.value)


def _run(session: Session, line: Line, values: dict[str, Any]) -> int:
    # only what no reading here has settled needs a point to come back to
    unsettled = values["serial"] is not None or line.order_id is not None
    point: Callable[[], Any] = session.begin_nested if unsettled else nullcontext
    try:
        with point():
            return int(session.connection().execute(_INSERT, values).scalar_one())
    except sa.exc.IntegrityError as problem:
        raise Refused(f"cannot {line.units}: {_said(problem)}; nothing was written") from problem


_INSERT: Final = sa.insert(Movement).returning(Movement.id)


def _refuse_untracked(line: Line, there: State, effect: int, serial: str | None) -> None:
    if serial is None and there.tracked > there.on_hand + effect:
        raise Refused(
            f"cannot {line.units} at {line.location!r}: {there.tracked} of the {there.on_hand} there have serials:"
            " name the serial; nothing was written"
        )


def _serial_sequence(session: Session, loudspeaker_id: int, serial: str) -> int:
    query = sa.select(sa.func.coalesce(sa.func.max(Movement.serial_sequence), 0)).where(
        Movement.loudspeaker_id == loudspeaker_id, Movement.serial == serial
    )
    return (session.scalar(query) or 0) + 1


def _said(problem: sa.exc.IntegrityError) -> str:
    said = str(problem.orig).split("\n")[0].strip()
    if any(word in said for word in ("uq_movement", "UNIQUE", "ck_movement_on_hand", "reserved never exceeds")):
        return "somebody else was faster: try again"
    return said
