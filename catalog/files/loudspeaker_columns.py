"""The columns of the loudspeaker file: how each reads a cell and writes one."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise
from typing import Any, Final

from triptych.catalog import numbers
from triptych.catalog.errors import BadInput
from triptych.catalog.money import currency, price
from triptych.catalog.numbers import quoted
from triptych.catalog.numerals import Mark
from triptych.catalog.quantities import LOUDSPEAKER, Kind, Quantity
from triptych.catalog.records import (
    Enclosure,
    Orientation,
    PortLocation,
    PricePer,
    Role,
    SensitivityBasis,
    SoldAs,
    Status,
    Tax,
    TweeterType,
)

LONGEST_NAME: Final = 120
LONGEST_NOTE: Final = 4_000
MOST_DRIVERS: Final = 24
DROPS: Final = (3.0, 6.0, 10.0)

ALIASES: Final[dict[type[Enum], dict[str, str]]] = {
    Role: {
        "center": "centre",
        "mains": "main",
        "centres": "centre",
        "centers": "centre",
        "surrounds": "surround",
        "heights": "height",
        "subwoofer": "sub",
        "subs": "sub",
        "subwoofers": "sub",
    },
    Orientation: {"vertical": "upright", "horizontal": "lying"},
    Enclosure: {
        "closed": "sealed",
        "acoustic_suspension": "sealed",
        "vented": "ported",
        "reflex": "ported",
        "bass_reflex": "ported",
    },
    PortLocation: {"back": "rear"},
}
"""Other spellings that can mean only one thing."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: `take` gives None for an unknown cell and raises BadInput; `write` gives text that reads back.

    `take` has the text and the decimal mark of what could be read two ways.
    """

    name: str
    help: str
    take: Callable[[str, Mark | None], Any]
    write: Callable[[Any], str]
    unit: str | None = None
    figure: bool = False

    def read(self, text: str, mark: Mark | None = None) -> Any:
        """Return what a cell states, None for unknown; `mark` is the decimal one of what could be read two ways."""
        return self.take(text, mark)

    def text(self, value: object) -> str:
        """Return a value as the text of a cell; unknown is empty."""
        return "" if value is None else self.write(value)


def _known(take: Callable[[str, Mark | None], Any]) -> Callable[[str, Mark | None], Any]:
    return lambda text, mark: None if numbers.is_unknown(text) else take(text, mark)


def _column(name: str, help: str, read: Callable[[str], Any], write: Callable[[Any], str] = str) -> Column:
    return Column(name, help, _known(lambda text, _: read(text)), write)


def clean_name(text: str) -> str:
    """Return a name in one spelling: composed characters, single blanks, nothing unprintable.

    Raises
    ------
    BadInput
        The name holds control characters or is too long.
    """
    name = re.sub(r"\s+", " ", unicodedata.normalize("NFC", text)).strip()
    if not name.isprintable():
        raise BadInput(f"{quoted(text)} holds characters that do not print; take them out")
    if len(name) > LONGEST_NAME:
        raise BadInput(f"{quoted(text)} has {len(name)} characters; {LONGEST_NAME} are the most")
    return name


def _note(text: str) -> str:
    bad = {character for character in text if unicodedata.category(character) in ("Cc", "Cs")} - {"\n", "\t"}
    if bad or re.search("[\ufffe\uffff]", text):
        raise BadInput(f"{quoted(text)} holds control characters; take them out")
    if len(text) > LONGEST_NOTE:
        raise BadInput(f"has {len(text)} characters; {LONGEST_NOTE} are the most")
    return text


def _word(text: str) -> str:
    return re.sub(r"[\s_-]+", "_", text.strip().casefold())


def enum_reader(members: type[Enum]) -> Callable[[str], Any]:
    """Return a reader of one enum's values, case-blind; blanks and hyphens count as underscores."""
    by_word = {str(member.value): member for member in members}

    def read(text: str) -> Enum:
        word = _word(text)
        word = ALIASES.get(members, {}).get(word, word)
        if word not in by_word:
            raise BadInput(f"{quoted(text)} is none of {', '.join(by_word)}")
        return by_word[word]

    return read


