"""What an earlier file called our columns is used for the next one, and said so, by every import of the stock."""

from __future__ import annotations

from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, shop_in
from triptych.catalog.database.engine import writing
from triptych.catalog.stock.counts import import_counts
from triptych.catalog.stock.deliveries import Delivery, receive_delivery
from triptych.catalog.stock.price_lists import import_prices
from triptych.catalog.stock.suppliers import save_supplier
from triptych.catalog.stock.timing import read_day

TAKEN = "column {!r} is taken for {}, as an earlier file was read; --map says otherwise"


@pytest.fixture
def file(engine: sa.Engine, tmp_path: Path) -> Path:
    shop_in(engine, centres=1)
    with writing(engine) as session:
        save_supplier(session, "Harbour")
    path = tmp_path / "list.csv"
    path.write_text(f"Item,Pieces\n{CENTRE.name},2\n")
    return path


def test_a_count_says_so(engine: sa.Engine, file: Path) -> None:
    maps = {"Item": "speaker", "Pieces": "quantity"}
    assert import_counts(engine, file, "June", "shop", ours_by_theirs=maps).remarks == ()
    told = import_counts(engine, file, "June", "shop").remarks
    assert told == (TAKEN.format("Item", "speaker"), TAKEN.format("Pieces", "quantity"))
    assert import_counts(engine, file, "June", "shop", ours_by_theirs=maps).remarks == ()
    import_counts(engine, file, "June", "shop", "Harbour", maps)
    assert import_counts(engine, file, "June", "shop", "Harbour").remarks == told


def test_a_delivery_says_so(engine: sa.Engine, file: Path) -> None:
    maps = {"Item": "speaker", "Pieces": "quantity"}
    first = receive_delivery(engine, file, Delivery("1", "shop", columns=maps))
    second = receive_delivery(engine, file, Delivery("2", "shop", columns={"Pieces": "quantity"}))
    assert [one.remarks for one in first] == [()]
    assert [one.remarks for one in second] == [(f"warning: {TAKEN.format('Item', 'speaker')}",)]


def test_a_price_list_says_so(engine: sa.Engine, file: Path) -> None:
    file.write_text(f"Item,Trade\n{CENTRE.name},310 EUR\n")
    maps, day = {"Item": "speaker", "Trade": "cost"}, read_day("2026-01-01")
    assert import_prices(engine, "Harbour", file, day, maps).remarks == ()
    told = import_prices(engine, "Harbour", file, day).remarks
    assert told == (TAKEN.format("Item", "speaker"), TAKEN.format("Trade", "cost"))
