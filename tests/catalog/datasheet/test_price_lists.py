"""Price lists and comparison tables as dealers and magazines print them, and what they call their loudspeakers.

What each must give is common practice of the trade; no source.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from triptych.catalog.datasheet import Fate, read_datasheet
from triptych.catalog.datasheet.name_parts import GUESSED
from triptych.catalog.datasheet.storing import name_of, record_of
from triptych.catalog.errors import BadInput
from triptych.catalog.records import PricePer, Role, Tax

LIST = """\
QUARRY FINCH LTD - PRICE LIST 3 - valid from 1/4/2025
RRP includes VAT at 20%. Trade prices exclude VAT.

Code     Description                      Imp.     RRP        Trade      Per      EAN
LINTEL SERIES
QF11     Lintel 1 bookshelf, bass 13 cm   8 ohm    £549.00    £311.10    pair     5000000000011
QF12     Lintel Centre, 2 x 13 cm bass    6 ohm    £349.00    £197.77    each     5000000000012
QF13     Lintel Stand 60 cm                        £149.00    £84.43     pair     5000000000013
GABLE SERIES
QF21     Gable 5 floorstander             4 ohm    £1,299.00  £736.10    pair     5000000000021
"""


def test_a_price_list_gives_what_a_shopper_pays_and_for_what() -> None:
    records = read_datasheet(LIST).records
    told = [(r.values["model"], r.values["price"], r.values["price_per"], r.values["tax"]) for r in records]
    assert told == [
        ("Lintel 1", Decimal(549), PricePer.PAIR, Tax.INCLUDED),
        ("Lintel Centre", Decimal(349), PricePer.EACH, Tax.INCLUDED),
        ("Gable 5", Decimal(1299), PricePer.PAIR, Tax.INCLUDED),
    ]
    assert [record.values["series"] for record in records] == ["LINTEL", "LINTEL", "GABLE"]
    assert {record.values["maker"] for record in records} == {"QUARRY FINCH"}
    assert [record.values["roles"] for record in records] == [{Role.MAIN}, {Role.CENTRE}, {Role.MAIN}]


def test_what_the_trade_pays_and_a_bar_code_are_listed_as_not_read() -> None:
    sheet = read_datasheet(LIST)
    fates = {number.text: number.fate for number in sheet.numbers}
    assert {fates[text] for text in ("311.10", "736.10", "5000000000021", "149.00")} == {Fate.NOT_READ}


def test_a_list_in_one_currency_says_so_once() -> None:
    [first, _] = read_datasheet(
        "Alle Preise in EUR je Stück, UVP inkl. 19 % MwSt.\n\n"
        "Art.-Nr.   Bezeichnung       Impedanz   UVP       HEK\n"
        "10-44      Quarz 10 Regal    8 Ohm      329,00    179,70\n"
        "10-45      Quarz C Center    4 Ohm      499,00    272,60\n"
    ).records
    assert (first.values["currency"], first.values["price_per"], first.values["price"]) == (
        "EUR",
        PricePer.EACH,
        Decimal(329),
    )
    assert first.values["tax"] is Tax.INCLUDED


def test_lines_of_a_list_without_a_head_are_a_loudspeaker_each() -> None:
    records = read_datasheet(
        "Quarry Finch\n\nLintel 1 - standmount, 8 ohm, £450 pair\nLintel 3 - floorstander, 6 ohm, £980 pair\n"
        "Lintel C - centre, 6 ohm, £390 each\n"
    ).records
    assert [(r.values["model"], r.values["price"], r.values["impedance_nominal"]) for r in records] == [
        ("Lintel 1", Decimal(450), 8.0),
        ("Lintel 3", Decimal(980), 6.0),
        ("Lintel C", Decimal(390), 6.0),
    ]


def test_a_list_may_call_its_price_otherwise() -> None:
    records = read_datasheet(
        "Product                  Nominal    SRP     Sold as\nCairn I - 2-way tower    8 ohms     £480    Pair\n"
        "Cairn V - 3-way tower    6 ohms     £980    Pair\n"
    ).records
    assert [(r.values["model"], r.values["price"], r.values["price_per"]) for r in records] == [
        ("Cairn I", Decimal(480), PricePer.PAIR),
        ("Cairn V", Decimal(980), PricePer.PAIR),
    ]


def test_prices_in_several_currencies_are_asked() -> None:
    [first, _] = read_datasheet(
        "Model    Type          Imp.   GBP    EUR\nFyr 1    standmount    8 Ω    650    750\n"
        "Fyr C    centre        6 Ω    420    490\n"
    ).records
    assert first.values.get("price") is None


def test_a_date_is_no_value_of_three_loudspeakers() -> None:
    sheet = read_datasheet(
        "LISTINO valido dal 1/2/2025\n\nModello   Imp.    Prezzo\nUva 1     8 ohm   € 480,00\n"
        "Uva 3     6 ohm   € 980,00\nUva C     6 ohm   € 390,00\n"
    )
    assert [record.values["price"] for record in sheet.records] == [480, 980, 390]


def test_the_claimed_level_stands_beside_a_measured_one() -> None:
    first, second = read_datasheet(
        "TEST\n\nModel                    Orchard Pippin   Tarn T-50\n"
        "Weight                   6.9 kg           9.2 kg\n"
        "Nominal impedance        8 ohm            8 ohm\n"
        "Sensitivity (claimed)    88 dB            89 dB\nSensitivity (measured)   86.4 dB          87.7 dB\n"
    ).records
    assert (first.values["sensitivity"], second.values["sensitivity"]) == (88.0, 89.0)
    assert any("86.4 dB, measured" in flag for flag in first.fields["sensitivity"].flags)


BODY = "\n\nWidth: 480 mm\nHeight: 170 mm\nDepth: 290 mm\nWeight: 9 kg\nSensitivity: 88 dB (2.83 V/1 m)\n"


@pytest.mark.parametrize(
    ("title", "foot", "maker", "model"),
    [
        (
            "Lowfell 6C Centre Loudspeaker",
            "© 2025 Garsdale Acoustics Ltd. All rights",
            "Garsdale Acoustics",
            "Lowfell 6C",
        ),
        ("Merlin Four\nby Thornwick Audio", "", "Thornwick Audio", "Merlin Four"),
        ("Eskdale Audio Ravine C2 3-Way Centre Speaker - Walnut", "", "Eskdale Audio", "Ravine C2"),
        ("Tollgate_Spire_v2.pdf\n\nTollgate Audio\nSpire C5", "", "Tollgate Audio", "Spire C5"),
        ("STANMERE AUDIO\nCHANCEL VII FLOORSTANDING LOUDSPEAKER", "", "STANMERE AUDIO", "CHANCEL VII"),
        ("Weidenhof\nCenterlautsprecher »Ulme 50 C«", "", "Weidenhof", "Ulme 50 C"),
        ("Saltmarsh Curlew C", "I like the Curlew C.", "Saltmarsh", "Curlew C"),
    ],
)
def test_a_name_is_found_where_it_stands(title: str, foot: str, maker: str, model: str) -> None:
    [record] = read_datasheet(f"{title}{BODY}\n{foot}\n").records
    assert (record.values["maker"], record.values["model"]) == (maker, model)


def test_a_guess_at_a_name_is_shown_and_asked_but_not_stored() -> None:
    [record] = read_datasheet(f"Nettle Forge Anvil 30{BODY}").records
    assert (record.values["maker"], record.fields["maker"].flags) == ("Nettle Forge", (GUESSED,))
    assert any(question.startswith("maker") for question in record.questions)
    with pytest.raises(BadInput, match="maker"):
        record_of(record, "a sheet", {"roles": "centre"})
    assert name_of(record, {"maker": "Nettle"}) == "Nettle Forge Anvil 30"
    assert record_of(record, "a sheet", {"roles": "centre", "maker": "Nettle"}).model == "Forge Anvil 30"


def test_what_a_footnote_goes_on_to_say_of_stands_is_no_price_of_the_list() -> None:
    records = read_datasheet(
        "Modell      UVP/Stück*    Gewicht\nHalm 2      798,00        9,4 kg\nHalm 4      1.449,00      21,7 kg\n"
        "Halm C      749,00        12,1 kg\n\n"
        "* inkl. MwSt. Die Standfüße SF-7 (149,00 das Paar) sind nicht mehr lieferbar."
    ).records
    assert [record.values["price"] for record in records] == [798, 1449, 749]
    assert {record.values["price_per"] for record in records} == {PricePer.EACH}


def test_a_name_within_another_word_tells_nothing_of_how_the_others_are_sold() -> None:
    # 'mini' stands in 'aluminium', which is said of all
    records = read_datasheet(
        "Adviesprijzen per stuk, tenzij anders vermeld\n\nmodel         prijs    kg     woofer     dB   ohm\n"
        "Kreel Mini    239,-    3,6    1 x 115    84   8\nKreel Zuil    799,-    18,2   2 x 165    90   4\n\n"
        "De hele serie heeft een 25 mm aluminium dome.\n"
        "De Mini wordt uitsluitend per paar geleverd, de prijs hierboven is wel per stuk."
    ).records
    assert [record.values["price_per"] for record in records] == [PricePer.EACH] * 2


@pytest.mark.parametrize("heads", ["Claimed      Measured", "Dichiarato   Rilevato", "Hersteller   Messwert"])
def test_columns_that_say_who_tells_are_no_two_loudspeakers(heads: str) -> None:
    sheet = read_datasheet(
        f"Tarn Wren 2\n\n                {heads}\nWeight          7.8 kg       8.05 kg\n"
        "Sensitivity     88 dB        86.3 dB\nImpedance       8 ohm        –\nHigh limit      25 kHz       –\n"
    )
    assert len(sheet.records) == 1
    assert sheet.records[0].values.get("weight") is None


def test_a_row_that_ends_in_stands_is_no_loudspeaker_and_one_not_of_a_pair_is_each() -> None:
    records = read_datasheet(
        "MODEL           MSRP      SOLD    WT (lb)\nRidge 61        $1,198    pair    18.9\n"
        "Ridge 63T       $1,399    each    52\nRidge Stands    $299      pair    31\n"
    ).records
    assert [record.values["price"] for record in records] == [1198, 1399]
    one = read_datasheet("Tarn Wren 2\nStückpreis 1.595 € (nicht Paar)").records[0]
    assert one.values["price_per"] is PricePer.EACH
