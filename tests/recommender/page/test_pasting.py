"""A datasheet pasted into the page reads, asks and is stored as `datasheet read --review` does it."""

from __future__ import annotations

import re
from html import unescape

import pytest

from tests.recommender.page.served import Reply, Visitor
from triptych.catalog.database.engine import reading
from triptych.catalog.database.reads import count, stored
from triptych.catalog.datasheet import read_datasheet
from triptych.catalog.datasheet.review import open_review, review_rows
from triptych.recommender.api import Catalogue

SHEET = """Oatfell Wren Tower
Floor-standing loudspeaker, 3-way
Dimensions (H x W x D): 985 x 195 x 310 mm
Weight 21.5 kg
Sensitivity 88 dB (2.83 V, 1 m, anechoic)
Nominal impedance 6 ohm
Serial plate 4711
"""
NAMED = {"said.0.maker": "Oatfell", "said.0.model": "Wren Tower", "said.0.roles": "main"}


def hidden(page: Reply) -> dict[str, str]:
    """What a browser would send again of a form that nobody touched."""
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', page.text)
    kept = {unescape(name): unescape(value) for name, value in found}
    text = re.search(r'<textarea id="text" name="text">(.*?)</textarea>', page.text, re.S)
    assert text is not None
    return kept | {"text": unescape(text[1])}


def test_every_number_that_was_read_is_marked_and_linked_to_its_figure(reader: Visitor) -> None:
    page = reader.post("/datasheet", {"text": SHEET})
    sheet = read_datasheet(SHEET)
    assert page.status == 200
    for one in sheet.numbers:
        if one.fate.value in ("figure", "inferred") and one.columns:
            assert f'href="#row-0-{one.columns[0]}"' in page.text
            assert f'id="row-0-{one.columns[0]}"' in page.text
    assert ">4711<" in page.text
    assert "not read" in page.words
    for row in review_rows(open_review(SHEET, "x"), 0):
        if row.column not in ("maker", "series", "model", "roles"):
            assert (row.value or "–") in page.words


@pytest.mark.whole
def test_nothing_is_stored_before_the_table_is_confirmed(shopper: Visitor, own_catalogue: Catalogue) -> None:
    def there() -> int:
        with reading(own_catalogue.engine) as session:
            return count(session)

    before = there()
    read = shopper.post("/datasheet", {"text": SHEET, **NAMED})
    looked = shopper.post("/datasheet", {**hidden(read), **NAMED, "store": "look"})
    assert "To be stored: Oatfell Wren Tower" in looked.words
    assert there() == before
    done = shopper.post("/datasheet", {**hidden(looked), **NAMED, "store": "yes"})
    assert "added 1, changed 0, unchanged 0" in done.words
    assert there() == before + 1
    with reading(own_catalogue.engine) as session:
        found = stored(session, "Oatfell Wren Tower").record
    assert (found.weight, found.figures["weight"].source) == (21.5, "pasted text")
    assert "Oatfell Wren Tower" in shopper.get("/mains", {"q": "wren"}).words


@pytest.mark.whole
def test_a_correction_is_the_users_own(shopper: Visitor, own_catalogue: Catalogue) -> None:
    read = shopper.post("/datasheet", {"text": SHEET, **NAMED})
    fixed = shopper.post("/datasheet", {**hidden(read), **NAMED, "fix.0.weight": "22 kg"})
    assert "22 kg" in fixed.words
    assert "given by hand" in fixed.words
    done = shopper.post("/datasheet", {**hidden(fixed), **NAMED, "store": "yes"})
    assert done.status == 200
    with reading(own_catalogue.engine) as session:
        found = stored(session, "Oatfell Wren Tower").record
    assert found.weight == 22.0
    assert found.figures["weight"].source != "pasted text"


