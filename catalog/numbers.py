"""Text to one exact number, with or without a unit, by one grammar; and numbers to text that reads back the same.

A text is read whole or refused. What it says may hang on its decimal mark: `1.299` is 1.299 by a point and 1299 by a
comma. A mark that is told, or that other cells of its column settle, decides; where none does, it is refused.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from math import inf
from typing import Final

from triptych.catalog.errors import UnreadableQuantity
from triptych.catalog.number_texts import READS_TWICE, after, either, plain, plausible, quoted, two_ways, typed
from triptych.catalog.numerals import LONGEST_NUMERAL, NUMERAL, Mark, clean, numeral
from triptych.catalog.quantities import TAX_RATE, Kind, Quantity
from triptych.catalog.units import EXAMPLES, FACTORS, FRACTIONAL, KIND_OF, SMALLER_PART, UNITS

_TAX_RATE: Final = Quantity("tax_rate", Kind.PERCENT, TAX_RATE.meaning, TAX_RATE.low, TAX_RATE.high, "%")

_NAMED: Final = 3
"""So many examples are told at most."""

EXAMPLE_NUMBERS: Final = ("1200", "1200.50", "2.5", "0.5")
"""Numbers without a unit as they are written."""

SMALLEST: Final = Fraction(1, 10**9)
"""Nearer to 0 than this is no quantity of a loudspeaker or a room. [unit of its kind]."""

_RAISED: Final = re.compile("[⁰¹²³⁴⁵⁶⁷⁸⁹]")

_WORD: Final = r"[^\W\d_]+"
_TERM: Final = re.compile(
    r"(?:(?:(?P<whole>[0-9]+)(?: *- *| +))?(?P<top>[0-9]+) ?/ ?(?P<bottom>[0-9]+)"
    rf"|(?P<number>(?>{NUMERAL}))(?! ?/ ?[0-9]))"
    rf" *(?P<unit>{_WORD}(?=[\W\d_]|$)\.?|[\"'°%])?"
)
_NUMBER: Final = re.compile(NUMERAL)
_UNIT_FIRST: Final = re.compile(rf"(?P<unit>{_WORD})(?:\. *| +)(?P<number>{NUMERAL})")
_SIGN: Final = re.compile(r"([+-]) ?")
_TWICE: Final = re.compile(r"([^()]*[^()0-9 ]) *\(([^()]*[^()0-9 ])\)|([^()/]*[^()/0-9 ]) */ *([^()/]*[^()/0-9 ])")


@dataclass(frozen=True, slots=True)
class _Term:
    """What a number can be, by a point and by a comma, with its unit's name or none; `step` is what it resolves."""

    readings: tuple[Fraction, ...]
    unit: str | None
    step: Fraction


@dataclass(frozen=True, slots=True)
class _Amount:
    """A text as quantity, in the unit of its kind; `unit` is the first that it names."""

    value: Fraction
    unit: str | None
    step: Fraction


def read(text: str, quantity: Quantity, mark: Mark | None = None) -> float | None:
    """Return the number a text states, correctly rounded, in the unit of its kind; unknown is None.

    Parameters
    ----------
    text : str
        A number with or without a unit; a bare number is in `quantity.bare_unit`. Empty or `unknown` is None.
        A figure printed again in another unit is one where both agree: `546 mm (21.5 in)`.
    quantity : Quantity
        What it should be, with its plausible range.
    mark : str, optional
        The decimal mark of a number that could be read two ways.

    Raises
    ------
    UnreadableQuantity
        With what the text is and what would be right: no number, more than one, another kind's unit,
        a mark that could be two things, or a value outside the plausible range.

    Examples
    --------
    >>> from triptych.catalog.fields import LOUDSPEAKER
    >>> [read(text, LOUDSPEAKER["width"]) for text in ("178", "17,8 cm", '7-1/2"', "1 ft 9 in", "unknown")]
    [0.178, 0.178, 0.1905, 0.5334, None]
    >>> read("1.290", LOUDSPEAKER["width"], ",")
    1.29
    """
    if quantity.kind is Kind.AREA:
        text = _SQUARE.sub("", text)
    if plainly := _PLAIN_DECIMAL.fullmatch(text):
        value = _plainly(plainly[1], plainly[2] or "", plainly[3], quantity, mark)
        if value is not None:
            return value
    if is_unknown(text):
        return None
    refuse_strange(text)
    cleaned = clean(text)
    # most cells hold one figure, and most of those are bare digits
    twice = _TWICE.fullmatch(cleaned) if "(" in cleaned or "/" in cleaned else None
    if not twice:
        return float(_amount(cleaned, text, quantity, mark).value)
    one, other = (_amount(part, text, quantity, mark) for part in twice.groups() if part)
    if one.unit == other.unit or None in (one.unit, other.unit):
        raise UnreadableQuantity(f"{quoted(text)} holds more than one number; {_wants(quantity)}")
    if abs(one.value - other.value) > (one.step + other.step) / 2:
        raise UnreadableQuantity(f"{quoted(text)} holds two figures that disagree; {_wants(quantity)}")
    return float(min(one, other, key=lambda amount: amount.step).value)


