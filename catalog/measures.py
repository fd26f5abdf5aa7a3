"""Text to one number in SI, and a number to text that reads back to the identical float."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from triptych.catalog.errors import UnreadableQuantity
from triptych.catalog.quantities import Kind, Quantity

LONGEST_TEXT: Final = 400
"""Longer than the smallest float without exponent, and than any quantity that a person writes. [characters]."""

LONGEST_SHOWN: Final = 80
"""How much of a text an error repeats. [characters]."""

_INCH: Final = Fraction(254, 10_000)
_POUND: Final = Fraction(45_359_237, 100_000_000)
# Inch and pound are exact: International Yard and Pound Agreement, 1959.

_FACTORS: Final[dict[Kind, dict[str, Fraction]]] = {
    Kind.LENGTH: {"mm": Fraction(1, 1000), "cm": Fraction(1, 100), "m": Fraction(1), "in": _INCH, "ft": 12 * _INCH},
    Kind.MASS: {"kg": Fraction(1), "g": Fraction(1, 1000), "lb": _POUND, "oz": _POUND / 16},
    Kind.LEVEL: {"dB": Fraction(1)},
    Kind.FREQUENCY: {"Hz": Fraction(1), "kHz": Fraction(1000)},
    Kind.RESISTANCE: {"ohm": Fraction(1)},
    Kind.POWER: {"W": Fraction(1), "kW": Fraction(1000)},
    Kind.ANGLE: {"deg": Fraction(1)},
    Kind.PERCENT: {"%": Fraction(1)},
    Kind.COUNT: {"1": Fraction(1)},
}

_OTHER_SPELLINGS: Final[dict[Kind, dict[str, str]]] = {
    Kind.LENGTH: {
        **dict.fromkeys(("millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
        **dict.fromkeys(("centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
        **dict.fromkeys(("metre", "metres", "meter", "meters"), "m"),
        **dict.fromkeys(("inch", "inches", '"'), "in"),
        **dict.fromkeys(("foot", "feet", "'"), "ft"),
    },
    Kind.MASS: {
        **dict.fromkeys(("kilogram", "kilograms"), "kg"),
        **dict.fromkeys(("gram", "grams"), "g"),
        **dict.fromkeys(("lbs", "pound", "pounds"), "lb"),
        **dict.fromkeys(("ounce", "ounces"), "oz"),
    },
    Kind.RESISTANCE: dict.fromkeys(("ohms", "ω"), "ohm"),
    Kind.POWER: dict.fromkeys(("watt", "watts"), "W"),
    Kind.ANGLE: dict.fromkeys(("degree", "degrees", "°", "º"), "deg"),
    Kind.PERCENT: {"percent": "%"},
}
_UNITS: Final[dict[Kind, dict[str, str]]] = {
    kind: {unit.casefold(): unit for unit in factors} | _OTHER_SPELLINGS.get(kind, {})
    for kind, factors in _FACTORS.items()
}
_SMALLER_PART: Final = {("ft", "in"): 12, ("lb", "oz"): 16}
_EXAMPLES: Final = {
    Kind.LENGTH: "'178 mm', '17.8 cm' or '7 1/2 in'",
    Kind.MASS: "'12.5 kg' or '27 lb 8 oz'",
    Kind.LEVEL: "'88 dB'",
    Kind.FREQUENCY: "'45 Hz' or '2.2 kHz'",
    Kind.RESISTANCE: "'8 ohm'",
    Kind.POWER: "'120 W'",
    Kind.ANGLE: "'15 deg'",
    Kind.PERCENT: "'20 %'",
    Kind.COUNT: "'2'",
}

_VULGAR: Final = {
    character: " " + fraction
    for character, fraction in zip(
        "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞",
        ["1/2", "1/3", "2/3", "1/4", "3/4", "1/5", "2/5", "3/5", "4/5", "1/6", "5/6", "1/8", "3/8", "5/8", "7/8"],
        strict=True,
    )
}
_PLAIN: Final = str.maketrans(
    dict.fromkeys("“”„‟″＂", '"')
    | dict.fromkeys("‘’‚‛′´`＇", "'")
    | dict.fromkeys("‐‑‒–—−﹣－", "-")
    | dict.fromkeys("⁄∕", "/")
    | dict.fromkeys("\u200b\u2060\ufeff", "")
    | _VULGAR
)

_NUMBER: Final = r"[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+"
_FRACTION: Final = r"(?P<top>[0-9]+) ?/ ?(?P<bottom>[0-9]+)"
_WORD: Final = r"[^\W\d_]+"
_TERM: Final = re.compile(
    rf"(?:(?P<whole>[0-9]+)(?:-| |- ){_FRACTION}|(?P<number>(?>{_NUMBER}))(?! ?/)"
    rf"|{_FRACTION.replace('top', 'top_alone').replace('bottom', 'bottom_alone')})"
    rf" ?(?P<unit>{_WORD}(?=[\W\d_]|$)\.?|[\"'°%])?"
)
_UNIT_FIRST: Final = re.compile(rf"(?P<unit>{_WORD})\.? ?(?P<number>{_NUMBER})")
_SIGN: Final = re.compile(r"([+-]) ?")


@dataclass(frozen=True, slots=True)
class _Term:
    """A number with its unit's standard name, or with none."""

    number: Fraction
    unit: str | None
    whole: bool


