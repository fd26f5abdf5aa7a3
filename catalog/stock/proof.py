"""Proof of the invariants from the ledger alone: read line by line, believing none of its totals."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import (
    Holding,
    LedgerEnd,
    Movement,
    Price,
    Quote,
    QuoteLine,
    QuoteState,
    Reservation,
    SupplierPrice,
    every_table,
)
from triptych.catalog.database.models.base import UtcTime
from triptych.catalog.database.stock_levels import on_server
from triptych.catalog.stock import proof_lines as ledger
from triptych.catalog.stock.digests import HOLDING
from triptych.catalog.stock.proof_guards import guards_stand
from triptych.catalog.stock.proof_lines import Finding, Tally
from triptych.catalog.stock.proof_names import found_by_name, lent
from triptych.catalog.stock.proof_rows import untouched
from triptych.catalog.stock.proof_signed import as_signed, at_quoted_prices, sealed
from triptych.catalog.stock.real_times import if_real, is_real

_COLUMNS: Final = (
    "id",
    "holding_id",
    "loudspeaker_id",
    "sequence",
    "quantity",
    "effect",
    "on_hand",
    "tracked",
    "job_id",
    "reservation_id",
    "from_id",
    "to_holding_id",
    "quote_id",
    "serial",
    "serial_sequence",
    "order_id",
    "amount",
    "currency",
    "who",
    "note",
    "digest",
    "undoes_id",
    "carries_id",
    "deed_number",
)


def check(session: Session) -> list[Finding]:
    """Prove every invariant of the stock from the ledger, of the prices from their dates, and that the guards stand."""
    whole = _whole(session)
    if whole is not None and not whole.holds:
        # what else is read from it proves nothing
        return [whole]
    chained = _chained(session)
    lines = sorted(chained, key=lambda line: int(line["id"]))
    holdings = _holdings(session)
    grades = {number: str(one["grade"]) for number, one in holdings.items()}
    found = session.execute(sa.select(LedgerEnd.holding_id, LedgerEnd.sequence, LedgerEnd.digest))
    ends = {number: (sequence, digest) for number, sequence, digest in found}
    return [
        *ledger.totals(chained),
        ledger.quarantine(lines, grades),
        ledger.serials(lines),
        ledger.reservations(lines),
        ledger.carried(lines),
        _left(session, ledger.left_by_ledger(lines)),
        _as_made(session),
        ledger.transfers(lines),
        ledger.as_written(chained, holdings, server=on_server(session)),
        ledger.ended(chained, ends),
        _quotes(session, ledger.promised_by_quote(lines)),
        at_quoted_prices(session),
        as_signed(session),
        sealed(session),
        untouched(session),
        found_by_name(session),
        lent(session),
        _prices(session),
        _instants(session),
        _parents(session),
        guards_stand(session),
        *([whole] if whole is not None else []),
    ]


_OF_PAGES: Final = ("page", "tree", "index", "malformed", "freelist")
"""Words in what SQLite says of damaged pages."""


def _whole(session: Session) -> Finding | None:
    """Find damaged pages of a SQLite file; a server looks after its own."""
    if on_server(session):
        return None
    tally = Tally("the file is whole, page by page")
    tally.checked = 1
    try:
        found = session.scalars(sa.text("PRAGMA integrity_check")).all()
        # what a row says that it must not, other invariants tell
        tally.breaches += [line for line in found if any(word in line.casefold() for word in _OF_PAGES)]
    except sa.exc.DatabaseError as problem:  # it can be too far gone to be looked through
        tally.breaches.append(str(problem.orig))
    return tally.finding()


def _raw(column: Any) -> sa.ColumnElement[str]:
    """Give an enum as it is stored, which could be any text where somebody went past the database's checks."""
    return sa.type_coerce(column, sa.String)


def _holdings(session: Session) -> dict[int, dict[str, Any]]:
    """What the digests of a holding's lines say of it."""
    columns = (Holding.location_id, _raw(Holding.grade), Holding.pack, Holding.finish_key)
    found = session.execute(sa.select(Holding.id, *columns))
    return {number: dict(zip(HOLDING, row, strict=True)) for number, *row in found}


def _chained(session: Session) -> list[dict[str, Any]]:
    """Read the ledger by holding: on a server a line that got its number later can have come first."""
    table = Movement.__table__.columns
    times = (if_real(session, Movement, name).label(name) for name in ("at", "until"))
    columns = (*(table[name] for name in _COLUMNS), _raw(table["kind"]).label("kind"), *times)
    found = session.execute(sa.select(*columns).order_by(Movement.holding_id, Movement.sequence))
    names = tuple(found.keys())
    return [dict(zip(names, row, strict=True)) for row in found]


def _left(session: Session, rest: Mapping[int, int]) -> Finding:
    tally = Tally("what is left of each reservation is what the ledger says")
    stored = {row[0]: row[1] for row in session.execute(sa.select(Reservation.movement_id, Reservation.rest))}
    for number in sorted(rest.keys() | stored.keys()):
        said, found = rest.get(number), stored.get(number)
        tally.see(said == found, f"reservation {number}: {found}, not {said}")
    return tally.finding()


def _as_made(session: Session) -> Finding:
    tally = Tally("each reservation holds what its line says: where, until when, which serial")
    differs = {name: getattr(Reservation, name).is_distinct_from(getattr(Movement, name)) for name in _HELD}
    query = (
        sa.select(Reservation.movement_id, *differs.values())
        .outerjoin(Movement, Movement.id == Reservation.movement_id)
        .order_by(Reservation.movement_id)
    )
    for number, *wrong in session.execute(query):
        names = [name for name, other in zip(_HELD, wrong, strict=True) if other]
        tally.see(not names, f"reservation {number}: another {', '.join(names)} than line {number}")
    return tally.finding()


