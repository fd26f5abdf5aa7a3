"""Texts of many cells read by column, each once, and where the figures of a row come from, as the texts they are."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterator, Mapping
from types import MappingProxyType
from typing import Any, Final

from triptych.catalog import money
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS, Field
from triptych.catalog.numerals import Mark
from triptych.catalog.records import Figure

_NO_MARKS: Final[Mapping[str, Mark | None]] = MappingProxyType({})


class CellReader:
    """Reads texts by column, each text of a column once: in a file most of them stand many times."""

    def __init__(self, marks: Mapping[str, Mark | None] = _NO_MARKS, columns: Mapping[str, Field] = COLUMNS) -> None:
        self._marks, self._columns = marks, columns
        self._read: dict[str, dict[Hashable, tuple[Any, str]]] = {name: {} for name in (*columns, "")}

    def read(self, name: str, text: str) -> tuple[Any, str]:
        """Return the value that a text states in a column, and what is wrong with it, empty where nothing is."""
        found = self._read[name].get(text)
        return found or self._kept(name, text, lambda: self._columns[name].read(text, self._marks.get(name)))

    def values(
        self, texts: Mapping[str, str], sourced: Collection[str]
    ) -> tuple[dict[str, Any], dict[str, str], list[tuple[str, str]]]:
        """Return what texts state by column, the texts of those `sourced` that state something, and what is wrong."""
        values: dict[str, Any] = {}
        known: dict[str, str] = {}
        wrong = []
        columns = self._read
        for name, text in texts.items():
            value = None
            if text:
                value, complaint = columns[name].get(text) or self.read(name, text)
                if complaint:
                    wrong.append((name, complaint))
                elif value is not None and name in sourced:
                    known[name] = text
            values[name] = value
        return values, known, wrong

    def currency(self, text: str, stated: str | None) -> tuple[Any, str]:
        """Return the currency of a price by its text and by what is stated elsewhere, and what is wrong."""
        found = self._read[""].get((text, stated))
        return found or self._kept("", (text, stated), lambda: self._currency(text, stated))

    def _currency(self, text: str, stated: str | None) -> str | None:
        return money.currency_of(money.price(text, self._marks.get("price")), text, stated)

    def _kept(self, name: str, key: Hashable, read: Callable[[], Any]) -> tuple[Any, str]:
        try:
            found = read(), ""
        except BadInput as problem:
            found = None, str(problem)
        if len(self._read[name]) < _READ_ONCE:
            self._read[name][key] = found
        return found


_READ_ONCE: Final = 20_000
"""How many texts of a column are kept as they were read; what comes after is read each time."""


class Stated(Mapping[str, Figure]):
    """Where figures come from that stand as texts in one place: made into records of their own when somebody asks."""

    __slots__ = ("source", "texts")

    def __init__(self, texts: dict[str, str], source: str) -> None:
        self.texts, self.source = texts, source

    def __getitem__(self, name: str) -> Figure:
        """The figure of a column."""
        return Figure(self.texts[name], self.source)

    def __iter__(self) -> Iterator[str]:
        """The columns."""
        return iter(self.texts)

    def __len__(self) -> int:
        """How many there are."""
        return len(self.texts)

    def __repr__(self) -> str:
        """As a mapping of them."""
        return repr(dict(self))
