"""All combinations of items whose losses add up to no more than a given sum, built block by block."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from triptych.recommender.money.planner.problem import FloatArray, IntArray


def within(losses: Sequence[FloatArray], most: float, cap: int) -> list[IntArray] | None:
    """Places in each block of every combination with a total loss of at most `most`; None if there are more than `cap`.

    Parameters
    ----------
    losses : sequence of array of float
        One a block, none below zero, in rising order, each beginning with 0.
    """
    total, picks = np.zeros(1), list[IntArray]()
    for loss in losses:
        counts = np.searchsorted(loss, most - total, side="right")
        size = int(counts.sum())
        if size > cap:
            return None
        parent = np.repeat(np.arange(len(total)), counts)
        item = np.arange(size) - np.repeat(np.cumsum(counts) - counts, counts)
        total = total[parent] + loss[item]
        picks = [*(pick[parent] for pick in picks), item]
    return picks
