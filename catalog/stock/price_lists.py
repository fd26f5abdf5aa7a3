"""Suppliers' price lists: read, laid beside what holds, and put in place from a day on."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Final, NamedTuple, Self, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.models import Price, SheetKind, SupplierPrice
from triptych.catalog.errors import BadInput
from triptych.catalog.money import Amount, currency_of, price, to_amount, to_minor
from triptych.catalog.money import currency as currency_code
from triptych.catalog.numbers import percent
from triptych.catalog.numerals import Mark
from triptych.catalog.problems import Problem
from triptych.catalog.records import PricePer, Tax
from triptych.catalog.stock.articles import model_of
from triptych.catalog.stock.sheets import Sheet, SheetRow, cell, read_sheet
from triptych.catalog.stock.suppliers import mapping, save_mapping, supplier_named

PRICE_COLUMNS: Final = ("cost", "retail", "currency", "per", "tax", "tax_rate")
"""Columns of a price list: what we pay without tax, what is advised, and of what kind the amounts are."""


class Values(NamedTuple):
    """What a supplier charges for one, and what is advised, under the names of the columns. [minor unit]."""

    cost: int | None
    retail: int | None
    currency: str
    tax: Tax | None
    tax_rate: float | None

    @classmethod
    def of(cls, price: SupplierPrice) -> Self:
        """Give what a stored price says."""
        return cls(*(getattr(price, name) for name in cls._fields))


class PriceRow(NamedTuple):
    """A row that was read: the number of its loudspeaker, its name in the file, and what it says."""

    number: int
    speaker: str
    values: Values


Word = TypeVar("Word", PricePer, Tax)


@dataclass(frozen=True, slots=True)
class ListedChange:
    """One price that a list changes; `before` and `after` are in words, empty where there is none."""

    speaker: str
    change: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Listed:
    """What a file comes to: changes, how many stay, warnings of how it was read, and what else is to be told."""

    changes: tuple[ListedChange, ...]
    unchanged: int
    remarks: tuple[str, ...]
    notes: tuple[str, ...] = ()


def import_prices(
    session: Session,
    supplier: str,
    path: Path,
    start: date,
    ours_by_theirs: Mapping[str, str] | None = None,
    currency: str | None = None,
    mark: Mark | None = None,
) -> Listed:
    """Put a supplier's price list in place from a day on; the same list again changes nothing.

    What is not in the list keeps its price. An amount that could be read two ways is read by `mark`, else by the mark
    of its column's other cells. The columns' names are kept for the supplier's next file.

    Raises
    ------
    BadInput
        A cell cannot be taken; each one is named. Nothing was written.
    NotFound
        No supplier has that name.
    """
    number = supplier_named(session, supplier)
    given = mapping(session, number, SheetKind.PRICES) | dict(ours_by_theirs or {})
    sheet = read_sheet(session, path, PRICE_COLUMNS, given, ())
    if not {"cost", "retail"} & sheet.marks.keys():
        raise BadInput(f"{sheet.source}: has no column cost nor retail; say which it is with --map THEIRS=cost")
    problems = list(sheet.problems)
    if mark is not None:
        sheet = replace(sheet, marks=dict.fromkeys(sheet.marks, mark))
    wanted = _wanted(sheet, currency, problems)
    _refuse(problems)
    changes = [change for row in wanted if (change := _put(session, number, row, start)) is not None]
    if ours_by_theirs:
        save_mapping(session, number, SheetKind.PRICES, {k: v for k, v in ours_by_theirs.items() if v})
    notes = _untouched_prices(session, wanted, start)
    return Listed(tuple(changes), len(wanted) - len(changes), sheet.remarks, tuple(notes))


def _untouched_prices(session: Session, wanted: list[PriceRow], day: date) -> list[str]:
    """Say that selling prices stay where a list advises others, and which command would set one."""
    prices = {price.loudspeaker_id: price for price in session.scalars(sa.select(Price).where(reads.valid_on(day)))}
    advised = [row for row in wanted if row.values.retail is not None]
    other = [row for row in advised if not _sells_at(prices.get(row.number), row.values)]
    if not other:
        return []
    first = other[0].values
    retail = "" if first.retail is None else to_amount(first.retail, first.currency)
    said = {"price": str(retail), "currency": first.currency, "price_per": "each"}
    if first.tax is not None:
        said |= {"tax": first.tax.value}
    if first.tax_rate is not None:
        said |= {"tax_rate": f"{first.tax_rate:g}"}
    words = " ".join(f"--set {name}={value}" for name, value in said.items())
    name = model_of(session, other[0].number).name
    return [
        f"{len(other)} retail price{'s' * (len(other) != 1)} kept as advice from {day} on; the catalogue's own price"
        f" stays. Set it with: triptych speaker edit {shlex.quote(name)} {words}"
    ]


def _sells_at(price: Price | None, advised: Values) -> bool:
    """Tell whether the catalogue's price is the one that is advised for one, with the same tax where that is said."""
    if price is None or advised.retail is None:
        return False
    units = 2 if price.per is PricePer.PAIR else 1
    alike = price.amount == units * advised.retail and price.currency == advised.currency
    return alike and advised.tax in (None, price.tax)


