"""Several loudspeakers of which sentences tell: each gets its own figures, and none of another's."""

from __future__ import annotations

import pytest

from triptych.catalog.datasheet import read_datasheet

GERMAN = """Neu bei Haselhorn: Amsel 2 und Amsel 4

Die Amsel 2 ist die kleinere der beiden: 34 cm hoch, 19 cm breit, 27 cm tief, 7,2 kg schwer. Sie kommt auf 86 dB \
(2,83 V/1 m), hat 8 Ohm und kostet 890 Euro das Paar.
Die Amsel 4 dagegen ist eine Standbox von 98 cm Höhe, 21 cm Breite und 31 cm Tiefe. Sie wiegt 19,5 kg, bringt 89 dB \
und hat 4 Ohm. Preis: 1.990 Euro das Paar.
Beide haben eine 25-mm-Gewebekalotte, Bassreflex hinten. Trennfrequenz 2,4 kHz (Amsel 4: 350/2600 Hz)."""
ITALIAN = """La Cascina presenta i diffusori Gelso S e Gelso C. Entrambi usano un tweeter a cupola in seta da 25 mm e \
sono chiusi. Sensibilità 86 dB (Gelso C: 89 dB), impedenza 8 ohm per la Gelso S e 4 ohm per la Gelso C. La \
Gelso S misura 31 cm di altezza, 18 cm di larghezza e 25 cm di profondità e pesa 6,1 kg; la Gelso C è larga 46 cm, \
alta 17 cm, profonda 26 cm e pesa 8,4 kg. Prezzi: Gelso S 640 € la coppia, Gelso C 420 € cadauna."""
FORUM = """anyone got specs on the old Tansy speakers? site is dead

there were two, the Tansy 40 and the Tansy 70. Both 8 ohm two-way ported in back w/ a 1" soft dome. The smaller one \
and the bigger one have a 5.25 and a 6.5 inch woofer, respectively, 86 and 89 db, go down to 55 and 44 hz, and are 12 \
and 16.5 inches tall, 7 and 9.25 wide, 9 and 11.5 deep. weight 11 lb / 19 lb each. xover 3.2k on the 40, 2.4k on the \
70. I run mine off a 20 wpc receiver"""
FRENCH = """Les Hautes Herbes : Fétuque B et Fétuque C

La Fétuque B mesure 30 cm de haut, 18 cm de large et 24 cm de profondeur pour 5,9 kg. Rendement 87 dB, impédance 8 ohms.
La Fétuque C, centrale, mesure 16 cm de haut, 44 cm de large et 25 cm de profondeur pour 8,1 kg. Rendement 89 dB, \
impédance 6 ohms. Toutes deux partagent un tweeter à dôme de 25 mm."""
SPANISH = """La Retama fabrica dos cajas, la Jara 1 y la Jara 3. La Jara 1 pesa 5,4 kg, mide 29 cm de alto, 17 cm de \
ancho y 23 cm de fondo y tiene una sensibilidad de 85 dB. La Jara 3 pesa 17,8 kg, mide 94 cm de alto, 20 cm de ancho y \
30 cm de fondo y tiene una sensibilidad de 88 dB. Ambas son de 8 ohmios."""

