"""Many lines of the ledger at once: what there is of all is read in one statement."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from typing import Any, Final, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads, rows
from triptych.catalog.database.models import Grade, Holding, Location, Movement, Reservation
from triptych.catalog.database.models.base import UtcTime
from triptych.catalog.database.stock_levels import is_last_line, on_server, reserved_of
from triptych.catalog.stock import ledger, ledger_rows
from triptych.catalog.stock.job_names import JOB, with_job
from triptych.catalog.stock.looking import There
from triptych.catalog.stock.movement_lines import MovementLine


class HoldingKey(NamedTuple):
    """What makes units alike: loudspeaker, key of the location, grade, pack and key of the finish."""

    loudspeaker_id: int
    location: str
    grade: Grade
    pack: int
    finish: str


def key_of(line: MovementLine) -> HoldingKey:
    """Give what the units of a line have in common; the line says its pack."""
    if line.pack is None:
        raise AssertionError("one of many lines says its pack")
    return HoldingKey(
        line.loudspeaker_id, rows.name_key(line.location), line.grade, line.pack, rows.name_key(line.finish)
    )


def look_at_all(session: Session, lines: Iterable[MovementLine]) -> dict[HoldingKey, There]:
    """Give what there is of each line's units, where there ever was any."""
    wanted = {key_of(line) for line in lines}
    found: dict[HoldingKey, There] = {}
    instant = datetime.now(UTC)
    connection, query = session.connection(), _there(server=on_server(session))
    for part in reads.chunks(sorted({key.loudspeaker_id for key in wanted})):
        for row in connection.execute(query, {"numbers": part, "now": instant}):
            key = HoldingKey(*row[:5])
            if key in wanted:
                location, zone, holding, sequence, on_hand, tracked, reserved, at, digest = row[5:]
                last = instant if at is None else max(at, instant)
                levels = (sequence, on_hand, tracked, reserved)
                found[key] = There(location, zone, None, holding, key.pack, *levels, last, 0, None, None, None, digest)
    return found


@cache
def _there(*, server: bool) -> sa.Select[*tuple[Any, ...]]:
    now = sa.func.clock_timestamp(type_=UtcTime) if server else sa.bindparam("now", type_=UtcTime)
    return (
        sa.select(
            Holding.loudspeaker_id,
            Location.name_key,
            Holding.grade,
            Holding.pack,
            Holding.finish_key,
            Location.id,
            Location.zone,
            Holding.id,
            *(sa.func.coalesce(column, 0) for column in (Movement.sequence, Movement.on_hand, Movement.tracked)),
            reserved_of(Holding.id, now),
            Movement.at,
            Movement.digest,
        )
        .join(Location, Location.id == Holding.location_id)
        .outerjoin(Movement, is_last_line())
        .where(Holding.loudspeaker_id.in_(sa.bindparam("numbers", expanding=True)))
    )


def record_all(session: Session, lines: Sequence[MovementLine]) -> list[int]:
    """Write lines of units that are there and locked, in their order, and give their numbers.

    Raises
    ------
    Refused
        One takes more than there is. Nothing was written.
    """
    kept = _kept(session, [line.reservation_id for line in lines if line.reservation_id is not None])
    if any(line.serial is not None for line in lines) or any(there[2] is not None for there in kept.values()):
        return [ledger.record_movement(session, line) for line in lines]
    found, jobs, numbers = look_at_all(session, lines), dict[str, int](), list[int]()
    for line in lines:
        there = found[key_of(line)]
        # each a little after the one before, in whose order they are told
        there = replace(there, now=max(there.now, datetime.now(UTC)))
        if line.job is not None:
            there = replace(there, job_id=jobs.get(line.job) or ledger_rows.job_id(session, line.job))
            jobs[line.job] = there.job_id or 0
        if line.reservation_id is not None:
            rest, until, _ = kept[line.reservation_id]
            there = replace(there, rest=rest, until=until)
            kept[line.reservation_id] = rest - line.quantity, until, None
        number, found[key_of(line)] = ledger.write(session, line, there)
        numbers.append(number)
    return numbers


def written(session: Session, numbers: Sequence[int]) -> dict[int, MovementLine]:
    """Give lines of the ledger as they were asked for, by their numbers."""
    if not numbers:
        return {}
    found = session.connection().execute(_written(), {"numbers": list(numbers)})
    return {
        number: MovementLine(speaker, kind, quantity, place, grade, finish, job, until, serial=serial, pack=pack)
        for number, speaker, kind, quantity, place, grade, finish, job, until, serial, pack in found
    }


@cache
def _written() -> sa.Select[*tuple[Any, ...]]:
    said = (Movement.loudspeaker_id, Movement.kind, Movement.quantity, Location.name, Holding.grade, Holding.finish)
    query = (
        sa.select(Movement.id, *said, JOB.name, Movement.until, Movement.serial, Holding.pack)
        .join(Holding, Holding.id == Movement.holding_id)
        .join(Location, Location.id == Holding.location_id)
        .where(Movement.id.in_(sa.bindparam("numbers", expanding=True)))
        .order_by(Movement.id)
    )
    return with_job(query, Movement.job_id, outer=True)


def _kept(session: Session, numbers: Sequence[int]) -> dict[int, tuple[int, datetime, str | None]]:
    """Give what is left of some reservations, until when and of which serial."""
    if not numbers:
        return {}
    found = session.connection().execute(_KEPT, {"numbers": sorted(set(numbers))})
    return {number: (rest, until, serial) for number, rest, until, serial in found}


_KEPT: Final = sa.select(Reservation.movement_id, Reservation.rest, Reservation.until, Reservation.serial).where(
    Reservation.movement_id.in_(sa.bindparam("numbers", expanding=True))
)


def make_holdings(session: Session, lines: Sequence[MovementLine], found: Mapping[HoldingKey, There]) -> None:
    """Make the locations and holdings that lines need and that are not there, always in one order."""
    missing = {key_of(line): line for line in lines if key_of(line) not in found}
    places = {key.location: line.location for key, line in missing.items()}
    numbers = ledger_rows.location_ids(session, places)
    values: list[dict[str, Any]] = [
        {
            "loudspeaker_id": key.loudspeaker_id,
            "location_id": numbers[key.location],
            "grade": key.grade,
            "pack": key.pack,
            "finish": missing[key].finish,
            "finish_key": key.finish,
        }
        for key in sorted(missing, key=lambda key: (key[0], numbers[key[1]], key[2].value, *key[3:]))
    ]
    if values:
        ledger_rows.insert_once(session, Holding, values)


def write_all(session: Session, lines: Sequence[tuple[MovementLine, There]]) -> None:
    """Write lines of units that are locked and were looked at since, each of another holding and without a serial."""
    values = [ledger.values_of(session, line, there, None) for line, there in lines]
    if values:
        ledger.insert_lines(session, values)
