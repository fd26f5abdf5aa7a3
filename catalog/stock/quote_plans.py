"""What a quote's usual steps write, worked out of all that there is to know, as `quotes.py` does it.

Where `quotes.py` has to say more, because something is unusual or refused, nothing is worked out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple

from triptych.catalog.database import rows
from triptych.catalog.database.models import MovementKind, QuoteState
from triptych.catalog.records import PricePer, Tax
from triptych.catalog.stock.articles import pack_of_line
from triptych.catalog.stock.call_file import GONE
from triptych.catalog.stock.costs import net_each, whole
from triptych.catalog.stock.in_file import Ending
from triptych.catalog.stock.quote_promises import Swallowed, swallowed_words
from triptych.catalog.stock.timing import HOLD

Key = tuple[int, str, str, int]
"""Loudspeaker, grade, finish and pack: units of one key are alike."""


class QuoteHead(NamedTuple):
    """A quote as it stands, at an instant: `apart` says that its job is part of another, or has parts."""

    number: int
    state: str
    currency: str
    made_at: datetime
    until: datetime
    who: str | None
    note: str | None
    lines: int | None
    zone: str | None
    job_id: int
    job: str
    apart: bool
    begun: bool
    now: datetime


class QuotedLine(NamedTuple):
    """A line of a quote, with its loudspeaker as it is sold."""

    loudspeaker_id: int
    grade: str
    finish: str | None
    quantity: int
    amount: int
    per: str
    tax: str | None
    tax_rate: float | None
    cost: int | None
    discount: float | None
    full_amount: int | None
    speaker: str
    pack: int
    status: str | None

    @property
    def key(self) -> Key:
        """What its units are."""
        return self.loudspeaker_id, self.grade, rows.name_key(self.finish), pack_of_line(self.quantity, self.pack)

    @property
    def net(self) -> int | None:
        """The price of one without tax, None where nobody says what of it is tax. [minor unit]."""
        found = net_each(self.amount, PricePer(self.per), None if self.tax is None else Tax(self.tax), self.tax_rate)
        return None if found is None else whole(found)


@dataclass(slots=True)
class QuoteShelf:
    """Units that are alike at one location."""

    end: Ending
    loudspeaker_id: int
    finish: str | None
    place: str
    place_key: str
    lent: int | None

    @property
    def key(self) -> Key:
        """What its units are."""
        return self.loudspeaker_id, self.end.grade, self.end.finish_key, self.end.pack

    @property
    def free(self) -> int:
        """What of it may be promised."""
        return self.end.on_hand - self.end.reserved

    @property
    def loose(self) -> int:
        """What is there that no serial names."""
        return self.end.on_hand - self.end.tracked


class QuotePromise(NamedTuple):
    """A live reservation for the quote, or for its job apart from any."""

    number: int
    holding: int
    rest: int
    serial: str | None
    quote: int | None
    until: datetime


@dataclass(slots=True)
class Seen:
    """All that a step of a quote has to know."""

    head: QuoteHead
    lines: list[QuotedLine]
    shelves: dict[int, QuoteShelf]
    promises: list[QuotePromise]

    def name_of(self, shelf: QuoteShelf) -> str:
        """Give the name of the loudspeaker that stands there."""
        return next(line.speaker for line in self.lines if line.loudspeaker_id == shelf.loudspeaker_id)


@dataclass(slots=True)
class Going:
    """One line of the ledger that a step writes."""

    shelf: QuoteShelf
    kind: MovementKind
    quantity: int
    effect: int = 0
    until: datetime | None = None
    reservation_id: int | None = None
    quote_id: int | None = None
    amount: int | None = None
    currency: str | None = None


@dataclass(slots=True)
class StepPlan:
    """What a step writes: `told` of its lines are told, and `remarks` beside them."""

    becomes: QuoteState
    first: list[Going] = field(default_factory=list)
    told: list[Going] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


WorkOut = Callable[[Seen], StepPlan | None]
"""Works out what a step writes, None where the long way has to say more."""


def _usual(seen: Seen, *states: QuoteState) -> bool:
    """Whether the long way has no more to say of it: of jobs that were merged, of serials, of a line that ends."""
    head = seen.head
    known = head.zone is not None and not head.apart and head.lines == len(seen.lines)
    going = all(line.status not in GONE for line in seen.lines)
    stands = head.state in [state.value for state in states]
    return known and going and stands and all(one.serial is None for one in seen.promises)


def acceptance(seen: Seen) -> StepPlan | None:
    """Reserve all that was quoted; what its job held already becomes part of it, and is held no shorter."""
    head, plan = seen.head, StepPlan(QuoteState.ACCEPTED)
    if not _usual(seen, QuoteState.OPEN) or head.until <= head.now:
        return None
    wanted: Counter[Key] = Counter()
    for line in seen.lines:
        wanted[line.key] += line.quantity
    shelves = sorted(
        (one for one in seen.shelves.values() if one.key in wanted and one.lent is None), key=lambda one: one.place_key
    )
    among = {shelf.end.holding for shelf in shelves}
    held = [one for one in seen.promises if one.quote is None and one.holding in among]
    free = {shelf.end.holding: shelf.free for shelf in shelves}
    swallowed = []
    for one in held:
        shelf = seen.shelves[one.holding]
        part = min(one.rest, wanted[shelf.key])
        if part:
            wanted[shelf.key] -= part
            free[one.holding] += part
            plan.first.append(Going(shelf, MovementKind.RELEASE, part, 0, None, one.number, head.number))
            swallowed.append(Swallowed(one.number, one.until, part, seen.name_of(shelf), shelf.place))
    own, asked = {one.holding for one in held}, max(head.now + HOLD, head.until)
    until = max([asked, *(one.until for one in swallowed)])
    plan.remarks += swallowed_words(head.number, head.job, head.zone or "UTC", swallowed, asked)
    for line in seen.lines:
        missing = line.quantity
        alike = [shelf.end.holding for shelf in shelves if shelf.key == line.key]
        for holding in sorted(alike, key=lambda holding: (free[holding] < missing, holding not in own)):
            part = min(missing, free[holding])
            shelf = seen.shelves[holding]
            # which serial is promised is told the long way
            if part > 0 and part > free[holding] - shelf.end.tracked:
                return None
            if part > 0:
                free[holding] -= part
                missing -= part
                plan.told.append(Going(shelf, MovementKind.RESERVE, part, until=until, quote_id=head.number))
        if missing:
            return None
    return plan


def sale(seen: Seen) -> StepPlan | None:
    """Sell all that is kept for a quote, each line at its price."""
    head, plan = seen.head, StepPlan(QuoteState.SOLD)
    if not _usual(seen, QuoteState.ACCEPTED) or head.begun:
        return None
    left = {one.number: one.rest for one in seen.promises if one.quote == head.number}
    kept = [(one, seen.shelves[one.holding]) for one in seen.promises if one.quote == head.number]
    loose = {shelf.end.holding: shelf.loose for _, shelf in kept}
    for line in seen.lines:
        missing, amount = line.quantity, line.net
        for one, shelf in kept:
            part = min(left[one.number], missing) if shelf.key == line.key else 0
            if part:
                left[one.number] -= part
                loose[one.holding] -= part
                missing -= part
                going = Going(shelf, MovementKind.SELL, part, -part, None, one.number, head.number, amount)
                going.currency = None if amount is None else head.currency
                plan.told.append(going)
        if missing:
            return None
    # which serial goes out is told the long way
    return None if any(left.values()) or min(loose.values(), default=0) < 0 else plan


def end_of(seen: Seen) -> StepPlan | None:
    """End a quote, and free what is kept for it."""
    head = seen.head
    if not _usual(seen, QuoteState.OPEN, QuoteState.ACCEPTED) or head.begun:
        return None
    kept = [one for one in seen.promises if one.quote == head.number]
    ends = [
        Going(seen.shelves[one.holding], MovementKind.RELEASE, one.rest, 0, None, one.number, head.number)
        for one in kept
    ]
    return StepPlan(QuoteState.LAPSED, told=ends)
