"""TOML tables to frozen records, by the fields of the record; what cannot be taken is refused with where it stands."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import MISSING, dataclass, fields
from decimal import Decimal
from enum import Enum
from functools import cache, partial
from types import NoneType
from typing import TYPE_CHECKING, Annotated, Any, Final, TypeAlias, TypeVar, get_args, get_origin, get_type_hints

from triptych.catalog.errors import BadInput
from triptych.catalog.inputs import shown, toml
from triptych.catalog.names import nearest
from triptych.recommender.money.budget.errors import BadBudget, BudgetError
from triptych.recommender.money.budget.figures import up_to

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

Record = TypeVar("Record", bound="DataclassInstance")
Member = TypeVar("Member", bound=Enum)
Table: TypeAlias = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Read:
    """How a field is read: by a function of the value and of where it stands, and what mends that it is missing."""

    by: Callable[[Any, str], object]
    cure: str = ""


def parse(text: str, where: str, refuse: type[BudgetError] = BadBudget) -> dict[str, Any]:
    """The text of a TOML file, its numbers exact."""
    try:
        return toml(text, where)
    except BadInput as problem:
        raise refuse(str(problem)) from None


def read(kind: type[Record], table: Table, where: str, refuse: type[BudgetError] = BadBudget) -> Record:
    """A record from a table with a key for each of its fields; those with a default may be left out.

    Raises
    ------
    BudgetError
        Of the class `refuse`: a key is not known or missing, or holds what cannot be taken.
    """
    ways = _ways(kind)
    for key in table:
        if key not in ways:
            raise refuse(f"{where}: '{key}' is not known{meant(key, ways) or '; there are ' + ', '.join(ways)}")
    for key, (way, needed) in ways.items():
        if needed and key not in table:
            raise refuse(f"{where}: {key} is missing" + (f"; {way.cure}" if way.cure else ""))
    try:
        return kind(**{key: ways[key][0].by(value, f"{where}: {key}") for key, value in table.items()})
    except BudgetError as problem:
        raise refuse(str(problem)) from None


@cache
def _ways(kind: type[Any]) -> Mapping[str, tuple[Read, bool]]:
    """How each field is read, and whether its key must be there."""
    hints = get_type_hints(kind, include_extras=True)
    return {
        field.name: (_way(hints[field.name]), field.default is MISSING and field.default_factory is MISSING)
        for field in fields(kind)
    }


def _way(hint: Any) -> Read:
    if get_origin(hint) is Annotated:
        return next(note for note in hint.__metadata__ if isinstance(note, Read))
    if NoneType in get_args(hint):
        return _way(next(part for part in get_args(hint) if part is not NoneType))
    if isinstance(hint, type) and issubclass(hint, Enum):
        return Read(partial(_member, hint))
    return _PLAIN[hint]


def meant(word: str, known: Collection[str]) -> str:
    """What was meant, as the end of a refusal; empty where nothing is near."""
    near = nearest(word, known)
    return f"; did you mean '{near[0]}'?" if near else ""


def factor(value: object, where: str, most: Decimal = Decimal("Infinity")) -> Decimal:
    """A number, percent, or times, as rules tell them; what is told to write instead is at most so much.

    >>> factor("15 %", "factor"), factor("0.15", "factor"), factor("1.5 ×", "factor")
    (Decimal('0.15'), Decimal('0.15'), Decimal('1.5'))
    """
    text = value.strip().removesuffix("×").rstrip() if isinstance(value, str) else value
    if isinstance(text, str) and text.endswith("%"):
        try:
            return up_to(text.removesuffix("%").rstrip(), where, 100 * most, ("15", "0.5")) / 100
        except BadBudget as problem:
            why, write, told = str(problem).partition("; write ")
            raise BadBudget(why + write + re.sub(r"'([^']*)'", r"'\1 %'", told)) from None
    # right for a share, for a ratio and for a sum
    return up_to(text, where, most, ("0.5",))


def as_it_is(value: object, _: str) -> object:
    """What cannot be read by itself."""
    return value


def tables(value: object, where: str) -> list[Table]:
    """Tables of one name, each under its name in double brackets."""
    if isinstance(value, list) and all(isinstance(one, Mapping) for one in value):
        return value
    name = where.rpartition(" ")[2]
    raise BadBudget(f"{where}: write each {name} as a [[{name}]] table")


def _member(kind: type[Member], value: object, where: str) -> Member:
    try:
        return kind(str(value).strip().lower())
    except ValueError:
        *others, last = (str(one.value) for one in kind)
        raise BadBudget(f"{where} is {shown(value)}; write {', '.join(others)} or {last}") from None


def _yes_no(value: object, where: str) -> bool:
    if isinstance(value, bool):
        return value
    raise BadBudget(f"{where} is {shown(value)}; write true or false")


def _text(value: object, where: str) -> str:
    """A text; a model that is called by a number may stand as one."""
    if isinstance(value, str | int | Decimal) and not isinstance(value, bool):
        return str(value)
    raise BadBudget(f"{where} is {shown(value)}; write a text")


def _words(value: object, where: str) -> tuple[str, ...]:
    words = [value] if isinstance(value, str) else value
    if not isinstance(words, list) or not all(isinstance(word, str) for word in words):
        raise BadBudget(f"{where} is {shown(value)}; write a list of words")
    return tuple(word.strip().lower() for word in words)


_PLAIN: Final[Mapping[Any, Read]] = {
    bool: Read(_yes_no),
    str: Read(_text),
    Decimal: Read(factor),
    tuple[str, ...]: Read(_words),
}
"""How a field is read whose type says it all."""
