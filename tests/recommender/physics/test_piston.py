"""Single drivers against a general library, brute-force sums, integrals over the sphere, and limits."""

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.physics import piston
from triptych.recommender.physics.checks import OutOfRange


def test_directivity_agrees_with_a_general_library() -> None:
    x = np.concatenate([np.linspace(1e-6, 60, 4001), np.linspace(300, 400, 501)])
    np.testing.assert_allclose(piston.directivity(x), 2 * scipy.special.j1(x) / x, rtol=0, atol=1e-13)


@pytest.mark.parametrize("most", [0.5, 7.9, 8.0, 64.0, 399.0, 400.0])
def test_the_table_agrees_with_a_general_library(most: float) -> None:
    x = np.concatenate([np.linspace(1e-6, most, 20_001), -np.linspace(1e-6, most, 101), [np.nan]])
    np.testing.assert_allclose(piston.directivity_of_many(x), 2 * scipy.special.j1(x) / x, rtol=0, atol=2e-12)
    assert float(piston.directivity_of_many(0.0)) == pytest.approx(1.0, abs=1e-14)


@pytest.mark.parametrize("ka", [0.5, 2.0, 5.0, 12.0])
def test_a_piston_is_the_sum_of_many_point_sources(ka: float) -> None:
    steps = (np.arange(600) + 0.5) / 300 - 1
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
def test_power_over_the_half_sphere_is_the_closed_form(ka: float) -> None:
    # Kinsler, Frey, Coppens & Sanders, ch. 7: Q = (ka)^2 / (1 - J1(2ka)/ka)
    cosine, weight = np.polynomial.legendre.leggauss(200)
    cosine, weight = (cosine + 1) / 2, weight / 2
    power = np.sum(weight * piston.directivity(ka * np.sqrt(1 - cosine**2)) ** 2)
    assert 2 / power == pytest.approx(ka**2 / (1 - scipy.special.j1(2 * ka) / ka), rel=1e-9)


def test_unknown_stays_unknown() -> None:
    for function in (piston.directivity, piston.dome_radius, piston.effective_radius):
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
        (lambda: piston.directivity(401), "ka sin"),
        (lambda: piston.effective_radius(2.0), "nominal size"),
        (lambda: piston.control_frequency(3, 0.2), "coverage"),
    ],
)
def test_what_the_formula_does_not_cover_is_refused_by_name(call: object, word: str) -> None:
    assert callable(call)
    with pytest.raises(OutOfRange, match=word):
        call()
