"""Answers as programs read them: one walk over frozen records, to JSON and to CSV, many of a kind by columns.

A record is told by its fields, in their order, or by a view where it is a selection from other records. How a field
is told stands with its type, such as `Annotated[float, Told(digits=1)]` (`ways_told.py`).
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from datetime import date, time
from enum import Enum
from functools import lru_cache
from itertools import repeat
from json.encoder import encode_basestring
from typing import Any, Final, NamedTuple

from triptych.catalog.answer_columns import (
    ByColumns,
    Column,
    InOrder,
    Keyed,
    Numbers,
    Picked,
    Rows,
    Same,
    Several,
    number_texts,
)
from triptych.catalog.money import to_amount
from triptych.catalog.ways_told import AS_IS, Key, Told, Views, cell, is_record, own_keys, rounded

STREAMED: Final = 2
"""So many levels are written as they are built: an answer and the lists in it. What those hold is written whole."""


class _Part(NamedTuple):
    """A value on its way out: how it is told, and in which currency."""

    value: Any
    told: Told = AS_IS
    currency: str | None = None


class _PlainKeys(NamedTuple):
    """A kind of record in JSON: what stands before each entry, how it is read and told, and where the currency is."""

    heads: tuple[str, ...]
    reads: tuple[Callable[[Any], object], ...]
    told: tuple[Told, ...]
    currency: int

    @classmethod
    def of(cls, keys: Sequence[Key]) -> _PlainKeys:
        """Those of some keys."""
        names = [one.name for one in keys]
        return cls(
            tuple(f"{_scalar(name)}: " for name in names),
            tuple(one.read for one in keys),
            tuple(one.told for one in keys),
            names.index("currency") if "currency" in names else -1,
        )


class _Opened(NamedTuple):
    """What holds other values, with its brackets in JSON."""

    brackets: str
    items: Iterator[tuple[str, _Part]]


class Answers:
    """Tells records; those that `views` names by their views, all others by their fields."""

    def __init__(self, views: Views | None = None) -> None:
        self._views = views or {}
        self._plain_keys: dict[type, _PlainKeys | None] = {}

    def json(self, value: object) -> Iterator[str]:
        """A value as JSON, piece by piece: what is built when somebody looks is built as it is written."""
        yield from self._json(_Part(value), "\n", STREAMED)

    def plain(self, value: object) -> Any:
        """A value as what JSON would be read back as."""
        return self._plain(_Part(value))

    def rows(
        self, records: Iterable[object], names: Sequence[str] = (), along: str = "", currency: str | None = None
    ) -> Iterator[list[str]]:
        """Records as rows of CSV, the heading first: one row a record.

        Parameters
        ----------
        names : sequence of str
            The columns, in their order; else all keys of the first record.
        along : str
            A key that holds records: each makes a row, beside what the one that holds it has.
        currency : str, optional
            Of amounts in records that tell none.
        """
        head = list(names)
        if head:
            yield head
        for entries in self._joined(records, {*names, along} if names else None, along, currency):
            if not head:
                head = list(entries)
                yield head
            yield [cell(*entries[name]) for name in head]

    def _joined(
        self, records: Iterable[object], only: Set[str] | None, along: str, currency: str | None
    ) -> Iterator[dict[str, _Part]]:
        for record in records:
            outer = self._entries(record, currency, only)
            inner = outer.pop(along) if along else None
            if inner is None:
                yield outer
                continue
            for one in inner.value:
                yield outer | self._entries(one, inner.currency, only)

    def _plain(self, part: _Part) -> Any:
        opened = self._open(part)
        if not isinstance(opened, _Opened):
            return opened
        if opened.brackets == "{}":
            return {name: self._plain(item) for name, item in opened.items}
        return [self._plain(item) for _, item in opened.items]

    def _json(self, part: _Part, margin: str, depth: int) -> Iterator[str]:
        """A value in pieces: what stands near the top for itself, what lies deeper whole."""
        if depth and isinstance(part.value, ByColumns):
            yield from self._by_columns(part.value, part.currency, margin)
            return
        opened = self._open(part) if depth else None
        if not isinstance(opened, _Opened):
            yield self._text(*part, margin)
            return
        before, within = opened.brackets[0], margin + "  "
        for name, item in opened.items:
            yield f"{before}{within}{_scalar(name)}: " if opened.brackets == "{}" else before + within
            yield from self._json(item, within, depth - 1)
            before = ","
        yield margin + opened.brackets[1] if before == "," else opened.brackets

    def _by_columns(self, records: ByColumns, currency: str | None, margin: str) -> Iterator[str]:
        """A list of records, some at a time by columns; by records where a view tells them."""
        before, within = "[", margin + "  "

        def told(rows: Rows) -> list[str]:
            if rows.kind in self._views:
                return [self._text(record, AS_IS, currency, within) for record in rows.records()]
            return self._texts(rows, AS_IS, rows.count, within)

        for text in records.by_columns(lambda some: f",{within}".join(some.laid(told))):
            yield before + within + text
            before = ","
        yield margin + "]" if before == "," else "[]"

    def _texts(self, column: Column, told: Told, count: int, margin: str) -> list[str]:
        """What each of `count` records has in a column, as JSON."""
        pieces = _merged(self._pieces(column, told, count, margin))
        if len(pieces) == 1:
            return [pieces[0]] * count if isinstance(pieces[0], str) else pieces[0]
        return list(map("".join, zip(*(repeat(one) if isinstance(one, str) else one for one in pieces))))  # noqa: B905

    def _pieces(self, column: Column, told: Told, count: int, margin: str) -> Iterator[str | list[str]]:
        """The text of a column piece by piece: one where all have the same, else one each."""
        if told.minor:
            raise TypeError("an amount is told beside its currency, by its record")
        within = margin + "  "
        if isinstance(column, Same):
            yield self._text(column.value, told, None, margin)
        elif isinstance(column, Numbers):
            yield number_texts(column.values, told.digits)
        elif isinstance(column, Picked):
            words = [self._text(word, told, None, margin) for word in column.words]
            yield [words[one] for one in column.which.tolist()]
        elif isinstance(column, Keyed):
            entries = [(f"{_scalar(name)}: ", part, told) for name, part in column.parts.items()]
            yield from self._between("{}", entries, count, margin, within)
        elif isinstance(column, InOrder):
            yield from self._between("[]", [("", part, told) for part in column.parts], count, margin, within)
        elif isinstance(column, Rows):
            yield from self._between("{}", _entries_of(column), count, margin, within)
        elif isinstance(column, Several):
            texts = self._texts(column.of, told, column.of.count, within)
            yield [_bracketed("[]", texts[first:last], margin, within) for first, last in column.spans()]
        elif told.or_null:
            yield [self._text(value, told, None, margin) for value in column]
        elif set(map(type, column)) == {str}:
            yield _all_quoted(column)
        else:
            yield [_quoted(value) if type(value) is str else self._text(value, told, None, margin) for value in column]

    def _between(
        self, brackets: str, entries: Sequence[tuple[str, Column, Told]], count: int, margin: str, within: str
    ) -> Iterator[str | list[str]]:
        """Entries within brackets, a line each; what is left out where it is empty never comes first."""
        before = brackets[0] + within
        for head, column, told in entries:
            if told.where_any and isinstance(column, list):
                texts = self._texts(column, told, count, within)
                some = [value not in (None, "", ()) for value in column]
                yield [f"{before}{head}{text}" if any_ else "" for text, any_ in zip(texts, some, strict=True)]
                continue
            if told.where_any and isinstance(column, Same) and column.value in (None, "", ()):
                continue
            yield before + head
            yield from self._pieces(column, told, count, within)
            before = "," + within
        yield margin + brackets[1] if before[0] == "," else brackets

    def _text(self, value: Any, told: Told, currency: str | None, margin: str) -> str:
        """A value as JSON, whole."""
        kind = type(value)
        if kind is str:
            return "null" if told.or_null and not value else _scalar(value)
        if value is None or (kind is float and not told.minor):
            return _number(value, told.digits)
        within = margin + "  "
        if (keys := self._plainly(kind)) is not None:
            return _bracketed("{}", self._items(keys, value, currency, within), margin, within)
        if kind is tuple or kind is list:
            return _bracketed("[]", [self._text(item, told, currency, within) for item in value], margin, within)
        if kind is dict and all(type(name) is str and name for name in value):
            pairs = [f"{_scalar(name)}: {self._text(item, told, currency, within)}" for name, item in value.items()]
            return _bracketed("{}", pairs, margin, within)
        opened = self._open(_Part(value, told, currency))
        if not isinstance(opened, _Opened):
            return _scalar(opened)
        if opened.brackets == "{}":
            items = [f"{_scalar(name)}: {self._text(*item, within)}" for name, item in opened.items]
        else:
            items = [self._text(*item, within) for _, item in opened.items]
        return _bracketed(opened.brackets, items, margin, within)

    def _plainly(self, kind: Any) -> _PlainKeys | None:
        """The keys of a kind of record as JSON has them; None where they are nested, or it is no record."""
        try:
            return self._plain_keys[kind]
        except KeyError:
            keys = self._views.get(kind) or (own_keys(kind) if is_record(kind) else ())
            nested = not keys or any("." in one.name for one in keys)
            self._plain_keys[kind] = None if nested else _PlainKeys.of(keys)
        return self._plain_keys[kind]

    def _items(self, keys: _PlainKeys, record: object, currency: str | None, margin: str) -> list[str]:
        """The entries of a record as JSON, whole."""
        found: list[Any] = [read(record) for read in keys.reads]
        if keys.currency >= 0 and found[keys.currency]:
            currency = str(found[keys.currency])
        items = []
        # what there is most of is told here, without a call for each
        for head, told, value in zip(keys.heads, keys.told, found, strict=True):
            kind = type(value)
            if kind is float and not told.minor:
                if value - value != 0.0:
                    items.append(head + "null")
                else:
                    items.append(head + repr(value if told.digits is None else round(value, told.digits) + 0.0))
            elif kind is str and value:
                items.append(head + _scalar(value))
            elif not (told.where_any and value in (None, "", ())):
                items.append(head + self._text(value, told, currency, margin))
        return items

    def _open(self, part: _Part) -> _Opened | str | int | float | bool | None:
        value = part.value
        if self._is_record(value):
            return _Opened("{}", iter(self._entries(value, part.currency).items()))
        if isinstance(value, Mapping):
            pairs = ((str(_leaf(name, part)), _Part(item, part.told, part.currency)) for name, item in value.items())
            return _Opened("{}", pairs)
        if isinstance(value, Set):
            value = sorted(value)
        if isinstance(value, Iterable) and not isinstance(value, str):
            return _Opened("[]", (("", _Part(item, part.told, part.currency)) for item in value))
        return _leaf(value, part)

    def _is_record(self, value: object) -> bool:
        kind: Any = type(value)
        return kind in self._views or is_record(kind)

    def _entries(self, record: object, currency: str | None, only: Set[str] | None = None) -> dict[str, _Part]:
        kind: type = type(record)
        keys = self._views.get(kind) or own_keys(kind)
        found = [(one, one.read(record)) for one in keys if only is None or one.name in only]
        stated = next((str(value) for one, value in found if one.name == "currency" and value), currency)
        entries: dict[str, _Part] = {}
        for one, value in found:
            if one.told.where_any and value in (None, "", ()):
                continue
            part = _Part(value, one.told, stated)
            outer, _, name = one.name.rpartition(".")
            if outer:
                within = entries.get(outer, part._replace(value={}))
                part = within._replace(value={**within.value, name: value})
            entries[outer or name] = part
        return entries


def _entries_of(rows: Rows) -> list[tuple[str, Column, Told]]:
    """The entries of records by columns: what stands before each, and how it is told."""
    found: dict[str, tuple[Column, Told]] = {}
    for one, field in zip(own_keys(rows.kind), dataclasses.fields(rows.kind), strict=True):
        column = rows.columns[field.name]
        outer, _, name = one.name.rpartition(".")
        if outer:
            held, told = found.get(outer, (Keyed({}), one.told))
            assert isinstance(held, Keyed)
            found[outer] = Keyed({**held.parts, name: column}), told
        else:
            found[name] = column, one.told
    return [(f"{_scalar(name)}: ", *entry) for name, entry in found.items()]


def _merged(pieces: Iterable[str | list[str]]) -> list[str | list[str]]:
    """Pieces of text with those that all have joined where they meet."""
    found: list[str | list[str]] = []
    for one in pieces:
        if found and isinstance(one, str) and isinstance(found[-1], str):
            found[-1] += one
        else:
            found.append(one)
    return found


def _leaf(value: Any, part: _Part) -> str | int | float | bool | None:
    """A value without others in it, as JSON has it."""
    if isinstance(value, Enum):
        value = value.value
    if isinstance(value, str):
        return None if part.told.or_null and not value else value
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, date | time):
        return value.isoformat()
    if part.told.minor:
        return float(to_amount(value, part.currency))
    if isinstance(value, int):
        return value if part.told.digits is None else float(value)
    return rounded(value, part.told.digits)


_encode: Final = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode


def _bracketed(brackets: str, items: list[str], margin: str, within: str) -> str:
    """Items of JSON within brackets, a line each."""
    return f"{brackets[0]}{within}{f',{within}'.join(items)}{margin}{brackets[1]}" if items else brackets


def _number(value: float | None, digits: int | None) -> str:
    """A number in JSON, to so many decimals."""
    if value is None or not math.isfinite(value):
        return "null"
    return repr(float(value) if digits is None else round(float(value), digits) + 0.0)


@lru_cache(maxsize=4096, typed=True)
def _scalar(value: str | float | bool | None) -> str:
    """A value in JSON; what does not print is escaped, which JSON reads back unchanged."""
    text = _encode(value)
    return text if text.isprintable() else "".join(map(_printable, text))


def _quoted(value: str) -> str:
    """The same of one of many texts, of which hardly two are alike."""
    text = encode_basestring(value)
    return text if text.isprintable() else _scalar(value)


def _all_quoted(values: Sequence[str]) -> list[str]:
    """The same of many, which are looked at together: nearly always all of them print."""
    texts = list(map(encode_basestring, values))
    return texts if "".join(texts).isprintable() else list(map(_quoted, values))


def _printable(character: str) -> str:
    return character if character.isprintable() else json.dumps(character)[1:-1]
