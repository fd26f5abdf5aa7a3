"""What was measured in a room after installing: stored with the room, read back, removed."""

from __future__ import annotations

import sys
from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import chain
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.models import AsBuilt, AsBuiltCurve, Channel, Room
from triptych.catalog.database.rows import name_key, refuse_unstorable
from triptych.catalog.errors import BadInput
from triptych.catalog.records import CurveKind, CurveRecord


@dataclass(frozen=True, slots=True)
class MeasuredSeat:
    """The three as measured at one seat."""

    seat: str
    left: CurveRecord
    centre: CurveRecord
    right: CurveRecord


@dataclass(frozen=True, slots=True)
class AsBuiltRecord:
    """One check of a room: what stands where, and the responses at one seat or more, the one for the trim first.

    `trim_set` is what the centre's trim stood at against the mains' while it was measured [dB]; `made_at` is when the
    check was stored.
    """

    seats: tuple[MeasuredSeat, ...]
    speaker: str | None = None
    place: str | None = None
    mains: str | None = None
    trim_set: float = 0.0
    made_at: datetime | None = field(default=None, compare=False)


def save_as_built(session: Session, room: str, record: AsBuiltRecord) -> bool:
    """Store a check with its room; the newest one equal to it stays as it is.

    Returns
    -------
    bool
        Whether it was new.

    Raises
    ------
    NotFound
        No room has that name; the nearest are told.
    BadInput
        No seat was measured, or a text cannot be stored.
    """
    refuse_unstorable(f"the check of {room!r}", record)
    if not record.seats:
        raise BadInput(f"the check of {room!r} has no seat: measure one at least")
    number = _room_number(session, room)
    newest = _checks(session, number, limit=1)
    if newest and newest[0] == _stripped(record):
        return False
    parts = {name: getattr(record, name) or None for name in ("speaker", "place", "mains")}
    row = {"room_id": number, "trim_set": record.trim_set, "made_at": datetime.now(UTC), **parts}
    check = session.scalars(sa.insert(AsBuilt).values(**row).returning(AsBuilt.id)).one()
    session.connection().execute(sa.insert(AsBuiltCurve), list(_curve_rows(check, record.seats)))
    return True


def checks(session: Session, room: str) -> list[AsBuiltRecord]:
    """Give the checks of a room, the newest first.

    Raises
    ------
    NotFound
        No room has that name; the nearest are told.
    """
    return _checks(session, _room_number(session, room))


def _room_number(session: Session, name: str) -> int:
    number = session.scalar(sa.select(Room.id).where(Room.name_key == name_key(name)))
    if number is None:
        reads.room(session, name)  # says which names are near
        raise AssertionError(name)
    return number


def _stripped(record: AsBuiltRecord) -> AsBuiltRecord:
    """The record with no more of each curve than is stored."""
    seats = tuple(
        MeasuredSeat(one.seat, *(_plain(curve) for curve in (one.left, one.centre, one.right))) for one in record.seats
    )
    return AsBuiltRecord(seats, record.speaker or None, record.place or None, record.mains or None, record.trim_set)


def _plain(curve: CurveRecord) -> CurveRecord:
    return CurveRecord(CurveKind.IN_ROOM, curve.frequency, curve.level, curve.source)


def _curve_rows(check: int, seats: Sequence[MeasuredSeat]) -> Iterator[dict[str, Any]]:
    for ordinal, one in enumerate(seats):
        for channel in Channel:
            curve: CurveRecord = getattr(one, channel.value)
            yield {
                "as_built_id": check,
                "ordinal": ordinal,
                "channel": channel,
                "seat": one.seat,
                "source": curve.source,
                "raw": _packed(curve),
            }


def _checks(session: Session, number: int, limit: int | None = None) -> list[AsBuiltRecord]:
    query = sa.select(AsBuilt).where(AsBuilt.room_id == number)
    query = query.order_by(AsBuilt.made_at.desc(), AsBuilt.id.desc()).limit(limit)
    return [
        AsBuiltRecord(_seats(session, row.id), row.speaker, row.place, row.mains, row.trim_set, row.made_at)
        for row in session.scalars(query).all()
    ]


def _seats(session: Session, check: int) -> tuple[MeasuredSeat, ...]:
    query = sa.select(AsBuiltCurve).where(AsBuiltCurve.as_built_id == check).order_by(AsBuiltCurve.ordinal)
    seats: dict[int, dict[str, Any]] = {}
    for row in session.scalars(query):
        seats.setdefault(row.ordinal, {"seat": row.seat})[row.channel.value] = _curve(row)
    return tuple(MeasuredSeat(**parts) for parts in seats.values())


def _curve(row: AsBuiltCurve) -> CurveRecord:
    points = _little(array("d", row.raw))
    return CurveRecord(CurveKind.IN_ROOM, tuple(points[0::2]), tuple(points[1::2]), row.source)


def _packed(curve: CurveRecord) -> bytes:
    points = zip(curve.frequency, curve.level, strict=True)
    return _little(array("d", chain.from_iterable(points))).tobytes()


def _little(points: array[float]) -> array[float]:
    if sys.byteorder == "big":
        points.byteswap()
    return points
