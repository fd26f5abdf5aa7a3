from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.catalog.errors import UnreadableQuantity
from triptych.catalog.fields import LOUDSPEAKER, ROOM_QUANTITIES
from triptych.catalog.numbers import SMALLEST, number, read, write, write_cell
from triptych.catalog.quantities import Kind, Quantity

EVERY = [*LOUDSPEAKER.values(), *ROOM_QUANTITIES.values()]
LENGTH = Quantity("length", Kind.LENGTH, "any length", 0.0, 100.0, "mm")
MASS = Quantity("mass", Kind.MASS, "any mass", 0.0, 1000.0, "kg")


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("1 in", 0.0254),
        ('1"', 0.0254),
        ("1 ft", 0.3048),
        ("1'", 0.3048),
        ("10 ft", 3.048),
        ("12 inches", 0.3048),
    ],
)
def test_the_inch_and_the_foot_are_exact(text: str, metres: float) -> None:
    """International Yard and Pound Agreement, 1959: 1 yd = 0.9144 m; NIST SP 811, appendix B (from memory)."""
    assert read(text, LENGTH) == metres


@pytest.mark.parametrize(("text", "kilograms"), [("1 lb", 0.45359237), ("16 oz", 0.45359237), ("1 oz", 0.028349523125)])
def test_the_pound_and_the_ounce_are_exact(text: str, kilograms: float) -> None:
    """International Yard and Pound Agreement, 1959; NIST SP 811, appendix B (from memory)."""
    assert read(text, MASS) == kilograms


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("178", 0.178),
        ("178 mm", 0.178),
        ("178MM", 0.178),
        ("17.8 cm", 0.178),
        ("17,8 cm", 0.178),
        ("0.178 m", 0.178),
        (".178 m", 0.178),
        ("7.5 in", 0.1905),
        ('7-1/2"', 0.1905),
        ("7 1/2 in", 0.1905),
        ("7 1/2 in.", 0.1905),
        ("7½”", 0.1905),
        ("7 ½ in", 0.1905),
        ("7-½ in", 0.1905),
        ('½"', 0.0127),
        ("1/2 in", 0.0127),
        ("20 5⁄8 in", 0.523875),
        ("20 5∕8 in", 0.523875),
        ("6'2\"", 1.8796),
        ("6’2”", 1.8796),
        ("6′ 2″", 1.8796),
        ("6'-2\"", 1.8796),
        ("6' 2''", 1.8796),
        ("6' 2 1/2\"", 1.8923),
        ("10 ft 6 in", 3.2004),
        ("in 7.5", 0.1905),
        ("1.200 m", 1.2),
        ("1,200.5 mm", 1.2005),
        ("1.200,5 mm", 1.2005),
        ("0,200 m", 0.2),
        ("1234,5 mm", 1.2345),
        ("178\u00a0mm", 0.178),
        ("178\u202fmm", 0.178),
        ("\ufeff178 mm\u200b", 0.178),
        ("+178 mm", 0.178),
    ],
)
def test_lengths(text: str, metres: float) -> None:
    assert read(text, LENGTH) == metres


def test_thousands_marks_that_can_be_nothing_else() -> None:
    assert [read(text, LOUDSPEAKER["high_limit"]) for text in ("20,000.0 Hz", "20.000,0")] == [20_000.0, 20_000.0]
    with pytest.raises(UnreadableQuantity, match="outside the plausible range 0 to 100000 mm"):
        read("1,200,000 mm", LENGTH)


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("weight", "12500 g", 12.5),
        ("weight", "27 lb 8 oz", 27.5 * 0.45359237),
        ("weight", "lbs 31.4", 31.4 * 0.45359237),
        ("weight", "31.4lbs", 31.4 * 0.45359237),
        ("crossover", "2.2 kHz", 2200.0),
        ("crossover", "2,2KHZ", 2200.0),
        ("sensitivity", "88 dB", 88.0),
        ("impedance_nominal", "8 ohms", 8.0),
        ("impedance_nominal", "8Ω", 8.0),
        ("impedance_nominal", "8 \u2126", 8.0),
        ("power_handling", "0.2 kW", 200.0),
        ("tweeter_coverage", "90°", 90.0),
        ("tweeter_coverage", "90 degrees", 90.0),
        ("tax_rate", "20 percent", 20.0),
        ("tax_rate", "20%", 20.0),
        ("woofer_count", "2", 2.0),
        ("woofer_count", "2.0", 2.0),
    ],
)
def test_other_kinds(name: str, text: str, value: float) -> None:
    assert read(text, LOUDSPEAKER[name]) == pytest.approx(value, rel=1e-15, abs=0)


@pytest.mark.parametrize("text", ["-650 mm", "− 65 cm", "–0,65 m", "-65cm"])
def test_a_seat_to_the_left_is_negative_with_any_dash(text: str) -> None:
    assert read(text, ROOM_QUANTITIES["seat.x"]) == -0.65