def cells_refused(count: int) -> str:
    """Say how many cells cannot be taken."""
    return f"{count} cell{'s' * (count != 1)} cannot be taken; nothing changed"


def _refuse(problems: list[Problem]) -> None:
    if problems:
        lines = "\n".join(map(str, problems))
        raise BadInput(f"{lines}\n{cells_refused(len(problems))}")


def _wanted(sheet: Sheet, currency: str | None, problems: list[Problem]) -> list[PriceRow]:
    wanted: list[PriceRow] = []
    seen: dict[int, int] = {}
    for row in sheet.rows:
        number = row.loudspeaker_id
        if number is not None and number in seen:
            said = f"{row.speaker!r} stands in line {seen[number]} already; leave one of the two"
            problems.append(sheet.problem(row.line, "speaker", said))
            continue
        values = _values(sheet, row, currency, problems)
        if number is not None and values is not None:
            seen[number] = row.line
            wanted.append(PriceRow(number, row.speaker, values))
    return wanted


def _values(sheet: Sheet, row: SheetRow, currency: str | None, problems: list[Problem]) -> Values | None:
    before = len(problems)
    code = cell(problems, sheet, row, "currency", currency_code)
    per = cell(problems, sheet, row, "per", lambda text: _word(text, PricePer)) or PricePer.EACH
    cost, retail = (
        cell(problems, sheet, row, name, partial(_price, mark=sheet.marks.get(name), stated=code))
        for name in ("cost", "retail")
    )
    tax = cell(problems, sheet, row, "tax", lambda text: _word(text, Tax))
    rate = cell(problems, sheet, row, "tax_rate", partial(percent, mark=sheet.marks.get("tax_rate")))
    if len(problems) > before:
        return None
    written = {amount.currency for amount in (cost, retail) if amount is not None and amount.currency}
    if code is None and len(written) > 1:
        said = f"cost and retail are in {' and '.join(sorted(written))}; write both in one"
        problems.append(sheet.problem(row.line, "currency", said))
        return None
    code = code or next(iter(written), currency)
    if code is None:
        problems.append(sheet.problem(row.line, "currency", "is not stated; give --currency EUR"))
        return None
    if cost is None and retail is None:
        problems.append(sheet.problem(row.line, "cost", "neither cost nor retail is stated"))
        return None
    try:
        taxed = None if rate is None else float(rate)
        return Values(_each(cost, per, code), _each(retail, per, code), code, tax, taxed)
    except BadInput as problem:
        problems.append(sheet.problem(row.line, "cost", str(problem)))
        return None


def _word(text: str, kind: type[Word]) -> Word:
    for member in kind:
        if member.value == text.strip().casefold():
            return member
    raise BadInput(f"{text!r}: give {' or '.join(member.value for member in kind)}")


def _price(text: str, mark: Mark | None, stated: str | None) -> Amount:
    amount = price(text, mark)
    code = currency_of(amount, text, stated)
    return Amount(amount.value, (code,) if code else ())


def _each(amount: Amount | None, per: PricePer, currency: str) -> int | None:
    if amount is None:
        return None
    minor = to_minor(amount.value, currency)
    # half a cent of a pair's cost is ours to lose
    return minor if per is PricePer.EACH else (minor + 1) // 2


def _put(session: Session, supplier: int, wanted: PriceRow, start: date) -> ListedChange | None:
    """Write one price from a day on, where it differs from what holds then."""
    theirs = sa.and_(SupplierPrice.supplier_id == supplier, SupplierPrice.loudspeaker_id == wanted.number)
    holds = sa.or_(SupplierPrice.valid_to.is_(None), SupplierPrice.valid_to > start)
    now = session.scalars(sa.select(SupplierPrice).where(theirs, SupplierPrice.valid_from <= start, holds)).first()
    old = None if now is None else Values.of(now)
    if old == wanted.values:
        return None
    later = session.scalar(
        sa.select(sa.func.min(SupplierPrice.valid_from)).where(theirs, SupplierPrice.valid_from > start)
    )
    values = wanted.values._asdict()
    if now is not None and now.valid_from == start:
        later = now.valid_to
        session.execute(sa.update(SupplierPrice).where(SupplierPrice.id == now.id).values(**values))
    else:
        if now is not None:
            session.execute(sa.update(SupplierPrice).where(SupplierPrice.id == now.id).values(valid_to=start))
        key = {"supplier_id": supplier, "loudspeaker_id": wanted.number}
        session.execute(sa.insert(SupplierPrice).values(**key, **values, valid_from=start, valid_to=later))
    until = f", until {later - timedelta(days=1)}: another begins on {later}" if later else ""
    before = "" if old is None else _words(old)
    return ListedChange(wanted.speaker, "changed" if before else "added", before, _words(wanted.values) + until)


def _words(values: Values) -> str:
    amounts = (("cost", values.cost), ("retail", values.retail))
    parts = [
        f"{name} {to_amount(amount, values.currency)} {values.currency}"
        for name, amount in amounts
        if amount is not None
    ]
    if values.tax is not None:
        rate = "" if values.tax_rate is None else f" {values.tax_rate:g} %"
        parts.append(f"tax{rate} {values.tax.value}")
    return ", ".join(parts)
