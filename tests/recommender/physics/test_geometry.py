"""Aim and fit: limits and monotony; values stand in tests/closed_forms/geometry.csv."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.physics.checks import OutOfRange
from triptych.recommender.physics.geometry import (
    elevation,
    largest_tilt,
    lift,
    tilted_depth,
    tilted_height,
)

side = st.floats(0.05, 1.5)
slack = st.floats(0.0, 1.0)


@given(height=side, depth=side, above=slack, behind=slack)
def test_a_box_at_its_largest_tilt_fits_and_beyond_it_does_not(
    height: float, depth: float, above: float, behind: float
) -> None:
    opening = (height + above, depth + behind)
    tilt = float(largest_tilt(height, depth, *opening))
    assert tilted_height(height, depth, tilt) <= opening[0] + 1e-8
    assert tilted_depth(height, depth, tilt) <= opening[1] + 1e-8
    if tilt < 89.0:
        more = tilt + 0.5
        fits = (
            tilted_height(height, depth, more) <= opening[0] - 1e-8
            and tilted_depth(height, depth, more) <= opening[1] - 1e-8
        )
        # only where the opening all but equals the diagonal is half a degree more past the hump again
        assert not fits or np.isclose(np.hypot(height, depth), opening, atol=1e-4).any()


@given(height=side, depth=side, above=slack, behind=slack, more=slack)
def test_a_larger_opening_never_lowers_the_largest_tilt(
    height: float, depth: float, above: float, behind: float, more: float
) -> None:
    tilt = largest_tilt(height, depth, height + above, depth + behind)
    assert largest_tilt(height, depth, height + above + more, depth + behind) >= tilt - 1e-9
    assert largest_tilt(height, depth, height + above, depth + behind + more) >= tilt - 1e-9


def test_every_tilt_on_the_way_to_the_largest_fits_by_brute_force() -> None:
    steps = np.arange(0.0, 90.0, 0.001)
    height, depth, opening = 0.19, 0.31, (0.23, 0.335)
    fits = (tilted_height(height, depth, steps) <= opening[0]) & (tilted_depth(height, depth, steps) <= opening[1])
    first = steps[np.argmin(fits)]
    assert largest_tilt(height, depth, *opening) == pytest.approx(first, abs=0.0011)


def test_a_sum_of_lengths_that_just_fits_counts_as_fitting() -> None:
    assert 0.21 - 0.01 < 0.2
    assert largest_tilt(0.2, 0.3, 0.21 - 0.01, np.inf) == 0.0


@pytest.mark.parametrize("opening", [(np.nan, 1.0), (1.0, np.nan), (0.1, 1.0), (1.0, 0.1)])
def test_no_tilt_is_given_where_a_length_is_unknown_or_the_box_does_not_fit(opening: tuple[float, float]) -> None:
    assert np.isnan(largest_tilt(0.2, 0.3, *opening))


def test_an_unknown_height_has_an_unknown_elevation() -> None:
    np.testing.assert_array_equal(np.isnan(elevation([0.5, np.nan], 1.0, 3.0)), [False, True])


@given(depth=side, tilt=st.floats(-90, 90))
def test_lift_never_points_down(depth: float, tilt: float) -> None:
    assert lift(depth, tilt) >= 0.0


@pytest.mark.parametrize("tilt", [-91.0, 120.0])
def test_a_tilt_beyond_a_right_angle_is_refused(tilt: float) -> None:
    with pytest.raises(OutOfRange, match=r"tilt must be -90 to 90 deg, not"):
        tilted_height(0.2, 0.3, tilt)
