"""`stock check` finds what somebody who knew the ledger made up in it: every total right, every rule kept."""

from __future__ import annotations

import pytest
import sqlalchemy as sa

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, LATER, shop_in
from tests.catalog.unguarded import unguarded
from triptych.catalog.database.engine import open_engine, reading, writing
from triptych.catalog.database.models import Movement, Quote
from triptych.catalog.stock import desk
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.quotes import Item

WRITTEN = "each line says what was written, by its digest and the one before"
LAST = "the last line of each holding is there"
PROMISED = "a quote has the lines it was made with, and they are what was promised of it"
GUARDS = "every guard of the stock stands"


def broken(engine: sa.Engine) -> dict[str, tuple[str, ...]]:
    with reading(engine) as session:
        return {finding.invariant: finding.breaches for finding in check(session) if not finding.holds}


def _fill(engine: sa.Engine) -> None:
    shop_in(engine, centres=5)
    asked = Request(CENTRE.name, "shop", job="Mill House", who="anna", note='half "price" — \t½')
    desk.reserve(engine, asked, LATER)
    desk.reserve(engine, Request(CENTRE.name, "shop", job="Barn"), LATER)
    desk.sell(engine, Request(CENTRE.name, "shop", amount=48000, currency="EUR"))
    desk.transfer(engine, Request(CENTRE.name, "shop"), "store")
    assert broken(engine) == {}


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    return filled(engine, _fill)


FALSE = [
    "UPDATE movement SET kind = 'write_off', note = 'broken', amount = NULL, currency = NULL WHERE kind = 'sell'",
    "UPDATE movement SET job_id = (SELECT id FROM job WHERE name = 'Barn') WHERE id = 2",
    "UPDATE movement SET amount = 100 WHERE kind = 'sell'",
    "UPDATE movement SET who = 'ben' WHERE id = 2",
    "UPDATE movement SET note = 'whole price' WHERE id = 2",
    "UPDATE holding SET finish = 'Oak', finish_key = 'oak'",
]


@pytest.mark.whole
@pytest.mark.parametrize("statement", FALSE)
def test_a_line_that_says_other_than_it_did_is_found(shop: sa.Engine, statement: str) -> None:
    with unguarded(shop) as connection:
        connection.execute(statement)
    assert broken(shop).keys() - {ROWS} == {WRITTEN}


SIGNED = "each row beside the ledger says what was signed of it last"
PRICED = "what a quote sold went at its prices"
SEALED = "each signature says what was signed, by its digest and one before it of the same row"
NAMED = "each name is found under what it is called"
ROWS = "each row is as it was signed last, none is missing, and none was added"
LENT = "what is lent is kept for whom it was lent to"
BESIDE = {
    "UPDATE price SET amount = 1": {SIGNED},
    "UPDATE quote SET state = 'lapsed' WHERE id = 2": {SIGNED},
    "DELETE FROM quote_line; DELETE FROM quote WHERE id = 2": {SIGNED, PROMISED, PRICED},
    "UPDATE quote_line SET amount = 1 WHERE quote_id = 1": {SIGNED, PRICED},
    "UPDATE quote_line SET amount = 1 WHERE quote_id = 2": {SIGNED},
    "UPDATE quote_line SET quantity = 2 WHERE quote_id = 2": {SIGNED},
    "UPDATE quote_line SET finish = 'Oak' WHERE quote_id = 2": {SIGNED},
    "UPDATE quote_line SET discount = 0.5 WHERE quote_id = 2": {SIGNED},
    "UPDATE quote SET who = 'ben' WHERE id = 2": {SIGNED},
    "UPDATE quote SET until = '2031-01-01 00:00:00.000000' WHERE id = 2": {SIGNED},
    "UPDATE quote SET job_id = (SELECT id FROM job WHERE name = 'Barn') WHERE id = 2": {SIGNED},
    "UPDATE signature SET who = 'ben' WHERE subject = 'price'": {SEALED},
    "UPDATE signature SET said = replace(said, 'Mill House', 'Mill') WHERE subject = 'job'": {SIGNED, SEALED},
    "DELETE FROM signature WHERE subject = 'quote_line' AND number = 2": {SIGNED},
    "DELETE FROM signature WHERE subject = 'quote' AND number = 1 AND deed = 'made'": {SEALED},
    "UPDATE job SET merged_into_id = (SELECT id FROM job WHERE name = 'Barn') WHERE name = 'Mill House'": {SIGNED},
    "UPDATE location SET name = 'van' WHERE name = 'store'": {SIGNED, NAMED},
    "UPDATE job SET name_key = 'mill' WHERE name = 'Mill House'": {NAMED},
    "UPDATE location SET loan_job_id = (SELECT id FROM job WHERE name = 'Barn') WHERE name = 'store'": {LENT},
    "UPDATE loudspeaker SET retired = NOT retired": {SIGNED},
    "UPDATE signature SET said = 'nothing' WHERE subject = 'quote'": {SIGNED, SEALED},
}