_SQUARE: Final = re.compile(r"(?<=[0-9]) *(?:mm ?[2²]|sq\.? ?mm) *$", re.IGNORECASE)
"""The unit of a cross-section, which no other quantity has."""

_PLAIN_DECIMAL: Final = re.compile(r"(0|[1-9][0-9]{0,5})(?:\.([0-9]{1,2}))?(?: ([a-zA-Z]{1,3}))?")


def _plainly(whole: str, decimals: str, unit: str | None, quantity: Quantity, mark: Mark | None) -> float | None:
    """Read what most cells hold, a number without doubt, by the shortest way; None where there could be any."""
    if decimals and (mark == "," or quantity.kind is Kind.COUNT):
        return None
    factor = FACTORS[quantity.kind].get(quantity.bare_unit if unit is None else UNITS.get(unit.casefold(), ""))
    if factor is None:
        return None
    parts = 10 ** len(decimals)
    digits = int(whole + decimals)
    # a division of whole numbers is rounded once
    value = digits * factor.numerator / (parts * factor.denominator)
    doubtful = unit is None and 0 < digits < 10 * parts and quantity.kind in (Kind.LENGTH, Kind.PERCENT)
    return value if quantity.low <= value <= quantity.high and not doubtful else None


def write(value: float | None, quantity: Quantity) -> str:
    """Return the shortest decimal in `quantity.bare_unit` that reads one way only, as the identical float; '' for None.

    Examples
    --------
    >>> from triptych.catalog.fields import LOUDSPEAKER
    >>> [write(metres, LOUDSPEAKER["width"]) for metres in (0.1905, 0.190125, None)], write(1.25, LOUDSPEAKER["depth"])
    (['190.5', '190.125', ''], '1250')
    >>> write(1.125, LOUDSPEAKER["amplifier_max"])
    '1.1250'
    """
    if value is None:
        return ""
    factor = FACTORS[quantity.kind][quantity.bare_unit]
    # repr is the shortest decimal of the float, and the bare units are powers of ten, so scaling keeps it shortest
    text = plain(Decimal(repr(float(value))) * factor.denominator / factor.numerator)
    # a zero more keeps the point from being taken for a thousands mark, where that would be plausible
    return f"{text}0" if READS_TWICE.fullmatch(text) and value * 1000 <= quantity.high else text


def write_cell(value: float | None, quantity: Quantity) -> str:
    """Return what `write` does, and its unit too where `read` would refuse the bare number.

    >>> from triptych.catalog.fields import LOUDSPEAKER
    >>> write_cell(0.002, LOUDSPEAKER["axis_height"]), write_cell(0.05, LOUDSPEAKER["axis_height"])
    ('2 mm', '50')
    """
    text = write(value, quantity)
    needs_unit = text and _other_bare_reading(Fraction(text), quantity) is not None
    return f"{text} {quantity.bare_unit}" if needs_unit else text


def number(
    text: str,
    mark: Mark | None = None,
    least: float = -inf,
    most: float = inf,
    examples: Sequence[str] = EXAMPLE_NUMBERS,
) -> Decimal:
    """Return a number without a unit, as exactly as it is written.

    What is told to be written instead lies from `least` to `most`; whether the number does is the caller's to say.

    Raises
    ------
    UnreadableQuantity
        The text is no single number, or could be two.

    Examples
    --------
    >>> number("1,200.50"), number("1.200,5"), number("1 299"), number("1'299.00"), number("1.299", ",")
    (Decimal('1200.50'), Decimal('1200.5'), Decimal('1299'), Decimal('1299.00'), Decimal('1299'))
    """
    fitting = [one for one in examples if least <= float(one) <= most]
    return _bare(text, mark, f"write one number, such as {either(fitting[:2])}", least, most)


def _bare(text: str, mark: Mark | None, wants: str, least: float, most: float, *, whole: bool = False) -> Decimal:
    refuse_strange(text)
    cleaned = clean(text)
    sign = _SIGN.match(cleaned)
    readings = numeral(cleaned[sign.end() :] if sign else cleaned, mark)
    if not readings:
        raise unreadable(text, wants)
    turned = [one.copy_negate() if sign and sign[1] == "-" else one for one in readings]
    right = [typed(one) for one in turned if least <= one <= most and not (whole and one % 1)]
    if len(turned) > 1 and right:
        raise UnreadableQuantity(two_ways(text, [*map(plain, turned)], right))
    return turned[0]


