"""Cavity, boundary and screen against numerical integration, a general root finder, and their limits."""

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.physics.boundary import baffle_step, furniture_gain
from triptych.recommender.physics.cavity import (
    Feed,
    bay_resonance,
    cavity_excitation,
    duct_cavity_resonance,
    slot_end_correction,
)
from triptych.recommender.physics.checks import OutOfRange
from triptych.recommender.physics.constants import SPEED_OF_SOUND
from triptych.recommender.physics.screen import woven_loss

side = st.floats(0.01, 1.0)


def quarter_wave(length: float) -> float:
    """Lowest resonance of a duct that is closed at its end [Hz]."""
    return SPEED_OF_SOUND / (4.0 * length)


def helmholtz_frequency(volume: float, area: float, length: float) -> float:
    """Resonance of a volume with a neck whose own air is little [Hz]."""
    return float(SPEED_OF_SOUND / (2.0 * np.pi) * np.sqrt(area / (volume * length)))


@pytest.mark.parametrize(("width", "height"), [(1.0, 1.0), (0.2, 0.1), (0.5, 0.05), (0.6, 0.02)])
def test_slot_correction_agrees_with_the_rayleigh_integral(width: float, height: float) -> None:
    # mean of 1/(2 pi r) over all pairs of points: pairs x, y apart are (a - x)(b - y) in number, in four quadrants;
    # in polar steps the 1/r goes
    def density(radius: float, angle: float) -> float:
        return float((width - radius * np.cos(angle)) * (height - radius * np.sin(angle)))

    def reach(angle: float) -> float:
        return float(min(width / max(np.cos(angle), 1e-12), height / max(np.sin(angle), 1e-12)))

    corner = float(np.arctan2(height, width))
    spans = ((0.0, corner), (corner, np.pi / 2))
    parts = [scipy.integrate.dblquad(density, start, stop, 0.0, reach)[0] for start, stop in spans]
    assert slot_end_correction(width, height) == pytest.approx(4.0 * sum(parts) / (2.0 * np.pi * width * height))


@given(width=side, height=side)
def test_slot_correction_is_that_of_either_side_and_below_the_round_hole_of_equal_area(
    width: float, height: float
) -> None:
    correction = slot_end_correction(width, height)
    assert correction == pytest.approx(float(slot_end_correction(height, width)))
    # 8 r / 3 pi for a round hole in a large wall: Rayleigh
    assert correction < 8.0 * np.sqrt(width * height / np.pi) / (3.0 * np.pi)


@given(volume=st.floats(1e-5, 10.0), area=st.floats(1e-4, 0.5), length=st.floats(0.01, 2.0))
def test_duct_and_cavity_agree_with_a_general_root_finder(volume: float, area: float, length: float) -> None:
    def excess(x: float) -> float:
        return float(x * volume / (area * length) * np.sin(x) - np.cos(x))

    root = scipy.optimize.brentq(excess, 0.0, np.pi / 2, xtol=1e-15, rtol=1e-14)
    expected = SPEED_OF_SOUND * root / (2.0 * np.pi * length)
    assert duct_cavity_resonance(volume, area, length) == pytest.approx(expected, rel=1e-9)


@given(area=st.floats(1e-4, 0.05), length=st.floats(0.01, 0.5))
def test_duct_and_cavity_tend_to_both_limits(area: float, length: float) -> None:
    assert duct_cavity_resonance(1e-12, area, length) == pytest.approx(quarter_wave(length), rel=1e-5)
    large = 1e4 * area * length
    assert duct_cavity_resonance(large, area, length) == pytest.approx(
        helmholtz_frequency(large, area, length), rel=1e-4
    )


@given(volume=st.floats(1e-4, 1.0), area=st.floats(1e-3, 0.1), length=st.floats(0.05, 0.6))
def test_duct_and_cavity_lie_below_both_limits(volume: float, area: float, length: float) -> None:
    both = min(helmholtz_frequency(volume, area, length), quarter_wave(length))
    assert duct_cavity_resonance(volume, area, length) < both


def test_the_narrower_the_gap_the_lower_the_resonance() -> None:
    widths = np.linspace(0.45, 0.63, 30)
    assert np.all(np.diff(bay_resonance(0.64, 0.21, 0.38, widths, 0.18, 0.30)) < 0.0)


def test_a_proud_box_has_a_shorter_gap_and_more_air_behind() -> None:
    flush, proud, back = bay_resonance(0.64, 0.21, 0.38, 0.52, 0.18, 0.30, [0.0, -0.02, 0.05])
    assert flush != proud
    assert back > flush


@pytest.mark.parametrize(
    "box", [(0.65, 0.18, 0.30), (0.52, 0.22, 0.30), (0.52, 0.18, 0.39), (0.64, 0.21, 0.30), (np.nan, 0.18, 0.30)]
)
def test_no_resonance_is_given_for_a_box_that_does_not_fit_or_is_unknown(box: tuple[float, float, float]) -> None:
    assert np.isnan(bay_resonance(0.64, 0.21, 0.38, *box))


@given(resonance=st.floats(20.0, 1000.0))
def test_a_port_into_the_bay_is_never_better_than_one_in_front_nor_that_than_none(resonance: float) -> None:
    sealed, front, into = cavity_excitation(resonance, [Feed.SEALED, Feed.FRONT, Feed.INTO_BAY])
    assert into >= front >= sealed >= 0.0


def test_excitation_of_the_unknown_is_unknown() -> None:
    assert np.isnan(cavity_excitation(120.0, Feed.UNKNOWN))
    assert np.isnan(cavity_excitation(np.nan, Feed.INTO_BAY))
    with pytest.raises(OutOfRange, match="feed"):
        cavity_excitation(120.0, 3)


def test_wider_furniture_never_adds_less() -> None:
    frequency = np.geomspace(20.0, 5000.0, 60)
    gains = furniture_gain(frequency, 0.25, np.array([0.25, 0.6, 1.2, 2.4, np.inf])[:, None])
    assert np.all(np.diff(gains, axis=0) >= -1e-12)
    np.testing.assert_array_equal(gains[0], 0.0)


def test_the_step_is_that_of_two_halves_of_space() -> None:
    step = baffle_step(np.geomspace(1.0, 2e4, 100), 0.2)
    assert np.all(np.diff(step) > 0.0)
    assert step[-1] == pytest.approx(0.0, abs=0.01)


def test_a_screen_is_open_below_500_hz_and_loses_more_the_higher() -> None:
    frequency = np.geomspace(20.0, 2e4, 100)
    loss = woven_loss(frequency)
    assert np.all(np.diff(loss) >= 0.0)
    assert np.all(loss[frequency < 500.0] < 0.01)


@pytest.mark.parametrize("area", [-0.1, 0.0])
def test_a_duct_without_area_is_refused(area: float) -> None:
    with pytest.raises(OutOfRange, match="area must be"):
        duct_cavity_resonance(0.01, area, 0.3)
