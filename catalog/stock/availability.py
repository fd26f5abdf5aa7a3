"""How many go together now, and on which day otherwise: from what is there, lapses, is ordered or could be."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Grade, Holding, Location, Reservation, Supplier, SupplierPrice, SupplyOrder
from triptych.catalog.database.order_levels import come_of_order
from triptych.catalog.database.rows import name_key
from triptych.catalog.database.stock_levels import SELLABLE, free_lines, moment, reserved_of
from triptych.catalog.stock.articles import Model, models


@dataclass(frozen=True, slots=True)
class Lapse:
    """Units that are free again from a day on, unless somebody takes them; alike are those of one pack and finish."""

    day: date
    units: int
    pack: int
    grade: Grade
    finish_key: str


@dataclass(frozen=True, slots=True)
class Coming:
    """Units of an open order; `expected` is None where nobody said when."""

    expected: date | None
    units: int


@dataclass(frozen=True, slots=True)
class Arrivals:
    """What comes later, by loudspeaker. Lead times in days."""

    today: date
    lapses: dict[int, list[Lapse]] = field(default_factory=dict)
    orders: dict[int, list[Coming]] = field(default_factory=dict)
    lead: dict[int, int | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Shelf:
    """Alike units at one location, and how many of them nobody has reserved."""

    pack: int
    grade: Grade
    finish: str | None
    finish_key: str
    free: int


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked for, all of one finish and grade.

    Attributes
    ----------
    finish : str, optional
        Which finish, None for units whose finish is not stated; not looked at where `any_finish`.
    single : bool
        Single ones of what is sold in pairs; so is every odd number of them.
    """

    quantity: int = 1
    grades: Sequence[Grade] = (Grade.NEW,)
    finish: str | None = None
    any_finish: bool = True
    single: bool = False

    def pack(self, model: Model) -> int:
        """Give how the units are packed that would do."""
        return 1 if self.single or self.quantity % model.pack else model.pack


@dataclass(frozen=True, slots=True)
class Promise:
    """How many units may be promised now, and otherwise when the wanted ones could be had, and how that is known.

    `when` is None where nobody knows; `why` says so, or that it never will be. `beside` says what is there and won't
    do, such as single ones where a pair is wanted; it is in `why` too. `never` says why no more can be ordered,
    empty where they can.
    """

    available: int
    when: date | None
    why: str
    beside: str = ""
    never: str = ""


Kind = tuple[Grade, str]
"""Grade and finish: units of one kind go together."""


def promises(
    session: Session,
    ids: Iterable[int],
    quantity: int = 1,
    grades: Collection[Grade] = (Grade.NEW,),
    day: date | datetime | None = None,
) -> dict[int, Promise]:
    """Give for each loudspeaker whether `quantity` alike may be promised now, in any finish, and when otherwise.

    Parameters
    ----------
    ids : iterable of int
        Loudspeakers' numbers.
    quantity : int
        How many are wanted together.
    grades : collection of Grade
        Which are acceptable.

    Returns
    -------
    dict of int to Promise
        By number; one for each of `ids` that is a loudspeaker.
    """
    return promised(session, ids, Asked(quantity, tuple(grades)), day)


def promised(
    session: Session, ids: Iterable[int], asked: Asked, day: date | datetime | None = None
) -> dict[int, Promise]:
    """Give for each loudspeaker whether what is asked may be promised now, and when otherwise.

    Reservations that lapse and orders that come are added up over time; where they don't suffice, the lead time of a
    supplier counts. What is discontinued or last of its line, single ones of what is sold in pairs, and grades other
    than new are never back-ordered. An order doesn't say in which finish it comes, so it is taken to come as asked.
    """
    now, wanted = moment(day), sorted(set(ids))
    shelves = _shelves(session, wanted, now)
    sources = _sources(session, wanted, now)
    return {
        number: promise_of(model, shelves.get(number, []), asked, sources)
        for number, model in models(session, wanted).items()
    }


def _shelves(session: Session, ids: list[int], now: Any) -> dict[int, list[Shelf]]:
    lines = free_lines().where(Holding.loudspeaker_id.in_(ids)).subquery()
    free = lines.c.on_hand - reserved_of(lines.c.id, now)
    query = (
        sa.select(Holding.loudspeaker_id, Holding.pack, Holding.grade, Holding.finish, Holding.finish_key, free)
        .join(lines, lines.c.id == Holding.id)
        .where(Holding.grade.in_(SELLABLE))
        .order_by(Holding.id)
    )
    found: dict[int, list[Shelf]] = {}
    for number, *shelf in session.execute(query):
        found.setdefault(number, []).append(Shelf(*shelf))
    return found


