"""What units cost, kept as far as the ledger was read: a program that stays reads only the lines that came since.

The lines of a holding follow each other without a gap, so that what came since is what comes after the last one that
was read of each; that one is held to what it was. Where it is not, where a job was merged, or a line comes before what
is settled, all of it is read again.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import Any, Final, NamedTuple
from weakref import WeakKeyDictionary

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Grade, Holding, Job, Movement, MovementKind, SupplierPrice
from triptych.catalog.database.stock_levels import on_server
from triptych.catalog.stock.costs import COSTLY, Costs, Replayed
from triptych.catalog.stock.job_names import JOB, with_job

MOST_KEPT: Final = 200
"""Of how many loudspeakers a catalogue's costs are kept, those asked for last; no source."""

UNSETTLED: Final = 32
"""Before how many of the newest lines another may yet come that got its number earlier, and was written later."""


class ReadUpTo(NamedTuple):
    """The last line of a holding that was read."""

    sequence: int
    digest: str | None


class CostLine(NamedTuple):
    """A line of the ledger by which costs change, with where it stands and what `Replayed` takes of it."""

    holding: int
    sequence: int
    digest: str | None
    speaker: int
    number: int
    kind: MovementKind
    quantity: int
    amount: int | None
    currency: str | None
    serial: str | None
    start: int | None
    undone: int | None
    finish: str
    grade: Grade
    job: int | None


@dataclass(frozen=True, slots=True)
class _Read:
    """A loudspeaker's costs, settled up to a line and with those after it, and where each holding was read to."""

    settled: Replayed = field(default_factory=Replayed)
    upto: int = 0
    rest: Sequence[CostLine] = ()
    ends: Mapping[int, ReadUpTo] = field(default_factory=dict)
    merged: int = 0

    def replayed(self) -> Replayed:
        """Give what all lines come to, with which others may go on."""
        return self.settled.copy().go_on(line[4:] for line in self.rest)

    def follow(self, found: Sequence[CostLine], merged: int) -> _Read | None:
        """Go on with what was found from the ends on; None where that is not what was read before."""
        there = {(line.holding, line.sequence): line.digest for line in found}
        known = all(there.get((holding, end.sequence), "") == end.digest for holding, end in self.ends.items())
        if not known or (self.ends and merged != self.merged):
            return None
        ends, rest = dict(self.ends), list(self.rest)
        for line in found:
            before = self.ends.get(line.holding)
            if before is not None and line.sequence <= before.sequence:
                continue
            if line.number <= self.upto:
                return None
            rest.append(line)
            if line.holding not in ends or line.sequence > ends[line.holding].sequence:
                ends[line.holding] = ReadUpTo(line.sequence, line.digest)
        rest.sort(key=lambda line: line.number)
        if len(rest) <= 2 * UNSETTLED:
            return _Read(self.settled, self.upto, rest, ends, merged)
        old, rest = rest[:-UNSETTLED], rest[-UNSETTLED:]
        return _Read(self.settled.copy().go_on(line[4:] for line in old), old[-1].number, rest, ends, merged)


_KEPT: Final[WeakKeyDictionary[sa.Pool, dict[int, _Read]]] = WeakKeyDictionary()
_NAMED: Final[WeakKeyDictionary[sa.Pool, dict[str, int]]] = WeakKeyDictionary()
_LOCK: Final = threading.Lock()


def costs_of(session: Session, numbers: Collection[int], day: date) -> Costs:
    """Read what units of some loudspeakers cost on a day."""
    connection = session.connection()
    pool, wanted = connection.engine.pool, sorted(set(numbers))
    listed = connection.execute(_SUPPLIER_COSTS, {"numbers": wanted, "day": day})
    by_number = {(number, currency): cost for number, currency, cost in listed}
    query = _since(server=on_server(session))

    def ask(known: str) -> LinesSince:
        found = connection.execute(query, {"numbers": wanted, "known": known}).all()
        return LinesSince([CostLine(*row[:-1]) for row in found], found[0][-1] if found else 0)

    return Costs(taken_in(pool, wanted, ask(known_ends(pool, wanted)), lambda: ask(NOTHING_KNOWN)), by_number)


