"""Labels to print: which units they are for, and codes that read back as the serial."""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from html import unescape
from io import BytesIO
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from tests.catalog.code_128 import STOP, VALUES, read_code_128
from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, EVIL, LATER, TOWER, shop_in
from triptych.catalog import page_files
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Grade
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.stock import desk, label_page, suppliers
from triptych.catalog.stock.deliveries import Delivery, receive_delivery
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.labels import LabelsAsked, UnitLabel, unit_labels

SVG = re.compile(r'<svg viewBox="0 0 (\d+) ([\d.]+)" width="([\d.]+)mm" height="([\d.]+)mm"[^>]*><path d="([^"]*)"/>')
BAR = re.compile(r"M(\d+) 0h(\d+)v[\d.]+h-\d+z")


def drawn(page: str) -> list[str]:
    """Give the modules of each code that a page draws, without quiet zones, which must be there."""
    found = []
    for total, _, _, _, path in SVG.findall(page):
        line = ["0"] * int(total)
        for start, wide in BAR.findall(path):
            line[int(start) : int(start) + int(wide)] = ["1"] * int(wide)
        modules = "".join(line)
        assert modules[:10] == modules[-10:] == "0" * 10, "ten modules of quiet zone, ISO/IEC 15417, from memory"
        found.append(modules[10:-10])
    return found


def label(serial: str | None, **fields: object) -> UnitLabel:
    values = {"speaker": "Oatfell Wren", "finish": None, "grade": Grade.NEW, "pack": 1, "job": None, "location": "shop"}
    return UnitLabel(**{**values, **fields}, serial=serial)  # type: ignore[arg-type]


def test_the_table_that_reads_codes_is_one_of_code_128() -> None:
    # each character is 11 modules, its bars sum to an even number; the stop has 13. ISO/IEC 15417, from memory
    assert len(VALUES) == 106
    assert all(sum(map(int, widths)) == 11 and sum(map(int, widths[::2])) % 2 == 0 for widths in VALUES)
    assert sum(map(int, STOP)) == 13


def test_a_code_of_which_all_is_worked_out_by_hand() -> None:
    # "WC" in set B: start 104, W 55, C 35, check (104 + 55 + 2 * 35) mod 103 = 23, then the stop
    page, told = label_page.label_page([label("WC")])
    widths = "211214" + "311321" + "131321" + "312131" + "2331112"
    expected = "".join(("1" if place % 2 == 0 else "0") * int(width) for place, width in enumerate(widths))
    assert (drawn(page), told) == ([expected], [])


@given(serial=st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=40))
def test_every_serial_of_a_label_reads_back(serial: str) -> None:
    page, told = label_page.label_page([label(serial)])
    assert told == []
    assert [read_code_128(modules) for modules in drawn(page)] == [serial]


@pytest.mark.parametrize(
    "serial",
    [
        "0",
        "12",
        "123",
        "1234",
        "12345",
        "A1234567B",
        "8841A",
        "a 1",
        "  1",
        "00000000",
        "99",
        "9972708",
        "99A",
        "A99",
        "9",
        "100",
    ],
)
def test_digits_in_all_places_read_back(serial: str) -> None:
    assert [read_code_128(one) for one in drawn(label_page.label_page([label(serial)])[0])] == [serial]


@pytest.mark.parametrize("length", [1, 4, 11, 12, 30, 31, 45])
def test_bars_are_wide_and_high_enough_for_a_scanner(length: int) -> None:
    page, _ = label_page.label_page([label("x" * length)])
    [(total, high, width, height, _)] = SVG.findall(page)
    module = float(width) / int(total)
    assert 0.25 - 1e-3 <= module <= 0.5 + 1e-3
    assert float(width) <= 183.01
    assert float(height) >= max(10.0, 0.15 * (int(total) - 20) * module) - 0.01
    assert float(high) * module == pytest.approx(float(height), abs=0.01), "as high as it is drawn wide"


@pytest.mark.parametrize("serial", ["Ü-1", "7\u202e", "y" * 300])
def test_a_serial_that_no_code_holds_is_told_and_stands_as_text(serial: str) -> None:
    page, told = label_page.label_page([label(serial), label("A1")])
    assert len(told) == 1
    assert [read_code_128(one) for one in drawn(page)] == ["A1"]
    assert serial in unescape(page)


def test_names_with_markup_are_text() -> None:
    page, _ = label_page.label_page(
        [label("<s>&", speaker=EVIL, finish="<script>", job="</div>", location='"<img src=x>')]
    )
    assert [read_code_128(one) for one in drawn(page)] == ["<s>&"]
    assert EVIL in unescape(page)
    assert not re.search(r"<(script|img|s|/div>,)\b", page)
    assert page.count("<div") == page.count("</div>") == 2


def test_without_the_library_it_is_said_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "barcode.codex", None)
    with pytest.raises(BadInput, match=r"pip install '\.\[labels\]'"):
        label_page.label_page([label("A1")])
    page, _ = label_page.label_page([label(None)])
    assert "Oatfell Wren" in page, "what has no serial needs no library"


@pytest.mark.slow
def test_a_sheet_prints_as_pdf_with_24_labels(tmp_path: Path) -> None:
    import pypdf

    page, _ = label_page.label_page([label(f"S{number:03d}") for number in range(30)])
    found = pypdf.PdfReader(BytesIO(page_files.pdf(page))).pages
    counts = [len(re.findall(r"S\d{3}", one.extract_text())) for one in found]
    assert counts == [24, 6]