@pytest.mark.parametrize("text", ["", "  ", "\u00a0", "unknown", " Unknown ", "UNKNOWN"])
def test_unknown_is_none(text: str) -> None:
    assert read(text, LENGTH) is None


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("width", "1,200 mm", "could be 1200 mm or 1.2 mm"),
        ("width", "1,200", "could be 1200 mm or 1.2 mm"),
        ("width", "3 m", "outside the plausible range 0.04 to 2 m"),
        ("width", "90 in", "outside the plausible range 1.575 to 78.74 in"),
        ("width", "7", "outside the plausible range 40 to 2000 mm"),
        ("width", "-178 mm", "outside the plausible range"),
        ("width", "8 kg", "'kg' is no unit of this quantity; write mm, cm, m, in, ft"),
        ("width", "nan", "no quantity that can be read"),
        ("width", "inf", "no quantity that can be read"),
        ("width", "1e2 mm", "exponent"),
        ("width", "seven inches", "no quantity that can be read"),
        ("width", "7 8", "more than one number"),
        ("width", "1 20 mm", "only in groups of three"),
        ("width", "178 x 200 mm", "no unit"),
        ("width", "17 cm 8 mm", "more than one number"),
        ("width", "71/2 in", "not a proper fraction"),
        ("width", "1/0 in", "not a proper fraction"),
        ("width", "1⁵⁄₁₆ in", "a footnote mark or a power"),
        ("width", "5' 13\"", "in stays under 12"),
        ("width", "5.5' 1\"", "a whole number of ft"),
        ("width", "5'6", "more than one number"),
        ("width", "~178 mm", "'~' is too much"),
        ("width", "١٧٨", "no quantity that can be read"),
        ("width", "1.2.3 m", "more than one number"),
        ("width", "9" * 5000, "too long"),
        ("impedance_nominal", "4-8 ohms", "more than one number"),
        ("impedance_nominal", "8 ohm compatible", "'compatible' is too much"),
        ("impedance_nominal", "0", "outside the plausible range 2 to 32 ohm"),
        ("sensitivity", "88dB/W/m", "'/W/m' is too much"),
        ("crossover", "45 Hz - 20 kHz", "more than one number"),
        ("crossover", "2.2 MHz", "no unit of this quantity; write Hz, kHz"),
        ("weight", "27 lb 16 oz", "oz stays under 16"),
        ("woofer_count", "2.5", "no whole number"),
        ("woofer_count", "1,000", "could be 1000 or 1;"),
    ],
)
def test_what_is_doubtful_is_refused_with_what_would_be_right(name: str, text: str, said: str) -> None:
    with pytest.raises(UnreadableQuantity) as refusal:
        read(text, LOUDSPEAKER[name])
    assert said in str(refusal.value)
    assert text[:40] in str(refusal.value).replace("\\'", "'")


@pytest.mark.parametrize(("text", "value"), [("1200", "1200"), ("1.234.567,5", "1234567.5"), ("-3", "-3")])
def test_numbers_without_unit(text: str, value: str) -> None:
    assert str(number(text)) == value


@pytest.mark.parametrize("text", ["", "12 EUR", "1,200", "1 2", "nan", "1,2,3"])
def test_no_single_number(text: str) -> None:
    with pytest.raises(UnreadableQuantity):
        number(text)


@given(st.data(), st.sampled_from(EVERY))
def test_text_reads_back_to_the_identical_number(data: st.DataObject, quantity: Quantity) -> None:
    if quantity.kind is Kind.COUNT:
        value = float(data.draw(st.integers(int(quantity.low), int(quantity.high))))
    else:
        value = data.draw(st.floats(quantity.low, quantity.high).filter(lambda one: not 0 < abs(one) < SMALLEST))
    text = write(value, quantity)
    assert read(write_cell(value, quantity), quantity) == value
    assert "e" not in text
    if quantity.kind is not Kind.COUNT:
        assert read(f"{text} {quantity.bare_unit}", quantity) == value


@given(st.decimals(min_value=40, max_value=2000, places=3))
def test_what_is_typed_comes_out_as_typed(typed: object) -> None:
    text = f"{typed:f}".rstrip("0").rstrip(".")
    assert write(read(text, LOUDSPEAKER["width"]), LOUDSPEAKER["width"]) == text


_DIGITS_AND_MARKS = [
    "1",
    "7",
    "12",
    "0",
    ",",
    ".",
    "/",
    "⁄",
    "-",
    "–",
    "½",
    "'",
    '"',
    "”",
    " ",
    "\u00a0",
    "+",
    "٣",
    "²",
    "(",
]
_WORDS = ["mm", "in", "ft", "kg", "lb", "oz", "kHz", "Ω", "°", "%", "unknown", "nan", "inf", "e5", "x", "ſ", "İ"]
_CONTROLS = ["\x00", "\n", "\x1b", "\\"]
_FRAGMENTS = st.sampled_from([*_DIGITS_AND_MARKS, *_WORDS, *_CONTROLS])


@given(st.one_of(st.text(), st.lists(_FRAGMENTS, max_size=8).map("".join)), st.sampled_from(EVERY))
def test_no_text_gives_anything_but_a_number_in_range_none_or_a_refusal(text: str, quantity: Quantity) -> None:
    said = ""
    try:
        value = read(text, quantity)
    except UnreadableQuantity as refusal:
        value, said = None, str(refusal)
    assert said.isprintable()
    assert value is None or (quantity.low <= value <= quantity.high and math.isfinite(value))
