from __future__ import annotations

import csv
import json
import random
import re
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.catalog.one_figure import read_one
from triptych.catalog import consistency, number_texts, numbers
from triptych.catalog.datasheet import ReadSheet, ReadStatus, read_datasheet
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMN_UNITS, COLUMNS, LOUDSPEAKER

with (Path(__file__).parent / "lines.csv").open(encoding="utf-8", newline="") as stream:
    LINES = sorted({row["sheet"].replace(" ¶ ", "\n") for row in csv.DictReader(stream)})

TOKENS = sorted({token for line in LINES for token in re.split(r"(\s+|[:;,()/=|-])", line) if token.strip()})
MARKS = [
    "\n",
    "\n\n",
    " ",
    " ",
    " ",
    ": ",
    "; ",
    ", ",
    " / ",
    " x ",
    "-",
    "–",
    "(",
    ")",
    "\t",
    "|",
    "±",
    "½",
    "1e9",
    "0",
    "9" * 30,
]

METRES = {"mm": Fraction(1, 1000), "cm": Fraction(1, 100), "m": Fraction(1), "in": Fraction(254, 10_000)}
KILOGRAMS = {"kg": Fraction(1), "lb": Fraction(45_359_237, 10**8)}


def check(sheet: ReadSheet) -> None:
    """What must hold of any reading of any text."""
    written = json.loads(json.dumps(sheet.as_json(), allow_nan=False))
    for record, plain in zip(sheet.records, written["records"], strict=True):
        for name, field in record.fields.items():
            assert name in COLUMNS
            assert plain["fields"][name]["unit"] == COLUMN_UNITS.get(name)
            assert (field.value is None) == (field.status is ReadStatus.REFUSED)
            assert field.flags or field.status is ReadStatus.READ
            assert field.raw
            if name in LOUDSPEAKER and field.value is not None:
                values = field.value if isinstance(field.value, tuple) else (field.value,)
                assert all(LOUDSPEAKER[name].low <= value <= LOUDSPEAKER[name].high for value in values)
            if field.value is not None:
                assert COLUMNS[name].read(COLUMNS[name].text(field.value)) == field.value
        # a price of unknown currency is a reading, though no record can hold it
        assert {name for name, _ in consistency.faults(record.values)} <= {"currency"}


@pytest.mark.examples
@given(st.text(max_size=300))
def test_no_text_gives_a_traceback_or_an_implausible_value(text: str) -> None:
    check(read_datasheet(text))


@pytest.mark.examples
@given(st.lists(st.one_of(st.sampled_from(TOKENS), st.sampled_from(MARKS)), max_size=40))
def test_nor_does_any_soup_of_a_datasheet_s_own_words(tokens: list[str]) -> None:
    check(read_datasheet(" ".join(tokens)))
    check(read_datasheet("".join(tokens)))


@pytest.mark.slow
@given(st.lists(st.sampled_from(LINES), min_size=1, max_size=6), st.randoms(use_true_random=False))
def test_nor_does_any_sheet_with_pieces_exchanged(lines: list[str], chance: random.Random) -> None:
    text = list("\n".join(lines))
    for _ in range(chance.randint(0, 12)):
        place = chance.randrange(len(text))
        text[place] = chance.choice([*MARKS, *TOKENS, "", text[place] * 2])
    check(read_datasheet("".join(text)))


@pytest.mark.slow
@given(st.lists(st.sampled_from(LINES), min_size=1, max_size=8), st.sampled_from(["\n", "\n\n"]))
def test_nor_does_any_stack_of_lines(lines: list[str], between: str) -> None:
    check(read_datasheet(between.join(lines)))


@pytest.mark.parametrize(
    "text", ["", "\n\n\n", "\ufeff", "\x00\x01", ":", "|||", "((((", "9" * 5000, "Width: " + "9" * 5000]
)
def test_what_is_no_datasheet_gives_no_figure(text: str) -> None:
    assert not any(record.values for record in read_datasheet(text).records)


def test_a_text_longer_than_any_datasheet_is_refused() -> None:
    with pytest.raises(BadInput, match="cut it into parts"):
        read_datasheet("x" * 200_001)


def tenths(low: int, high: int) -> st.SearchStrategy[Decimal]:
    return st.integers(low, high).map(lambda number: Decimal(number) / 10)


@given(tenths(500, 14_000), st.sampled_from(sorted(METRES)), st.sampled_from(["width", "height", "depth"]))
def test_a_length_printed_in_any_unit_reads_back_as_itself(millimetres: Decimal, unit: str, side: str) -> None:
    """The printed decimal is cut at 17 digits, so the value returns to the last bit but one."""
    metres = Fraction(millimetres) / 1000
    printed = number_texts.plain(Decimal(f"{float(metres / METRES[unit]):.17g}"))
    if re.fullmatch(r"[1-9]\d{0,2}\.\d{3}", printed):
        return  # three decimals could be thousands; the table of lines holds what becomes of those
    field = read_one(side, f"{printed} {unit}")
    assert field is not None
    assert field.status is ReadStatus.READ
    assert field.value == pytest.approx(float(metres), rel=1e-15)


