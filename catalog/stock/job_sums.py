"""Jobs: what is offered, promised, ordered, installed and outstanding for each."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import (
    Grade,
    Holding,
    Job,
    Location,
    Movement,
    MovementKind,
    Quote,
    QuoteLine,
    QuoteState,
    Reservation,
    SupplyOrder,
)
from triptych.catalog.database.order_levels import come_of_order
from triptych.catalog.database.stock_levels import is_undone
from triptych.catalog.stock.articles import models
from triptych.catalog.stock.grade_prices import grade_words
from triptych.catalog.stock.job_names import JOB, job_named, with_job
from triptych.catalog.stock.movement_lines import at_place
from triptych.catalog.stock.quote_reading import Offer, offers
from triptych.catalog.stock.reading import Held, reservations
from triptych.catalog.stock.replacements import standings
from triptych.catalog.stock.suppliers import Order, orders
from triptych.catalog.stock.supply import shelves_of
from triptych.catalog.stock.timing import until_words

Sort = tuple[int, str]
"""A loudspeaker, and the key of its finish."""


@dataclass(frozen=True, slots=True)
class JobLine:
    """What there is of one loudspeaker, in one finish, for one job; all in units.

    Attributes
    ----------
    offered : int
        In open quotes that have not lapsed.
    promised : int
        Reserved now.
    to_fetch : tuple of str
        Where what is promised stands, such as "2 at shop", and of what grade if it isn't new: "1 demo at shop".
    ordered : int
        Ordered for the job and not come.
    to_order : int
        Accepted or owed again, and neither promised, ordered, installed, nor free new ones in stock in that finish.
    to_order_if_taken : int
        What of the offers would have to be ordered if they were taken.
    lent : int
        There for demonstration.
    installed : int
        Sold and not come back.
    outstanding : int
        What the job has accepted, or is reserved or ordered for it, and is not installed; what came back is owed again.
    returned : int
        Came back, and nothing was sold in its place, which no delivery of a quote is: what was returned for its money
        is not owed.
    """

    job: str
    speaker: str
    finish: str | None
    offered: int
    promised: int
    to_fetch: tuple[str, ...]
    ordered: int
    to_order: int
    lent: int
    installed: int
    outstanding: int
    to_order_if_taken: int
    returned: int


@dataclass(frozen=True, slots=True)
class JobSum:
    """One job in a line: the sums of its lines, and when the first of its promises lapses."""

    job: str
    offered: int
    promised: int
    ordered: int
    to_order: int
    lent: int
    installed: int
    outstanding: int
    until: datetime | None
    zone: str
    to_order_if_taken: int
    returned: int


@dataclass(frozen=True, slots=True)
class JobStory:
    """One job whole: its lines, and the quotes, promises and orders that they come from."""

    job: str
    lines: tuple[JobLine, ...]
    quotes: tuple[Offer, ...]
    reservations: tuple[Held, ...]
    orders: tuple[Order, ...]


def story_words(story: JobStory) -> list[str]:
    """Say which quotes, orders and promises a job has, each in a line."""
    told = [
        f"owed again: {one.returned} × {', '.join(filter(None, (one.speaker, one.finish)))}, which came back:"
        " what is sold for the job goes in its place"
        for one in story.lines
        if one.returned
    ]
    told += [f"quote {one.number}: {one.state}, {one.total} {one.currency}" for one in story.quotes]
    for order in story.orders:
        expected = f", expected {order.expected}" if order.expected and order.state == "open" else ""
        came = f"{order.come} of {order.quantity} came"
        told.append(f"order {order.number} from {order.supplier}: {order.state}, {came}{expected}")
    for held in story.reservations:
        until = f"{'lapsed at' if held.lapsed else 'until'} {until_words(held.until, held.zone)}"
        what = ", ".join(filter(None, (held.speaker, held.finish, _unless_new(Grade(held.grade)))))
        told.append(f"reservation {held.number}: {held.units} × {what} {at_place(held.location)} {until}")
    return told


def _unless_new(grade: Grade) -> str:
    return "" if grade is Grade.NEW else grade_words(grade)


@dataclass(slots=True)
class _Count:
    offered: int = 0
    offered_new: int = 0
    accepted: int = 0
    accepted_new: int = 0
    promised: int = 0
    promised_new: int = 0
    ordered: int = 0
    lent: int = 0
    installed: int = 0
    returned: int = 0
    returned_new: int = 0
    finish: str | None = None
    places: Counter[str] = field(default_factory=Counter)


_Counts = dict[str, dict[Sort, _Count]]


def job_lines(session: Session, name: str | None = None, now: datetime | None = None) -> list[JobLine]:
    """Give what there is for each job, or for one, by loudspeaker and finish, in order of their names.

    Raises
    ------
    NotFound
        No job has that name; the nearest is told.
    """
    job = None if name is None else job_named(session, name)
    counts: _Counts = defaultdict(lambda: defaultdict(_Count))
    moment = now or datetime.now(UTC)
    for add in (_quoted, _reserved, _ordered, _sold, _lent):
        for whose, speaker, finish, what, units, place in add(session, job, moment):
            count = counts[whose][speaker, rows.name_key(finish)]
            setattr(count, what, getattr(count, what) + units)
            count.finish = count.finish or finish
            if place:
                count.places[place] += units
    numbers = {speaker for of_job in counts.values() for speaker, _ in of_job}
    names = {number: model.name for number, model in models(session, numbers).items()}
    free = _free_new(session, numbers, moment)
    lines = [
        _line(whose, names[sort[0]], count, free[sort])
        for whose, of_job in counts.items()
        for sort, count in of_job.items()
    ]
    return sorted(lines, key=lambda line: (rows.name_key(line.job), rows.name_key(line.speaker), line.finish or ""))


def _line(job: str, speaker: str, count: _Count, free: int) -> JobLine:
    owed, covered = max(0, count.accepted) + count.returned, count.promised_new + count.ordered + max(0, free)
    owed_new = max(0, count.accepted_new) + count.returned_new
    short = max(0, owed_new - covered)
    if_taken = max(0, count.offered_new - max(0, covered - owed_new))
    return JobLine(
        job,
        speaker,
        count.finish,
        count.offered,
        count.promised,
        tuple(f"{units} {place}" for place, units in sorted(count.places.items())),
        count.ordered,
        short,
        count.lent,
        count.installed,
        max(owed, count.promised) + max(0, count.ordered - max(0, owed - count.promised)),
        if_taken,
        count.returned,
    )


def _free_new(session: Session, numbers: Collection[int], now: datetime) -> Counter[Sort]:
    """Count what is free of new ones, as they are sold, by loudspeaker and finish."""
    packs = {number: model.pack for number, model in models(session, numbers).items()}
    free: Counter[Sort] = Counter()
    for number, shelves in shelves_of(session, sorted(numbers), now).items():
        for one in shelves:
            if one.grade is Grade.NEW and one.pack == packs[number]:
                free[number, one.finish_key] += one.free
    return free


_Found = Iterator[tuple[str, int, str | None, str, int, str]]
"""Job, loudspeaker, finish, which figure, units, and where they stand."""


def _of(job: int | None) -> list[sa.ColumnElement[bool]]:
    return [] if job is None else [JOB.id == job]


def _quoted(session: Session, job: int | None, now: datetime) -> _Found:
    """What is offered, and what of what was accepted is not sold yet."""
    query = with_job(
        sa.select(JOB.name, QuoteLine.loudspeaker_id, QuoteLine.finish, QuoteLine.quantity, Quote.state, Quote.until)
        .add_columns(QuoteLine.grade)
        .join(Quote, Quote.id == QuoteLine.quote_id)
        .where(Quote.state.in_((QuoteState.OPEN, QuoteState.ACCEPTED))),
        Quote.job_id,
    ).where(*_of(job))
    for whose, speaker, finish, units, state, until, grade in session.execute(query):
        if state is QuoteState.ACCEPTED or until > now:
            what = "accepted" if state is QuoteState.ACCEPTED else "offered"
            yield whose, speaker, finish, what, units, ""
            # what is of another grade is never ordered
            yield from [(whose, speaker, finish, f"{what}_new", units, "")] * (grade is Grade.NEW)
    sold = with_job(
        sa.select(JOB.name, Movement.loudspeaker_id, Holding.finish, Movement.quantity, Holding.grade)
        .join(Holding, Holding.id == Movement.holding_id)
        .join(Quote, Quote.id == Movement.quote_id)
        .where(Movement.kind == MovementKind.SELL, ~is_undone(), Quote.state == QuoteState.ACCEPTED),
        Quote.job_id,
    ).where(*_of(job))
    for whose, speaker, finish, units, grade in session.execute(sold):
        yield whose, speaker, finish, "accepted", -units, ""
        yield from [(whose, speaker, finish, "accepted_new", -units, "")] * (grade is Grade.NEW)


def _reserved(session: Session, job: int | None, now: datetime) -> _Found:
    """What is promised, and where it stands; what is lent is not promised beside that."""
    query = with_job(
        sa.select(JOB.name, Holding.loudspeaker_id, Holding.finish, Reservation.rest, Location.name, Holding.grade)
        .join(Holding, Holding.id == Reservation.holding_id)
        .join(Location, Location.id == Holding.location_id)
        .join(Movement, Movement.id == Reservation.movement_id)
        .where(Reservation.rest > 0, Reservation.until > now, Location.loan_job_id.is_(None)),
        Movement.job_id,
    ).where(*_of(job))
    for whose, speaker, finish, units, place, grade in session.execute(query):
        where = " ".join(filter(None, (_unless_new(grade), at_place(place))))
        yield whose, speaker, finish, "promised", units, where
        yield from [(whose, speaker, finish, "promised_new", units, "")] * (grade is Grade.NEW)


def _ordered(session: Session, job: int | None, now: datetime) -> _Found:
    rest = SupplyOrder.quantity - come_of_order()
    query = with_job(
        sa.select(JOB.name, SupplyOrder.loudspeaker_id, SupplyOrder.finish, rest).where(
            SupplyOrder.cancelled_at.is_(None), rest > 0
        ),
        SupplyOrder.job_id,
    ).where(*_of(job))
    for whose, speaker, finish, units in session.execute(query):
        yield whose, speaker, finish, "ordered", int(units), ""


def _sold(session: Session, job: int | None, now: datetime) -> _Found:
    """What is sold and has not come back, and what of it came back with nothing sold in its place."""
    for one in standings(session, job):
        yield one.job, one.loudspeaker_id, one.finish, "installed", one.installed, ""
        yield one.job, one.loudspeaker_id, one.finish, "returned", one.returned, ""
        yield one.job, one.loudspeaker_id, one.finish, "returned_new", one.returned_new, ""


def _lent(session: Session, job: int | None, now: datetime) -> _Found:
    last = sa.select(sa.func.max(Movement.sequence)).where(Movement.holding_id == Holding.id).correlate(Holding)
    query = with_job(
        sa.select(JOB.name, Holding.loudspeaker_id, Holding.finish, Movement.on_hand)
        .join(Holding, Holding.id == Movement.holding_id)
        .join(Location, Location.id == Holding.location_id)
        .where(Movement.sequence == last.scalar_subquery(), Movement.on_hand > 0, Location.loan_job_id.is_not(None)),
        Location.loan_job_id,
    ).where(*_of(job))
    for whose, speaker, finish, units in session.execute(query):
        yield whose, speaker, finish, "lent", units, ""


def jobs(session: Session, *, every: bool = False, now: datetime | None = None) -> list[JobSum]:
    """Give the jobs for which something is offered, promised, ordered or lent, or every one, in order of names."""
    held: dict[str, Held] = {}
    for one in reservations(session, now=now):
        held.setdefault(one.job, one)
    by_job: defaultdict[str, list[JobLine]] = defaultdict(list)
    for line in job_lines(session, now=now):
        by_job[line.job].append(line)
    if every:
        for name in session.scalars(sa.select(Job.name).where(Job.merged_into_id.is_(None))):
            by_job[name] = by_job[name]
    found = []
    for name in sorted(by_job, key=rows.name_key):
        sums = {figure: sum(getattr(line, figure) for line in by_job[name]) for figure in _SUMS}
        first = held.get(name)
        if every or sums["outstanding"] or sums["offered"] or sums["lent"]:
            until, zone = (None, "UTC") if first is None else (first.until, first.zone)
            found.append(JobSum(name, **sums, until=until, zone=zone))
    return found


_SUMS = (
    *("offered", "promised", "ordered", "to_order", "lent", "installed", "outstanding", "to_order_if_taken"),
    "returned",
)


def job_story(session: Session, name: str) -> JobStory:
    """Give all that there is of one job.

    Raises
    ------
    NotFound
        No job has that name; the nearest is told.
    """
    called = session.get_one(Job, job_named(session, name)).name
    return JobStory(
        called,
        tuple(job_lines(session, name)),
        tuple(one for one in offers(session) if one.job == called),
        tuple(one for one in reservations(session, lapsed=True) if one.job == called),
        tuple(one for one in orders(session, every=True) if one.job == called),
    )
