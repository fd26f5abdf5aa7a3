"""What the stock is worth and what was earned: by the ledger's costs, first in, first out, and prices of sales."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Holding, Location, Movement, MovementKind
from triptych.catalog.money import to_amount
from triptych.catalog.stock.articles import models
from triptych.catalog.stock.costs import Layer, Replayed, replayed
from triptych.catalog.stock.job_names import JOB, with_job
from triptych.catalog.stock.timing import zone_of


@dataclass(frozen=True, slots=True)
class Worth:
    """What units of one loudspeaker, finish and grade cost that are there, without tax; unknown costs are none of it.

    Attributes
    ----------
    units, unknown : int
        How many there are, and of how many nobody said what they cost.
    cost : Decimal, optional
        Of all whose cost is known, in `currency`.
    """

    speaker: str
    finish: str | None
    grade: str
    units: int
    unknown: int
    cost: Decimal | None
    currency: str | None


class EarnedBy(StrEnum):
    """By what sales are summed."""

    JOB = "job"
    MONTH = "month"
    QUOTE = "quote"


@dataclass(frozen=True, slots=True)
class Earned:
    """What sales brought, without tax, and what is left of it; what came back counts no more.

    Attributes
    ----------
    key : str, optional
        The job, month or quote; None for sales without one.
    units, unpriced, uncosted : int
        How many were sold, and of how many the price, or else the cost, is not known: they are in no sum.
    net, cost, margin : Decimal, Decimal and float
        Of those of which both are known.
    """

    key: str | None
    currency: str | None
    units: int
    unpriced: int
    uncosted: int
    net: Decimal
    cost: Decimal
    margin: float | None


def total_words(found: Sequence[Worth]) -> str:
    """Give in words what all of it cost together, and of how many nobody said."""
    sums: dict[str, Decimal] = {}
    for one in found:
        if one.cost is not None and one.currency is not None:
            sums[one.currency] = sums.get(one.currency, Decimal(0)) + one.cost
    unknown = sum(one.unknown for one in found)
    total = ", ".join(f"{cost} {code}" for code, cost in sums.items()) or "no known cost"
    return total + (f"; of {unknown} nobody said what they cost" if unknown else "")


def left_out_words(found: Sequence[Earned]) -> list[str]:
    """Say how many sales are in none of the sums, and why."""
    left = (
        ("without a price", sum(one.unpriced for one in found)),
        ("at a price, but of unknown cost", sum(one.uncosted for one in found)),
    )
    one, more = ("was sold {}, and is in none of the sums", "were sold {}, and are in none of the sums")
    return [f"{units} {(one if units == 1 else more).format(words)}" for words, units in left if units]


def _known(session: Session) -> dict[int, Replayed]:
    numbers = session.scalars(sa.select(Holding.loudspeaker_id).distinct().order_by(Holding.loudspeaker_id))
    return replayed(session, numbers)


def stock_value(session: Session) -> list[Worth]:
    """Give what there is by what it cost, in order of loudspeakers, finishes and grades; a line a currency."""
    found = _known(session)
    names = {number: model.name for number, model in models(session, found).items()}
    spelling = {
        (number, key): finish
        for number, key, finish in session.execute(
            sa.select(Holding.loudspeaker_id, Holding.finish_key, Holding.finish).order_by(Holding.id.desc())
        )
    }
    worth: list[Worth] = []
    for number, one in found.items():
        for (key, grade), layers in one.there.items():
            about = (names[number], spelling[number, key], grade.value)
            worth += _worth(about, layers)
    return sorted(worth, key=lambda one: (rows.name_key(one.speaker), one.finish or "", one.grade, one.currency or ""))


def _worth(about: tuple[str, str | None, str], layers: Sequence[Layer]) -> list[Worth]:
    """Give what units of one sort cost, a line a currency; those of unknown cost stand in the first."""
    units: Counter[str] = Counter()
    costs: Counter[str] = Counter()
    unknown = 0
    for layer in layers:
        if layer.amount is None or layer.currency is None:
            unknown += layer.units
        else:
            units[layer.currency] += layer.units
            costs[layer.currency] += layer.units * layer.amount
    if not units:
        return [Worth(*about, unknown, unknown, None, None)] if unknown else []
    worth = []
    for code in sorted(units):
        worth.append(Worth(*about, units[code] + unknown, unknown, to_amount(costs[code], code), code))
        unknown = 0
    return worth


@dataclass(slots=True)
class _Sum:
    units: int = 0
    unpriced: int = 0
    uncosted: int = 0
    net: int = 0
    cost: int = 0


@dataclass(frozen=True, slots=True)
class _Sale:
    """A line of the ledger that sold units: for what job and quote, in what month, at what price of one."""

    job: str | None
    quote: int | None
    month: str
    amount: int | None
    currency: str | None


_KEYS: Final[dict[EarnedBy, Callable[[_Sale], str | None]]] = {
    EarnedBy.JOB: lambda sale: sale.job,
    EarnedBy.MONTH: lambda sale: sale.month,
    EarnedBy.QUOTE: lambda sale: None if sale.quote is None else str(sale.quote),
}


def earned(session: Session, by: EarnedBy) -> list[Earned]:
    """Give what sales brought and what is left of it, by job, month or quote, in order of it; a line a currency."""
    sales = _sales(session)
    sums: defaultdict[tuple[str | None, str | None], _Sum] = defaultdict(_Sum)
    for one in _known(session).values():
        for layer in one.sold:
            sale = sales[layer.sale or 0]
            total = sums[_KEYS[by](sale), sale.currency]
            total.units += layer.units
            if sale.amount is None:
                total.unpriced += layer.units
            elif layer.amount is None or layer.currency != sale.currency:
                total.uncosted += layer.units
            else:
                total.net += layer.units * sale.amount
                total.cost += layer.units * layer.amount
    order = _by_number if by is EarnedBy.QUOTE else _by_name
    return [_earned(*key, sums[key]) for key in sorted(sums, key=lambda key: (order(key[0]), key[1] or ""))]


def _by_name(key: str | None) -> tuple[bool, str]:
    return key is None, rows.name_key(key)


def _by_number(key: str | None) -> tuple[bool, str]:
    return key is None, (key or "").zfill(12)


def _earned(key: str | None, currency: str | None, total: _Sum) -> Earned:
    net, cost = (to_amount(amount, currency) for amount in (total.net, total.cost))
    left = float((net - cost) / net) if net else None
    return Earned(key, currency, total.units, total.unpriced, total.uncosted, net, cost, left)


def _sales(session: Session) -> dict[int, _Sale]:
    query = with_job(
        sa.select(Movement.id, JOB.name, Movement.quote_id, Movement.at, Location.zone)
        .add_columns(Movement.amount, Movement.currency)
        .join(Holding, Holding.id == Movement.holding_id)
        .join(Location, Location.id == Holding.location_id)
        .where(Movement.kind == MovementKind.SELL),
        Movement.job_id,
        outer=True,
    )
    return {
        number: _Sale(job, quote, f"{at.astimezone(zone_of(zone)):%Y-%m}", amount, currency)
        for number, job, quote, at, zone, amount, currency in session.execute(query)
    }
