"""What is asked at the desk, in the words of people: each a transaction of its own, done whole or refused whole.

The commands call these functions, and so does whatever else moves units: there is no other way in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.attempts import looked_up_first, whole, whole_unless_refused
from triptych.catalog.database.models import Grade, MovementKind
from triptych.catalog.database.rows import name_key
from triptych.catalog.errors import BadInput, Refused
from triptych.catalog.stock import (
    arriving,
    carrying,
    job_changes,
    ledger,
    looking,
    operations,
    quote_steps,
    quotes,
    replacements,
    returning,
    undoing,
)
from triptych.catalog.stock.desk_cases import (
    Answer,
    Done,
    Request,
    all_done,
    arrived,
    case_of,
    last_of_line,
    left_behind,
    seen_of,
    usual_way,
)
from triptych.catalog.stock.locations import common_zone, known_name, refuse_mistyped_job, zone_at
from triptych.catalog.stock.movement_lines import REFUNDED
from triptych.catalog.stock.offer_at_once import offered_at_once
from triptych.catalog.stock.quote_reading import Offer, ended_words, offers, without_net
from triptych.catalog.stock.timing import Until, hold_until

__all__ = ["Answer", "Done", "Request", "Step"]


def receive(engine: sa.Engine, asked: Request, serials: Sequence[str] | None = None) -> Answer:
    """Take units into stock; a location that isn't known yet is made, unless its name is nearly that of another.

    Each of the serials is one, or one pair, of what comes.
    """
    usual = None if serials else usual_way(engine, asked, MovementKind.RECEIVE, "received")
    return usual or _receive(engine, asked, serials)


@whole
def _receive(session: Session, asked: Request, serials: Sequence[str] | None) -> Answer:
    return arriving.receive(session, asked, serials)


def reserve(engine: sa.Engine, asked: Request, until: Until = None) -> Answer:
    """Promise units to a job until then, as a text in the time zone of the location; 14 days where it is None."""
    # a day ends where the units are, which the long way knows
    usual = None if isinstance(until, str) else usual_way(engine, asked, MovementKind.RESERVE, "reserved", until)
    return usual or _reserve(engine, asked, until)


@whole_unless_refused
def _reserve(session: Session, asked: Request, until: Until) -> Answer:
    case = case_of(session, asked, MovementKind.RESERVE, doubt=True)
    line = replace(case.line, until=hold_until(until, case.there.zone or "UTC"))
    number, _ = ledger.write(session, line, case.there)
    return case.answer("reserved", line, [number], warn=True)


def release(engine: sa.Engine, asked: Request) -> Answer:
    """Free units that are reserved, oldest reservation first."""
    return usual_way(engine, asked, MovementKind.RELEASE, "released") or _release(engine, asked)


@whole_unless_refused
def _release(session: Session, asked: Request) -> Answer:
    case = case_of(session, asked, MovementKind.RELEASE)
    return case.answer("released", case.line, operations.end_reservations(session, case.line, case.there))


def sell(engine: sa.Engine, asked: Request) -> Answer:
    """Take units out of stock for good; what is reserved for the job goes first."""
    return usual_way(engine, asked, MovementKind.SELL, "sold") or _sell(engine, asked)


@whole_unless_refused
def _sell(session: Session, asked: Request) -> Answer:
    case = case_of(session, asked, MovementKind.SELL, doubt=True)
    case.line, told = replacements.at_owed_price(session, case.line, case.there.job_id)
    case.remarks += told
    numbers = operations.sell(session, case.line, case.there)
    if case.line.job is not None:
        kept = operations.kept_for_job(session, case.line, case.there.holding_id)
        case.remarks += left_behind(case.line.job, kept)
    return case.answer("sold", case.line, numbers, warn=True)


@whole
def take_back(
    session: Session, asked: Request, sold_as: Grade | None = None, *, before: bool = False, refund: bool = False
) -> Answer:
    """Take back what was sold: into quarantine, until somebody has looked at it and regrades it.

    `before` says that it was sold before the ledger began; else no more comes back than the ledger sold, and what has
    a serial comes back under it. `refund` says that its money is given back, so that nothing is owed in its place.
    """
    noted = (
        "; ".join(
            filter(None, [REFUNDED if refund else None, asked.note, f"sold as {sold_as.value}" if sold_as else ""])
        )
        or None
    )
    asked = replace(asked, grade=Grade.QUARANTINE, note=noted)
    case = case_of(session, asked, MovementKind.RETURN, new=True, doubt=True)
    # two who take back at one instant what was sold once come one after the other
    looking.lock_model(session, case.model.number)
    strange = operations.never_sold(session, case.line)
    if strange and not before:
        raise Refused(f"{strange}: say --before if it was sold before the ledger began; nothing was written")
    line, told = (case.line, []) if before else returning.which_comes(session, case.line, case.there.job_id)
    number = ledger.record_movement(session, line) if told else ledger.write(session, line, case.there)[0]
    told += [] if before or refund else returning.owed_words(line)
    told += [f"warning: {strange}, so it is taken as sold before the ledger began"] if strange else []
    case.remarks += told
    return case.answer("returned to quarantine", line, [number])


def transfer(engine: sa.Engine, asked: Request, to: str, *, send: bool = False) -> Answer:
    """Move units to another location, at once or, with `send`, on their way until they arrive.

    Of a request with a job those that are reserved for it, which stay reserved there as they were.
    """
    if asked.job is not None:
        return whole(_transfer)(engine, asked, to, send=send)
    done = f"{'sent' if send else 'moved'} to {to}"
    usual = usual_way(engine, asked, MovementKind.TRANSFER_OUT, done, to=to, sent=send)
    return usual or whole_unless_refused(_transfer)(engine, asked, to, send=send)


def _transfer(session: Session, asked: Request, to: str, *, send: bool) -> Answer:
    if not name_key(to):
        raise BadInput("--to is blank: name where the units go")
    case = case_of(session, asked, MovementKind.TRANSFER_OUT)
    goal = looking.look(session, replace(case.line, location=to))
    case.made = seen_of(session, to, goal, new=True)
    if asked.job is not None:
        if send:
            raise BadInput("what is reserved moves at once: leave out --send, or --job")
        return case.answer(f"moved to {to}", case.line, carrying.carry(session, case.line, to))
    if send:
        return case.answer(f"sent to {to}", case.line, [operations.send(session, case.line, to, case.there)])
    return case.answer(f"moved to {to}", case.line, operations.transfer(session, case.line, to, case.there, goal))


@whole
def lend(session: Session, asked: Request, until: Until = None) -> Answer:
    """Give units to a job for demonstration until a day; they stay the firm's, and nobody else is promised them."""
    case = case_of(session, asked, MovementKind.TRANSFER_OUT, doubt=True)
    end = hold_until(until, case.there.zone or "UTC")
    place, numbers = carrying.lend(session, case.line, end)
    return case.answer(f"lent to {asked.job}", replace(case.line, location=place, until=end), numbers)


