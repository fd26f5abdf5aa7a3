"""Proof that rows beside the ledger still say what was signed of them last: prices, quotes, orders, jobs and more."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Movement, MovementKind, QuoteLine, Signature, every_table
from triptych.catalog.database.models.base import UtcTime
from triptych.catalog.database.signing import FOR_PROOF, signature_digest
from triptych.catalog.database.stock_levels import on_server
from triptych.catalog.records import PricePer, Tax
from triptych.catalog.stock.costs import net_each, whole
from triptych.catalog.stock.proof_lines import Finding, Tally
from triptych.catalog.stock.real_times import if_real

_BY_NUMBER: Final = ("loudspeaker", "room", "equipment", "supply_order", "quote", "job", "location", "supplier")
"""Subjects whose signatures have the number of their row."""

_BY_KEY: Final = {
    "price": ("valid_from",),
    "supplier_price": ("supplier_id", "valid_from"),
    "grade_price": ("grade",),
    "quote_line": ("ordinal",),
}
"""Subjects whose signatures have the number of a loudspeaker or quote, and what tells one of its rows from another."""

_FOR_GOOD: Final = {"quote_terms": "quote", "quote_line": "quote_line"}
"""Subjects that are signed once, as they are made, and never change, with their tables: each row has its signature."""

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
            of_subject = signed.setdefault(subject, {})
            # what is signed for good says what it said first
            if subject in _FOR_GOOD:
                of_subject.setdefault(_key(subject, number, said), (deed, said))
            else:
                of_subject[_key(subject, number, said)] = deed, said
    for subject, last in signed.items():
        names = tuple(next(iter(last.values()))[1])
        rows = _rows(session, subject, [name for name in names if name in _table(subject).columns])
        for key, (deed, said) in last.items():
            found = rows.get(key)
            # a price whose first day was changed is signed under the new one
            gone = found is None and (deed == "removed" or subject in _BY_KEY) and subject not in _FOR_GOOD
            wrong = ["it was removed"] if deed == "removed" else _unlike(found, said)
            tally.see(gone or not wrong, f"{_named(subject, key)}: {', '.join(wrong)}")
    for subject in _FOR_GOOD:
        unsigned = _rows(session, subject, _BY_KEY.get(subject, ())).keys() - signed.get(subject, {}).keys()
        for key in sorted(unsigned):
            tally.see(False, f"{_named(subject, key)}: nothing was signed of it")
    return tally.finding()


def _table(subject: str) -> sa.Table:
    return every_table().tables[_FOR_GOOD.get(subject, subject)]


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
    .where(Signature.subject.in_((*_BY_NUMBER, *_BY_KEY, *_FOR_GOOD)), Signature.said != FOR_PROOF)
    .order_by(Signature.id)
)


def _named(subject: str, key: Key) -> str:
    number, rest = key
    return " ".join([subject.removesuffix("_terms").replace("_", " "), str(number), *map(str, rest)])


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
    table, server = _table(subject), on_server(session)
    pairs: list[sa.ColumnElement[Any]] = [part for name in names for part in _pair(table.columns[name], server=server)]
    said = sa.cast((sa.func.json_build_object if server else sa.func.json_object)(*pairs), sa.String)
    number = table.columns[_NUMBER.get(subject, "loudspeaker_id" if subject in _BY_KEY else "id")]
    found = session.execute(sa.select(number, said).select_from(table))
    return {_key(subject, row, values): values for row, text in found if (values := _read(text)) is not None}


_NUMBER: Final = {"quote_line": "quote_id"}


def _pair(column: sa.Column[Any], *, server: bool) -> tuple[sa.ColumnElement[Any], sa.ColumnElement[Any]]:
    """Give a column's name and what it says; of a quote's instants as a file has them."""
    told: sa.ColumnElement[Any] = sa.literal_column(f'"{column.name}"')
    if server and column.table.name == "quote" and isinstance(column.type, UtcTime):
        told = sa.func.to_char(sa.func.timezone("UTC", told), "YYYY-MM-DD HH24:MI:SS.US")
    return sa.literal_column(f"'{column.name}'"), told


def sealed(session: Session) -> Finding:
    """Prove that each signature says what it was made to say, and follows one before it of the same row.

    Those from before there were digests have none. What a quote says is signed by the program, or by the server.
    """
    tally = Tally("each signature says what was signed, by its digest and one before it of the same row")
    columns = (Signature.id, Signature.who, Signature.subject, Signature.number, Signature.deed, Signature.said)
    both = (Signature.was, Signature.becomes)
    query = sa.select(*columns, *both, Signature.digest, if_real(session, Signature, "at")).order_by(Signature.id)
    before: dict[tuple[str, int], list[str]] = {}
    last: int | None = None
    whole = False
    for number, who, subject, row, *said, digest, at in session.execute(query):
        chain = before.setdefault((subject, row), [])
        # a file has one writer, who counts on; a server counts on where a write was taken back
        gap = last is not None and not on_server(session) and number != last + 1
        tally.see(not gap, f"signature {last}: the one after it is gone")
        last = None if digest is None else number
        if digest is None:
            # what was signed of all rows at once says from where on the program signs all
            ours = not whole and not (chain and subject in _OF_QUOTES)
            tally.see(ours, f"signature {number} of {subject.replace('_', ' ')} {row}: another program wrote it")
            continue
        whole = whole or said[-1] is not None
        fits = at is not None and any(
            digest == signature_digest(one, number, at, who, subject, row, *said) for one in (*chain[::-1], None)
        )
        tally.see(fits, f"signature {number} of {subject.replace('_', ' ')} {row}: it says other than was signed")
        chain.append(digest)
    return tally.finding()


_OF_QUOTES: Final = ("quote", *_FOR_GOOD)


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
