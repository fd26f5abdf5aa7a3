"""What the physics refuses, and the array types it speaks of."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray: TypeAlias = NDArray[np.float64]
ComplexArray: TypeAlias = NDArray[np.complex128]
BoolArray: TypeAlias = NDArray[np.bool_]


class OutOfRange(ValueError):
    """An input lies outside what the formula's source covers."""


def within(name: str, value: ArrayLike, low: float, high: float, unit: str) -> FloatArray:
    """Return `value` as floats, or say which input left [low, high] and in which unit; NaN, the unknown, passes.

    Raises `OutOfRange` where any element lies outside; the message shows the first such element.

    >>> within("distance", [1, 2.5], 0.1, 100, "m")
    array([1. , 2.5])
    """
    array = np.asarray(value, dtype=float)
    outside = (array < low) | (array > high)
    if outside.any():
        raise OutOfRange(f"{name} must be {low:g} to {high:g} {unit}, not {array[outside].flat[0]:g}")
    return array