@given(
    st.integers(2, 60),
    st.integers(1, 15),
    st.sampled_from(["-", " "]),
    st.sampled_from(['"', " in", " inches", "″", " Zoll"]),
)
def test_inches_with_a_fraction_are_exact(whole: int, sixteenths: int, link: str, unit: str) -> None:
    part = Fraction(sixteenths, 16)
    field = read_one("width", f"{whole}{link}{part.numerator}/{part.denominator}{unit}")
    assert field is not None
    assert field.value == float((whole + part) * METRES["in"])


@given(tenths(2, 1499), st.sampled_from(sorted(KILOGRAMS)))
def test_a_weight_printed_in_any_unit_reads_back_as_itself(kilograms: Decimal, unit: str) -> None:
    printed = number_texts.plain(Decimal(f"{float(Fraction(kilograms) / KILOGRAMS[unit]):.17g}"))
    field = read_one("weight", f"{printed} {unit}")
    assert field is not None
    assert field.value == pytest.approx(float(kilograms), rel=1e-15)


@given(st.sampled_from(sorted(LOUDSPEAKER)), st.floats(0, 1))
def test_every_figure_s_own_text_reads_back_as_itself(name: str, share: float) -> None:
    """What an export writes of a figure, with its unit behind it, is the same figure on a sheet."""
    quantity = LOUDSPEAKER[name]
    value = quantity.low + share * (quantity.high - quantity.low)
    value = float(round(value)) if quantity.unit == "1" else value
    if (
        name in ("low_limit_drop", "tweeter_coverage", "tax_rate", "crossover")
        or not quantity.low <= value <= quantity.high
        or 0 < value < numbers.SMALLEST
    ):
        return
    printed = numbers.write(value, quantity)
    unit = "" if quantity.unit == "1" else f" {quantity.bare_unit}"
    basis = " (2.83 V/1 m)" if name == "sensitivity" else ""
    field = read_one(name, printed + unit + basis)
    assert field is not None
    assert field.value == value


@given(
    st.lists(tenths(400, 190_000), min_size=1, max_size=3, unique=True), st.sampled_from(["/", " / ", ", ", " and "])
)
def test_hand_overs_read_back_in_rising_order(frequencies: list[Decimal], mark: str) -> None:
    text = mark.join(f"{number_texts.plain(frequency)} Hz" for frequency in sorted(frequencies))
    field = read_one("crossover", text)
    assert field is not None
    assert field.value == tuple(sorted(float(frequency) for frequency in frequencies))


@given(tenths(500, 14_000), st.integers(0, 1))
def test_the_same_length_rounded_in_two_units_agrees(millimetres: Decimal, decimals: int) -> None:
    inches = Fraction(millimetres) / 1000 / METRES["in"]
    text = f"{round(millimetres)} mm ({round(float(inches), decimals):.{decimals}f} in)"
    field = read_one("width", text)
    assert field is not None
    assert field.status is ReadStatus.READ, (text, field)


@given(tenths(2000, 14_000), st.sampled_from([-1, 1]), st.integers(3, 40))
def test_two_units_that_differ_by_more_than_their_rounding_are_refused(
    millimetres: Decimal, sign: int, tenths_off: int
) -> None:
    inches = Fraction(millimetres) / 1000 / METRES["in"] + Fraction(sign * tenths_off, 10)
    field = read_one("width", f"{round(millimetres)} mm ({float(inches):.1f} in)")
    assert field is not None
    assert field.status is ReadStatus.REFUSED


@given(
    st.permutations(["546", "178", "300"]),
    st.sampled_from(["mm", "cm", "in", ""]),
    st.sampled_from([" x ", "x", " × ", "/"]),
)
def test_a_triple_without_labels_never_gives_a_side(figures: list[str], unit: str, mark: str) -> None:
    [record] = read_datasheet(f"Dimensions: {mark.join(figures)} {unit}").records
    assert record.values == {}
    assert {record.fields[side].status for side in ("width", "height", "depth")} == {ReadStatus.REFUSED}


@given(st.permutations([("W", 546), ("H", 178), ("D", 300)]), st.booleans())
def test_labels_decide_whatever_their_order(sides: list[tuple[str, int]], inline: bool) -> None:
    letters, figures = [side for side, _ in sides], [figure for _, figure in sides]
    if inline:
        text = "Dimensions: " + " x ".join(f"{figure} mm ({letter})" for letter, figure in sides)
    else:
        text = f"Dimensions ({' x '.join(letters)}): {' x '.join(map(str, figures))} mm"
    [record] = read_datasheet(text).records
    assert record.values == {"width": 0.546, "height": 0.178, "depth": 0.3}