@whole
def bring_back(session: Session, asked: Request) -> Answer:
    """Take back what was lent to a job, to the location that is asked for."""
    case = case_of(session, asked, MovementKind.TRANSFER_IN, new=True)
    numbers = carrying.bring_back(session, case.line, asked.location)
    return case.answer(f"brought back from {asked.job}", replace(case.line, job=None), numbers)


@whole
def join(session: Session, asked: Request, serials: Sequence[str]) -> Answer:
    """Make two singles a pair again, known by the serial of the request where it has one."""
    case = case_of(session, replace(asked, quantity=2, single=False), MovementKind.COUNT)
    numbers = operations.join(session, case.line, serials)
    return case.answer("joined to a pair", case.line, numbers)


@whole
def new_job(session: Session, name: str) -> str:
    """Make a job of which nothing is written yet, also where its name is nearly another's; give it as it is kept."""
    return job_changes.new_job(session, name)


@whole
def rename_job(session: Session, name: str, new: str) -> str:
    """Give a job another name, and give it as it is kept; what was written for it stays with it."""
    return job_changes.rename_job(session, name, new)


@whole
def merge_jobs(session: Session, name: str, into: str) -> str:
    """Make two jobs one, and give the name under which it goes on."""
    return job_changes.merge_jobs(session, name, into)


