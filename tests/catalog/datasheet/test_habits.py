"""The same sheets in other habits of writing: what is not read then is refused or listed, never silently wrong."""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from tests.catalog.datasheet import score as scores
from tests.catalog.datasheet.corpus_check import CORPUS, Sheet, sheets
from tests.catalog.datasheet.score import paired
from triptych.catalog.datasheet import read_datasheet
from triptych.catalog.datasheet.folding import SHORTHAND, folded


@functools.cache
def written_as_text() -> list[Sheet]:
    read = (sheet for folder in ("open", "fresh") for sheet in sheets(folder))
    return [sheet for sheet in read if not list(CORPUS.glob(f"*/{sheet.name}.html"))]


def shuffled(text: str) -> str:
    return "\n".join(Random(1).sample(text.splitlines(), len(text.splitlines())))


def plain(text: str) -> str:
    return "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))


NOISE = [
    "Page 3 of 12", "Tel. 0100 555 0199", "5-year warranty", "Free delivery over £50", "Rated 4.5/5 by 32 customers",
    "Stand height 60 cm", "Speaker cable 2 x 2.5 mm2, 3 m", "Ships in a carton 60 x 40 x 30 cm, gross 12 kg",
    "Room size 20 to 40 m2", "I run mine off a 2 x 80 W amp", "It was £999 when new", "Subwoofer crossed at 80 Hz",
    "I sit 3.2 m away", "TV is 55 inch", "Grille cloth 3 mm thick", "MDF 25 mm", "Voice coil 38 mm", "Max SPL 108 dB",
    "Box volume 12 litres", "Distortion 0.5 % at 90 dB", "Operating temperature 5 to 40 C", "Magnet 1.2 kg",
    "Bought in 2016 for 450 euro", "EAN 4099999123457", "Score 83/100", "Lieferzeit 3 Tage", "Livraison 12,90 €",
    "Distance au mur 30 cm", "Peso imballo 14 kg", "Karton 70x50x40 cm", "Kijkafstand 3 m", "Gewicht verpakt 15 kg",
    "Odleglosc od sciany 40 cm", "Cena 30 dni temu 1299 zl",
]  # fmt: skip
"""What stands on sheets beside a loudspeaker's figures."""


def with_noise(text: str) -> str:
    draw, lines = Random(len(text)), text.split("\n")
    for noise in draw.sample(NOISE, 6):
        lines.insert(draw.randrange(1, len(lines) + 1), noise)
    return "\n".join(lines)


HABITS: dict[str, tuple[Callable[[str], str], int]] = {
    "tabs for blanks": (lambda text: re.sub(r"(?<=\S) {2,}(?=\S)", "\t", text), 0),
    "pipes for blanks": (lambda text: re.sub(r"(?<=\S)(?: {2,}|\t)(?=\S)", " | ", text), 0),
    "columns run together": (lambda text: re.sub(r"(?<=\S)(?: {2,}|\t+|\s*\|\s*)(?=\S)", " ", text), 16),
    "dashes for colons": (lambda text: text.replace(": ", " - "), 25),
    "capitals": (str.upper, 2),
    "no accents": (plain, 0),
    "empty lines": (lambda text: text.replace("\n", "\n\n"), 0),
    "units glued": (lambda text: re.sub(r"(\d) (mm|cm|kg|Hz|kHz|dB|W)\b", r"\1\2", text), 0),
    "units apart": (lambda text: re.sub(r"(\d)(mm|cm|kg|Hz|kHz|dB|W)\b", r"\1 \2", text), 0),
    "another order": (shuffled, 0),
    "numbers about other things": (lambda text: with_noise(text), 0),
}
"""How a text is changed, and how many figures may be silently wrong then.

Of those that aren't 0 nearly all are right figures of a loudspeaker that lost its name, so that the truth has none for
it; such a one cannot be stored.
"""


def loudspeakers(sheet: Sheet) -> list[object]:
    found = sheet.truth["loudspeaker"]
    assert isinstance(found, list)
    return found


