"""The lines of a quote as it is made: what is asked for, at what price, and whether it can be had."""

from __future__ import annotations

import shlex
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Grade, Loudspeaker
from triptych.catalog.errors import BadInput, Refused
from triptych.catalog.money import LARGEST_AMOUNT, checked_currency
from triptych.catalog.records import PricePer, Tax
from triptych.catalog.stock.articles import Model
from triptych.catalog.stock.availability import Asked, Promise
from triptych.catalog.stock.costs import Costs, whole
from triptych.catalog.stock.grade_prices import Tag, grade_words
from triptych.catalog.stock.movement_lines import LARGEST_QUANTITY, refuse_text
from triptych.catalog.stock.quote_facts import QuoteFacts, StandingPrice
from triptych.catalog.stock.shortfalls import OtherFinish, finish_doubts

MOST_LINES: Final = 200
"""How many lines a quote has at most."""


@dataclass(frozen=True, slots=True)
class Item:
    """What is to be quoted; one, or one pair, where `quantity` is None, at the catalogue's price where `amount` is.

    `single` asks for single ones of what is sold in pairs; so does an odd number of them, where they are there.
    `discount` is taken off the price. [%]
    """

    speaker: str
    quantity: int | None = None
    grade: Grade = Grade.NEW
    finish: str | None = None
    amount: int | None = None
    currency: str | None = None
    tax_rate: float | None = None
    single: bool = False
    discount: float | None = None


@dataclass(frozen=True, slots=True)
class Charge:
    """A price as it is quoted."""

    amount: int
    currency: str
    per: PricePer
    tax: Tax | None
    tax_rate: float | None


@dataclass(frozen=True, slots=True)
class Priced:
    """Lines of a quote as rows, their currency, what is worth telling about them, and the loudspeakers' names."""

    lines: list[dict[str, object]]
    currency: str
    remarks: list[str]
    names: dict[int, str]


Taken = Counter[tuple[int, Grade, str, int]]
"""How many the lines before take, by loudspeaker, grade, finish and pack."""


def priced(facts: QuoteFacts, items: Sequence[Item]) -> Priced:
    """Give the lines of a quote at the prices of a day; what its job holds already counts as there.

    Raises
    ------
    BadInput
        Nothing is quoted, a price is unknown, or prices are in two currencies.
    Refused
        It is never ordered, and so many are not there.
    """
    lines: list[dict[str, object]] = []
    remarks: list[str] = []
    currency: str | None = None
    taken: Taken = Counter()
    taken.subtract(facts.held)
    for item, found in zip(items, facts.models, strict=True):
        tag = None if item.grade is Grade.NEW else facts.tags.get((found.number, item.grade))
        charge = _charge(item, found, facts.prices.get(found.number), tag)
        if currency not in (None, charge.currency):
            raise BadInput(f"prices are in {currency} and {charge.currency}: make two quotes")
        currency = charge.currency
        quantity = item.quantity if item.quantity is not None else 1 if item.single else found.pack
        if found.number in facts.untold:
            _refuse_half_a_pair(item, quantity, found.name, charge)
        remarks += _at_new_price(item, found, charge, tag)
        remarks += _supply(facts, item, quantity, found, charge, taken)
        for part in _parts(item, quantity, found.pack):
            lines.append(_row(item, part, found.number, charge, lines, facts.costs))
    if not 1 <= len(lines) <= MOST_LINES:
        raise BadInput(f"a quote has from 1 to {MOST_LINES} lines")
    numbered = [{"ordinal": ordinal, **line} for ordinal, line in enumerate(lines, start=1)]
    return Priced(numbered, currency or "EUR", remarks, {found.number: found.name for found in facts.models})


def finish_apart(session: Session, text: str) -> tuple[str, str | None] | None:
    """Read `MODEL, FINISH` where no loudspeaker has the whole name; None where there is no finish in it."""
    speaker, comma, finish = text.rpartition(",")
    key = rows.name_key(text)
    if not comma or session.scalar(sa.select(Loudspeaker.id).where(Loudspeaker.name_key == key)) is not None:
        return None
    return speaker.strip(), finish.strip() or None


