"""What units cost and what is left of their price: first in, first out; tax taken out once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_EVEN, Decimal
from functools import cache
from itertools import chain
from operator import attrgetter
from typing import Any, Final, NamedTuple, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.models import Grade, Holding, Movement, MovementKind
from triptych.catalog.database.models.ledger_tables import OUT_OF
from triptych.catalog.records import PricePer, Tax
from triptych.catalog.stock.job_names import JOB, with_job

StackKey = TypeVar("StackKey")

NEW: Final = ("", Grade.NEW)
"""New ones, of a model with one finish."""


def whole(amount: Decimal) -> int:
    """Round an amount in minor units to a whole one, half to even."""
    return int(amount.quantize(Decimal(1), ROUND_HALF_EVEN))


def net_each(amount: int, per: PricePer, tax: Tax | None, tax_rate: float | None) -> Decimal | None:
    """Give the price of one without tax, None where nobody says what of it is tax. [minor unit].

    >>> int(net_each(12000, PricePer.PAIR, Tax.INCLUDED, 20.0))
    5000
    """
    each = Decimal(amount) / (2 if per is PricePer.PAIR else 1)
    if tax is Tax.EXCLUDED:
        return each
    if tax is None or tax_rate is None:
        return None
    return each / (1 + Decimal(str(tax_rate)) / 100)


def margin(net: Decimal | None, cost: int | None) -> Decimal | None:
    """Give the share of the net price that is left when the landed cost is paid; None where either is unknown.

    >>> margin(Decimal(5000), 3500)
    Decimal('0.3')
    """
    return None if not net or cost is None else (net - cost) / net


class Layer(NamedTuple):
    """Units that came together at one cost, as far as they are still there; of a serial, where it was told.

    `came` is the number of the line by which they came, in whose order they go out; `sale` that by which they went, or
    went last; `by` the line that brought them where they are now, or that is being taken back.
    """

    came: int
    units: int
    amount: int | None
    currency: str | None
    serial: str | None = None
    sale: int | None = None
    by: int | None = None

    def part(self, units: int, serial: str | None = None) -> Layer:
        """Give so many of them, of a serial where one is said."""
        return Layer(self.came, units, self.amount, self.currency, serial or self.serial, self.sale, self.by)

    def sold_by(self, line: int) -> Layer:
        """Give them as that line sold them."""
        return Layer(self.came, self.units, self.amount, self.currency, self.serial, line, self.by)


Sort = tuple[str, Grade]
"""The key of a finish, and a grade: units of one model and sort go out first in, first out."""


@dataclass(frozen=True, slots=True)
class Costs:
    """What units of some loudspeakers cost: what there is of each, and a supplier's price of a day by currency."""

    replayed: Mapping[int, Replayed]
    listed: Mapping[tuple[int, str], int | None]

    def each(self, number: int, quantity: int, currency: str, sort: Sort = NEW, *, behind: int = 0) -> int | None:
        """Give what one of the next units of a sort has cost, without tax: first in, first out, on average of so many.

        What came without a cost, or hasn't come yet, counts at the supplier's price, which is that of a new one.

        Parameters
        ----------
        behind : int
            How many go out before these.

        Returns
        -------
        int or None
            None where the cost of one of them is not known in that currency. [minor unit]
        """
        costs: list[tuple[int, int | None]] = []
        missing = quantity
        for layer in self.replayed[number].there.get(sort, ()):
            if not missing:
                break
            skipped = min(behind, layer.units)
            behind -= skipped
            part = min(layer.units - skipped, missing)
            missing -= part
            costs.append((part, layer.amount if layer.currency == currency else None))
        costs.append((missing, None))
        listed = self.listed.get((number, currency)) if sort[1] is Grade.NEW else None
        known = [(units, listed if amount is None else amount) for units, amount in costs if units]
        if any(amount is None for _, amount in known):
            return None
        return whole(Decimal(sum(units * (amount or 0) for units, amount in known)) / quantity)


def cost_of_serials(
    session: Session, loudspeaker_id: int, sort: Sort, serials: Collection[str]
) -> tuple[int, str] | None:
    """Give what one of the units of some serials cost on average, and in which currency; None where that is unknown."""
    there = layers(session, loudspeaker_id, sort)
    gone = [layer for serial in serials for layer in _taken(there, 1, " ".join(serial.split()))]
    amounts = [layer.amount for layer in gone if layer.amount is not None]
    currencies = {layer.currency for layer in gone}
    if len(amounts) != len(serials) or len(currencies) != 1:
        return None
    return whole(Decimal(sum(amounts)) / len(amounts)), next(iter(currencies)) or ""