@pytest.mark.whole
@pytest.mark.parametrize("statement", BESIDE)
def test_what_stands_beside_the_ledger_is_what_was_signed(shop: sa.Engine, statement: str) -> None:
    for _ in range(2):
        number = desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 1, amount=40000, currency="EUR")]).offer.number
    desk.accept_quote(shop, 1)
    desk.sell_quote(shop, 1)
    assert number == 2
    assert broken(shop) == {}
    with unguarded(shop) as connection:
        for one in statement.split("; "):
            assert connection.execute(one).rowcount > 0, one
    found = broken(shop).keys()
    # only a file counts its signatures without a gap
    gap = {SEALED} if shop.dialect.name == "sqlite" and statement.startswith("DELETE FROM signature") else set()
    rows = set() if statement.startswith("UPDATE signature") else {ROWS}
    assert found == BESIDE[statement] | gap | rows


@pytest.mark.whole
def test_a_quote_that_is_signed_again_after_it_was_changed_still_is_not_what_it_was(shop: sa.Engine) -> None:
    desk.make_quote(shop, "Mill House", [Item(CENTRE.name, 1, amount=40000, currency="EUR")])
    at = "'2026-01-01 00:00:00.000000'"
    with unguarded(shop) as connection:
        connection.execute("UPDATE quote_line SET amount = 1")
        connection.execute("UPDATE quote SET state = 'lapsed'")
        for subject in ("quote_line", "quote"):
            said = "said" if subject == "quote_line" else """'{"state": "lapsed"}'"""
            connection.execute(
                f"INSERT INTO signature (id, at, who, subject, number, deed, said) SELECT MAX(id) + 1, {at}, 'anna',"
                f" '{subject}', 1, 'changed', (SELECT replace({said}, '40000', '1') FROM signature"
                f" WHERE subject = '{subject}') FROM signature"
            )
    assert broken(shop).keys() == {SIGNED, SEALED, ROWS}


@pytest.mark.whole
@pytest.mark.parametrize("engine", ["postgresql"], indirect=True)
def test_a_temporary_table_deceives_no_guard(shop: sa.Engine) -> None:
    sale = "INSERT INTO movement (loudspeaker_id, holding_id, kind, quantity, effect) SELECT loudspeaker_id, id, 'sell'"
    with shop.connect() as connection:
        # what a guard would read: nothing is promised, and a hundred are there
        connection.exec_driver_sql("CREATE TEMPORARY TABLE reservation (LIKE public.reservation)")
        connection.exec_driver_sql("CREATE TEMPORARY TABLE holding AS SELECT * FROM public.holding")
        with pytest.raises(sa.exc.IntegrityError, match="reserved never exceeds on hand"):
            connection.exec_driver_sql(f"{sale}, 3, -3 FROM public.holding WHERE id = 1")


@pytest.mark.whole
def test_the_newest_line_that_is_gone_is_missed(shop: sa.Engine) -> None:
    with unguarded(shop) as connection:
        newest = connection.execute("SELECT MAX(id) FROM movement WHERE kind = 'transfer_in'").fetchone()[0]
        connection.execute(f"DELETE FROM movement WHERE id = {newest}")
    assert set(broken(shop)) == {LAST}