class LinesSince(NamedTuple):
    """The lines from known ends on, and how many jobs were merged."""

    lines: Sequence[CostLine]
    merged: int


NOTHING_KNOWN: Final = "[]"
"""What is asked with where all lines are wanted."""


def known_ends(pool: sa.Pool, numbers: Iterable[int]) -> str:
    """Tell up to where the holdings of some loudspeakers were read in a catalogue, as a database reads it."""
    with _LOCK:
        kept = dict(_KEPT.get(pool, {}))
    known = (kept[number].ends.items() for number in numbers if number in kept)
    return json.dumps([[holding, end.sequence] for ends in known for holding, end in ends])


def numbers_of(pool: sa.Pool, keys: Iterable[str]) -> list[int]:
    """Give the numbers that loudspeakers had whose costs were read last, by the keys of their names: to be held to."""
    with _LOCK:
        named = _NAMED.get(pool, {})
        return [named[key] for key in keys if key in named]


def taken_in(
    pool: sa.Pool,
    numbers: Sequence[int],
    found: LinesSince,
    again: Callable[[], LinesSince],
    names: Mapping[str, int] | None = None,
) -> dict[int, Replayed]:
    """Give what there is of some loudspeakers by what it cost; `again` gives all lines, where those found don't do."""
    with _LOCK:
        kept = dict(_KEPT.get(pool, {}))
    lines = _by_number(numbers, found.lines)
    read = {number: kept.get(number, _Read()).follow(lines[number], found.merged) for number in numbers}
    if any(one is None for one in read.values()):
        whole = again()
        lines = _by_number(numbers, whole.lines)
        read = {number: _Read().follow(lines[number], whole.merged) for number in numbers}
    known = {number: one or _Read() for number, one in read.items()}
    with _LOCK:
        mine = _KEPT.setdefault(pool, {})
        for number in known:
            # those that are asked for again are the last to go
            mine.pop(number, None)
        mine |= known
        named = _NAMED.setdefault(pool, {})
        named |= names or {}
        for memory in (mine, named):
            _let_go(memory)
    return {number: one.replayed() for number, one in known.items()}


def _let_go(memory: dict[Any, Any]) -> None:
    """Keep the last ones alone."""
    while len(memory) > MOST_KEPT:
        del memory[next(iter(memory))]


def _by_number(wanted: Sequence[int], found: Iterable[CostLine]) -> dict[int, list[CostLine]]:
    lines: dict[int, list[CostLine]] = {number: [] for number in wanted}
    for line in found:
        lines[line.speaker].append(line)
    return lines


@cache
def _since(*, server: bool) -> sa.Select[*tuple[Any, ...]]:
    """Give the query of the lines of some loudspeakers from known ends on, each with how many jobs were merged."""
    text = sa.bindparam("known", type_=sa.String)
    if server:
        each = sa.func.json_array_elements(sa.cast(text, sa.JSON)).table_valued(sa.column("value", sa.JSON))
        holding, sequence = (each.c.value[place].as_integer() for place in (0, 1))
    else:
        each = sa.func.json_each(text).table_valued(sa.column("value", sa.JSON))
        holding, sequence = (sa.func.json_extract(each.c.value, f"$[{place}]") for place in (0, 1))
    known = sa.select(holding.label("holding"), sequence.label("sequence")).subquery()
    merged = sa.select(sa.func.count()).where(Job.merged_into_id.is_not(None)).scalar_subquery()
    said = (Movement.quantity, Movement.amount, Movement.currency, Movement.serial, Movement.from_id)
    query = (
        sa.select(Holding.id, Movement.sequence, Movement.digest, Holding.loudspeaker_id, Movement.id, Movement.kind)
        .add_columns(*said, Movement.undoes_id, Holding.finish_key, Holding.grade, JOB.id, merged)
        .select_from(Holding)
        .outerjoin(known, known.c.holding == Holding.id)
        .join(Movement, Movement.holding_id == Holding.id)
        .where(Holding.loudspeaker_id.in_(sa.bindparam("numbers", expanding=True)))
        .where(Movement.sequence >= sa.func.coalesce(known.c.sequence, 1), Movement.kind.in_(COSTLY))
    )
    return with_job(query, Movement.job_id, outer=True)


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