_HELD: Final = ("holding_id", "until", "serial")


def _quotes(session: Session, promised: Mapping[int, Mapping[int, int]]) -> Finding:
    """Prove that quotes have all their lines and no more, and that what was promised of one is what it says."""
    tally = Tally("a quote has the lines it was made with, and they are what was promised of it")
    said: defaultdict[int, defaultdict[int, int]] = defaultdict(lambda: defaultdict(int))
    counts: defaultdict[int, int] = defaultdict(int)
    for number, speaker, units in session.execute(
        sa.select(QuoteLine.quote_id, QuoteLine.loudspeaker_id, QuoteLine.quantity)
    ):
        said[number][speaker] += units
        counts[number] += 1
    firm = (QuoteState.ACCEPTED.value, QuoteState.SOLD.value)
    for number, state, lines in session.execute(sa.select(Quote.id, _raw(Quote.state), Quote.lines)):
        tally.see(lines in (None, counts[number]), f"quote {number}: {counts[number]} lines, not {lines}")
        if number in promised or state in firm:
            wrong = _different(said[number], promised.get(number, {}))
            tally.see(not wrong, f"quote {number}: {' and '.join(wrong)}")
    return tally.finding()


def _different(said: Mapping[int, int], promised: Mapping[int, int]) -> Sequence[str]:
    return [
        f"{promised.get(speaker, 0)} of loudspeaker {speaker} were promised, not {said.get(speaker, 0)}"
        for speaker in sorted(said.keys() | promised.keys())
        if said.get(speaker, 0) != promised.get(speaker, 0)
    ]


def _prices(session: Session) -> Finding:
    tally = Tally("prices of one time never overlap")
    for table, owners in ((Price, ("loudspeaker_id",)), (SupplierPrice, ("supplier_id", "loudspeaker_id"))):
        columns = table.__table__.columns
        start, end = (if_real(session, table, name) for name in ("valid_from", "valid_to"))
        keys = [columns[name] for name in owners]
        # what is no day is a finding of its own
        query = sa.select(*keys, start, end).where(start.is_not(None)).order_by(*keys, columns["valid_from"])
        ended: dict[tuple[int, ...], date] = {}
        for *owner, first, last in session.execute(query):
            key = tuple(owner)
            tally.see(ended.get(key, first) <= first, f"{table.__tablename__} of {key} from {first}")
            ended[key] = last or date.max
    return tally.finding()


def _instants(session: Session) -> Finding:
    """Find instants and days that are none."""
    tally = Tally("every instant and day is a real one")
    for table, times in _times():
        known = [sa.func.count(column) for column in times]
        wrong = [sa.func.count(sa.case((~is_real(session, column), 1))) for column in times]
        counted = session.execute(sa.select(*known, *wrong).select_from(table)).one()
        tally.checked += sum(counted[: len(times)])
        for column in itertools.compress(times, counted[len(times) :]):
            tally.breaches.extend(_unreal(session, table, column))
    return tally.finding()


def _unreal(session: Session, table: sa.Table, column: sa.Column[Any]) -> Iterator[str]:
    """Tell the rows of a table in which an instant or a day is none."""
    raw = sa.type_coerce(column, sa.String) if not on_server(session) else sa.cast(column, sa.String)
    query = sa.select(*table.primary_key, raw.label("raw")).where(column.is_not(None), ~is_real(session, column))
    for *key, text in session.execute(query.order_by(*table.primary_key)):
        yield f"{table.name} {'-'.join(map(str, key))}: {column.name} {str(text)[:40]!r}"


def _times() -> Iterator[tuple[sa.Table, list[sa.Column[Any]]]]:
    for _, table in sorted(every_table().tables.items()):
        times = [column for column in table.columns if isinstance(column.type, UtcTime | sa.DateTime | sa.Date)]
        if times:
            yield table, times


def _parents(session: Session) -> Finding:
    """Find rows that name one which is not there."""
    tally = Tally("every row that another one names is there")
    tables = [table for _, table in sorted(every_table().tables.items()) if table.foreign_keys]
    counts = (sa.select(sa.func.count()).select_from(table).scalar_subquery() for table in tables)
    tally.checked = sum(session.execute(sa.select(*counts)).one())
    if not on_server(session):
        for child, number, parent, _ in session.execute(sa.text("PRAGMA foreign_key_check")):
            tally.breaches.append(f"{child} {number}: its {parent} is not there")
    else:
        for table in tables:
            tally.breaches.extend(_orphans(session, table))
    return tally.finding()


def _orphans(session: Session, table: sa.Table) -> Iterator[str]:
    """Look for each parent: on PostgreSQL not every row is held by a constraint, and one can be dropped."""
    for constraint in sorted(table.foreign_key_constraints, key=lambda one: str(one.name)):
        parent = constraint.referred_table.alias()
        pairs = [(element.parent, parent.columns[element.column.name]) for element in constraint.elements]
        there = sa.exists().where(*(ours == theirs for ours, theirs in pairs))
        known = (ours.is_not(None) for ours, _ in pairs)
        query = sa.select(*table.primary_key).where(*known, ~there).order_by(*table.primary_key)
        for key in session.execute(query):
            yield f"{table.name} {'-'.join(map(str, key))}: its {constraint.referred_table.name} is not there"
