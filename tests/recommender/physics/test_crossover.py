"""Crossovers against a general library's analogue filters."""

from typing import Literal

import numpy as np
import pytest
import scipy

from triptych.recommender.physics import crossover
from triptych.recommender.physics.checks import OutOfRange

FREQUENCY = np.geomspace(20, 20000, 61)


def reference(order: int, kind: Literal["lowpass", "highpass"]) -> np.ndarray:
    half = order if order % 2 else order // 2
    b, a = scipy.signal.butter(half, 2 * np.pi * 1500.0, kind, analog=True)
    response = scipy.signal.freqs(b, a, 2 * np.pi * FREQUENCY)[1]
    return np.asarray(response if order % 2 else response**2)


@pytest.mark.slow  # the library takes a third of a second to come
@pytest.mark.parametrize("order", range(1, 9))
def test_filters_agree_with_a_general_library(order: int) -> None:
    np.testing.assert_allclose(crossover.low_pass(FREQUENCY, 1500, order), reference(order, "lowpass"), rtol=1e-9)


@pytest.mark.slow  # the library takes a third of a second to come
@pytest.mark.parametrize("order", range(1, 9))
def test_shares_are_the_halves_over_their_sum(order: int) -> None:
    low, high = reference(order, "lowpass"), reference(order, "highpass")
    # orders 2 and 6 sum flat only with the high-pass wired the other way round
    total = low + (-high if order in (2, 6) else high)
    np.testing.assert_allclose(np.abs(total), 1.0, rtol=1e-9)
    np.testing.assert_allclose(crossover.lower_share(FREQUENCY, 1500, order), low / total, rtol=1e-9)


@pytest.mark.parametrize("order", [0, 9, -2])
def test_other_orders_are_refused(order: int) -> None:
    with pytest.raises(OutOfRange, match="crossover_order"):
        crossover.low_pass(1000, 1000, order)
    with pytest.raises(OutOfRange, match="crossover_order"):
        crossover.lower_share(1000, 1000, order)
