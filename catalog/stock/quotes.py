"""Quotes: prices that hold until a day, turned into reservations and then sales, with no gap in between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import MovementKind, Quote, QuoteLine, QuoteState
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.stock.articles import Model, model_named, models
from triptych.catalog.stock.job_names import job_of
from triptych.catalog.stock.locations import common_zone, known_name
from triptych.catalog.stock.many_lines import record_all
from triptych.catalog.stock.movement_lines import MovementLine, instant
from triptych.catalog.stock.quote_deliveries import NONE_DELIVERED, by_line, delivered, net_of
from triptych.catalog.stock.quote_drafts import QuoteDraft, draft, written
from triptych.catalog.stock.quote_lines import Item, finish_apart
from triptych.catalog.stock.quote_promises import Swallowed, held_by, kept_for, now_of, swallowed_words
from triptych.catalog.stock.quote_units import Kept, QuotedShelves, allocate, settle, shelves_of
from triptych.catalog.stock.shortfalls import FinishThere, OtherFinish
from triptych.catalog.stock.timing import HOLD, until_words

__all__ = ["Item", "QuoteDraft", "QuotePart", "accept", "draft", "lapse", "sell", "written"]


def _open(session: Session, number: int) -> Quote:
    """Give a quote, locked against others who would turn it into something else."""
    if not 1 <= number < 2**31:
        raise NotFound(f"no quote has the number {number}")
    query = sa.select(Quote).where(Quote.id == number).with_for_update().execution_options(populate_existing=True)
    found = session.scalars(query).first()
    if found is None:
        raise NotFound(f"no quote has the number {number}")
    return found


def _become(session: Session, number: int, state: QuoteState) -> None:
    session.execute(sa.update(Quote).where(Quote.id == number).values(state=state))


def accept(
    session: Session,
    number: int,
    until: date | datetime | None = None,
    location: str | None = None,
    who: str | None = None,
    serials: Sequence[str] = (),
    remarks: list[str] | None = None,
) -> list[int]:
    """Reserve all that was quoted, or nothing, for the quote's job; give the reservations' numbers.

    What the job holds already becomes part of it: it is released, and reserved at the quote's price, no shorter than it
    was: all of a quote ends together, so that it is delivered whole. `remarks` tell it.

    Parameters
    ----------
    serials : sequence of str
        Which of the units that have serials; of the others those that the job held, plain ones, the oldest received.

    Raises
    ------
    BadInput
        A serial is named that is not free among what is quoted.
    NotFound
        There is no such quote or location.
    Refused
        It has lapsed, or was accepted already, or not all of it is available. Nothing was written.
    """
    quote = _open(session, number)
    now = now_of(session)
    if quote.state is not QuoteState.OPEN:
        raise Refused(f"quote {number} is {quote.state.value} already; nothing was written")
    if quote.until <= now:
        raise Refused(f"quote {number} lapsed at {until_words(quote.until, common_zone(session))}: make a new one")
    location = None if location is None else known_name(session, location)
    _, job = job_of(session, quote.job_id)
    shelves = shelves_of(session, _lines(session, number), location)
    given, own = _given_up(session, job, shelves)
    asked = instant(until) if until is not None else max(now + HOLD, quote.until)
    end = max([asked, *(one.held.until for one in given)])
    record_all(session, [replace(one.release, quote_id=number, who=who) for one in given])
    if remarks is not None:
        remarks += _swallowed(session, quote, job, given, asked)
    kept = serials or [one.release.serial for one in given if one.release.serial]
    parts = allocate(session, shelves, kept, own)
    numbers = record_all(session, [replace(part, job=job, until=end, quote_id=number, who=who) for part in parts])
    _become(session, number, QuoteState.ACCEPTED)
    return numbers


def _lines(session: Session, number: int) -> list[QuoteLine]:
    query = sa.select(QuoteLine).where(QuoteLine.quote_id == number).order_by(QuoteLine.ordinal)
    return list(session.scalars(query))


class _Given(NamedTuple):
    """A reservation that becomes part of a quote, and the line by which it is let go of for that."""

    held: Kept
    release: MovementLine


def _given_up(session: Session, job: str, shelves: QuotedShelves) -> tuple[list[_Given], list[int]]:
    """Give what a job holds apart from any quote and is quoted now, and the holdings it is held at."""
    wanted = shelves.wanted()
    held = held_by(session, job, shelves.all_holdings())
    given = []
    for one in held:
        part = min(one.rest, wanted[one.key])
        # a unit with a serial is kept whole or not at all
        if part and (one.serial is None or part == one.rest):
            given.append(_Given(one, one.end(MovementKind.RELEASE, part, one.serial)))
            wanted[one.key] -= part
    return given, [one.holding for one in held]


def _swallowed(session: Session, quote: Quote, job: str, given: Sequence[_Given], asked: datetime) -> list[str]:
    """Tell of what a job held that it is part of its quote now, and what that changes of its day."""
    if not given:
        return []
    names = {one: model.name for one, model in models(session, [one.release.loudspeaker_id for one in given]).items()}
    swallowed = [
        Swallowed(held.number, held.until, line.quantity, names[line.loudspeaker_id], line.location)
        for held, line in given
    ]
    return swallowed_words(quote.id, job, quote.zone or common_zone(session), swallowed, asked)


@dataclass(frozen=True, slots=True)
class QuotePart:
    """What of a quote is delivered: so many of a loudspeaker, of one finish or any; one, or one pair, where None."""

    speaker: str
    quantity: int | None
    finish: str | None = None


def sell(
    session: Session,
    number: int,
    who: str | None = None,
    serials: Sequence[str] = (),
    parts: Sequence[QuotePart] = (),
) -> list[int]:
    """Turn the reservations of an accepted quote into sales, each line at its price, all or none.

    Parameters
    ----------
    serials : sequence of str
        Which of the units that have serials go out, also in place of those that were reserved.
    parts : sequence of QuotePart
        What is delivered now; the quote stays accepted until the rest is too. All that is left where there are none.

    Raises
    ------
    BadInput
        A serial is named that is neither reserved for the quote nor free beside what is.
    NotFound
        There is no such quote.
    Refused
        It isn't accepted, or some of its reservations have lapsed or were released. Nothing was written.
    """
    quote = _open(session, number)
    if quote.state is not QuoteState.ACCEPTED:
        raise Refused(f"quote {number} is {quote.state.value}, not accepted; nothing was written")
    left = _undelivered(session, number)
    lines = _delivered(session, number, left, parts) if parts else left
    kept = kept_for(session, number)
    sales = settle(session, number, lines, kept, serials, all_of_it=not parts)
    releases = filter(None, (sale.release() for sale in sales))
    record_all(session, [replace(release, quote_id=number, who=who) for release in releases])
    going = []
    for sale in sales:
        amount = net_of(sale.quoted)
        currency = None if amount is None else quote.currency
        going.append(replace(sale.line(), quote_id=number, who=who, amount=amount, currency=currency))
    numbers = record_all(session, going)
    if sum(units for _, units in lines) == sum(units for _, units in left):
        _become(session, number, QuoteState.SOLD)
    return numbers


def _undelivered(session: Session, number: int) -> list[tuple[QuoteLine, int]]:
    """Give the lines of a quote, each with how many of it are not sold yet; what was sold counts for the first."""
    lines = _lines(session, number)
    gone = by_line(lines, delivered(session, number).get(number, NONE_DELIVERED))
    return [(line, line.quantity - units) for line, units in zip(lines, gone, strict=True)]


def _delivered(
    session: Session, number: int, left: Sequence[tuple[QuoteLine, int]], parts: Sequence[QuotePart]
) -> list[tuple[QuoteLine, int]]:
    """Give the lines of a quote with how many of each are delivered now.

    Raises
    ------
    Refused
        More is delivered than is left of it.
    """
    rest, now = [units for _, units in left], [0] * len(left)
    for asked in parts:
        part = _with_finish(session, asked)
        model = model_named(session, part.speaker)
        wanted = missing = model.pack if part.quantity is None else part.quantity
        if part.finish is None:
            _refuse_two_finishes(number, model, wanted, [(line, rest[place]) for place, (line, _) in enumerate(left)])
        for place, (line, _) in enumerate(left):
            alike = part.finish is None or rows.name_key(part.finish) == rows.name_key(line.finish)
            taken = min(rest[place], missing) if line.loudspeaker_id == model.number and alike else 0
            rest[place] -= taken
            now[place] += taken
            missing -= taken
        if wanted < 1 or missing:
            finish = f" in {part.finish!r}" if part.finish else ""
            raise Refused(
                f"quote {number}: {wanted - missing} of {model.name}{finish} are left to deliver, not {wanted};"
                " nothing was written"
            )
    return [(line, units) for (line, _), units in zip(left, now, strict=True)]


def _with_finish(session: Session, part: QuotePart) -> QuotePart:
    """Read the finish beside the name, as a quote does; one that is said twice must be one.

    Raises
    ------
    BadInput
        Two finishes are said.
    """
    apart = finish_apart(session, part.speaker)
    if apart is None or apart[1] is None:
        return part
    if part.finish is not None and rows.name_key(part.finish) != rows.name_key(apart[1]):
        raise BadInput(f"{part.speaker!r} is asked for in {part.finish!r}: say one finish")
    return replace(part, speaker=apart[0], finish=apart[1])


def _refuse_two_finishes(number: int, model: Model, wanted: int, left: Sequence[tuple[QuoteLine, int]]) -> None:
    """Refuse to choose where what is left of a loudspeaker is in two finishes, and not all of it is delivered.

    Raises
    ------
    OtherFinish
        Names them.
    """
    units: dict[str, FinishThere] = {}
    for line, rest in left:
        if line.loudspeaker_id == model.number and rest:
            before = units.get(rows.name_key(line.finish), FinishThere(line.finish, 0))
            units[rows.name_key(line.finish)] = replace(before, units=before.units + rest)
    if len(units) < 2 or wanted >= sum(one.units for one in units.values()):
        return
    told = " and ".join(one.words for one in units.values())
    raise OtherFinish(
        f"quote {number}: of {model.name} there are {told} left to deliver: say which with --finish; nothing was"
        " written",
        [one for one in units.values() if one.units >= wanted],
        model.name,
    )


def lapse(session: Session, number: int, who: str | None = None) -> list[int]:
    """End a quote before its day; what is reserved for it is free again.

    Raises
    ------
    NotFound
        There is no such quote.
    Refused
        It was sold, or has lapsed already. Nothing was written.
    """
    quote = _open(session, number)
    if quote.state in (QuoteState.SOLD, QuoteState.LAPSED):
        raise Refused(f"quote {number} is {quote.state.value} already; nothing was written")
    ends = [one.end(MovementKind.RELEASE, one.rest, one.serial) for one in kept_for(session, number)]
    numbers = record_all(session, [replace(end, quote_id=number, who=who) for end in ends])
    _become(session, number, QuoteState.LAPSED)
    return numbers
