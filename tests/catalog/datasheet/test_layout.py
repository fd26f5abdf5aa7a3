"""Several loudspeakers of one text are told apart by where its words lie; one over several paragraphs stays one."""

from __future__ import annotations

import pytest

from triptych.catalog.datasheet import ReadStatus, SheetRecord, read_datasheet
from triptych.catalog.records import Enclosure

COLUMNS = """\
Model name            Reed 2        Reed 4         Reed C
Sensitivity           86dB          89dB           88dB
Nominal impedance     8 ohms        6 ohms         5 ohms
Dimensions (HxWxD mm) 320x190x260   1000x200x310   180x480x260
Weight                6.2kg         18.5kg         9.4kg
"""
ROWS = """\
Model\tSize HxWxD (mm)\tkg\tdB\tOhm
Reed 2\t320x190x260\t6.2\t86\t8
Reed 4\t1000x200x310\t18.5\t89\t6
Reed C\t180x480x260\t9.4\t88\t5
"""
LINES = """\
Reed 2: 86 dB, 8 ohms, 320 x 190 x 260 mm (HxWxD), 6.2 kg
Reed 4: 89 dB, 6 ohms, 1000 x 200 x 310 mm (HxWxD), 18.5 kg
Reed C: 88 dB, 5 ohms, 180 x 480 x 260 mm (HxWxD), 9.4 kg
"""
SECTIONS = """\
Reed 2
Sensitivity: 86 dB
Impedance: 8 ohms
Size (HxWxD): 320 x 190 x 260 mm
Weight: 6.2 kg

Reed 4
Sensitivity: 89 dB
Impedance: 6 ohms
Size (HxWxD): 1000 x 200 x 310 mm
Weight: 18.5 kg

Reed C
Sensitivity: 88 dB
Impedance: 5 ohms
Size (HxWxD): 180 x 480 x 260 mm
Weight: 9.4 kg
"""
MERGED = """\
Model Reed 2 Reed 4 Reed C
Sensitivity 86 dB 89 dB 88 dB
Impedance 8 ohms 6 ohms 5 ohms
Height 320 mm 1000 mm 180 mm
Width 190 mm 200 mm 480 mm
Depth 260 mm 310 mm 260 mm
Weight 6.2 kg 18.5 kg 9.4 kg
"""


def told(record: SheetRecord) -> tuple[object, ...]:
    names = ("model", "sensitivity", "impedance_nominal", "height", "width", "depth", "weight")
    return tuple(record.values.get(name) for name in names)


EXPECTED = [
    ("Reed 2", 86.0, 8.0, 0.32, 0.19, 0.26, 6.2),
    ("Reed 4", 89.0, 6.0, 1.0, 0.2, 0.31, 18.5),
    ("Reed C", 88.0, 5.0, 0.18, 0.48, 0.26, 9.4),
]


@pytest.mark.parametrize("text", [COLUMNS, ROWS, LINES, SECTIONS, MERGED])
def test_every_layout_gives_the_same_loudspeakers(text: str) -> None:
    assert [told(record) for record in read_datasheet(text).records] == EXPECTED


def test_what_is_said_of_all_goes_to_each() -> None:
    sheet = read_datasheet(LINES + "\nAll models: 25 mm silk dome; ported to the rear.\nMade by hand.")
    assert [record.values["tweeter_size"] for record in sheet.records] == [0.025] * 3
    assert sheet.unread == ("Made by hand.",)


def test_but_not_what_has_an_exception() -> None:
    sheet = read_datasheet(LINES + "\nAll models sealed except Reed C")
    told = {str(record.values["model"]): record.values.get("enclosure") for record in sheet.records}
    assert told == {name: None if name.endswith("C") else Enclosure.SEALED for name in told}


def test_values_in_the_order_of_the_loudspeakers() -> None:
    sheet = read_datasheet(LINES + "\nMinimum impedance 6.1/4.4/4.1 ohms.")
    assert [record.values["impedance_minimum"] for record in sheet.records] == [6.1, 4.4, 4.1]


def test_a_row_with_too_few_values_gives_none() -> None:
    sheet = read_datasheet(MERGED + "Crossover 2.6 kHz 2.5 kHz\n")
    assert not any("crossover" in record.fields for record in sheet.records)


def test_a_footnote_goes_where_its_mark_is() -> None:
    [record] = read_datasheet("Height   165 mm\nDepth   298/312* mm\nWeight   8.1 kg\n*with grille").records
    assert record.values["depth"] == 0.312


def test_a_correction_revives_what_hung_on_it() -> None:
    text = "Model: Wren\nSensitivity: 88 dB (1 W/1 m)\nImpedance: 4-8 ohms"
    assert read_datasheet(text).records[0].fields["sensitivity"].status is ReadStatus.REFUSED
    [record] = read_datasheet(text, {"impedance_nominal": "4"}).records
    assert record.values["impedance_nominal"] == 4.0
    assert record.values["sensitivity"] == pytest.approx(91.01)


