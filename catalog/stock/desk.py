"""What is asked at the desk, in the words of people: each a transaction of its own, done whole or refused whole.

The commands call these functions, and so does whatever else moves units: there is no other way in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.attempts import whole
from triptych.catalog.database.models import Grade, MovementKind
from triptych.catalog.database.rows import name_key
from triptych.catalog.database.stock_levels import available
from triptych.catalog.errors import BadInput
from triptych.catalog.stock import ledger, operations, quotes, undoing
from triptych.catalog.stock.articles import Model, matching_mains, model_named, models
from triptych.catalog.stock.at_once import Call, at_once
from triptych.catalog.stock.ledger import There
from triptych.catalog.stock.locations import (
    FEW,
    common_zone,
    doubt_job,
    known_name,
    locations,
    refuse_mistyped,
    zone_at,
)
from triptych.catalog.stock.movement_lines import MovementLine, instant
from triptych.catalog.stock.reading import Entry, Offer, entries, offers
from triptych.catalog.stock.timing import Until, hold_until


@dataclass(frozen=True, slots=True)
class Request:
    """What somebody asks for: names, not numbers.

    Attributes
    ----------
    quantity : int, optional
        Loudspeakers, also where they come in pairs; one, or one pair, where None.
    single : bool
        Singles of what is sold in pairs.
    order : int, optional
        The number of the order that they come from.
    amount, currency : int and str, optional
        Of one, without tax: what it cost that comes, or the price of a sale. [minor unit]
    """

    model: str
    location: str
    quantity: int | None = None
    grade: Grade = Grade.NEW
    finish: str | None = None
    serial: str | None = None
    single: bool = False
    job: str | None = None
    note: str | None = None
    order: int | None = None
    amount: int | None = None
    currency: str | None = None
    who: str | None = None


@dataclass(frozen=True, slots=True)
class Done:
    """What a movement came to: the lines of the ledger, and what there is now; `until` in UTC."""

    done: str
    speaker: str
    quantity: int
    location: str
    grade: str
    finish: str | None
    serial: str | None
    lines: tuple[int, ...]
    on_hand: int
    reserved: int
    available: int
    job: str | None
    until: str | None
    zone: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What was done, and what is to be told beside it."""

    done: Done
    remarks: tuple[str, ...]


@dataclass(slots=True)
class _Case:
    """A request with all that is known of what it speaks of; `made` tells of a location that is made by it."""

    session: Session
    model: Model
    line: MovementLine
    there: There
    made: str = ""
    remarks: list[str] = field(default_factory=list)

    def answer(self, done: str, line: MovementLine, numbers: Sequence[int], *, warn: bool = False) -> Answer:
        """Give what its lines came to; `line` says of which units."""
        found = _done(self.session, done, self.model, line, numbers)
        # a count of none, where nothing was, makes no location
        told = [self.made] if self.made and numbers else []
        warnings = _last_of_line(self.session, [self.model]) if warn else []
        return Answer(found, (*told, *self.remarks, *warnings))


def _case(session: Session, asked: Request, kind: MovementKind, *, new: bool = False, doubt: bool = False) -> _Case:
    """Find what a request speaks of, in two statements where all of it is known.

    `new` says that its location may be new, and `doubt` that a job which is new is to be doubted.
    """
    model = model_named(session, asked.model)
    if not name_key(asked.location):
        raise BadInput("--location is blank: name where the units are")
    pack = 1 if asked.single else model.pack
    line = MovementLine(
        model.number,
        kind,
        pack if asked.quantity is None else asked.quantity,
        asked.location,
        asked.grade,
        asked.finish,
        asked.job,
        serial=asked.serial,
        note=asked.note,
        pack=pack,
        order_id=asked.order,
        amount=asked.amount,
        currency=asked.currency,
        who=asked.who,
    )
    case = _Case(session, model, line, ledger.look(session, line))
    case.made = _seen(session, asked.location, case.there, new=new)
    if doubt and case.there.job_id is None:
        case.remarks += doubt_job(session, asked.job)
    return case


