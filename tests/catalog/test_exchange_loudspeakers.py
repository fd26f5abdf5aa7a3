from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import fields
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.catalog.exchange_records import CATALOGUES, all_or_nothing
from tests.conftest import example_count
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMN_UNITS, COLUMNS
from triptych.catalog.files.loudspeakers import (
    Reading,
    csv_of,
    read_loudspeakers,
    refused_path,
    texts_from_record,
    write_loudspeakers,
    write_refused,
)
from triptych.catalog.records import (
    Enclosure,
    Evidence,
    Figure,
    LoudspeakerRecord,
    PortLocation,
    Role,
    SensitivityBasis,
)
from triptych.catalog.stated_records import record_from_texts
from triptych.recommender.physics.layout import LayoutError, parse

NAMED = {"maker": "Oatfell", "model": "Wren", "roles": "centre"}


def read_text(folder: Path, text: str, encoding: str = "utf-8", **mapping: str) -> Reading:
    path = folder / "shop.csv"
    path.write_bytes(text.encode(encoding))
    return read_loudspeakers(path, mapping)


def one(folder: Path, **cells: str) -> LoudspeakerRecord:
    (record,) = all_or_nothing(read_text(folder, table(NAMED | cells)))
    return record


def table(*rows: dict[str, str]) -> str:
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, list(dict.fromkeys(name for row in rows for name in row)), restval="")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()


def problems(reading: Reading) -> list[str]:
    return [str(problem) for problem in reading.problems]


def test_the_columns_are_the_records_fields() -> None:
    assert set(COLUMNS) == {field.name for field in fields(LoudspeakerRecord)} - {"figures"}
    assert (COLUMN_UNITS["width"], COLUMN_UNITS["weight"], COLUMN_UNITS["crossover"]) == ("mm", "kg", "Hz")


@pytest.mark.examples
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=example_count(2 / 3))
@given(CATALOGUES)
def test_csv_reads_back_identical(tmp_path: Path, records: list[LoudspeakerRecord]) -> None:
    path = tmp_path / "all.csv"
    write_loudspeakers(path, records)
    reading = read_loudspeakers(path)
    assert problems(reading) == []
    assert list(reading.records) == records
    assert csv_of(reading.records).encode() == path.read_bytes()


def test_every_cell_of_a_full_row(tmp_path: Path) -> None:
    record = one(
        tmp_path,
        series="Linden", roles="Center; MAIN ;subwoofer", orientation="Lying", width="17,8 cm", height='7-1/2"',
        depth="1'", weight="27 lb 8 oz", enclosure="Bass Reflex", port_location="back", bung="Yes", sensitivity="88 dB",
        impedance_nominal="8 ohms", low_limit="45 Hz", low_limit_drop="3", tweeter_type="waveguide dome",
        tweeter_coverage="90° × 60°", crossover="350 / 2.8 kHz", layout="w(t/m)w", woofer_count="2", price="1,299.00",
        currency="eur", tax_rate="20 %", note='says "hello",\ntwice',
    )  # fmt: skip
    assert record.name == "Oatfell Linden Wren"
    assert record.family == "Oatfell Linden"
    assert record.roles == {Role.CENTRE, Role.MAIN, Role.SUB}
    assert (record.width, record.height, record.depth) == (0.178, 0.1905, 0.3048)
    assert record.weight == 12.473790175
    assert (record.enclosure, record.port_location, record.bung) == (Enclosure.PORTED, PortLocation.REAR, True)
    assert record.sensitivity_basis is None  # anechoic by contract, but nobody said so
    assert (record.tweeter_coverage, record.crossover) == ((90.0, 60.0), (350.0, 2800.0))
    assert (record.layout, record.woofer_count, record.tax_rate) == ("W(T/M)W", 2, 20.0)
    assert (record.price, record.currency) == (Decimal(1299), "EUR")
    assert record.note == 'says "hello",\ntwice'


