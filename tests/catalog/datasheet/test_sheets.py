from __future__ import annotations

import time
from typing import Any

import pytest

from triptych.catalog.datasheet import ReadStatus, SheetRecord, read_datasheet
from triptych.catalog.records import Enclosure, PortLocation, Role, TweeterType

GERMAN = """\
Obsthof Linde Center 55

Technische Daten

Prinzip: 3-Wege, geschlossen
Bestückung: 2 x 165 mm Tieftöner, 1 x 100 mm Mitteltöner, 1 x 25 mm Gewebekalotte
Belastbarkeit (Nenn/Musik): 120/200 W
Wirkungsgrad (2,83 V/1 m): 87,5 dB
Impedanz: 4 - 8 Ohm
Übertragungsbereich: 42 - 40.000 Hz
Übergangsfrequenzen: 350 / 2.800 Hz
Abmessungen (B x H x T): 54,6 x 17,8 x 30,0 cm
Gewicht: 14,2 kg
Ausführungen: Nussbaum, Schwarz

Preis: 649,- € / Stück inkl. MwSt.
"""
FRENCH = """\
Modèle : Trémière C1
Fabricant : Verger
Enceinte centrale 2 voies, bass-reflex, évent arrière
Haut-parleurs : 2 x 13 cm grave-médium, 1 x 25 mm tweeter à dôme textile
Réponse en fréquence : 55 Hz - 25 kHz (±3 dB)
Sensibilité : 89 dB (2,83 V/1 m)
Impédance nominale : 8 ohms (minimum : 6,5 ohms)
Fréquence de coupure : 2 400 Hz
Puissance recommandée de l'ampli : 30 - 120 W
Dimensions (L x H x P) : 470 x 165 x 280 mm
Poids : 8,9 kg
Prix : 590 € TTC la paire
"""
SPANISH = """\
Marca: Huerto
Modelo: Sauce C
Tipo: altavoz central de 2 vías, caja cerrada
Respuesta en frecuencia: 70 Hz - 22 kHz (-6 dB)
Sensibilidad: 86 dB/W/m
Impedancia: 6 ohmios
Frecuencia de corte: 2.500 Hz, 24 dB/octava
Dimensiones (ancho x alto x fondo): 450 x 160 x 220 mm
Peso neto: 7,4 kg / Peso bruto: 8,5 kg
"""
ITALIAN = """\
Marca: Frutteto
Modello: Salice C
Sistema: 2 vie, bass reflex con condotto posteriore
Altoparlanti: 2 woofer da 130 mm, 1 tweeter a cupola da 25 mm
Risposta in frequenza: 55 Hz - 25 kHz (±3 dB)
Sensibilità: 88 dB (2,83 V/1 m)
Impedenza: 4 ohm
Frequenza di incrocio: 2.200 Hz
Dimensioni (L x A x P): 470 x 165 x 280 mm
Peso: 8,9 kg
"""
DUTCH = """\
Merk: Boomgaard
Model: Wilg C
Systeem: 2-weg basreflex
Luidsprekers: 2 x 130 mm woofer, 1 x 25 mm tweeter (zijden koepel)
Frequentiebereik: 55 Hz - 25 kHz (-6 dB)
Gevoeligheid: 88 dB (2,83 V/1 m)
Impedantie: 6 ohm
Scheidingsfrequentie: 2,2 kHz
Afmetingen (b x h x d): 470 x 165 x 280 mm
Gewicht: 8,9 kg
"""
PROSE = (
    'The Wren is a two-way centre loudspeaker with two 5.25" woofers flanking a 1" soft dome tweeter. It measures '
    '18-1/2" W x 6-1/2" H x 11" D and weighs 19.6 lb. Sensitivity is 88 dB (2.83 V/1 m), nominal impedance is 6 ohms '
    "with a minimum of 4.9 ohms, and the frequency response is 62 Hz to 22 kHz ±3 dB. The crossover is at 2.4 kHz, "
    "24 dB/oct. The cabinet is front ported."
)


def only(text: str) -> SheetRecord:
    [record] = read_datasheet(text).records
    return record


