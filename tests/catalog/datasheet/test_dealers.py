"""What dealers write: offers under each other, prices beside others, and what belongs to none of them."""

from __future__ import annotations

import pytest

from triptych.catalog.datasheet import read_datasheet

LIST = """HARBOUR HI-FI - PRE-LOVED - LIST OF FRIDAY

Cawsand Lugger II (walnut, pair) .......... £425   was £875 new
 Rear-ported two-way with 28mm soft dome and 6.5in bass-mid. 88dB, 8 ohms, made for 25-100W amps. 36 x 21 x 29cm HWD.

Cawsand Brig (black ash, pair) .......... SOLD - was £1,150
 Sorry. There may be another in a fortnight.

Thornaby Quarto (single, centre) .......... £190 each, we have 2
 Ex-demonstration, list price £340. Sealed. Two 5in bass units. 6 ohm, 87dB. 165mm high, 440mm wide, 230mm deep. 7.9kg.
"""
PRICES = [
    ("Price: 48,000 yen (pair)  Shipping 2,200 yen (islands 4,400 yen)", 48000),
    ("Price: US $612.00 per pair  List price: US $899.00\nor $51.00 for 12 months", 612),
    ("1 190,00 € TTC la paire\nPrix conseillé : 1 390,00 €\nou 4 x 297,50 € sans frais", 1190),
    ("Preis: 890 EUR das Paar, Listenpreis: 1.090 EUR", 890),
    ("Precio: 579 €/pareja. Precio recomendado: 649 €", 579),
    ("Prezzo: 720 € la coppia. Prezzo di listino: 890 €", 720),
    ("Prijs: € 429 per stuk, verkoopadvies: € 469", 429),
    ("Cena: 3 499 zł za parę, cena katalogowa 4 998 zł (2 499 zł/szt.)", 3499),
    ("Price £1,095 a pair or £1,040 for bank transfer", 1095),
]
"""Prices as dealers write them beside others, in each language: common practice, no source."""


def test_offers_under_each_other_are_each_their_own() -> None:
    found = {str(one.values.get("model")): one.values for one in read_datasheet(LIST).records}
    assert len(found) == 2
    lugger, quarto = found.values()
    assert (lugger["price"], lugger["price_per"].value, lugger["amplifier_max"]) == (425, "pair", 100)
    assert (quarto["price"], quarto["price_per"].value, quarto["width"]) == (190, "each", 0.44)


@pytest.mark.parametrize(("line", "price"), PRICES)
def test_the_price_is_what_is_asked_today(line: str, price: int) -> None:
    fields = read_datasheet(f"Wren 3\nWeight: 7 kg\nSensitivity: 88 dB\n{line}").records[0].fields
    assert fields["price"].value == price


def test_what_a_pair_only_costs_is_asked_and_taken_as_inferred() -> None:
    field = read_datasheet("Wren 3\nWeight: 7 kg\nPrice: $612\nWe sell only as pair.").records[0].fields["price_per"]
    assert field.value.value == "pair"
    assert field.status.value == "inferred"


def test_a_packed_weight_is_no_price_and_says_nothing_of_tax() -> None:
    fields = read_datasheet("Wren 3\nMasa: 7 kg\nCena: 900 zł/szt.\nKarton: 61 x 45 x 39 cm, brutto 34,9 kg").records[0]
    assert fields.values["price"] == 900
    assert "tax" not in fields.values


def test_a_sentence_that_ends_in_a_short_word_ends_there() -> None:
    text = "Wren 3\nSealed, two 13 cm cones, 25 mm dome over them all. 89 dB 6 ohm, 46 x 17 x 25 cm (WxHxD), 8.5 kg"
    values = read_datasheet(text).records[0].values
    assert (values["sensitivity"], values["impedance_nominal"]) == (89, 6)
