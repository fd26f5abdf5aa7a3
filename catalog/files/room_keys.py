"""The sections and keys of the room file: how each reads a TOML value and writes one."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from typing import Any, Final

from triptych.catalog import money, numbers
from triptych.catalog.errors import BadInput
from triptych.catalog.files.loudspeaker_columns import clean_name, enum_reader, yes_or_no
from triptych.catalog.numbers import quoted
from triptych.catalog.quantities import ROOM, Kind
from triptych.catalog.records import (
    Amplifier,
    Back,
    Hot,
    Listening,
    MainsPosition,
    Money,
    Place,
    PlaceKind,
    Screen,
    Seat,
    WallKind,
)

_FLATTEST: Final = 4.0
_WITH_UNIT: Final = (Kind.LENGTH, Kind.MASS)


@dataclass(frozen=True, slots=True)
class Key:
    """One key: `read` takes a TOML value and gives None for unknown; `write` gives TOML."""

    name: str
    read: Callable[[Any], Any]
    write: Callable[[Any], str]
    required: bool = False
    may_be_unknown: bool = True


@dataclass(frozen=True, slots=True)
class Section:
    """One section: the record that its keys make."""

    name: str
    record: type
    keys: Mapping[str, Key]


def text_of(value: object) -> str:
    """Return a TOML string or number as the text a person would write.

    Raises
    ------
    BadInput
        It is a list, a table, a date or a truth value.
    """
    if isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, (int, Decimal)):
        raise BadInput(f"holds {shown(value)}; write text in quotes or a number")
    return numbers.typed(value)


def shown(value: object) -> str:
    """Return a TOML value as a person would name it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, (int, Decimal)):
        return format(Decimal(value), ".9g")
    if isinstance(value, dict):
        return "a section"
    return "a list" if isinstance(value, list) else "a date or time"


def toml_string(text: str) -> str:
    """Return a text as a basic string of TOML."""
    # JSON's escapes are TOML's; DEL is the one character that only TOML forbids
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def aspect_ratio(aspect: str) -> float:
    """Return width over height of a picture from '16:9', '2.39:1' or '2.35'.

    Raises
    ------
    BadInput
        It is no such ratio, or flatter or steeper than any picture.

    Examples
    --------
    >>> aspect_ratio("16:9"), aspect_ratio("2.35")
    (1.778, 2.35)
    """
    match = re.fullmatch(r"([0-9]+(?:\.[0-9]+)?)(?::([0-9]+(?:\.[0-9]+)?))?", aspect)
    width, height = (float(match[1]), float(match[2] or 1)) if match else (0.0, 1.0)
    if height == 0 or not 1 / _FLATTEST <= width / height <= _FLATTEST:
        raise BadInput(f"{quoted(aspect)} is no shape of a picture; write one such as '16:9', '2.39:1' or '2.35'")
    return width / height


def _aspect(value: object) -> str | None:
    text = text_of(value)
    if numbers.is_unknown(text):
        return None
    aspect = re.sub(r"[x×/]", ":", re.sub(r"\s+", "", text).replace(",", "."))
    aspect_ratio(aspect)
    return aspect


def _name(value: object) -> str | None:
    if not isinstance(value, str):
        raise BadInput(f"holds {shown(value)}; write text in quotes")
    return None if numbers.is_unknown(value) else clean_name(value)


def _flag(value: object) -> bool:
    if isinstance(value, bool):
        return value
    try:
        return yes_or_no(text_of(value))
    except BadInput:
        raise BadInput(f"holds {shown(value)}; write true or false") from None


def _write_flag(value: bool) -> str:
    return "true" if value else "false"


def _hot(value: object) -> Hot:
    if isinstance(value, str) and value.strip().casefold() == "unknown":
        return Hot.UNKNOWN
    try:
        return Hot.YES if _flag(value) else Hot.NO
    except BadInput:
        raise BadInput(f'holds {shown(value)}; write true, false or "unknown"') from None


def _write_hot(value: Hot) -> str:
    return toml_string(value.value) if value is Hot.UNKNOWN else _write_flag(value is Hot.YES)


def _wall(value: object) -> WallKind | None:
    text = text_of(value)
    return enum_reader(WallKind)(text) if text.strip() else None


def _amount(value: object) -> Decimal | None:
    text = text_of(value)
    if numbers.is_unknown(text):
        return None
    amount, codes = money.read_amount(text)
    if codes:
        raise BadInput(f"{quoted(text)} names a currency; write the number here and the currency under currency")
    if amount < 0:
        raise BadInput(f"{quoted(text)} is less than nothing; write 0 or more")
    return amount


def _currency(value: object) -> str | None:
    text = text_of(value)
    return None if numbers.is_unknown(text) else money.currency(text)


def _enum(members: type[Enum]) -> Callable[[object], Any]:
    def read(value: object) -> Any:
        text = text_of(value)
        return None if numbers.is_unknown(text) else enum_reader(members)(text)

    return read


def _write_enum(value: Enum) -> str:
    return toml_string(str(value.value))


def _quantity(section: str, name: str, **options: bool) -> Key:
    quantity = ROOM[f"{section}.{name}"]

    def write(value: float) -> str:
        number = numbers.write(value, quantity)
        return toml_string(f"{number} {quantity.bare_unit}") if quantity.kind in _WITH_UNIT else number

    return Key(name, lambda value: numbers.read(text_of(value), quantity), write, **options)


def _text(name: str, **options: bool) -> Key:
    return Key(name, _name, toml_string, **options)


def _truth(name: str) -> Key:
    return Key(name, _flag, _write_flag, may_be_unknown=False)


def _section(name: str, record: type, *keys: str | Key) -> Section:
    made = (key if isinstance(key, Key) else _quantity(name, key) for key in keys)
    return Section(name, record, {key.name: key for key in made})


ROOM_NAME: Final = _text("name", required=True)

SECTIONS: Final[Mapping[str, Section]] = {
    section.name: section
    for section in (
        _section(
            "screen",
            Screen,
            "width",
            "height",
            "diagonal",
            Key("aspect", _aspect, toml_string),
            "bottom",
            _truth("transparent"),
        ),
        _section("mains", MainsPosition, _text("speaker"), "spacing", "from_wall", "toe_in", "axis_height"),
        _section(
            "seat",
            Seat,
            _text("name", required=True),
            _quantity("seat", "x", may_be_unknown=False),
            _quantity("seat", "distance", required=True),
            "ear_height",
            _truth("primary"),
            _truth("regular"),
        ),
        _section(
            "place",
            Place,
            _text("name", required=True),
            Key("kind", _enum(PlaceKind), _write_enum, required=True),
            "width",
            "height",
            "depth",
            "base",
            "front",
            Key("back", _enum(Back), _write_enum),
            "load",
            Key("hot", _hot, _write_hot, may_be_unknown=False),
            Key("wall", _wall, _write_enum),
            "gap",
            "setback",
        ),
        _section("amplifier", Amplifier, "power", "into", "lowest_load", "trim_range"),
        _section("listening", Listening, "target_peak", "room_gain", _truth("needs_real_centre")),
        _section(
            "money",
            Money,
            Key("centre", _amount, numbers.plain),
            Key("currency", _currency, toml_string),
            _truth("tax_included"),
        ),
    )
}
"""Every section by name, in the order of an export; `seat` and `place` may stand more than once."""

REPEATED: Final = ("seat", "place")