def holds(record: SheetRecord, **expected: Any) -> None:
    found = {name: record.values.get(name) for name in expected}
    assert found == {
        name: pytest.approx(value, rel=1e-12) if isinstance(value, float | tuple) else value
        for name, value in expected.items()
    }


def test_a_german_sheet() -> None:
    record = only(GERMAN)
    holds(record, width=0.546, height=0.178, depth=0.3, weight=14.2, enclosure=Enclosure.SEALED, sensitivity=87.5)
    holds(record, low_limit=42.0, high_limit=40_000.0, low_limit_drop=None, crossover=(350.0, 2800.0))
    holds(record, woofer_count=2, woofer_size=0.165, midrange_size=0.1, tweeter_size=0.025, tweeter_material="textile")
    holds(record, power_handling=120.0, impedance_nominal=None, maker="Obsthof", model="Linde Center 55")
    assert float(record.values["price"]) == 649
    assert record.unread == ("Ausführungen: Nussbaum, Schwarz",)


def test_a_french_sheet() -> None:
    record = only(FRENCH)
    holds(record, maker="Verger", model="Trémière C1", width=0.47, height=0.165, depth=0.28, weight=8.9)
    holds(record, enclosure=Enclosure.PORTED, port_location=PortLocation.REAR, roles=frozenset({Role.CENTRE}))
    holds(record, impedance_nominal=8.0, impedance_minimum=6.5, low_limit=55.0, low_limit_drop=3.0, crossover=(2400.0,))
    holds(
        record, woofer_size=0.13, woofer_count=2, tweeter_type=TweeterType.DOME, amplifier_min=30.0, amplifier_max=120.0
    )
    assert record.unread == ()


def test_a_spanish_sheet() -> None:
    record = only(SPANISH)
    holds(record, width=0.45, height=0.16, depth=0.22, weight=7.4, sensitivity=87.25, impedance_nominal=6.0)
    holds(record, enclosure=Enclosure.SEALED, low_limit_drop=6.0, crossover=(2500.0,), crossover_order=4)
    assert record.fields["sensitivity"].status is ReadStatus.INFERRED


def test_an_italian_sheet() -> None:
    record = only(ITALIAN)
    holds(record, width=0.47, height=0.165, depth=0.28, port_location=PortLocation.REAR, woofer_count=2)
    holds(record, tweeter_size=0.025, impedance_nominal=4.0, sensitivity=88.0, crossover=(2200.0,))


def test_a_dutch_sheet() -> None:
    record = only(DUTCH)
    holds(record, width=0.47, height=0.165, depth=0.28, enclosure=Enclosure.PORTED, tweeter_material="silk")
    holds(record, low_limit=55.0, low_limit_drop=6.0, crossover=(2200.0,), weight=8.9)
    assert record.fields["port_location"].status is ReadStatus.REFUSED


def test_running_text() -> None:
    record = only(PROSE)
    holds(record, width=0.4699, height=0.1651, depth=0.2794, weight=19.6 * 0.45359237, sensitivity=88.0)
    holds(record, impedance_nominal=6.0, impedance_minimum=4.9, low_limit=62.0, low_limit_drop=3.0, high_limit=22_000.0)
    holds(record, woofer_count=2, woofer_size=0.13335, tweeter_size=0.0254, crossover=(2400.0,), crossover_order=4)
    holds(record, port_location=PortLocation.FRONT, roles=frozenset({Role.CENTRE}))
    assert record.fields["weight"].raw == "weighs 19.6 lb"


def models(text: str) -> list[Any]:
    return [record.values.get("model") for record in read_datasheet(text).records]


def test_paragraphs_without_a_name_are_one_loudspeaker_until_one_repeats_a_figure() -> None:
    records = read_datasheet("Width: 546 mm\n\nSensitivity: 88 dB\n\nWidth: 600 mm").records
    assert [set(record.values) & {"width", "sensitivity"} for record in records] == [
        {"width", "sensitivity"},
        {"width"},
    ]


