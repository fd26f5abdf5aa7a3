"""Branch and bound over blocks: the best few combinations, exactly.

At a part of the choice, multipliers give a bound D and every item a loss (multipliers.py). A combination with a total
loss of s is worth at most D - s. So once all combinations with losses up to g have been looked at, none that was not
can be worth more than D - g; as soon as the worst of the best few reaches that, the part is done. If there would be
too many to look at, the part is split in two by what one block uses in one row, and both halves get multipliers of
their own, which are tighter. A half with nothing that can beat the worst of the best few is dropped. Losses and
bounds are sums of floats, so all of this is done with a margin that covers their rounding; rows are whole numbers and
kept exactly, and worths counted in grains and costs are compared exactly: between equals the cheaper is better.

Dominance is not used: with a floor on a role a dearer and poorer item may be the one that keeps the rule, and among the
next best systems dominated items have their place. What it would rightly remove, the losses remove.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import count
from math import prod
from time import monotonic
from typing import Protocol

import numpy as np

from triptych.recommender.money.planner.blocks import Block, Need, items_that_can_be_taken
from triptych.recommender.money.planner.combinations import within
from triptych.recommender.money.planner.multipliers import reduced, tightest
from triptych.recommender.money.planner.problem import BoolArray, FloatArray, IntArray

# What covers the rounding of sums, as a part of them: of worths as they are, and of whole grains, where less would do
# but for the prices on the rows.
_MARGIN = 1e-9
_MARGIN_OF_GRAINS = 1e-12
_FEW = 2_000
_MANY = 400_000

Value = tuple[float, int]
"""What a combination is worth, and what it costs."""


class Admission(Protocol):
    """Which combinations may be taken."""

    @property
    def learnt(self) -> int:
        """Rises when more items of the first block are known to be in none."""
        ...

    def admits(self, key: tuple[int, ...]) -> bool:
        """Whether a combination may be taken."""
        ...

    def spoilt(self, names: IntArray) -> BoolArray:
        """Which items of the first block are known to be in none that may."""
        ...


@dataclass(slots=True)
class BestFew:
    """The best combinations found so far, all different, and what was done to find them.

    `tie` is what a unit of cost takes off a worth in grains, 0 where there are none; `least` what all must be above.
    `only` says of a combination whether it may be taken, and of items of the first block which are in none that may.
    """

    wanted: int
    deadline: float = np.inf
    tolerance: float = 0.0
    tie: float = 0.0
    least: float = -np.inf
    only: Admission | None = None
    found: list[tuple[Value, tuple[int, ...]]] = field(default_factory=list)
    keys: set[tuple[int, ...]] = field(default_factory=set)
    nodes: int = 0
    combinations: int = 0
    left_open: float = -np.inf

    @property
    def worst(self) -> float:
        """What a further one must beat; `least` as long as there is room."""
        if len(self.found) < self.wanted:
            return self.least
        worth, cost = self.found[-1][0]
        return worth - self.tie * cost

    @property
    def bar(self) -> float:
        """What something must be able to reach to be worth looking at."""
        return self.worst + (self.tolerance if len(self.found) == self.wanted else 0.0)

    @property
    def out_of_time(self) -> bool:
        """Whether to stop."""
        return monotonic() > self.deadline

    def margin(self, bound: float) -> float:
        """What covers the rounding of sums of about this size."""
        return (_MARGIN_OF_GRAINS if self.tie else _MARGIN) * (1 + abs(bound)) if np.isfinite(bound) else 0.0

    def beaten_by(self, bound: float) -> bool:
        """Whether something with this bound could be better than the worst, rounding included.

        Of grains and costs the next better is better by `tie` at least; of plain floats what is equal but for rounding
        is taken for equal.
        """
        if self.tie:
            return bound > -np.inf and bound + self.margin(bound) >= self.bar + self.tie
        return bound - self.margin(bound) > self.bar

    def too_poor(self, value: Value) -> bool:
        """Whether a combination is no better than the worst of a full list."""
        return len(self.found) == self.wanted and _in_order(value) >= _in_order(self.found[-1][0])

    def offer(self, value: Value, key: tuple[int, ...]) -> bool:
        """Take a combination if it is among the best; whether it stands on the list."""
        if key in self.keys:
            return True
        if self.too_poor(value) or not (self.only is None or self.only.admits(key)):
            return False
        self.found.append((value, key))
        self.found.sort(key=lambda one: (_in_order(one[0]), one[1]))
        self.keys.add(key)
        for _, dropped in self.found[self.wanted :]:
            self.keys.discard(dropped)
        del self.found[self.wanted :]
        return True

    def leave_open(self, bound: float) -> None:
        """Remember that something with this bound was not looked at."""
        self.left_open = max(self.left_open, bound)


def _in_order(value: Value) -> Value:
    return -value[0], value[1]


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a choice: some items of each block, and the multipliers of the part it was split from."""

    blocks: tuple[Block, ...]
    names: tuple[IntArray, ...]
    start: FloatArray | None

    def only(self, kept: Sequence[IntArray], start: FloatArray | None) -> Part:
        """Some items of each block."""
        blocks = tuple(block.only(items) for block, items in zip(self.blocks, kept, strict=True))
        return Part(blocks, tuple(name[items] for name, items in zip(self.names, kept, strict=True)), start)


