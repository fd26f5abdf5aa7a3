from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from tests.catalog.stock_shop import LATER, open_shop, shop_in, there
from triptych.catalog import stock
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import MovementKind, SheetKind, SupplierPrice
from triptych.catalog.database.reads import loudspeaker
from triptych.catalog.errors import BadInput, CatalogError
from triptych.catalog.files.workbooks import workbook
from triptych.catalog.records import PricePer
from triptych.catalog.stock.counts import import_counts
from triptych.catalog.stock.locations import locations, save_location
from triptych.catalog.stock.price_lists import Listed, import_prices
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.suppliers import mapping, save_supplier, supplier_named

TODAY = datetime.now(UTC).date()
JANUARY, MARCH = date(2027, 1, 1), date(2027, 3, 1)


def _prices(session: Session) -> list[tuple[object, ...]]:
    table = SupplierPrice
    query = sa.select(table.loudspeaker_id, table.cost, table.valid_from, table.valid_to)
    return [tuple(row) for row in session.execute(query.order_by(table.loudspeaker_id, table.valid_from))]


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_price_list_is_taken_and_again_changes_nothing(engine: sa.Engine, tmp_path: Path, kind: str) -> None:
    rows = [["Article", "Trade"], ["oatfell linden CENTRE", "310"], ["Oatfell Linden Tower", "395.50"]]
    path = tmp_path / f"list.{kind}"
    if kind == "csv":
        path.write_text("\n".join(";".join(row) for row in rows))
    else:
        path.write_bytes(workbook(rows, [False, True]))
    shop = shop_in(engine)
    with writing(engine) as session:
        save_supplier(session, "Harbour", 21)
    given = {"Article": "speaker", "Trade": "cost"}
    listed = import_prices(engine, "harbour", path, JANUARY, given, "EUR", per=PricePer.EACH)
    assert [change.change for change in listed.changes] == ["added", "added"]
    again = import_prices(engine, "harbour", path, JANUARY, None, "EUR", per=PricePer.EACH)
    assert (again.changes, again.unchanged, len(again.remarks)) == ((), 2, 2), "both headers as they were read before"
    with reading(engine) as session:
        assert mapping(session, supplier_named(session, "Harbour"), SheetKind.PRICES) == given
        expected = [(shop.tower, 39550, JANUARY, None), (shop.centre, 31000, JANUARY, None)]
        assert _prices(session) == expected