def test_a_heading_belongs_to_what_follows_it() -> None:
    assert models("Wren C1\n\nWidth: 546 mm\n\n\nRobin C2\n\nWidth: 600 mm") == ["Wren C1", "Robin C2"]
    assert models("Wren C1\nWidth: 546 mm\n\nRobin C2\nWidth: 600 mm") == ["Wren C1", "Robin C2"]


def test_a_part_without_a_name_belongs_to_the_named_one_above() -> None:
    record = only("Model: Wren\nWidth: 546 mm\n\nImpedance: 8 ohms\n\nWeight: 12 kg")
    holds(record, model="Wren", width=0.546, impedance_nominal=8.0, weight=12.0)


def test_unless_it_repeats_a_figure() -> None:
    first, second = read_datasheet("Model: Wren\nWidth: 546 mm\n\nWidth: 600 mm\nDepth: 300 mm").records
    holds(first, model="Wren", width=0.546)
    holds(second, model=None, width=0.6, depth=0.3)


def test_a_part_under_a_heading_of_its_kind_belongs_above() -> None:
    record = only(
        "Model: Wren\nWidth: 546 mm\n\nDimensions\nWidth: 21.5 in\nHeight: 178 mm\n\nElectrical:\nImpedance: 8 ohms"
    )
    holds(record, width=0.546, height=0.178, impedance_nominal=8.0)


def test_a_second_model_starts_a_loudspeaker_without_a_blank_line() -> None:
    assert models("Model: Wren\nWidth: 546 mm\nModel: Robin\nWidth: 600 mm") == ["Wren", "Robin"]


def test_what_is_not_read_is_listed() -> None:
    record = only("Model: Wren\nWidth: 546 mm\nGrille: magnetic\nFinish: walnut, black\nMade for listening.")
    assert record.unread == ("Grille: magnetic", "Finish: walnut, black", "Made for listening.")


def test_each_question_names_its_column_and_no_answered_one_is_left() -> None:
    record = only("Dimensions: 546 x 178 x 300 mm\nImpedance: 4-8 ohms\nSensitivity: 88 dB/W/m")
    assert [question.partition(":")[0] for question in record.questions] == [
        "width, height, depth",
        "impedance_nominal",
        "sensitivity",
    ]
    settled = only(
        "Dimensions: 546 x 178 x 300 mm\nWidth: 546 mm\nHeight: 178 mm\nDepth: 300 mm\n"
        "Impedance: 4-8 ohms\nNominal impedance: 6 ohms\nSensitivity: 88 dB/W/m"
    )
    assert settled.questions == ()
    holds(settled, width=0.546, impedance_nominal=6.0, sensitivity=89.25)


def test_a_contradiction_is_not_settled_by_one_side_of_it() -> None:
    record = only("Impedance: 4 ohms\nImpedance: 8 ohms\nImpedance: 8 ohms")
    assert record.fields["impedance_nominal"].status is ReadStatus.REFUSED


def test_the_drop_that_is_nearest_to_three_decibels_stands() -> None:
    lines = [
        "Frequency range (-10 dB): 38 Hz - 30 kHz",
        "Frequency range (-6 dB): 45 Hz - 28 kHz",
        "Bandwidth (±3 dB): 55 Hz - 22 kHz",
    ]
    for text in ("\n".join(lines), "\n".join(reversed(lines))):
        holds(only(text), low_limit=55.0, low_limit_drop=3.0)


@pytest.mark.slow
def test_four_times_as_many_lines_take_about_four_times_as_long() -> None:
    lines = [line for sheet in (GERMAN, FRENCH, SPANISH, ITALIAN) for line in sheet.splitlines() if line]
    some, all_of_it = "\n".join(lines[: len(lines) // 4]), "\n".join(lines)
    read_datasheet(all_of_it)
    best = [min(_seconds(text) for _ in range(5)) for text in (some, all_of_it)]
    assert best[1] < 10 * best[0], "by their square it would be 16 times"


def _seconds(text: str) -> float:
    # of this process alone, whatever else the machine does
    start = time.process_time()
    read_datasheet(text)
    return time.process_time() - start
