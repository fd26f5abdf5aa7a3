"""All that has to be known of loudspeakers to quote them, read before anything is worked out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import datetime
from typing import Final, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.models import Grade, Loudspeaker, Price
from triptych.catalog.records import PricePer, Tax
from triptych.catalog.stock.articles import Model, models_named
from triptych.catalog.stock.availability import Supplied, supplied
from triptych.catalog.stock.cost_memory import costs_of
from triptych.catalog.stock.costs import Costs
from triptych.catalog.stock.grade_prices import Tag, tags_of
from triptych.catalog.stock.quote_promises import held_by
from triptych.catalog.stock.quote_units import Key
from triptych.catalog.stock.shortfalls import finishes_of


class StandingPrice(NamedTuple):
    """The catalogue's price of a loudspeaker."""

    amount: int | None
    currency: str | None
    per: PricePer | None
    tax: Tax | None
    tax_rate: float | None


@dataclass(frozen=True, slots=True)
class QuoteFacts:
    """What is known of what is asked for at an instant.

    `models` are those asked for, in their order; `finishes` those in which a loudspeaker ever was, by their keys;
    `held` is what the quote's job holds already apart from any quote; of those `untold` nothing may say whether one is
    sold singly.
    """

    now: datetime
    models: Sequence[Model]
    known: Supplied
    prices: Mapping[int, StandingPrice]
    tags: Mapping[tuple[int, Grade], Tag]
    costs: Costs
    finishes: Mapping[int, Mapping[str, str | None]]
    held: Counter[Key]
    untold: Set[int]


def facts_of(
    session: Session, names: Sequence[str], grades: Sequence[Grade], job: str, now: datetime, *, finished: bool
) -> QuoteFacts:
    """Read what is known of loudspeakers that are asked for in some grades, and in finishes where `finished`.

    Raises
    ------
    NotFound
        No loudspeaker has one of the names.
    """
    models, day = models_named(session, names), now.date()
    numbers = [model.number for model in models]
    listed = session.connection().execute(_PRICES, {"numbers": numbers, "day": day}).all()
    held: Counter[Key] = Counter()
    for one in held_by(session, job):
        held[one.key] += one.rest
    return QuoteFacts(
        now,
        models,
        supplied(session, numbers, grades if len(set(grades)) == 1 else ()),
        {row[0]: StandingPrice(row[1], row[2], row[3], row[4], row[5]) for row in listed},
        tags_of(session, numbers, day) if set(grades) != {Grade.NEW} else {},
        costs_of(session, numbers, day),
        {number: finishes_of(session, number) for number in set(numbers)} if finished else {},
        held,
        {row[0] for row in listed if row[6] is None},
    )


_PRICES: Final = (
    sa.select(Loudspeaker.id, Price.amount, Price.currency, Price.per, Price.tax, Price.tax_rate, Loudspeaker.sold_as)
    .outerjoin(Price, (Price.loudspeaker_id == Loudspeaker.id) & reads.valid_on(sa.bindparam("day", type_=sa.Date)))
    .where(Loudspeaker.id.in_(sa.bindparam("numbers", expanding=True)))
)
