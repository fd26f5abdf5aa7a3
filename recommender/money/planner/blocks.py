"""Multiple choice with several rows: one item of each block, every row of what they use kept at or above its need."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from triptych.recommender.money.planner.problem import FloatArray, IntArray, whole_up


@dataclass(frozen=True, slots=True)
class Block:
    """Items of which one is taken.

    Parameters
    ----------
    worth : array of float, (N,)
        What each is worth; whole where worths are counted in grains.
    cost : array of int, (N,)
        What each takes, which decides between equals.
    use : array of int, (K, N)
        What each adds to each row.
    tie : float
        So small a part of its cost is taken off an item's worth that no cost outweighs a grain.
    """

    worth: FloatArray
    cost: IntArray
    use: IntArray
    tie: float = 0.0
    value: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "value", self.worth - self.tie * self.cost)

    def __len__(self) -> int:
        return len(self.value)

    def only(self, items: IntArray) -> Block:
        """Some of its items."""
        return Block(self.worth[items], self.cost[items], self.use[:, items], self.tie)


@dataclass(frozen=True, slots=True)
class Need:
    """What the rows need, and what a unit of each costs where it is missed; infinite for one that must be kept.

    `whole`: what is paid for a row is a whole number, the next one up.
    """

    least: IntArray
    price: FloatArray
    whole: bool = False

    def __len__(self) -> int:
        return len(self.least)

    def penalty(self, row: int, use: IntArray) -> FloatArray:
        """What combinations that use so much of a row pay for missing it."""
        cost = self.price[row] * np.maximum(0, self.least[row] - use)
        return whole_up(cost) if self.whole else cost

    @property
    def hard(self) -> IntArray:
        """The rows that must be kept."""
        return np.flatnonzero(np.isinf(self.price))

    def only(self, rows: IntArray) -> Need:
        """Some of the rows."""
        return Need(self.least[rows], self.price[rows], self.whole)


def rows_that_can_bind(uses: Sequence[IntArray], need: Need) -> IntArray:
    """The rows that some combination would miss; of those that must be kept, each once."""
    least = sum((use.min(axis=1) for use in uses), np.zeros_like(need.least))
    binding = np.flatnonzero(least < need.least)
    rows = np.column_stack([need.least[binding], *(use[binding] for use in uses)])
    rows = rows // np.maximum(1, np.gcd.reduce(rows, axis=1, keepdims=True))
    first: dict[object, int] = {}
    for at, row in enumerate(rows):
        first.setdefault(row.tobytes() if np.isinf(need.price[binding[at]]) else at, at)
    return binding[sorted(first.values())]


def items_that_can_be_taken(blocks: Sequence[Block], need: Need) -> tuple[IntArray, ...]:
    """For each block the items with which no row that must be kept is out of reach, whatever the other blocks take.

    Any item left out is in no combination that keeps the rows. Leaving one out can put others out of reach, so this
    goes on until nothing changes; if a block is left with no items, no combination keeps the rows.
    """
    uses, least = [block.use[need.hard] for block in blocks], need.least[need.hard]
    kept = [np.arange(len(block)) for block in blocks]
    changed = True
    while changed and all(len(items) for items in kept):
        most = [use[:, items].max(axis=1) for use, items in zip(uses, kept, strict=True)]
        spare = sum(most, np.zeros_like(least)) - least
        changed = False
        for at, use in enumerate(uses):
            within_reach = (use[:, kept[at]] >= (most[at] - spare)[:, None]).all(axis=0)
            changed |= not within_reach.all()
            kept[at] = kept[at][within_reach]
    return tuple(kept)