@pytest.mark.whole
def test_a_line_added_past_the_program_is_found(shop: sa.Engine) -> None:
    with unguarded(shop) as connection:
        connection.execute(
            "INSERT INTO movement (id, loudspeaker_id, holding_id, sequence, kind, quantity, effect, on_hand, tracked,"
            " at) SELECT 90, loudspeaker_id, holding_id, sequence + 1, 'receive', 1, 1, on_hand + 1, 0, at"
            " FROM movement WHERE kind = 'transfer_in'"
        )
    assert set(broken(shop)) == {WRITTEN, LAST}


def test_a_guard_that_says_something_else_is_named(shop: sa.Engine) -> None:
    with shop.begin() as connection:
        if shop.dialect.name == "sqlite":
            connection.exec_driver_sql("DROP TRIGGER movement_never_update")
            connection.exec_driver_sql(
                "CREATE TRIGGER movement_never_update BEFORE UPDATE ON movement WHEN NEW.id = 0 BEGIN"
                " SELECT RAISE(ABORT, 'the ledger is only added to'); END"
            )
            told = {"movement_never_update was changed"}
        else:
            connection.exec_driver_sql(
                "CREATE OR REPLACE FUNCTION movement_never_update() RETURNS trigger LANGUAGE plpgsql AS"
                " $$BEGIN RETURN NEW; END$$"
            )
            connection.exec_driver_sql("DROP TRIGGER quote_forward ON quote")
            connection.exec_driver_sql(
                "CREATE TRIGGER quote_forward BEFORE UPDATE ON quote FOR EACH ROW WHEN (NEW.id = 0)"
                " EXECUTE FUNCTION quote_forward()"
            )
            told = {"the function movement_never_update was changed", "quote_forward was changed"}
            told |= {"the function movement_never_update looks for tables elsewhere"}
    assert {name: set(said) for name, said in broken(shop).items()} == {GUARDS: told}


@pytest.mark.parametrize("statement", ["UPDATE ledger_end SET sequence = 1", "DELETE FROM ledger_end"])
def test_the_ends_are_not_written_by_hand(shop: sa.Engine, statement: str) -> None:
    with pytest.raises(sa.exc.IntegrityError, match="follows from its lines"), writing(shop) as session:
        session.execute(sa.text(statement))


@pytest.mark.whole
@pytest.mark.parametrize("engine", ["postgresql"], indirect=True)
def test_who_wrote_is_who_is_logged_in_whatever_is_said(shop: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    login = f"anna_{shop.url.database}"
    with shop.begin() as connection:
        connection.exec_driver_sql(f"CREATE ROLE {login} LOGIN")
        connection.exec_driver_sql(f"GRANT SELECT ON ALL TABLES IN SCHEMA public TO {login}")
        connection.exec_driver_sql(f"GRANT INSERT ON movement, holding, job, quote, quote_line TO {login}")
        connection.exec_driver_sql(f"GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO {login}")
    anna = open_engine(shop.url.set(username=login).render_as_string(hide_password=False))
    monkeypatch.setenv("LOGNAME", "boss")
    monkeypatch.setenv("TRIPTYCH_USER", "boss")
    try:
        number = desk.sell(anna, Request(CENTRE.name, "shop", who="boss")).done.lines[0]
        quote = desk.make_quote(anna, "Barn", [Item(CENTRE.name, 1)], who="boss").offer.number
        with reading(shop) as session:
            assert session.scalar(sa.select(Movement.who).where(Movement.id == number)) == login
            assert session.scalar(sa.select(Quote.who).where(Quote.id == quote)) == login
        with pytest.raises(sa.exc.DBAPIError, match="permission denied"), anna.begin() as connection:
            connection.exec_driver_sql("SET SESSION AUTHORIZATION postgres")
        assert broken(shop) == {}
    finally:
        anna.dispose()
        with shop.begin() as connection:
            connection.exec_driver_sql(f"DROP OWNED BY {login}")
            connection.exec_driver_sql(f"DROP ROLE {login}")
