"""Why the ledger says no to a line, and what there is instead: in another finish, grade or pack, or elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any, Final, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from triptych.catalog.database import rows
from triptych.catalog.database.models import Grade, Holding, Job, Location, Movement, MovementKind, Reservation
from triptych.catalog.database.models.ledger_tables import INTO
from triptych.catalog.database.stock_levels import is_last_line, reserved_of
from triptych.catalog.errors import Refused
from triptych.catalog.names import mistaken_for
from triptych.catalog.stock.grade_prices import Tag, at_price, grade_words, tags_of
from triptych.catalog.stock.job_names import JOB, parts_of, whole_job, with_job
from triptych.catalog.stock.looking import There
from triptych.catalog.stock.movement_lines import MovementLine
from triptych.catalog.stock.timing import until_words

SORTS_NAMED: Final = 8
"""So many sorts of units are named at once."""

_PROMISE: Final = aliased(Movement)


@dataclass(frozen=True, slots=True)
class FinishThere:
    """Units in a finish, or without a stated one, that would do; `units` are what may be taken."""

    finish: str | None
    units: int

    @property
    def words(self) -> str:
        """As people read it."""
        return f"{self.units} {in_finish(self.finish)}"


class OtherFinish(Refused):
    """There are units, but in other finishes than was said; those of `finishes` would do, so somebody can be asked.

    `speaker` says of which of several loudspeakers that is.
    """

    def __init__(self, said: str, finishes: Sequence[FinishThere], speaker: str = "") -> None:
        super().__init__(said)
        self.finishes, self.speaker = tuple(finishes), speaker


@dataclass(frozen=True, slots=True)
class _Sort:
    """Alike units at one location: what of them is free, and what is promised to the job that is asked about."""

    location: str
    here: bool
    grade: Grade
    finish: str | None
    alike_finish: bool
    pack: int
    on_hand: int
    free: int
    held: int


def in_finish(finish: str | None) -> str:
    """Say in what finish units are."""
    return "without a stated finish" if finish is None else f"in {finish!r}"


class HeldFor(NamedTuple):
    """Units that are promised, to whom and until when."""

    job: str
    units: int
    until: datetime


SortRow = tuple[str, str, Grade, str | None, str, int, int, int, int]
"""A location's name and key, grade, finish and its key, pack, units on hand, reserved, and promised to the job."""


@dataclass(frozen=True, slots=True)
class Instead:
    """What there is of a loudspeaker besides what was asked for, each read where it is told.

    `held` is of the very units, the first to lapse first; `sorts` are everywhere but where it is lent; `tags` are what
    grades are sold for.
    """

    held: Callable[[], Sequence[HeldFor]]
    sorts: Callable[[], Iterable[SortRow]]
    tags: Callable[[], Mapping[Grade, Tag | None]]

    def sorts_of(self, line: MovementLine) -> list[_Sort]:
        """Give what there is of a line's model, where something of it can be taken."""
        place, finish = rows.name_key(line.location), rows.name_key(line.finish)
        return [
            _Sort(name, key == place, grade, shown, finish_key == finish, pack, units, units - int(reserved), int(held))
            for name, key, grade, shown, finish_key, pack, units, reserved, held in self.sorts()
        ]


def _instead(session: Session, line: MovementLine, there: There) -> Instead:
    def sorts() -> Iterable[SortRow]:
        values = {"loudspeaker": line.loudspeaker_id, "now": there.now}
        values |= {} if line.job is None else {"job": rows.name_key(line.job)}
        found = session.connection().execute(_sorts_query(of_job=line.job is not None), values)
        return (tuple(row) for row in found)

    def tags() -> Mapping[Grade, Tag | None]:
        return {grade: tag for (_, grade), tag in tags_of(session, [line.loudspeaker_id]).items()}

    return Instead(lambda: _held(session, there), sorts, tags)


def _held(session: Session, there: There) -> list[HeldFor]:
    live = (Reservation.holding_id == there.holding_id, Reservation.rest > 0, Reservation.until > there.now)
    query = with_job(
        sa.select(JOB.name, Reservation.rest, Reservation.until)
        .join(Movement, Movement.id == Reservation.movement_id)
        .where(*live)
        .order_by(Reservation.until, Reservation.movement_id),
        Movement.job_id,
    )
    return [HeldFor(*row) for row in session.execute(query)]


