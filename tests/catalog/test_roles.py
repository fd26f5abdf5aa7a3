"""The two roles of a firm on a real server: what a seller may, and what a seller may not."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import uuid
from collections.abc import Callable, Iterator
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests import databases
from tests.catalog.columns_told import columns_told
from tests.catalog.stock_shop import CENTRE, LATER, made_quote, open_shop
from triptych.catalog import stock
from triptych.catalog.database.copies import backup, restore
from triptych.catalog.database.engine import open_catalogue, open_engine, reading, writing
from triptych.catalog.database.models import Movement, MovementKind
from triptych.catalog.database.profiles import StoredProfile, save_profiles
from triptych.catalog.errors import DatabaseProblem
from triptych.catalog.stock import desk, operations, quotes
from triptych.catalog.stock.deeds import DeedsAsked, history
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.quotes import Item

ROLES = (files("triptych.migrations") / "roles.sql").read_text(encoding="utf-8")


@pytest.fixture
def firm(postgresql_url: str) -> Iterator[dict[str, str]]:
    """Give the URLs of a database for its owner, a keeper and a seller, with the roles laid down and no table yet."""
    mark = uuid.uuid4().hex[:8]
    name = f"firm_{mark}"
    databases.on_server(postgresql_url, f"CREATE DATABASE {name}")
    owner = databases.beside(postgresql_url, name)
    _lay_down(owner)
    logins = {"keeper": f"ben_{mark}", "seller": f"anna_{mark}"}
    for role, login in logins.items():
        databases.on_server(owner, f"CREATE ROLE {login} LOGIN")
        databases.on_server(owner, f"GRANT triptych_{role} TO {login}")
    databases.on_server(owner, f"ALTER ROLE {logins['keeper']} SET role TO triptych_keeper")
    urls = {
        role: sa.make_url(owner).set(username=login).render_as_string(hide_password=False)
        for role, login in logins.items()
    }
    yield urls | {"owner": owner}
    databases.on_server(postgresql_url, f"DROP DATABASE {name} WITH (FORCE)")
    for login in logins.values():
        databases.on_server(postgresql_url, f"DROP ROLE {login}")


def _lay_down(url: str) -> None:
    engine = open_engine(url)
    with engine.begin() as connection:
        driver = connection.connection.driver_connection
        assert driver is not None
        driver.execute(ROLES)
    engine.dispose()


def test_a_keeper_migrates_and_a_seller_sells(firm: dict[str, str]) -> None:
    with pytest.raises(DatabaseProblem, match=r"permission denied.*whoever may migrate"):
        open_catalogue(firm["seller"])
    keeper = open_catalogue(firm["keeper"])
    with writing(keeper) as session:
        shop = open_shop(session, towers=2, centres=6)
    _lay_down(firm["owner"])
    seller = open_catalogue(firm["seller"])
    with writing(seller) as session:
        number = stock.record_movement(session, shop.line(MovementKind.RESERVE, 1, job="J", until=LATER))
        stock.record_movement(session, shop.line(MovementKind.SELL, 1, reservation_id=number))
        operations.transfer(session, shop.line(), "store")
    asked = desk.Request(CENTRE.name, "shop", job="J")
    desk.reserve(seller, asked, LATER)
    desk.sell(seller, asked)
    desk.transfer(seller, replace(asked, job=None), "store")
    with writing(seller) as session:
        quote, _ = made_quote(session, "J", [Item(CENTRE.name, 2)])
        quotes.accept(session, quote)
        quotes.sell(session, quote)
        save_profiles(session, [StoredProfile(shop.centre, 1, 1, b"x")])
        save_profiles(session, [StoredProfile(shop.centre, 1, 2, b"y")])
    who = dict(_signed(keeper))
    assert {who["loudspeaker"], who["quote"]} == {keeper.url.username, seller.url.username}
    assert who["quote"] == seller.url.username
    with reading(seller) as session:
        assert columns_told(session)["available"] == [2, 2, None]
        assert all(finding.holds for finding in check(session))
    seller.dispose()
    keeper.dispose()


def _signed(engine: sa.Engine) -> list[tuple[str, str | None]]:
    with reading(engine) as session:
        return [(one.subject, one.who) for one in history(session, DeedsAsked())]


FORBIDDEN = (
    "CREATE TABLE mine (id integer)",
    "DROP TABLE movement",
    "ALTER TABLE movement DISABLE TRIGGER ALL",
    "UPDATE loudspeaker SET retired = true",
    "DELETE FROM movement",
    "UPDATE reservation SET rest = 0",
    "INSERT INTO reservation (movement_id, holding_id, until, rest) VALUES (1, 1, now(), 1)",
    "UPDATE price SET amount = 1",
    "TRUNCATE movement CASCADE",
    "SET ROLE triptych_keeper",
    "INSERT INTO signature (at, who, subject, number, deed, said) VALUES (now(), 'boss', 'price', 1, 'made', '{}')",
    "UPDATE signature SET who = 'boss'",
    # the guards, which act as the keeper, would read this one, and run its triggers
    "CREATE TEMP TABLE movement AS SELECT * FROM movement",
)


def test_a_seller_changes_no_table_and_no_history(firm: dict[str, str]) -> None:
    keeper = open_catalogue(firm["keeper"])
    with writing(keeper) as session:
        open_shop(session, centres=2)
    keeper.dispose()
    _lay_down(firm["owner"])
    seller = open_catalogue(firm["seller"])
    for statement in FORBIDDEN:
        with pytest.raises(DatabaseProblem, match=r"permission denied|must be owner"), writing(seller) as session:
            session.execute(sa.text(statement))
    with reading(seller) as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(Movement)) == 1
    seller.dispose()


def test_not_even_a_keeper_rewrites_the_ledger(firm: dict[str, str]) -> None:
    keeper = open_catalogue(firm["keeper"])
    with writing(keeper) as session:
        open_shop(session, centres=2)
    for statement in ("DELETE FROM movement", "UPDATE movement SET quantity = 9", "TRUNCATE movement CASCADE"):
        with pytest.raises(sa.exc.IntegrityError, match="only added to"), writing(keeper) as session:
            session.execute(sa.text(statement))
    keeper.dispose()


@pytest.fixture
def owner(postgresql_url: str) -> Iterator[str]:
    """Give the URL of an empty database for its owner, who is no superuser and was given the two roles."""
    mark = uuid.uuid4().hex[:8]
    login, name = f"olga_{mark}", f"own_{mark}"
    for role in ("triptych_keeper", "triptych_seller"):
        made = f"IF NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = '{role}') THEN CREATE ROLE {role} NOLOGIN"
        databases.on_server(postgresql_url, f"DO $$BEGIN {made}; END IF; END$$")
    databases.on_server(postgresql_url, f"CREATE ROLE {login} LOGIN")
    databases.on_server(postgresql_url, f"CREATE DATABASE {name} OWNER {login}")
    yield sa.make_url(databases.beside(postgresql_url, name)).set(username=login).render_as_string(hide_password=False)
    databases.on_server(postgresql_url, f"DROP DATABASE {name} WITH (FORCE)")
    databases.on_server(postgresql_url, f"DROP ROLE {login}")


def _printed(do: Callable[[], object]) -> list[str]:
    """Run what a refusal prints, word for word."""
    with pytest.raises(DatabaseProblem, match="whose own tools do this: ") as told:
        do()
    command = shlex.split(str(told.value).partition("whose own tools do this: ")[2])
    subprocess.run(command, check=True, capture_output=True, text=True, timeout=120)
    return command


@pytest.mark.skipif(not shutil.which("pg_restore"), reason="PostgreSQL's own tools are not here")
def test_an_owner_who_is_no_superuser_runs_what_is_printed(owner: str, tmp_path: Path) -> None:
    engine = open_catalogue(owner)
    with writing(engine) as session:
        shop = open_shop(session, centres=3)
    copy = tmp_path / "monday's.dump"
    assert _printed(lambda: backup(engine, copy))[0] == "pg_dump"
    desk.sell(engine, Request(CENTRE.name, "shop"))
    copied = tmp_path / "copy"
    copied.write_bytes(copy.read_bytes())
    engine.dispose()
    assert _printed(lambda: restore(engine, copied))[0] == "pg_restore"
    with reading(engine) as session:
        assert stock.level(session, shop.line()).on_hand == 3
        assert all(finding.holds for finding in check(session))
    assert desk.sell(engine, Request(CENTRE.name, "shop")).done.on_hand == 2
    engine.dispose()


@pytest.mark.skipif(not shutil.which("pg_restore"), reason="PostgreSQL's own tools are not here")
@pytest.mark.parametrize("emptied", [False, True])
def test_what_an_owner_puts_back_as_printed_is_the_keepers_still(
    firm: dict[str, str], tmp_path: Path, *, emptied: bool
) -> None:
    open_catalogue(firm["keeper"]).dispose()
    _lay_down(firm["owner"])
    engine, copy = open_engine(firm["owner"]), tmp_path / "monday.dump"
    _printed(lambda: backup(engine, copy))
    if emptied:
        databases.on_server(firm["owner"], "DROP OWNED BY triptych_keeper")
        _lay_down(firm["owner"])
    assert "--role=triptych_keeper" in _printed(lambda: restore(engine, copy))
    engine.dispose()
    keeper = open_catalogue(firm["keeper"])
    with writing(keeper) as session:
        open_shop(session, centres=2)
    assert "--role=triptych_keeper" in _printed(lambda: restore(keeper, copy))
    keeper.dispose()
    seller = open_catalogue(firm["seller"])
    with reading(seller) as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(Movement)) == 0
    seller.dispose()


def test_an_owner_who_is_no_superuser_lays_the_roles_down(owner: str, postgresql_url: str) -> None:
    login = sa.make_url(owner).username
    databases.on_server(postgresql_url, f"GRANT triptych_keeper, triptych_seller TO {login} WITH ADMIN OPTION")
    _lay_down(owner)
    engine = open_catalogue(owner)
    engine.dispose()
    _lay_down(owner)
    databases.on_server(owner, "SET ROLE triptych_seller")
    with engine.connect() as connection:
        rights = sa.text("SELECT has_table_privilege('triptych_seller', 'movement', :right)")
        assert [connection.execute(rights, {"right": one}).scalar() for one in ("INSERT", "SELECT", "UPDATE")] == [
            True,
            True,
            False,
        ]
    engine.dispose()
