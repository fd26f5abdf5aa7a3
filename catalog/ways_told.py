"""How the fields of records are told to programs: names, digits, money; a number's rounding and a cell of CSV."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from functools import cache
from operator import attrgetter
from typing import Annotated, Any, Final, NamedTuple, TypeAlias, get_args, get_origin, get_type_hints

from triptych.catalog.money import to_amount


@dataclasses.dataclass(frozen=True, slots=True)
class Told:
    """How a field is told.

    Parameters
    ----------
    digits : int or None
        Decimals of a number and of all numbers in it; None leaves it as it is.
    key : str
        Its name in the answer where that is another; `mains.name` stands as `name` within `mains`.
    minor : bool
        Minor units of the `currency` that this record tells, or one around it: told in that currency.
    where_any : bool
        Left out where it is None or empty.
    or_null : bool
        An empty text is told as null.
    """

    digits: int | None = None
    key: str = ""
    minor: bool = False
    where_any: bool = False
    or_null: bool = False


AS_IS: Final = Told()
MINOR: Final = Told(minor=True)

Minor: TypeAlias = Annotated[int, MINOR]
Perhaps: TypeAlias = Annotated[str, Told(or_null=True)]


class Key(NamedTuple):
    """One entry of a record's answer: its name, how it is read from the record, and how it is told."""

    name: str
    read: Callable[[Any], object]
    told: Told


def key(name: str, of: str | Callable[[Any], object] = "", told: Told = AS_IS) -> Key:
    """One entry of a view: read at a path of attributes, else under its own name, or by a function of the record."""
    return Key(name, of if callable(of) else attrgetter(of or name), told)


def keys_of(kind: type, **read: Callable[[Any], object]) -> tuple[Key, ...]:
    """The entries of a record told by its fields, some of them read otherwise."""
    return tuple(one._replace(read=read.get(one.name, one.read)) for one in own_keys(kind))


Views: TypeAlias = Mapping[type, Sequence[Key]]
"""How records are told that are a selection from others."""


@cache
def is_record(kind: Any) -> bool:
    """Whether a kind is told by its fields."""
    return dataclasses.is_dataclass(kind)


@cache
def own_keys(kind: type) -> tuple[Key, ...]:
    """The entries of a record that is told by its fields."""
    hints = get_type_hints(kind, include_extras=True)
    told = {field.name: _told(hints[field.name]) or AS_IS for field in dataclasses.fields(kind)}
    return tuple(Key(how.key or name, attrgetter(name), how) for name, how in told.items())


def _told(hint: Any) -> Told | None:
    """What a type says of how it is told, the outermost first."""
    if get_origin(hint) is Annotated:
        return next((note for note in hint.__metadata__ if isinstance(note, Told)), None)
    return next((found for part in get_args(hint) if (found := _told(part))), None)


def rounded(value: float | Decimal | Fraction | None, digits: int | None) -> float | None:
    """A number to so many decimals, never -0; None stays None, and so does what JSON can't hold."""
    if value is None or not math.isfinite(value):
        return None
    return float(value) if digits is None else round(float(value), digits) + 0.0


def cell(value: Any, told: Told = AS_IS, currency: str | None = None) -> str:
    """A value as a cell of CSV: unknown is empty, several stand between semicolons, instants are in UTC."""
    if value is None:
        return ""
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%SZ")
    if isinstance(value, tuple | list):
        return "; ".join(map(cell, value))
    if told.minor:
        return f"{to_amount(value, currency):f}"
    if told.digits is not None and isinstance(value, int | float | Fraction):
        return f"{float(value):.{told.digits}f}"
    return str(value)
