"""Crossovers against a general library's analogue filters, and what makes them crossovers: the flat sum."""

from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from triptych.recommender.physics import crossover
from triptych.recommender.physics.checks import OutOfRange

FREQUENCY = np.geomspace(20, 20000, 61)


def reference(order: int, kind: Literal["lowpass", "highpass"]) -> np.ndarray:
    half = order if order % 2 else order // 2
    b, a = signal.butter(half, 2 * np.pi * 1500.0, kind, analog=True)
    response = signal.freqs(b, a, 2 * np.pi * FREQUENCY)[1]
    return np.asarray(response if order % 2 else response**2)


@pytest.mark.parametrize("order", range(1, 9))
def test_filters_agree_with_a_general_library(order: int) -> None:
    np.testing.assert_allclose(crossover.low_pass(FREQUENCY, 1500, order), reference(order, "lowpass"), rtol=1e-9)
    # the half that is wired the other way round has its sign turned
    np.testing.assert_allclose(
        crossover.high_pass(FREQUENCY, 1500, order), crossover.polarity(order) * reference(order, "highpass"), rtol=1e-9
    )


@pytest.mark.parametrize("order", range(1, 9))
def test_both_halves_sum_to_an_all_pass(order: int) -> None:
    total = crossover.low_pass(FREQUENCY, 1500, order) + crossover.high_pass(FREQUENCY, 1500, order)
    np.testing.assert_allclose(np.abs(total), 1.0, rtol=1e-12)


@pytest.mark.parametrize("order", range(1, 9))
def test_shares_are_the_halves_over_their_sum(order: int) -> None:
    low, high = crossover.low_pass(FREQUENCY, 1500, order), crossover.high_pass(FREQUENCY, 1500, order)
    np.testing.assert_allclose(crossover.lower_share(FREQUENCY, 1500, order), low / (low + high), rtol=1e-9)
    np.testing.assert_allclose(
        crossover.upper_share(FREQUENCY, 1500, order), high / (low + high), rtol=1e-9, atol=1e-14
    )


@pytest.mark.parametrize("order", [2, 4, 8])
def test_linkwitz_riley_halves_are_in_step(order: int) -> None:
    ratio = crossover.high_pass(FREQUENCY, 1500, order) / crossover.low_pass(FREQUENCY, 1500, order)
    np.testing.assert_allclose(np.angle(ratio), 0.0, atol=1e-9)


@given(ratio=st.floats(0.01, 100), order=st.integers(1, 8))
def test_the_filters_are_mirror_images_in_log_frequency(ratio: float, order: int) -> None:
    low = abs(complex(crossover.low_pass(1000 * ratio, 1000, order)))
    high = abs(complex(crossover.high_pass(1000 / ratio, 1000, order)))
    assert low == pytest.approx(high, rel=1e-9)


@pytest.mark.parametrize("order", [0, 9, -2])
def test_other_orders_are_refused(order: int) -> None:
    with pytest.raises(OutOfRange, match="crossover_order"):
        crossover.low_pass(1000, 1000, order)
    with pytest.raises(OutOfRange, match="crossover_order"):
        crossover.lower_share(1000, 1000, order)