def with_finish(session: Session, item: Item) -> Item:
    """Read the finish beside the name of an item, so that one quote has several finishes."""
    apart = finish_apart(session, item.speaker)
    return item if apart is None else replace(item, speaker=apart[0], finish=apart[1])


def refuse_unfit(item: Item) -> None:
    """Refuse an item with what no quote could hold."""
    name, quantity, amount, rate = item.speaker, item.quantity, item.amount, item.tax_rate
    if quantity is not None and (type(quantity) is not int or not 1 <= quantity <= LARGEST_QUANTITY):
        raise BadInput(f"{name}: quantity {quantity!r}: must be a whole number from 1 to {LARGEST_QUANTITY}")
    if item.grade is Grade.QUARANTINE:
        raise BadInput(f"{name}: what is in quarantine is neither sold nor promised: regrade it first")
    if amount is not None and (type(amount) is not int or not 0 <= amount <= LARGEST_AMOUNT):
        raise BadInput(f"{name}: price {amount!r}: must be a whole number of minor units, zero or more")
    checked_currency(item.currency)
    if rate is not None and (isinstance(rate, (bool, str)) or not 0 <= rate <= 100):
        raise BadInput(f"tax rate {rate if isinstance(rate, str) else format(rate, 'g')}: must be from 0 to 100 %")
    if item.discount is not None and not 0 < item.discount <= 100:
        raise BadInput(f"discount {item.discount:g}: must be above 0 and up to 100 %")
    refuse_text("finish", item.finish)


def _parts(item: Item, quantity: int, pack: int) -> list[int]:
    """Give the lines that an item comes to: a line of single ones is known by its odd number."""
    if item.single and quantity % pack == 0 and pack > 1:
        return [quantity - 1, 1]
    return [quantity]


def _counted(before: int) -> str:
    """Say what of the units is spoken for by lines before, or held by the job besides."""
    if before > 0:
        return f", {before} of them in lines before"
    return f" and {-before} held for the job" if before else ""


def _row(
    item: Item,
    quantity: int,
    number: int,
    charge: Charge,
    before: Sequence[dict[str, object]],
    costs: Costs,
) -> dict[str, object]:
    sort = (rows.name_key(item.finish), item.grade)
    alike = (line for line in before if line["loudspeaker_id"] == number and _sort_of(line) == sort)
    behind = sum(int(str(line["quantity"])) for line in alike)
    amount = charge.amount if item.discount is None else discounted(charge.amount, item.discount)
    return {
        "discount": item.discount,
        "full_amount": None if item.discount is None else charge.amount,
        "loudspeaker_id": number,
        "grade": item.grade,
        "finish": item.finish,
        "quantity": quantity,
        "amount": amount,
        "per": charge.per,
        "tax": charge.tax,
        "tax_rate": charge.tax_rate,
        "cost": costs.each(number, quantity, charge.currency, sort, behind=behind),
    }


def discounted(amount: int, discount: float) -> int:
    """Give an amount less a discount in percent, to a whole minor unit. [minor unit].

    >>> discounted(48000, 12.5)
    42000
    """
    return whole(amount * (100 - Decimal(str(discount))) / 100)


def _sort_of(line: Mapping[str, object]) -> tuple[str, object]:
    finish = line["finish"]
    return rows.name_key(finish if isinstance(finish, str) else None), line["grade"]


def _charge(item: Item, found: Model, price: StandingPrice | None, tag: Tag | None) -> Charge:
    if item.amount is not None:
        tax, stated = (price.tax, price.tax_rate) if price else (None, None)
        rate = stated if stated is not None else item.tax_rate
        currency = item.currency or (price.currency if price else None)
        if currency is None:
            raise BadInput(f"{found.name}: in which currency is its price? Give it with its code, such as EUR")
        return Charge(item.amount, currency, PricePer.EACH, tax, rate)
    if tag is not None:
        # with tax or without as the price of a new one
        tax, stated = (price.tax, price.tax_rate) if price else (None, None)
        return Charge(tag.amount, tag.currency, tag.per, tax, stated if stated is not None else item.tax_rate)
    if price is None or price.amount is None or price.currency is None:
        raise BadInput(f"{found.name}: its price is not known; give one with --price")
    if price.per is None and found.pack == 2:
        raise BadInput(
            f"{found.name} is sold in pairs, and nothing says whether its price is of each or of a pair: give one with "
            f"--price, or say it by triptych speaker edit {shlex.quote(found.name)} --set price_per=pair"
        )
    per = price.per or PricePer.EACH
    rate = price.tax_rate if price.tax_rate is not None else item.tax_rate
    return Charge(price.amount, price.currency, per, price.tax, rate)