def test_empty_and_unknown_are_none(tmp_path: Path) -> None:
    record = one(
        tmp_path, width="", height="Unknown", sensitivity="unknown", bung="unknown", orientation=" ", note="unknown"
    )
    assert record == LoudspeakerRecord("Oatfell", "Wren", roles=frozenset({Role.CENTRE}))


def test_a_basis_may_be_said_to_be_unknown(tmp_path: Path) -> None:
    assert one(tmp_path, sensitivity="88", sensitivity_basis="unknown").sensitivity_basis is SensitivityBasis.UNKNOWN


def test_a_family_needs_a_series_to_default_to(tmp_path: Path) -> None:
    assert one(tmp_path).family is None


def test_each_figure_says_where_it_comes_from(tmp_path: Path) -> None:
    record = one(tmp_path, width='7 1/2 "', weight="", enclosure="closed", note="seen", status="current")
    assert dict(record.figures) == {
        "width": Figure('7 1/2 "', "shop.csv, line 2", Evidence.STATED),
        # words as they stand there, too; a name's source is the loudspeaker's own
        "enclosure": Figure("closed", "shop.csv, line 2", Evidence.STATED),
        "roles": Figure("centre", "shop.csv, line 2", Evidence.STATED),
    }


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_any_delimiter_and_encoding(tmp_path: Path, delimiter: str, encoding: str) -> None:
    text = f"MODEL{delimiter}Maker{delimiter} Roles \nWrén{delimiter}Oatfell{delimiter}centre\n"
    reading = read_text(tmp_path, text, encoding)
    assert [record.name for record in all_or_nothing(reading)] == ["Oatfell Wrén"]
    assert reading.remarks == ()


def test_windows_text_is_read_with_a_warning(tmp_path: Path) -> None:
    reading = read_text(tmp_path, "maker,model,roles\nOatfell,Wrén,main\n", "cp1252")
    assert reading.records[0].model == "Wrén"
    assert "read as Windows-1252" in reading.remarks[0]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_are_counted_as_an_editor_counts_them(tmp_path: Path, end: str) -> None:
    lines = ["maker,model,roles,note,width", '"Oatfell",A,main,"two', 'lines",100', "", "Oatfell,B,main,,1 stone"]
    (problem,) = problems(read_text(tmp_path, end.join(lines)))
    assert problem.startswith("shop.csv, line 5, column width: '1 stone'")


def test_short_rows_have_unknown_cells_at_their_end(tmp_path: Path) -> None:
    assert all_or_nothing(read_text(tmp_path, "maker,model,roles,width\nOatfell,A,main\n"))[0].width is None


def test_headers_of_theirs_can_be_mapped_or_left_out(tmp_path: Path) -> None:
    text = "Brand,model,roles,W (mm),colour\nOatfell,A,main,100,oak\n"
    (record,) = all_or_nothing(read_text(tmp_path, text, **{"brand": "maker", "W (MM)": "width", "Colour": ""}))
    assert (record.maker, record.width) == ("Oatfell", 0.1)


@pytest.mark.parametrize(
    ("header", "mapping", "said"),
    [
        ("maker,model,roles,heigth", {}, "line 1, header: 'heigth' is no column; did you mean 'height'?"),
        ("maker,model,roles,zzz", {}, "line 1, header: 'zzz' is no column; known are maker, model"),
        ("maker,model,roles,Width,WIDTH", {}, "line 1, header: 'WIDTH' names width a second time"),
        ("maker,model,roles,size", {"size": "width", "lenght": "depth"}, "--map lenght=depth: the file has no column"),
        ("maker,roles", {}, "line 1, header: the column model is not there; it is required"),
        ("maker,model,roles,", {}, "line 1, header: is empty above a column that is not"),
    ],
)
def test_bad_headers_leave_no_row_to_trust(tmp_path: Path, header: str, mapping: dict[str, str], said: str) -> None:
    reading = read_text(tmp_path, f"{header}\nOatfell,A,main,100,100\n", **mapping)
    assert any(said in problem for problem in problems(reading))
    assert reading.records == ()
    with pytest.raises(BadInput, match="header"):
        reading.good()


KEPT = {"Product": "model", "Gone": "depth", "width": "height"}


