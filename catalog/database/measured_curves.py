"""Measured curves in the database: stored, read, removed. Whatever changes gives the loudspeaker its next revision."""

from __future__ import annotations

import math
import sys
from array import array
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import chain
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import profiles, reads
from triptych.catalog.database.columns import Columns, read_columns
from triptych.catalog.database.models import Curve, Loudspeaker, Source
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.records import CurveKind, CurveRecord

POINT: Final = 3
"""Figures to a raw point: frequency, level, phase."""

BAND_COLUMNS: Final = ("id", "kind", "angle", "version", "bands")
"""The columns of `bands`."""


@dataclass(frozen=True, slots=True)
class Prepared:
    """A curve with what the physics made of it: levels on a logarithmic grid and in the ear's bands, as floats."""

    record: CurveRecord
    version: int
    per_octave: int
    grid_first: int
    grid: bytes
    bands: bytes


@dataclass(frozen=True, slots=True)
class StoredCurve(Prepared):
    """A curve as the database has it."""

    added_at: datetime


@dataclass(frozen=True, slots=True)
class SavedCurves:
    """What became of the curves."""

    added: int = 0
    changed: int = 0
    unchanged: int = 0


Place = tuple[CurveKind, float | None]
"""What a loudspeaker has one curve of: kind and angle."""


def place(record: CurveRecord) -> Place:
    """Kind and angle of a curve."""
    return record.kind, record.angle


def save_curves(session: Session, name: str, prepared: Sequence[Prepared]) -> SavedCurves:
    """Add curves to a loudspeaker; one of the same kind and angle is replaced.

    Raises
    ------
    NotFound
        No loudspeaker has that name; the nearest are told.
    BadInput
        Two of the curves have one kind and angle. Nothing was written.
    """
    by_place: dict[Place, Prepared] = {}
    for one in prepared:
        if place(one.record) in by_place:
            other = by_place[place(one.record)].record.source
            raise BadInput(f"{one.record.source} and {other}: both are {words(one.record)}; leave one of the two")
        by_place[place(one.record)] = one
    number = reads.stored(session, name).id
    known = {place(found.record): found for found in _curves(session, number)}
    changed = [key for key, one in by_place.items() if key in known and not _same(known[key], one)]
    added = [key for key in by_place if key not in known]
    _delete(session, number, changed)
    _insert(session, number, [by_place[key] for key in (*added, *changed)])
    if added or changed:
        _next_revision(session, number)
    return SavedCurves(len(added), len(changed), len(by_place) - len(added) - len(changed))


def curves(session: Session, name: str) -> list[StoredCurve]:
    """Give the curves of a loudspeaker, in order of kind and angle.

    Raises
    ------
    NotFound
        No loudspeaker has that name; the nearest are told.
    """
    return _curves(session, reads.stored(session, name).id)


def remove_curves(session: Session, name: str, kind: CurveKind | None = None, angle: float | None = None) -> int:
    """Remove the curves of a loudspeaker, or those of one kind, or one of them; give how many.

    Raises
    ------
    NotFound
        There is no such loudspeaker, or it has no such curve.
    """
    found = reads.stored(session, name)
    wanted = [
        place(one.record)
        for one in _curves(session, found.id)
        if kind in (None, one.record.kind) and (angle is None or one.record.angle == angle)
    ]
    if not wanted:
        which = f"{kind.value if kind else ''} {'' if angle is None else f'{angle:g} deg'}".strip()
        raise NotFound(
            f"{found.record.name} has no curve{f' of {which}' if which else ''}; triptych curve list shows all"
        )
    _delete(session, found.id, wanted)
    _next_revision(session, found.id)
    return len(wanted)