def _sources(session: Session, ids: list[int], now: datetime) -> Arrivals:
    """Read what comes later of some loudspeakers; orders for a job are not for others."""
    sources = Arrivals(now.date())
    for number, expected, units in session.execute(_open_orders().where(SupplyOrder.loudspeaker_id.in_(ids))):
        sources.orders.setdefault(number, []).append(Coming(expected, int(units)))
    query = (
        sa.select(
            Holding.loudspeaker_id,
            Reservation.until,
            Reservation.rest,
            Holding.pack,
            Holding.grade,
            Holding.finish_key,
        )
        .join(Holding, Holding.id == Reservation.holding_id)
        .join(Location, Location.id == Holding.location_id)
        .where(Reservation.rest > 0, Reservation.until > now, Holding.loudspeaker_id.in_(ids))
        .where(Location.loan_job_id.is_(None))
    )
    for number, until, units, pack, grade, finish_key in session.execute(query):
        sources.lapses.setdefault(number, []).append(Lapse(_day_after(until), units, pack, grade, finish_key))
    lead = (
        sa.select(SupplierPrice.loudspeaker_id, sa.func.min(Supplier.lead_time))
        .join(Supplier, Supplier.id == SupplierPrice.supplier_id)
        .where(sa.or_(SupplierPrice.valid_to.is_(None), SupplierPrice.valid_to > sources.today))
        .where(SupplierPrice.loudspeaker_id.in_(ids))
        .group_by(SupplierPrice.loudspeaker_id)
    )
    sources.lead.update({row[0]: row[1] for row in session.execute(lead)})
    return sources


def _open_orders() -> sa.Select[int, date | None, int]:
    """Give the query of what is ordered and has not come: loudspeaker, expected date, units."""
    rest = SupplyOrder.quantity - come_of_order()
    return (
        sa.select(SupplyOrder.loudspeaker_id, SupplyOrder.expected, rest)
        .where(SupplyOrder.cancelled_at.is_(None), SupplyOrder.job_id.is_(None), rest > 0)
        .order_by(SupplyOrder.id)
    )


def _day_after(until: datetime) -> date:
    """Give the first whole day on which something is free that holds until then."""
    day = until.date()
    return day if until.time() == time() or day == date.max else day + timedelta(days=1)


def promise_of(model: Model, shelves: Sequence[Shelf], asked: Asked, sources: Arrivals) -> Promise:
    """Give what may be promised of a model, and when otherwise."""
    pack = asked.pack(model)
    fits = [shelf for shelf in shelves if shelf.pack == pack and shelf.grade in asked.grades]
    free: dict[Kind, int] = dict.fromkeys(_kinds(fits, asked), 0)
    for shelf in fits:
        if (shelf.grade, shelf.finish_key) in free:
            free[shelf.grade, shelf.finish_key] += shelf.free
    most = max(free.values(), default=0)
    never = _never(model, asked, pack)
    if most >= asked.quantity:
        return Promise(most, sources.today, f"{most} available now", "", never)
    beside = "; ".join(_beside(shelves, asked, pack))
    when, why = _later(model, free, asked, pack, sources)
    return Promise(most, when, "; ".join(filter(None, (beside, why))), beside, never)


def _kinds(fits: Iterable[Shelf], asked: Asked) -> list[Kind]:
    if not asked.any_finish:
        return [(grade, name_key(asked.finish)) for grade in asked.grades]
    found = dict.fromkeys((shelf.grade, shelf.finish_key) for shelf in fits)
    # an order may come in a finish that was never there
    return list(found) or [(grade, "") for grade in asked.grades]


def _beside(shelves: Sequence[Shelf], asked: Asked, pack: int) -> list[str]:
    """Say what is there and won't do."""
    there = [shelf for shelf in shelves if shelf.free and shelf.grade in asked.grades]
    alike = [shelf for shelf in there if asked.any_finish or shelf.finish_key == name_key(asked.finish)]
    told = []
    if (units := sum(shelf.free for shelf in alike if shelf.pack != pack)) > 0:
        told.append(_packed_otherwise(units, asked.quantity, pack))
    finishes: dict[str, tuple[int, str | None]] = {}
    for shelf in there:
        if shelf.pack == pack and (asked.any_finish or shelf not in alike):
            before, name = finishes.get(shelf.finish_key, (0, shelf.finish))
            finishes[shelf.finish_key] = (before + shelf.free, name)
    if finishes and (not asked.any_finish or len(finishes) > 1):
        words = " and ".join(f"{units} {_in(finish)}" for units, finish in finishes.values())
        told.append(f"{words}, not alike" if asked.any_finish else words)
    return told


