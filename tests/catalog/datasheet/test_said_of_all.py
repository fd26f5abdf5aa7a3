"""What is said once for several loudspeakers: of all, of a kind, or by a line that names nobody.

What each must give is common practice of the trade; no source.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from triptych.catalog.datasheet import ReadStatus, read_datasheet
from triptych.catalog.datasheet.unowned import OF_ALL
from triptych.catalog.records import Enclosure, PricePer, SoldAs, Tax

TABLE = """\
Model name            Reed 2        Reed 4         Reed C
Sensitivity           86dB          89dB           88dB
Dimensions (HxWxD mm) 320x190x260   1000x200x310   180x480x260
Weight                6.2kg         18.5kg         9.4kg
Price                 £490          £990           £390
"""
SECTIONS = """\
All Reed models have a rear port and come with foam bungs.

Reed 2
Bookshelf.
Sensitivity: 86 dB
Size (HxWxD): 320 x 190 x 260 mm
Weight: 6.2 kg

Reed C
The centre, a sealed one.
Sensitivity: 88 dB
Size (HxWxD): 180 x 480 x 260 mm
Weight: 9.4 kg
All prices include VAT at 20%.
"""


def test_a_labelled_line_that_names_nobody_is_of_all_and_says_so() -> None:
    for record in read_datasheet(f"{TABLE}\nNominal impedance 8 ohms.\n").records:
        assert record.fields["impedance_nominal"].value == 8
        assert OF_ALL in record.fields["impedance_nominal"].flags


@pytest.mark.parametrize(
    "line",
    [
        "Crossover 2.6 kHz 2.5 kHz",
        "Sensitivity 91 dB",
        "Subwoofer: woofer 250 mm",
        "Never use an amplifier above 100 W with less than 4 ohms.",
    ],
)
def test_figures_for_some_or_of_their_own_or_of_another_are_given_to_nobody(line: str) -> None:
    before, after = (read_datasheet(text).records for text in (TABLE, f"{TABLE}\n{line}\n"))
    assert [dict(record.values) for record in before] == [dict(record.values) for record in after]


def test_what_one_says_of_itself_stands_above_what_is_said_of_all() -> None:
    two, centre = read_datasheet(SECTIONS).records
    assert two.values["enclosure"] is Enclosure.PORTED
    assert two.values["bung"] is True
    assert centre.values.get("enclosure") is not Enclosure.PORTED
    assert "bung" not in centre.values


def test_terms_for_all_end_the_section_above_them() -> None:
    sheet = read_datasheet(SECTIONS.replace("Weight: 6.2 kg", "Weight: 6.2 kg\nPrice: £490"))
    assert sheet.records[0].values["tax"] is Tax.INCLUDED


def test_an_amount_beside_prices_is_what_something_else_costs() -> None:
    terms = "All prices include VAT at 20%. Reed stand £260 per pair, 600mm tall.\n"
    for record, price in zip(read_datasheet(f"{TABLE}\n{terms}").records, (490, 990, 390), strict=True):
        assert (record.values["price"], record.values["tax"]) == (Decimal(price), Tax.INCLUDED)


@pytest.mark.parametrize(
    "said",
    [
        "Price not include VAT.",
        "Prices do not include 20% VAT.",
        "Precios: IVA no incluido.",
        "Prezzi IVA 22% esclusa.",
    ],
)
def test_tax_that_is_not_included_is_excluded(said: str) -> None:
    assert {record.values["tax"] for record in read_datasheet(f"{said}\n\n{TABLE}").records} == {Tax.EXCLUDED}


LIST = """\
Alle Preise in Euro inkl. 19 % MwSt. Regallautsprecher je Paar, alle übrigen je Stück.