def search(parts: Sequence[Part], need: Need, best: BestFew) -> None:
    """Offer to `best` every combination that could be among the best few, or leave its bound open when out of time."""
    order = count()
    open_parts: list[tuple[float, int, Part]] = [(-np.inf, next(order), part) for part in parts]
    while open_parts:
        negative, _, part = heapq.heappop(open_parts)
        if not best.beaten_by(-negative):
            return
        if best.out_of_time:
            best.leave_open(-negative)
            return
        for half, bound in explore(part, need, best):
            heapq.heappush(open_parts, (-bound, next(order), half))


def explore(part: Part, need: Need, best: BestFew) -> tuple[tuple[Part, float], ...]:
    """Look at a part; what is left of it comes back in two halves with the bound of the whole."""
    best.nodes += 1
    part = _unspoilt(part, best)
    reachable = items_that_can_be_taken(part.blocks, need)
    if not all(len(items) for items in reachable):
        return ()
    part = part.only(reachable, part.start)
    dual = tightest(part.blocks, need, part.start)
    if not best.beaten_by(dual.bound):
        return ()
    prices = [reduced(block, dual.multipliers) for block in part.blocks]
    losses = [price.max() - price for price in prices]
    learnt = _learnt(best)
    _offer_product(part, dual.support, need, best)
    closed = _look(part, losses, dual.bound, need, best)
    if closed or not best.beaten_by(dual.bound):
        return ()
    if _learnt(best) != learnt:
        # without what is known by now not to be taken its bound is closer
        return ((part, dual.bound),)
    room = dual.bound - best.bar + best.margin(dual.bound)
    rest = part.only([np.flatnonzero(loss <= room) for loss in losses], dual.multipliers)
    return tuple((half, dual.bound) for half in split(rest, dual.multipliers))


def _learnt(best: BestFew) -> int:
    return best.only.learnt if best.only is not None else 0


def _unspoilt(part: Part, best: BestFew) -> Part:
    if best.only is None or not (bad := best.only.spoilt(part.names[0])).any():
        return part
    everything = (np.arange(len(block)) for block in part.blocks[1:])
    return part.only([np.flatnonzero(~bad), *everything], part.start)


def _look(part: Part, losses: Sequence[FloatArray], bound: float, need: Need, best: BestFew) -> bool:
    """Look at combinations in rings of rising loss; whether all that matter were looked at."""
    order = [np.argsort(loss, kind="stable") for loss in losses]
    sorted_losses = [loss[items] for loss, items in zip(losses, order, strict=True)]
    slack = best.margin(bound)
    everything = float(sum(loss[-1] for loss in sorted_losses)) + slack
    reach = _first_reach(sorted_losses, everything)
    while not best.out_of_time:
        room = min(bound - best.bar + slack, everything)
        picks = within(sorted_losses, min(reach, room), _MANY)
        if picks is None:
            return False
        learnt = _learnt(best)
        _offer(part, [items[pick] for items, pick in zip(order, picks, strict=True)], need, best)
        if _learnt(best) != learnt:
            return False
        room = min(bound - best.bar + slack, everything)
        if reach >= room:
            return True
        # With a full list the room is known, and one more ring settles it.
        reach = room if np.isfinite(best.bar) else reach * 2
    return False