def read(text: str, quantity: Quantity) -> float | None:
    """Return the number a text states, correctly rounded, in the unit of its kind; unknown is None.

    Parameters
    ----------
    text : str
        A number with or without a unit; a bare number is in `quantity.bare_unit`. Empty or `unknown` is None.
    quantity : Quantity
        What it should be, with its plausible range.

    Raises
    ------
    UnreadableQuantity
        With what the text is and what would be right: no number, more than one, another kind's unit,
        a comma that could be two things, or a value outside the plausible range.

    Examples
    --------
    >>> from triptych.catalog.fields import LOUDSPEAKER
    >>> [read(text, LOUDSPEAKER["width"]) for text in ("178", "17,8 cm", '7-1/2"', "6 ft 2 in", "unknown")]
    [0.178, 0.178, 0.1905, 1.8796, None]
    """
    if is_unknown(text):
        return None
    sign, terms = _terms(text, quantity)
    unit = terms[0].unit or quantity.bare_unit
    factors = _FACTORS[quantity.kind]
    value = float(sign * sum(term.number * factors[term.unit or quantity.bare_unit] for term in terms))
    if not quantity.low <= value <= quantity.high:
        raise UnreadableQuantity(f"{quoted(text)} is outside the plausible range {plausible(quantity, unit)}")
    if quantity.kind is Kind.COUNT and not value.is_integer():
        raise UnreadableQuantity(f"{quoted(text)} is no whole number; {_wants(quantity)}")
    return value


def write(value: float | None, quantity: Quantity) -> str:
    """Return the shortest decimal in `quantity.bare_unit` that `read` turns back into the identical float; '' for None.

    Examples
    --------
    >>> from triptych.catalog.fields import LOUDSPEAKER
    >>> write(0.1905, LOUDSPEAKER["width"]), write(None, LOUDSPEAKER["width"])
    ('190.5', '')
    """
    if value is None:
        return ""
    factor = _FACTORS[quantity.kind][quantity.bare_unit]
    # repr is the shortest decimal of the float, and the bare units are powers of ten, so scaling keeps it shortest
    return plain(Decimal(repr(float(value))) * factor.denominator / factor.numerator)


def number(text: str) -> Decimal:
    """Return a number without a unit, as exactly as it is written.

    Raises
    ------
    UnreadableQuantity
        The text is no single number, or its comma could be two things.

    Examples
    --------
    >>> number("1,200.50"), number("1.200,5"), number("17,8")
    (Decimal('1200.50'), Decimal('1200.5'), Decimal('17.8'))
    """
    cleaned = _clean(text)
    sign = _SIGN.match(cleaned)
    digits = cleaned[sign.end() :] if sign else cleaned
    if not re.fullmatch(_NUMBER, digits):
        raise UnreadableQuantity(f"{quoted(text)} is no single number; write one such as '1200' or '1200.50'")
    magnitude = _decimal(digits, "", text)
    return magnitude.copy_negate() if sign and sign[1] == "-" else magnitude


