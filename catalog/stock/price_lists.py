"""Suppliers' price lists: read, laid beside what holds, and put in place from a day on."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Any, Final, NamedTuple, Self, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.attempts import planned
from triptych.catalog.database.models import Loudspeaker, Price, SheetKind, Supplier, SupplierPrice
from triptych.catalog.errors import BadInput, Overtaken
from triptych.catalog.money import Amount, currency_of, dearest, price, to_amount, to_minor, too_dear
from triptych.catalog.money import currency as currency_code
from triptych.catalog.number_texts import quoted
from triptych.catalog.numbers import percent
from triptych.catalog.numerals import Mark
from triptych.catalog.problems import Problem
from triptych.catalog.records import PricePer, SoldAs, Tax
from triptych.catalog.stock.articles import model_of
from triptych.catalog.stock.sheets import Sheet, SheetRow, cell, read_sheet
from triptych.catalog.stock.suppliers import mapping, save_mapping, supplier_named
from triptych.catalog.stock.unit_costs import of_one

PRICE_COLUMNS: Final = ("cost", "retail", "currency", "per", "tax", "tax_rate")
"""Columns of a price list: what we pay without tax, what is advised, and of what kind the amounts are."""


class Values(NamedTuple):
    """What a supplier charges for one, and what is advised, under the names of the columns. [minor unit]."""

    cost: int | None
    retail: int | None
    currency: str
    tax: Tax | None
    tax_rate: float | None


class _Usual(NamedTuple):
    """What an amount is of where its row doesn't say: its currency, and what it buys of those sold `in_pairs`."""

    currency: str | None
    per: PricePer | None
    in_pairs: frozenset[int]

    @classmethod
    def of(cls, session: Session, currency: str | None, per: PricePer | None) -> Self:
        """What is given beside the file, and what the catalogue knows."""
        pairs = session.scalars(sa.select(Loudspeaker.id).where(Loudspeaker.sold_as == SoldAs.PAIR))
        return cls(currency, per, frozenset(pairs))

    def buys(self, number: int | None) -> PricePer | None:
        """What an amount buys of a loudspeaker; None where that could be one or a pair."""
        return self.per if number in self.in_pairs else PricePer.EACH


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


@dataclass(frozen=True, slots=True)
class _Plan:
    """What a list changes; `supplier` is its number, and `known` all that this was worked out from."""

    supplier: int
    known: _Known
    steps: tuple[_Step, ...]
    listed: Listed


def import_prices(
    engine: sa.Engine,
    supplier: str,
    path: Path,
    start: date,
    ours_by_theirs: Mapping[str, str] | None = None,
    currency: str | None = None,
    mark: Mark | None = None,
    *,
    per: PricePer | None = None,
    dry_run: bool = False,
) -> Listed:
    """Put a supplier's price list in place from a day on; the same list again changes nothing.

    What is not in the list keeps its price. An amount that could be read two ways is read by `mark`, else by the mark
    of its column's other cells; one of what is sold in pairs, of which the file doesn't say what it buys, buys what
    `per` says, or is refused. The columns' names are kept for the supplier's next file. It is read and checked while
    others write.

    Raises
    ------
    BadInput
        A cell cannot be taken; each one is named. Nothing was written.
    NotFound
        No supplier has that name.
    Overtaken
        Others change the same prices again and again.
    """
    given = dict(ours_by_theirs or {})
    return planned(
        engine,
        lambda session: _plan(session, supplier, path, start, given, currency, mark, per),
        lambda session, plan: _write(session, plan, given),
        _hold,
        dry_run=dry_run,
    ).listed


def _plan(
    session: Session,
    supplier: str,
    path: Path,
    start: date,
    given: Mapping[str, str],
    currency: str | None,
    mark: Mark | None,
    per: PricePer | None,
) -> _Plan:
    number = supplier_named(session, supplier)
    kept = mapping(session, number, SheetKind.PRICES)
    sheet = read_sheet(session, path, PRICE_COLUMNS, given, (), number, kept)
    if not {"cost", "retail"} & sheet.marks.keys():
        raise BadInput(f"{sheet.source}: has no column cost nor retail; say which it is with --map THEIRS=cost")
    problems = list(sheet.problems)
    if mark is not None:
        sheet = replace(sheet, marks=dict.fromkeys(sheet.marks, mark))
    wanted = _wanted(sheet, _Usual.of(session, currency, per), problems)
    _refuse(problems)
    known = _Known.of(session, number, [row.number for row in wanted])
    steps = [step for row in wanted if (step := _step(known.prices.get(row.number, ()), row, start)) is not None]
    notes = _untouched_prices(session, wanted, start)
    changes = tuple(step.change for step in steps)
    listed = Listed(changes, len(wanted) - len(steps), sheet.remarks, tuple(notes))
    return _Plan(number, known, tuple(steps), listed)


def _write(session: Session, plan: _Plan, given: Mapping[str, str]) -> None:
    """Write what was worked out.

    Raises
    ------
    Overtaken
        Somebody has changed what it was worked out from.
    """
    _hold(session, plan)
    if _Known.of(session, plan.supplier, list(plan.known.names)) != plan.known:
        raise Overtaken("somebody else has changed the same prices meanwhile; nothing was written, try again")
    changed = [row for step in plan.steps for row in step.changed]
    added = [{"supplier_id": plan.supplier} | row for step in plan.steps for row in step.added]
    if changed:
        session.execute(sa.update(SupplierPrice), changed)
    if added:
        session.execute(sa.insert(SupplierPrice), added)
    if given:
        save_mapping(session, plan.supplier, SheetKind.PRICES, {k: v for k, v in given.items() if v})


