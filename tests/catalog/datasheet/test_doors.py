"""A datasheet as a web page and as a PDF reads as the same text does."""

from __future__ import annotations

from io import BytesIO

import pytest

from triptych.catalog.datasheet import ReadSheet, read_datasheet
from triptych.catalog.datasheet.pages import page_text
from triptych.catalog.datasheet.pdf import pdf_text
from triptych.catalog.errors import BadInput

ROWS = [
    ("", "Wren Shelf", "Wren Tower", "Wren Centre"),
    ("Sensitivity (2.83 V/1 m)", "86 dB", "89 dB", "88 dB"),
    ("Impedance", "8 Ω", "4 Ω", "6 Ω"),
    ("Width", "185 mm", "205 mm", "500 mm"),
    ("Weight", "6.2 kg", "20.4 kg", "10.2 kg"),
]
HEAD = "<html><head><style>td{width:320px}</style><script>price = 1299;</script></head><body><h1>Oatfell</h1>"
PAGE = (
    HEAD + "<table>" + "".join(f"<tr>{''.join(f'<td>{cell}</td>' for cell in row)}</tr>" for row in ROWS) + "</table>"
)


def figures(sheet: ReadSheet) -> list[dict[str, object]]:
    wanted = ("model", "sensitivity", "impedance_nominal", "width", "weight")
    return [{name: record.values.get(name) for name in wanted} for record in sheet.records]


EXPECTED = [
    {"model": "Wren Shelf", "sensitivity": 86.0, "impedance_nominal": 8.0, "width": 0.185, "weight": 6.2},
    {"model": "Wren Tower", "sensitivity": 89.0, "impedance_nominal": 4.0, "width": 0.205, "weight": 20.4},
    {"model": "Wren Centre", "sensitivity": 88.0, "impedance_nominal": 6.0, "width": 0.5, "weight": 10.2},
]


def test_a_page_s_table_gives_a_loudspeaker_a_column() -> None:
    assert figures(read_datasheet(PAGE)) == EXPECTED


def test_scripts_and_styles_are_no_text() -> None:
    assert "1299" not in page_text(PAGE)
    assert "320" not in page_text(PAGE)


def test_a_struck_price_is_a_former_one() -> None:
    [record] = read_datasheet("<p>Price: <del>£1,499</del> £1,299 a pair</p>").records
    assert float(record.values["price"]) == 1299


def test_heads_over_one_another_are_one_head() -> None:
    page = (
        "<table><tr><th rowspan=2>Model<th colspan=3>Size (cm)<th rowspan=2>Weight<tr><th>width<th>height<th>depth"
        "<tr><td>Wren One<td>18<td>30<td>23<td>5.2 kg<tr><td>Wren Two<td>20<td>95<td>30<td>16 kg</table>"
    )
    sizes = [(one.values["width"], one.values["height"], one.values["depth"]) for one in read_datasheet(page).records]
    assert sizes == [(0.18, 0.3, 0.23), (0.2, 0.95, 0.3)]


def blank(pages: int, password: str = "") -> bytes:
    from pypdf import PdfWriter

    writer, written = PdfWriter(), BytesIO()
    for _ in range(pages):
        writer.add_blank_page(10, 10)
    if password:
        writer.encrypt(password, algorithm="RC4-128")
    writer.write(written)
    return written.getvalue()


@pytest.mark.whole
def test_a_scanned_page_is_refused_with_a_reason() -> None:
    with pytest.raises(BadInput, match="pictures with no text"):
        pdf_text(blank(1), "scan.pdf")


def test_so_are_too_many_pages_and_what_is_broken() -> None:
    with pytest.raises(BadInput, match="101 pages; 100 are the most"):
        pdf_text(blank(101), "long.pdf")
    with pytest.raises(BadInput, match="no PDF that can be read"):
        pdf_text(b"%PDF-1.7 and nothing else", "broken.pdf")


def test_so_is_a_locked_one() -> None:
    with pytest.raises(BadInput, match="locked by a password"):
        pdf_text(blank(1, "secret"), "locked.pdf")
