"""What units are sold for by their grade: a new one at the catalogue's price, others at a price of their own."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.models import Grade, GradePrice, Price
from triptych.catalog.errors import BadInput
from triptych.catalog.money import LARGEST_AMOUNT, checked_currency, to_amount
from triptych.catalog.records import PricePer
from triptych.catalog.stock.articles import model_named, named, speaker_name
from triptych.catalog.stock.unit_costs import bought


@dataclass(frozen=True, slots=True)
class Tag:
    """What units of one grade are sold for, in minor units."""

    amount: int
    currency: str
    per: PricePer

    @property
    def price(self) -> Decimal:
        """The price in its currency."""
        return to_amount(self.amount, self.currency)

    @property
    def words(self) -> str:
        """The price as people read it."""
        return f"{self.price} {self.currency} {'a pair' if self.per is PricePer.PAIR else 'each'}"


@dataclass(frozen=True, slots=True)
class GradePriced:
    """What one of a grade, or a pair, is sold for."""

    speaker: str
    grade: str
    price: Decimal
    currency: str
    per: str


def set_grade_price(
    session: Session, speaker: str, grade: Grade, amount: int | None, currency: str | None, per: PricePer | None = None
) -> str:
    """Keep what a loudspeaker of another grade than new is sold for; None takes the price away. Give it in words.

    Of what is sold in pairs it has to be said per what.

    Raises
    ------
    BadInput
        The grade is new or quarantine, the amount is none, or it isn't said whether it buys a pair.
    NotFound
        No loudspeaker has that name.
    """
    if grade is Grade.NEW:
        raise BadInput("what is new is sold at the catalogue's price: see triptych speaker edit")
    if grade is Grade.QUARANTINE:
        raise BadInput("what is in quarantine is not sold: regrade it first")
    model = model_named(session, speaker)
    mine = (GradePrice.loudspeaker_id == model.number, GradePrice.grade == grade)
    if amount is None or currency is None:
        session.execute(sa.delete(GradePrice).where(*mine))
        return "no price"
    if not 0 <= amount <= LARGEST_AMOUNT:
        raise BadInput(f"price {amount}: must be from 0 to {LARGEST_AMOUNT} minor units")
    checked_currency(currency)
    unit = bought(model, per)
    values = {"amount": amount, "currency": currency, "per": unit}
    if session.scalar(sa.select(GradePrice.id).where(*mine)) is not None:
        session.execute(sa.update(GradePrice).where(*mine).values(**values))
    else:
        session.execute(sa.insert(GradePrice).values(loudspeaker_id=model.number, grade=grade, **values))
    return Tag(amount, currency, unit).words


def grade_prices(session: Session) -> list[GradePriced]:
    """Give the prices of grades in order of loudspeakers."""
    query = named(
        sa.select(speaker_name(), GradePrice.grade, GradePrice.amount, GradePrice.currency, GradePrice.per),
        GradePrice.loudspeaker_id,
    ).order_by(speaker_name(), GradePrice.grade)
    return [
        GradePriced(name, grade.value, to_amount(amount, currency), currency, per.value)
        for name, grade, amount, currency, per in session.execute(query)
    ]


def tags_of(session: Session, numbers: Collection[int], day: date | None = None) -> dict[tuple[int, Grade], Tag]:
    """Give what some loudspeakers are sold for on a day, by number and grade, where it is stated."""
    found: dict[tuple[int, Grade], Tag] = {}
    today = day or datetime.now(UTC).date()
    for part in reads.chunks(sorted(set(numbers))):
        for price in session.scalars(sa.select(Price).where(Price.loudspeaker_id.in_(part), reads.valid_on(today))):
            if price.amount is not None and price.currency is not None and price.per is not None:
                found[price.loudspeaker_id, Grade.NEW] = Tag(price.amount, price.currency, price.per)
        for own in session.scalars(sa.select(GradePrice).where(GradePrice.loudspeaker_id.in_(part))):
            found[own.loudspeaker_id, own.grade] = Tag(own.amount, own.currency, own.per)
    return found


def grade_words(grade: Grade) -> str:
    """Give a grade as people read it."""
    return grade.value.replace("_", " ")


def at_price(tag: Tag | None) -> str:
    """Give a price to be put behind what it is the price of; says so where none is stated."""
    return ", no price stated" if tag is None else f" for {tag.words}"
