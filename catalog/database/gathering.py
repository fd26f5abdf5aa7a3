"""Columns of loudspeakers gathered from the rows of tables: figures packed, words coded, laid side by side."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import count
from math import nan
from struct import error as struct_error
from struct import pack
from typing import Any, TypeAlias, overload

import numpy as np
from numpy.typing import DTypeLike, NDArray

Codes: TypeAlias = NDArray[np.intp]
Numbers: TypeAlias = NDArray[np.float64]
Columns: TypeAlias = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Words(Sequence[Any]):
    """A column of a few values over and over: each of them, and which it is in every row."""

    words: tuple[Any, ...]
    rows: Codes

    @overload
    def __getitem__(self, row: int) -> Any: ...
    @overload
    def __getitem__(self, row: slice) -> Sequence[Any]: ...
    def __getitem__(self, row: int | slice) -> Any:
        """The value of a row, or of some."""
        if isinstance(row, slice):
            return [self.words[code] for code in self.rows[row].tolist()]
        return self.words[self.rows[row]]

    def __len__(self) -> int:
        """The number of rows."""
        return len(self.rows)

    @classmethod
    def alone(cls, value: Any) -> Words:
        """A column of one row."""
        return cls((value,), np.zeros(1, dtype=np.intp))

    def each(self, told: Callable[[Any], Any], kind: DTypeLike) -> NDArray[Any]:
        """What is told of each value, found once for all that are alike."""
        return np.array([told(word) for word in self.words], dtype=kind)[self.rows]


@dataclass(frozen=True, slots=True)
class Names(Sequence[str]):
    """The names of loudspeakers, each put together when somebody asks for it: maker, series if it has one, model."""

    makers: Words
    series: Words
    models: Sequence[str]

    @overload
    def __getitem__(self, row: int) -> str: ...
    @overload
    def __getitem__(self, row: slice) -> Sequence[str]: ...
    def __getitem__(self, row: int | slice) -> str | Sequence[str]:
        """The name in a row, or those in some."""
        if isinstance(row, slice):
            return [self[one] for one in range(*row.indices(len(self)))]
        series = self.series[row]
        return f"{self.makers[row]} {self.models[row] if series is None else f'{series} {self.models[row]}'}"

    def __len__(self) -> int:
        """The number of loudspeakers."""
        return len(self.models)


class Figures:
    """Gathers a column of figures, packed as an array has them, which is quicker than making one of so few."""

    def __init__(self, kind: DTypeLike = np.float64) -> None:
        self._kind = np.dtype(kind)
        self._packed = bytearray()

    def add(self, values: Sequence[Any]) -> None:
        """Take some more."""
        form = f"{len(values)}{self._kind.char}"
        try:
            self._packed += pack(form, *values)
        except struct_error:
            self._packed += pack(form, *[nan if value is None else value for value in values])

    def found(self) -> NDArray[Any]:
        """All that was taken."""
        return np.frombuffer(self._packed, dtype=self._kind)


class Coded:
    """Gathers a column of words."""

    def __init__(self) -> None:
        self._number: defaultdict[Any, int] = defaultdict(count().__next__)
        self._parts = list[Codes]()

    def add(self, values: Sequence[Any]) -> None:
        """Take some more."""
        self._parts.append(np.fromiter(map(self._number.__getitem__, values), np.intp, len(values)))

    def found(self) -> Words:
        """All that was taken."""
        return Words(tuple(self._number), np.concatenate([np.zeros(0, dtype=np.intp), *self._parts]))


class AsRead:
    """Gathers a column as it is."""

    def __init__(self) -> None:
        self._values = list[Any]()

    def add(self, values: Sequence[Any]) -> None:
        """Take some more."""
        self._values += values

    def found(self) -> list[Any]:
        """All that was taken."""
        return self._values


Gathering: TypeAlias = Callable[[], Figures | Coded | AsRead]


def whole() -> Figures:
    """Gather whole numbers, all of them known."""
    return Figures(np.int64)


def yes_or_no() -> Figures:
    """Gather what is so or not, all of it known."""
    return Figures(np.bool_)


def words_of(numbers: NDArray[Any], named: Callable[[Any], str | None]) -> Words:
    """What numbers stand for, in order of their first rows; the same word once, though two numbers stand for it."""
    found, first, which = np.unique(numbers, return_index=True, return_inverse=True)
    order = np.argsort(first)
    words: dict[str | None, int] = {}
    codes = np.zeros(len(found), dtype=np.intp)
    for place in order.tolist():
        codes[place] = words.setdefault(named(found[place].item()), len(words))
    return Words(tuple(words), codes[which.ravel()])


@dataclass(frozen=True, slots=True)
class RowsBeside:
    """Rows of another table: those at `rows` belong to the loudspeakers at `places` of `count`."""

    places: Codes
    rows: Codes
    count: int

    @classmethod
    def of(cls, ids: NDArray[np.int64], theirs: NDArray[np.int64]) -> RowsBeside:
        """Where the loudspeakers of these numbers are; others than `ids` are left out."""
        places = np.searchsorted(ids, theirs)
        found = np.flatnonzero(places < len(ids))
        found = found[ids[places[found]] == theirs[found]]
        return cls(places[found], found, len(ids))

    def where(self, which: NDArray[np.bool_]) -> RowsBeside:
        """Only some of the rows of that table."""
        kept = which[self.rows]
        return RowsBeside(self.places[kept], self.rows[kept], self.count)

    def lay(self, column: Any) -> Any:
        """A column of that table beside the loudspeakers; unknown where there is no row."""
        if isinstance(column, Words):
            words = column.words if None in column.words else (*column.words, None)
            return Words(words, self._laid(column.rows, words.index(None)))
        if isinstance(column, list):
            return self._laid(np.array([*column, None], dtype=object), None).tolist()
        return self._laid(column, np.nan)

    def _laid(self, column: NDArray[Any], none: Any) -> NDArray[Any]:
        found = np.full(self.count, none, dtype=column.dtype)
        found[self.places] = column[self.rows]
        return found