def layers(session: Session, loudspeaker_id: int, sort: Sort = NEW) -> list[Layer]:
    """Give what there is of a sort by what it cost, in the order in which it goes out; of a known serial, that one."""
    return replayed(session, [loudspeaker_id])[loudspeaker_id].there[sort]


@dataclass(slots=True)
class Replayed:
    """What there is of a loudspeaker, by sort and by what it cost, and what was sold of it and has not come back.

    `away` is what left one sort for another, and `jobs` for whom each sale was.
    """

    there: defaultdict[Sort, list[Layer]] = field(default_factory=lambda: defaultdict(list))
    sales: defaultdict[str, list[Layer]] = field(default_factory=lambda: defaultdict(list))
    away: defaultdict[int, list[Layer]] = field(default_factory=lambda: defaultdict(list))
    jobs: dict[int | None, int | None] = field(default_factory=dict)

    @property
    def sold(self) -> list[Layer]:
        """What was sold and has not come back."""
        return [layer for of_finish in self.sales.values() for layer in of_finish]

    def copy(self) -> Replayed:
        """Give the same, with which somebody else may go on: no layer is ever changed, only taken out or put in."""
        return Replayed(_copied(self.there), _copied(self.sales), _copied(self.away), dict(self.jobs))

    def go_on(self, lines: Iterable[Any]) -> Replayed:
        """Let more of the ledger's lines come after those before; what changes no cost is passed over."""
        for line in lines:
            if line[1] in COSTLY:
                _go_on(self, *line)
        return self


def _copied(stacks: Mapping[StackKey, list[Layer]]) -> defaultdict[StackKey, list[Layer]]:
    return defaultdict(list, {key: list(stack) for key, stack in stacks.items()})


def replayed(session: Session, numbers: Iterable[int]) -> dict[int, Replayed]:
    """Give what the ledger leaves of each of some loudspeakers by what it cost, and what it sold.

    What comes back, comes back at the cost of what was sold last of its finish and job, or of its serial, and waits in
    quarantine until it is regraded; what the ledger never sold goes out before all others. What was taken back leaves
    costs and sales as though it had never been.
    """
    found: dict[int, Replayed] = {}
    for part in reads.chunks(sorted(set(numbers))):
        by_number: dict[int, list[Any]] = {number: [] for number in part}
        for speaker, *move in session.connection().execute(moves(), {"numbers": part}):
            by_number[speaker].append(move)
        found |= {number: Replayed().go_on(lines) for number, lines in by_number.items()}
    return found


def _go_on(
    found: Replayed,
    number: int,
    kind: MovementKind,
    quantity: int,
    amount: int | None,
    currency: str | None,
    serial: str | None,
    start: int | None,
    undone: int | None,
    finish: str,
    grade: Grade,
    job: int | None,
) -> None:
    sold, away, job_of = found.sales, found.away, found.jobs
    here, by = found.there[finish, grade], undone or number
    if kind is MovementKind.RECEIVE:
        here.append(Layer(number, quantity, amount, currency, serial))
    elif kind is MovementKind.RETURN:
        again = _taken(sold[finish], quantity, serial, _of_sale(undone, job, job_of), last=True)
        unknown = quantity - sum(layer.units for layer in again)
        here += [layer._replace(by=by) for layer in again]
        here += [Layer(0, unknown, None, None, serial, by=by)] if unknown else []
    elif kind is MovementKind.REGRADE_IN:
        here += away.pop(start or 0, [])
    elif kind is MovementKind.SPLIT_IN:
        here += [layer._replace(serial=serial) for layer in _taken(away[start or 0], quantity, None)]
    elif kind is MovementKind.COUNT and quantity > 0:
        again = [layer._replace(serial=serial) for layer in away.pop(undone or 0, [])]
        here += again or [Layer(number, quantity, amount, currency, serial)]
    else:
        gone = _taken(here, abs(quantity), serial, _brought(undone))
        if kind is MovementKind.SELL:
            job_of[number] = job
            # what was wrongly taken back is sold as it was: its price and quote stand at that line
            sold[finish] += [layer.sold_by((undone and layer.sale) or number) for layer in gone]
        else:
            away[by if kind is MovementKind.COUNT else number] += [layer._replace(by=by) for layer in gone]
    if kind not in OUT_OF and kind is not MovementKind.RECEIVE:
        # what is received came last
        here.sort(key=_came)


