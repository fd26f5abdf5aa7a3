"""What a sheet tells of a loudspeaker by another one is taken as inferred, and never against its own words."""

from __future__ import annotations

import pytest

from triptych.catalog.datasheet import ReadField, ReadStatus, read_datasheet

BASE = """Wren One
{one}.
300 x 180 x 250 mm (HxWxD), 7 kg, 86 dB (2.83 V/1 m), 8 ohm, 50 Hz - 22 kHz.

Wren Two
{two}.
980 x 180 x 290 mm (HxWxD), 18 kg, 89 dB (2.83 V/1 m), 4 ohm, 38 Hz - 22 kHz.
"""
TWEETER = [
    ("en", "25 mm silk dome tweeter, 150 mm woofer", "The same tweeter as the One, two 150 mm woofers"),
    ("de", "Hochtöner: 25 mm Seidenkalotte", "Der gleiche Hochtöner, zwei Tieftöner mit 150 mm"),
    ("fr", "Tweeter à dôme de soie 25 mm", "Même tweeter, deux 15 cm papier"),
    ("es", "Tweeter de cúpula de seda de 25 mm", "Con el tweeter de la One, dos woofers de 15 cm"),
    ("it", "Tweeter a cupola di seta da 25 mm", "Lo stesso tweeter della One, due woofer da 15 cm"),
    ("nl", "Tweeter: 25 mm zijden dome", "Dezelfde tweeter, twee 15 cm conussen"),
    ("pl", "Głośnik wysokotonowy: kopułka jedwabna 25 mm", "Ten sam głośnik wysokotonowy, dwa niskotonowe 15 cm"),
]
"""A tweeter that is told by another's, in each language: common practice, no source."""


def second(one: str, two: str) -> dict[str, ReadField]:
    found = read_datasheet(BASE.format(one=one, two=two)).records
    assert len(found) == 2
    return dict(found[1].fields)


@pytest.mark.parametrize(("language", "one", "two"), TWEETER, ids=[line[0] for line in TWEETER])
def test_the_same_tweeter_is_the_other_ones_and_told_as_inferred(language: str, one: str, two: str) -> None:
    fields = second(one, two)
    assert fields["tweeter_size"].value == pytest.approx(0.025)
    assert fields["tweeter_size"].status is ReadStatus.INFERRED
    assert any("told to be as that of" in flag for flag in fields["tweeter_size"].flags)


def test_its_own_words_stand_above_what_another_one_tells() -> None:
    fields = second("25 mm silk dome tweeter", "The same tweeter as the One but a 28 mm aluminium dome tweeter")
    assert fields["tweeter_size"].value == pytest.approx(0.028)
    assert fields["weight"].value == 18
    assert fields["weight"].status is ReadStatus.READ


def test_the_same_but_leaves_out_what_would_change_with_the_box() -> None:
    text = """Wren One
    Sealed box. 25 mm silk dome tweeter, 150 mm woofer. Crossover 2.5 kHz. 86 dB (2.83 V/1 m), 8 ohm, 7 kg, 900 EUR.

    Wren Two
    Otherwise like the One, a reflex port at the front. 45 Hz - 22 kHz, 88 dB (2.83 V/1 m), 8.2 kg.
    """
    fields = read_datasheet(text).records[1].fields
    assert fields["crossover"].value == (2500,)
    assert fields["crossover"].status is ReadStatus.INFERRED
    assert fields["port_location"].value.value == "front"
    assert "price" not in fields
    assert fields["weight"].value == 8.2


@pytest.mark.parametrize(
    "two", ["The same tweeter as its predecessor", "The same finish as the One", "Compared with a rival: same tweeter"]
)
def test_what_is_of_no_other_loudspeaker_of_the_sheet_or_of_no_figure_tells_nothing(two: str) -> None:
    assert "tweeter_size" not in second("25 mm silk dome tweeter", two)


def test_a_least_impedance_that_nobody_knows_is_none() -> None:
    text = "Wren 3\nPoids : 7 kg\nRendement : 88 dB\nImpédance : 8 ohms. Le mini je ne sais pas"
    values = read_datasheet(text).records[0].values
    assert values["impedance_nominal"] == 8
    assert "impedance_minimum" not in values


def test_spikes_counted_are_no_height_of_feet() -> None:
    text = "Tamara SR-4\nWidth: 26 cm\nHeight: 96 cm\nDepth: 33 cm\nAccessories: front net x 1, spike x 4, manual x 1"
    assert "feet" not in read_datasheet(text).records[0].fields


def test_a_date_says_nothing_of_how_a_loudspeaker_is_sold() -> None:
    text = "Wren 3\nWeight: 7 kg\nSensitivity: 88 dB\nPrice: $990 per pair\nPrices as of 3/1/25, before sales tax"
    sold = read_datasheet(text).records[0].fields.get("sold_as")
    assert sold is None or sold.value.value != "single"


def test_a_line_below_sections_with_figures_by_name_is_of_each_of_them() -> None:
    text = """ALMENDRO A1
    Medidas (alto x ancho x fondo): 30 x 18 x 24 cm. Peso: 5,6 kg. 86 dB. 8 ohmios.

    ALMENDRO A5
    Medidas (alto x ancho x fondo): 98 x 20 x 32 cm. Peso: 18,7 kg. 90 dB. 4 ohmios.

    Potencia recomendada: A1 de 20 a 80 W, A5 de 30 a 160 W.
    """
    told = [record.values for record in read_datasheet(text).records]
    assert [(one["amplifier_min"], one["amplifier_max"]) for one in told] == [(20, 80), (30, 160)]