def unreadable(text: str, wants: str) -> UnreadableQuantity:
    """Return why a text is no bare number, and what is wanted instead."""
    return UnreadableQuantity(_complaint(text, clean(text), wants, _NUMBER))


def whole(text: str, least: int, most: int, mark: Mark | None = None) -> int:
    """Return a whole number; UnreadableQuantity where it is none, or not from `least` to `most`.

    >>> whole("12", 0, 100)
    12
    """
    wants = f"write a whole number from {least} to {most}"
    value = _bare(text, mark, wants, least, most, whole=True)
    if value != int(value) or not least <= value <= most:
        raise UnreadableQuantity(f"{quoted(text)}: {wants}")
    return int(value)


def percent(text: str, mark: Mark | None = None) -> Decimal | None:
    """Return a rate of tax in percent, None where it is unknown; a share such as 0.2 is refused.

    >>> percent("7,7 %"), percent("20")
    (Decimal('7.7'), Decimal('20.0'))
    """
    value = read(text, _TAX_RATE, mark)
    return None if value is None else Decimal(repr(value))


def is_unknown(text: str) -> bool:
    """Whether a text says that a figure is not known: empty, or the word."""
    # most cells are plain or empty, and most need no cleaning
    bare = text.strip() if text.isascii() else clean(text)
    return not bare or bare.casefold() == "unknown"


def refuse_strange(text: str) -> None:
    """Refuse what is no way to write a number, before any work is done on it."""
    if len(text.strip()) > LONGEST_NUMERAL:
        raise UnreadableQuantity(f"{quoted(text)} is too long for a number: {LONGEST_NUMERAL} characters are the most")
    if note := _RAISED.search(text):
        raise UnreadableQuantity(f"{quoted(text)} holds {note[0]!r}, a footnote mark or a power; take it out")
    if re.search(r"[0-9]E[+-]?[0-9]", text, re.IGNORECASE):
        raise UnreadableQuantity(f"{quoted(text)} is written with an exponent; write its digits out")


def _shown(value: Fraction) -> str:
    return plain(Decimal(repr(float(value))))


def _wants(quantity: Quantity) -> str:
    anything = replace(quantity, low=-inf, high=inf)
    values = ((text, read(text, anything) or 0.0) for text in EXAMPLES[quantity.kind])
    fitting = [text for text, value in values if quantity.low <= value <= quantity.high]
    return f"write one number, such as {either(fitting[:_NAMED])} ({quantity.meaning}, {plausible(quantity)})"


def _complaint(text: str, cleaned: str, wants: str, part: re.Pattern[str]) -> str:
    """Why a text is no number, and what in it is too much beside the part that could be one."""
    found = part.search(cleaned)
    if not found:
        return f"{quoted(text)} is no {'quantity' if part is _TERM else 'number'} that can be read; {wants}"
    if found[0] == cleaned:
        return f"{quoted(text)} holds marks that part no thousands; {wants}"
    extra = [part.strip() for part in (cleaned[: found.start()], cleaned[found.end() :]) if part.strip()]
    what = "more than one number" if any(re.search("[0-9]", part) for part in extra) else "more than a number"
    groups = "; blanks part thousands only in groups of three" if re.search("[0-9] +[0-9]", cleaned) else ""
    return f"{quoted(text)} holds {what}: {' and '.join(map(quoted, extra))} is too much{groups}; {wants}"


def _amount(cleaned: str, text: str, quantity: Quantity, mark: Mark | None) -> _Amount:
    sign = _SIGN.match(cleaned)
    matches = _split(cleaned[sign.end() :] if sign else cleaned)
    if matches is None:
        raise UnreadableQuantity(_complaint(text, cleaned, _wants(quantity), _TERM))
    terms = [_term(match, quantity, text, mark) for match in matches]
    if len(terms) > 1:
        _check_parts(terms, quantity, text)
    factors = [FACTORS[quantity.kind][term.unit or quantity.bare_unit] for term in terms]
    rest = sum(term.readings[0] * factor for term, factor in zip(terms[1:], factors[1:], strict=True))
    turn = -1 if sign and sign[1] == "-" else 1
    values = [turn * (reading * factors[0] + rest) for reading in terms[0].readings]
    value = _settled(values, terms[0], "," in cleaned, text, quantity)
    _refuse_implausible(value, terms[0].unit, text, quantity)
    return _Amount(value, terms[0].unit, terms[-1].step * factors[-1])