@cache
def _sorts_query(*, of_job: bool) -> sa.Select[*tuple[Any, ...]]:
    now: sa.BindParameter[datetime] = sa.bindparam("now")
    live = (Reservation.holding_id == Holding.id, Reservation.rest > 0, Reservation.until > now)
    own = sa.select(sa.func.coalesce(sa.func.sum(Reservation.rest), 0)).where(*live)
    if of_job:
        named = sa.select(whole_job(Job)).where(Job.name_key == sa.bindparam("job")).scalar_subquery()
        own = own.join(_PROMISE, _PROMISE.id == Reservation.movement_id).where(_PROMISE.job_id.in_(parts_of(named)))
    return (
        sa.select(Location.name, Location.name_key, Holding.grade, Holding.finish, Holding.finish_key, Holding.pack)
        .add_columns(Movement.on_hand, reserved_of(Holding.id, now), own.correlate(Holding).scalar_subquery())
        .join(Holding, Holding.location_id == Location.id)
        .join(Movement, is_last_line())
        .where(Holding.loudspeaker_id == sa.bindparam("loudspeaker"), Movement.on_hand > 0)
        .where(Location.loan_job_id.is_(None))
        .order_by(Location.name_key, Holding.grade, Holding.finish_key, Holding.pack)
    )


def too_few(session: Session, line: MovementLine, there: There) -> Refused:
    """Give the refusal of what would take more than there is, which says what there is instead."""
    return too_few_of(line, there, _instead(session, line, there))


def too_few_of(line: MovementLine, there: There, instead: Instead) -> Refused:
    """Give the refusal of what would take more than there is, where it is known what there is instead."""
    wanted = -line.quantity if line.kind in INTO else line.quantity
    if there.holding_id is None:
        finish = f" in {line.finish!r}" if line.finish else ""
        why = f"0 on hand, 0 reserved, {line.grade_words}{finish}" + (", as pairs" if there.pack == 2 else "")
    else:
        why = _levels(there, wanted, instead)
    said = f"cannot {line.units} {line.place}: {why}"
    if line.kind is MovementKind.COUNT:
        return Refused(f"{_counted_short(line, there, instead) or said}; nothing was written")
    own = line.kind is MovementKind.SELL and line.job is not None
    sorts = [one for one in instead.sorts_of(line) if one.free + own * one.held > 0]
    sorts = [one for one in sorts if _fits(one, line)]
    others = [
        FinishThere(one.finish, one.free + own * one.held)
        for one in sorts
        if one.here and one.grade is line.grade and one.pack == there.pack and not one.alike_finish
    ]
    told = _told(line, there.pack, sorts, instead, own=own)
    return _refusal(said, told, [one for one in others if one.units >= wanted])


def _counted_short(line: MovementLine, there: There, instead: Instead) -> str | None:
    """Say of a count that leaves less than is promised to whom that is; None where that is not what is wrong."""
    left = there.on_hand + line.quantity
    if left < 0 or there.holding_id is None or left >= there.reserved:
        return None
    zone = there.zone or "UTC"
    held = [f"{one.units} to {one.job} until {until_words(one.until, zone)}" for one in instead.held()]
    more = f" and {len(held) - SORTS_NAMED} more" if len(held) > SORTS_NAMED else ""
    return (
        f"{left} {line.place} would be {there.reserved - left} too few: of the {there.on_hand} there by the ledger"
        f" {there.reserved} are promised, {_listed(held[:SORTS_NAMED])}{more}: first let go of what is not there, with"
        " stock release"
    )


def refuse_forgotten(session: Session, line: MovementLine, there: There) -> None:
    """Refuse a count of units where there are none so far, and some in other finishes: rather one was forgotten.

    A finish that is said is taken for a new one, unless it is nearly that of another.

    Raises
    ------
    OtherFinish
        Names those that are there.
    """
    if there.on_hand or line.quantity <= 0 or there.location_id is None:
        return
    found = [
        FinishThere(one.finish, one.on_hand)
        for one in _instead(session, line, there).sorts_of(line)
        if one.here and one.grade is line.grade and one.pack == there.pack and not one.alike_finish
    ]
    near = None if line.finish is None else mistaken_for(line.finish, [one.finish for one in found if one.finish])
    if not found or (line.finish is not None and near is None):
        return
    meant = found if near is None else [one for one in found if one.finish == near]
    hint = "say which with --finish" if near is None else f"did you mean {near!r}?"
    raise OtherFinish(
        f"cannot count {line.quantity} {in_finish(line.finish)} at {line.location!r}: there are none, and"
        f" {_listed([one.words for one in found])}: {hint}; nothing was written",
        meant,
    )


def doubt_finish(session: Session, number: int, finish: str | None) -> list[str]:
    """Give what to tell of a finish in which a loudspeaker never was, where it was in others: a slip, perhaps."""
    return finish_doubts(finishes_of(session, number), finish)


def finishes_of(session: Session, number: int) -> dict[str, str | None]:
    """Give the finishes in which a loudspeaker ever was, by their keys."""
    query = sa.select(Holding.finish, Holding.finish_key).where(Holding.loudspeaker_id == number).order_by(Holding.id)
    known: dict[str, str | None] = {}
    for shown, key in session.execute(query):
        known.setdefault(key, shown)
    return known


