"""Suppliers' price lists: read, laid beside what holds, and put in place from a day on."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Any, Final

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
from triptych.catalog.stock import sheets
from triptych.catalog.stock.sheets import cell, read_sheet
from triptych.catalog.stock.suppliers import mapping, save_mapping, supplier_named

COLUMNS: Final = ("cost", "retail", "currency", "per", "tax", "tax_rate")
"""Columns of a price list: what we pay without tax, what is advised, and of what kind the amounts are."""

VALUES: Final = ("cost", "retail", "currency", "tax", "tax_rate")


@dataclass(frozen=True, slots=True)
class Change:
    """One price that a list changes; `before` and `after` are in words, empty where there is none."""

    speaker: str
    change: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Listed:
    """What a file comes to: changes, how many stay, warnings of how it was read, and what else is to be told."""

    changes: tuple[Change, ...]
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
    sheet = read_sheet(session, path, COLUMNS, given, ())
    if not {"cost", "retail"} & set(sheet.frame.columns):
        raise BadInput(f"{sheet.source}: has no column cost nor retail; say which it is with --map THEIRS=cost")
    problems = list(sheet.problems)
    marks = {name: mark or sheet.marks.get(name) for name in ("cost", "retail", "tax_rate")}
    wanted = _wanted(sheet, marks, currency, problems)
    _refuse(problems)
    changes = [change for row in wanted if (change := _put(session, number, row, start)) is not None]
    if ours_by_theirs:
        save_mapping(session, number, SheetKind.PRICES, {k: v for k, v in ours_by_theirs.items() if v})
    notes = _untouched_prices(session, wanted, start)
    return Listed(tuple(changes), len(wanted) - len(changes), sheet.remarks, tuple(notes))


def _untouched_prices(session: Session, wanted: list[dict[str, Any]], day: date) -> list[str]:
    """Say that selling prices stay where a list advises others, and which command would set one."""
    advised = {row["loudspeaker_id"]: row for row in wanted if row["retail"] is not None}
    prices = {price.loudspeaker_id: price for price in session.scalars(sa.select(Price).where(reads.valid_on(day)))}
    other = [row for number, row in advised.items() if not _sells_at(prices.get(number), row)]
    if not other:
        return []
    first = other[0]
    values = {
        "price": to_amount(first["retail"], first["currency"]),
        "currency": first["currency"],
        "price_per": "each",
    }
    if first["tax"] is not None:
        values |= {"tax": first["tax"].value}
    if first["tax_rate"] is not None:
        values |= {"tax_rate": f"{first['tax_rate']:g}"}
    words = " ".join(f"--set {name}={value}" for name, value in values.items())
    name = reads.name_of(session, first["loudspeaker_id"])
    return [
        f"{len(other)} retail price{'s' * (len(other) != 1)} kept as advice from {day} on; the catalogue's own price"
        f" stays. Set it with: triptych speaker edit {shlex.quote(name)} {words}"
    ]


def _sells_at(price: Price | None, advised: Mapping[str, Any]) -> bool:
    """Tell whether the catalogue's price is the one that is advised for one, with the same tax where that is said."""
    if price is None:
        return False
    units = 2 if price.per is PricePer.PAIR else 1
    alike = price.amount == units * advised["retail"] and price.currency == advised["currency"]
    return alike and advised["tax"] in (None, price.tax)


def cells_refused(count: int) -> str:
    """Say how many cells cannot be taken."""
    return f"{count} cell{'s' * (count != 1)} cannot be taken; nothing changed"


def _refuse(problems: list[Problem]) -> None:
    if problems:
        lines = "\n".join(map(str, problems))
        raise BadInput(f"{lines}\n{cells_refused(len(problems))}")


def _wanted(
    sheet: sheets.Sheet, marks: Mapping[str, Mark | None], currency: str | None, problems: list[Problem]
) -> list[dict[str, Any]]:
    wanted: list[dict[str, Any]] = []
    seen: dict[int, int] = {}
    for row in sheet.frame.astype(object).where(sheet.frame.notna(), None).to_dict("records"):
        number = row["loudspeaker_id"]
        if number is not None and number in seen:
            said = f"{row['speaker']!r} stands in line {seen[number]} already; leave one of the two"
            problems.append(Problem(sheet.source, f"line {row['line']}", "speaker", said))
            continue
        texts = {str(name): value for name, value in row.items()}
        values = _values(sheet.source, texts, marks, currency, problems)
        if number is not None and values is not None:
            seen[number] = row["line"]
            wanted.append({"loudspeaker_id": int(number), "speaker": row["speaker"], **values})
    return wanted


