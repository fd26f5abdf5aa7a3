"""Who wrote what: signed by the server where there is one, and by the program on SQLite."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, open_shop
from triptych.catalog.database import signing, writes
from triptych.catalog.database.engine import open_catalogue, reading, writing
from triptych.catalog.database.models import Signature
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.records import RoomRecord, Seat
from triptych.catalog.stock import desk, suppliers
from triptych.catalog.stock.deeds import SUBJECTS, Deed, DeedsAsked, history
from triptych.catalog.stock.quotes import Item

LOFT = RoomRecord("Loft", seats=(Seat("sofa", 3.1, primary=True),), places=())

pytestmark = pytest.mark.usefixtures("anna")


@pytest.fixture
def anna(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRIPTYCH_USER", "anna")


def _deeds(engine: sa.Engine, **wanted: object) -> list[Deed]:
    with reading(engine) as session:
        return history(session, DeedsAsked(**wanted))  # type: ignore[arg-type]  # each test names its own


def _me(engine: sa.Engine) -> str:
    with engine.connect() as connection:
        return "anna" if engine.dialect.name == "sqlite" else str(connection.scalar(signing.LOGIN))


@pytest.mark.whole
def test_each_thing_that_is_written_says_by_whom_and_when(engine: sa.Engine) -> None:
    begun = datetime.now(UTC) - timedelta(seconds=2)
    with writing(engine) as session:
        open_shop(session, centres=2)
        suppliers.save_supplier(session, "Harbour", 21)
        number = suppliers.order(session, CENTRE.name, 2, "Harbour", date(2030, 1, 2), "Mill House")
        writes.save_room(session, LOFT)
    with writing(engine) as session:
        writes.save_loudspeakers(session, [replace(CENTRE, price=Decimal("500.00"))])
        writes.remove_room(session, "Loft")
        suppliers.cancel_order(session, number)
    desk.make_quote(engine, "Mill House", [Item(CENTRE.name)])
    found = _deeds(engine)
    assert {one.who for one in found} == {_me(engine)}
    assert all(begun < one.at < datetime.now(UTC) + timedelta(seconds=2) for one in found)
    told = {(one.deed, one.subject, one.name) for one in found}
    assert told >= {
        ("made", "loudspeaker", CENTRE.name),
        ("changed", "loudspeaker", CENTRE.name),
        ("made", "price", CENTRE.name),
        ("removed", "price", CENTRE.name),
        ("made", "supply_order", f"order {number}"),
        ("changed", "supply_order", f"order {number}"),
        ("made", "quote", "quote 1"),
        ("made", "job", "Mill House"),
        ("made", "room", "loft"),
        ("removed", "room", "loft"),
    }
    assert {one.subject for one in found} <= set(SUBJECTS)
    prices = [one.said for one in _deeds(engine, speaker=CENTRE.name, subject="price")]
    assert [said.split(",")[0] for said in prices] == ["amount 480.00 EUR", "amount 480.00 EUR", "amount 500.00 EUR"]


def test_it_is_found_by_person_day_and_by_a_name_that_is_gone(engine: sa.Engine) -> None:
    with writing(engine) as session:
        open_shop(session)
        writes.save_room(session, LOFT)
        writes.remove_room(session, "Loft")
    assert [one.deed for one in _deeds(engine, room=" LOFT")] == ["made", "removed"]
    everything = _deeds(engine)
    assert _deeds(engine, who=_me(engine).upper()) == everything
    assert _deeds(engine, who="bert") == []
    assert _deeds(engine, day=datetime.now(UTC).date()) == everything
    assert _deeds(engine, day=date(2020, 1, 1)) == []
    with pytest.raises(NotFound, match="no room is named 'Attic', and none was"):
        _deeds(engine, room="Attic")
    with pytest.raises(BadInput, match="did you mean 'price'"):
        _deeds(engine, subject="prize")


def test_a_signature_stays_and_nobody_writes_one(engine: sa.Engine) -> None:
    with writing(engine) as session:
        open_shop(session)
    forged = sa.insert(Signature).values(
        at=datetime.now(UTC), who="boss", subject="price", number=1, deed="made", said="{}"
    )
    for attempt in (forged, sa.update(Signature).values(who="boss"), sa.delete(Signature)):
        with writing(engine) as session, pytest.raises(sa.exc.IntegrityError, match="signature"):
            session.execute(attempt)
    assert {one.who for one in _deeds(engine)} == {_me(engine)}


def test_what_another_program_wrote_stays_without_a_name(sqlite_path: Path) -> None:
    engine = open_catalogue(str(sqlite_path))
    with writing(engine) as session:
        open_shop(session)
    with closing(sqlite3.connect(sqlite_path)) as other:
        other.execute("UPDATE price SET amount = 1")
        other.commit()
    with writing(engine) as session:
        suppliers.save_supplier(session, "Harbour", None)
    assert [(one.who, one.subject) for one in _deeds(engine)][-4:] == [
        (None, "price"),
        (None, "price"),
        (None, "price"),
        ("anna", "supplier"),
    ]
    engine.dispose()


def test_a_name_is_kept_once_for_the_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("TRIPTYCH_USER")
    monkeypatch.setenv("LOGNAME", "boss")
    assert signing.whoever() not in (None, "boss")
    assert signing.keep_name("  Anna   Lund ") == signing.name_file()
    assert signing.whoever() == "Anna Lund"
    for wrong in ("", " \t", "an\x1bna", "x" * 121):
        with pytest.raises(BadInput):
            signing.keep_name(wrong)
    assert signing.whoever() == "Anna Lund"
    signing.name_file().write_bytes(b"\xff\xfe")
    assert signing.whoever() not in (None, "Anna Lund")


def test_who_writes_is_asked_once_a_transaction(sqlite_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def kept() -> str:
        asked.append("who")
        return "Anna Lund"

    monkeypatch.setattr(signing, "kept_name", kept)
    monkeypatch.delenv("TRIPTYCH_USER")
    engine = open_catalogue(str(sqlite_path))
    for price in ("500.00", "510.00"):
        with writing(engine) as session:
            centres = [replace(CENTRE, model=f"{CENTRE.model} {at}", price=Decimal(price)) for at in range(5)]
            writes.save_loudspeakers(session, centres)
    assert (len(asked), {one.who for one in _deeds(engine)}) == (2, {"Anna Lund"})
    engine.dispose()