def _fill(engine: sa.Engine) -> None:
    """Three centres with serials, one of them promised, two plain ones elsewhere, and a pair of a delivery."""
    shop_in(engine)
    desk.receive(engine, Request(CENTRE.name, "shop", finish="oak"), ["C1", "C2", "C3"])
    desk.receive(engine, Request(CENTRE.name, "store", 2, Grade.DEMO, new_finish=True))
    desk.receive(engine, Request(TOWER.name, "shop", 4))
    desk.reserve(engine, Request(CENTRE.name, "shop", finish="oak", serial="C2", job="Mill House"), LATER)
    desk.reserve(engine, Request(TOWER.name, "shop", 2, job="Mill House"), LATER)


@pytest.fixture
def shop(engine: sa.Engine) -> sa.Engine:
    return filled(engine, _fill)


def said(engine: sa.Engine, **asked: object) -> list[tuple[str | None, str | None, str]]:
    with reading(engine) as session:
        found = unit_labels(session, LabelsAsked(**asked)).labels  # type: ignore[arg-type]
    return [(one.serial, one.job, one.location) for one in found]


def test_labels_by_location_say_serial_and_job_and_pairs_get_one_each(shop: sa.Engine) -> None:
    found = said(shop, location="SHOP")
    assert found[:3] == [("C1", None, "shop"), ("C2", "Mill House", "shop"), ("C3", None, "shop")]
    assert found[3:] == [(None, "Mill House", "shop"), (None, None, "shop")], "two pairs"
    assert said(shop, location="store", speaker=CENTRE.name) == [(None, None, "store")] * 2


def test_labels_by_job_and_serial(shop: sa.Engine) -> None:
    assert said(shop, job="mill house") == [("C2", "Mill House", "shop"), (None, "Mill House", "shop")]
    assert said(shop, serials=("c3", "C1")) == [("C1", None, "shop"), ("C3", None, "shop")]
    desk.sell(shop, Request(CENTRE.name, "shop", finish="oak", serial="C1"))
    with pytest.raises(NotFound, match="'C1' is not on hand"):
        said(shop, serials=("C3", "C1"))
    with pytest.raises(NotFound, match="'C9' was never here"):
        said(shop, serials=("C9",))


@pytest.mark.whole
def test_labels_by_delivery_are_of_what_came_and_is_still_there(shop: sa.Engine, tmp_path: Path) -> None:
    note = tmp_path / "note.csv"
    note.write_text(f"speaker,quantity,serial\n{CENTRE.name},2,D1;D2\n{TOWER.name},2,\n")
    receive_delivery(shop, note, Delivery("4711", "shop"))
    # the pair that Mill House was promised stood there before, and has its label
    assert said(shop, delivery="4711") == [("D1", None, "shop"), ("D2", None, "shop"), (None, None, "shop")]
    desk.transfer(shop, Request(CENTRE.name, "shop", serial="D1"), "store")
    desk.sell(shop, Request(CENTRE.name, "shop", serial="D2"))
    assert ("D1", None, "store") in said(shop, delivery="4711")
    assert all(one[0] != "D2" for one in said(shop, delivery="4711"))
    with writing(shop) as session:
        suppliers.save_supplier(session, "Harbour", 9)
        order = suppliers.order(session, TOWER.name, 2, "Harbour", job="Barn")
    note.write_text(f"speaker,quantity,order\n{TOWER.name},2,{order}\n{TOWER.name},2,\n")
    receive_delivery(shop, note, Delivery("4713", "shop"))
    assert said(shop, delivery="4713") == [(None, "Barn", "shop"), (None, None, "shop")]
    with pytest.raises(NotFound, match="4712"):
        said(shop, delivery="4712")


@pytest.mark.parametrize(
    ("asked", "refusal", "words"),
    [
        ({}, BadInput, "say for which units"),
        ({"location": "atic"}, NotFound, "no location is named 'atic'"),
        ({"job": "Barn"}, NotFound, "no job is named 'Barn'"),
        ({"speaker": "Nobody"}, NotFound, "Nobody"),
        ({"location": "store", "job": "Mill House"}, Refused, "nothing of it is on hand"),
    ],
)
def test_what_is_not_there_gets_no_labels(
    shop: sa.Engine, asked: dict[str, object], refusal: type[Exception], words: str
) -> None:
    with pytest.raises(refusal, match=words):
        said(shop, **asked)


def test_a_promise_that_names_no_serial_is_told(engine: sa.Engine) -> None:
    shop_in(engine)
    desk.receive(engine, Request(CENTRE.name, "shop"), ["C1", "C2"])
    desk.reserve(engine, Request(CENTRE.name, "shop", job="Barn"), LATER)
    with reading(engine) as session:
        found = unit_labels(session, LabelsAsked(location="shop"))
    assert [one.job for one in found.labels] == [None, None]
    assert found.remarks == (
        "1 of Oatfell Linden Centre at shop is reserved for Barn, and it isn't said which of those that have a serial:"
        " no label says that job",
    )


def remarks(engine: sa.Engine, asked: LabelsAsked) -> Sequence[str]:
    with reading(engine) as session:
        return unit_labels(session, asked).remarks


def test_labels_without_a_serial_are_counted(shop: sa.Engine) -> None:
    assert remarks(shop, LabelsAsked(location="store")) == ("2 of 2 labels have no serial, so no barcode",)
