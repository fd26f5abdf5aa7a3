"""Digits and the marks between them: what they can mean by a decimal point, and what by a decimal comma."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from math import isfinite
from typing import Final, Literal

Mark = Literal[".", ","]

LONGEST_NUMERAL: Final = 64
"""Longer than any number that a person writes. [characters]."""

VULGAR: Final = dict(
    zip(
        "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞",
        ["1/2", "1/3", "2/3", "1/4", "3/4", "1/5", "2/5", "3/5", "4/5", "1/6", "5/6", "1/8", "3/8", "5/8", "7/8"],
        strict=True,
    )
)
"""Fractions that are one character."""

PLAIN_MARKS: Final[dict[str, str]] = (
    dict.fromkeys("“”„‟″＂", '"')
    | dict.fromkeys("‘’‚‛′´`＇", "'")
    | dict.fromkeys("‐‑‒–—−﹣－", "-")
    | dict.fromkeys("⁄∕", "/")
    | dict.fromkeys("\u200b\u2060\ufeff", "")
)
"""Typographic marks and the plain ones that they stand for."""

_PLAIN: Final = str.maketrans(
    PLAIN_MARKS
    # a tab or a line end parts cells, so two blanks, which are never between thousands
    | dict.fromkeys("\t\n\r\v\f\x1c\x1d\x1e\x1f\x85\u2028\u2029", "  ")
    | dict.fromkeys("\u00a0\u1680\u202f\u205f\u3000" + "".join(map(chr, range(0x2000, 0x200B))), " ")
    | {character: f" {fraction}" for character, fraction in VULGAR.items()}
)

NUMERAL: Final = r"(?:[0-9]|[.,](?=[0-9]))(?:[0-9]|[.,](?=[0-9])|[' ](?=[0-9]{3}(?![0-9])))*"
"""Digits with marks between them, whatever they mean; a blank or an apostrophe only before a group of three."""

_THREES: Final = r"[1-9][0-9]{{0,2}}(?P<by>[{marks}' ])[0-9]{{3}}(?:(?P=by)[0-9]{{3}})*"
_INDIAN: Final = r"[1-9][0-9]?(?:,[0-9]{2})+,[0-9]{3}"
_WRITTEN: Final[dict[Mark, re.Pattern[str]]] = {
    ".": re.compile(rf"(?:[0-9]+|{_THREES.format(marks=',')}|{_INDIAN})?(?:\.[0-9]+)?"),
    ",": re.compile(rf"(?:[0-9]+|{_THREES.format(marks='.')})?(?:,[0-9]+)?"),
}
"""What a numeral looks like by each decimal mark."""

PRINTED: Final[dict[Mark, str]] = {
    mark: rf"[+\-−]?(?:[0-9]+(?:{re.escape(mark)}[0-9]*)?|{re.escape(mark)}[0-9]+)(?:[eE][+\-]?[0-9]+)?"
    for mark in _WRITTEN
}
"""What an instrument prints as a number, by each decimal mark."""


def ordinal(text: str, last: int) -> int:
    """Return which of so many a text names, counted from one; 0 where it names none of them.

    >>> ordinal("2", 3), ordinal("4", 3), ordinal("00019", 3), ordinal("9" * 5000, 3), ordinal("", 3)
    (2, 0, 0, 0, 0)
    """
    found = int(text) if text.isascii() and text.isdecimal() and len(text) <= len(str(last)) else 0
    return found if found <= last else 0


def numeral(digits: str, mark: Mark | None = None) -> tuple[Decimal, ...]:
    """Return what digits with marks can mean: nothing, one number, or that by a point and that by a comma.

    >>> numeral("17,8"), numeral("1,200"), numeral("1,200", "."), numeral("1,2,3")
    ((Decimal('17.8'),), (Decimal('1200'), Decimal('1.200')), (Decimal('1200'),), ())
    """
    if not digits or len(digits) > LONGEST_NUMERAL:
        return ()
    if digits.isascii() and digits.isdigit():
        return (Decimal(digits),)
    found = {
        by: Decimal(
            "".join("." if character == by else character for character in digits if character in "0123456789" + by)
        )
        for by, pattern in _WRITTEN.items()
        if pattern.fullmatch(digits)
    }
    if mark in found:
        return (found[mark],)
    values = tuple(found.values())
    return values[:1] if len(set(values)) == 1 else values


def printed(text: str, mark: Mark) -> float | None:
    """Return a number as instruments print it: no thousands, an exponent allowed; None where no float is meant.

    >>> printed("1,5e3", ","), printed("1.5", ","), printed("1e400", ".")
    (1500.0, None, None)
    """
    if len(text) > LONGEST_NUMERAL or not re.fullmatch(PRINTED[mark], text):
        return None
    value = float(text.replace(",", ".").replace("−", "-"))
    return value if isfinite(value) else None


def decimal_mark(texts: Iterable[str]) -> Mark | None:
    """Return the decimal mark of a column, by those of its texts that can be read one way only; None where none tells.

    Parameters
    ----------
    texts : iterable of str
        Every text of the column as somebody wrote it, without cells that a sheet holds as numbers.

    Examples
    --------
    >>> decimal_mark(["1.200", "1.450,00"]), decimal_mark(["1.200", "899"]), decimal_mark(["17,8 cm", "17.8 cm"])
    (',', None, None)
    """
    telling = (text for text in texts if len(text) <= LONGEST_NUMERAL and not (text.isascii() and text.isdigit()))
    marks = {mark for text in telling for mark in _marks(clean(text))}
    return marks.pop() if len(marks) == 1 else None


def _marks(cleaned: str) -> Iterable[Mark]:
    for digits in re.findall(NUMERAL, cleaned):
        if len(numeral(digits)) != 1:
            continue
        by = [mark for mark, pattern in _WRITTEN.items() if pattern.fullmatch(digits)]
        if len(by) == 1:
            yield by[0]


def clean(text: str) -> str:
    """Return a text with plain marks and blanks; every blank of its own stays one."""
    return text.translate(_PLAIN).strip().replace("''", '"')