def test_a_name_that_nobody_changed_stays_the_sheets_own(reader: Visitor) -> None:
    sheet = f"Maker: Oatfell\n{SHEET}"
    read = reader.post("/datasheet", {"text": sheet})
    kept = hidden(read)
    assert kept["read.0.maker"] == "Oatfell"
    again = reader.post("/datasheet", {**kept, "said.0.maker": "Oatfell"})
    assert hidden(again)["read.0.maker"] == "Oatfell"
    other = reader.post("/datasheet", {**kept, "said.0.maker": "Another"})
    assert "read.0.maker" not in hidden(other)
    assert 'value="Another"' in other.text


def test_an_answer_that_cannot_be_read_is_told_at_its_field_and_kept(reader: Visitor) -> None:
    read = reader.post("/datasheet", {"text": SHEET, **NAMED})
    bad = reader.post("/datasheet", {**hidden(read), **NAMED, "fix.0.weight": "heavy"})
    assert bad.status == 422
    assert 'id="fix.0.weight-wrong"' in bad.text
    assert 'value="heavy"' in bad.text
    assert "21.5 kg" in bad.words  # and the sheet's word stands


def test_questions_are_answered_in_place(reader: Visitor) -> None:
    asks = f"{SHEET}Frequency response 45 Hz - 20 kHz\n"
    read = reader.post("/datasheet", {"text": asks, **NAMED})
    keys = [unescape(key) for key in re.findall(r'<input id="(answer\.[^"]+)"', read.text)]
    assert keys
    assert keys == ["answer.0.low_limit_drop"]
    told = reader.post("/datasheet", {**hidden(read), **NAMED, keys[0]: "6"})
    assert f'<input id="{keys[0]}"' not in told.text
    assert 'name="said.0.low_limit_drop" value="6' in told.text


def test_what_is_short_of_a_name_is_refused_with_what_is_missing(reader: Visitor) -> None:
    answer = reader.post("/datasheet", {"text": "Width: 400 mm\nHeight: 180 mm\n", "store": "yes"})
    assert answer.status == 422
    assert "nothing stored" in answer.words
    assert "maker" in answer.words


@pytest.mark.parametrize(
    ("files", "told"),
    [
        (("sheet.html", b"<h1>Oatfell Wren</h1><p>Weight: 14.2 kg</p><script>alert(1)</script>"), "14.2 kg"),
        (("sheet.txt", "Gewicht 14,2 kg".encode("utf-16")), "14.2"),
        (("sheet.pdf", b"%PDF-1.4 nothing"), "sheet.pdf"),
        (("sheet.bin", b"\x00\x01\x02"), "no text file"),
        (("sheet.txt", b"nothing of it"), "no figure of a loudspeaker"),
        (("../../x.txt", b"Weight: 14.2 kg"), "What was read of x.txt"),
    ],
    ids=["html", "utf16", "pdf", "binary", "prose", "path"],
)
def test_files_are_read_or_refused_with_a_reason(reader: Visitor, files: tuple[str, bytes], told: str) -> None:
    page = reader.send("/datasheet", {"file": files})
    assert told in page.words
    assert "<script>alert" not in page.text


def test_hostile_text_is_text(reader: Visitor) -> None:
    hostile = f'<b onload="x()">{SHEET}</b> "><svg onload=alert(1)> {{{{7*7}}}} \u202e\x07'
    page = reader.post("/datasheet", {"text": hostile, "name": '"><script>x</script>'})
    assert page.status == 200
    assert "<svg onload" not in page.text
    assert "<script>x" not in page.text
    assert "49" not in page.words


def test_several_can_be_said_to_be_one_and_one_of_several_taken(reader: Visitor) -> None:
    rows = ("Model | Wren Tower | Wren Centre", "Weight | 21.5 kg | 9.1 kg", "Width | 195 mm | 480 mm")
    table = "\n".join((*rows, "Height | 985 mm | 180 mm"))
    page = reader.post("/datasheet", {"text": table})
    assert "Loudspeaker 2" in page.words
    taken = reader.post("/datasheet", {**hidden(page), "models": "Wren Centre"})
    assert "Loudspeaker 2" not in taken.words
    assert "9.1 kg" in taken.words
    unknown = reader.post("/datasheet", {**hidden(page), "models": "Lark"})
    assert unknown.status == 422