def read_kept(folder: Path, text: str) -> Reading:
    (folder / "shop.csv").write_text(text, "utf-8")
    return read_loudspeakers(folder / "shop.csv", kept=KEPT)


def test_what_an_earlier_file_called_a_column_is_taken_and_told(tmp_path: Path) -> None:
    reading = read_kept(tmp_path, "maker,product,roles,width\nOatfell,A,main,100\n")
    (record,) = all_or_nothing(reading)
    assert (record.model, record.width, record.height) == ("A", 0.1, None)
    assert any("'product' is taken for model" in line for line in reading.remarks)


def test_it_is_left_aside_where_our_own_name_stands(tmp_path: Path) -> None:
    reading = read_kept(tmp_path, "maker,model,roles,width\nOatfell,A,main,100\n")
    (record,) = all_or_nothing(reading)
    assert (record.width, record.height, reading.remarks) == (0.1, None, ())
    both = read_kept(tmp_path, "maker,product,model,roles\nOatfell,A,B,main\n")
    assert any("'product' is no column" in problem for problem in problems(both))


def test_a_map_to_no_column_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="'widht' is no column; did you mean 'width'"):
        read_text(tmp_path, "maker,model,roles,w\n", w="widht")


@pytest.mark.parametrize(
    ("cells", "column", "said"),
    [
        ({"maker": ""}, "maker", "is empty or unknown; it is required"),
        ({"model": "unknown"}, "model", "is empty or unknown; it is required"),
        ({"roles": ""}, "roles", "is empty or unknown; it is required"),
        ({"roles": ";"}, "roles", "names no role"),
        ({"roles": "centre;boss"}, "roles", "'boss' is none of main, centre, surround, height, sub"),
        ({"model": "Wr\x1ben"}, "model", "do not print"),
        ({"model": "x" * 121}, "model", "121 characters"),
        ({"note": "a\x07b"}, "note", "control characters"),
        ({"note": "x" * 4001}, "note", "4001 characters"),
        ({"orientation": "sideways"}, "orientation", "'sideways' is none of upright, lying"),
        ({"enclosure": "infinite baffle"}, "enclosure", "none of sealed, ported, passive_radiator"),
        ({"port_location": "inside"}, "port_location", "none of front, rear, side, top, bottom, none"),
        ({"tweeter_type": "tulip"}, "tweeter_type", "none of dome, waveguide_dome"),
        ({"bung": "perhaps"}, "bung", "'perhaps' is neither yes nor no"),
        ({"width": "1,200 mm"}, "width", "could be 1200 mm or 1.2 mm"),
        ({"width": "3 m"}, "width", "outside the plausible range 0.04 to 2 m"),
        ({"impedance_nominal": "4-8 ohms"}, "impedance_nominal", "holds more than one number"),
        ({"woofer_count": "two"}, "woofer_count", "no quantity that can be read"),
        ({"low_limit": "45", "low_limit_drop": "5"}, "low_limit_drop", "'5' is none of 3, 6 and 10 dB"),
        ({"tweeter_coverage": "90"}, "tweeter_coverage", "two angles, such as '90 x 60'"),
        ({"tweeter_coverage": "90 x"}, "tweeter_coverage", "leaves a number out"),
        ({"crossover": "2800/350"}, "crossover", "does not rise; write the lowest first"),
        ({"crossover": "350/"}, "crossover", "leaves a number out"),
        ({"crossover": "12 / 30"}, "crossover", "outside the plausible range 40 to 20000 Hz"),
        ({"layout": "MXM"}, "layout", "'MXM' is no layout"),
        ({"layout": "W(TM"}, "layout", "is no layout"),
        ({"layout": "W()W"}, "layout", "is no layout"),
        ({"layout": "W(TT)W"}, "layout", "is no layout"),
        ({"layout": "G"}, "layout", "is no layout"),
        ({"layout": "W" * 25}, "layout", "is no layout; write at most 24 of T, M, W and B"),
        ({"layout": "/T"}, "layout", "is no layout"),
        ({"price": "520 EUR", "currency": "USD"}, "price", "'520 EUR' is in EUR, and its currency is USD"),
        ({"price": "0", "currency": "EUR"}, "price", "no price"),
        ({"price": "-5", "currency": "EUR"}, "price", "out of range"),
        ({"price": "5.005", "currency": "EUR"}, "price", "could be 5.005 or 5005"),
        ({"price": "5.0055", "currency": "EUR"}, "price", "more than the 2 decimals that EUR has"),
        ({"price": "5.5", "currency": "JPY"}, "price", "more than the 0 decimals that JPY has"),
        ({"price": "520", "currency": "Euro"}, "currency", "'Euro' is no currency code"),
        ({"price": "520", "currency": ""}, "currency", "is empty beside a price"),
        ({"price": "520"}, "currency", "is empty beside a price"),
        ({"low_limit": "200", "high_limit": "100"}, "low_limit", "200 Hz is not under high_limit, 100 Hz"),
        ({"low_limit_drop": "3"}, "low_limit_drop", "stands without low_limit"),
        ({"enclosure": "sealed", "port_location": "front"}, "port_location", "but the enclosure is sealed"),
        ({"enclosure": "sealed", "port_diameter": "50"}, "port_diameter", "a sealed enclosure has no port"),
        ({"enclosure": "sealed", "bung": "yes"}, "bung", "no port to stop"),
        ({"enclosure": "ported", "port_location": "none"}, "port_location", "but the enclosure is ported"),
        ({"impedance_nominal": "4", "impedance_minimum": "6"}, "impedance_minimum", "6 ohm is above the nominal 4 ohm"),
        ({"amplifier_min": "200", "amplifier_max": "100"}, "amplifier_min", "200 W is above amplifier_max, 100 W"),
        ({"height": "200", "axis_height": "300"}, "axis_height", "300 mm above the base of a box 200 mm high"),
        ({"woofer_count": "1", "woofer_spacing": "300"}, "woofer_spacing", "woofer_count is 1, so there is no spacing"),
        (
            {"width": "500", "height": "200", "woofer_count": "2", "woofer_spacing": "600"},
            "woofer_spacing",
            "600 mm is more than the box's longer side, 500 mm",
        ),
    ],
)
def test_a_bad_cell_is_named_and_nothing_is_taken(
    tmp_path: Path, cells: dict[str, str], column: str, said: str
) -> None:
    reading = read_text(tmp_path, table(NAMED | cells))
    (problem,) = problems(reading)
    assert problem.startswith(f"shop.csv, line 2, column {column}: ")
    assert said in problem
    assert reading.records == ()
    with pytest.raises(BadInput):
        all_or_nothing(reading)


