"""What many records of one kind say, by columns: built at once, told at once, and records only where somebody looks.

A column is a list of what each record has, or one of the kinds below; where all have the same it is held once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from math import isfinite
from typing import TYPE_CHECKING, Any, Final, Protocol, TypeAlias, runtime_checkable

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["ByColumns", "Column", "InOrder", "Keyed", "Mixed", "Numbers", "Picked", "Rows", "Same", "Several"]


@dataclass(frozen=True, slots=True)
class Same:
    """One value for all."""

    value: Any


@dataclass(frozen=True, slots=True)
class Numbers:
    """A number each; where `or_none`, what is not finite is None in a record."""

    values: NDArray[Any]
    or_none: bool = False


@dataclass(frozen=True, slots=True)
class Picked:
    """One of a few words each, by its number."""

    words: Sequence[Any]
    which: NDArray[Any]


@dataclass(frozen=True, slots=True)
class Keyed:
    """A mapping each, all with the same keys."""

    parts: Mapping[str, Column]


@dataclass(frozen=True, slots=True)
class InOrder:
    """A tuple each, all of the same length: what stands first in each, what second, and so on."""

    parts: tuple[Column, ...]


@dataclass(frozen=True, slots=True)
class Rows:
    """`count` records of one `kind`, told by its fields: a column each, by its name."""

    kind: type
    count: int
    columns: Mapping[str, Column]

    def records(self) -> list[Any]:
        """The records themselves."""
        names = tuple(self.columns)
        told = zip(*(each(column, self.count) for column in self.columns.values()), strict=True)
        return [self.kind(**dict(zip(names, row, strict=True))) for row in told]


@dataclass(frozen=True, slots=True)
class Several:
    """A tuple of records each, of any length: all of them in order, and how many each has."""

    of: Rows
    counts: Sequence[int]

    def spans(self) -> Iterator[tuple[int, int]]:
        """Where those of each begin and end."""
        return pairwise(accumulate(self.counts, initial=0))


@dataclass(frozen=True, slots=True)
class Mixed:
    """`count` records of one kind in parts by columns, each with the places of its records among all."""

    count: int
    parts: Sequence[tuple[Sequence[int], Rows]]

    def records(self) -> list[Any]:
        """The records themselves."""
        return self.laid(Rows.records)

    def laid(self, made: Callable[[Rows], list[Any]]) -> list[Any]:
        """What is made of each part, all in their places."""
        found: list[Any] = [None] * self.count
        for places, rows in self.parts:
            for place, one in zip(places, made(rows), strict=True):
                found[place] = one
        return found


Column: TypeAlias = list[Any] | Same | Numbers | Picked | Keyed | InOrder | Rows | Several


@runtime_checkable
class ByColumns(Protocol):
    """A sequence of records that may be told by columns."""

    def by_columns(self, made: Callable[[Mixed], str]) -> Iterator[str]:
        """What is made of all of them in order, some at a time."""
        ...


def each(column: Column, count: int) -> list[Any]:
    """What each of `count` records has in a column."""
    if isinstance(column, list):
        return column
    if isinstance(column, Same):
        return [column.value] * count
    if isinstance(column, Numbers):
        return _numbers(column)
    if isinstance(column, Picked):
        return [column.words[one] for one in column.which.tolist()]
    if isinstance(column, Keyed):
        names, parts = tuple(column.parts), [each(part, count) for part in column.parts.values()]
        return [dict(zip(names, row, strict=True)) for row in zip(*parts, strict=True)] if parts else [{}] * count
    if isinstance(column, InOrder):
        parts = [each(part, count) for part in column.parts]
        return list(zip(*parts, strict=True)) if parts else [()] * count
    if isinstance(column, Rows):
        return column.records()
    records = column.of.records()
    return [tuple(records[first:last]) for first, last in column.spans()]


def _numbers(column: Numbers) -> list[Any]:
    found: list[Any] = column.values.tolist()
    if column.or_none:
        found = [value if isfinite(value) else None for value in found]
    return found


class _Texts(dict[float, str]):
    """Numbers as JSON has them, each made out once: of those that are rounded many are alike."""

    def __missing__(self, number: float) -> str:
        text = self[number] = repr(number)
        return text


_TEXTS: Final = _Texts()

TEXTS_KEPT: Final = 50_000
"""From so many on they are let go: 6 MB."""


def number_texts(values: NDArray[Any], digits: int | None) -> list[str]:
    """Numbers as JSON has them, to so many decimals, as `round` gives them; null where one is not finite."""
    import numpy as np

    values = np.asarray(values, dtype=np.float64)
    finite = np.isfinite(values)
    if not finite.all():
        values = np.where(finite, values, 0.0)
    if digits is None:
        texts = list(map(repr, values.tolist()))
    else:
        if len(_TEXTS) > TEXTS_KEPT:
            _TEXTS.clear()
        texts = list(map(_TEXTS.__getitem__, _rounded(values, digits).tolist()))
    for place in (~finite).nonzero()[0].tolist():
        texts[place] = "null"
    return texts


def _rounded(values: NDArray[Any], digits: int) -> NDArray[Any]:
    """As `round` gives them, never -0: what lies next to the middle between two, or is too large, is left to it."""
    import numpy as np

    scale = 10.0**digits
    with np.errstate(over="ignore", invalid="ignore"):
        scaled = values * scale
        whole = np.rint(scaled)
        found, size = np.asarray(whole / scale + 0.0), np.abs(scaled)
        doubtful = np.abs(np.abs(scaled - whole) - 0.5) <= 1e-9 * np.maximum(size, 1.0)
    doubtful |= size > 2.0**50
    for place in doubtful.nonzero()[0].tolist():
        found[place] = round(float(values[place]), digits) + 0.0
    return found