def finish_doubts(known: Mapping[str, str | None], finish: str | None) -> list[str]:
    """Give what to tell of a finish, where others are known by their keys."""
    if not known or rows.name_key(finish) in known:
        return []
    names = [shown for shown in known.values() if shown is not None]
    if finish is None:
        return [f"without a finish, and so far it was {_listed([in_finish(name) for name in names[:SORTS_NAMED]])}"]
    near = mistaken_for(finish, names)
    return [] if near is None else [f"new finish {finish!r}; did you mean {near!r}?"]


def refuse_doubtful(session: Session, number: int, line: MovementLine) -> None:
    """Refuse what comes without a finish, or nearly in one, where a loudspeaker was in others only.

    Raises
    ------
    OtherFinish
        Names those, and what was said, which may be meant as well.
    """
    told = doubt_finish(session, number, line.finish)
    if not told:
        return
    query = sa.select(Holding.finish).where(Holding.loudspeaker_id == number, Holding.finish.is_not(None))
    known = list(dict.fromkeys(session.scalars(query.order_by(Holding.id))))
    near = None if line.finish is None else mistaken_for(line.finish, [name for name in known if name is not None])
    meant = known[:SORTS_NAMED] if near is None else [near]
    raise OtherFinish(
        f"cannot {line.units}: {told[0]}{' S' if near else ': s'}ay which with --finish, or --new-finish if it is meant"
        " so; nothing was written",
        [FinishThere(finish, line.quantity) for finish in (*meant, line.finish)],
    )


def _fits(sort: _Sort, line: MovementLine) -> bool:
    """Whether units are worth telling of: what is sold or promised is never in quarantine, and may be elsewhere."""
    if line.kind in (MovementKind.SELL, MovementKind.RESERVE):
        return sort.grade is not Grade.QUARANTINE
    return sort.here


def unpromised(session: Session, line: MovementLine, there: There, said: str) -> Refused:
    """Give the refusal of what would end more promises of a line's job than there are, which names other finishes."""
    return unpromised_of(line, there, said, _instead(session, line, there))


def unpromised_of(line: MovementLine, there: There, said: str, instead: Instead) -> Refused:
    """Give the same refusal, where it is known what there is instead."""
    others = [
        FinishThere(one.finish, one.held)
        for one in instead.sorts_of(line)
        if one.here and one.held and one.grade is line.grade and one.pack == there.pack and not one.alike_finish
    ]
    told = [f"reserved are {_listed([one.words for one in others])}: say which with --finish"] if others else []
    return _refusal(said, told, [one for one in others if one.units >= line.quantity])


def fewer_reserved(line: MovementLine, held: int) -> str:
    """Say that fewer are reserved for a line's job, or for anybody, than it would end."""
    return f"cannot {line.units} {line.place}: {held} reserved" + (f" for {line.job!r}" if line.job else "")


def _refusal(said: str, told: Sequence[str], choices: Sequence[FinishThere]) -> Refused:
    whole = "; ".join([said, *told, "nothing was written"])
    return OtherFinish(whole, choices) if choices else Refused(whole)


def _told(line: MovementLine, pack: int, sorts: Sequence[_Sort], instead: Instead, *, own: bool) -> list[str]:
    """Say what there is instead, line by line: where, in which finish, of which grade at what price, how packed."""
    tags = instead.tags() if any(one.grade is not line.grade for one in sorts) else {}
    found = []
    for one in sorts:
        if one.here and one.alike_finish and one.grade is line.grade and one.pack == pack:
            continue
        units = one.free + own * one.held
        words = [str(units)]
        if one.grade is not line.grade:
            words.append(grade_words(one.grade))
        if one.pack != pack:
            words.append("in pairs, to be split first" if one.pack == 2 else f"single{'s' * (units != 1)}")
        if not one.alike_finish:
            words.append(in_finish(one.finish))
        price = at_price(tags.get(one.grade)) if one.grade is not line.grade else ""
        found.append(f"{' '.join(words)} at {one.location!r}{price}")
    if not found:
        return []
    more = f" and {len(found) - SORTS_NAMED} sorts more" if len(found) > SORTS_NAMED else ""
    options = [
        f"--{name}"
        for name, needed in (
            ("finish", any(not one.alike_finish for one in sorts)),
            ("grade", any(one.grade is not line.grade for one in sorts)),
            ("location", any(not one.here for one in sorts)),
        )
        if needed
    ]
    which = f": say which with {' and '.join(options)}" if options else ""
    return [f"there {'is' if found[0].startswith('1 ') else 'are'} {_listed(found[:SORTS_NAMED])}{more}{which}"]


def _listed(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _levels(there: There, wanted: int, instead: Instead) -> str:
    """Say what is on hand and reserved, until when, and how it is freed where that is what is in the way."""
    said = f"{there.on_hand} on hand, {there.reserved} reserved"
    if not there.reserved:
        return said
    ends = sorted({one.until for one in instead.held()})
    if ends:
        first = "the first " if len(ends) > 1 else ""
        said += f", {first}until {until_words(ends[0], there.zone or 'UTC')}"
    enough = wanted <= there.on_hand
    return said + (" (stock reservations says for whom, stock release frees it)" if enough else "")