@pytest.mark.parametrize(
    "cells",
    [
        {"enclosure": "sealed", "port_location": "none"},
        {"enclosure": "sealed", "bung": "no"},
        {"woofer_count": "2", "woofer_spacing": "500", "width": "500"},
        {"impedance_nominal": "8", "impedance_minimum": "8"},
        {"layout": "T/M"},
        {"layout": "W((T/M)/M)W"},
        {"price": "0.05", "currency": "EUR"},
    ],
)
def test_what_is_only_unusual_is_taken(tmp_path: Path, cells: dict[str, str]) -> None:
    assert one(tmp_path, **cells).name == "Oatfell Wren"


@given(st.text("TMWB/()- tg", max_size=9))
def test_the_layouts_taken_are_those_that_the_physics_reads(text: str) -> None:
    def taken(read: Callable[[str], object], refusal: type[Exception]) -> bool:
        try:
            read(text)
        except refusal:
            return False
        return True

    if text.strip():
        assert taken(COLUMNS["layout"].read, BadInput) == taken(parse, LayoutError)


def test_all_bad_cells_are_named_and_the_good_rows_known(tmp_path: Path) -> None:
    rows = [{"width": "1 stone", "price": "x"}, {"model": "Good", "width": "100"}, {"model": "Also", "width": "nan"}]
    reading = read_text(tmp_path, table(*(NAMED | row for row in rows)))
    assert [problem.split(":")[0] for problem in problems(reading)] == [
        "shop.csv, line 2, column width",
        "shop.csv, line 2, column price",
        "shop.csv, line 4, column width",
    ]
    assert [record.model for record in reading.good()] == ["Good"]


