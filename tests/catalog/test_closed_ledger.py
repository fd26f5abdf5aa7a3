"""What the database refuses from a program that knows none of its rules: plain sqlite3 as it comes, or psql."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, LATER, Shop, made_quote, shop_in
from triptych.catalog import stock
from triptych.catalog.database.address import as_url
from triptych.catalog.database.engine import open_engine, reading, writing
from triptych.catalog.database.models import Grade, Job, MovementKind, Quote, QuoteLine, QuoteState, Supplier
from triptych.catalog.database.models.guards import GUARDS
from triptych.catalog.records import PricePer
from triptych.catalog.stock import quotes, suppliers
from triptych.catalog.stock.proof import check

NOW = datetime.now(UTC)
TABLES = ("movement", "holding", "reservation", "quote", "quote_line", "supply_order", "location", "job", "supplier")


def _fill(engine: sa.Engine) -> Shop:
    """Lay a row or two into every table of the stock."""
    shop = shop_in(engine, centres=5)
    with writing(engine) as session:
        stock.record_movement(session, shop.line(location="store"))
        stock.record_movement(session, shop.line(MovementKind.RESERVE, 2, job="Mill House", until=LATER))
        made_quote(session, "Barn", [quotes.Item(CENTRE.name, 1)])
        made_quote(session, "Byre", [quotes.Item(CENTRE.name, 1)])
        suppliers.save_supplier(session, "Harbour", 10)
        suppliers.save_supplier(session, "Quay", 10)
        suppliers.order(session, CENTRE.name, 4, "Harbour", NOW.date())
        session.execute(
            sa.text(
                "INSERT INTO supplier_price (supplier_id, loudspeaker_id, cost, currency, valid_from)"
                " VALUES (1, :centre, 100, 'EUR', '2026-01-01')"
            ),
            {"centre": shop.centre},
        )
    return shop


@pytest.fixture(scope="module")
def filled_file(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = Path(shutil.copy(sqlite_template, tmp_path_factory.mktemp("filled") / "catalogue.db"))
    engine = open_engine(as_url(str(path)))
    _fill(engine)
    engine.dispose()
    return path


@pytest.fixture
def plain(filled_file: Path, tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """Give what anybody's Python opens: no foreign keys, and no triggers for rows that REPLACE takes away."""
    with closing(sqlite3.connect(shutil.copy(filled_file, tmp_path / "catalogue.db"))) as connection:
        yield connection


def _dump(connection: sqlite3.Connection) -> list[Any]:
    return [connection.execute(f"SELECT rowid, * FROM {table}").fetchall() for table in TABLES]


# a line that is right in all else
NEXT = (
    "INTO movement (id, loudspeaker_id, holding_id, sequence, kind, quantity, effect, on_hand, tracked, at)"
    " SELECT (SELECT MIN(id) FROM movement), loudspeaker_id, holding_id, sequence + 1, 'receive', 1, 1, on_hand + 1,"
    " tracked, at FROM movement WHERE id = (SELECT MAX(id) FROM movement)"
)


@pytest.mark.parametrize("verb", ["INSERT OR REPLACE", "REPLACE"])
@pytest.mark.parametrize("table", TABLES)
def test_no_row_takes_the_place_of_another(plain: sqlite3.Connection, table: str, verb: str) -> None:
    before = _dump(plain)
    same = f"INTO {table} SELECT * FROM {table} ORDER BY rowid LIMIT 1"
    with pytest.raises(sqlite3.IntegrityError, match=r"not replaced|has all its lines"):
        plain.execute(f"{verb} {NEXT if table == 'movement' else same}")
    assert _dump(plain) == before


KEYS = [
    "INTO holding SELECT 99, loudspeaker_id, location_id, grade, pack, finish, finish_key FROM holding LIMIT 1",
    "INTO quote_line (rowid, quote_id, ordinal, loudspeaker_id, grade, quantity, amount, per)"
    " VALUES (1, 2, 2, 1, 'new', 1, 1, 'each')",
    "INTO location SELECT 99, name, name_key, zone, NULL FROM location LIMIT 1",
    "INTO job SELECT 99, name, name_key, NULL FROM job LIMIT 1",
    "INTO supplier SELECT 99, name, name_key, lead_time FROM supplier LIMIT 1",
    "INTO holding SELECT -1, loudspeaker_id, location_id, 'demo', pack, finish, finish_key FROM holding LIMIT 1",
]


@pytest.mark.parametrize("row", KEYS)
def test_nor_by_another_key(plain: sqlite3.Connection, row: str) -> None:
    before = _dump(plain)
    with pytest.raises(sqlite3.IntegrityError, match=r"not replaced|count from 1"):
        plain.execute(f"REPLACE {row}")
    assert _dump(plain) == before


