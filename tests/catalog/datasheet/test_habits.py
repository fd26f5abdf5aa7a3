"""The same sheets in other habits of writing: what is not read then is refused or listed, never silently wrong."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from random import Random

import pytest

from tests.catalog.datasheet import score as scores
from tests.catalog.datasheet.corpus_check import CORPUS, Sheet, sheets
from tests.catalog.datasheet.score import paired
from triptych.catalog.datasheet import read_datasheet

SHEETS = [
    sheet for folder in ("open", "fresh") for sheet in sheets(folder) if not list(CORPUS.glob(f"*/{sheet.name}.html"))
]


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
    "columns run together": (lambda text: re.sub(r"(?<=\S)(?: {2,}|\t+|\s*\|\s*)(?=\S)", " ", text), 13),
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
    alone = [sheet for sheet in SHEETS if not crossed or len(loudspeakers(sheet)) == 1]
    judged = [(sheet.name, one) for sheet in alone for one in scores.score(rewritten(sheet, habit)).judged]
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