Modell      Bauart          kg     Ohm   dB    UVP        {past}
Quarz 1     Regal           5,2    8     86    598,-      548,-
Quarz 6     Stand           22,4   4     89    1.190,-    1.090,-
Quarz C     Center          9,8    4     88    auf Anfrage   449,-
"""


def test_a_price_is_for_what_its_kind_is_sold_by_and_taxed_as_all() -> None:
    one, six, _ = read_datasheet(LIST.format(past="bisher")).records
    told = [(one.values["price"], one.values["price_per"]), (six.values["price"], six.values["price_per"])]
    assert told == [(Decimal(598), PricePer.PAIR), (Decimal(1190), PricePer.EACH)]
    assert (one.values["tax"], one.values["currency"]) == (Tax.INCLUDED, "EUR")


@pytest.mark.parametrize("past", ["bisher", "alter Preis", "Was", "vecchio prezzo"])
def test_a_former_price_is_none_even_where_the_present_one_is_asked_for(past: str) -> None:
    records = read_datasheet(LIST.format(past=past)).records
    assert "price" not in records[2].values
    assert all(record.fields["price"].status is ReadStatus.READ for record in records[:2])


def test_of_prices_of_two_years_the_later_one_is_asked() -> None:
    [one, _] = read_datasheet(
        "Model      kg     dB    ohm   Prijs 2024    Prijs 2025\n"
        "Kwarts 1   5,2    86    8     € 599         € 629\n"
        "Kwarts 2   7,9    87    8     € 799         € 849\n"
    ).records
    assert one.values["price"] == Decimal(629)


def test_two_lines_of_one_matter_are_not_of_all() -> None:
    lines = "\nUnits: 13 cm cone woofer x 1\nUnits: 16 cm cone woofer x 2\n"
    assert not any("woofer_size" in record.values for record in read_datasheet(TABLE + lines).records)


def test_lines_under_a_heading_of_one_are_its_own() -> None:
    lines = "\n■ SERIES REED 2 (bookshelf)\n13 cm cone woofer x 1\nReed C (centre)\n10 cm cone woofer x 2, sealed box\n"
    two, four, centre = read_datasheet(TABLE + lines).records
    assert (two.values["woofer_size"], centre.values["woofer_size"]) == (0.13, 0.1)
    assert centre.values["enclosure"] is Enclosure.SEALED
    assert "woofer_size" not in four.values


def test_each_unless_noted_is_what_the_other_prices_are_for() -> None:
    one, six = read_datasheet(
        "MSRP in US dollars, each unless noted. Sales tax not included. Freight over $2,500. Supersedes 2025-B.\n\n"
        "Model     lb     ohm   dB    MSRP\nReed 1    11.5   8     86    $449/pr\nReed 6    44     8     91    $649\n"
    ).records
    assert [record.values["price_per"] for record in (one, six)] == [PricePer.PAIR, PricePer.EACH]
    assert one.values.get("sold_as") is not SoldAs.SINGLE
    assert {one.values["tax"], six.values["tax"]} == {Tax.EXCLUDED}


def test_the_ranges_of_drivers_tell_the_hand_overs() -> None:
    three = "2 x 170 mm Tieftöner (bis 280 Hz), 130 mm Mitteltöner (280 bis 2.600 Hz), 25 mm Kalotte (ab 2.600 Hz)"
    assert read_datasheet(f"Bestückung: {three}").records[0].values["crossover"] == (280, 2600)
    odd = three.replace("280 bis", "300 bis")
    assert "crossover" not in read_datasheet(f"Bestückung: {odd}").records[0].values


def test_what_every_price_is_for_stands_above_how_each_kind_is_sold() -> None:
    two, centre = read_datasheet(
        "Every price is for ONE speaker, before sales tax. Bookshelf and surround models ship as a pair.\n"
        "Towers and centers ship one per carton.\n\n"
        "Model     What it is     lb     ohm   dB    MSRP\nReed 1    Bookshelf      11.5   8     86    $449\n"
        "Reed C    Center         16     8     89    $349\n"
    ).records
    assert [record.values["price_per"] for record in (two, centre)] == [PricePer.EACH] * 2
    assert {record.values["tax"] for record in (two, centre)} == {Tax.EXCLUDED}
    assert centre.values.get("sold_as") is not SoldAs.PAIR


def test_what_holds_unless_noted_is_of_all_but_those_that_note_it() -> None:
    small, centre = read_datasheet(
        "Salvo nota: precio por unidad, tweeter de cúpula de seda de 25 mm, 8 ohmios.\n\n"
        "Ref. 101  Junco 2 ................ 165,00\n   Woofer 12 cm. 85 dB. Corte 3 kHz.\n"
        "   An 16 × Al 26 × F 21 cm. 3,9 kg. Se sirve por parejas.\n\n"
        "Ref. 102  Junco C ................ 285,00\n   Dos woofers de 12 cm. 4 ohmios. 88 dB. Corte 3 kHz.\n"
        "   An 42 × Al 16 × F 22 cm. 7 kg. Se sirve por unidades.\n"
    ).records
    assert [record.values["price"] for record in (small, centre)] == [Decimal(165), Decimal(285)]
    assert [record.values["price_per"] for record in (small, centre)] == [PricePer.EACH] * 2
    assert [record.values["impedance_nominal"] for record in (small, centre)] == [8, 4]
    assert [record.values["tweeter_size"] for record in (small, centre)] == [0.025] * 2
    assert [record.values["sold_as"] for record in (small, centre)] == [SoldAs.PAIR, SoldAs.SINGLE]
