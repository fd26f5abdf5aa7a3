"""Money: whole minor units inside, Decimal at the edge, nothing in between."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from triptych.recommender.money.budget.errors import BadBudget

# ISO 4217 gives most currencies two digits after the point; these have others.
MINOR_DIGITS = (
    dict.fromkeys(
        (
            "BIF",
            "CLP",
            "DJF",
            "GNF",
            "ISK",
            "JPY",
            "KMF",
            "KRW",
            "PYG",
            "RWF",
            "UGX",
            "UYI",
            "VND",
            "VUV",
            "XAF",
            "XOF",
            "XPF",
        ),
        0,
    )
    | dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3)
    | dict.fromkeys(("CLF", "UYW"), 4)
)

_TEXT = re.compile(r"^(?P<before>[A-Za-z]{3})?\s*(?P<number>[+-]?[\d.,'’ ]*\d)\s*(?P<after>[A-Za-z]{3}|%)?$")
_PLAIN = re.compile(r"^[+-]?\d+(\.\d+)?$")
_COMMA = re.compile(r"^[+-]?\d+,(\d{1,2}|\d{4,})$")
_GROUPED = re.compile(r"^[+-]?\d{1,3}(?P<group>[,.'’ ])\d{3}((?P=group)\d{3})*([.,]\d{1,2})?$")


def currency_code(value: object, where: str) -> str:
    """A currency as its three letters.

    >>> currency_code("eur", "the head")
    'EUR'
    """
    text = str(value).strip().upper()
    if not re.fullmatch(r"[A-Z]{3}", text):
        raise BadBudget(f"{where}: currency is {value!r}; write its three letters, such as EUR")
    return text


def minor_digits(currency: str) -> int:
    """How many digits of a currency stand after the point."""
    return MINOR_DIGITS.get(currency, 2)


def number(value: object, where: str) -> tuple[Decimal, str | None]:
    """A number and the currency or percent sign written beside it.

    >>> number("1100,50 EUR", "line 1")
    (Decimal('1100.50'), 'EUR')
    """
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal | str):
        raise BadBudget(f"{where} is {value!r}; write a number")
    if not isinstance(value, str):
        return _finite(value, where), None
    parts = _TEXT.match(value.strip())
    if parts is None:
        raise BadBudget(f"{where} is {value!r}; write a number, such as 1100 or '1100 EUR'")
    mark = parts["before"] or parts["after"]
    return _decimal(parts["number"], where), mark.upper() if mark else None


def _finite(value: float | Decimal, where: str) -> Decimal:
    exact = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
    if not exact.is_finite():
        raise BadBudget(f"{where} is {value}; write a number, or leave it out if it is not known")
    return exact


def _decimal(text: str, where: str) -> Decimal:
    if _PLAIN.match(text):
        return Decimal(text)
    if _COMMA.match(text):
        return Decimal(text.replace(",", "."))
    grouped = _GROUPED.match(text)
    if grouped and (grouped["group"] not in ",." or _unmistakable(text, grouped["group"])):
        return Decimal(text.replace(grouped["group"], "").replace(",", "."))
    raise BadBudget(
        f"{where} is '{text}', which could be read in two ways; write it with a point and no thousands mark"
    )


def _unmistakable(text: str, group: str) -> bool:
    other = "." if group == "," else ","
    return other in text or text.count(group) > 1


def to_minor(value: Decimal, currency: str, where: str) -> int:
    """An amount in whole minor units; an amount that is not whole is refused.

    >>> to_minor(Decimal("19.99"), "EUR", "limit")
    1999
    """
    try:
        scaled = value.scaleb(minor_digits(currency))
    except InvalidOperation:
        raise BadBudget(f"{where} is {value}, more than can be counted") from None
    if scaled != scaled.to_integral_value():
        raise BadBudget(f"{where} is {value}; {currency} has {minor_digits(currency)} digits after the point")
    return int(scaled)


def round_half_up(value: Fraction) -> int:
    """The nearest whole number of an amount that is not negative, halves upward, as an invoice rounds."""
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)


def round_up(value: Fraction) -> int:
    """The next whole number, so that a shortage which is made up is made up wholly."""
    return -(-value.numerator // value.denominator)


def to_decimal(minor: int | Fraction, currency: str) -> Decimal:
    """An amount in minor units as people write it; what is less than one minor unit is rounded half up.

    >>> to_decimal(1999, "EUR")
    Decimal('19.99')
    """
    whole = minor if isinstance(minor, int) else round_half_up(minor) if minor >= 0 else -round_half_up(-minor)
    return Decimal(whole).scaleb(-minor_digits(currency))


def money(minor: int | Fraction, currency: str) -> str:
    """An amount in words: always with all its digits, and its currency.

    >>> money(15000, "EUR")
    '150.00 EUR'
    """
    return f"{to_decimal(minor, currency):f} {currency}"