def bands(session: Session, ids: Sequence[int] | None = None) -> Columns:
    """Give what the criteria need of all curves: `id` of the loudspeaker, `kind`, `angle`, `version`, `bands`."""
    table = Curve
    query = sa.select(table.loudspeaker_id, table.kind, table.angle, table.version, table.bands)
    query = query.order_by(table.loudspeaker_id, table.kind, table.angle)
    if ids is None:
        return read_columns(session, BAND_COLUMNS, query)
    columns: Columns = {name: [] for name in BAND_COLUMNS}
    for part in reads.chunks(sorted(set(ids))):
        for name, column in read_columns(session, BAND_COLUMNS, query.where(table.loudspeaker_id.in_(part))).items():
            columns[name] += column
    return columns


def by_number(session: Session, number: int) -> list[StoredCurve]:
    """Give the curves of the loudspeaker of that number, in order of kind and angle."""
    return _curves(session, number)


def words(record: CurveRecord) -> str:
    """Name what a curve is: kind and angle."""
    return record.kind.value if record.angle is None else f"{record.kind.value} {record.angle:g} deg"


def _curves(session: Session, number: int) -> list[StoredCurve]:
    query = sa.select(Curve.__table__, Source.name.label("source")).join(Source, Source.id == Curve.source_id)
    rows = session.execute(query.where(Curve.loudspeaker_id == number)).mappings()
    order = {kind: position for position, kind in enumerate(CurveKind)}
    found = [_stored(row) for row in rows]
    return sorted(found, key=lambda one: (order[one.record.kind], one.record.angle or 0.0))


def _stored(row: sa.RowMapping) -> StoredCurve:
    raw = _doubles(row["raw"])
    phase = tuple(raw[2::POINT])
    record = CurveRecord(
        kind=row["kind"],
        frequency=tuple(raw[0::POINT]),
        level=tuple(raw[1::POINT]),
        source=row["source"],
        angle=row["angle"],
        phase=None if any(map(math.isnan, phase)) else phase,
        smoothing=row["smoothing"],
        measured_on=row["measured_on"],
        evidence=row["evidence"],
    )
    parts = (row[name] for name in ("version", "per_octave", "grid_first", "grid", "bands", "added_at"))
    return StoredCurve(record, *parts)


def _same(old: StoredCurve, new: Prepared) -> bool:
    return old.record == new.record and old.version == new.version


def _doubles(packed: bytes) -> array[float]:
    found = array("d")
    found.frombytes(packed)
    return _little(found)


def _little(found: array[float]) -> array[float]:
    if sys.byteorder == "big":
        found.byteswap()
    return found


def _packed(record: CurveRecord) -> bytes:
    phase: Iterable[float] = record.phase or (math.nan for _ in record.frequency)
    points = zip(record.frequency, record.level, phase, strict=True)
    return _little(array("d", chain.from_iterable(points))).tobytes()


def _insert(session: Session, number: int, prepared: Sequence[Prepared]) -> None:
    from triptych.catalog.database.writes import source_numbers

    sources = source_numbers(session, (one.record.source for one in prepared))
    now = datetime.now(UTC)
    rows: list[dict[str, Any]] = [
        {
            "loudspeaker_id": number,
            "source_id": sources[one.record.source],
            "added_at": now,
            "raw": _packed(one.record),
            **{name: getattr(one.record, name) for name in ("kind", "angle", "evidence", "smoothing", "measured_on")},
            **{name: getattr(one, name) for name in ("version", "per_octave", "grid_first", "grid", "bands")},
        }
        for one in prepared
    ]
    if rows:
        session.connection().execute(sa.insert(Curve), rows)


def _delete(session: Session, number: int, places: Iterable[Place]) -> None:
    for kind, angle in places:
        at = Curve.angle.is_(None) if angle is None else Curve.angle == angle
        session.execute(sa.delete(Curve).where(Curve.loudspeaker_id == number, Curve.kind == kind, at))


def _next_revision(session: Session, number: int) -> None:
    profiles.keep_profiles(session, Loudspeaker.id == number)
    session.execute(sa.update(Loudspeaker).where(Loudspeaker.id == number).values(revision=Loudspeaker.revision + 1))
