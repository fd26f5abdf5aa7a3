"""Proof that rows beside the ledger still say what was signed of them last: prices, quotes, orders, jobs and more."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Movement, MovementKind, QuoteLine, Signature, every_table
from triptych.catalog.database.stock_levels import on_server
from triptych.catalog.records import PricePer, Tax
from triptych.catalog.stock.costs import net_each, whole
from triptych.catalog.stock.proof_lines import Finding, Tally

_BY_NUMBER: Final = ("loudspeaker", "room", "equipment", "supply_order", "quote", "job", "location", "supplier")
"""Subjects whose signatures have the number of their row."""

_BY_KEY: Final = {
    "price": ("valid_from",),
    "supplier_price": ("supplier_id", "valid_from"),
    "grade_price": ("grade",),
}
"""Subjects whose signatures have the number of a loudspeaker, and what tells one of its rows from another."""

_OF_A_ZONE: Final = ("cancelled_at",)
"""Instants, which a server tells in the time zone of whoever signed: only whether there is one is compared."""

Key = tuple[int, tuple[Any, ...]]


def as_signed(session: Session) -> Finding:
    """Prove that each row says what was signed of it last, where anything was, and is there unless it was removed."""
    tally = Tally("each row beside the ledger says what was signed of it last")
    signed: dict[str, dict[Key, tuple[str, dict[str, Any]]]] = {}
    for subject, number, deed, text in session.execute(_SIGNED):
        said = _read(text)
        tally.see(said is not None, f"signature of {subject} {number}: it says {text[:40]!r}")
        if said is not None:
            signed.setdefault(subject, {})[_key(subject, number, said)] = deed, said
    for subject, last in signed.items():
        names = tuple(next(iter(last.values()))[1])
        rows = _rows(session, subject, [name for name in names if name in every_table().tables[subject].columns])
        for key, (deed, said) in last.items():
            found = rows.get(key)
            # a price whose first day was changed is signed under the new one
            gone = found is None and (deed == "removed" or subject in _BY_KEY)
            wrong = ["it was removed"] if deed == "removed" else _unlike(found, said)
            tally.see(gone or not wrong, f"{_named(subject, key)}: {', '.join(wrong)}")
    return tally.finding()


def _read(text: str) -> dict[str, Any] | None:
    """Give what a signature says, None where somebody made it say nothing."""
    try:
        said = json.loads(text)
    except ValueError:
        return None
    return said if isinstance(said, dict) else None


def _key(subject: str, number: int, said: Mapping[str, Any]) -> Key:
    return number, tuple(str(said.get(name)) for name in _BY_KEY.get(subject, ()))


_SIGNED: Final = (
    sa.select(Signature.subject, Signature.number, Signature.deed, Signature.said)
    .where(Signature.subject.in_((*_BY_NUMBER, *_BY_KEY)))
    .order_by(Signature.id)
)


def _named(subject: str, key: Key) -> str:
    number, rest = key
    return " ".join([subject.replace("_", " "), str(number), *map(str, rest)])


def _unlike(found: Mapping[str, Any] | None, said: Mapping[str, Any]) -> list[str]:
    if found is None:
        return ["it is gone"]
    return [
        f"{name} {found.get(name)}, not {one}" for name, one in said.items() if not _alike(name, found.get(name), one)
    ]


def _alike(name: str, found: Any, said: Any) -> bool:
    return (found is None) == (said is None) if name in _OF_A_ZONE else bool(found == said)


def _rows(session: Session, subject: str, names: Sequence[str]) -> dict[Key, dict[str, Any]]:
    """Give what rows say by the very function that their signatures are made with, by the same keys."""
    table = every_table().tables[subject]
    pairs: list[sa.ColumnClause[Any]] = [sa.literal_column(part) for name in names for part in (f"'{name}'", name)]
    said = sa.cast((sa.func.json_build_object if on_server(session) else sa.func.json_object)(*pairs), sa.String)
    number = table.columns["loudspeaker_id" if subject in _BY_KEY else "id"]
    found = session.execute(sa.select(number, said).select_from(table))
    return {_key(subject, row, values): values for row, text in found if (values := _read(text)) is not None}


def at_quoted_prices(session: Session) -> Finding:
    """Prove that what a quote sold went at one of its prices."""
    tally = Tally("what a quote sold went at its prices")
    quoted: dict[tuple[int, int], set[int | None]] = {}
    per, tax = (sa.type_coerce(column, sa.String) for column in (QuoteLine.per, QuoteLine.tax))
    prices: sa.Select[*tuple[Any, ...]] = sa.select(
        QuoteLine.quote_id, QuoteLine.loudspeaker_id, QuoteLine.amount, per, tax, QuoteLine.tax_rate
    )
    for quote, model, *price in session.execute(prices):
        quoted.setdefault((quote, model), set()).add(_net(*price))
    columns = (Movement.id, Movement.quote_id, Movement.loudspeaker_id, Movement.amount)
    of_quotes = (Movement.kind == MovementKind.SELL, Movement.quote_id.is_not(None))
    for sale, number, speaker, amount in session.execute(sa.select(*columns).where(*of_quotes).order_by(Movement.id)):
        fits = amount in quoted.get((number or 0, speaker), set())
        tally.see(fits, f"line {sale}: {amount} is no price of quote {number}")
    return tally.finding()


def _net(amount: int, per: str, tax: str | None, rate: float | None) -> int | None:
    """Give the price of one without tax; None where nobody knows it, or a word is none that a quote may hold."""
    if per not in [one.value for one in PricePer] or tax not in [None, *(one.value for one in Tax)]:
        return None
    net = net_each(amount, PricePer(per), None if tax is None else Tax(tax), rate)
    return None if net is None else whole(net)