def _values(
    source: str, row: Mapping[str, Any], marks: Mapping[str, Mark | None], currency: str | None, problems: list[Problem]
) -> dict[str, Any] | None:
    before = len(problems)
    code = cell(problems, source, row, "currency", currency_code)
    per = cell(problems, source, row, "per", lambda text: _word(text, PricePer)) or PricePer.EACH
    cost, retail = (
        cell(problems, source, row, name, partial(_price, mark=marks[name], stated=code)) for name in ("cost", "retail")
    )
    tax = cell(problems, source, row, "tax", lambda text: _word(text, Tax))
    rate = cell(problems, source, row, "tax_rate", partial(percent, mark=marks["tax_rate"]))
    if len(problems) > before:
        return None
    written = {amount.currency for amount in (cost, retail) if amount is not None and amount.currency}
    if code is None and len(written) > 1:
        said = f"cost and retail are in {' and '.join(sorted(written))}; write both in one"
        problems.append(Problem(source, f"line {row['line']}", "currency", said))
        return None
    code = code or next(iter(written), currency)
    if code is None:
        problems.append(Problem(source, f"line {row['line']}", "currency", "is not stated; give --currency EUR"))
        return None
    if cost is None and retail is None:
        problems.append(Problem(source, f"line {row['line']}", "cost", "neither cost nor retail is stated"))
        return None
    try:
        amounts = {name: _each(amount, per, code) for name, amount in (("cost", cost), ("retail", retail))}
    except BadInput as problem:
        problems.append(Problem(source, f"line {row['line']}", "cost", str(problem)))
        return None
    return amounts | {"currency": code, "tax": tax, "tax_rate": None if rate is None else float(rate)}


def _word(text: str, kind: type[PricePer] | type[Tax]) -> PricePer | Tax:
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


def _put(session: Session, supplier: int, wanted: Mapping[str, Any], start: date) -> Change | None:
    """Write one price from a day on, where it differs from what holds then."""
    theirs = sa.and_(SupplierPrice.supplier_id == supplier, SupplierPrice.loudspeaker_id == wanted["loudspeaker_id"])
    holds = sa.or_(SupplierPrice.valid_to.is_(None), SupplierPrice.valid_to > start)
    now = session.scalars(sa.select(SupplierPrice).where(theirs, SupplierPrice.valid_from <= start, holds)).first()
    values = {name: wanted[name] for name in VALUES}
    if now is not None and all(getattr(now, name) == value for name, value in values.items()):
        return None
    before = "" if now is None else _words({name: getattr(now, name) for name in VALUES})
    later = session.scalar(
        sa.select(sa.func.min(SupplierPrice.valid_from)).where(theirs, SupplierPrice.valid_from > start)
    )
    if now is not None and now.valid_from == start:
        session.execute(sa.update(SupplierPrice).where(SupplierPrice.id == now.id).values(**values))
    else:
        if now is not None:
            session.execute(sa.update(SupplierPrice).where(SupplierPrice.id == now.id).values(valid_to=start))
        key = {"supplier_id": supplier, "loudspeaker_id": wanted["loudspeaker_id"]}
        session.execute(sa.insert(SupplierPrice).values(**key, **values, valid_from=start, valid_to=later))
    end = now.valid_to if now is not None and now.valid_from == start else later
    after = _words(values) + (f", until {end - timedelta(days=1)}: another begins on {end}" if end else "")
    return Change(wanted["speaker"], "changed" if before else "added", before, after)


def _words(values: Mapping[str, Any]) -> str:
    parts = []
    for name in ("cost", "retail"):
        if values[name] is not None:
            parts.append(f"{name} {to_amount(values[name], values['currency'])} {values['currency']}")
    if values["tax"] is not None:
        rate = "" if values["tax_rate"] is None else f" {values['tax_rate']:g} %"
        parts.append(f"tax{rate} {values['tax'].value}")
    return ", ".join(parts)
