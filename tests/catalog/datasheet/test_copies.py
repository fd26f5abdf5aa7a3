"""Texts as a copy leaves them: columns run together, labels apart from values, menus and conversations around."""

from __future__ import annotations

from typing import Any

import pytest

from triptych.catalog.datasheet import Fate, ReadStatus, SheetRecord, read_datasheet

STACKED = """\
Type
Two-way, rear ported
Sensitivity
87 dB (2.83 V at 1 m)
Nominal impedance
8 ohms
Dimensions (H x W x D)
342 x 198 x 291 mm
Net weight
8.4 kg"""
LISTED = """\
Hochtöner
Mitteltöner
Tieftöner
Nennimpedanz
Übertragungsbereich
Gewicht
25 mm Kalotte
1 x 100 mm
2 x 165 mm
4 Ohm
42 Hz - 22 kHz
19,3 kg"""
TWO_COLUMNS = """\
Zwei Wege, geschlossen, für kleine Räu-       Impedanz   4 Ohm
me gedacht. Das Gehäuse ist aus Eiche ge-     Gewicht   6,9 kg
fertigt, furniert und geölt. Seit dem Jahr    Breite   170 mm
2021 wird es gebaut, von Hand.                Höhe   290 mm"""


def only(text: str, **given: str) -> SheetRecord:
    [record] = read_datasheet(text, given).records
    return record


def values(text: str, *columns: str) -> list[Any]:
    found = only(text).values
    return [found.get(column) for column in columns]


def test_labels_and_values_in_turns() -> None:
    read = values(STACKED, "sensitivity", "impedance_nominal", "height", "width", "weight")
    assert read == pytest.approx([87.0, 8.0, 0.342, 0.198, 8.4])


def test_all_labels_and_then_all_values() -> None:
    read = values(LISTED, "tweeter_size", "midrange_size", "woofer_size", "impedance_nominal", "low_limit", "weight")
    assert read == pytest.approx([0.025, 0.1, 0.165, 4.0, 42.0, 19.3])


def test_a_missing_value_leaves_alike_labels_without_one() -> None:
    # one of three drivers has no value, and nothing but the dome tells which
    read = values(LISTED.replace("1 x 100 mm\n", ""), "tweeter_size", "midrange_size", "woofer_size", "weight")
    assert read[0] == pytest.approx(0.025)
    assert read[1] is None
    assert read[3] == pytest.approx(19.3)


def test_two_printed_columns_are_read_one_after_the_other() -> None:
    assert values(TWO_COLUMNS, "impedance_nominal", "weight", "width", "height") == pytest.approx(
        [4.0, 6.9, 0.17, 0.29]
    )


def test_a_table_is_no_two_columns() -> None:
    rows = (
        ("", "Wren 1", "Wren 2"),
        ("Width", "200 mm", "220 mm"),
        ("Weight", "8 kg", "18 kg"),
        ("Impedance", "8 ohm", "4 ohm"),
    )
    table = "\n".join(f"{label:14}{one:14}{other}" for label, one, other in rows)
    assert [record.values["weight"] for record in read_datasheet(table).records] == [8.0, 18.0]


def test_a_value_goes_on_below() -> None:
    told = ("Sensitivity", "88 dB (2.83 V/1 m)"), ("Tweeter", "28 mm beryllium dome,"), ("", "shallow waveguide")
    sheet = "Wren 3\n" + "\n".join(f"{label:24}{value}" for label, value in told)
    assert str(only(sheet).values["tweeter_type"].value) == "waveguide_dome"


def test_what_a_page_shows_around_a_loudspeaker_names_nothing() -> None:
    around = "Shop | Support | About us\nTarn Hollow Audio   Basket (0)   Sign in\n\n"
    page = f"{around}Wren 3\nWidth: 200 mm\n\nYou may also like\nRobin 5 £850"
    found = only(page).values
    assert (found["maker"], found["model"], found.get("price")) == ("Tarn Hollow Audio", "Wren 3", None)


@pytest.mark.parametrize(
    "talk",
    [
        "[12-10-2025 19:05] Joost: Impedance 4 ohm\n[12-10-2025 19:06] Henk: 89 dB at 2.83 V/1 m\n"
        "[12-10-2025 19:06] Henk: 19.5 kg",
        "joost: Impedance 4 ohm\nhenk: 89 dB at 2.83 V/1 m\njoost: and?\nhenk: 19.5 kg",
    ],
)
def test_who_says_what_and_when_is_no_figure(talk: str) -> None:
    assert values(talk, "impedance_nominal", "sensitivity", "weight") == [4.0, 89.0, 19.5]


@pytest.mark.parametrize(
    ("sides", "unit"), [("97 x 20 x 33", 0.01), ("12.25 x 7.5 x 9", 0.0254), ("970 x 200 x 330", 0.001)]
)
def test_sides_without_a_unit_are_those_that_can_weigh_so(sides: str, unit: float) -> None:
    weight = {0.01: "19.5 kg", 0.0254: "13.2 lb", 0.001: "19.5 kg"}[unit]
    record = only(f"Dimensions (HxWxD): {sides}\nWeight: {weight}")
    assert record.values["height"] == pytest.approx(float(sides.split()[0]) * unit)
    assert record.fields["height"].status is ReadStatus.INFERRED


def test_sides_without_a_unit_and_a_weight_are_asked() -> None:
    assert only("Dimensions (HxWxD): 97 x 20 x 33").fields["height"].status is ReadStatus.REFUSED


TWO = (
    "Wren One\n200 x 400 x 300 mm (WxHxD), 8 ohm, 250 EUR, 8 kg\n\n"
    "Wren Two\n220 x 900 x 310 mm (WxHxD), 4 ohm, 500 EUR, 18 kg\n\n"
)


