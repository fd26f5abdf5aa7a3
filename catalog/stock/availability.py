"""How many go together now, and on which day otherwise: from what is there, lapses, is ordered or could be."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, Final

from sqlalchemy.orm import Session

from triptych.catalog.database.models import Grade
from triptych.catalog.database.rows import name_key
from triptych.catalog.database.stock_levels import moment
from triptych.catalog.stock.articles import Model, models
from triptych.catalog.stock.grade_prices import grade_words, tags_of
from triptych.catalog.stock.other_grades import OtherGrade
from triptych.catalog.stock.shortfalls import FinishThere
from triptych.catalog.stock.supply import Arrivals, Coming, Lapse, Shelf, arrivals, shelves_of


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
    empty where they can. `finishes` are free of what would do but for its finish, and `others` what there is of other
    grades, each with its price: neither is in `why`.
    """

    available: int
    when: date | None
    why: str
    beside: str = ""
    never: str = ""
    finishes: tuple[FinishThere, ...] = ()
    others: tuple[OtherGrade, ...] = ()

    @property
    def told(self) -> str:
        """All that there is to say: why, and what there is of other grades, line by line."""
        return "; ".join(filter(None, (self.why, *(one.words for one in self.others))))


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
    than new are never back-ordered. An order that doesn't say in which finish it comes is taken to come as asked.
    """
    known = supplied(session, ids, asked.grades, day)
    return {number: known.promise(number, asked) for number in known.models}


@dataclass(frozen=True, slots=True)
class Supplied:
    """What there is and comes of some loudspeakers, read once for all that is asked about them."""

    models: dict[int, Model]
    shelves: dict[int, list[Shelf]]
    sources: Arrivals

    def promise(self, number: int, asked: Asked) -> Promise:
        """Give what may be promised of one of them, and when otherwise."""
        return promise_of(self.models[number], self.shelves.get(number, []), asked, self.sources)


def supplied(
    session: Session, ids: Iterable[int], grades: Collection[Grade], day: date | datetime | None = None
) -> Supplied:
    """Read what there is and comes of some loudspeakers; of those with other grades than these also what they cost."""
    now, wanted = moment(day), sorted(set(ids))
    shelves, sources = shelves_of(session, wanted, now), arrivals(session, wanted, now)
    there = {
        number: {one.grade for one in (*shelves.get(number, ()), *sources.lapses.get(number, ()))} for number in wanted
    }
    aside = [number for number, found in there.items() if found - set(grades)]
    sources.tags.update(tags_of(session, aside, sources.today) if aside else {})
    return Supplied(models(session, wanted), shelves, sources)


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
    others = _others(model, shelves, asked, sources)
    if most >= asked.quantity:
        single = "" if pack == model.pack else ", single ones of what is sold in pairs"
        return Promise(most, sources.today, f"{most} available now{single}", "", never, (), others)
    finishes = _in_other_finishes(shelves, asked, pack)
    beside = "; ".join(_beside(shelves, asked, pack, finishes))
    when, why = _later(model, free, asked, pack, sources)
    if not why and when is None:
        why = _not_there(asked, some=bool(beside or most), others=bool(others))
    return Promise(most, when, "; ".join(filter(None, (beside, why))), beside, never, finishes, others)


def _not_there(asked: Asked, *, some: bool, others: bool) -> str:
    graded = f"no {' or '.join(map(grade_words, asked.grades))} one in stock"
    state = "no more in stock" if some else graded if others else "not in stock"
    return f"{state}, and no supplier has stated when"


def _of_other_grades(
    shelves: Sequence[Shelf], lapses: Sequence[Lapse], asked: Asked
) -> tuple[list[Shelf], list[Lapse]] | None:
    """Give what is free, or is reserved and will be, of grades that are not asked for; None where there is nothing."""
    free = [shelf for shelf in shelves if shelf.free > 0 and shelf.grade not in asked.grades]
    later = [one for one in lapses if one.grade not in asked.grades and one.grade is not Grade.QUARANTINE]
    return (free, later) if free or later else None


def _others(model: Model, shelves: Sequence[Shelf], asked: Asked, sources: Arrivals) -> tuple[OtherGrade, ...]:
    free, later = _of_other_grades(shelves, sources.lapses.get(model.number, []), asked) or ([], [])
    tag = {grade: sources.tags.get((model.number, grade)) for grade in Grade}
    found = [
        OtherGrade(shelf.grade, shelf.free, shelf.finish, shelf.pack, shelf.location, tag[shelf.grade])
        for shelf in free
    ]
    found += [OtherGrade(one.grade, one.units, one.finish, one.pack, None, tag[one.grade], one.day) for one in later]
    return tuple(sorted(found, key=lambda one: (one.grade.value, one.free_on or date.min, one.location or "")))


def _kinds(fits: Iterable[Shelf], asked: Asked) -> list[Kind]:
    if not asked.any_finish:
        return [(grade, name_key(asked.finish)) for grade in asked.grades]
    found = dict.fromkeys((shelf.grade, shelf.finish_key) for shelf in fits)
    # an order may come in a finish that was never there
    return list(found) or [(grade, "") for grade in asked.grades]


def _in_other_finishes(shelves: Sequence[Shelf], asked: Asked, pack: int) -> tuple[FinishThere, ...]:
    """Give what is free and would do but for its finish; where any would, the finishes that are not alike."""
    found: dict[str, FinishThere] = {}
    for shelf in shelves:
        alike = not asked.any_finish and shelf.finish_key == name_key(asked.finish)
        if shelf.free and shelf.grade in asked.grades and shelf.pack == pack and not alike:
            before = found.get(shelf.finish_key, FinishThere(shelf.finish, 0))
            found[shelf.finish_key] = replace(before, units=before.units + shelf.free)
    return tuple(found.values())


def _beside(shelves: Sequence[Shelf], asked: Asked, pack: int, finishes: Sequence[FinishThere]) -> list[str]:
    """Say what is there and won't do."""
    there = [shelf for shelf in shelves if shelf.free and shelf.grade in asked.grades]
    alike = [shelf for shelf in there if asked.any_finish or shelf.finish_key == name_key(asked.finish)]
    told = []
    if (units := sum(shelf.free for shelf in alike if shelf.pack != pack)) > 0:
        told.append(_packed_otherwise(units, asked.quantity, pack))
    if finishes and (not asked.any_finish or len(finishes) > 1):
        words = " and ".join(one.words for one in finishes)
        told.append(f"{words}, not alike" if asked.any_finish else words)
    return told


