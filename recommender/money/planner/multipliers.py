"""Prices on the rows of a multiple choice that give the tightest bound: the dual of its linear relaxation.

For any multipliers l >= 0, every combination that keeps its rows is worth at most

    D(l) = sum over blocks of max over items (value + l . use)  -  l . need,

because l . (sum of use - need) is not negative for it. And if it takes items whose *losses* against the maximum of
their block add up to s, it is worth at most D(l) - s. Both hold for every l, however it was found, so nothing here
needs to be exact for the search to be exact; the better l is, the less there is to search. A row that may be missed at
a price p a unit takes no multiplier above p: a combination that misses it by m pays p m, and its bound adds only l m.
l comes from the linear relaxation, solved by column generation: a small linear programme over the items seen so far,
then the best item of each block under its duals, until no block has a better one.

References
----------
Kellerer, Pferschy and Pisinger, Knapsack Problems (Springer 2004), sections 3.8 (Lagrange relaxation) and 11.2
(the linear relaxation of the multiple-choice problem), from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triptych.recommender.money.planner.blocks import Block, Need
from triptych.recommender.money.planner.problem import BoolArray, FloatArray, IntArray
from triptych.recommender.money.planner.simplex import cheapest

_ROUNDS = 60
# The relaxation is solved when its two bounds are this close, as a part of the range of values.
_CLOSE = 1e-9
# What a missed row costs in the small programme, in ranges of values for the whole row.
_PENALTY = 1e4
# A part of an item, or of a row, that is there and not a trace left by the solver.
_TRACE = 1e-9
# Prices on each row under which the best items are the first to be looked at.
_PRICES = np.geomspace(1e-2, 1e3, 6)[:, None]
# Beyond any rounding of sums of scaled rows.
_CERTAIN = 1e-12


@dataclass(frozen=True, slots=True)
class Dual:
    """Multipliers, and the bound that they prove.

    Parameters
    ----------
    multipliers : array of float, (K,)
        One a row, none below zero, per unit of that row.
    bound : float
        No combination that keeps the rows is worth more; minus infinity if none keeps them.
    support : tuple of array of int
        For each block the items that the relaxation mixes: a combination of them may well keep the rows.
    """

    multipliers: FloatArray
    bound: float
    support: tuple[IntArray, ...] = ()


def reduced(block: Block, multipliers: FloatArray) -> FloatArray:
    """What each item is worth once what it uses is priced."""
    return np.asarray(block.value + multipliers @ block.use)


def bound(blocks: Sequence[Block], need: Need, multipliers: FloatArray) -> float:
    """D(l)."""
    return float(sum(reduced(block, multipliers).max() for block in blocks) - multipliers @ need.least)


def tightest(blocks: Sequence[Block], need: Need, start: FloatArray | None = None) -> Dual:
    """The multipliers with the lowest bound, as near as the linear programme comes."""
    if not len(need):
        return Dual(np.zeros(0), bound(blocks, need, np.zeros(0)))
    size = np.maximum(1.0, np.sum([np.abs(block.use).max(axis=1) for block in blocks], axis=0))
    spread = max(float(np.ptp(block.value)) for block in blocks) or 1.0
    scaled = [((block.value - block.value.max()) / spread, block.use / size[:, None]) for block in blocks]
    first = np.zeros(len(need)) if start is None else start * size / spread
    least, hard = need.least / size, need.hard
    price = np.full(len(need), _PENALTY)
    price[np.isfinite(need.price)] = (need.price * size / spread)[np.isfinite(need.price)]
    best, missed = _column_generation(scaled, least, price, np.minimum(first, price))
    multipliers = np.minimum(best.multipliers * spread / size, need.price)
    if missed[hard].any() and _cannot_be_kept([(value, use[hard]) for value, use in scaled], least[hard]):
        return Dual(multipliers, -np.inf, best.support)
    return Dual(multipliers, bound(blocks, need, multipliers), best.support)


Scaled = Sequence[tuple[FloatArray, FloatArray]]


def _column_generation(
    blocks: Scaled, need: FloatArray, price: FloatArray, start: FloatArray
) -> tuple[Dual, BoolArray]:
    """Multipliers with their bound, and which rows the relaxation still misses."""
    columns = _first_columns(blocks, start)
    best, missed = Dual(start, np.inf), np.zeros(len(need), dtype=np.bool_)
    for _ in range(_ROUNDS):
        small = _small_programme(blocks, columns, need, price)
        if small is None:
            break
        missed = small.missed
        prices = [block_value + small.multipliers @ use for block_value, use in blocks]
        found = [int(price.argmax()) for price in prices]
        here = float(sum(price[at] for price, at in zip(prices, found, strict=True)) - small.multipliers @ need)
        if here < best.bound:
            best = Dual(small.multipliers, here, small.support)
        new = [at not in known for at, known in zip(found, columns, strict=True)]
        if best.bound - small.value <= _CLOSE or not any(new):
            break
        for at, known in zip(found, columns, strict=True):
            known.setdefault(at)
    return best, missed


def _first_columns(blocks: Scaled, start: FloatArray) -> list[dict[int, None]]:
    """For every block the items that are best under a range of prices on each row, in a stable order."""
    columns: list[dict[int, None]] = []
    for value, use in blocks:
        known = {int(value.argmax()): None}
        for row in use:
            known |= dict.fromkeys((value + _PRICES * row).argmax(axis=1).tolist())
        known.setdefault(int((value + start @ use).argmax()))
        columns.append(known)
    return columns


@dataclass(frozen=True, slots=True)
class _Small:
    """Duals of the rows, the value, which rows are missed, and what is mixed, over the columns seen so far."""

    multipliers: FloatArray
    value: float
    missed: BoolArray
    support: tuple[IntArray, ...]


def _small_programme(
    blocks: Scaled, columns: Sequence[dict[int, None]], need: FloatArray, price: FloatArray
) -> _Small | None:
    """The relaxation over the columns seen so far; None if there is no answer, as no bound hangs on it."""
    chosen = [np.fromiter(known, dtype=np.int64) for known in columns]
    value = np.concatenate([block[0][items] for block, items in zip(blocks, chosen, strict=True)])
    use = np.concatenate([block[1][:, items] for block, items in zip(blocks, chosen, strict=True)], axis=1)
    ends = np.cumsum([len(items) for items in chosen])
    items, rows = len(value), len(need)
    answer = cheapest(
        np.concatenate([-value, price, np.zeros(rows)]),
        _with_slack(use, ends),
        np.concatenate([need, np.ones(len(ends))]),
        _first_corner(use, ends, need),
    )
    if answer is None:
        return None
    mixed = np.split(answer.part[:items] > _TRACE, ends[:-1])
    support = tuple(known[some] for known, some in zip(chosen, mixed, strict=True))
    missed = answer.part[items : items + rows] > _TRACE
    return _Small(np.clip(answer.prices[:rows], 0.0, None), -answer.cost, missed, support)


def _with_slack(use: FloatArray, ends: IntArray) -> FloatArray:
    """The rows over the items, what each row is missed by and what it has too much; then one item of each block."""
    rows = np.eye(len(use))
    places = np.arange(use.shape[1])
    own = (places < ends[:, None]) & (places >= np.concatenate([[0], ends[:-1]])[:, None])
    return np.block([[use, rows, -rows], [own.astype(np.float64), np.zeros((len(ends), 2 * len(use)))]])


def _first_corner(use: FloatArray, ends: IntArray, need: FloatArray) -> IntArray:
    """The first item of each block, with what each row is missed by or has too much."""
    first = np.concatenate([[0], ends[:-1]])
    over = use[:, first].sum(axis=1) >= need
    slack = use.shape[1] + np.arange(len(need)) + len(need) * over
    return np.concatenate([slack, first])


def _cannot_be_kept(blocks: Scaled, need: FloatArray) -> bool:
    """Whether some prices on the rows show that no combination keeps them: even the most that is used is too little."""
    worthless = [(np.zeros_like(value), use) for value, use in blocks]
    most, _ = _column_generation(worthless, need, np.ones(len(need)), np.zeros(len(need)))
    return most.bound < -_CERTAIN
