"""Lengths as a joiner reads them, and words that fit."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from triptych.catalog.fields import ROOM_QUANTITIES
from triptych.catalog.numbers import read
from triptych.recommender.drawing.drawn_numbers import Unit, angle, frequency, length
from triptych.recommender.drawing.text import clean, fit, width, wrap

MARKS_OF_WAY = ("LRE", "RLE", "PDF", "LRO", "RLO", "LRI", "RLI", "FSI", "PDI")


def test_inches_are_written_with_sixteenths_in_lowest_terms() -> None:
    # 1 in = 25.4 mm exactly (International Yard and Pound Agreement, 1959)
    told = {0.0254: "1 in", 0.0127: "1/2 in", 0.1905: "7 1/2 in", 0.0: "0 in", 0.0015875: "1/16 in", 0.254: "10 in"}
    assert {metres: length(metres, Unit.INCH).replace("\u00a0", " ") for metres in told} == told


@given(st.floats(0.3, 29.9), st.sampled_from(Unit))
def test_a_written_length_reads_back_to_within_half_a_part(metres: float, unit: Unit) -> None:
    part = 0.001 if unit is Unit.MILLIMETRE else 0.0254 / 16
    back = read(length(metres, unit), ROOM_QUANTITIES["seat.distance"])
    assert back is not None
    assert abs(back - metres) <= part / 2 + 1e-12


def test_nothing_is_minus_nothing() -> None:
    assert length(-0.0001, Unit.MILLIMETRE).startswith("0")
    assert angle(-0.04) == "0.0°"


def test_frequencies_carry_at_the_thousand() -> None:
    assert frequency(999.6).replace("\u00a0", " ") == "1 kHz"


def test_each_character_stays_goes_or_is_set_apart_as_its_class_says() -> None:
    # classes of characters and of writing direction: the Unicode Character Database
    for character in map(chr, range(0x3000)):
        kind, way = unicodedata.category(character), unicodedata.bidirectional(character)
        gone = character.isspace() or kind in ("Cc", "Cn") or character in "\u061c\u200e\u200f" or way in MARKS_OF_WAY
        kept = "a b" if gone else f"a{character}b"
        assert clean(f"a{character}b") == (f"\u2068{kept}\u2069" if way in ("R", "AL") and not gone else kept)


@given(st.text(), st.floats(2, 5), st.floats(5, 200))
def test_cut_words_fit(words: str, size: float, room: float) -> None:
    assert width(fit(clean(words), size, room), size) <= max(room, width("…", size))


@given(st.text(), st.floats(10, 200), st.integers(1, 4))
def test_wrapped_words_fit_and_are_all_there_where_there_is_room(words: str, room: float, lines: int) -> None:
    cleaned = clean(words)
    wrapped = wrap(cleaned, 3.0, room, lines)
    assert len(wrapped) <= lines
    assert all(width(line, 3.0) <= room for line in wrapped)
    if not any("…" in line for line in wrapped):
        assert " ".join(wrapped) == cleaned


@given(st.text())
def test_cleaning_twice_is_cleaning_once(words: str) -> None:
    assert clean(clean(words)) == clean(words)
