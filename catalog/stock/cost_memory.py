"""What units cost, kept as far as the ledger was read: a program that stays reads only the lines that came since.

What is kept is held to the ledger each time: as many lines as were read, and the last of them as it was. Where another
wrote a line with a lower number meanwhile, a job was merged, or another ledger is there, all of it is read again.
"""

from __future__ import annotations

import threading
from collections.abc import Collection
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cache
from typing import Any, Final
from weakref import WeakKeyDictionary

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Holding, Job, Movement, SupplierPrice
from triptych.catalog.stock.costs import Costs, Replayed, all_moves

MOST_KEPT: Final = 200
"""Of how many loudspeakers a catalogue's costs are kept, those asked for last; no source."""


@dataclass(slots=True)
class _Read:
    """A loudspeaker's costs, up to a line: how many lines were read, the number and the digest of the last of them."""

    replayed: Replayed = field(default_factory=Replayed)
    lines: int = 0
    last: int = 0
    digest: str | None = None
    merged: int = 0


_KEPT: Final[WeakKeyDictionary[sa.Pool, dict[int, _Read]]] = WeakKeyDictionary()
_LOCK: Final = threading.Lock()


def costs_of(session: Session, numbers: Collection[int], day: date) -> Costs:
    """Read what units of some loudspeakers cost on a day."""
    values = {"numbers": sorted(set(numbers)), "day": day}
    listed = session.connection().execute(_SUPPLIER_COSTS, values)
    by_number = {(number, currency): cost for number, currency, cost in listed}
    return Costs(_remembered(session, values["numbers"]), by_number)


def _remembered(session: Session, numbers: Any) -> dict[int, Replayed]:
    with _LOCK:
        kept = _KEPT.setdefault(session.connection().engine.pool, {})
        known = {number: kept.pop(number, _Read()) for number in numbers}
    lines, merged = _counted(session, numbers)
    found = _follow(session, known, lines, merged)
    if found is None:
        found = _follow(session, {number: _Read() for number in numbers}, lines, merged)
    if found is None:
        # others write meanwhile, and nothing holds the ledger as it is: what was read is true of its moment
        found = _follow(session, {number: _Read() for number in numbers}, None, merged)
    with _LOCK:
        kept.update(found or {})
        while len(kept) > MOST_KEPT:
            del kept[next(iter(kept))]
    return {number: _copied(one.replayed) for number, one in (found or {}).items()}


def _follow(
    session: Session, known: dict[int, _Read], lines: dict[int, int] | None, merged: int
) -> dict[int, _Read] | None:
    """Read what came after what is known; None where that is not what the ledger holds, or not all of it."""
    since = min(one.last for one in known.values())
    seen: dict[int, list[Any]] = {number: [] for number in known}
    values = {"numbers": sorted(known), "since": since}
    for speaker, *line, digest in session.connection().execute(_since(), values):
        if line[0] >= known[speaker].last:
            seen[speaker].append((line, digest))
    for number, one in known.items():
        new = seen[number]
        if one.last:
            if not new or new[0][0][0] != one.last or new[0][1] != one.digest or one.merged != merged:
                return None
            del new[0]
        if lines is not None and one.lines + len(new) != lines.get(number, 0):
            return None
    for number, one in known.items():
        new = seen[number]
        one.replayed.go_on(line for line, _ in new)
        one.lines, one.merged = one.lines + len(new), merged
        if new:
            one.last, one.digest = new[-1][0][0], new[-1][1]
    return known


def _counted(session: Session, numbers: Any) -> tuple[dict[int, int], int]:
    """Give how many lines each loudspeaker has, and how many jobs were merged."""
    found = session.connection().execute(_lines(), {"numbers": numbers}).all()
    return {number: int(lines or 0) for number, lines, _ in found}, int(found[0][2]) if found else 0


@cache
def _lines() -> sa.Select[*tuple[Any, ...]]:
    # the lines of a holding count from 1
    newest = sa.select(sa.func.max(Movement.sequence)).where(Movement.holding_id == Holding.id).correlate(Holding)
    merged = sa.select(sa.func.count()).where(Job.merged_into_id.is_not(None)).scalar_subquery()
    return (
        sa.select(Holding.loudspeaker_id, sa.func.sum(newest.scalar_subquery()), merged)
        .where(Holding.loudspeaker_id.in_(sa.bindparam("numbers", expanding=True)))
        .group_by(Holding.loudspeaker_id)
    )


@cache
def _since() -> sa.Select[*tuple[Any, ...]]:
    return all_moves().add_columns(Movement.digest).where(Movement.id >= sa.bindparam("since"))


def _copied(one: Replayed) -> Replayed:
    """Give what is there, which nobody else goes on with."""
    found = Replayed()
    for sort, layers in one.there.items():
        found.there[sort] = [replace(layer) for layer in layers]
    return found


_SUPPLIER_COSTS: Final = (
    sa.select(SupplierPrice.loudspeaker_id, SupplierPrice.currency, sa.func.min(SupplierPrice.cost))
    .where(
        SupplierPrice.loudspeaker_id.in_(sa.bindparam("numbers", expanding=True)),
        SupplierPrice.cost.is_not(None),
        SupplierPrice.valid_from <= sa.bindparam("day"),
        sa.or_(SupplierPrice.valid_to.is_(None), SupplierPrice.valid_to > sa.bindparam("day")),
    )
    .group_by(SupplierPrice.loudspeaker_id, SupplierPrice.currency)
)