def _hold(session: Session, plan: _Plan) -> None:
    """Let two lists of one supplier come one after the other."""
    session.execute(sa.select(Supplier.id).where(Supplier.id == plan.supplier).with_for_update())


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


def _wanted(sheet: Sheet, usual: _Usual, problems: list[Problem]) -> list[PriceRow]:
    wanted: list[PriceRow] = []
    seen: dict[int, int] = {}
    for row in sheet.rows:
        number = row.loudspeaker_id
        if number is not None and number in seen:
            said = f"{row.speaker!r} stands in line {seen[number]} already; leave one of the two"
            problems.append(sheet.problem(row.line, "speaker", said))
            continue
        values = _values(sheet, row, usual, problems)
        if number is not None and values is not None:
            seen[number] = row.line
            wanted.append(PriceRow(number, row.speaker, values))
    return wanted


def _values(sheet: Sheet, row: SheetRow, usual: _Usual, problems: list[Problem]) -> Values | None:
    before = len(problems)
    code = cell(problems, sheet, row, "currency", currency_code)
    per = cell(problems, sheet, row, "per", lambda text: _word(text, PricePer))
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
    code = code or next(iter(written), usual.currency)
    if code is None:
        problems.append(sheet.problem(row.line, "currency", "is not stated; give --currency EUR"))
        return None
    if cost is None and retail is None:
        problems.append(sheet.problem(row.line, "cost", "neither cost nor retail is stated"))
        return None
    per = per or usual.buys(row.loudspeaker_id)
    if per is None:
        said = "is not stated, and it is sold in pairs: write each or pair, or give per for all that are sold so"
        problems.append(sheet.problem(row.line, "per", said))
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
    amount = price(text, mark, stated=stated)
    code = currency_of(amount, text, stated)
    if too_dear(amount.value, code):
        raise BadInput(f"{quoted(text)} {dearest(code)}")
    return Amount(amount.value, (code,) if code else ())


def _each(amount: Amount | None, per: PricePer, currency: str) -> int | None:
    if amount is None:
        return None
    minor = to_minor(amount.value, currency)
    # half a cent of a pair's cost is ours to lose
    return of_one(minor, per)


class _Held(NamedTuple):
    """A price that is stored, its number, and the days from and until which it holds."""

    number: int
    values: Values
    start: date
    end: date | None


@dataclass(frozen=True, slots=True)
class _Known:
    """The names and the supplier's prices of some loudspeakers, by their numbers, and its names for our columns."""

    names: Mapping[int, str]
    prices: Mapping[int, tuple[_Held, ...]]
    columns: Mapping[str, str]

    @classmethod
    def of(cls, session: Session, supplier: int, numbers: Sequence[int]) -> Self:
        """Give what is stored now."""
        names: dict[int, str] = {}
        prices: dict[int, tuple[_Held, ...]] = {}
        for part in reads.chunks(numbers):
            named = sa.select(Loudspeaker.id, Loudspeaker.name_key).where(Loudspeaker.id.in_(part))
            names |= {row[0]: row[1] for row in session.execute(named)}
            theirs = sa.and_(SupplierPrice.supplier_id == supplier, SupplierPrice.loudspeaker_id.in_(part))
            columns = (getattr(SupplierPrice, name) for name in Values._fields)
            query = sa.select(
                SupplierPrice.loudspeaker_id,
                SupplierPrice.id,
                SupplierPrice.valid_from,
                SupplierPrice.valid_to,
                *columns,
            )
            for row in session.execute(query.where(theirs).order_by(SupplierPrice.valid_from)):
                held = _Held(row.id, Values(*row[4:]), row.valid_from, row.valid_to)
                prices[row.loudspeaker_id] = (*prices.get(row.loudspeaker_id, ()), held)
        return cls(names, prices, mapping(session, supplier, SheetKind.PRICES))


class _Step(NamedTuple):
    """A change, and the rows of the table that it comes to."""

    change: ListedChange
    changed: tuple[dict[str, Any], ...]
    added: tuple[dict[str, Any], ...]


def _step(held: Sequence[_Held], wanted: PriceRow, start: date) -> _Step | None:
    """Give what puts one price in place from a day on, where it differs from what holds then."""
    now = next((one for one in held if one.start <= start and (one.end is None or one.end > start)), None)
    if now is not None and now.values == wanted.values:
        return None
    later = min((one.start for one in held if one.start > start), default=None)
    changed: list[dict[str, Any]] = []
    added: list[dict[str, Any]] = []
    values = wanted.values._asdict()
    if now is not None and now.start == start:
        later = now.end
        # each row names its columns alike, so that all go in one statement
        changed.append({"id": now.number, **values, "valid_to": now.end})
    else:
        if now is not None:
            changed.append({"id": now.number, **now.values._asdict(), "valid_to": start})
        added.append({"loudspeaker_id": wanted.number, **values, "valid_from": start, "valid_to": later})
    until = f", until {later - timedelta(days=1)}: another begins on {later}" if later else ""
    before = "" if now is None else _words(now.values)
    change = ListedChange(wanted.speaker, "changed" if before else "added", before, _words(wanted.values) + until)
    return _Step(change, tuple(changed), tuple(added))


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
