"""Lines of a label with a value for each of several loudspeakers, and tables whose names or sides are told shortly.

What each must give is common practice of the trade; no source.
"""

from __future__ import annotations

import pytest

from triptych.catalog.datasheet import SheetRecord, read_datasheet
from triptych.catalog.records import Enclosure, PortLocation, SensitivityBasis, Tax

BY_NAMES = """\
Sensitivity(2.83V/1m): QF-21 86dB; QF-22C 88dB; QF-23 90dB
Impedance: QF-21 8Ω; QF-22C 6Ω; QF-23 4Ω
Size(W*D*H): QF-21 180*240*290mm; QF-22C 460*220*160mm; QF-23 210*320*960mm
N.W.: QF-21 9.6kgs/pair; QF-22C 6.4kgs/pc; QF-23 19kgs/pc
"""
BY_A_WORD = """\
Technische Daten (Reed 7 bzw. Reed Quer)

Maße (B x H x T): 22 x 104,5 x 34,5 cm bzw. 52 x 19 x 31 cm
Gewicht: 21,3 kg bzw. 11,8 kg; im Karton 25,9 kg bzw. 13,4 kg
Kennschalldruck: 87 bzw. 89 dB
Nennimpedanz: 4 Ohm (min. 3,4 Ohm) bzw. 6 Ohm (min. 4,8 Ohm)
"""


def told(record: SheetRecord, *columns: str) -> list[object]:
    return [record.values.get(column) for column in columns]


@pytest.mark.parametrize("comma", [";", "；"])
def test_clauses_that_open_with_the_names_are_each_ones_own(comma: str) -> None:
    records = read_datasheet(BY_NAMES.replace("; ", comma if comma == "；" else "; ")).records
    assert [told(r, "sensitivity", "impedance_nominal", "width", "weight") for r in records] == [
        [86, 8, 0.18, 4.8],
        [88, 6, 0.46, 6.4],
        [90, 4, 0.21, 19],
    ]


def test_a_word_between_two_values_parts_them() -> None:
    records = read_datasheet(BY_A_WORD).records
    columns = ("height", "weight", "sensitivity", "impedance_nominal", "impedance_minimum")
    assert [told(record, *columns) for record in records] == [[1.045, 21.3, 87, 4, 3.4], [0.19, 11.8, 89, 6, 4.8]]


def test_two_lines_of_that_form_are_no_table() -> None:
    assert len(read_datasheet("Reed 7: 8 Ohm bzw. 6 Ohm\nGewicht: 9 kg bzw. 12 kg").records) == 1


TABLE = """\
Model name            Reed 2        Reed 4         Reed C
Sensitivity           86dB          89dB           88dB
Frequency response    45Hz-22kHz    38Hz-22kHz     70Hz-22kHz
Weight                6.2kg         18.5kg         9.4kg
"""


def test_a_condition_that_one_line_tells_is_that_of_each() -> None:
    terms = "Sensitivity for 2.83 V at 1 m, anechoic. Frequency response at -6 dB."
    for record in read_datasheet(f"{TABLE}\n{terms}").records:
        assert told(record, "sensitivity_basis", "low_limit_drop") == [SensitivityBasis.ANECHOIC, 6]
        assert not any("taken as 2.83 V" in flag for flag in record.fields["sensitivity"].flags)


def test_but_not_where_a_row_says_otherwise() -> None:
    rows = TABLE.replace("response ", "response (-3 dB)").replace("Sensitivity  ", "Sensitivity (in-room)")
    for record in read_datasheet(f"{rows}\nFrequency response at -6 dB. Sensitivity 2.83 V, anechoic.").records:
        assert record.values["low_limit_drop"] == 3
        assert record.values["sensitivity_basis"] is SensitivityBasis.IN_ROOM


def test_one_cell_that_says_all_models_is_of_each() -> None:
    records = read_datasheet(f'{TABLE}Tweeter               1" aluminum dome in all models\n').records
    assert [round(record.values["tweeter_size"], 4) for record in records] == [0.0254] * 3


def test_a_list_of_names_calls_each_by_what_no_other_has() -> None:
    two, four, centre = read_datasheet(f"{TABLE}\nReed 2 and 4 have a rear port, Reed C is sealed.").records
    assert told(two, "enclosure", "port_location") == [Enclosure.PORTED, PortLocation.REAR]
    assert told(four, "enclosure", "port_location") == [Enclosure.PORTED, PortLocation.REAR]
    assert centre.values["enclosure"] is Enclosure.SEALED


def test_rows_that_only_describe_are_called_by_their_article_numbers() -> None:
    records = read_datasheet(
        "Item No.\tDescription\tImpedance\tSensitivity\tN.W.(kg)\tPrice(USD)\n"
        "QF-B4\tBookshelf, rear port\t4Ω\t84dB\t2.9\t24.50/pair\n"
        "QF-B6\tBookshelf, rear port\t8Ω\t87dB\t6.2\t52.80/pair\n"
    ).records
    assert [record.values["model"] for record in records] == ["QF-B4", "QF-B6"]
    assert {record.values["enclosure"] for record in records} == {Enclosure.PORTED}


@pytest.mark.parametrize(
    ("heads", "sides"),
    [
        ("L mm;A mm;P mm", (0.19, 0.33, 0.27)),
        ("A;L;P", (0.33, 0.19, 0.27)),
        ("B (mm);H (mm);T (mm)", (0.19, 0.33, 0.27)),
    ],
)
def test_letters_in_a_row_are_the_sides(heads: str, sides: tuple[float, ...]) -> None:
    [one, _] = read_datasheet(
        f"modello;{heads};peso;sens.;imp.\nQuarzo 1;190;330;270;7,3 kg;87 dB;8\nQuarzo 2;190;960;290;16 kg;89 dB;6\n"
    ).records
    assert told(one, "width", "height", "depth") == list(sides)


def test_a_pairs_two_weights_are_halved() -> None:
    record = read_datasheet("N.W./G.W.(KG): 11.6/13.4 per pair").records[0]
    assert record.values["weight"] == 5.8


def test_prices_by_name_in_a_line_of_terms_are_each_ones_own() -> None:
    line = "List from 1 Jan 2025: Reed 2 £295, Reed 4 £395, Reed C £240, plus VAT at 20%."
    records = read_datasheet(f"{TABLE}\n{line}").records
    assert [told(record, "price", "tax", "tax_rate") for record in records] == [
        [price, Tax.EXCLUDED, 20] for price in (295, 395, 240)
    ]


def test_a_label_over_two_cells_is_one() -> None:
    row = "Unit  LF              13cm          16cm x2        13cm x2\n"
    records = read_datasheet(TABLE + row).records
    assert [record.values["woofer_size"] for record in records] == [0.13, 0.16, 0.13]


def test_a_sentence_about_a_kind_is_not_of_all_that_were_named_before() -> None:
    sheet = read_datasheet(
        "Reed 2: 86 dB, 8 ohms, 6 kg, £490\nReed C: 88 dB, 6 ohms, 9 kg, £390\n\n"
        "Reed 2 and Reed C share a woofer of 130 mm. The centre has two woofers of 130 mm."
    )
    assert sheet.records[0].values.get("woofer_count") != 2