def _settled(values: Sequence[Fraction], term: _Term, comma: bool, text: str, quantity: Quantity) -> Fraction:
    """The only value, or that by our own mark, the point, where thousands would be implausible; else it is refused."""
    fits = [
        quantity.low <= float(value) <= quantity.high and (quantity.kind is not Kind.COUNT or value.denominator == 1)
        for value in values
    ]
    if len(values) == 1 or not any(fits) or (fits == [True, False] and not comma):
        return values[0]
    decimals = [Decimal(reading.numerator) / reading.denominator for reading in term.readings]
    told = [f"{plain(decimal)}{after(term.unit or quantity.bare_unit)}" for decimal in decimals]
    doubtful = [term.unit is None and _other_bare_reading(reading, quantity) is not None for reading in term.readings]
    right = [
        f"{typed(decimal)}{after(quantity.bare_unit if doubt else term.unit or '')}"
        for decimal, doubt, fit in zip(decimals, doubtful, fits, strict=True)
        if fit
    ]
    raise UnreadableQuantity(two_ways(text, told, right))


def _refuse_implausible(value: Fraction, unit: str | None, text: str, quantity: Quantity) -> None:
    bare = value / FACTORS[quantity.kind][quantity.bare_unit]
    other = None if unit else _other_bare_reading(bare, quantity)
    inside = quantity.low <= float(value) <= quantity.high and (not value or abs(value) >= SMALLEST)
    if inside and other is not None:
        one = f"{_shown(bare)} {quantity.bare_unit}"
        raise UnreadableQuantity(f"{quoted(text)} could be {one} or {other}; write the unit too")
    if not inside:
        hint = f"; if it is {other}, write that" if other else ""
        range_ = plausible(quantity, unit or quantity.bare_unit)
        raise UnreadableQuantity(f"{quoted(text)} is outside the plausible range {range_}{hint}")
    if quantity.kind is Kind.COUNT and value.denominator != 1:
        raise UnreadableQuantity(f"{quoted(text)} is no whole number; {_wants(quantity)}")


def _other_bare_reading(number: Fraction, quantity: Quantity) -> str | None:
    """What else a bare number could well mean: metres where millimetres are asked, a share where percent is."""
    if quantity.kind is Kind.PERCENT and 0 < abs(number) < 1:
        return f"{_shown(number * 100)} %"
    metres = quantity.kind is Kind.LENGTH and quantity.bare_unit == "mm" and 0 < abs(number) < 10
    return f"{_shown(number)} m" if metres and quantity.low <= float(number) <= quantity.high else None


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
        if rest and not match["unit"]:
            return None
        if rest:
            rest = re.sub(r"^(?: +|-(?=[0-9]))", "", rest)
    return matches if matches and not rest else None


def _term(match: re.Match[str], quantity: Quantity, text: str, mark: Mark | None) -> _Term:
    found = match.groupdict()
    unit = _unit(found["unit"], quantity, text)
    if found["number"]:
        readings = tuple(map(Fraction, numeral(found["number"], mark)))
        if not readings:
            raise UnreadableQuantity(f"{quoted(text)} holds more than one number, or marks that are not thousands")
        return _Term(readings, unit, _step(found["number"], readings))
    top, bottom = int(found["top"]), int(found["bottom"])
    if unit not in FRACTIONAL:
        told = "a fraction stands before in, ft, lb or oz only"
        raise UnreadableQuantity(f"{quoted(text)} could be two numbers, for {told}; {_wants(quantity)}")
    if top >= bottom:
        raise UnreadableQuantity(f"{quoted(text)} holds {top}/{bottom}, not a proper fraction; {_wants(quantity)}")
    # a printed fraction is taken to lie on a grid of eighths or finer
    return _Term((int(found["whole"] or 0) + Fraction(top, bottom),), unit, Fraction(1, max(bottom, 8)))


def _step(digits: str, readings: Sequence[Fraction]) -> Fraction:
    decimals = re.search(r"[.,]([0-9]+)$", digits)
    whole = decimals is None or (len(readings) == 1 and readings[0].denominator == 1 and len(decimals[1]) == 3)
    return Fraction(1) if decimals is None or whole else Fraction(1, 10 ** len(decimals[1]))


def _unit(word: str | None, quantity: Quantity, text: str) -> str | None:
    if word is None:
        return None
    found = UNITS.get(word.rstrip(".").casefold())
    if found is None or KIND_OF.get(found) is not quantity.kind:
        ours = ", ".join(unit for unit in FACTORS[quantity.kind] if unit != "1") or "no unit"
        raise UnreadableQuantity(f"{quoted(text)}: {quoted(word)} is no unit of this quantity; write {ours}")
    return found


def _check_parts(terms: Sequence[_Term], quantity: Quantity, text: str) -> None:
    larger, smaller = terms
    most = SMALLER_PART.get((larger.unit or "", smaller.unit or ""))
    if most is None:
        raise UnreadableQuantity(f"{quoted(text)} holds more than one number; {_wants(quantity)}")
    if larger.readings[0].denominator != 1 or max(smaller.readings) >= most:
        raise UnreadableQuantity(
            f"{quoted(text)}: before {smaller.unit} goes a whole number of {larger.unit}, "
            f"and {smaller.unit} stays under {most}"
        )
