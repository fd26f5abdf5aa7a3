"""Level, load and distance: limits and inverses; published values stand in tests/published/level.csv."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.physics.arrival import arrival_difference, delay
from triptych.recommender.physics.checks import OutOfRange
from triptych.recommender.physics.exposure import exposure_dose, exposure_time
from triptych.recommender.physics.level import (
    amplifier_voltage,
    direct_level,
    headroom,
    level_from_power,
    load_limited_voltage,
    required_power,
    required_voltage,
    sum_coherent,
    sum_incoherent,
    trim,
)
from triptych.recommender.physics.sensitivity import anechoic_sensitivity, one_watt_to_2v83, to_one_watt

sensitivity = st.floats(80.0, 105.0)
distance = st.floats(0.5, 10.0)


@given(s=sensitivity, volts=st.floats(0.1, 100.0), r=distance)
def test_doubling_the_distance_costs_six_decibels(s: float, volts: float, r: float) -> None:
    # 20 log10 2, by definition
    assert direct_level(s, volts, r) - direct_level(s, volts, 2.0 * r) == pytest.approx(6.0205999, abs=1e-6)


@given(s=sensitivity, target=st.floats(70.0, 115.0), r=distance, gain=st.floats(0.0, 6.0))
def test_the_voltage_required_reaches_the_target(s: float, target: float, r: float, gain: float) -> None:
    assert direct_level(s, required_voltage(target, s, r, gain), r, gain) == pytest.approx(target)
    assert level_from_power(s, required_power(target, s, r), r) == pytest.approx(target)


@given(s=sensitivity, ohms=st.floats(2.0, 16.0), volts=st.floats(0.1, 100.0), r=distance)
def test_watts_and_volts_say_the_same(s: float, ohms: float, volts: float, r: float) -> None:
    # the same loudspeaker by its 1 W figure and the power the voltage puts into it
    by_power = level_from_power(to_one_watt(s, ohms), volts**2 / ohms, r)
    assert by_power == pytest.approx(float(direct_level(s, volts, r)))
    assert one_watt_to_2v83(to_one_watt(s, ohms), ohms) == pytest.approx(s)


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


@given(levels=st.lists(st.floats(40, 110), min_size=1, max_size=6))
def test_sums_lie_between_the_loudest_and_all_in_phase(levels: list[float]) -> None:
    assert max(levels) - 1e-9 <= sum_incoherent(levels) <= sum_coherent(levels) + 1e-9


@given(near=distance, far=distance)
def test_a_delayed_loudspeaker_arrives_with_the_other(near: float, far: float) -> None:
    near, far = sorted((near, far))
    assert arrival_difference(near, far) + delay(near, far) == pytest.approx(0.0, abs=1e-12)
    assert delay(far, near) == 0.0


@given(mains=st.floats(80, 100), centre=st.floats(80, 100))
def test_the_trim_makes_both_equal(mains: float, centre: float) -> None:
    assert centre + trim(mains, centre) == pytest.approx(mains)
    assert headroom(centre, mains) == pytest.approx(-float(trim(mains, centre)))


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


@given(level=st.floats(80, 137))
def test_three_decibels_more_halve_the_time(level: float) -> None:
    assert exposure_time(level) == pytest.approx(2.0 * float(exposure_time(level + 3.0)))
    assert exposure_dose([level], [float(exposure_time(level)) if level > 82 else 0.0]) <= 100.0 + 1e-9


@pytest.mark.parametrize(("call", "said"), [
    (lambda: direct_level(88, 2.83, 0.0), "distance must be"),
    (lambda: direct_level(88, -1.0, 3.0), "voltage must be"),
    (lambda: one_watt_to_2v83(88, 0.0), "impedance must be 0.1 to 1000 ohm, not 0"),
    (lambda: exposure_time(60.0), "level must be 80 to 140 dB, not 60"),
])  # fmt: skip
def test_what_cannot_be_is_refused(call: object, said: str) -> None:
    with pytest.raises(OutOfRange, match=said):
        call()  # type: ignore[operator]  # each is a call without arguments
