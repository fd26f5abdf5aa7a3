"""How the drivers of like loudspeakers lie about an origin, and which directions therefore differ.

A pair of drivers either side of the origin costs one cosine and drivers in it cost none, so the origin is put where
that saves most: power does not ask where it is. Where drivers are in step, a plane is the same on both sides.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from triptych.recommender.physics import loudspeaker
from triptych.recommender.physics.checks import BoolArray, FloatArray
from triptych.recommender.physics.loudspeaker import Radiator, Sources

__all__ = ["Arrangement", "Element", "Group", "alike"]

Rows: TypeAlias = NDArray[np.intp]

SAME_PLACE: Final = 1e-6
"""Drivers nearer than that are in line [m]."""


class Arrangement(IntEnum):
    """How an element lies about the origin: its value is how many sines and cosines it takes."""

    ORIGIN = 0
    PAIR = 1
    SINGLE = 2


@dataclass(frozen=True, slots=True, eq=False)
class Element:
    """One driver, or several that radiate as one, in each of N loudspeakers.

    drivers: those whose signals are summed; of a pair, one
    kind, style: what it is, and how it lies about the origin
    x, y: where it is from the origin, as far as that matters towards the directions, [N] [m]
    size: sizes and coverages across and up; 0 where it has none, [N, 4] [m, deg]
    """

    drivers: tuple[int, ...]
    kind: Radiator
    style: Arrangement
    x: FloatArray
    y: FloatArray
    size: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Loudspeakers that are laid out alike, and the directions that differ for them.

    rows: which of all loudspeakers they are, [N]
    sources: they themselves
    elements: what they radiate with
    in_step: whether all drivers' signals are in phase, so that their parts are real
    vectors: directions that differ, [3, U] [1]
    which: which of those each direction asked for is, [D]
    """

    rows: Rows
    sources: Sources
    elements: list[Element]
    in_step: bool
    vectors: FloatArray
    which: Rows


def alike(sources: Sources, vectors: FloatArray) -> Iterator[Group]:
    """Group usable loudspeakers whose drivers are of like kinds on like sides of the axis, in order of size.

    vectors: directions as unit vectors, right, up and out of the box, [3, D] [1]
    """
    for rows in _rows_alike(sources):
        group = loudspeaker.take(sources, rows)
        in_step = not turning(loudspeaker.take(group, slice(1)))[0]
        offset = _Offsets.of(group, vectors)
        elements = _cheapest(group, offset)
        even = offset.flat and (in_step or all(element.style is not Arrangement.SINGLE for element in elements))
        yield Group(rows, group, elements, in_step, *_distinct(vectors, even))


def _rows_alike(sources: Sources) -> list[Rows]:
    signs = [np.sign(part).round().astype(np.int8) for part in (sources.x, sources.y)]
    alone = np.column_stack([sources.usable, turning(sources)])
    looks = np.concatenate([sources.mask, sources.kind, sources.band, *signs, alone], axis=1)
    order = np.argsort(sources.size_x[:, 0], kind="stable")
    looks = looks.astype(np.int8)
    if (looks == looks[:1]).all():
        return [order] if sources.usable.any() else []
    packed = np.ascontiguousarray(looks[order]).view(f"V{looks.shape[1]}").ravel()
    _, member = np.unique(packed, return_inverse=True)
    groups = np.split(order[np.argsort(member, kind="stable")], np.cumsum(np.bincount(member))[:-1])
    return [rows for rows in groups if rows.size and sources.usable[rows[0]]]


def turning(sources: Sources) -> BoolArray:
    """Whose drivers are out of step with each other, or turned over: their weights are complex."""
    odd = (sources.order % 2 == 1) & (np.count_nonzero(~np.isnan(sources.crossover), axis=1) > 0)
    return np.asarray(odd | (sources.share < 0).any(axis=1) | ~np.isnan(sources.roll_off).all(axis=1))