def test_an_unreadable_cell_is_no_reason_to_blame_its_neighbour(tmp_path: Path) -> None:
    (problem,) = problems(read_text(tmp_path, table(NAMED | {"low_limit": "deep", "low_limit_drop": "3"})))
    assert "column low_limit:" in problem


def test_a_name_twice_is_refused_on_both_lines(tmp_path: Path) -> None:
    rows = [{"model": "Wren"}, {"model": "Good"}, {"model": "WREN ", "width": "nan"}]
    reading = read_text(tmp_path, table(*(NAMED | row for row in rows)))
    said = problems(reading)
    assert any(line.startswith("shop.csv, line 2, column model: 'Oatfell Wren' stands on line 4 too") for line in said)
    assert any(line.startswith("shop.csv, line 4, column model: 'Oatfell WREN' stands on line 2 too") for line in said)
    assert [record.model for record in reading.good()] == ["Good"]


def test_a_decimal_comma_that_splits_a_row_is_noticed(tmp_path: Path) -> None:
    (problem,) = problems(read_text(tmp_path, "maker,model,roles,width\nOatfell,A,main,178,5\n"))
    assert "holds 5 cells under 4 headers; put quotes round a cell with the delimiter in it" in problem


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the file is empty"),
        (b"\n\n", "the file is empty"),
        (b"maker,model\0", "NUL characters"),
        (b'maker,model,roles\n"a"b,c,main\n', "line 2"),
        (b'maker,model,roles\n"open,c,main\n', "line 2"),
        (b"\x81\x8d", "in no encoding that can be read"),
        (b"PK\x03\x04nothing", "no workbook that can be read"),
        (b"\xd0\xcf\x11\xe0old", "an old Excel workbook"),
    ],
)
def test_what_is_no_table(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "shop.csv"
    path.write_bytes(content)
    with pytest.raises(BadInput, match=said):
        read_loudspeakers(path)


@pytest.mark.parametrize("name", ["missing.csv", "."])
def test_what_cannot_be_opened(tmp_path: Path, name: str) -> None:
    with pytest.raises(BadInput, match="give the path of a file"):
        read_loudspeakers(tmp_path / name)


def test_refused_rows_can_be_mended_and_imported(tmp_path: Path) -> None:
    rows = [{"width": "1 stone"}, {"model": "Good", "width": "100"}]
    reading = read_text(tmp_path, table(*(NAMED | row for row in rows)))
    path = write_refused(tmp_path / "shop.csv", reading)
    assert path == refused_path(tmp_path / "shop.csv") == tmp_path / "shop.csv.refused.csv"
    text = path.read_text(encoding="utf-8")
    assert text.splitlines()[0] == "maker,model,roles,width,refused_because"
    assert "column width '1 stone': 'stone' is no unit" in text
    path.write_text(text.replace("1 stone", "1 ft"), encoding="utf-8")
    assert [record.width for record in all_or_nothing(read_loudspeakers(path))] == [0.3048]


def test_refused_rows_never_overwrite_a_file(tmp_path: Path) -> None:
    reading = read_text(tmp_path, table(NAMED | {"width": "1 stone"}))
    refused_path(tmp_path / "shop.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput, match="is there already"):
        write_refused(tmp_path / "shop.csv", reading)
    assert refused_path(tmp_path / "shop.csv").read_text(encoding="utf-8") == "mine"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["shop.csv", "shop.csv.refused.csv"]


def test_a_file_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="there is no folder"):
        write_loudspeakers(tmp_path / "no" / "a.csv", [])


def test_texts_make_the_record_they_come_from() -> None:
    record, faults = record_from_texts(NAMED | {"width": "178.5"}, "here")
    assert record is not None
    assert faults == []
    assert {name: text for name, text in texts_from_record(record).items() if text} == NAMED | {"width": "178.5"}
