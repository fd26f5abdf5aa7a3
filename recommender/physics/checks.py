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
    """Return `value` as floats, or say which input left [low, high]; NaN, the unknown, passes.

    Parameters
    ----------
    name : str
        What the caller calls the input.
    value : array_like
        The input. [unit]
    low, high : float
        The range that the formula covers, ends included. [unit]
    unit : str
        Unit of all three, for the message.

    Raises
    ------
    OutOfRange
        Where any element lies outside; the message shows the first such element.

    Examples
    --------
    >>> within("distance", [1, 2.5], 0.1, 100, "m")
    array([1. , 2.5])
    """
    array = np.asarray(value, dtype=float)
    outside = (array < low) | (array > high)
    if np.any(outside):
        raise OutOfRange(f"{name} must be {low:g} to {high:g} {unit}, not {array[outside].flat[0]:g}")
    return array
