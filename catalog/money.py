"""Money as whole minor units of its currency: no rounding, ever."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Final

from triptych.catalog.errors import BadInput

_DIGITS: Final = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
_DIGITS_OF: Final = {code: digits for digits, codes in _DIGITS.items() for code in codes.split()}

_LISTED: Final = (
    "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF CHF"
    " CLF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ GYD HKD"
    " HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK LBP LKR LRD LSL LYD"
    " MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN PGK PHP PKR PLN"
    " PYG QAR RON RSD RUB RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TND TOP TRY"
    " TTD TWD TZS UAH UGX USD UYU UYW UZS VED VES VND VUV WST XAF XCD XCG XOF XPF YER ZAR ZMW ZWG"
)
_CODES: Final = frozenset(_LISTED.split())
"""Codes of money that is paid with: ISO 4217:2015, list one, with its amendments up to 2025 (from memory)."""

LARGEST: Final = 10**15
"""The largest amount that is taken for money. [minor unit]."""


def minor_digits(currency: str | None) -> int:
    """Give the decimals of a currency; two where the currency is not known.

    Examples
    --------
    >>> minor_digits("EUR"), minor_digits("JPY"), minor_digits("KWD"), minor_digits(None)
    (2, 0, 3, 2)

    References
    ----------
    .. [1] ISO 4217:2015, list one (from memory).
    """
    return 2 if currency is None else _DIGITS_OF.get(currency, 2)


def checked_currency(currency: str | None) -> str | None:
    """Give the code back, or refuse what is not three capital letters.

    Raises
    ------
    BadInput
        It is not a code.
    """
    if currency is None or (len(currency) == 3 and currency.isascii() and currency.isalpha() and currency.isupper()):
        return currency
    raise BadInput(f"currency {currency!r}: give its code of three capital letters, such as EUR")


def known_currency(currency: str | None) -> str | None:
    """Give the code back, or refuse one that no money has; None is not known and stays so.

    >>> known_currency("EUR")
    'EUR'

    Raises
    ------
    BadInput
        It is not a code, or none of ISO 4217; near ones are told.
    """
    code = checked_currency(currency)
    if code is None or code in _CODES:
        return code
    # two of three letters right is a slip, and more than a few such codes help nobody
    near = sorted(known for known in _CODES if sum(map(str.__eq__, known, code)) == 2)
    told = f"did you mean {' or '.join(near)}?" if 0 < len(near) <= _FEW else "give one such as EUR, GBP or USD"
    raise BadInput(f"currency {code!r} is no code of ISO 4217: {told}")


_FEW: Final = 3


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
    money = f"{amount} {currency or ''}".strip()
    if not amount.is_finite() or amount < 0 or amount > LARGEST:
        raise BadInput(f"price {money}: must be zero or more, and a number that money can be")
    minor = int(amount.scaleb(digits))
    if to_amount(minor, currency) != amount:
        raise BadInput(f"price {money}: {currency or 'money'} has {digits} decimals, no more")
    return minor


def to_amount(minor: int | Fraction, currency: str | None) -> Decimal:
    """Give minor units as an amount; what is less than one minor unit is rounded half up, away from 0.

    >>> to_amount(51950, "EUR")
    Decimal('519.50')
    """
    whole = round_half_up(minor) if minor >= 0 else -round_half_up(-minor)
    return Decimal(whole).scaleb(-minor_digits(currency))


def round_half_up(value: int | Fraction) -> int:
    """The nearest whole number of an amount that is not negative, halves upward, as an invoice rounds."""
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)