def _packed_otherwise(units: int, quantity: int, pack: int) -> str:
    if pack == 1:
        return f"{units} in pairs, to be split first"
    return f"{units} single{'s' * (units != 1)}, not {'a pair' if quantity == 2 else 'pairs'}"


def _in(finish: str | None) -> str:
    return "without a stated finish" if finish is None else f"in {finish!r}"


def _later(model: Model, free: dict[Kind, int], asked: Asked, pack: int, sources: Arrivals) -> tuple[date | None, str]:
    lapses = [one for one in sources.lapses.get(model.number, []) if one.pack == pack and one.grade in asked.grades]
    orders = sources.orders.get(model.number, []) if pack == model.pack and Grade.NEW in asked.grades else []
    late = [one for one in orders if one.expected is not None and one.expected < sources.today]
    notes = _unsure(late, orders)
    best = _soonest(lapses, orders, free, asked, sources)
    if best is not None:
        return best.day, "; ".join([best.words(), *notes])
    new = max((units for (grade, _), units in free.items() if grade is Grade.NEW), default=0)
    if late and new + sum(one.units for one in orders if one.expected is not None) >= asked.quantity:
        return None, "; ".join(notes)
    when, why = _ordered_anew(model, _never(model, asked, pack), sources, on_order=bool(notes))
    return when, "; ".join(filter(None, [why, *notes]))


def _soonest(
    lapses: Sequence[Lapse], orders: Sequence[Coming], free: dict[Kind, int], asked: Asked, sources: Arrivals
) -> _Reached | None:
    """Give when there are first enough that go together, of whatever kind."""
    kinds = dict.fromkeys([*free, *(_of(one) for one in lapses if asked.any_finish)])
    found = []
    for kind in kinds:
        alike = [one for one in lapses if _of(one) == kind]
        reached = _reach(alike, orders if kind[0] is Grade.NEW else [], asked.quantity - free.get(kind, 0), sources)
        found += [] if reached is None else [reached]
    return min(found, key=lambda one: one.day, default=None)


def _of(lapse: Lapse) -> Kind:
    return lapse.grade, lapse.finish_key


def _unsure(late: Sequence[Coming], orders: Sequence[Coming]) -> list[str]:
    """Say what is ordered, and of which nobody knows when it comes."""
    days = sorted({str(one.expected) for one in late})
    told = [f"ordered, was expected {' and '.join(days)}, overdue"] if days else []
    return told + ["ordered, and no date stated"] * any(one.expected is None for one in orders)


@dataclass(frozen=True, slots=True)
class _Reached:
    """The day on which enough are there, and what of them was reserved and ordered."""

    day: date
    lapsed: tuple[tuple[date, int], ...]
    come: tuple[tuple[date, int], ...]

    def words(self) -> str:
        if not self.come:
            return f"reserved; free on {self.day} if nobody takes it"
        if not self.lapsed:
            return f"on order, expected {self.day}"
        reserved, ordered = (sum(units for _, units in part) for part in (self.lapsed, self.come))
        lapse, order = self.lapsed[-1][0], self.come[-1][0]
        return f"{reserved} reserved, free on {lapse} if nobody takes it; {ordered} on order, expected {order}"


def _reach(lapses: Sequence[Lapse], orders: Sequence[Coming], missing: int, sources: Arrivals) -> _Reached | None:
    """Add up what comes, day by day, until enough is there."""
    coming: list[tuple[date, int, int]] = [(one.day, _LAPSED, one.units) for one in lapses]
    coming += [(one.expected, _COME, one.units) for one in orders if one.expected and one.expected >= sources.today]
    taken: tuple[list[Any], list[Any]] = ([], [])
    for day, kind, units in sorted(coming):
        taken[kind].append((day, units))
        missing -= units
        if missing <= 0:
            return _Reached(day, tuple(taken[_LAPSED]), tuple(taken[_COME]))
    return None


_LAPSED: Final = 0
_COME: Final = 1


def _never(model: Model, asked: Asked, pack: int) -> str:
    """Say why no more can be ordered; empty where they can."""
    if model.gone is not None:
        return f"{model.gone}: never back-ordered"
    if pack != model.pack:
        return "single ones of what is sold in pairs are not ordered"
    return "" if Grade.NEW in asked.grades else "only new ones are ordered"


def _ordered_anew(model: Model, never: str, sources: Arrivals, *, on_order: bool) -> tuple[date | None, str]:
    lead = sources.lead.get(model.number)
    if never:
        return None, never
    if lead is not None:
        when = sources.today + timedelta(days=lead)
        return when, f"to be ordered: {lead} days, so {when}"
    return None, "" if on_order else "not in stock, and no supplier has stated when"