_came: Final = attrgetter("came")

Before = Callable[[Layer], bool]
"""Says of a layer that it is taken before all others of its serial, or of none."""


def _of_sale(undone: int | None, job: int | None, job_of: Mapping[int | None, int | None]) -> Before | None:
    if undone is not None:
        return lambda layer: layer.sale == undone
    return None if job is None else lambda layer: job_of[layer.sale] == job


def _brought(undone: int | None) -> Before | None:
    return None if undone is None else lambda layer: undone in (layer.by, layer.came)


@cache
def moves() -> sa.Select[*tuple[Any, ...]]:
    """Give the query of the lines that change what units cost, in order: loudspeaker, and what `go_on` takes."""
    query = (
        sa.select(
            Holding.loudspeaker_id,
            Movement.id,
            Movement.kind,
            Movement.quantity,
            Movement.amount,
            Movement.currency,
            Movement.serial,
            Movement.from_id,
            Movement.undoes_id,
            Holding.finish_key,
            Holding.grade,
            JOB.id,
        )
        .join(Holding, Holding.id == Movement.holding_id)
        .where(Holding.loudspeaker_id.in_(sa.bindparam("numbers", expanding=True)), Movement.kind.in_(COSTLY))
        .order_by(Movement.id)
    )
    return with_job(query, Movement.job_id, outer=True)


COSTLY: Final = (
    MovementKind.RECEIVE,
    MovementKind.RETURN,
    MovementKind.COUNT,
    MovementKind.SELL,
    MovementKind.WRITE_OFF,
    MovementKind.REGRADE_OUT,
    MovementKind.REGRADE_IN,
    MovementKind.SPLIT_PAIR,
    MovementKind.SPLIT_IN,
)
"""Movements by which units come, go or change their sort or serial; the others only move them."""


def _taken(
    stack: list[Layer], quantity: int, serial: str | None, before: Before | None = None, *, last: bool = False
) -> list[Layer]:
    """Take so many units out of a stack, first or last first, but before all others those of the serial."""
    if serial is None and before is None and not last:
        taken = _first_taken(stack, quantity)
        quantity -= sum(layer.units for layer in taken)
    else:
        taken = []
    emptied = False
    for place in _order(stack, serial, before, last=last):
        if not quantity:
            break
        layer = stack[place]
        part = min(layer.units, quantity)
        taken.append(layer.part(part, serial))
        stack[place] = layer.part(layer.units - part)
        quantity -= part
        emptied = emptied or part == layer.units
    if emptied:
        stack[:] = [layer for layer in stack if layer.units]
    return taken


def _first_taken(stack: list[Layer], quantity: int) -> list[Layer]:
    """Take as many of so many as come before any with a serial, which nearly always suffices."""
    taken: list[Layer] = []
    for layer in stack:
        if not quantity or layer.serial is not None:
            break
        taken.append(layer if layer.units <= quantity else layer.part(quantity))
        quantity -= taken[-1].units
    # what is taken only in part stays, with the rest
    place = len(taken)
    if taken and taken[-1].units < (there := stack[place - 1]).units:
        stack[place - 1] = there.part(there.units - taken[-1].units)
        place -= 1
    del stack[:place]
    return taken


def _order(stack: list[Layer], serial: str | None, before: Before | None, *, last: bool) -> Iterable[int]:
    """Give the places of layers in the order in which they are taken."""
    places = range(len(stack))
    ordered = places[::-1] if last else places
    if serial is None and before is None:
        # nearly always: the first that has no serial suffices
        return chain(
            (place for place in ordered if stack[place].serial is None),
            (place for place in ordered if stack[place].serial is not None),
        )

    def strangeness(place: int) -> tuple[int, bool]:
        layer = stack[place]
        return _strangeness(layer, serial), before is not None and not before(layer)

    return sorted(ordered, key=strangeness)


def _strangeness(layer: Layer, serial: str | None) -> int:
    """Say how unlike the wanted unit a layer is: another's serial is the last to be taken for it."""
    if layer.serial == serial:
        return 0
    return 1 if layer.serial is None else 2