def count(engine: sa.Engine, asked: Request) -> Answer:
    """Set what is on hand to what was counted; a difference needs a reason, as a note."""
    usual = None if asked.job else usual_way(engine, asked, MovementKind.COUNT, "counted")
    return usual or _count(engine, asked)


@whole
def _count(session: Session, asked: Request) -> Answer:
    case = case_of(session, asked, MovementKind.COUNT, new=asked.quantity != 0)
    number = operations.count(session, case.line)
    return case.answer("counted", case.line, [] if number is None else [number])


@whole
def regrade(session: Session, asked: Request, goal: Grade, start: Grade | None = None) -> Answer:
    """Put units into another grade; which they have is found out where only one can be meant."""
    case = case_of(session, asked, MovementKind.REGRADE_OUT)
    line = replace(case.line, grade=start or operations.grade_meant(session, case.line, goal))
    numbers = operations.regrade(session, line, goal)
    return case.answer(f"regraded to {goal.value.replace('_', ' ')}", replace(line, grade=goal), numbers)


def split(engine: sa.Engine, asked: Request, serials: Sequence[str] | None = None) -> Answer:
    """Split one pair into two singles, each tracked by a serial."""
    done, pair = "split into singles", replace(asked, quantity=2)
    plain = not (serials or asked.job or asked.single)
    usual = usual_way(engine, pair, MovementKind.SPLIT_PAIR, done, to=asked.location) if plain else None
    return usual or _split(engine, asked, serials)


@whole
def _split(session: Session, asked: Request, serials: Sequence[str] | None) -> Answer:
    case = case_of(session, replace(asked, quantity=2), MovementKind.SPLIT_PAIR)
    numbers = operations.split(session, case.line, serials or ())
    return case.answer("split into singles", replace(case.line, pack=1), numbers)


@whole
def write_off(session: Session, asked: Request) -> Answer:
    """Take units out that are lost or broken; the note says why."""
    case = case_of(session, asked, MovementKind.WRITE_OFF)
    number, _ = ledger.write(session, case.line, case.there)
    return case.answer("written off", case.line, [number], warn=True)


def arrive(engine: sa.Engine, number: int, quantity: int | None = None, who: str | None = None) -> list[Done]:
    """Take what was sent into stock where it was sent to; all that is still on its way, or so many."""
    usual = arrived(engine, number, who) if quantity is None else None
    return _arrive(engine, number, quantity, who) if usual is None else [usual]


@whole
def _arrive(session: Session, number: int, quantity: int | None, who: str | None) -> list[Done]:
    return all_done(session, "arrived", operations.arrive(session, number, quantity, who))[0]


@whole
def undo(session: Session, number: int, note: str | None = None, who: str | None = None) -> Answer:
    """Take back a mistyped movement, and all that was one deed with it, unless later ones stand on it."""
    done = undoing.undo(session, number, note, who)
    moved, _ = all_done(session, "undid", [done.entry.number])
    remarks = [f"line {done.entry.number} was: {done.entry.kind.replace('_', ' ')} {done.entry.quantity}"]
    if done.beside:
        told = ", ".join(f"line {one.number} ({one.kind.replace('_', ' ')} {one.quantity})" for one in done.beside)
        remarks.append(f"undone with it, as one deed: {told}")
    return Answer(replace(moved[0], lines=tuple(done.lines)), (*remarks, *done.remarks))


@dataclass(frozen=True, slots=True)
class Step:
    """A quote after a step, what was moved for it, and what is to be told beside it."""

    offer: Offer
    moved: tuple[Done, ...]
    warnings: tuple[str, ...]


