"""One list that names a loudspeaker twice, tells of two at once, or goes on in a second table."""

from __future__ import annotations

import pytest

from triptych.catalog.datasheet.reader import read_datasheet
from triptych.catalog.datasheet.result import ReadStatus

TWO = {"weight": [6.5, 17.2], "impedance_nominal": [8.0, 4.0], "height": [0.33, 0.95], "sensitivity": [86.0, 89.0]}


def _values(text: str, *columns: str) -> list[list[object]]:
    records = read_datasheet(text).records
    return [[one.fields[name].value if name in one.fields else None for one in records] for name in columns]


@pytest.mark.parametrize(
    "text",
    [
        "Product: Alder T3 Bookshelf Speaker\nMade here\n\nParameters\nModel No.: T3\nBrand: Kvist\nImpedance: 6 ohm",
        "Produkt: Alder T3 Regallautsprecher\n\nTechnische Daten\nModell: T3\nMarke: Kvist\nImpedanz: 6 Ohm",
        "Product: Passive bookshelf speaker\nModel No.: T3\nBrand: Kvist\nImpedance: 6 ohm",
    ],
)
def test_two_labels_name_one_loudspeaker(text: str) -> None:
    assert _values(text, "model", "maker", "impedance_nominal") == [["T3"], ["Kvist"], [6.0]]


def test_names_that_share_nothing_are_never_one_in_silence() -> None:
    [record] = read_datasheet("Product: Wren 2\nBlack\n\nModel: Robin 3\nImpedance: 6 ohm\nWeight: 9 kg").records
    assert record.fields["model"].status is ReadStatus.REFUSED
    assert len(read_datasheet("Model: Wren 2\nBlack\n\nModel: Robin 3\nImpedance: 6 ohm\nWeight: 9 kg").records) == 2
    told = "Model: Wren 2\nWeight: 8 kg\nImpedance: 6 ohm\n\nModel: Robin 3\nImpedance: 6 ohm\nWeight: 9 kg"
    assert _values(told, "model", "weight") == [["Wren 2", "Robin 3"], [8.0, 9.0]]


@pytest.mark.parametrize(
    "text",
    [
        "Moor Klang\nDaten Kiebitz 3 / Kiebitz 5\nWerte in eckigen Klammern gelten für die Kiebitz 5.\n\n"
        "Impedanz: 8 Ohm [4 Ohm]\nEmpfindlichkeit (2,83 V/1 m): 86 dB [89 dB]\nGewicht: 6,5 kg [17,2 kg]\n"
        "Maße (B x H x T): 190 x 330 x 260 mm [210 x 950 x 300 mm]",
        "Tarn Wren 2 and Tarn Wren 4\nFigures in parentheses are for the Tarn Wren 4.\n\nWeight: 6.5 kg (17.2 kg)\n"
        "Impedance: 8 ohms (4 ohms)\nSensitivity: 86 dB (89 dB), 2.83 V/1 m\nHeight (without feet): 330 mm (950 mm)",
        "Atelier Merisier : Passerin P et Passerin G\nLe premier chiffre est celui du P, le second celui du G.\n\n"
        "Impédance : 8 / 4 ohms\nSensibilité (2,83 V/1 m) : 86 / 89 dB\nPoids : 6,5 kg / 17,2 kg\n"
        "Hauteur : 330 mm / 950 mm",
        "Tarn Wren Q and Wren B\nThe figure for the B comes second and that for the Q first.\n\nWeight: 6.5 / 17.2 kg\n"
        "Impedance: 8 / 4 ohms\nSensitivity: 86 / 89 dB (2.83 V/1 m)\nHeight: 330 / 950 mm",
    ],
)
def test_two_figures_are_of_those_that_a_sentence_names(text: str) -> None:
    assert dict(zip(TWO, _values(text, *TWO), strict=True)) == TWO


def test_a_bracket_without_a_sentence_makes_no_second_loudspeaker() -> None:
    text = "Tarn Wren 2 / Tarn Wren 4\nWeight: 6.5 kg (14.3 lb)\nHeight: 330 mm (13 in)\nWidth: 190 mm (7.5 in)"
    assert len(read_datasheet(text).records) == 1


def test_a_second_table_goes_on_with_the_loudspeakers_of_the_first() -> None:
    text = (
        "Model           Old price     RRP\n"
        "Tarn Wren S     £1,190/pair   £1,290/pair\n"
        "Tarn Wren M     £1,690/pair   £1,790/pair\n"
        "Tarn Wren C     £790 each     £850 each\n\n"
        "      W x H x D (mm)    kg net    Ohm      Hz (-6 dB)\n"
        "S     180 x 320 x 260   7.1       8        48 - 24000\n"
        "M     210 x 390 x 310   10.4      8        40 - 24000\n"
        "C     510 x 180 x 280   12.2      4        58 - 24000\n"
    )
    found = _values(text, "price", "weight", "height", "impedance_nominal", "low_limit")
    assert found == [[1290, 1790, 850], [7.1, 10.4, 12.2], [0.32, 0.39, 0.18], [8.0, 8.0, 4.0], [48.0, 40.0, 58.0]]


@pytest.mark.parametrize(
    "aside",
    [
        "My old ones weighed 32 kg and went down to 29 Hz.",
        "Meine alten wogen 32 kg und reichten bis 29 Hz.",
        "Ma précédente pesait 32 kg et descendait à 29 Hz.",
    ],
)
def test_what_somebody_had_before_is_of_no_column(aside: str) -> None:
    text = f"Tarn Wren 2\n{aside}\nWeight: 17.5 kg\nFrequency response: 39 Hz - 28 kHz\nImpedance: 6 ohms"
    assert _values(text, "weight", "low_limit", "impedance_nominal") == [[17.5], [39.0], [6.0]]