def _seen(session: Session, location: str, there: There, *, new: bool) -> str:
    """Refuse a location that is not known, unless units come there; then give what to tell of it.

    Raises
    ------
    NotFound
        Names the nearest. Where units come: it is nearly the name of one that is known, so rather mistyped.
    """
    if there.location_id is not None:
        return ""
    if not new:
        known_name(session, location)
    known = [one.name for one in locations(session)]
    refuse_mistyped(location, known)
    beside = f" (known are {', '.join(known)})" if 0 < len(known) <= FEW else ""
    return f"new location: {location}{beside}"


def _done(session: Session, done: str, model: Model, line: MovementLine, numbers: Sequence[int]) -> Done:
    there = ledger.look(session, line)
    left = there.level
    return Done(
        done,
        model.name,
        abs(line.quantity),
        line.location,
        line.grade.value,
        line.finish,
        line.serial,
        tuple(numbers),
        left.on_hand,
        left.reserved,
        left.available if line.grade is not Grade.QUARANTINE else 0,
        line.job,
        None if line.until is None else instant(line.until).isoformat(),
        there.zone or "UTC",
    )


def _last_of_line(session: Session, sold: Sequence[Model]) -> list[str]:
    """Give the warnings where a line ends while mains that it matches are still about."""
    told = []
    for model in sold:
        about = None if model.gone is None else matching_mains(session, model.number)
        if about is not None:
            left = available(session, model.number) or 0
            told.append(
                f"warning: the line ends, and {about.sold} mains of {about.family} are sold and {about.on_hand} in"
                f" stock: {left} to match them {'is' if left == 1 else 'are'} left"
            )
    return told


def _at_once(
    engine: sa.Engine,
    asked: Request,
    kind: MovementKind,
    done: str,
    until: datetime | None = None,
    to: str | None = None,
) -> Answer | None:
    """Do what is usual in one call where a server keeps the ledger; None where the long way has to be gone."""
    if asked.serial is not None or asked.order is not None or asked.grade is Grade.QUARANTINE:
        return None
    if kind is MovementKind.RESERVE:
        until = hold_until(until, "UTC")
        if asked.job is None or until.tzinfo is None:
            return None
    alike = (asked.model, asked.location, asked.quantity, asked.grade.value, asked.finish, asked.single)
    found = at_once(engine, Call(kind, *alike, asked.job, until, asked.note, asked.amount, asked.currency, to))
    if found is None:
        return None
    free = found.on_hand - found.reserved
    levels = (tuple(found.lines), found.on_hand, found.reserved, free)
    end = None if until is None else instant(until).isoformat()
    what = (found.speaker, found.units, asked.location, asked.grade.value, asked.finish, None)
    return Answer(Done(done, *what, *levels, asked.job, end, found.zone), ())


def receive(engine: sa.Engine, asked: Request, serials: Sequence[str] | None = None) -> Answer:
    """Take units into stock; a location that isn't known yet is made, unless its name is nearly that of another.

    Each of the serials is one, or one pair, of what comes.
    """
    usual = None if serials else _at_once(engine, asked, MovementKind.RECEIVE, "received")
    return usual or _receive(engine, asked, serials)


@whole
def _receive(session: Session, asked: Request, serials: Sequence[str] | None) -> Answer:
    names = list(serials or ([] if asked.serial is None else [asked.serial]))
    case = _case(session, replace(asked, serial=names[0] if names else None), MovementKind.RECEIVE, new=True)
    if not names:
        number, _ = ledger.write(session, case.line, case.there)
        return case.answer("received", case.line, [number])
    whole_line = replace(case.line, quantity=_named_units(case, asked, names))
    first = replace(case.line, quantity=case.there.pack)
    numbers = [ledger.write(session, first, case.there)[0]]
    numbers += [ledger.record_movement(session, replace(first, serial=name)) for name in names[1:]]
    if len(names) > 1:
        case.remarks.append(f"each is one of its own: {', '.join(names)}")
        whole_line = replace(whole_line, serial=None)
    return case.answer("received", whole_line, numbers)


def _named_units(case: _Case, asked: Request, names: Sequence[str]) -> int:
    """Give how many come where each is named; refuse another number of them than is said."""
    pack = case.there.pack
    units = len(names) * pack
    if asked.quantity not in (None, units):
        one = "a pair, which is 2, has one serial" if pack == 2 else "each has one serial"
        single = "; as single ones they come with --single" if pack == 2 and asked.quantity == len(names) else ""
        raise BadInput(f"{len(names)} serials for {asked.quantity}: {one}, so they name {units}{single}")
    return units


