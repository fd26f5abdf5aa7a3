"""What lists show is what whole reads give, on a file through its driver and on every engine through a session."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, LATER, shop_in
from triptych.catalog.database import reads
from triptych.catalog.database.direct import Ask, asker, asker_of_file, looked_at
from triptych.catalog.database.engine import open_catalogue, reading, writing
from triptych.catalog.database.listings import (
    LoudspeakerFilter,
    holdings_shown,
    loudspeakers_shown,
    number_of_loudspeakers,
    rooms_shown,
)
from triptych.catalog.database.writes import retire_loudspeaker, save_loudspeakers
from triptych.catalog.errors import BadInput, DatabaseProblem
from triptych.catalog.money import _USUAL, _digits_by_code
from triptych.catalog.records import Enclosure, LoudspeakerRecord, PortLocation, PricePer, Role
from triptych.catalog.stock import desk
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.reading import stock_list

WREN = LoudspeakerRecord(
    "Oatfell",
    "Wren 100%",
    family="Hedge_row",
    roles=frozenset({Role.CENTRE, Role.SURROUND}),
    width=0.5,
    height=0.17,
    depth=0.3,
    enclosure=Enclosure.PORTED,
    port_location=PortLocation.REAR,
    price=Decimal("1200"),
    currency="JPY",
    price_per=PricePer.PAIR,
)
ROOK = replace(WREN, model="Rook", series="Fen", family=None, width=None, price=None, roles=frozenset({Role.MAIN}))
PLAIN = LoudspeakerRecord("Sallow", "Plain", roles=frozenset({Role.CENTRE}), width=0.6, price=Decimal("9.5"))
GONE = replace(PLAIN, model="Gone")

WANTED = [
    LoudspeakerFilter(),
    LoudspeakerFilter(include_retired=True),
    LoudspeakerFilter(role=Role.CENTRE),
    LoudspeakerFilter(maker="OATFELL"),
    LoudspeakerFilter(text="wren"),
    LoudspeakerFilter(text="100%"),
    LoudspeakerFilter(text="hedge_row"),
    LoudspeakerFilter(text="h_dge"),
    LoudspeakerFilter(text="oat fen"),
    LoudspeakerFilter(max_width=0.5, max_height=0.2, max_depth=0.3),
    LoudspeakerFilter(enclosure=Enclosure.PORTED, port=PortLocation.REAR),
    LoudspeakerFilter(page=2, page_size=1),
    LoudspeakerFilter(page=9, page_size=2),
]
SHOWN = ("name", "roles", "width", "height", "depth", "enclosure", "port_location", "sensitivity", "price", "currency")


@pytest.fixture
def filled(engine: sa.Engine) -> sa.Engine:
    with writing(engine) as session:
        save_loudspeakers(session, [WREN, ROOK, PLAIN, GONE])
        retire_loudspeaker(session, GONE.name)
    return engine


def asks(engine: sa.Engine) -> Iterator[Ask]:
    with reading(engine) as session:
        yield asker(session)
    if engine.dialect.name == "sqlite":
        connection = sqlite3.connect(str(engine.url.database))
        yield asker_of_file(connection)
        connection.close()


@pytest.mark.parametrize("wanted", WANTED)
def test_a_list_of_loudspeakers_shows_what_whole_records_say(filled: sa.Engine, wanted: LoudspeakerFilter) -> None:
    with reading(filled) as session:
        whole, total = reads.loudspeakers(session, wanted), reads.count(session, wanted)
    for ask in asks(filled):
        shown = loudspeakers_shown(ask, wanted)
        for name in (*SHOWN, "price_per", "weight", "impedance_nominal", "low_limit", "layout"):
            assert [getattr(one, name) for one in shown] == [getattr(one, name) for one in whole], name
        assert number_of_loudspeakers(ask, wanted) == total


def test_filters_find_by_hand(filled: sa.Engine) -> None:
    for ask in asks(filled):
        found = {
            text: [one.model for one in loudspeakers_shown(ask, LoudspeakerFilter(text=text))]
            for text in ("100%", "hedge_row", "h_dge", "fen", "%")
        }
        assert found == {"100%": ["Wren 100%"], "hedge_row": ["Wren 100%"], "h_dge": [], "fen": ["Rook"]} | {
            "%": ["Wren 100%"]
        }
        with pytest.raises(BadInput, match="count from 1"):
            loudspeakers_shown(ask, LoudspeakerFilter(page=0))


def test_what_there_is_is_told_alike_by_driver_and_session(engine: sa.Engine) -> None:
    shop_in(engine)
    desk.receive(engine, Request(CENTRE.name, "shop", 3))
    desk.receive(engine, Request(CENTRE.name, "shop", serial="A 1"))
    desk.reserve(engine, Request(CENTRE.name, "shop", 2, job="Barn"), LATER)
    desk.transfer(engine, Request(CENTRE.name, "shop"), "store", send=True)
    with reading(engine) as session:
        whole = stock_list(session, include_empty=True)
    assert any(one.serials == ("A 1",) for one in whole)
    assert any(one.reserved == 2 and one.available == one.on_hand - 2 for one in whole)
    assert any(one.in_transit == 1 for one in whole)
    for ask in asks(engine):
        assert holdings_shown(ask, include_empty=True) == whole


def test_a_file_is_made_or_refused_as_by_other_commands(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    path = tmp_path / "new.db"
    with caplog.at_level(logging.WARNING):
        assert looked_at(str(path), rooms_shown) == []
    assert "made a new catalogue" in caplog.text
    text = tmp_path / "text.db"
    text.write_text("no database, only words " * 50)
    with pytest.raises(DatabaseProblem, match="not a database"):
        looked_at(str(text), rooms_shown)
    open_catalogue(str(path)).dispose()
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    with pytest.raises(DatabaseProblem, match="newer than this program"):
        looked_at(str(path), rooms_shown)


def test_a_look_writes_nothing(sqlite_path: Path) -> None:
    with pytest.raises(DatabaseProblem, match="readonly"):
        looked_at(str(sqlite_path), lambda ask: ask("INSERT INTO maker (name, name_key) VALUES ('a', 'a')", {}))


def test_usual_currencies_have_the_decimals_of_the_table() -> None:
    assert {code: _digits_by_code()[code] for code in _USUAL} == _USUAL