def test_a_pages_own_head_is_no_head_of_the_table_below_it() -> None:
    page = "Reed Series Loudspeakers      Specification   V1.2\n\n"
    again = f"\n                     Page 1 of 2\n{page}Model name            Reed 2        Reed 4         Reed C\n"
    sheet = read_datasheet(f"{page}{COLUMNS}{again}Crossover freq.       2.8kHz        2.5kHz         2.9kHz\n")
    assert [record.values["model"] for record in sheet.records] == ["Reed 2", "Reed 4", "Reed C"]
    assert [record.values["crossover"] for record in sheet.records] == [(2800,), (2500,), (2900,)]


def test_merged_columns_with_ranges_units_behind_and_runs_alike_are_told_apart() -> None:
    sheet = read_datasheet(
        f"{MERGED}Tweeter Silk dome 25 mm Silk dome 26 mm Silk dome 27 mm\n"
        "Frequency range (-6 dB) 55 Hz - 22 kHz 38 Hz - 22 kHz 72 Hz - 22 kHz\nPrice 480 €/pair 690 €/ea 390 €/ea\n"
    )
    told = [(r.values["tweeter_size"], r.values["low_limit"], int(r.values["price"])) for r in sheet.records]
    assert told == [(0.025, 55, 480), (0.026, 38, 690), (0.027, 72, 390)]


@pytest.mark.parametrize("below", ["(min.)", "(mini)", "minimum"])
def test_a_row_of_minima_below_that_of_nominals_is_theirs(below: str) -> None:
    table = f"""\
Specifications            Marlow 10      Marlow 20
Nominal impedance         8 ohm          4 ohm
{below:26}5.2 ohm        3.1 ohm
Width                     180 mm         220 mm
"""
    records = read_datasheet(table).records
    assert [one.values["impedance_nominal"] for one in records] == [8, 4]
    assert [one.values["impedance_minimum"] for one in records] == [5.2, 3.1]


def test_a_sign_in_a_cell_says_the_same_as_on_the_left() -> None:
    records = read_datasheet(
        "Item\tRD-1\tRD-3\tRD-C\nCabinet\tbass reflex (front)\t←\t←\nHigh\t2.5cm magnesium dome\t←\t←\n"
        "Low\t13cm cone\t16cm cone x2\t13cm cone x2\nWeight\t4.9kg\t22.4kg\t8.6kg\nImpedance\t6Ω\t4Ω\t6Ω\n"
    ).records
    assert [record.values["tweeter_size"] for record in records] == [0.025] * 3
    assert [record.values["woofer_size"] for record in records] == [0.13, 0.16, 0.13]
    assert {record.values["port_location"].value for record in records} == {"front"}


def test_values_that_ran_together_below_their_label_are_each_ones() -> None:
    records = read_datasheet(
        "Kalina 1 Kalina 3 Kalina C\nGłośnik niskotonowy (papier)\n1 x 150 mm 2 x 180 mm 2 x 120 mm\n"
        "Efektywność 86 dB 89,5 dB 87,5 dB\nMasa 6,1 kg 27,4 kg 8,2 kg\n"
        "Wymiary (szer. x wys. x gł.), mm\n180 x 300 x 255 230 x 1120 x 350 430 x 165 x 240\n"
    ).records
    assert [record.values["width"] for record in records] == [0.18, 0.23, 0.43]
    assert [record.values["woofer_size"] for record in records] == [0.15, 0.18, 0.12]


def test_the_numbers_of_a_manuals_clauses_are_no_figures() -> None:
    [record] = read_datasheet(
        "6.1 Model: RD-C5\n6.2 Brand: Reed Acoustics\n6.3 Tweeter: 25 mm dome\n"
        "6.4 Sensitivity: 88 dB\n6.5 Weight: 9 kg\n"
    ).records
    assert (record.values["maker"], record.values["model"]) == ("Reed Acoustics", "RD-C5")
    assert (record.values["sensitivity"], record.values["weight"]) == (88, 9)


def test_notes_with_numbers_in_brackets_stand_at_their_labels() -> None:
    [record] = read_datasheet(
        "Sensitivity (2)           85 dB\nResponse (1)              55 Hz-22 kHz\nWeight                    4.8 kg\n\n"
        "(1) On axis, anechoic.   (2) 2.83V at 1m, anechoic.\n"
    ).records
    assert record.values["sensitivity_basis"].value == "anechoic"


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("Hz–24 Hz–24 @ %", 2),  # names with nothing below them
        ("Watt; Sensitivity; Warranty Weight\tCrossover\tBrand\n\n–6\n87.6dB; sensitivity_basis\t300 at\t240", 4),
        ("tall  240, Line | btw Impedance\t00~~\nPrice: A 20; \nB  An; Frequency, : ; pairs\t31   units : ; ", 4),
    ],
)
def test_what_only_looks_like_a_table_is_read_all_the_same(text: str, count: int) -> None:
    assert len(read_datasheet(text).numbers) == count