def _first_reach(losses: Sequence[FloatArray], everything: float) -> float:
    """A loss within which there are some combinations, but few."""
    reach = everything
    while reach > 0 and within(losses, reach, _FEW) is None:
        reach = reach / 2 if reach > everything * 1e-12 else 0.0
    return max(reach, everything * 1e-12)


def _offer_product(part: Part, items: Sequence[IntArray], need: Need, best: BestFew) -> None:
    """Look at the combinations of some items, if there are few."""
    if items and prod(len(some) for some in items) <= _FEW:
        grid = np.meshgrid(*items, indexing="ij")
        _offer(part, [places.ravel() for places in grid], need, best)


def _offer(part: Part, picks: Sequence[IntArray], need: Need, best: BestFew) -> None:
    best.combinations += len(picks[0])
    kept = np.ones(len(picks[0]), dtype=bool) if best.only is None else ~best.only.spoilt(part.names[0])[picks[0]]
    for row in need.hard:
        kept &= sum(block.use[row, pick] for block, pick in zip(part.blocks, picks, strict=True)) >= need.least[row]
    blocks, left = part.blocks, [pick[kept] for pick in picks]
    worth = np.asarray(sum(block.worth[pick] for block, pick in zip(blocks, left, strict=True)))
    for row in np.flatnonzero(np.isfinite(need.price)):
        use = np.asarray(sum(block.use[row, pick] for block, pick in zip(blocks, left, strict=True)))
        worth = worth - need.penalty(int(row), use)
    cost = np.asarray(sum(block.cost[pick] for block, pick in zip(blocks, left, strict=True)))
    top = np.flatnonzero(worth - best.tie * cost > best.worst)
    top = top[np.lexsort((cost[top], -worth[top]))]
    _take(part, [pick[top] for pick in left], worth[top].tolist(), cost[top].tolist(), best)


def _take(part: Part, picks: Sequence[IntArray], worth: Sequence[float], cost: Sequence[int], best: BestFew) -> None:
    """Offer combinations that come best first, until enough of them stand on the list."""
    names, listed, at = [(name, pick) for name, pick in zip(part.names, picks, strict=True)], 0, 0
    good, learnt = np.ones(len(worth), dtype=bool), -1
    while at < len(worth):
        value = (worth[at], cost[at])
        # twice the number wanted: some of the top may be on the list already
        if listed == 2 * best.wanted or best.too_poor(value):
            return
        if best.offer(value, tuple(int(name[pick[at]]) for name, pick in names)):
            listed += 1
        elif best.out_of_time:
            best.leave_open(value[0])
            return
        elif best.only is not None and best.only.learnt != learnt:
            learnt, good = best.only.learnt, ~best.only.spoilt(part.names[0])[picks[0]]
        at += 1 + int(np.argmax(good[at + 1 :])) if good[at + 1 :].any() else len(worth)


def split(part: Part, multipliers: FloatArray) -> tuple[Part, ...]:
    """Two halves, by the block and row in which priced use differs most; by value where use no longer differs."""
    priced, at, row = max(
        (
            (float(np.ptp(use)) * multipliers[row], at, row)
            for at, block in enumerate(part.blocks)
            for row, use in enumerate(block.use)
        ),
        default=(0.0, 0, 0),
    )
    key: FloatArray | IntArray
    at, key = (at, part.blocks[at].use[row]) if priced else _any_difference(part)
    low = key <= _between(key)
    everything = [np.arange(len(block)) for block in part.blocks]
    return tuple(
        part.only([*everything[:at], np.flatnonzero(half), *everything[at + 1 :]], multipliers) for half in (low, ~low)
    )


def _any_difference(part: Part) -> tuple[int, FloatArray | IntArray]:
    """A block and a row in which use differs, or else the block with the most items, by their places."""
    spread = [
        (float(np.ptp(use)), at, row) for at, block in enumerate(part.blocks) for row, use in enumerate(block.use)
    ]
    most, at, row = max(spread, default=(0.0, 0, 0))
    if most:
        return at, part.blocks[at].use[row]
    at = max(range(len(part.blocks)), key=lambda one: len(part.blocks[one]))
    return at, np.arange(len(part.blocks[at]))


def _between(key: FloatArray | IntArray) -> float:
    """A value with some of the keys at or below it and some above."""
    middle = float(np.median(key))
    return middle if middle < key.max() else float(key[key < key.max()].max())
