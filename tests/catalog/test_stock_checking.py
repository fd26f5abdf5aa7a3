"""`stock check` finds what somebody broke who went past the guards, and names the row."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, LATER, made_quote, shop_in
from tests.catalog.unguarded import unguarded
from triptych.catalog import stock
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Grade, Movement, MovementKind
from triptych.catalog.database.models.guards import GUARDS
from triptych.catalog.stock import quotes
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.proof_lines import Finding

pytestmark = pytest.mark.whole


def _broken(engine: sa.Engine) -> dict[str, tuple[str, ...]]:
    with reading(engine) as session:
        return {finding.invariant: finding.breaches for finding in check(session) if not finding.holds}


@dataclass(frozen=True)
class Ground:
    """A shop: lines that received, reserved, took into quarantine and received with a serial, and an accepted quote."""

    engine: sa.Engine
    lines: dict[str, int]

    def told(self, text: str) -> str:
        """Put the numbers of the lines where a text names them."""
        return text.format(**self.lines)


@pytest.fixture
def ground(engine: sa.Engine) -> Ground:
    """Give a shop whose stock is sound."""
    shop = shop_in(engine, centres=5)
    with writing(engine) as session:
        for line in (
            shop.line(MovementKind.RESERVE, 2, job="Mill House", until=LATER),
            shop.line(MovementKind.RETURN, 1, grade=Grade.QUARANTINE),
            shop.line(location="store", serial="A1"),
        ):
            stock.record_movement(session, line)
        numbers = session.scalars(sa.select(Movement.id).order_by(Movement.id)).all()
        number, _ = made_quote(session, "Barn", [quotes.Item(CENTRE.name, 1)])
        quotes.accept(session, number, LATER)
    assert _broken(engine) == {}
    return Ground(engine, dict(zip(("received", "reserved", "returned", "named"), numbers, strict=True)))


MORE_OF_QUOTE = (
    "INSERT INTO quote_line (quote_id, ordinal, loudspeaker_id, grade, quantity, amount, per)"
    " SELECT 1, 9, loudspeaker_id, grade, 3, 1, per FROM quote_line"
)
SOLD_FROM_QUARANTINE = (
    "INSERT INTO movement (id, loudspeaker_id, holding_id, sequence, kind, quantity, effect, on_hand, tracked, at)"
    " SELECT 90, loudspeaker_id, holding_id, 2, 'sell', 1, -1, 0, 0, at FROM movement WHERE id = {returned}"
)
TO_QUARANTINE = (
    "UPDATE movement SET sequence = 2, holding_id = (SELECT holding_id FROM movement WHERE id = {returned})"
    " WHERE id = {reserved}"
)
HELD = "WHERE movement_id = {reserved}"

Break = tuple[str, str, str]
"""A statement, a part of the invariant that it breaks, and one of what is told."""

BREAKS: list[list[Break]] = [
    [
        (f"UPDATE reservation SET until = '2031-01-01 00:00:00.000000' {HELD}", "each reservation", "another until"),
        ("UPDATE movement SET effect = 7 WHERE id = {received}", "effect of its kind", "line {received}: 7 of a rec"),
        ("UPDATE movement SET tracked = 0 WHERE id = {named}", "with a serial", "line {named}: 0, not 1"),
        (MORE_OF_QUOTE, "a quote has the lines", "quote 1: 1 of loudspeaker"),
    ],
    [
        (f"UPDATE reservation SET holding_id = 2 {HELD}", "each reservation", "another holding_id"),
        (f"UPDATE reservation SET rest = 1 {HELD}", "what is left", "reservation {reserved}: 1, not 2"),
        ("UPDATE movement SET on_hand = 6 WHERE id = {received}", "sum to on hand", "line {received}: 6, not 5"),
        (SOLD_FROM_QUARANTINE, "in quarantine", "line 90: sell 1"),
        ("UPDATE quote SET lines = 2 WHERE id = 1", "a quote has the lines", "quote 1: 1 lines, not 2"),
    ],
    [
        (f"UPDATE reservation SET serial = 'Z' {HELD}", "each reservation", "serial than line"),
        (
            "UPDATE movement SET serial = NULL, serial_sequence = NULL WHERE id = {named}",
            "with a serial",
            "line {named}: 1, not 0",
        ),
        (TO_QUARANTINE, "in quarantine", "line {reserved}: reserve 2"),
    ],
    [(f"DELETE FROM reservation {HELD}", "what is left", "reservation {reserved}: None, not 2")],
]


@pytest.mark.parametrize("breaks", BREAKS)
def test_what_differs_from_the_ledger_is_found(ground: Ground, breaks: list[Break]) -> None:
    with unguarded(ground.engine) as connection:
        for statement, _, _ in breaks:
            connection.execute(ground.told(statement))
    found = _broken(ground.engine)
    for _, invariant, said in breaks:
        breaches = [breach for name, told in found.items() if invariant in name for breach in told]
        assert any(ground.told(said) in breach for breach in breaches), (said, found)


UNREAL = [
    [("movement", "at", "{reserved}"), ("movement", "until", "{reserved}"), ("reservation", "until", "{reserved}")],
    [("price", "valid_from", "1"), ("price", "valid_to", "1"), ("quote", "made_at", "1"), ("quote", "until", "1")],
]


def _unreal(engine: sa.Engine, column: str) -> str:
    if engine.dialect.name == "postgresql":
        # a CHECK holds the end to be later
        return "-infinity" if column in ("valid_from", "made_at") else "infinity"
    return "2027-02-30" if column.startswith("valid") else "2027-13-45 banana\x1b[31m"


@pytest.mark.parametrize("times", UNREAL)
def test_an_instant_that_is_none_is_a_finding_that_names_the_row(
    ground: Ground, times: list[tuple[str, str, str]]
) -> None:
    expected = set()
    with unguarded(ground.engine) as connection:
        for table, column, number in times:
            unreal, row = _unreal(ground.engine, column), ground.told(number)
            key = "movement_id" if table == "reservation" else "id"
            connection.execute(f"UPDATE {table} SET {column} = '{unreal}' WHERE {key} = {row}")
            expected.add(f"{table} {row}: {column} {unreal!r}")
    found = _broken(ground.engine)
    assert set(found["every instant and day is a real one"]) == expected
    assert "\x1b" not in str(found)


def test_a_kind_and_a_state_that_are_none_end_in_no_traceback(ground: Ground) -> None:
    with unguarded(ground.engine) as connection:
        connection.execute(ground.told("UPDATE movement SET kind = 'banana' WHERE id = {received}"))
        if ground.engine.dialect.name == "sqlite":
            connection.execute("UPDATE quote SET state = 'banana'")
    told = [breach for breaches in _broken(ground.engine).values() for breach in breaches]
    assert ground.told("line {received}: 5 of a banana, not 0") in told


def test_rows_without_their_parent_are_found(ground: Ground) -> None:
    with unguarded(ground.engine) as connection:
        connection.execute(ground.told("UPDATE movement SET job_id = 77 WHERE id = {reserved}"))
        connection.execute(ground.told("UPDATE movement SET loudspeaker_id = 78 WHERE id = {returned}"))
    told = _broken(ground.engine)["every row that another one names is there"]
    lines = {ground.told(f"movement {{{one}}}") for one in ("reserved", "returned")}
    assert {breach.split(":")[0] for breach in told} == lines
    assert any("its job is not there" in breach for breach in told)


def test_guards_that_are_missing_are_named(ground: Ground) -> None:
    server = ground.engine.dialect.name == "postgresql"
    triggers = [name for name in GUARDS[ground.engine.dialect.name] if not name.startswith(("ex_", "uq_"))]
    with ground.engine.begin() as connection:
        for name in (triggers[0], triggers[10]):
            if server:
                query = sa.text("SELECT tgrelid::regclass::text FROM pg_trigger WHERE tgname = :name")
                table = connection.execute(query, {"name": name}).scalar_one()
                connection.exec_driver_sql(f"ALTER TABLE {table} DISABLE TRIGGER {name}")
            else:
                connection.exec_driver_sql(f"DROP TRIGGER {name}")
        connection.exec_driver_sql("DROP INDEX uq_movement_serial")
    told = tuple(f"{name} is missing or switched off" for name in (triggers[0], triggers[10], "uq_movement_serial"))
    assert _broken(ground.engine) == {"every guard of the stock stands": told}


ABSENT = ("arrives", "a quote sold", "carried on elsewhere", "what is lent")
"""Words of invariants that nothing in this shop is held to."""


def test_each_invariant_is_told_once_and_looked_at(ground: Ground) -> None:
    with reading(ground.engine) as session:
        found: list[Finding] = check(session)
    looked: dict[str, int] = {finding.invariant: finding.checked for finding in found}
    assert len(looked) == len(found)
    assert all(number > 0 for name, number in looked.items() if not any(word in name for word in ABSENT)), [
        n for n, k in looked.items() if not k
    ]
