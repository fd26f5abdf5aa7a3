"""Hand-over between drivers: Linkwitz–Riley and Butterworth filters, and what each driver is left with.

Even orders are Linkwitz–Riley (a Butterworth filter of half the order, squared); odd orders are Butterworth. Either way
low-pass and high-pass, with the high-pass turned over where `polarity` says so, sum to an all-pass: flat on the axis.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import ComplexArray, FloatArray, OutOfRange, within

__all__ = ["low_pass", "lower_share"]


def _ratio(frequency: ArrayLike, corner: ArrayLike) -> FloatArray:
    """Frequency over crossover frequency, both checked. [1]."""
    frequency = within("frequency", frequency, 0.0, 1e6, "Hz")
    return np.asarray(frequency / within("crossover", corner, 1.0, 1e6, "Hz"))


def _normalised(frequency: ArrayLike, corner: ArrayLike) -> ComplexArray:
    return np.multiply(_ratio(frequency, corner), 1j, dtype=np.complex128)


def _whole_order(order: int) -> int:
    if order not in range(1, 9):
        raise OutOfRange(f"crossover_order must be 1 to 8, not {order!r}")
    return int(order)


def _butterworth(s: ComplexArray, order: int) -> ComplexArray:
    """Denominator of a Butterworth low-pass at normalised complex frequency `s`, factor by factor."""
    product = 1 + s if order % 2 else np.ones_like(s)
    for k in range(order // 2):
        product = product * (s * s + 2 * np.sin(np.pi * (2 * k + 1) / (2 * order)) * s + 1)
    return product


def _denominator(s: ComplexArray, order: int) -> ComplexArray:
    return _butterworth(s, order) if order % 2 else _butterworth(s, order // 2) ** 2


def low_pass(frequency: ArrayLike, corner: ArrayLike, order: int = 4) -> ComplexArray:
    """Return the complex response of the low-pass half of a crossover, re the pass band [1].

    frequency, corner: [Hz]
    order: acoustic, 1 to 8: even Linkwitz–Riley, odd Butterworth [1]

    Source: Linkwitz, JAES 24(1), 1976 (from memory).
    """
    s = _normalised(frequency, corner)
    return np.asarray(1 / _denominator(s, _whole_order(order)))


def _ratio_of_halves(ratio: FloatArray, order: ArrayLike) -> ComplexArray:
    """High-pass over low-pass: real for even orders, in quadrature for odd ones."""
    order = within("crossover_order", order, 1, 8, "")
    quarter_turns = np.where(order % 2 == 1, np.exp(0.5j * np.pi * order), 1.0)
    return np.asarray(quarter_turns * ratio**order)


def lower_share(frequency: ArrayLike, corner: ArrayLike, order: ArrayLike = 4) -> ComplexArray:
    """Return what the lower driver gives of the sum on the axis; real for even orders [1].

    frequency, corner: [Hz]
    order: acoustic, 1 to 8 [1]

    Low-pass over the sum of both halves, the high-pass turned over where the sum is flat only so: 1/(1 + r^n) for even
    orders, 1/(1 + (jr)^n) for odd ones, with r the frequency over the corner.
    Source: Linkwitz, JAES 24(1), 1976 (from memory).
    """
    return np.asarray(1 / (1 + _ratio_of_halves(_ratio(frequency, corner), order)))