def rewritten(sheet: Sheet, habit: Callable[[str], str]) -> Sheet:
    return replace(sheet, text=habit(sheet.text))


@pytest.mark.examples
@pytest.mark.parametrize("name", HABITS)
def test_nothing_is_silently_wrong_in_another_habit(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    habit, most = HABITS[name]
    monkeypatch.setattr(scores, "read_sheet", lambda sheet: read_datasheet(sheet.text))
    # the lines of several loudspeakers in another order, or with others between, are another sheet
    crossed = name in ("another order", "numbers about other things")
    alone = [sheet for sheet in written_as_text() if not crossed or len(loudspeakers(sheet)) == 1]
    # a sheet that stays as it is has been read by test_score
    other = [made for sheet in alone if (made := rewritten(sheet, habit)).text != sheet.text]
    judged = [(sheet.name, one) for sheet in other for one in scores.score(sheet).judged]
    wrong = [f"{sheet}: {one}" for sheet, one in judged if one.outcome == "silently wrong"]
    assert len(wrong) <= most, wrong


def test_a_sheet_that_contradicts_itself_is_about_several() -> None:
    text = "Weight 5 kg\n" + "\n".join(
        f"size (W x H x D) {w} x {h} x {d} mm\nweight: {kg} kg\nimpedance: {z} ohm\nsensitivity: {db} dB (2.83 V/1 m)"
        for w, h, d, kg, z, db in ((180, 300, 240, 5, 8, 86), (200, 980, 300, 17, 4, 89))
    )
    [*records] = read_datasheet(text).records
    assert all(record.values == {} or len(records) > 1 for record in records)


@pytest.mark.parametrize(
    ("text", "column", "why"),
    [
        ("Impedance: 4.8 ohm", "impedance_nominal", "no nominal impedance"),
        ("Tweeter: 165 mm dome", "tweeter_size", "no tweeter"),
        ("Tweeter: 25 mm dome\nMidrange: 130 mm\nWoofer: 100 mm", "midrange_size", "larger than the woofer"),
        ("Response: 450 Hz - 20 kHz\nCrossover: 400 Hz / 2.8 kHz", "low_limit", "not under the crossover"),
        ("Response: 45 Hz - 2.5 kHz\nTweeter: 25 mm dome", "high_limit", "too low"),
        ("Price: 2023", "price", "may be a year"),
        ("Sensitivity: 91 dB / 200 W", "sensitivity", ""),
    ],
)
def test_what_cannot_be_is_refused(text: str, column: str, why: str) -> None:
    [record] = read_datasheet(text).records
    found = record.fields[column]
    if why:
        assert found.value is None
        assert why in found.flags[0]
    else:
        # the power that follows is no condition of the level
        assert found.value == 91.0


def test_what_hardly_can_be_is_flagged() -> None:
    text = "Width: 500 mm\nHeight: 180 mm\nDepth: 280 mm\nWeight: 0.9 kg"
    [record] = read_datasheet(text).records
    assert any("kg/m³" in flag for flag in record.fields["weight"].flags)


def test_a_record_is_paired_by_its_name() -> None:
    found = read_datasheet("Models: Tana 1 / Tana 2\nWeight: 5 / 18 kg\nSensitivity: 86 / 89 dB\nDepth: 24 / 30 cm")
    pairs, rest = paired([{"model": "Tana 2"}, {"model": "Tana 1"}], found.records)
    assert [record and record.values["weight"] for _, record in pairs] == [18.0, 5.0]
    assert rest == []


OTHER_LINES = (Path(__file__).parent / "not_of_it.txt").read_text("utf-8").splitlines()


# what a practitioner would not enter; common practice, no source
@pytest.mark.parametrize("line", OTHER_LINES)
def test_a_figure_of_something_else_is_not_taken(line: str) -> None:
    for record in read_datasheet(f"Maker: Oatfell\nModel: Wren\n{line}").records:
        words = {"maker", "model", "enclosure", "sensitivity_basis", "tweeter_type"}
        assert {name: value for name, value in record.values.items() if name not in words} == {}


# what a practitioner reads, in other words than the sheets of the corpus; common practice, no source
@pytest.mark.parametrize(
    ("text", "column", "value"),
    [
        ("Weight: 12 kg (with grille), 11.5 kg without", "weight", 12.0),
        ("Weight: 8.4 kg (31.4 lb shipping)", "weight", 8.4),
        ("Wymiary: S 200 x W 320 x G 260 mm", "height", 0.32),
        ("Medidas: An 200xAl 320xF 260 mm", "depth", 0.26),
        ("Its rival, the Fernlea 20, has 91 dB and weighs 11 kg. It weighs 8 kg.", "weight", 8.0),
        ("Load: 8 ohms • Sensitivity: 88 dB • Colour: black • Weight: 8 kg", "weight", 8.0),
        ("Crossover: 80 Hz (sub), 300 Hz, 2.5 kHz", "crossover", (300.0, 2500.0)),
        ("W x H x D: 500 x 180 x 280 mm (with grille: 295)", "depth", 0.295),
        ("Spec: 8 ohms 89 dB 45-20000 Hz", "low_limit", 45.0),
        ("Sens: 87 (1W) / 90 (2.83V)", "sensitivity", 90.0),
        ("Height (incl. feet) 1020 mm / (excl.) 1000 mm", "height", 1.0),
        ("Price: £599 each, or £20 per month", "price", 599),
        ("RRP £699, now £549 each", "price", 549),
        ("Power: 50 W nominal, 100 W max", "power_handling", 50.0),
        ("8 ohm / 87 dB / 60-20000Hz / 20-100W", "amplifier_max", 100.0),
        ("It is 14 inches high, 8 wide and 11 deep", "width", 0.2032),
        ("Medidas: 48 cm de ancho, 17 de alto y 25 de fondo", "height", 0.17),
        ('Cabinet: 41.5"H x 8.25"W x 13"D, 48 lbs, rear port', "height", 1.0541),
        ("2x 13 cm woofer, 25 mm softdome", "tweeter_size", 0.025),
        ("Cabinet's 66cm high, 38 wide, 35 deep", "width", 0.38),
        ("Impedance: minimum 3.2, nominal 4", "impedance_nominal", 4.0),
    ],
)
def test_a_twist_is_read_as_it_is_meant(text: str, column: str, value: object) -> None:
    [record] = read_datasheet(text).records
    assert record.values[column] == value


def test_values_between_strokes_are_each_loudspeaker_s_own() -> None:
    text = "Loudspeaker: Lark 3 / Wren 5 / Rook\nPrice: £499 / £599 / £699 (pair)\n-6dB point: 44 / 40 / 38 Hz\n"
    found = read_datasheet(text + "Weight: 5.4 / 7.2 / 8.8 kg\nSensitivity: 86 / 87 / 88 dB").records
    assert [one.values["low_limit"] for one in found] == [44.0, 40.0, 38.0]
    assert {one.values["price_per"].value for one in found} == {"pair"}


@pytest.mark.slow
def test_each_shorthand_is_looked_for_by_a_part_of_all_that_it_changes() -> None:
    lines = {folded(line) for sheet in written_as_text() for line in sheet.text.splitlines()}
    tried = ["w/o grille", "w/grille", "3k3", "2v83", "8r", "hz,3", "e ciency", "ampli er", "speci cation", "re ex"]
    tried += ["front- ring", "in nite ba e", "25er kalotte", "17er tieftoner", "between 40 and 250 w", "1m04"]
    changed = set()
    for part, pattern, _ in SHORTHAND:
        found = [line for line in (*lines, *tried) if pattern.search(line)]
        assert all(part in line for line in found)
        changed.update(found)
    assert changed >= set(tried)
