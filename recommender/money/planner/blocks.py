"""Multiple choice with several rows: one item of each block, every row of what they use kept at or above its need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triptych.recommender.money.planner.problem import FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class Block:
    """Items of which one is taken.

    Parameters
    ----------
    value : array of float, (N,)
        What each is worth.
    use : array of int, (K, N)
        What each adds to each row.
    """

    value: FloatArray
    use: IntArray

    def __len__(self) -> int:
        return len(self.value)

    def only(self, items: IntArray) -> Block:
        """Some of its items."""
        return Block(self.value[items], self.use[:, items])


def rows_that_can_bind(blocks: Sequence[Block], need: IntArray) -> IntArray:
    """The rows that some combination would miss, without repetition."""
    least = sum((block.use.min(axis=1) for block in blocks), np.zeros_like(need))
    binding = np.flatnonzero(least < need)
    rows = np.column_stack([need[binding], *(block.use[binding] for block in blocks)])
    rows = rows // np.maximum(1, np.gcd.reduce(rows, axis=1, keepdims=True))
    first = {row.tobytes(): at for at, row in reversed(list(enumerate(rows)))}
    return binding[sorted(first.values())]


def items_that_can_be_taken(blocks: Sequence[Block], need: IntArray) -> tuple[IntArray, ...]:
    """For each block the items with which no row is out of reach, whatever the other blocks take.

    Any item left out is in no combination that keeps the rows. Leaving one out can put others out of reach, so this
    goes on until nothing changes; if a block is left with no items, no combination keeps the rows.
    """
    kept = [np.arange(len(block)) for block in blocks]
    changed = True
    while changed and all(len(items) for items in kept):
        most = [block.use[:, items].max(axis=1) for block, items in zip(blocks, kept, strict=True)]
        spare = sum(most, np.zeros_like(need)) - need
        changed = False
        for at, block in enumerate(blocks):
            within_reach = (block.use[:, kept[at]] >= (most[at] - spare)[:, None]).all(axis=0)
            changed |= not within_reach.all()
            kept[at] = kept[at][within_reach]
    return tuple(kept)
