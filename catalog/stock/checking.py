"""Proof of the invariants from the ledger alone: read line by line, believing none of its totals."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from catalog.models import Holding, Movement, Price, Reservation, SupplierPrice
from catalog.models.stock import INTO, OUT_OF

SHOWN: Final = 5
"""How many breaches of one invariant are told."""

_INTO: Final = frozenset(kind.value for kind in INTO)
_OUT_OF: Final = frozenset(kind.value for kind in OUT_OF)


@dataclass(frozen=True, slots=True)
class Finding:
    """One invariant: whether it holds, over how many lines, and the first breaches."""

    invariant: str
    holds: bool
    checked: int
    breaches: tuple[str, ...]


@dataclass(slots=True)
class _Tally:
    """Breaches of one invariant."""

    invariant: str
    checked: int = 0
    breaches: list[str] = field(default_factory=list)

    def see(self, holds: bool, breach: str) -> None:
        """Count one look at it."""
        self.checked += 1
        if not holds:
            self.breaches.append(breach)

    def finding(self) -> Finding:
        return Finding(self.invariant, not self.breaches, self.checked, tuple(self.breaches[:SHOWN]))


@dataclass(slots=True)
class _Replay:
    """A holding as the lines so far make it."""

    on_hand: int = 0
    sequence: int = 0
    open: dict[int, tuple[int, datetime]] = field(default_factory=dict)

    def reserved(self, now: datetime) -> int:
        """Forget what has lapsed, and give what is reserved."""
        for number in [number for number, (rest, until) in self.open.items() if until <= now or rest == 0]:
            del self.open[number]
        return sum(rest for rest, _ in self.open.values())


_COLUMNS: Final = (
    "id",
    "holding_id",
    "loudspeaker_id",
    "sequence",
    "kind",
    "quantity",
    "on_hand",
    "job_id",
    "until",
    "reservation_id",
    "from_id",
    "to_holding_id",
    "serial",
    "serial_sequence",
    "at",
)


def check(session: Session) -> list[Finding]:
    """Prove every invariant of the stock from the ledger, and of the prices from their dates."""
    table = Movement.__table__.columns
    # by holding: on a server a line that got its number later can have come first
    query = sa.select(*(table[name] for name in _COLUMNS)).order_by(Movement.holding_id, Movement.sequence)
    chained = [dict(row) for row in session.execute(query).mappings()]
    for line in chained:
        line["kind"] = line["kind"].value
    lines = sorted(chained, key=lambda line: int(line["id"]))
    return [
        *_totals(chained),
        _serials(sorted((line for line in lines if line["serial"] is not None), key=_by_serial)),
        _reservations(lines),
        _left(session, lines),
        _transfers(lines),
        _prices(session),
    ]


def _by_serial(line: dict[str, Any]) -> tuple[int, str, int]:
    return line["loudspeaker_id"], line["serial"], line["serial_sequence"]


def _effect(line: dict[str, Any]) -> int:
    quantity = int(line["quantity"])
    return quantity if line["kind"] in _INTO else -quantity if line["kind"] in _OUT_OF else 0


def _totals(lines: Iterable[dict[str, Any]]) -> list[Finding]:
    sums = _Tally("movements sum to on hand, which is never below zero")
    chain = _Tally("the lines of a holding follow each other without a gap")
    promised = _Tally("reserved never exceeds on hand")
    held: defaultdict[int, _Replay] = defaultdict(_Replay)
    for line in lines:
        there = held[line["holding_id"]]
        there.on_hand += _effect(line)
        there.sequence += 1
        sums.see(there.on_hand == line["on_hand"] >= 0, f"line {line['id']}: {line['on_hand']}, not {there.on_hand}")
        chain.see(there.sequence == line["sequence"], f"line {line['id']}: {line['sequence']}, not {there.sequence}")
        _promise(there, line)
        reserved = there.reserved(line["at"])
        promised.see(reserved <= there.on_hand, f"line {line['id']}: {reserved} reserved, {there.on_hand} on hand")
    return [sums.finding(), chain.finding(), promised.finding()]


def _promise(there: _Replay, line: dict[str, Any]) -> None:
    if line["kind"] == "reserve" and line["until"] is not None:
        there.open[line["id"]] = (line["quantity"], line["until"])
    ended = there.open.get(line["reservation_id"])
    if ended is not None:
        there.open[line["reservation_id"]] = (ended[0] - line["quantity"], ended[1])


def _serials(lines: Iterable[dict[str, Any]]) -> Finding:
    tally = _Tally("a serial is in one place")
    places: dict[tuple[int, str], int | None] = {}
    for line in lines:
        effect = _effect(line)
        if effect == 0:
            continue
        key = (line["loudspeaker_id"], line["serial"])
        was = places.get(key)
        right = was is None if effect > 0 else was == line["holding_id"]
        tally.see(right, f"line {line['id']}: serial {line['serial']!r}")
        places[key] = line["holding_id"] if effect > 0 else None
    return tally.finding()


def _reservations(lines: Iterable[dict[str, Any]]) -> Finding:
    tally = _Tally("every reservation has a job and an expiry, and ends no more than it held")
    rest: dict[int, int] = {}
    for line in lines:
        if line["kind"] == "reserve":
            whole = line["job_id"] is not None and line["until"] is not None
            tally.see(whole, f"line {line['id']}: without a job or an expiry")
            rest[line["id"]] = line["quantity"]
        elif line["reservation_id"] is not None:
            number = line["reservation_id"]
            rest[number] = rest.get(number, 0) - line["quantity"]
            tally.see(rest[number] >= 0, f"line {line['id']}: ends more than reservation {number} held")
    return tally.finding()


def _left(session: Session, lines: Iterable[dict[str, Any]]) -> Finding:
    tally = _Tally("what is left of each reservation is what the ledger says")
    rest: dict[int, int] = {}
    for line in lines:
        if line["kind"] == "reserve":
            rest[line["id"]] = line["quantity"]
        elif line["reservation_id"] in rest:
            rest[line["reservation_id"]] -= line["quantity"]
    stored = {row[0]: row[1] for row in session.execute(sa.select(Reservation.movement_id, Reservation.rest))}
    for number in sorted(rest.keys() | stored.keys()):
        said, found = rest.get(number), stored.get(number)
        tally.see(said == found, f"reservation {number}: {found}, not {said}")
    return tally.finding()


def _transfers(lines: Iterable[dict[str, Any]]) -> Finding:
    tally = _Tally("no more arrives than was sent, and it arrives where it was sent")
    sent: dict[int, tuple[int, int | None]] = {}
    for line in lines:
        if line["to_holding_id"] is not None:
            sent[line["id"]] = (line["quantity"], line["to_holding_id"])
        if line["from_id"] is not None:
            rest, goal = sent.get(line["from_id"], (0, None))
            right = rest >= line["quantity"] and goal == line["holding_id"]
            tally.see(right, f"line {line['id']}: {line['quantity']} of {rest}")
            sent[line["from_id"]] = (rest - line["quantity"], goal)
    return tally.finding()


def _prices(session: Session) -> Finding:
    tally = _Tally("prices of one time never overlap")
    for table, owners in ((Price, ("loudspeaker_id",)), (SupplierPrice, ("supplier_id", "loudspeaker_id"))):
        columns = [table.__table__.columns[name] for name in (*owners, "valid_from", "valid_to")]
        ended: dict[tuple[int, ...], date] = {}
        for *owner, start, end in session.execute(sa.select(*columns).order_by(*columns[:-1])):
            key = tuple(owner)
            tally.see(ended.get(key, start) <= start, f"{table.__tablename__} of {key} from {start}")
            ended[key] = end or date.max
    return tally.finding()


def on_hand_by_replay(session: Session) -> dict[int, int]:
    """Give what is on hand by holding as the movements sum to it; nothing but their kinds and quantities is read."""
    totals: defaultdict[int, int] = defaultdict(int)
    for holding, kind, quantity in session.execute(
        sa.select(Movement.holding_id, Movement.kind, Movement.quantity).join(
            Holding, Holding.id == Movement.holding_id
        )
    ):
        totals[holding] += _effect({"kind": kind.value, "quantity": quantity})
    return dict(totals)