def plain(value: Decimal) -> str:
    """Return a decimal without exponent and trailing zeros."""
    text = format(value, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def is_unknown(text: str) -> bool:
    """Whether a text says that a figure is not known: empty, or the word."""
    # most cells are plain or empty, and most need no cleaning
    bare = text.strip() if text.isascii() else _clean(text)
    return not bare or bare.casefold() == "unknown"


def quoted(text: str) -> str:
    """Return a text in quotes and short, with everything unprintable written out."""
    return repr(text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "…")


def plausible(quantity: Quantity, unit: str | None = None) -> str:
    """Return the plausible range in words, in `unit` or else in the bare unit."""
    unit = unit or quantity.bare_unit
    factor = float(_FACTORS[quantity.kind][unit])
    low, high = (plain(Decimal(f"{limit / factor:.4g}")) for limit in (quantity.low, quantity.high))
    return f"{low} to {high}{_after(unit)}"


def _after(unit: str) -> str:
    return "" if unit in ("", "1") else f" {unit}"


def _wants(quantity: Quantity) -> str:
    return f"write one number, such as {_EXAMPLES[quantity.kind]} ({quantity.meaning}, {plausible(quantity)})"


def _clean(text: str) -> str:
    """Typographic marks to plain ones, any run of white space to one blank."""
    return re.sub(r"\s+", " ", text.translate(_PLAIN)).strip().replace("''", '"')


def _terms(text: str, quantity: Quantity) -> tuple[int, Sequence[_Term]]:
    if len(text) > LONGEST_TEXT:
        raise UnreadableQuantity(f"{quoted(text)} is too long for a quantity; {_wants(quantity)}")
    rest = _clean(text)
    sign = _SIGN.match(rest)
    rest = rest[sign.end() :] if sign else rest
    matches = _split(rest)
    if matches is None:
        several = len(re.findall(_NUMBER, rest)) > 1
        why = "holds more than one number" if several else "is no quantity that can be read"
        raise UnreadableQuantity(f"{quoted(text)} {why}; {_wants(quantity)}")
    terms = [_term(match, quantity, text) for match in matches]
    if len(terms) > 1:
        _check_parts(terms, quantity, text)
    return (-1 if sign and sign[1] == "-" else 1), terms


def _split(rest: str) -> list[re.Match[str]] | None:
    """The one or two terms of a text, or None where it does not end with them."""
    first = _UNIT_FIRST.fullmatch(rest)
    if first:
        return [first]
    matches: list[re.Match[str]] = []
    while rest and len(matches) < 2:
        match = _TERM.match(rest)
        if not match:
            return None
        matches.append(match)
        rest = rest[match.end() :]
        if rest and match["unit"]:
            rest = re.sub(r"^(?: |-(?=[0-9]))", "", rest)
    return matches if matches and not rest else None


def _term(match: re.Match[str], quantity: Quantity, text: str) -> _Term:
    found = match.groupdict()
    unit = _unit(found["unit"], quantity, text)
    if found["number"]:
        value = Fraction(_decimal(found["number"], unit or quantity.bare_unit, text))
        return _Term(value, unit, value.denominator == 1)
    top = int(found["top"] or found["top_alone"])
    bottom = int(found["bottom"] or found["bottom_alone"])
    if top >= bottom:
        raise UnreadableQuantity(f"{quoted(text)} holds {top}/{bottom}, not a proper fraction; {_wants(quantity)}")
    return _Term(int(found["whole"] or 0) + Fraction(top, bottom), unit, False)


def _unit(word: str | None, quantity: Quantity, text: str) -> str | None:
    if word is None:
        return None
    units = _UNITS[quantity.kind]
    found = units.get(word.rstrip(".").casefold())
    if found is None:
        ours = ", ".join(unit for unit in _FACTORS[quantity.kind] if unit != "1") or "no unit"
        raise UnreadableQuantity(f"{quoted(text)}: {quoted(word)} is no unit of this quantity; write {ours}")
    return found


def _check_parts(terms: Sequence[_Term], quantity: Quantity, text: str) -> None:
    larger, smaller = terms
    most = _SMALLER_PART.get((larger.unit or "", smaller.unit or ""))
    if most is None:
        raise UnreadableQuantity(f"{quoted(text)} holds more than one number; {_wants(quantity)}")
    if not larger.whole or smaller.number >= most:
        raise UnreadableQuantity(
            f"{quoted(text)}: before {smaller.unit} goes a whole number of {larger.unit}, "
            f"and {smaller.unit} stays under {most}"
        )


def _decimal(digits: str, unit: str, text: str) -> Decimal:
    """Return digits with at most one decimal mark and thousands marks in groups of three."""
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):
        readings = (digits.replace(",", ""), plain(Decimal(digits.replace(",", "."))))
        one, other = (reading + _after(unit) for reading in readings)
        raise UnreadableQuantity(f"{quoted(text)} could be {one} or {other}; write it without the comma")
    for thousands, mark in ((",", "."), (".", ",")):
        if re.fullmatch(rf"[0-9]*(?:{re.escape(mark)}[0-9]+)?", digits):
            return Decimal(digits.replace(mark, "."))
        grouped = rf"[0-9]{{1,3}}(?:{re.escape(thousands)}[0-9]{{3}})+"
        several = digits.count(thousands) > 1
        if re.fullmatch(rf"{grouped}{re.escape(mark)}[0-9]+", digits) or (several and re.fullmatch(grouped, digits)):
            return Decimal(digits.replace(thousands, "").replace(mark, "."))
    raise UnreadableQuantity(f"{quoted(text)} holds more than one number, or marks that are not thousands")
