"""What the desk knows of a request: of which units it speaks, what there is of them, and what came of it in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Grade, MovementKind
from triptych.catalog.database.rows import name_key
from triptych.catalog.database.stock_levels import available
from triptych.catalog.errors import BadInput, Refused
from triptych.catalog.records import PricePer
from triptych.catalog.stock import looking
from triptych.catalog.stock.articles import Model, matching_mains, model_named, model_of, models
from triptych.catalog.stock.at_once import arrived_at_once, at_once
from triptych.catalog.stock.calls import Call, ShortAtOnce
from triptych.catalog.stock.grade_prices import Tag
from triptych.catalog.stock.locations import FEW, KnownLocations, known_name, locations, refuse_mistyped_job
from triptych.catalog.stock.looking import There
from triptych.catalog.stock.many_lines import key_of, look_at_all, written
from triptych.catalog.stock.movement_lines import MovementLine, instant
from triptych.catalog.stock.operations import apart_words
from triptych.catalog.stock.shortfalls import HeldFor, Instead, fewer_reserved, too_few_of, unpromised_of
from triptych.catalog.stock.timing import hold_until


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
    number : int, optional
        That of the loudspeaker, where it is known already.
    new_finish : bool
        The finish of what comes is meant as it is said, also where it is none, or new and nearly another's.
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
    number: int | None = None
    new_finish: bool = False


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
class DeskCase:
    """A request with all that is known of what it speaks of; `made` tells of a location that is made by it."""

    session: Session
    model: Model
    line: MovementLine
    there: There
    made: str = ""
    remarks: list[str] = field(default_factory=list)

    def answer(self, done: str, line: MovementLine, numbers: Sequence[int], *, warn: bool = False) -> Answer:
        """Give what its lines came to; `line` says of which units."""
        found = done_of(self.session, done, self.model, line, numbers)
        # a count of none, where nothing was, makes no location
        told = [self.made] if self.made and numbers else []
        warnings = last_of_line(self.session, [self.model]) if warn else []
        return Answer(found, (*told, *self.remarks, *warnings))


def case_of(
    session: Session, asked: Request, kind: MovementKind, *, new: bool = False, doubt: bool = False
) -> DeskCase:
    """Find what a request speaks of, in two statements where all of it is known.

    `new` says that its location may be new, and `doubt` that a job which is new is refused where it is nearly another.
    """
    model = model_named(session, asked.model) if asked.number is None else model_of(session, asked.number)
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
    case = DeskCase(session, model, line, looking.look(session, line))
    case.made = seen_of(session, asked.location, case.there, new=new)
    if doubt and case.there.job_id is None:
        refuse_mistyped_job(session, asked.job)
    return case


def seen_of(session: Session, location: str, there: There, *, new: bool) -> str:
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
    KnownLocations(known).is_new(location)
    beside = f" (known are {', '.join(known)})" if 0 < len(known) <= FEW else ""
    return f"new location: {location}{beside}"


def done_of(session: Session, done: str, model: Model, line: MovementLine, numbers: Sequence[int]) -> Done:
    """Give what a line came to, and what there is now of what it speaks of."""
    return _done(done, model, line, numbers, looking.look(session, line))


def _done(done: str, model: Model, line: MovementLine, numbers: Sequence[int], there: There) -> Done:
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


def last_of_line(session: Session, sold: Sequence[Model]) -> list[str]:
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


def usual_way(
    engine: sa.Engine,
    asked: Request,
    kind: MovementKind,
    done: str,
    until: datetime | None = None,
    to: str | None = None,
    *,
    sent: bool = False,
) -> Answer | None:
    """Do what is usual by the shortest way; None where the long way has to be gone.

    Raises
    ------
    Refused
        There is too little of it; nothing was written.
    """
    if asked.serial is not None or asked.order is not None or asked.grade is Grade.QUARANTINE:
        return None
    if kind is MovementKind.RESERVE:
        until = hold_until(until, "UTC")
        if asked.job is None or until.tzinfo is None:
            return None
    alike = (asked.model, asked.location, asked.quantity, asked.grade.value, asked.finish, asked.single)
    said = (asked.note, asked.amount, asked.currency, to, asked.who, sent)
    found = at_once(engine, Call(kind, *alike, asked.job, until, *said))
    if found is None:
        return None
    if isinstance(found, ShortAtOnce):
        raise _refusal(asked, kind, found)
    free = found.on_hand - found.reserved
    levels = (tuple(found.lines), found.on_hand, found.reserved, free)
    end = None if until is None else instant(until).isoformat()
    what = (found.speaker, found.units, asked.location, asked.grade.value, asked.finish, None)
    left = left_behind(asked.job or "", [apart_words(*one) for one in found.apart or ()])
    return Answer(Done(done, *what, *levels, asked.job, end, found.zone), tuple(left))


def _refusal(asked: Request, kind: MovementKind, short: ShortAtOnce) -> Refused:
    """Give the refusal of what there is too little of, in the words of the long way."""
    units = short.units - short.on_hand if kind is MovementKind.COUNT else short.units
    line = MovementLine(
        short.speaker, kind, units, asked.location, asked.grade, asked.finish, asked.job, pack=short.pack
    )
    there = There.of_levels(short.pack, short.on_hand, short.reserved, short.zone)
    held, sorts, tags = short.instead
    instead = Instead(
        lambda: [HeldFor(*row) for row in held],
        lambda: [(name, key, Grade(grade), *rest) for name, key, grade, *rest in sorts],
        lambda: {Grade(grade): Tag(amount, currency, PricePer(per)) for grade, amount, currency, per in tags},
    )
    if kind is MovementKind.RELEASE:
        return unpromised_of(line, there, fewer_reserved(line, short.promised), instead)
    return too_few_of(line, there, instead)


def left_behind(job: str, kept: Sequence[str]) -> list[str]:
    """Tell what of the model stays reserved for a job after a sale for it: a single beside a pair, another finish."""
    return [f"still reserved for {job}: {what}: sell it too, or let it go with stock release" for what in kept]


def arrived(engine: sa.Engine, number: int, who: str | None) -> Done | None:
    """Take all of what was sent into stock by the shortest way; None where the long way has to be gone."""
    found = arrived_at_once(engine, number, who)
    if found is None:
        return None
    free = 0 if found.grade == Grade.QUARANTINE.value else found.on_hand - found.reserved
    what = (found.speaker, found.units, found.place, found.grade, found.finish, None, (found.line,))
    return Done("arrived", *what, found.on_hand, found.reserved, free, None, None, found.zone)


def all_done(session: Session, done: str, numbers: Sequence[int]) -> tuple[list[Done], list[Model]]:
    """Give what lines of the ledger came to, each for itself, and the loudspeakers in the order of the lines."""
    lines = written(session, numbers)
    if not lines:
        return [], []
    known = models(session, [line.loudspeaker_id for line in lines.values()])
    there = look_at_all(session, lines.values())
    found = [
        _done(done, known[line.loudspeaker_id], line, [number], there[key_of(line)]) for number, line in lines.items()
    ]
    return found, [known[number] for number in dict.fromkeys(line.loudspeaker_id for line in lines.values())]
