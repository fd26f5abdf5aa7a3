"""Layout notation: what it means, what is refused, and what is inferred where it is missing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.physics.layout import LayoutError, infer, parse, place

FRAMES = {letter: np.array([size]) for letter, size in {"T": 0.1, "M": 0.12, "W": 0.17, "B": 0.3}.items()}


@pytest.mark.parametrize(
    ("text", "drivers", "bands"),
    [
        ("TM", "TM", "MT"),
        ("MTM", "MTM", "MT"),
        ("TMM", "TMM", "MT"),
        ("W(T/M)W", "WTMW", "WMT"),
        ("W(TM)W", "WTMW", "WMT"),
        ("WMTMW", "WMTMW", "WMT"),
        ("TMWW", "TMWW", "WMT"),
        ("(TM)", "TM", "MT"),
        ("TM/WW", "TMWW", "WMT"),
        ("TMWBB", "TMWBB", "BWMT"),
        (" w-( t / m )-w ", "WTMW", "WMT"),
    ],
)
def test_the_notation_of_the_contract_is_read(text: str, drivers: str, bands: str) -> None:
    layout = parse(text)
    assert (layout.drivers, layout.bands) == (drivers, bands)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "empty"),
        ("M()M", "empty"),
        ("T/", "empty"),
        ("MXM", "'X'"),
        ("M(TM", "not closed"),
        ("MT)M", "never opened"),
        ("W(MM)W", "coaxial"),
        ("W((T/M)W)", "coaxial"),
        ("T" + "W" * 24, "25 drivers"),
        ("2xM", "'2'"),
    ],
)
def test_nonsense_is_refused_with_its_reason_and_an_example(text: str, why: str) -> None:
    with pytest.raises(LayoutError, match="write for instance") as refusal:
        parse(text)
    assert why in str(refusal.value)


@given(st.text(alphabet="TMWB()/ -x", max_size=12))
def test_any_text_is_read_or_refused_and_what_is_read_reads_back(text: str) -> None:
    try:
        layout = parse(text)
    except LayoutError:
        return
    assert parse(str(layout)) == layout


def test_drivers_are_packed_side_by_side_in_reading_order() -> None:
    places = place(parse("MTM"), FRAMES, FRAMES, 0.01)
    np.testing.assert_allclose(places.along, [[-0.12, 0.0, 0.12]], atol=1e-12)
    np.testing.assert_allclose(places.length, [0.36])
    np.testing.assert_allclose(places.across, 0.0, atol=1e-12)


def test_a_stack_has_its_first_row_on_top() -> None:
    places = place(parse("W(T/M)W"), FRAMES, FRAMES, 0.01)
    np.testing.assert_allclose(places.along, [[-0.155, 0.0, 0.0, 0.155]], atol=1e-12)
    np.testing.assert_allclose(places.across, [[0.0, 0.065, -0.055, 0.0]], atol=1e-12)


def test_coaxial_drivers_share_a_centre() -> None:
    places = place(parse("W(TM)W"), FRAMES, FRAMES, 0.01)
    np.testing.assert_allclose(places.along, [[-0.155, 0.0, 0.0, 0.155]], atol=1e-12)
    np.testing.assert_allclose(places.across, 0.0, atol=1e-12)


@pytest.mark.parametrize(
    ("lying", "middles", "woofers", "crossovers", "layout"),
    [
        (True, None, 2, 0, "MTM"),
        (True, 1, 2, 0, "W(T/M)W"),
        (True, 2, 2, 0, "WMTMW"),
        (True, 2, None, 0, "MTM"),
        (False, None, 1, 0, "TM"),
        (False, None, 2, 2, "TMM"),
        (False, 1, 2, 0, "TMWW"),
        (True, None, 3, 0, None),
        (True, 3, 2, 0, None),
        (False, None, None, 2, None),
    ],
)
def test_a_missing_layout_is_inferred_from_counts_or_not_at_all(
    lying: bool, middles: int | None, woofers: int | None, crossovers: int, layout: str | None
) -> None:
    assert infer(lying, middles, woofers, crossovers) == layout
