"""Money: whole minor units inside, Decimal at the edge, and text as people write it to an exact amount."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import cache, lru_cache
from typing import Final, NamedTuple

from triptych.catalog.errors import BadInput, UnreadableQuantity
from triptych.catalog.number_texts import plain, quoted, two_ways, typed
from triptych.catalog.numbers import refuse_strange, unreadable
from triptych.catalog.numerals import NUMERAL, Mark, clean, numeral

MOST_MONEY: Final = Decimal(10) ** 12
"""More money than this, in whole units of any currency, is taken for a slip of the pen."""

LARGEST_AMOUNT: Final = 10**16
"""The same in the smallest minor units that there are. [minor unit]."""

HIGHEST_PRICE: Final = Decimal(9_999_999)
"""More than any loudspeaker costs in most currencies. [the currency's unit]."""

_SMALL: Final = 1000
_SMALL_UNITS: Final = frozenset({
    "AMD", "AOA", "ARS", "BDT", "BIF", "CDF", "CLP", "COP", "CRC", "DJF", "DZD", "ETB", "GNF", "HUF",
    "IDR", "INR", "IQD", "IRR", "ISK", "JMD", "JPY", "KES", "KHR", "KMF", "KRW", "KZT", "LAK", "LBP",
    "LKR", "LRD", "MGA", "MMK", "MNT", "MWK", "MZN", "NGN", "NPR", "PHP", "PKR", "PYG", "RSD", "RUB",
    "RWF", "SDG", "SOS", "SSP", "STN", "SYP", "TWD", "TZS", "UGX", "UZS", "VND", "VUV", "XAF", "XOF",
    "XPF", "YER", "ZMW",
})  # fmt: skip
"""Currencies of which so many times as much is no more than in the others: ten million of them are less than what the
dearest loudspeakers cost. By their rates of 2024, from memory; only the order of size counts."""

_MOST_DIGITS: Final = 4
_WANTED: Final = "write an amount, such as '1200', '1200.50' or '1200.50 EUR'"
BARE_AMOUNT: Final = "write an amount, such as '1200' or '1200.50'"
"""What is said where the currency stands elsewhere."""
WITH_CURRENCY: Final = "write an amount and its currency, such as '310 EUR'"
"""What is said where it can stand nowhere else."""

_DOLLARS: Final = ("USD", "AUD", "CAD", "HKD", "MXN", "NZD", "SGD", "TWD")
_SIGNS: Final[Mapping[str, tuple[str, ...]]] = {
    "€": ("EUR",),
    "euro": ("EUR",),
    "euros": ("EUR",),
    "£": ("GBP",),
    "$": _DOLLARS,
    "us$": ("USD",),
    "a$": ("AUD",),
    "au$": ("AUD",),
    "c$": ("CAD",),
    "ca$": ("CAD",),
    "nz$": ("NZD",),
    "hk$": ("HKD",),
    "s$": ("SGD",),
    "¥": ("JPY", "CNY"),
    "₹": ("INR",),
    "rs": ("INR", "LKR", "MUR", "NPR", "PKR"),
    "rs.": ("INR", "LKR", "MUR", "NPR", "PKR"),
    "fr.": ("CHF",),
    "sfr": ("CHF",),
    "sfr.": ("CHF",),
    "zł": ("PLN",),
    "kr": ("DKK", "ISK", "NOK", "SEK"),
    "kr.": ("DKK", "ISK", "NOK", "SEK"),
    "kč": ("CZK",),
    "₩": ("KRW",),
}
"""The currencies that a sign or an abbreviation in small letters can stand for."""

_TEXT: Final = re.compile(
    rf"(?P<before>[^0-9+., -][^0-9 -]*)? ?(?P<number>[+-]? ?{NUMERAL})"
    r"(?:(?P<dash>[.,]) ?--?)? ?(?P<after>[^0-9 ,-][^0-9 ]*)?"
)


_DIGITS: Final = re.compile("[0-9]{1,12}")


class Amount(NamedTuple):
    """An amount as it is written, and the currencies that what stands beside it can be; none where nothing does."""

    value: Decimal
    codes: tuple[str, ...]

    @property
    def currency(self) -> str | None:
        """The currency, where what is written says just one."""
        return self.codes[0] if len(self.codes) == 1 else None


def read_amount(text: str, mark: Mark | None = None, wanted: str = _WANTED, stated: str | None = None) -> Amount:
    """Return an amount of money, with or without its currency before or after it.

    Parameters
    ----------
    text : str
        As people write it: `1 299`, `€1299`, `1'299.00`, `EUR 1,299.00`, `1.299,00 €`, `1.299,-`.
    mark : str, optional
        The decimal mark of a number that could be read two ways.
    wanted : str
        What is said to be right where the text is no amount.
    stated : str, optional
        The currency as it is told elsewhere, by whose decimals it is told how to write an amount that could be two.

    Raises
    ------
    BadInput
        It is no single amount, could be two, or names a currency that there is none of, or two.

    Examples
    --------
    >>> read_amount("1.299,00 €"), read_amount("1 299").currency
    (Amount(value=Decimal('1299.00'), codes=('EUR',)), None)
    """
    if _DIGITS.fullmatch(text):  # as most are written
        return Amount(Decimal(text), ())
    refuse_strange(text)
    cleaned = clean(text)
    parts = _TEXT.fullmatch(cleaned)
    if not parts:
        raise unreadable(text, wanted)
    # `1299,-` has no cents, and its comma is a decimal one
    digits = parts["number"].lstrip("+- ") + (f"{parts['dash']}00" if parts["dash"] else "")
    readings = numeral(digits, mark)
    if not readings:
        raise unreadable(text, wanted)
    codes = _codes([word for word in (parts["before"], parts["after"]) if word], text)
    if len(readings) > 1:
        start, end = parts.span("number")
        beside = ("", "") if wanted == BARE_AMOUNT else (cleaned[:start], cleaned[end:])
        told = _two_amounts(text, readings, codes or ((stated,) if stated else ()), beside)
        raise UnreadableQuantity(told if codes or wanted != WITH_CURRENCY else f"{told.partition(';')[0]}; {wanted}")
    value = readings[0]
    return Amount(value.copy_negate() if parts["number"].startswith("-") else value, codes)


def _two_amounts(text: str, readings: Sequence[Decimal], codes: tuple[str, ...], beside: tuple[str, str]) -> str:
    """Why an amount that could be two is refused; what money has too many decimals is not told to be written."""
    fine = max(map(minor_digits, codes), default=0)
    right = [f"{beside[0]}{typed(one)}{beside[1]}" for one in readings if one == round(one, fine)]
    told = two_ways(text, [*map(plain, readings)], right)
    if len(right) == len(readings):
        return told
    decimals = f"no more than {fine} decimals" if fine else "no decimals" if codes else "other than three decimals"
    return f"{told}, or {decimals}"


def _codes(words: list[str], text: str) -> tuple[str, ...]:
    found = [_meant(word.strip(), text) for word in words]
    if not found:
        return ()
    both = tuple(code for code in found[0] if code in found[-1])
    if not both:
        raise UnreadableQuantity(f"{quoted(text)} names two currencies; write one of them")
    return both


def _meant(word: str, text: str) -> tuple[str, ...]:
    signs = _SIGNS.get(word.casefold())
    if signs:
        return signs
    if len(word) == 3 and word.isascii() and word.isalpha():
        try:
            return (currency(word),)
        except BadInput as problem:
            raise UnreadableQuantity(f"{quoted(text)}: {problem}") from None
    raise UnreadableQuantity(f"{quoted(text)} holds more than an amount and its currency: {quoted(word)} is too much")


def currency_of(amount: Amount, text: str, stated: str | None = None) -> str | None:
    """Return the currency of an amount, from what stands beside it and what is stated elsewhere; None where neither is.

    Raises
    ------
    BadInput
        What stands beside it can be several, such as `$`, or is not what is stated.
    """
    if amount.codes and stated is not None and stated not in amount.codes:
        raise BadInput(
            f"{quoted(text)} is in {' or '.join(amount.codes)}, and its currency is {stated}; mend one of them"
        )
    if len(amount.codes) > 1 and stated is None:
        raise BadInput(f"{quoted(text)} could be in {' or '.join(amount.codes)}; write the code")
    return stated or amount.currency


@lru_cache(256)  # the currency of a cell is asked for after its amount
def price(text: str, mark: Mark | None = None, wanted: str = _WANTED, stated: str | None = None) -> Amount:
    """Return an amount above 0 that a loudspeaker can cost.

    Raises
    ------
    BadInput
        It is no single amount, is not above 0, or is more than any loudspeaker costs in the currency beside it.
    """
    amount = read_amount(text, mark, wanted, stated)
    if amount.value == 0:
        raise BadInput(f"{quoted(text)} is no price; write an amount above 0, or leave it empty if it is unknown")
    refuse_beyond(amount.value, quoted(text))
    if amount.value != round(amount.value, _MOST_DIGITS):
        raise BadInput(f"{quoted(text)} is no price; no money has more than {_MOST_DIGITS} decimals")
    if amount.currency is not None and too_dear(amount.value, amount.currency):
        raise BadInput(f"{quoted(text)} {dearest(amount.currency)}")
    return amount


def refuse_beyond(value: Decimal, what: str) -> None:
    """Refuse an amount that no door takes, in the one voice of all of them.

    Raises
    ------
    BadInput
        It is not finite, below zero, or beyond `MOST_MONEY`.
    """
    if not value.is_finite() or not 0 <= value <= MOST_MONEY:
        raise BadInput(f"{what} is out of range; write a number from 0 to {MOST_MONEY:,f}")


def too_dear(price: Decimal, currency: str | None) -> bool:
    """Whether a price is more than any loudspeaker costs in that currency.

    >>> too_dear(Decimal(25_000_000), "IDR"), too_dear(Decimal(25_000_000), "EUR")
    (False, True)
    """
    return price > _highest(currency)


def _highest(currency: str | None) -> Decimal:
    return HIGHEST_PRICE * (_SMALL if currency is None or currency in _SMALL_UNITS else 1)


def dearest(currency: str | None) -> str:
    """What is said of a price that is more than any loudspeaker costs."""
    return f"is out of range for a price; write a number from 0 to {_highest(currency):,f}"


def currency(text: str) -> str:
    """Return a currency's code in capitals.

    >>> currency("eur")
    'EUR'

    Raises
    ------
    BadInput
        It is not three letters, or no code of ISO 4217; near ones are told.
    """
    code = text.strip().upper()
    if not re.fullmatch("[A-Z]{3}", code):
        raise BadInput(f"{quoted(text)} is no currency code; write three letters, such as EUR, GBP or USD")
    if code in _digits_by_code():
        return code
    # two of three letters right is a slip, and more than a few such codes help nobody
    near = sorted(known for known in _digits_by_code() if sum(map(str.__eq__, known, code)) == 2)
    told = f"did you mean {' or '.join(near)}?" if 0 < len(near) <= _FEW else "give one such as EUR, GBP or USD"
    raise BadInput(f"currency {code!r} is no code of ISO 4217: {told}")


_FEW: Final = 3


@cache
def _digits_by_code() -> Mapping[str, int]:
    """The decimals of every money that is paid with, by its code; gold and the like have none, and are left out."""
    # the table of the maintenance agency is parsed at import, which no command should wait for in vain
    from iso4217 import Currency

    return {one.code: one.exponent for one in Currency if one.exponent is not None}


def minor_digits(currency: str | None) -> int:
    """Give the decimals of a currency; two where the currency is not known.

    Examples
    --------
    >>> minor_digits("EUR"), minor_digits("JPY"), minor_digits("KWD"), minor_digits(None)
    (2, 0, 3, 2)

    References
    ----------
    .. [1] ISO 4217:2015, list one, as published by its maintenance agency.
    """
    usual = _USUAL.get(currency or "EUR")
    return _digits_by_code().get(currency or "", 2) if usual is None else usual


_USUAL: Final[Mapping[str, int]] = {"EUR": 2, "GBP": 2, "USD": 2, "CHF": 2, "JPY": 0}
"""The decimals of moneys that most catalogues are in: a list need not wait for the table. A test holds them to it."""


def finer_than_money(amount: Decimal, currency: str | None) -> bool:
    """Whether an amount has more decimals than its currency."""
    return amount != round(amount, minor_digits(currency))


@lru_cache(256)
def checked_currency(code: str | None) -> str | None:
    """Give a code back, or refuse one that no money has; None is not known and stays so.

    Raises
    ------
    BadInput
        It is not three capital letters, or none of ISO 4217.
    """
    if code is None or code == currency(code):
        return code
    raise BadInput(f"currency {code!r}: give its code of three capital letters, such as EUR")


def to_minor(amount: Decimal, currency: str | None) -> int:
    """Give an amount in minor units.

    >>> to_minor(Decimal("519.5"), "EUR"), to_minor(Decimal("519"), "JPY")
    (51950, 519)

    Raises
    ------
    BadInput
        It is negative, not finite, too large, or has more decimals than the currency.
    """
    digits = minor_digits(currency)
    refuse_beyond(amount, f"{amount} {currency or 'money'}")
    minor = int(amount.scaleb(digits))
    if to_amount(minor, currency) != amount:
        told = f"{amount.normalize()} {currency or ''}".strip()
        raise BadInput(f"{told}: {currency or 'money'} has {digits} decimals, no more")
    return minor


def to_amount(minor: int | Fraction, currency: str | None) -> Decimal:
    """Give minor units as an amount; what is less than one minor unit is rounded half up, away from 0.

    >>> to_amount(51950, "EUR")
    Decimal('519.50')
    """
    whole = round_half_up(minor) if minor >= 0 else -round_half_up(-minor)
    return Decimal(whole).scaleb(-minor_digits(currency))


def money(minor: int | Fraction, currency: str) -> str:
    """Give an amount in words: always with all its digits, and its currency.

    >>> money(15000, "EUR")
    '150.00 EUR'
    """
    return in_words(to_amount(minor, currency), currency)


def in_words(amount: Decimal | float, currency: str | None) -> str:
    """Give an amount of whole units in words, as `money` gives one of minor units: no reader of ours takes it for two.

    >>> in_words(1276.5, "EUR"), in_words(Decimal(1200), "JPY")
    ('1276.50 EUR', '1200 JPY')
    """
    return f"{amount:.{minor_digits(currency)}f} {currency or ''}".rstrip()


def round_half_up(value: int | Fraction) -> int:
    """The nearest whole number of an amount that is not negative, halves upward, as an invoice rounds."""
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)