@pytest.mark.parametrize("table", ["location", "job", "supplier"])
@pytest.mark.parametrize("change", ["name_key = (SELECT name_key FROM {0} WHERE id = 2)", "id = 99", "oid = 2"])
def test_nor_by_an_update(plain: sqlite3.Connection, table: str, change: str) -> None:
    before = _dump(plain)
    with pytest.raises(sqlite3.IntegrityError, match=r"has this name|stays"):
        plain.execute(f"UPDATE OR REPLACE {table} SET {change.format(table)} WHERE id = 1")
    assert _dump(plain) == before


# a leap day in a year without one, hours and months that are none, another spelling, a zone, infinity
UNREAL_INSTANTS = [
    "2027-02-29 00:00:00.000000",
    "2027-13-45 00:00:00.000000",
    "2027-01-01 24:00:00.000000",
    "2027-01-01T10:00:00.000000",
    "2027-01-01 10:00:00",
    "2027-01-01 10:00:00.000000Z",
    "2027-13-45",
    "9999-12-31 23:00:00.000000",
    "banana",
    "now",
    "infinity",
]
UNREAL_DAYS = ["2027-02-30", "2027-13-45", "2027-1-1", "0000-01-01", "2027-01-01 00:00", "banana", "infinity"]


@pytest.mark.parametrize("unreal", UNREAL_INSTANTS)
def test_a_movement_is_of_a_real_instant_and_holds_until_one(plain: sqlite3.Connection, unreal: str) -> None:
    made = "INSERT INTO holding SELECT 50, loudspeaker_id, location_id, 'demo', pack, finish, finish_key FROM holding"
    plain.execute(f"{made} LIMIT 1")
    columns = "loudspeaker_id, holding_id, sequence, kind, quantity, effect, on_hand, tracked, at, until, job_id"
    first = f"INSERT INTO movement ({columns}) SELECT loudspeaker_id, 50, 1, 'receive', 1, 1, 1, 0, ?, NULL, NULL"
    earlier = unreal.replace("2027", "2025")
    with pytest.raises(sqlite3.IntegrityError, match=r"movement\.at is no instant|not of the future"):
        plain.execute(f"{first} FROM holding WHERE id = 50", (earlier,))
    plain.execute(f"{first} FROM holding WHERE id = 50", ("2025-02-28 00:00:00.000000",))
    held = f"INSERT INTO movement ({columns}) SELECT loudspeaker_id, 50, 2, 'reserve', 1, 0, 1, 0, ?, ?, 1"
    with pytest.raises(sqlite3.IntegrityError, match=r"movement\.until is no instant"):
        plain.execute(f"{held} FROM holding WHERE id = 50", ("2025-02-28 00:00:00.000000", unreal))
    right = ("2025-02-28 00:00:00.000000", "2028-02-29 23:59:59.999999")
    plain.execute(f"{held} FROM holding WHERE id = 50", right)