def reserve(engine: sa.Engine, asked: Request, until: Until = None) -> Answer:
    """Promise units to a job until then, as a text in the time zone of the location; 14 days where it is None."""
    # a day ends where the units are, which the long way knows
    usual = None if isinstance(until, str) else _at_once(engine, asked, MovementKind.RESERVE, "reserved", until)
    return usual or _reserve(engine, asked, until)


@whole
def _reserve(session: Session, asked: Request, until: Until) -> Answer:
    case = _case(session, asked, MovementKind.RESERVE, doubt=True)
    line = replace(case.line, until=hold_until(until, case.there.zone or "UTC"))
    number, _ = ledger.write(session, line, case.there)
    return case.answer("reserved", line, [number], warn=True)


def release(engine: sa.Engine, asked: Request) -> Answer:
    """Free units that are reserved, oldest reservation first."""
    return _at_once(engine, asked, MovementKind.RELEASE, "released") or _release(engine, asked)


@whole
def _release(session: Session, asked: Request) -> Answer:
    case = _case(session, asked, MovementKind.RELEASE)
    return case.answer("released", case.line, operations.end_reservations(session, case.line, case.there))


def sell(engine: sa.Engine, asked: Request) -> Answer:
    """Take units out of stock for good; what is reserved for the job goes first."""
    return _at_once(engine, asked, MovementKind.SELL, "sold") or _sell(engine, asked)


@whole
def _sell(session: Session, asked: Request) -> Answer:
    case = _case(session, asked, MovementKind.SELL, doubt=True)
    return case.answer("sold", case.line, operations.sell(session, case.line, case.there), warn=True)


@whole
def take_back(session: Session, asked: Request, sold_as: Grade | None = None) -> Answer:
    """Take back what was sold: into quarantine, until somebody has looked at it and regrades it."""
    noted = "; ".join(filter(None, [asked.note, f"sold as {sold_as.value}" if sold_as else ""])) or None
    asked = replace(asked, grade=Grade.QUARANTINE, note=noted)
    case = _case(session, asked, MovementKind.RETURN, new=True, doubt=True)
    strange = operations.never_sold(session, case.line)
    number, _ = ledger.write(session, case.line, case.there)
    case.remarks += [f"warning: {strange}"] if strange else []
    return case.answer("returned to quarantine", case.line, [number])


def transfer(engine: sa.Engine, asked: Request, to: str, *, send: bool = False) -> Answer:
    """Move units to another location, at once or, with `send`, on their way until they arrive."""
    usual = None if send else _at_once(engine, asked, MovementKind.TRANSFER_OUT, f"moved to {to}", to=to)
    return usual or _transfer(engine, asked, to, send=send)


@whole
def _transfer(session: Session, asked: Request, to: str, *, send: bool) -> Answer:
    if not name_key(to):
        raise BadInput("--to is blank: name where the units go")
    case = _case(session, asked, MovementKind.TRANSFER_OUT)
    goal = ledger.look(session, replace(case.line, location=to))
    case.made = _seen(session, to, goal, new=True)
    if send:
        return case.answer(f"sent to {to}", case.line, [operations.send(session, case.line, to, case.there)])
    return case.answer(f"moved to {to}", case.line, operations.transfer(session, case.line, to, case.there, goal))


@whole
def count(session: Session, asked: Request) -> Answer:
    """Set what is on hand to what was counted; a difference needs a reason, as a note."""
    case = _case(session, asked, MovementKind.COUNT, new=asked.quantity != 0)
    number = operations.count(session, case.line)
    return case.answer("counted", case.line, [] if number is None else [number])


@whole
def regrade(session: Session, asked: Request, goal: Grade, start: Grade | None = None) -> Answer:
    """Put units into another grade; which they have is found out where only one can be meant."""
    case = _case(session, asked, MovementKind.REGRADE_OUT)
    line = replace(case.line, grade=start or operations.grade_meant(session, case.line, goal))
    numbers = operations.regrade(session, line, goal)
    return case.answer(f"regraded to {goal.value.replace('_', ' ')}", replace(line, grade=goal), numbers)


