"""Proof of the invariants from the ledger alone: read line by line, believing none of its totals."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import (
    Holding,
    Movement,
    Price,
    Quote,
    QuoteLine,
    QuoteState,
    Reservation,
    SupplierPrice,
)
from triptych.catalog.stock import checking_database as database
from triptych.catalog.stock import checking_lines as ledger
from triptych.catalog.stock.checking_tallies import Finding, Tally

__all__ = ["Finding", "check", "on_hand_by_replay"]

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
)


def check(session: Session) -> list[Finding]:
    """Prove every invariant of the stock from the ledger, of the prices from their dates, and that the guards stand."""
    chained = _chained(session)
    lines = sorted(chained, key=lambda line: int(line["id"]))
    grades = {row[0]: row[1] for row in session.execute(sa.select(Holding.id, _raw(Holding.grade)))}
    return [
        *ledger.totals(chained),
        ledger.quarantine(lines, grades),
        ledger.serials(lines),
        ledger.reservations(lines),
        _left(session, ledger.left_by_ledger(lines)),
        _as_made(session),
        ledger.transfers(lines),
        _quotes(session, ledger.promised_by_quote(lines)),
        _prices(session),
        database.instants(session),
        database.parents(session),
        database.guards(session),
    ]


def _raw(column: Any) -> sa.ColumnElement[str]:
    """Give an enum as it is stored, which could be any text where somebody went past the database's checks."""
    return sa.type_coerce(column, sa.String)


def _chained(session: Session) -> list[dict[str, Any]]:
    """Read the ledger by holding: on a server a line that got its number later can have come first."""
    table = Movement.__table__.columns
    times = (database.if_real(session, Movement, name).label(name) for name in ("at", "until"))
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
        start, end = (database.if_real(session, table, name) for name in ("valid_from", "valid_to"))
        keys = [columns[name] for name in owners]
        # what is no day is a finding of its own
        query = sa.select(*keys, start, end).where(start.is_not(None)).order_by(*keys, columns["valid_from"])
        ended: dict[tuple[int, ...], date] = {}
        for *owner, first, last in session.execute(query):
            key = tuple(owner)
            tally.see(ended.get(key, first) <= first, f"{table.__tablename__} of {key} from {first}")
            ended[key] = last or date.max
    return tally.finding()


def on_hand_by_replay(session: Session) -> dict[int, int]:
    """Give what is on hand by holding as the movements sum to it; nothing but their kinds and quantities is read."""
    totals: defaultdict[int, int] = defaultdict(int)
    for holding, kind, quantity in session.execute(
        sa.select(Movement.holding_id, _raw(Movement.kind), Movement.quantity)
    ):
        totals[holding] += ledger.effect_of(kind, quantity)
    return dict(totals)