def _step(session: Session, number: int, done: str, numbers: Sequence[int], *, warn: bool) -> Step:
    offer = offers(session, number)[0]
    moved, sold = all_done(session, done, numbers)
    return Step(offer, tuple(moved), (*last_of_line(session, sold), *without_net(offer)) if warn else ())


def make_quote(
    engine: sa.Engine,
    job: str,
    items: Sequence[quotes.Item],
    until: Until = None,
    who: str | None = None,
    note: str | None = None,
    location: str | None = None,
) -> Step:
    """Offer loudspeakers to a job at today's prices, which hold until the quote lapses; nothing is reserved yet.

    A day ends where the location is, else where all are that have one time zone, else in UTC.
    """
    usual = None if location is not None else offered_at_once(engine, job, items, until, who, note)
    if usual is not None:
        return _offered(*usual)

    def work_out(session: Session) -> quotes.QuoteDraft:
        zone = common_zone(session) if location is None else zone_at(session, known_name(session, location))
        end = hold_until(until, zone)
        refuse_mistyped_job(session, job)
        return quotes.draft(session, job, items, end, who, note, zone)

    def write(session: Session, draft: quotes.QuoteDraft) -> Step:
        return _offered(quotes.written(session, draft), draft.remarks)

    return looked_up_first(engine, work_out, write)


def _offered(offer: Offer, remarks: Sequence[str]) -> Step:
    return Step(offer, (), (*(f"warning: {remark}" for remark in remarks), *without_net(offer)))


def accept_quote(
    engine: sa.Engine,
    number: int,
    until: Until = None,
    location: str | None = None,
    serials: Sequence[str] = (),
    who: str | None = None,
) -> Step:
    """Reserve all that was quoted, or nothing."""
    usual = until is None and location is None and not serials
    found = quote_steps.accepted_at_once(engine, number, who) if usual else None
    if found is not None:
        return Step(found.offer, found.moved, (*without_net(found.offer), *found.remarks))
    return _accept_quote(engine, number, until, location, serials, who)


@whole
def _accept_quote(
    session: Session, number: int, until: Until, location: str | None, serials: Sequence[str], who: str | None
) -> Step:
    end = None
    if until is not None:
        end = hold_until(until, common_zone(session) if location is None else zone_at(session, location))
    told: list[str] = []
    numbers = quotes.accept(session, number, end, location, who, serials, told)
    step = _step(session, number, "reserved", numbers, warn=True)
    return replace(step, warnings=(*step.warnings, *told))


def sell_quote(
    engine: sa.Engine,
    number: int,
    serials: Sequence[str] = (),
    who: str | None = None,
    parts: Sequence[quotes.QuotePart] = (),
) -> Step:
    """Turn the reservations of an accepted quote into sales at its prices: all or none, or what is delivered now."""
    found = None if serials or parts else quote_steps.sold_at_once(engine, number, who)
    if found is not None:
        return Step(found.offer, found.moved, tuple(without_net(found.offer)))
    return _sell_quote(engine, number, serials, who, parts)


@whole
def _sell_quote(
    session: Session, number: int, serials: Sequence[str], who: str | None, parts: Sequence[quotes.QuotePart]
) -> Step:
    return _step(session, number, "sold", quotes.sell(session, number, who, serials, parts), warn=True)


def lapse_quote(engine: sa.Engine, number: int, who: str | None = None) -> Step:
    """End a quote before its day; what is reserved for it is free again."""
    found = quote_steps.lapsed_at_once(engine, number, who)
    step = _lapse_quote(engine, number, who) if found is None else Step(found.offer, found.moved, ())
    return replace(step, warnings=(*step.warnings, *ended_words(step.offer)))


@whole
def _lapse_quote(session: Session, number: int, who: str | None) -> Step:
    return _step(session, number, "released", quotes.lapse(session, number, who), warn=False)