def _enum(name: str, help: str, members: type[Enum]) -> Column:
    words = ", ".join(str(member.value) for member in members)
    return _column(name, f"{help}: {words}", enum_reader(members), lambda value: str(value.value))


def _quantity(name: str, extra: str = "") -> Column:
    quantity = LOUDSPEAKER[name]
    unit = None if quantity.kind is Kind.COUNT else quantity.bare_unit
    meaning = quantity.meaning[0].upper() + quantity.meaning[1:]
    help = f"{meaning}{extra}" + (f" [{unit}]" if unit else "")

    def take(text: str, mark: Mark | None) -> float | int | None:
        value = numbers.read(text, quantity, mark)
        return int(value) if value is not None and quantity.kind is Kind.COUNT else value

    return Column(name, help, take, lambda value: numbers.write_cell(value, quantity), unit, figure=True)


def _roles(text: str) -> frozenset[Role]:
    read = enum_reader(Role)
    words = [word for word in re.split(r"[;,]", text) if word.strip()]
    if not words:
        raise BadInput(f"{quoted(text)} names no role; write one or more of {_ROLES} with ';' between them")
    return frozenset(read(word) for word in words)


def _write_roles(roles: frozenset[Role]) -> str:
    return ";".join(role.value for role in Role if role in roles)


def yes_or_no(text: str) -> bool:
    """Return yes or no, whatever the case, true and false too."""
    word = text.strip().casefold()
    if word in ("yes", "true", "y"):
        return True
    if word in ("no", "false", "n"):
        return False
    raise BadInput(f"{quoted(text)} is neither yes nor no")


def _several(text: str, between: str, quantity: Quantity, mark: Mark | None) -> tuple[float, ...]:
    values = [numbers.read(part, quantity, mark) for part in re.split(between, text)]
    known = tuple(value for value in values if value is not None)
    if len(known) < len(values):
        raise BadInput(f"{quoted(text)} leaves a number out; give them all, or leave the cell empty if one is unknown")
    return known


def _coverage(text: str, mark: Mark | None) -> tuple[float, float]:
    values = _several(text, r"[xX×*]", LOUDSPEAKER["tweeter_coverage"], mark)
    if len(values) != 2:
        raise BadInput(f"{quoted(text)} is not horizontal by vertical; write two angles, such as '90 x 60'")
    return values[0], values[1]


def _crossover(text: str, mark: Mark | None) -> tuple[float, ...]:
    values = _several(text, "/", LOUDSPEAKER["crossover"], mark)
    if any(low >= high for low, high in pairwise(values)):
        raise BadInput(f"{quoted(text)} does not rise; write the lowest first, such as '350 / 2.8 kHz'")
    return values


def _layout(text: str) -> str:
    layout = re.sub(r"[\s–-]+", "", text).upper().replace("⁄", "/")
    rest, reduced = "", layout
    # each pass takes the innermost groups for one cell, written G
    while rest != reduced:
        rest, reduced = reduced, re.sub(r"\(([^()]*)\)", lambda group: "G" if _is_group(group[1]) else "?", reduced)
    count = sum(character.isalpha() for character in layout)
    if "G" in layout or not _is_stack(reduced) or count > MOST_DRIVERS:
        raise BadInput(
            f"{quoted(text)} is no layout; write at most {MOST_DRIVERS} of T, M, W and B in order, '/' for a stack, "
            "brackets for a group (coaxial without '/'), such as 'MTM', 'W(T/M)W' or 'W(TM)W'"
        )
    return layout


def _is_stack(cells: str) -> bool:
    return re.fullmatch("[TMWBG]+(?:/[TMWBG]+)*", cells) is not None


def _is_group(cells: str) -> bool:
    """Whether brackets hold a stack, or coaxial drivers, each of another kind."""
    coaxial = "/" not in cells
    return _is_stack(cells) and not (coaxial and ("G" in cells or len(set(cells)) < len(cells)))


def _drop(text: str, mark: Mark | None) -> float | None:
    drop = numbers.read(text, LOUDSPEAKER["low_limit_drop"], mark)
    if drop is not None and drop not in DROPS:
        raise BadInput(f"{quoted(text)} is none of 3, 6 and 10 dB")
    return drop


