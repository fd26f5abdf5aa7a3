"""Tables and lists as they are printed: heads of two lines, rows and values that go on below, lines that hang.

That such rows are one is common practice of print, no source; the sheets are invented.
"""

from __future__ import annotations

import pytest

from triptych.catalog.datasheet import read_datasheet
from triptych.catalog.datasheet.going_on import rows_whole
from triptych.catalog.records import PricePer

COLUMNS = """\
                    Heron 1         Heron 3         Heron 5
Sensitivity         86 dB           88 dB           90 dB
Nominal             8 ohms          6 ohms          4 ohms
impedance
Midrange            -               -               1 x 130 mm
Tweeter             25 mm silk dome
Crossover           2.5 kHz         250 Hz          350 Hz
                                    2.5 kHz         2.8 kHz
Dimensions          180 x 300 x     180 x 900 x     210 x 1040 x
(W x H x D, mm)     240             280             330
"""


def test_a_row_whose_cells_go_on_below_is_one() -> None:
    first, second, third = read_datasheet(COLUMNS).records
    assert [record.values.get("width") for record in (first, second, third)] == [0.18, 0.18, 0.21]
    assert [record.values.get("depth") for record in (first, second, third)] == [0.24, 0.28, 0.33]
    assert [record.values.get("crossover") for record in (first, second, third)] == [
        (2500.0,),
        (250.0, 2500.0),
        (350.0, 2800.0),
    ]


def test_a_lone_value_is_of_all_where_dashes_stand_for_nothing() -> None:
    assert [record.values.get("tweeter_size") for record in read_datasheet(COLUMNS).records] == [0.025] * 3
    without = COLUMNS.replace(
        "-               -               1 x 130 mm", "100 mm          120 mm          1 x 130 mm"
    )
    sizes = [record.values.get("tweeter_size") for record in read_datasheet(without).records]
    assert sizes[1:] == [None, None]


@pytest.mark.parametrize(
    "text",
    [
        "FACTS        Heron        Marl\n             One          Two",
        "Weight       8 kg         9 kg\nPort         rear         front",
        "Units   Low  16 cm        16 cm x 2\n        Mid  -            10 cm",
    ],
)
def test_rows_of_their_own_are_left_apart(text: str) -> None:
    assert rows_whole(text) == text


def test_values_on_lines_under_their_label_are_one() -> None:
    sheet = "Medidas con rejilla\n    348 mm (alto)\n    202 mm (ancho)\n    291 mm (fondo)\nPeso\n    7,9 kg\n"
    [record] = read_datasheet(f"Retama 2\n\n{sheet}").records
    assert [record.values.get(side) for side in ("height", "width", "depth")] == [0.348, 0.202, 0.291]


def test_a_head_of_two_lines_tells_units_in_brackets() -> None:
    head = "Modelo\tAlto\tAncho\tFondo\tPeso\tPotencia\tPVP con IVA\n\t(mm)\t(mm)\t(mm)\t(kg)\trecom. (W)\t(€/ud.)\n"
    rows = "Tordo 1\t305\t180\t245\t5,9\t20-80\t229,00\nTordo 3\t890\t180\t270\t14,2\t30-140\t459,00\n"
    first, second = read_datasheet(head + rows).records
    assert (first.values.get("height"), first.values.get("weight")) == (0.305, 5.9)
    assert (second.values.get("amplifier_max"), second.values.get("price_per")) == (140.0, PricePer.EACH)


def test_what_a_section_says_of_its_prices_is_of_its_rows() -> None:
    head = "Modell      Maße B x H x T     Impedanz   UVP\n"
    boxes = (
        "REGALBOXEN (Preise je Paar)\nFink 1      19 x 34 x 27 cm    8 Ohm      699,-\n"
        "Fink 2      21 x 38 x 29 cm    8 Ohm      899,-\n"
    )
    centre = "CENTER (Preise je Stück)\nFink C      46 x 17 x 26 cm    4 Ohm      399,-\n"
    records = read_datasheet(head + boxes + centre).records
    assert [record.values.get("price_per") for record in records] == [PricePer.PAIR, PricePer.PAIR, PricePer.EACH]


def test_lines_that_hang_under_a_name_with_a_price_are_its_own() -> None:
    listed = "".join(
        f"Ontano {name}, da scaffale a 2 vie, woofer {woofer} cm ......... € {price},00 la coppia\n"
        f"    mm {size} (LxAxP) – kg {weight} cad. – {level} dB – 8 ohm\n"
        for name, woofer, price, size, weight, level in (
            ("Uno", 14, 480, "175 x 300 x 240", "5,4", 86),
            ("Due", 16, 590, "195 x 340 x 260", "7,1", 88),
        )
    )
    first, second = read_datasheet(f"Listino\n\n{listed}").records
    assert (first.values.get("model"), first.values.get("width"), first.values.get("weight")) == (
        "Ontano Uno",
        0.175,
        5.4,
    )
    assert (second.values.get("price"), second.values.get("sensitivity")) == (590, 88.0)


def test_labels_behind_no_mark_and_a_short_word_before_a_label_are_read() -> None:
    [record] = read_datasheet(
        "Brand: Huiyan Model: YL-601 Type: center speaker\nRated impedance 6Ω\nMin. impedance 4.6Ω\nN.W. 7.8kgs"
    ).records
    assert (record.values.get("maker"), record.values.get("model")) == ("Huiyan", "YL-601")
    assert (record.values.get("impedance_nominal"), record.values.get("impedance_minimum")) == (6.0, 4.6)


def test_drivers_of_one_sentence_are_told_apart_by_their_sizes() -> None:
    for text in (
        "Zwei 110-mm-Tieftöner flankieren eine 25-mm-Gewebekalotte.",
        "Two 110 mm woofers surround a 25 mm fabric dome.",
        "Dwa woofery 11 cm i kopułka tekstylna 25 mm.",
    ):
        values = read_datasheet(text).records[0].values
        assert (values.get("woofer_size"), values.get("tweeter_size")) == (0.11, 0.025), text
    [record] = read_datasheet("Der Tieftöner hat eine 165-mm-Membran.").records
    assert record.values.get("tweeter_size") is None


def test_sides_with_an_article_before_them_are_read() -> None:
    # German and Polish prose put a case's words between figure and side
    for text in (
        "Der C 25 misst 42 Zentimeter in der Breite, 15 in der Höhe und 23 in der Tiefe.",
        "Kolumna ma 15 cm wysokości, 42 cm szerokości i 23 cm głębokości.",
    ):
        values = read_datasheet(text).records[0].values
        assert [values.get(side) for side in ("width", "height", "depth")] == [0.42, 0.15, 0.23], text