def _refuse_half_a_pair(item: Item, quantity: int, name: str, charge: Charge) -> None:
    """Refuse half the price of a pair for one that nobody says is sold singly, unless single ones are asked for."""
    if charge.per is PricePer.PAIR and quantity % 2 and not item.single:
        raise BadInput(
            f"{name}: quantity {quantity}: its price is of a pair, and nothing says whether one is sold singly: quote "
            f"'{quantity + 1} x {name}', or single ones at half the price with --single, or say it once by triptych "
            f"speaker edit {shlex.quote(name)} --set sold_as=pair, or either"
        )


def _at_new_price(item: Item, found: Model, charge: Charge, tag: Tag | None) -> list[str]:
    """Tell where one of another grade is quoted at the price of a new one, for none of its own is kept."""
    if item.grade is Grade.NEW or item.amount is not None or tag is not None:
        return []
    keep = f"triptych stock price {shlex.quote(found.name)} --grade {item.grade.value} --price '400 EUR'"
    new = Tag(charge.amount, charge.currency, charge.per).words
    return [
        f"{found.name}: no price is kept for {grade_words(item.grade)}, so it is quoted as new, {new}; keep it: {keep}"
    ]


def _supply(facts: QuoteFacts, item: Item, quantity: int, found: Model, charge: Charge, taken: Taken) -> list[str]:
    """Refuse what can never be had; remark what is not there now, and what single ones cost."""
    name, pack = found.name, found.pack
    single = item.single or quantity % pack != 0
    key = (found.number, item.grade, rows.name_key(item.finish), 1 if single else pack)
    before = taken[key]
    asked = Asked(max(1, before + quantity), (item.grade,), item.finish, any_finish=False, single=single)
    promise = facts.known.promise(found.number, asked)
    taken[key] += quantity
    ever = facts.finishes.get(found.number, {}) if item.finish else {}
    doubts = [f"{name}: {said}" for said in finish_doubts(ever, item.finish)]
    if promise.available >= before + quantity:
        return [*doubts, *_one_of_a_pair(name, charge, item, alone=single and pack > 1)]
    _refuse_forgotten(item, before + quantity, found, promise)
    there = f"{promise.available} available" + _counted(before)
    if single and pack > 1 and not item.single:
        raise BadInput(
            f"{name}: quantity {quantity}: it is sold in pairs, so give an even number; of single ones {there}"
        )
    if promise.never:
        why = promise.told if promise.never in promise.why else f"{promise.told}; {promise.never}"
        called = ", ".join(filter(None, (name, item.finish)))
        raise Refused(f"{called}: {there}; {why}; nothing was written")
    called = ", ".join(filter(None, (name, item.finish)))
    return [*doubts, f"{called}: {there.replace('available', 'available now', 1)}; {promise.told}"]


def _one_of_a_pair(name: str, charge: Charge, item: Item, *, alone: bool) -> list[str]:
    """Tell that single ones are offered of what is sold in pairs, and at what price where nobody said it."""
    if not alone:
        return []
    halved = charge.per is PricePer.PAIR and item.amount is None
    price = "at half the price of a pair each" if halved else "each at the price that is said"
    return [f"{name}: single ones of what is sold in pairs, {price}"]


def _refuse_forgotten(item: Item, wanted: int, found: Model, promise: Promise) -> None:
    """Refuse a line without a finish where there are enough, but in finishes: it could never be taken from them.

    Raises
    ------
    OtherFinish
        Names them.
    """
    if item.finish is not None or promise.available or not promise.finishes:
        return
    told = " and ".join(one.words for one in promise.finishes)
    enough = [one for one in promise.finishes if one.units >= wanted]
    if enough:
        said = f"{found.name}: {told} available, none without a finish: say which with --finish, or as 'MODEL, FINISH'"
        raise OtherFinish(f"{said}; nothing was written", enough, item.speaker)
