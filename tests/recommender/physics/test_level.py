"""Level, load and distance: limits; values stand in tests/closed_forms/level.csv."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.physics.checks import OutOfRange
from triptych.recommender.physics.level import (
    amplifier_voltage,
    direct_level,
    load_limited_voltage,
)
from triptych.recommender.physics.sensitivity import anechoic_sensitivity

sensitivity = st.floats(80.0, 105.0)
distance = st.floats(0.5, 10.0)


@given(s=sensitivity, volts=st.floats(0.1, 100.0), r=distance)
def test_doubling_the_distance_costs_six_decibels(s: float, volts: float, r: float) -> None:
    # 20 log10 2, by definition
    assert direct_level(s, volts, r) - direct_level(s, volts, 2.0 * r) == pytest.approx(6.0205999, abs=1e-6)


@given(power=st.floats(5, 500), lowest=st.floats(2, 8), ohms=st.floats(1.0, 16.0))
def test_the_load_limit_is_the_current_of_the_lowest_load(power: float, lowest: float, ohms: float) -> None:
    volts = float(load_limited_voltage(power, 8.0, lowest, ohms, np.nan))
    full = float(amplifier_voltage(power, 8.0))
    assert volts <= full * (1 + 1e-12)
    assert volts / ohms <= full / lowest * (1 + 1e-12)
    assert volts == pytest.approx(full) or volts / ohms == pytest.approx(full / lowest)


@given(power=st.floats(5, 500), ohms=st.floats(2.0, 16.0), rating=st.floats(5, 500))
def test_the_box_never_takes_more_than_its_rating(power: float, ohms: float, rating: float) -> None:
    assert load_limited_voltage(power, 8.0, 4.0, ohms, rating) ** 2 / ohms <= rating * (1 + 1e-9)


def test_an_unknown_impedance_gives_an_unknown_voltage_and_an_unknown_rating_no_limit() -> None:
    volts = load_limited_voltage(50.0, 8.0, 6.0, [8.0, np.nan], np.nan)
    np.testing.assert_array_equal(volts, [20.0, np.nan])
    assert np.isnan(load_limited_voltage(50.0, 8.0, np.nan, 8.0, np.nan))


@given(s=sensitivity, basis=st.sampled_from(["anechoic", "in_room", "half_space", "unknown"]))
def test_an_unknown_basis_spans_every_other(s: float, basis: str) -> None:
    known, unknown = anechoic_sensitivity(s, basis), anechoic_sensitivity(s, "unknown")
    assert unknown.low <= known.low <= known.likely <= known.high <= unknown.high


def test_a_column_of_bases_gives_a_column() -> None:
    low, likely, high = anechoic_sensitivity([88.0, 88.0, np.nan], np.array(["in_room", "anechoic", "in_room"]))
    np.testing.assert_array_equal(low, [84.0, 88.0, np.nan])
    np.testing.assert_array_equal(likely, [85.0, 88.0, np.nan])
    np.testing.assert_array_equal(high, [86.0, 88.0, np.nan])
    assert anechoic_sensitivity([], np.array([], dtype=str)).low.shape == (0,)


def test_a_strange_basis_is_refused_by_name() -> None:
    with pytest.raises(OutOfRange, match="anechoic, in_room, half_space, unknown, not 'bathroom'"):
        anechoic_sensitivity(88.0, "bathroom")


@pytest.mark.parametrize(("call", "said"), [
    (lambda: direct_level(88, 2.83, 0.0), "distance must be"),
    (lambda: direct_level(88, -1.0, 3.0), "voltage must be"),
    (lambda: load_limited_voltage(50, 8, 4, 0.0, 100), "impedance must be 0.1 to 1000 ohm, not 0"),
])  # fmt: skip
def test_what_cannot_be_is_refused(call: object, said: str) -> None:
    with pytest.raises(OutOfRange, match=said):
        call()  # type: ignore[operator]  # each is a call without arguments