def _basis(text: str, _: Mark | None) -> SensitivityBasis | None:
    return enum_reader(SensitivityBasis)(text) if text.strip() else None


_ROLES: Final = ", ".join(role.value for role in Role)

_IN_ORDER: Final = (
    _column("maker", "Who makes it; required", clean_name),
    _column("model", "The model; required", clean_name),
    _column("series", "The maker's series, part of the name", clean_name),
    _column("family", "What it is voiced together with; maker and series if empty", clean_name),
    _column("roles", f"What it is offered for, several with ';'; required: {_ROLES}", _roles, _write_roles),
    _enum("orientation", "The pose that width and height describe", Orientation),
    _quantity("width"),
    _quantity("height"),
    _quantity("depth"),
    _quantity("feet"),
    _quantity("rear_allowance", "; 40 if empty"),
    _quantity("weight"),
    _enum("enclosure", "How the rear of the woofers is loaded", Enclosure),
    _enum("port_location", "Where the port or passive radiator is", PortLocation),
    _quantity("port_diameter"),
    _column("bung", "Whether a bung comes with it: yes, no", yes_or_no, lambda value: "yes" if value else "no"),
    _quantity("sensitivity", ", anechoic"),
    Column(
        "sensitivity_basis",
        "The field in which the sensitivity was stated; anechoic if empty: "
        + ", ".join(basis.value for basis in SensitivityBasis),
        _basis,
        lambda value: str(value.value),
    ),
    _quantity("impedance_nominal"),
    _quantity("impedance_minimum"),
    _quantity("low_limit"),
    Column(
        "low_limit_drop",
        "Drop at the lower end: 3, 6 or 10 [dB]",
        _drop,
        lambda value: numbers.write(value, LOUDSPEAKER["low_limit_drop"]),
        "dB",
        figure=True,
    ),
    _quantity("high_limit"),
    _enum("tweeter_type", "How the tweeter is loaded", TweeterType),
    _quantity("tweeter_size"),
    _column("tweeter_material", "What the tweeter is made of", clean_name),
    Column(
        "tweeter_coverage",
        "Horizontal x vertical angle between the -6 dB points, such as '90 x 60' [deg]",
        _known(_coverage),
        lambda value: " x ".join(numbers.write(angle, LOUDSPEAKER["tweeter_coverage"]) for angle in value),
        "deg",
        figure=True,
    ),
    _quantity("axis_height"),
    _quantity("midrange_size"),
    _quantity("midrange_count"),
    _quantity("woofer_size"),
    _quantity("woofer_count"),
    _column("layout", "Drivers along the long side, such as TM, MTM, W(T/M)W", _layout),
    _quantity("woofer_spacing"),
    Column(
        "crossover",
        "Hand-overs, lowest first, such as '350 / 2.8 kHz' [Hz]",
        _known(_crossover),
        lambda value: "/".join(numbers.write(one, LOUDSPEAKER["crossover"]) for one in value),
        "Hz",
        figure=True,
    ),
    _quantity("crossover_order", "; 4 if empty"),
    _quantity("amplifier_min"),
    _quantity("amplifier_max"),
    _quantity("power_handling"),
    Column(
        "price",
        "A number; the currency has its own column",
        _known(lambda text, mark: price(text, mark).value),
        numbers.typed,
        figure=True,
    ),
    _column("currency", "Three letters; required with a price", currency),
    _enum("price_per", "What the price buys", PricePer),
    _enum("tax", "Whether tax is in the price", Tax),
    _quantity("tax_rate"),
    _enum("sold_as", "The smallest quantity a dealer sells", SoldAs),
    _enum("status", "Where the model stands in its life", Status),
    _column("note", "Anything worth knowing", _note),
)

COLUMNS: Final[Mapping[str, Column]] = {column.name: column for column in _IN_ORDER}
"""Every column by name, in the order of an export."""

REQUIRED: Final = ("maker", "model", "roles")
UNITS: Final[Mapping[str, str]] = {column.name: column.unit for column in _IN_ORDER if column.unit}
"""The unit of a bare number, by column."""