@pytest.mark.parametrize(
    ("table", "column"),
    [
        ("price", "valid_from"),
        ("price", "valid_to"),
        ("supplier_price", "valid_from"),
        ("supplier_price", "valid_to"),
        ("supply_order", "expected"),
        ("supply_order", "ordered_at"),
        ("supply_order", "cancelled_at"),
        ("quote", "made_at"),
        ("quote", "until"),
    ],
)
def test_trade_is_of_real_days_and_instants(engine: sa.Engine, table: str, column: str) -> None:
    _fill(engine)
    instant = column.endswith("_at") or column == "until"
    unreal = UNREAL_INSTANTS if instant else UNREAL_DAYS
    if engine.dialect.name == "postgresql":
        # it refuses what is no time by itself, but knows infinity, and years that Python does not
        unreal = ["infinity", "-infinity", "0044-03-15 BC", "20000-01-01"]
    with engine.connect() as connection:
        names = [column["name"] for column in sa.inspect(engine).get_columns(table) if column["name"] != "id"]
        row = dict(connection.execute(sa.text(f"SELECT {', '.join(names)} FROM {table}")).mappings().first() or {})
        # of prices another time, so that nothing overlaps; of a quote a beginning before any end
        aside = {"valid_from": "2001-01-01", "valid_to": "2001-02-01"} if "price" in table else {}
        values = ", ".join(f":{name}" for name in names)
        insert = sa.text(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({values})")
        update = sa.text(f"UPDATE {table} SET {column} = :bad")
        for bad in unreal:
            with pytest.raises(_REFUSED, match=r"is no (instant|day)"), connection.begin_nested():
                connection.execute(insert, row | aside | {column: bad})
            with pytest.raises(_REFUSED, match=_CHANGED), connection.begin_nested():
                connection.execute(update, {"bad": bad})


_REFUSED = (sa.exc.IntegrityError, sa.exc.DataError)
_CHANGED = r"is no (instant|day)|only the date|only the state|open to accepted"


def _quote(session: Any, **values: Any) -> int:
    job = session.scalars(sa.select(Job.id)).first()
    row = {"job_id": job, "state": QuoteState.OPEN, "currency": "EUR", "made_at": NOW, "until": LATER} | values
    return int(session.scalars(sa.insert(Quote).values(**row).returning(Quote.id)).one())


def _line(quote: int, ordinal: int, shop: Shop) -> sa.Insert:
    values = {"loudspeaker_id": shop.centre, "grade": Grade.NEW, "quantity": 1, "amount": 1, "per": PricePer.EACH}
    return sa.insert(QuoteLine).values(quote_id=quote, ordinal=ordinal, **values)


@pytest.mark.slow
def test_a_quote_takes_the_lines_it_was_made_with_and_no_more(engine: sa.Engine) -> None:
    shop = _fill(engine)
    with writing(engine) as session:
        number = _quote(session, lines=2)
        session.execute(_line(number, 1, shop))
    with pytest.raises(sa.exc.IntegrityError, match="accepted with all its lines"), writing(engine) as session:
        session.execute(sa.update(Quote).where(Quote.id == number).values(state=QuoteState.ACCEPTED))
    with pytest.raises(sa.exc.IntegrityError, match="has all its lines"), writing(engine) as session:
        session.execute(_line(number, 3, shop))
    with writing(engine) as session:
        session.execute(_line(number, 2, shop))
    for ordinal in (0, 3, 99):
        with pytest.raises(sa.exc.IntegrityError, match="has all its lines"), writing(engine) as session:
            session.execute(_line(number, ordinal, shop))
    with pytest.raises(sa.exc.IntegrityError, match=r"only the state|open to accepted"), writing(engine) as session:
        session.execute(sa.update(Quote).where(Quote.id == number).values(state=QuoteState.LAPSED, lines=3))
    with reading(engine) as session:
        assert all(finding.holds for finding in check(session))


@pytest.mark.parametrize("state", [QuoteState.ACCEPTED, QuoteState.SOLD, QuoteState.LAPSED])
def test_a_quote_that_is_no_longer_open_takes_none(engine: sa.Engine, state: QuoteState) -> None:
    shop = _fill(engine)
    with writing(engine) as session:
        if state is not QuoteState.LAPSED:
            quotes.accept(session, 1, LATER)
        if state is QuoteState.SOLD:
            quotes.sell(session, 1)
        if state is QuoteState.LAPSED:
            quotes.lapse(session, 1)
    with pytest.raises(sa.exc.IntegrityError, match="only an open quote"), writing(engine) as session:
        session.execute(_line(1, 2, shop))


def test_nor_one_that_was_made_before_lines_were_counted(engine: sa.Engine) -> None:
    shop = _fill(engine)
    with writing(engine) as session:
        number = _quote(session)
    with pytest.raises(sa.exc.IntegrityError, match="has all its lines"), writing(engine) as session:
        session.execute(_line(number, 1, shop))


def test_nor_one_that_was_just_made(engine: sa.Engine) -> None:
    shop = _fill(engine)
    with pytest.raises(sa.exc.IntegrityError, match="has all its lines"), writing(engine) as session:
        session.execute(_line(1, 2, shop))


def test_a_quote_begins_open(engine: sa.Engine) -> None:
    _fill(engine)
    with pytest.raises(sa.exc.IntegrityError, match="begins open"), writing(engine) as session:
        _quote(session, state=QuoteState.ACCEPTED)


# SQLite has no TRUNCATE
@pytest.mark.parametrize("engine", ["postgresql"], indirect=True)
def test_the_reservations_are_not_emptied(engine: sa.Engine) -> None:
    _fill(engine)
    with pytest.raises(sa.exc.IntegrityError, match="not deleted"), engine.begin() as connection:
        connection.execute(sa.text("TRUNCATE reservation"))


def test_the_guards_that_are_looked_for_are_those_that_the_steps_make(engine: sa.Engine) -> None:
    query = "SELECT name FROM sqlite_schema WHERE type = 'trigger' OR name = 'uq_movement_serial'"
    if engine.dialect.name == "postgresql":
        query = (
            "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND pg_table_is_visible(tgrelid)"
            " UNION SELECT conname FROM pg_constraint WHERE contype = 'x'"
            " UNION SELECT indexname FROM pg_indexes WHERE indexname = 'uq_movement_serial'"
        )
    with engine.connect() as connection:
        found = connection.execute(sa.text(query)).scalars().all()
    assert sorted(found) == sorted(GUARDS[engine.dialect.name])


def test_suppliers_can_be_changed_still(engine: sa.Engine) -> None:
    _fill(engine)
    with writing(engine) as session:
        session.execute(sa.update(Supplier).where(Supplier.id == 1).values(lead_time=20, name="Harbour Ltd"))
        suppliers.cancel_order(session, 1)