@dataclass(frozen=True, slots=True, eq=False)
class _Offsets:
    """Offsets from an origin that matter towards some directions: a plane sees only its own component. [m]."""

    x: FloatArray
    y: FloatArray
    flat: bool

    @staticmethod
    def of(group: Sources, vectors: FloatArray) -> _Offsets:
        across, up = bool(vectors[0].any()), bool(vectors[1].any())
        return _Offsets(group.x * across, group.y * up, not (across and up))

    def seen_from(self, driver: int) -> _Offsets:
        return _Offsets(self.x - self.x[:, [driver]], self.y - self.y[:, [driver]], self.flat)

    def in_line(self, driver: int) -> bool:
        return _together(self.x[:, driver], self.y[:, driver])

    def opposite(self, one: int, other: int) -> bool:
        return _together(self.x[:, one] + self.x[:, other], self.y[:, one] + self.y[:, other])


def _together(x: FloatArray, y: FloatArray) -> bool:
    # most are told apart by the first
    return x[0] * x[0] + y[0] * y[0] < SAME_PLACE**2 and bool((x * x + y * y < SAME_PLACE**2).all())


Laid: TypeAlias = list[tuple[tuple[int, ...], Arrangement]]


def _cheapest(group: Sources, offset: _Offsets) -> list[Element]:
    """Elements about the origin from which they cost least: the middle of the box, or one of the drivers."""
    best, laid = offset, _laid(group, offset)
    if any(style is Arrangement.SINGLE for _, style in laid):
        for driver in np.flatnonzero(group.mask[0]):
            other = offset.seen_from(int(driver))
            if _cost(found := _laid(group, other)) < _cost(laid):
                best, laid = other, found
    return [_element(group, best, drivers, style) for drivers, style in laid]


def _cost(laid: Laid) -> int:
    return sum(style for _, style in laid)


def _laid(group: Sources, offset: _Offsets) -> Laid:
    left = [int(k) for k in np.flatnonzero(group.mask[0])]
    laid: Laid = []
    while left:
        k = left.pop(0)
        if offset.in_line(k):
            same = [j for j in left if offset.in_line(j) and _same(group, k, j)]
            left = [j for j in left if j not in same]
            laid.append(((k, *same), Arrangement.ORIGIN))
            continue
        partner = next((j for j in left if offset.opposite(k, j) and _same(group, k, j) and _equal(group, k, j)), None)
        if partner is not None:
            left.remove(partner)
        laid.append(((k,), Arrangement.SINGLE if partner is None else Arrangement.PAIR))
    return laid


def _element(group: Sources, offset: _Offsets, drivers: tuple[int, ...], style: Arrangement) -> Element:
    k = drivers[0]
    size = np.empty((len(group), 4))
    for place, part in enumerate((group.size_x, group.size_y, group.coverage_x, group.coverage_y)):
        size[:, place] = part[:, k]
    size[np.isnan(size)] = 0.0
    return Element(drivers, Radiator(int(group.kind[0, k])), style, offset.x[:, k], offset.y[:, k], size)


def _same(group: Sources, one: int, other: int) -> bool:
    """Whether two drivers radiate alike in every loudspeaker of the group."""
    parts = (group.kind, group.size_x, group.size_y, group.coverage_x, group.coverage_y)
    return _alike(parts, one, other)


def _equal(group: Sources, one: int, other: int) -> bool:
    """Whether two drivers that radiate alike also carry the same signal."""
    return _alike((group.band, group.share, group.roll_off), one, other)


def _alike(parts: Sequence[NDArray[Any]], one: int, other: int) -> bool:
    """Whether two columns hold the same in every part; most are told apart by the first row."""
    pairs = [(part[:, one], part[:, other]) for part in parts]
    if any(a[0] != b[0] and (a[0] == a[0] or b[0] == b[0]) for a, b in pairs):
        return False
    return all(np.array_equal(a, b, equal_nan=a.dtype.kind == "f") for a, b in pairs)


def _distinct(vectors: FloatArray, even: bool) -> tuple[FloatArray, Rows]:
    """Directions that differ, where left and right (or up and down) do not if the field is even."""
    folded = np.abs(vectors[:2]).round(12) if even else vectors[:2].round(12)
    _, first, which = np.unique(
        np.vstack([folded, vectors[2:].round(12)]), axis=1, return_index=True, return_inverse=True
    )
    kept = vectors[:, first]
    return (np.vstack([np.abs(kept[:2]), kept[2:]]) if even else kept), which.ravel()
