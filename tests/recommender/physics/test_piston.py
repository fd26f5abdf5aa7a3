"""Single drivers against a general library, brute-force sums, integrals over the sphere, and limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from triptych.recommender.physics import piston
from triptych.recommender.physics.checks import OutOfRange


def test_directivity_agrees_with_a_general_library() -> None:
    x = np.concatenate([np.linspace(1e-6, 60, 4001), np.linspace(300, 400, 501)])
    np.testing.assert_allclose(piston.directivity(x), 2 * special.j1(x) / x, rtol=0, atol=1e-13)


@pytest.mark.parametrize("ka", [0.5, 2.0, 5.0, 12.0])
def test_a_piston_is_the_sum_of_many_point_sources(ka: float) -> None:
    steps = (np.arange(1200) + 0.5) / 600 - 1
    x, y = np.meshgrid(steps, steps)
    right = x[x**2 + y**2 <= 1]
    for angle in np.radians([10.0, 25.0, 50.0, 80.0]):
        summed = np.mean(np.cos(ka * right * np.sin(angle)))
        assert summed == pytest.approx(float(piston.directivity(ka * np.sin(angle))), abs=2e-4)


def test_a_rectangle_is_the_sum_of_many_point_sources() -> None:
    steps = (np.arange(2000) + 0.5) / 1000 - 1
    for half_phase in (0.3, 1.7, 4.4):
        assert np.mean(np.cos(half_phase * steps)) == pytest.approx(float(piston.rectangle(half_phase)), abs=1e-6)


@pytest.mark.parametrize("ka", [0.3, 1.0, 3.0, 8.0, 25.0])
def test_directivity_index_is_what_integration_over_the_half_sphere_gives(ka: float) -> None:
    cosine, weight = np.polynomial.legendre.leggauss(200)
    cosine, weight = (cosine + 1) / 2, weight / 2
    power = np.sum(weight * piston.directivity(ka * np.sqrt(1 - cosine**2)) ** 2)
    assert float(piston.directivity_index(ka)) == pytest.approx(10 * np.log10(2 / power), abs=1e-9)


def test_a_large_piston_tends_to_its_circumference_in_wavelengths_squared() -> None:
    ka = np.array([20.0, 60.0, 200.0])
    np.testing.assert_allclose(piston.directivity_index(ka), 20 * np.log10(ka), rtol=0, atol=0.05)


def test_a_small_piston_fills_the_half_space() -> None:
    np.testing.assert_allclose(piston.directivity_index([0.0, 1e-4, 9.99e-4, 1.001e-3]), 10 * np.log10(2), atol=1e-5)


@given(ka=st.floats(2.3, 60), drop=st.floats(-20, -0.1))
def test_half_angle_is_where_the_level_is(ka: float, drop: float) -> None:
    angle = float(piston.half_angle(ka, drop))
    if np.isfinite(angle):
        assert float(piston.level(ka, angle)) == pytest.approx(drop, abs=1e-6)


@given(ka=st.floats(0.01, 100))
def test_no_such_angle_is_infinite_and_never_unknown(ka: float) -> None:
    angles = [float(piston.half_angle(ka, drop)) for drop in (-3.0, -6.0, -np.inf)]
    assert not np.isnan(angles).any()
    assert angles == sorted(angles)


def test_unknown_stays_unknown() -> None:
    for function in (piston.directivity, piston.half_angle, piston.directivity_factor, piston.effective_radius):
        assert np.isnan(function(np.nan))


@given(nominal=st.floats(0.0762, 0.254))
def test_effective_radius_is_near_four_fifths_of_nominal(nominal: float) -> None:
    assert 0.74 <= 2 * float(piston.effective_radius(nominal)) / nominal <= 0.86


@given(angle=st.floats(0, 90), frequency=st.floats(50, 20000))
def test_a_horn_widens_below_control(angle: float, frequency: float) -> None:
    assert piston.horn(angle, 90, 1000, frequency / 2) >= piston.horn(angle, 90, 1000, frequency) - 1e-12


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: piston.level(1, 91), "angle"),
        (lambda: piston.directivity(401), "ka sin"),
        (lambda: piston.half_angle(3, 0.0), "drop"),
        (lambda: piston.wave_size(-0.1, 100), "radius"),
        (lambda: piston.control_frequency(3, 0.2), "coverage"),
    ],
)
def test_what_the_formula_does_not_cover_is_refused_by_name(call: object, word: str) -> None:
    assert callable(call)
    with pytest.raises(OutOfRange, match=word):
        call()
