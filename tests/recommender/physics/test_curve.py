"""Grids and smoothing of measured curves, against closed forms and scipy's filters."""

from __future__ import annotations

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.physics import curve, erb
from triptych.recommender.physics.checks import OutOfRange

GRID = curve.log_grid(20.0, 20_000.0)
FINE = curve.log_grid(20.0, 20_000.0, 384)
levels = st.floats(-40.0, 120.0)


@given(levels, st.sampled_from([1, 2, 3, 6, 12, 24, 48]))
def test_a_flat_curve_stays_flat_however_it_is_smoothed(level: float, fraction: int) -> None:
    np.testing.assert_allclose(curve.smooth(GRID, np.full(GRID.size, level), fraction), level, atol=1e-9)


@pytest.mark.parametrize("fraction", [1, 2, 3, 6, 12, 24])
@pytest.mark.parametrize("period", [0.22, 0.5, 1.3])
def test_a_ripple_of_the_power_is_attenuated_as_a_rectangular_window_does(fraction: int, period: float) -> None:
    # the Fourier transform of a rectangle 1/n octave wide: sin(x)/x with x = pi / (n period); closed form
    octave = np.log2(FINE / 1000.0)
    depth = 0.2
    level = 10 * np.log10(1 + depth * np.sin(2 * np.pi * octave / period))
    smoothed = 10 ** (curve.smooth(FINE, level, fraction) / 10) - 1
    inner = np.abs(octave + 1) < 3.5
    basis = np.column_stack([f(2 * np.pi * octave[inner] / period) for f in (np.sin, np.cos)])
    (sine, cosine), *_ = np.linalg.lstsq(basis, smoothed[inner], rcond=None)
    assert sine == pytest.approx(depth * np.sinc(1 / (fraction * period)), abs=4e-4)
    assert cosine == pytest.approx(0.0, abs=4e-4)


@pytest.mark.parametrize("fraction", [1, 3, 6])
def test_smoothing_is_scipys_running_mean_of_the_power(fraction: int) -> None:
    level = np.cumsum(np.random.default_rng(7).normal(0, 0.15, FINE.size))
    points = 384 // fraction + 1
    running = 10 * np.log10(scipy.ndimage.uniform_filter1d(10 ** (level / 10), points))
    inner = slice(points, -points)
    np.testing.assert_allclose(curve.smooth(FINE, level, fraction)[inner], running[inner], atol=0.03)


def band_power(frequency: np.ndarray, level: np.ndarray, low: float, high: float) -> float:
    """Power between two frequencies on a logarithmic axis, summed over 20,000 points: to a millionth of a decibel."""
    octave = np.linspace(np.log2(low), np.log2(high), 20_001)
    power = 10 ** (np.interp(octave, np.log2(frequency), level) / 10)
    return float(scipy.integrate.trapezoid(power, octave))


@pytest.mark.examples
@given(st.lists(levels.filter(lambda level: level > 50), min_size=24, max_size=24), st.integers(3, 48))
def test_resampling_keeps_the_power_of_every_cell(level: list[float], per_octave: int) -> None:
    frequency = np.geomspace(30.0, 17_000.0, 24)
    grid = curve.log_grid(frequency[0], frequency[-1], per_octave)
    found = curve.resample(frequency, level, grid)
    half = 2.0 ** (0.5 / per_octave)
    for place in (3, grid.size // 2, grid.size - 4):
        whole = band_power(frequency, np.array(level), grid[place] / half, grid[place] * half) * per_octave
        assert found[place] == pytest.approx(10 * np.log10(whole), abs=1e-3)


def test_a_curve_already_on_the_grid_and_straight_comes_back() -> None:
    tilt = 3.0 * np.log2(GRID / 1000.0)
    np.testing.assert_allclose(curve.resample(GRID, tilt, GRID)[1:-1], tilt[1:-1], atol=2e-4)


def test_leading_axes_are_curves_of_their_own() -> None:
    level = np.stack([np.zeros(GRID.size), 3.0 * np.log2(GRID)])
    smoothed, bands = curve.smooth(GRID, level, 3), curve.band_levels(GRID, level)
    for row in range(2):
        np.testing.assert_array_equal(smoothed[row], curve.smooth(GRID, level[row], 3))
        np.testing.assert_array_equal(bands[row], curve.band_levels(GRID, level[row]))


def test_bands_that_the_curve_does_not_cover_are_unknown_and_the_rest_do_not_change() -> None:
    level = 2.0 * np.log2(GRID / 1000.0)
    whole, part = curve.band_levels(GRID, level), GRID > 300.0
    cut = curve.band_levels(GRID[part], level[part])
    assert np.isnan(cut[:3]).all()
    np.testing.assert_allclose(cut[3:], whole[3:], atol=1e-6)
    assert np.isfinite(whole).all()
    # a tilt is lifted little by a mean of power over one of the ear's bands
    np.testing.assert_allclose(whole, 2.0 * np.log2(erb.bands() / 1000.0), atol=0.02)


def test_no_band_is_known_of_a_curve_below_them_all() -> None:
    grid = curve.log_grid(20.0, 120.0)
    assert np.isnan(curve.band_levels(grid, np.zeros(grid.size))).all()


@pytest.mark.parametrize(
    "refused",
    [
        lambda: curve.smooth([100.0, 100.0, 200.0], [0.0, 0.0, 0.0], 3),
        lambda: curve.smooth([100.0, 200.0], [0.0, 0.0], 0.5),
        lambda: curve.resample([100.0, 200.0], [0.0, 0.0], [50.0, 150.0]),
        lambda: curve.log_grid(1001.0, 1002.0, 3),
        lambda: curve.at_angles([10.0, 0.0], [0.0, 0.0], [5.0]),
    ],
)
def test_what_has_no_meaning_is_refused(refused: object) -> None:
    with pytest.raises(OutOfRange):
        refused()  # type: ignore[operator]  # each is a lambda without arguments
