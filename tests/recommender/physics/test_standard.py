"""The standard's curves and the preference figure: invariance, short sets refused, integration over the sphere."""

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from tests.recommender.physics.boxes import both_orbits
from triptych.recommender.physics.checks import OutOfRange
from triptych.recommender.physics.polar_set import ORBIT, MissingAngles, PolarSet, polar_set
from triptych.recommender.physics.preference import (
    NotMeasured,
    low_frequency_extension,
    narrow_band_deviation,
    preference,
    smoothness,
)
from triptych.recommender.physics.standard import (
    ANGLE_WEIGHTS,
    curves,
    early_reflections,
    listening_window,
    sound_power,
)

FREQUENCY = np.geomspace(20.0, 20000.0, 241)


def rounded(order: float) -> PolarSet:
    """A source with the pattern ((1 + cos)/2) to the power `order`, the same on both orbits."""
    pattern = ((1.0 + np.cos(np.radians(ORBIT))) / 2.0) ** order
    pressure = np.broadcast_to(pattern[:, None], (len(ORBIT), FREQUENCY.size))
    return both_orbits(FREQUENCY, pressure)


@pytest.mark.parametrize("order", [0.0, 0.5, 1.0, 2.0])
def test_sound_power_is_the_integral_over_the_sphere(order: float) -> None:
    mean = scipy.integrate.quad(lambda t: 0.5 * ((1.0 + np.cos(t)) / 2.0) ** (2.0 * order) * np.sin(t), 0.0, np.pi)[0]
    np.testing.assert_allclose(sound_power(rounded(order)), 10.0 * np.log10(mean), rtol=0, atol=0.03)


def test_shares_of_the_sphere_sum_to_one_over_seventy_curves() -> None:
    assert ANGLE_WEIGHTS["sound_power"].shape == (70,)
    assert ANGLE_WEIGHTS["sound_power"].sum() == pytest.approx(1.0, rel=1e-14)


@given(shift=st.floats(-40, 40))
def test_a_shift_of_all_levels_shifts_all_curves(shift: float) -> None:
    polar = rounded(1.0)
    moved = polar_set(FREQUENCY, ORBIT, polar.horizontal + shift, ORBIT, polar.vertical + shift)
    before, after = curves(polar), curves(moved)
    for name in ("on_axis", "listening_window", "early_reflections", "sound_power", "in_room_response"):
        np.testing.assert_allclose(getattr(after, name), getattr(before, name) + shift, atol=1e-9)


def test_leading_axes_are_loudspeakers() -> None:
    each = [rounded(order) for order in (0.0, 1.0, 2.0)]
    stack = polar_set(
        FREQUENCY, ORBIT, np.stack([p.horizontal for p in each]), ORBIT, np.stack([p.vertical for p in each])
    )
    for function in (listening_window, early_reflections, sound_power):
        np.testing.assert_allclose(function(stack), np.stack([function(polar) for polar in each]))


def test_angles_may_stand_in_any_order() -> None:
    polar = rounded(1.5)
    mixed = np.random.default_rng(3).permutation(len(ORBIT))
    angles = np.array(ORBIT)[mixed]
    again = polar_set(FREQUENCY, angles, polar.horizontal[mixed], angles, polar.vertical[mixed])
    np.testing.assert_allclose(sound_power(again), sound_power(polar))


def test_a_horizontal_set_alone_says_what_it_lacks_and_fills_nothing_in() -> None:
    polar = rounded(1.0)
    half = polar_set(FREQUENCY, ORBIT, polar.horizontal, [], [])
    found = curves(half)
    assert not half.complete
    assert found.on_axis is not None
    assert found.listening_window is None
    assert found.sound_power is None
    assert found.in_room_response is None
    assert found.missing["listening_window"] == ("vertical -10", "vertical 10")
    assert len(found.missing["sound_power"]) == 34
    with pytest.raises(MissingAngles, match="listening window needs 2 more curves: vertical -10, vertical 10"):
        listening_window(half)


def test_a_window_needs_its_nine_curves_and_no_more() -> None:
    across, up = [-30, -20, -10, 0, 10, 20, 30], [-10, 10]
    nine = polar_set([1000.0], across, np.full((7, 1), 80.0), up, np.full((2, 1), 90.0))
    # two curves of nine have ten times the squared pressure
    assert listening_window(nine) == pytest.approx(80.0 + 10.0 * np.log10((7 + 20) / 9))
    assert curves(nine).early_reflections is None


@pytest.mark.parametrize(
    ("angles", "said"),
    [([0, 5], "multiple of 10"), ([0, 190], "multiple of 10"), ([0, 0], "once each"), ([-180, 180], "once each")],
)
def test_angles_of_no_standard_are_refused(angles: list[int], said: str) -> None:
    with pytest.raises(OutOfRange, match=said):
        polar_set([1000.0], angles, np.zeros((2, 1)), [], [])


def test_levels_of_another_shape_are_refused() -> None:
    with pytest.raises(OutOfRange, match="must end in 1 angles by 2 frequencies"):
        polar_set([100.0, 1000.0], [0], np.zeros((1, 3)), [], [])
    with pytest.raises(OutOfRange, match="rising"):
        polar_set([1000.0, 100.0], [0], np.zeros((1, 2)), [], [])


@pytest.mark.parametrize("evidence", ["modelled", "stated", "assumed"])
def test_no_preference_from_data_that_were_not_measured(evidence: str) -> None:
    with pytest.raises(NotMeasured, match=evidence):
        preference(curves(rounded(1.0)), evidence)


def test_no_preference_from_a_short_set() -> None:
    polar = rounded(1.0)
    with pytest.raises(NotMeasured, match="70 curves"):
        preference(curves(polar_set(FREQUENCY, ORBIT, polar.horizontal, [], [])), "measured")


@given(shift=st.floats(-30, 30), tilt=st.floats(-3, 3))
def test_deviation_and_smoothness_do_not_see_the_level(shift: float, tilt: float) -> None:
    level = tilt * np.log2(FREQUENCY / 1000.0) + np.sin(40.0 * np.log(FREQUENCY))
    assert narrow_band_deviation(FREQUENCY, level + shift) == pytest.approx(
        float(narrow_band_deviation(FREQUENCY, level))
    )
    assert smoothness(FREQUENCY, level + shift) == pytest.approx(float(smoothness(FREQUENCY, level)), abs=1e-9)


def test_smoothness_is_the_squared_correlation_of_a_general_library() -> None:
    level = np.random.default_rng(5).normal(size=FREQUENCY.size) - np.log2(FREQUENCY)
    counted = (FREQUENCY >= 100.0) & (FREQUENCY <= 16000.0)
    expected = np.corrcoef(np.log(FREQUENCY[counted]), level[counted])[0, 1] ** 2
    assert smoothness(FREQUENCY, level) == pytest.approx(expected)


def test_extension_is_unknown_where_the_data_end_before_it() -> None:
    flat = np.zeros(FREQUENCY.size)
    assert np.isnan(low_frequency_extension(FREQUENCY, flat, flat))


def test_a_coarse_curve_is_refused() -> None:
    with pytest.raises(OutOfRange, match="at least two values in each half octave"):
        narrow_band_deviation([100.0, 1000.0, 12000.0], [0.0, 0.0, 0.0])
    with pytest.raises(OutOfRange, match="highest frequency"):
        narrow_band_deviation([100.0, 1000.0], [0.0, 0.0])