TOLD: list[tuple[str, dict[str, dict[str, object]]]] = [
    (
        GERMAN,
        {
            "Amsel 2": {"width": 0.19, "height": 0.34, "weight": 7.2, "impedance_nominal": 8, "price": 890,
                        "sensitivity": 86, "tweeter_size": 0.025, "crossover": (2400,)},
            "Amsel 4": {"width": 0.21, "height": 0.98, "weight": 19.5, "impedance_nominal": 4, "price": 1990,
                        "sensitivity": 89, "tweeter_size": 0.025, "crossover": (350, 2600)},
        },
    ),
    (
        ITALIAN,
        {
            "Gelso S": {"height": 0.31, "depth": 0.25, "weight": 6.1, "sensitivity": 86, "impedance_nominal": 8,
                        "price": 640, "tweeter_size": 0.025},
            "Gelso C": {"height": 0.17, "depth": 0.26, "weight": 8.4, "sensitivity": 89, "impedance_nominal": 4,
                        "price": 420, "tweeter_size": 0.025},
        },
    ),
    (
        FORUM,
        {
            "Tansy 40": {"height": 0.3048, "width": 0.1778, "depth": 0.2286, "sensitivity": 86, "low_limit": 55,
                         "woofer_size": 0.13335, "crossover": (3200,)},
            "Tansy 70": {"height": 0.4191, "width": 0.23495, "depth": 0.2921, "sensitivity": 89, "low_limit": 44,
                         "woofer_size": 0.1651, "crossover": (2400,)},
        },
    ),
    (
        FRENCH,
        {
            "Fétuque B": {"height": 0.30, "width": 0.18, "weight": 5.9, "sensitivity": 87, "impedance_nominal": 8,
                          "tweeter_size": 0.025},
            "Fétuque C": {"height": 0.16, "width": 0.44, "weight": 8.1, "sensitivity": 89, "impedance_nominal": 6,
                          "tweeter_size": 0.025},
        },
    ),
    (
        SPANISH,
        {
            "Jara 1": {"height": 0.29, "width": 0.17, "depth": 0.23, "weight": 5.4, "sensitivity": 85,
                       "impedance_nominal": 8},
            "Jara 3": {"height": 0.94, "width": 0.20, "depth": 0.30, "weight": 17.8, "sensitivity": 88,
                       "impedance_nominal": 8},
        },
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "wanted"), TOLD, ids=["German", "Italian", "forum", "French", "Spanish"])
def test_sentences_tell_of_several(text: str, wanted: dict[str, dict[str, object]]) -> None:
    found = {str(record.values["model"]): record.fields for record in read_datasheet(text).records}
    assert list(found) == list(wanted)
    for model, figures in wanted.items():
        told = {column: _plain(found[model][column].value) for column in figures if column in found[model]}
        assert told == {column: _plain(value) for column, value in figures.items()}


def _plain(value: object) -> object:
    return [float(one) for one in value] if isinstance(value, tuple) else round(float(str(value)), 6)


LINES = """Hawker C  170 x 450 x 240 mm (HWD), 8.1 kg, 88 dB†, 55 Hz - 22 kHz‡
Hawker M  300 x 180 x 240 mm (HWD), 5.9 kg, 86 dB†, 52 Hz - 22 kHz‡
Hawker W  300 x 210 x 110 mm (HWD), 3.8 kg, 85 dB†, 75 Hz - 22 kHz‡

"""


@pytest.mark.parametrize(
    ("said", "column", "wanted"),
    [
        ("Crossed over at 2.6 kHz throughout (W: 3 kHz).", "crossover", [(2600,), (2600,), (3000,)]),
        ("All models are 6 ohm except the Hawker W.", "impedance_nominal", [6, 6, None]),
        (
            "Only the Hawker W is sealed; the others are ported at the rear.",
            "enclosure",
            ["ported", "ported", "sealed"],
        ),
        ("All take amplifiers of 30-100 W (C: 30-180 W).", "amplifier_max", [180, 100, 100]),
        ("Toutes ont une charge close, sauf la Hawker C.", "enclosure", [None, "sealed", "sealed"]),
        ("* Not for baths.  † 2.83V, 1m, in-room.  ‡ -6dB.", "low_limit_drop", [6, 6, 6]),
        ("Never hang the Hawker C on hooks that bear less than 12 kg.", "weight", [8.1, 5.9, 3.8]),
        ("Hawker C     Hawker M     Hawker W\n£540 ea      £620 pr      £310 ea", "price", [540, 620, 310]),
    ],
)
def test_a_sentence_sets_one_apart(said: str, column: str, wanted: list[object]) -> None:
    records = read_datasheet(LINES + said).records
    found = [record.fields[column].value if column in record.fields else None for record in records]
    assert [getattr(value, "value", value) for value in found] == wanted


def test_what_follows_two_names_is_nobodys() -> None:
    text = f"{ITALIAN}\nLa Gelso S e poi la Gelso C sono a listino da maggio. Garantiscono 120 W."
    assert all("power_handling" not in record.fields for record in read_datasheet(text).records)
