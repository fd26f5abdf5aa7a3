"""Files of prices and counts are read and checked while others write; what those changed meanwhile is noticed."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, shop_in
from triptych.catalog.database.engine import open_engine, reading, writing
from triptych.catalog.database.models import SupplierPrice
from triptych.catalog.stock import counts, desk, price_lists
from triptych.catalog.stock.counts import import_counts
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.price_lists import Listed, import_prices
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.suppliers import save_supplier

START = date(2027, 1, 1)
Meanwhile = Callable[[], object]


@pytest.fixture
def file(engine: sa.Engine, tmp_path: Path) -> Path:
    shop_in(engine, centres=9)
    with writing(engine) as session:
        save_supplier(session, "Harbour")
    return tmp_path / "list.csv"


def while_read(monkeypatch: pytest.MonkeyPatch, module: Any, meanwhile: list[Meanwhile]) -> list[int]:
    """Do one of these, by another connection, each time when a file has been read, and count how often it was."""
    whole, times = module.read_sheet, [0]

    def read(*arguments: Any) -> object:
        times[0] += 1
        found = whole(*arguments)
        if meanwhile:
            meanwhile.pop(0)()
        return found

    monkeypatch.setattr(module, "read_sheet", read)
    return times


def take_prices(engine: sa.Engine, file: Path, cost: int) -> Listed:
    file.write_text(f"speaker,cost,currency\n{CENTRE.name},{cost},EUR\n", encoding="utf-8")
    return import_prices(engine, "Harbour", file, START)


def test_another_writer_goes_on_while_prices_are_read(
    engine: sa.Engine, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = open_engine(engine.url.render_as_string(hide_password=False))
    times = while_read(monkeypatch, price_lists, [lambda: desk.sell(other, Request(CENTRE.name, "shop"))])
    assert [change.change for change in take_prices(engine, file, 310).changes] == ["added"]
    # a sale changes no price: nothing had to be read again
    assert times == [1]
    with reading(engine) as session:
        assert session.scalars(sa.select(SupplierPrice.cost)).all() == [31000]
    other.dispose()


def test_a_price_that_changed_meanwhile_is_noticed(
    engine: sa.Engine, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def change() -> None:
        with writing(engine) as session:
            session.execute(sa.update(SupplierPrice).values(cost=sa.func.coalesce(SupplierPrice.cost, 0) + 100))

    take_prices(engine, file, 300)
    times = while_read(monkeypatch, price_lists, [change])
    # worked out anew: what is told is what it was when it was written
    assert take_prices(engine, file, 310).changes[0].before == "cost 301.00 EUR"
    assert times == [2]


def count(engine: sa.Engine, file: Path, text: str) -> Listed:
    file.write_text(f"speaker,quantity,location\n{text}", encoding="utf-8")
    return import_counts(engine, file, "June count")


def test_a_unit_that_moved_meanwhile_is_noticed(engine: sa.Engine, file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sale: Meanwhile = lambda: desk.sell(engine, Request(CENTRE.name, "shop"))  # noqa: E731
    times = while_read(monkeypatch, counts, [sale])
    changes = count(engine, file, f"{CENTRE.name},9,shop\n{CENTRE.name},2,store\n").changes
    assert [(change.before, change.after) for change in changes] == [("8", "9"), ("0", "2")]
    assert times == [2]
    with reading(engine) as session:
        assert all(finding.holds for finding in check(session))


def test_who_was_overtaken_once_lets_the_others_wait(
    engine: sa.Engine, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sale: Meanwhile = lambda: desk.sell(engine, Request(CENTRE.name, "shop"))  # noqa: E731
    waiting = threading.Thread(target=sale)

    def come_late() -> None:
        waiting.start()
        waiting.join(0.3)
        assert waiting.is_alive()

    times = while_read(monkeypatch, counts, [sale, come_late])
    changes = count(engine, file, f"{CENTRE.name},20,shop\n{CENTRE.name},1,new room\n").changes
    waiting.join()
    assert [(change.before, change.after) for change in changes] == [("8", "20"), ("0", "1")]
    assert times == [2]
    assert desk.count(engine, Request(CENTRE.name, "shop", 19)).done.lines == ()


@pytest.mark.whole
def test_a_location_that_somebody_made_meanwhile_is_used(
    engine: sa.Engine, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    come: Meanwhile = lambda: desk.receive(engine, Request(CENTRE.name, "Store", 7))  # noqa: E731
    while_read(monkeypatch, counts, [come])
    changes = count(engine, file, f"{CENTRE.name},2,store\n").changes
    assert [(change.before, change.after) for change in changes] == [("7", "2")]
    with reading(engine) as session:
        assert all(finding.holds for finding in check(session))
