"""The invariants of the ledger's lines: replayed one by one, believing none of their totals."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from heapq import heappop, heappush
from typing import Any, Final

from triptych.catalog.database.models import Grade, MovementKind
from triptych.catalog.database.models.ledger_tables import INTO, OUT_OF
from triptych.catalog.stock.digests import digest_of

BREACHES_TOLD: Final = 5
"""How many breaches of one invariant are told."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One invariant: whether it holds, over how many lines, and the first breaches."""

    invariant: str
    holds: bool
    checked: int
    breaches: tuple[str, ...]


@dataclass(slots=True)
class Tally:
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
        """Give what it comes to."""
        return Finding(self.invariant, not self.breaches, self.checked, tuple(self.breaches[:BREACHES_TOLD]))


Row = Mapping[str, Any]
"""A line of the ledger by column; an instant that is none is None."""

_INTO: Final = frozenset(kind.value for kind in INTO)
_OUT_OF: Final = frozenset(kind.value for kind in OUT_OF)
_RESERVE: Final = MovementKind.RESERVE.value
_PROMISES: Final = frozenset((_RESERVE, MovementKind.SELL.value))


def effect_of(kind: str, quantity: int) -> int:
    """Give what a movement adds to what is on hand."""
    return quantity if kind in _INTO else -quantity if kind in _OUT_OF else 0


@dataclass(slots=True)
class _Replay:
    """A holding as the lines so far make it."""

    on_hand: int = 0
    tracked: int = 0
    sequence: int = 0
    reserved: int = 0
    at: datetime | None = None
    open: dict[int, int] = field(default_factory=dict)
    ends: list[tuple[datetime, int]] = field(default_factory=list)

    def add(self, line: Row) -> None:
        """Take one more line."""
        effect = effect_of(line["kind"], line["quantity"])
        self.on_hand += effect
        self.tracked += 0 if line["serial"] is None else effect
        self.sequence += 1
        self.at = line["at"] or self.at
        if line["kind"] == _RESERVE and line["until"] is not None:
            self._hold(line["id"], line["quantity"])
            heappush(self.ends, (line["until"], line["id"]))
        if line["reservation_id"] in self.open:
            self._hold(line["reservation_id"], -line["quantity"])
        while self.ends and self.at is not None and self.ends[0][0] <= self.at:
            self._lapse(heappop(self.ends)[1])

    def _hold(self, number: int, units: int) -> None:
        self.open[number] = self.open.get(number, 0) + units
        self.reserved += units

    def _lapse(self, number: int) -> None:
        self.reserved -= self.open.pop(number)


def totals(lines: Iterable[Row]) -> list[Finding]:
    """Prove the running totals; lines come by holding, in order of their sequence."""
    sums = Tally("movements sum to on hand, which is never below zero")
    chain = Tally("the lines of a holding follow each other without a gap")
    promised = Tally("reserved never exceeds on hand")
    effects = Tally("each movement has the effect of its kind")
    tracked = Tally("movements with a serial sum to what is tracked, never more than on hand")
    held: defaultdict[int, _Replay] = defaultdict(_Replay)
    for line in lines:
        there, name = held[line["holding_id"]], f"line {line['id']}"
        there.add(line)
        effect = effect_of(line["kind"], line["quantity"])
        sums.see(there.on_hand == line["on_hand"] >= 0, f"{name}: {line['on_hand']}, not {there.on_hand}")
        chain.see(there.sequence == line["sequence"], f"{name}: {line['sequence']}, not {there.sequence}")
        effects.see(effect == line["effect"], f"{name}: {line['effect']} of a {line['kind']}, not {effect}")
        right = there.tracked == line["tracked"] and 0 <= there.tracked <= there.on_hand
        tracked.see(right, f"{name}: {line['tracked']}, not {there.tracked} of {there.on_hand}")
        enough = there.reserved <= there.on_hand
        promised.see(enough, f"{name}: {there.reserved} reserved, {there.on_hand} on hand")
    return [one.finding() for one in (sums, chain, promised, effects, tracked)]


def quarantine(lines: Iterable[Row], grades: Mapping[int, str]) -> Finding:
    """Prove that nothing in quarantine was sold or promised."""
    tally = Tally("what is in quarantine is neither sold nor promised")
    for line in lines:
        if line["kind"] in _PROMISES:
            free = grades.get(line["holding_id"]) != Grade.QUARANTINE.value
            tally.see(free, f"line {line['id']}: {line['kind']} {line['quantity']}")
    return tally.finding()


def serials(lines: Iterable[Row]) -> Finding:
    """Prove that a serial is in one place."""
    tally = Tally("a serial is in one place")
    places: dict[tuple[int, str], int | None] = {}
    for line in sorted((line for line in lines if line["serial"] is not None), key=_by_serial):
        effect = effect_of(line["kind"], line["quantity"])
        if effect == 0:
            continue
        key = (line["loudspeaker_id"], line["serial"])
        was = places.get(key)
        right = was is None if effect > 0 else was == line["holding_id"]
        tally.see(right, f"line {line['id']}: serial {line['serial']!r}")
        places[key] = line["holding_id"] if effect > 0 else None
    return tally.finding()