@pytest.mark.whole
def test_a_new_list_ends_the_old_prices_where_it_begins(engine: sa.Engine, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    shop = shop_in(engine)
    with writing(engine) as session:
        save_supplier(session, "Harbour")

    def take(cost: str, start: date) -> Listed:
        path.write_text(f"maker,series,model,cost,currency\nOatfell,Linden,Centre,{cost},EUR\n")
        return import_prices(engine, "Harbour", path, start)

    take("310", JANUARY)
    assert take("320", MARCH).changes[0].before == "cost 310.00 EUR"
    with reading(engine) as session:
        assert _prices(session) == [(shop.centre, 31000, JANUARY, MARCH), (shop.centre, 32000, MARCH, None)]
    assert take("320", MARCH).changes == ()
    take("321", MARCH)
    take("300", date(2026, 12, 1))
    take("315", date(2027, 2, 1))
    with reading(engine) as session:
        assert _prices(session) == [
            (shop.centre, 30000, date(2026, 12, 1), JANUARY),
            (shop.centre, 31000, JANUARY, date(2027, 2, 1)),
            (shop.centre, 31500, date(2027, 2, 1), MARCH),
            (shop.centre, 32100, MARCH, None),
        ]


@pytest.mark.whole
def test_an_advised_price_changes_no_selling_price_and_says_so(engine: sa.Engine, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"

    def take(rows: str, header: str = "speaker,retail,currency") -> tuple[str, ...]:
        path.write_text(f"{header}\n{rows}")
        return import_prices(engine, "Harbour", path, TODAY, per=PricePer.EACH).notes

    with writing(engine) as session:
        open_shop(session)
        save_supplier(session, "Harbour")
    told = take("Oatfell Linden Centre,499,EUR\nOatfell Linden Tower,600,EUR\n")
    assert len(told) == 1
    # 600 each is the 1200 a pair that it sells at
    assert told[0].startswith("1 retail price kept as advice")
    assert told[0].endswith(
        "triptych speaker edit 'Oatfell Linden Centre' --set price=499.00 --set currency=EUR --set price_per=each"
    )
    with writing(engine) as session:
        assert loudspeaker(session, "Oatfell Linden Centre").price == 480
    assert take("Oatfell Linden Centre,480,EUR\n") == ()
    assert take("Oatfell Linden Centre,300,EUR\n", "speaker,cost,currency") == ()
    assert "price=480.00 --set currency=GBP" in take("Oatfell Linden Centre,480,GBP\n")[0]
    header = "speaker,retail,currency,tax,tax_rate"
    assert take("Oatfell Linden Centre,480,EUR,included,20\n", header) == ()
    assert "--set tax=excluded --set tax_rate=20" in take("Oatfell Linden Centre,480,EUR,excluded,20\n", header)[0]
    assert take("Oatfell Linden Old Centre,1,EUR\nOatfell Linden Centre,1,EUR\n")[0].startswith("2 retail prices")


def test_every_bad_cell_is_named_and_nothing_is_taken(engine: sa.Engine, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text(
        "speaker,cost,currency,tax,tax_rate\n"
        "Oatfell Linden Centre,abc,EUR,included,20\n"
        "Oatfell Linden Tower,-3,EUR,perhaps,120\n"
        "Oatfell Lindn Tower,300,EURO,,\n"
        "Oatfell Linden Tower,,EUR,,\n"
        "Oatfell Linden Old Centre,300,,,\n"
    )
    shop_in(engine)
    with writing(engine) as session:
        save_supplier(session, "Harbour")
    with pytest.raises(BadInput) as refusal:
        import_prices(engine, "Harbour", path, JANUARY)
    said = str(refusal.value)
    for place in ("line 2, cost", "line 3, cost", "line 3, tax:", "line 3, tax_rate", "line 4, speaker"):
        assert f"list.csv, {place}" in said
    assert "line 4, currency" in said
    assert "line 5, cost: neither" in said
    assert "line 6, currency: is not stated" in said
    with reading(engine) as session:
        assert _prices(session) == []


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("speaker,price\nx,1\n", "'price' is none of our columns"),
        ("cost\n1\n", "no column speaker"),
        ("speaker\nx\n", "no column cost nor retail"),
        ("speaker,speaker,cost\nx,y,1\n", "comes twice"),
        ("", "empty"),
    ],
)
def test_a_header_that_is_not_understood_is_refused(engine: sa.Engine, tmp_path: Path, text: str, told: str) -> None:
    path = tmp_path / "list.csv"
    path.write_text(text)
    with writing(engine) as session:
        save_supplier(session, "Harbour")
    with pytest.raises(BadInput, match=told):
        import_prices(engine, "Harbour", path, JANUARY)


def test_a_count_writes_the_differences_once(engine: sa.Engine, tmp_path: Path) -> None:
    path = tmp_path / "count.csv"
    path.write_text(
        "speaker,quantity,location,grade\nOatfell Linden Centre,2,,\nOatfell Linden Tower,4,,new\n"
        "Oatfell Linden Centre,1,store,demo\n"
    )
    shop = shop_in(engine, towers=4, centres=3)
    tried = import_counts(engine, path, "June count", "shop", dry_run=True)
    listed = import_counts(engine, path, "June count", "shop")
    assert tried == listed
    assert [(change.before, change.after) for change in listed.changes] == [("3", "2"), ("0", "1")]
    assert listed.unchanged == 1
    with reading(engine) as session:
        assert there(session, shop) == 2
        assert all(finding.holds for finding in check(session))
    assert import_counts(engine, path, "June count", "shop").changes == ()


def test_a_count_somewhere_new_is_told_and_somewhere_mistyped_refused(engine: sa.Engine, tmp_path: Path) -> None:
    path = tmp_path / "count.csv"
    head = "speaker,quantity,location\n"
    shop = shop_in(engine, centres=3)
    path.write_text(f"{head}Oatfell Linden Centre,2,shop\nOatfell Linden Centre,1,shpo\n")
    with pytest.raises(BadInput, match=r"line 3, location: .* did you mean 'shop'.*\n1 cell"):
        import_counts(engine, path, "June count")
    path.write_text(f"{head}Oatfell Linden Centre,2,shop\nOatfell Linden Centre,1,loft\nOatfell Linden Tower,2,lotf\n")
    with pytest.raises(BadInput, match=r"line 4, location: .* did you mean 'loft'"):
        import_counts(engine, path, "June count")
    with writing(engine) as session:
        assert there(session, shop) == 3
        assert [place.name for place in locations(session)] == ["shop"]
        save_location(session, "lotf", "UTC")
    path.write_text(f"{head}Oatfell Linden Centre,2,shop\nOatfell Linden Centre,1,van\nOatfell Linden Tower,2,lotf\n")
    assert import_counts(engine, path, "June count").notes == ("new location: van",)
    assert import_counts(engine, path, "June count").notes == ()


def test_a_count_below_what_is_reserved_or_of_nonsense_is_refused_whole(engine: sa.Engine, tmp_path: Path) -> None:
    path = tmp_path / "count.csv"
    shop = shop_in(engine, towers=4, centres=3)
    with writing(engine) as session:
        stock.record_movement(session, shop.line(MovementKind.RESERVE, 3, job="J", until=LATER))
    for rows, told in (
        ("Oatfell Linden Tower,2,shop\nOatfell Linden Centre,2,shop\n", "line 3, quantity: .*3 are promised, 3 to J"),
        ("Oatfell Linden Tower,3,shop\n", "sold in pairs"),
        ("Oatfell Linden Centre,-1,shop\n", "whole number"),
        ("Oatfell Linden Centre,1e3,shop\n", "exponent"),
        ("Oatfell Linden Centre,,shop\n", "is empty"),
        ("Oatfell Linden Centre,3,\n", "location: is not stated"),
        ("Oatfell Linden Centre,3,shop\nOatfell Linden Centre,3,Shop\n", "counted there in line 2"),
    ):
        path.write_text("speaker,quantity,location\n" + rows)
        with pytest.raises(CatalogError, match=told):
            import_counts(engine, path, "June count")
    with writing(engine) as session:
        assert there(session, shop, loudspeaker_id=shop.tower) == 4
