"""A small linear programme, solved from corner to corner: the revised simplex method from a corner that is known.

For some dozens of columns and a handful of rows, where a library's solver takes longer to load than all of these take
together. A planner proves its bounds by themselves (multipliers.py), so that nothing hangs on the last digit here.

References
----------
Chvátal, Linear Programming (Freeman 1983), chapters 3 (Bland's rule) and 7 (the revised method), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triptych.recommender.money.planner.problem import FloatArray, IntArray

_STEPS = 1_000
# From here on the first column that helps is taken, not the best: so no corner comes again.
_BLAND = 200
# What is not negative, or not there, but for rounding; in units of scaled rows and values.
_ROUNDING = 1e-11


@dataclass(frozen=True, slots=True)
class Optimum:
    """What it costs at least, how much of each column that takes, and what a unit more of each row would cost."""

    cost: float
    part: FloatArray
    prices: FloatArray


def cheapest(cost: FloatArray, rows: FloatArray, need: FloatArray, corner: IntArray) -> Optimum | None:
    """The x >= 0 with rows @ x = need that costs least; None if the steps run out, or rounding spoils a corner.

    Parameters
    ----------
    cost : array of float, (N,)
        What a unit of each column costs; no x may cost less and less without end.
    rows : array of float, (M, N)
        What a unit of each column adds to each row.
    need : array of float, (M,)
        What each row comes to.
    corner : array of int, (M,)
        Columns that meet the rows by themselves, none below zero: where it begins.
    """
    corner = corner.copy()
    for step in range(_STEPS):
        try:
            inverse = np.linalg.inv(rows[:, corner])
        except np.linalg.LinAlgError:
            return None
        part, prices = inverse @ need, cost[corner] @ inverse
        entering = _entering(cost - prices @ rows, corner, step >= _BLAND)
        if entering is None:
            whole = np.zeros(len(cost))
            whole[corner] = part
            return Optimum(float(cost[corner] @ part), whole, prices)
        leaving = _leaving(part, inverse @ rows[:, entering], corner)
        if leaving is None:
            return None
        corner[leaving] = entering
    return None


def _entering(reduced: FloatArray, corner: IntArray, first: bool) -> int | None:
    """A column that makes it cheaper; None where none does."""
    reduced[corner] = 0.0
    if not (reduced < -_ROUNDING).any():
        return None
    return int((reduced < -_ROUNDING).argmax() if first else reduced.argmin())


def _leaving(part: FloatArray, change: FloatArray, corner: IntArray) -> int | None:
    """The place of the column that is used up first; of equals the one that stands first among all."""
    falls = np.flatnonzero(change > _ROUNDING)
    if not len(falls):
        return None
    steps = np.maximum(part[falls], 0.0) / change[falls]
    equal = falls[steps <= steps.min()]
    return int(equal[corner[equal].argmin()])