@pytest.mark.parametrize(
    "line",
    [
        "Their sensitivity is 87 and 89 dB respectively.",
        "Wirkungsgrad 87 bzw. 89 dB.",
        "Sensibilité de 87 et 89 dB respectivement.",
        "Sensibilità rispettivamente 87 e 89 dB.",
        "Sensibilidad 87 y 89 dB respectivamente.",
        "Gevoeligheid respectievelijk 87 en 89 dB.",
        "Skuteczność odpowiednio 87 i 89 dB.",
        "The Two and the One have a sensitivity of 89 and 87 dB respectively.",
    ],
)
def test_values_in_the_order_of_names(line: str) -> None:
    assert [record.values["sensitivity"] for record in read_datasheet(TWO + line).records] == [87.0, 89.0]


@pytest.mark.parametrize("line", ["They weigh 8 and 18 kg respectively.", "Gewicht 8 bzw. 18 kg"])
def test_values_of_several_are_no_figure_of_one(line: str) -> None:
    sheet = read_datasheet(f"Wren One\nWidth: 200 mm\n{line}")
    assert "weight" not in sheet.records[0].values
    assert {one.fate for one in sheet.numbers if one.text in ("8", "18")} == {Fate.NOT_READ}


@pytest.mark.parametrize(
    ("prices", "price", "told"),
    [
        ("MSRP: $899.00\nOur price: $749.00", 749, "899.00"),
        ("1 299 zł 1 099 zł /szt. Oszczędzasz 200 zł", 1099, ""),
        ("New: $749.00\nOpen box: $561.75. You save 25%", 561.75, ""),
        ("Kostet 890 € das Paar (UVP 1.190 €)", 890, "1.190"),
        ("£1,480 a pair. Walnut adds £120.", 1480, ""),
        ("Vergleich: Boxen bis 2000 Euro\n899 € das Stück", 899, ""),
    ],
)
def test_the_present_price_is_taken_and_the_others_are_told(prices: str, price: float, told: str) -> None:
    record = only(f"Width: 200 mm\n{prices}")
    assert float(record.values["price"]) == price
    assert told in " ".join(record.fields["price"].flags)


def test_freight_extra_is_not_tax_extra() -> None:
    record = only("Width: 200 mm\nPreis: 777,00 € / Stück inkl. 19% MwSt., zzgl. Speditionsversand 49,90 €")
    assert (record.values["tax"].value, record.values["tax_rate"]) == ("included", 19.0)


def test_a_price_in_several_currencies_is_that_of_the_one_that_is_said() -> None:
    sheet = "Width: 200 mm\nPrice: €1299 / $1399 / £1,199"
    assert only(sheet).fields["price"].status is ReadStatus.REFUSED
    assert [float(only(sheet, currency=code).values["price"]) for code in ("EUR", "USD", "GBP")] == [1299, 1399, 1199]


TABLE = """\
Code\tDescription\tH\tW\tD\tWt\tRRP inc VAT\tUnit
\t\tmm\tmm\tmm\tkg\t£\t
A1\tWren S standmount\t320\t185\t265\t6.7\t500.00\tpair
A2\tWren S standmount\t320\t185\t265\t6.7\t500.00\tpair
A3\tWren C centre\t180\t490\t270\t9.9\t450.00\teach"""


def test_units_in_a_row_of_their_own_and_a_row_for_each_finish() -> None:
    first, second = read_datasheet(TABLE).records
    assert [first.values[name] for name in ("height", "weight")] == pytest.approx([0.32, 6.7])
    assert (first.values["price_per"].value, second.values["price_per"].value) == ("pair", "each")
    assert second.values["currency"] == "GBP"


def test_a_file_of_values_with_commas() -> None:
    rows = (
        "sku,brand,model,w_in,h_in,d_in,wt_lb,ohms,msrp,sale,per\n"
        'W1,"Sumac & Tin",LCR,7.25,17.5,9.75,19.8,6,449.00,399.00,each\n'
        "W2,Sumac & Tin,Mini,6.5,10.75,8,9.7,8,399.00,349.00,pair"
    )
    first, second = read_datasheet(rows).records
    assert (first.values["maker"], second.values["model"]) == ("Sumac & Tin", "Mini")
    assert first.values["height"] == pytest.approx(17.5 * 0.0254)
    assert [float(one.values["price"]) for one in (first, second)] == [399.0, 349.0]


def test_decimal_commas_part_no_cells() -> None:
    row = "Wren {0}, 17,8 x 54,6 x 30,0 cm (HxBxT), 1{0},2 kg, 87,5 dB, 399,00 €"
    sheet = read_datasheet("\n".join(map(row.format, (1, 2, 3))))
    assert [record.values["weight"] for record in sheet.records] == [11.2, 12.2, 13.2]


def test_a_table_without_labels_is_told_by_its_units_or_not_at_all() -> None:
    told = "Wren 1\t200 x 400 x 300 mm\t8 kg\t88 dB\t8 ohm\nWren C\t500 x 180 x 300 mm\t9 kg\t90 dB\t6 ohm"
    first, second = read_datasheet(told).records
    assert (first.values["weight"], second.values["impedance_nominal"]) == (8.0, 6.0)
    assert first.fields["width"].status is ReadStatus.REFUSED
    bare = read_datasheet("Wren 1\t200\t400\t300\t8\t88\nWren C\t500\t180\t300\t9\t90").records
    assert not {name for record in bare for name in record.values} - {"model", "maker", "series"}


def test_a_label_without_a_value_says_nothing() -> None:
    assert "roles" not in only("Type ; Passivmembran 0").fields