@whole
def split(session: Session, asked: Request, serials: Sequence[str] | None = None) -> Answer:
    """Split one pair into two singles, each tracked by a serial."""
    case = _case(session, replace(asked, quantity=2), MovementKind.SPLIT_PAIR)
    numbers = operations.split(session, case.line, serials or ())
    return case.answer("split into singles", replace(case.line, pack=1), numbers)


@whole
def write_off(session: Session, asked: Request) -> Answer:
    """Take units out that are lost or broken; the note says why."""
    case = _case(session, asked, MovementKind.WRITE_OFF)
    number, _ = ledger.write(session, case.line, case.there)
    return case.answer("written off", case.line, [number], warn=True)


@whole
def arrive(session: Session, number: int, quantity: int | None = None, who: str | None = None) -> list[Done]:
    """Take what was sent into stock where it was sent to; all that is still on its way, or so many."""
    return _all_done(session, "arrived", entries(session, operations.arrive(session, number, quantity, who)))[0]


@whole
def undo(session: Session, number: int, note: str | None = None, who: str | None = None) -> Answer:
    """Take back a mistyped movement by those that counter it, unless later ones stand on it."""
    entry, numbers = undoing.undo(session, number, note, who)
    moved, _ = _all_done(session, "undid", entries(session, [entry.number]))
    remark = f"line {entry.number} was: {entry.kind.replace('_', ' ')} {entry.quantity}"
    return Answer(replace(moved[0], lines=tuple(numbers)), (remark,))


def _all_done(session: Session, done: str, moved: Sequence[tuple[int, Entry]]) -> tuple[list[Done], list[Model]]:
    """Give what lines of the ledger came to, each for itself, and the loudspeakers in the order of the lines."""
    known = models(session, [number for number, _ in moved])
    found = []
    for number, entry in moved:
        kind, grade = MovementKind(entry.kind), Grade(entry.grade)
        line = MovementLine(number, kind, entry.quantity, entry.location, grade, entry.finish, entry.job, entry.until)
        line = replace(line, serial=entry.serial, pack=entry.pack)
        found.append(_done(session, done, known[number], line, [entry.number]))
    return found, [known[number] for number in dict.fromkeys(number for number, _ in moved)]


@dataclass(frozen=True, slots=True)
class Step:
    """A quote after a step, what was moved for it, and what is to be told beside it."""

    offer: Offer
    moved: tuple[Done, ...]
    warnings: tuple[str, ...]


def _step(session: Session, number: int, done: str, numbers: Sequence[int], *, warn: bool) -> Step:
    offer = offers(session, number)[0]
    moved, sold = _all_done(session, done, entries(session, numbers))
    return Step(offer, tuple(moved), tuple(_last_of_line(session, sold) if warn else ()))


@whole
def make_quote(
    session: Session,
    job: str,
    items: Sequence[quotes.Item],
    until: Until = None,
    who: str | None = None,
    note: str | None = None,
) -> Step:
    """Offer loudspeakers to a job at today's prices, which hold until the quote lapses; nothing is reserved yet."""
    end = hold_until(until, common_zone(session))
    doubts = doubt_job(session, job)
    number, remarks = quotes.make(session, job, items, end, who, note)
    return Step(offers(session, number)[0], (), (*doubts, *(f"warning: {remark}" for remark in remarks)))


@whole
def accept_quote(
    session: Session,
    number: int,
    until: Until = None,
    location: str | None = None,
    serials: Sequence[str] = (),
    who: str | None = None,
) -> Step:
    """Reserve all that was quoted, or nothing."""
    zone = common_zone(session) if location is None else zone_at(session, location)
    end = None if until is None else hold_until(until, zone)
    return _step(session, number, "reserved", quotes.accept(session, number, end, location, who, serials), warn=True)


@whole
def sell_quote(session: Session, number: int, serials: Sequence[str] = (), who: str | None = None) -> Step:
    """Turn the reservations of an accepted quote into sales at its prices, all or none."""
    return _step(session, number, "sold", quotes.sell(session, number, who, serials), warn=True)


@whole
def lapse_quote(session: Session, number: int, who: str | None = None) -> Step:
    """End a quote before its day; what is reserved for it is free again."""
    return _step(session, number, "released", quotes.lapse(session, number, who), warn=False)
