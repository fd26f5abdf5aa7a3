"""Proof that each row beside the ledger is as it was signed last, that none is missing, and that none was added."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Signature, every_table
from triptych.catalog.database.signing import row_digest
from triptych.catalog.database.stock_levels import on_server
from triptych.catalog.stock.proof_guards import made
from triptych.catalog.stock.proof_lines import Finding, Tally

NOT_SIGNED: Final = {
    "acoustic_profile": "computed again from what the loudspeaker says",
    "crossover": "describes a loudspeaker",
    "driver": "describes a loudspeaker",
    "ledger_end": "held to the ledger's lines",
    "loudspeaker_role": "describes a loudspeaker",
    "movement": "each line has a digest of its own",
    "provenance": "tells where what describes a loudspeaker comes from",
    "reservation": "held to the ledger's lines",
    "signature": "each has a digest of its own",
}
"""Tables of which no row is signed, and why. What describes a loudspeaker is most of what an import writes."""

_SIGNED: Final = (
    sa.select(Signature.id, Signature.subject, Signature.number, Signature.was, Signature.becomes)
    .where(Signature.digest.is_not(None), sa.or_(Signature.was.is_not(None), Signature.becomes.is_not(None)))
    .order_by(Signature.id)
)


def untouched(session: Session) -> Finding:
    """Prove that the rows are those that their signatures leave: each made, changed and removed as it was signed."""
    tally = Tally("each row is as it was signed last, none is missing, and none was added")
    left: dict[str, Counter[str]] = {}
    of: dict[str, int] = {}
    for number, subject, row, was, becomes in session.execute(_SIGNED):
        there = left.setdefault(subject, Counter())
        if was is not None:
            named = f"signature {number}: {subject.replace('_', ' ')} {row} was changed before it by another program"
            tally.see(there[was] > 0, named)
            there[was] -= 1
        if becomes is not None:
            there[becomes] += 1
            of[becomes] = row
    for table in signed_tables():
        there, wrong = left.get(table.name, Counter()), 0
        for key, digest in _digests(session, table):
            fits = digest is not None and there[digest] > 0
            tally.see(fits, f"{_named(table.name, *key)}: it is not as it was signed")
            there[digest or ""] -= 1
            wrong += not fits
        rest = sorted(one for one, count in there.items() if count > 0)
        for digest in rest if len(rest) > wrong else ():
            tally.see(False, f"{_named(table.name, of[digest])}: it was changed or removed by another program")
    return tally.finding()


def signed_tables() -> list[sa.Table]:
    """Give the tables whose rows are signed."""
    return [table for name, table in sorted(every_table().tables.items()) if name not in NOT_SIGNED]


def _named(table: str, *key: object) -> str:
    return " ".join([table.replace("_", " "), *map(str, key)])


def _digests(session: Session, table: sa.Table) -> Iterator[tuple[tuple[Any, ...], str | None]]:
    """Give the digest of each row with its key, by what its signature is made with."""
    keys = list(table.primary_key)
    said: sa.ColumnElement[str]
    if on_server(session):
        said = sa.literal_column(_ON_SERVER.format(table=session.bind.dialect.identifier_preparer.quote(table.name)))  # type: ignore[union-attr]  # a session here has an engine
        for setting in ("timezone = 'UTC'", "extra_float_digits = 1", "bytea_output = 'hex'"):
            session.execute(sa.text(f"SET LOCAL {setting}"))
        for *key, digest in session.execute(sa.select(*keys, said).select_from(table).order_by(*keys)):
            yield tuple(key), digest
        return
    said = sa.literal_column(_told_in_file()[table.name])
    for *key, told in session.execute(sa.select(*keys, said).select_from(table).order_by(*keys)):
        yield tuple(key), row_digest(told)


_ON_SERVER: Final = "encode(sha256(convert_to(jsonb_strip_nulls(to_jsonb({table}.*))::text, 'UTF8')), 'hex')"


@cache
def _told_in_file() -> dict[str, str]:
    """Give of each table the words by which its trigger tells all that a row says."""
    form = re.compile(
        r"CREATE TRIGGER \w+_signs\w* AFTER INSERT ON (\w+) BEGIN.*(json_array\((?:[^()]|\([^()]*\))*\))\);\nEND",
        flags=re.DOTALL,
    )
    found = (form.fullmatch(text) for text in made("sqlite").values())
    return {one[1]: one[2].replace("NEW.", f'"{one[1]}".') for one in found if one is not None}
