"""How each kind of value reads the text of a cell, a key or an option, and is written so that it reads back."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from functools import partial
from itertools import pairwise
from typing import Any, Final, get_args, get_origin

from triptych.catalog import money, number_texts, numbers
from triptych.catalog.errors import BadInput, UnreadableQuantity
from triptych.catalog.names import clean_name, refuse_hidden
from triptych.catalog.number_texts import quoted
from triptych.catalog.numerals import Mark
from triptych.catalog.quantities import About, Kind, Quantity
from triptych.catalog.words import ALIASES

_LONGEST_SPELLING: Final = 1_200
LONGEST_NOTE: Final = 4_000
MOST_DRIVERS: Final = 24
_FLATTEST: Final = 4.0
_BY: Final = "xX×*"


@dataclass(frozen=True, slots=True)
class ValueForm:
    """How a value is read, by the decimal mark of what could be read two ways, and written; `read` raises BadInput."""

    read: Callable[[str, Mark | None], Any]
    write: Callable[[Any], str] = str


def _note(text: str) -> str:
    refuse_hidden(text, note=True)
    if len(text) > LONGEST_NOTE:
        raise BadInput(f"has {len(text)} characters; {LONGEST_NOTE} are the most")
    return text


def word_of(members: type[Enum], text: str) -> Any:
    """Return the member that a text names, case-blind; blanks and hyphens count as underscores.

    Raises
    ------
    BadInput
        It names none; all are told.
    """
    by_word = {str(member.value): member for member in members}
    word = re.sub(r"[\s_-]+", "_", text.strip().casefold())
    word = ALIASES.get(members, {}).get(word, word)
    if word not in by_word:
        raise BadInput(f"{quoted(text)} is none of {', '.join(by_word)}")
    return by_word[word]


def words_of(members: type[Enum], mark: str, text: str) -> frozenset[Any]:
    """Return the members that a text names, with `mark` or a comma between them.

    Raises
    ------
    BadInput
        It names none, or one that there is not.
    """
    words = [word for word in re.split(f"[{mark},]", text) if word.strip()]
    if not words:
        all_words = ", ".join(str(member.value) for member in members)
        name = members.__name__.casefold()
        raise BadInput(f"{quoted(text)} names no {name}; write one or more of {all_words} with '{mark}' between them")
    return frozenset(word_of(members, word) for word in words)


def yes_or_no(text: str) -> bool:
    """Return yes or no, whatever the case, true and false too."""
    word = text.strip().casefold()
    if word in ("yes", "true", "y"):
        return True
    if word in ("no", "false", "n"):
        return False
    raise BadInput(f"{quoted(text)} is neither yes nor no")


def _number(about: About, quantity: Quantity, text: str, mark: Mark | None) -> float | int | None:
    value = numbers.read(text, quantity, mark)
    if about.choices and value is not None and value not in about.choices:
        *first, last = (f"{choice:g}" for choice in about.choices)
        raise BadInput(f"{quoted(text)} is none of {', '.join(first)} and {last} {quantity.bare_unit}")
    return int(value) if value is not None and quantity.kind is Kind.COUNT else value


def _several(about: About, quantity: Quantity, text: str, mark: Mark | None) -> tuple[float, ...]:
    between = about.mark.strip()
    parts = re.split(f"[{_BY}]" if between == "x" else between, text)
    if len(parts) > MOST_DRIVERS:
        raise BadInput(f"{quoted(text)} holds {len(parts)} numbers; {MOST_DRIVERS} are the most")
    values = [numbers.read(part, quantity, mark) for part in parts]
    known = tuple(value for value in values if value is not None)
    if len(known) < len(values):
        raise BadInput(f"{quoted(text)} leaves a number out; give them all, or leave the cell empty if one is unknown")
    return known


def _sides(about: About, quantity: Quantity, text: str, mark: Mark | None) -> tuple[float, ...]:
    if len(re.split(f"[{_BY}]", text)) != 2:
        raise BadInput(f"{quoted(text)} is not horizontal by vertical; write two angles, such as '90 x 60'")
    try:
        return _several(about, quantity, text, mark)
    except UnreadableQuantity as problem:
        # one of the sides is no number, and what is told to write is both
        why, wants, _ = str(problem).partition("; write one number")
        raise BadInput(f"{why}; write two angles, such as '90 x 60'" if wants else str(problem)) from None


def _rising(about: About, quantity: Quantity, text: str, mark: Mark | None) -> tuple[float, ...]:
    values = _several(about, quantity, text, mark)
    if any(low >= high for low, high in pairwise(values)):
        raise BadInput(f"{quoted(text)} does not rise; write the lowest first, such as '350 / 2.8 kHz'")
    return values


def _layout(text: str) -> str:
    # brackets by the thousand are none, and are not taken apart one by one
    layout = "" if len(text) > _LONGEST_SPELLING else re.sub(r"[\s–-]+", "", text).upper().replace("⁄", "/")
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


def _aspect(text: str) -> str:
    aspect = re.sub(r"[x×/]", ":", re.sub(r"\s+", "", text).replace(",", "."))
    aspect_ratio(aspect)
    return aspect


def _price(text: str, mark: Mark | None) -> Decimal:
    return money.price(text, mark).value


def _amount(text: str, mark: Mark | None) -> Decimal:
    amount, codes = money.read_amount(text, mark, money.BARE_AMOUNT)
    if codes:
        raise BadInput(f"{quoted(text)} names a currency; write the number here and the currency under currency")
    money.refuse_beyond(amount, quoted(text))
    return amount


def _words(read: Callable[[str], Any], write: Callable[[Any], str] = str) -> ValueForm:
    """A form in which no number stands."""
    return ValueForm(lambda text, mark: read(text), write)


FORMS: Final = {
    "name": _words(clean_name),
    "note": _words(_note),
    "layout": _words(_layout),
    "aspect": _words(_aspect),
    "currency": _words(money.currency),
    "price": ValueForm(_price, number_texts.typed),
    "amount": ValueForm(_amount, number_texts.plain),
}
"""The forms of texts and amounts, by what a record says that they are."""


def form_of(type_: Any, about: About, quantity: Quantity | None) -> ValueForm:
    """Return the form of a value from its type, without None, and what is said about it."""
    if quantity is not None:
        return _form_of_number(type_, about, quantity)
    if type_ is bool:
        return _words(yes_or_no, lambda value: "yes" if value else "no")
    if get_origin(type_) is frozenset:
        return _form_of_words(get_args(type_)[0], about.mark)
    if issubclass(type_, Enum):
        return _words(partial(word_of, type_), lambda value: str(value.value))
    return FORMS[about.form]


def _form_of_number(type_: Any, about: About, quantity: Quantity) -> ValueForm:
    if get_origin(type_) is not tuple:
        return ValueForm(partial(_number, about, quantity), lambda value: numbers.write_cell(value, quantity))
    read = _rising if Ellipsis in get_args(type_) else _sides
    return ValueForm(
        partial(read, about, quantity), lambda values: about.mark.join(numbers.write(one, quantity) for one in values)
    )


def _form_of_words(members: type[Enum], mark: str) -> ValueForm:
    return _words(
        partial(words_of, members, mark),
        lambda found: mark.join(str(member.value) for member in members if member in found),
    )