def _by_serial(line: Row) -> tuple[int, str, int]:
    return line["loudspeaker_id"], line["serial"], line["serial_sequence"] or 0


def reservations(lines: Iterable[Row]) -> Finding:
    """Prove that reservations are whole, and end no more than they held; lines come in order of their numbers."""
    tally = Tally("every reservation has a job and an expiry, and ends no more than it held")
    rest: dict[int, int] = {}
    for line in lines:
        if line["kind"] == _RESERVE:
            whole = line["job_id"] is not None and line["until"] is not None
            tally.see(whole, f"line {line['id']}: without a job or an expiry")
            rest[line["id"]] = line["quantity"]
        elif line["reservation_id"] is not None:
            number = line["reservation_id"]
            rest[number] = rest.get(number, 0) - line["quantity"]
            tally.see(rest[number] >= 0, f"line {line['id']}: ends more than reservation {number} held")
    return tally.finding()


def carried(lines: Iterable[Row]) -> Finding:
    """Prove that what is promised elsewhere was let go of where it was, or it would be promised twice."""
    tally = Tally("what of a reservation is carried on elsewhere was let go of where it was")
    held: dict[int, Row] = {}
    freed: dict[int, int] = defaultdict(int)
    on: dict[int, int] = defaultdict(int)
    ends: dict[int, int] = {}
    for line in lines:
        number, units = line["id"], line["quantity"]
        if line["kind"] == _RESERVE:
            held[number] = line
            if line["carries_id"] is not None:
                on[line["carries_id"]] += units
            elif line["undoes_id"] in ends:
                # it is promised again where it was
                freed[ends[line["undoes_id"]]] -= units
        elif line["reservation_id"] is not None:
            freed[line["reservation_id"]] += units
            ends[number] = line["reservation_id"]
            taken_back = held.get(line["undoes_id"])
            if taken_back is not None and taken_back["carries_id"] is not None:
                on[taken_back["carries_id"]] -= units
    for number, units in on.items():
        told = f"reservation {number}: {units} of it promised elsewhere, {freed[number]} let go of: promised twice"
        tally.see(units <= freed[number], f"{told}; undo either, or release it")
    return tally.finding()


def left_by_ledger(lines: Iterable[Row]) -> dict[int, int]:
    """Give what the ledger leaves of each reservation, by its number."""
    rest: dict[int, int] = {}
    for line in lines:
        if line["kind"] == _RESERVE:
            rest[line["id"]] = line["quantity"]
        elif line["reservation_id"] in rest:
            rest[line["reservation_id"]] -= line["quantity"]
    return rest


def transfers(lines: Iterable[Row]) -> Finding:
    """Prove that what arrives was sent, and sent there; lines come in order of their numbers."""
    tally = Tally("no more arrives than was sent, and it arrives where it was sent")
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


def as_written(lines: Sequence[Row], holdings: Mapping[int, Row], *, server: bool) -> Finding:
    """Prove that no line says other than what was written; lines come by holding, in order of their sequence."""
    tally = Tally("each line says what was written, by its digest and the one before")
    before: dict[int, str | None] = {}
    # a file has one writer, who counts on; a server counts on where a write was taken back
    for place, number in enumerate(() if server else sorted(line["id"] for line in lines), start=1):
        if number != place:
            tally.see(False, f"line {place}: it is gone, or has another number")
            break
    for line in lines:
        place, name = line["holding_id"], f"line {line['id']}"
        if line["digest"] is None or place not in holdings:
            tally.see(False, f"{name}: has no digest, so it was written past the program")
        else:
            right = digest_of(before.get(place), line, holdings[place], server=server) == line["digest"]
            tally.see(right, f"{name}: says other than when it was written, or a line before it is gone")
        before[place] = line["digest"]
    return tally.finding()


def ended(lines: Iterable[Row], ends: Mapping[int, tuple[int, str | None]]) -> Finding:
    """Prove that the last line of each holding is there."""
    tally = Tally("the last line of each holding is there")
    last: dict[int, tuple[int, str | None]] = {}
    for line in lines:
        last[line["holding_id"]] = line["sequence"], line["digest"]
    for number in sorted(ends.keys() | last.keys()):
        (said, sealed), (found, digest) = ends.get(number, (None, None)), last.get(number, (None, None))
        told = f"the {found}., not the {said}." if said != found else "not the one that was written"
        tally.see((said, sealed) == (found, digest), f"holding {number}: its last line is {told}")
    return tally.finding()


def promised_by_quote(lines: Iterable[Row]) -> dict[int, dict[int, int]]:
    """Give how many of each loudspeaker were ever reserved for each quote; what is carried on elsewhere counts once."""
    found: defaultdict[int, defaultdict[int, int]] = defaultdict(lambda: defaultdict(int))
    for line in lines:
        if line["quote_id"] is not None and line["kind"] == _RESERVE and line["carries_id"] is None:
            found[line["quote_id"]][line["loudspeaker_id"]] += line["quantity"]
    return {number: dict(units) for number, units in found.items()}