def _packed_otherwise(units: int, quantity: int, pack: int) -> str:
    if pack == 1:
        return f"{units} in pairs, to be split first"
    return f"{units} single{'s' * (units != 1)}, not {'a pair' if quantity == 2 else 'pairs'}"


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
    notes += _held(lapses, free, asked)
    when, why = _ordered_anew(model, _never(model, asked, pack), sources)
    return when, "; ".join(filter(None, [why, *notes]))


def _held(lapses: Sequence[Lapse], free: dict[Kind, int], asked: Asked) -> list[str]:
    """Say until when units are reserved that would do, and are too few."""
    alike = sorted((one.day, one.units) for one in lapses if asked.any_finish or _of(one) in free)
    return [f"{units} reserved, free on {day} if nobody takes {'it' if units == 1 else 'them'}" for day, units in alike]


def _soonest(
    lapses: Sequence[Lapse], orders: Sequence[Coming], free: dict[Kind, int], asked: Asked, sources: Arrivals
) -> _Reached | None:
    """Give when there are first enough that go together, of whatever kind."""
    ordered = [(Grade.NEW, one.finish_key) for one in orders if one.finish_key is not None]
    kinds = dict.fromkeys([*free, *([*map(_of, lapses), *ordered] if asked.any_finish else [])])
    found = []
    for kind in kinds:
        alike = [one for one in lapses if _of(one) == kind]
        come = [one for one in orders if kind[0] is Grade.NEW and one.finish_key in (None, kind[1])]
        reached = _reach(alike, come, asked.quantity - free.get(kind, 0), sources)
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


def _ordered_anew(model: Model, never: str, sources: Arrivals) -> tuple[date | None, str]:
    lead = sources.lead.get(model.number)
    if never:
        return None, never
    if lead is not None:
        when = sources.today + timedelta(days=lead)
        return when, f"to be ordered: {lead} days, so {when}"
    return None, ""
