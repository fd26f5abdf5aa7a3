"""Number words before a unit, written out as digits: 'five-and-a-quarter-inch', 'eight ohms', '9 kilos et demi'."""

from __future__ import annotations

import re
import tomllib
from fractions import Fraction
from importlib.resources import files
from typing import Final

from triptych.catalog.datasheet.joining import AND
from triptych.catalog.units import UNITS

_TABLES: Final = tomllib.loads(
    files("triptych.catalog.datasheet").joinpath("vocabulary", "numbers.toml").read_text("utf-8")
)
_SMALL, _TENS, _PARTS = (
    {word: value for words in _TABLES[name].values() for word, value in words.items()}
    for name in ("small", "tens", "parts")
)
_HUNDRED: Final = "hundred"
_WORD: Final = "|".join(sorted((*_SMALL, *_TENS, *_PARTS, _HUNDRED), key=len, reverse=True))
_UNIT: Final = "|".join(
    sorted((re.escape(word) for word in UNITS if word.isalpha() and len(word) > 1), key=len, reverse=True)
)
_SPELT: Final = re.compile(
    rf"(?<![a-z0-9])(?P<words>(?:\d+[ -](?:and|et|y|e|en|i)[ -](?:an? )?)?(?:{_WORD})"
    rf"(?:(?:[ -](?:and|et|y|e|en)[ -](?:an?[ -])?|[ -])(?:{_WORD}))*)"
    rf"[ -](?:an? |of an? |de |of )?(?=(?:{_UNIT})(?![a-z]))"
)
_AND_HALF: Final = re.compile(
    rf"(?<![\d.,])(\d+) ((?:{_UNIT})) (?:and a half|et demie?|y medi[oa]|e mezzo|en een half)\b"
)
_METRES: Final = re.compile(
    rf"(?<![\d.,])(\d) (?:metres?|meters?|metros?|metr[oi]|metry?|m) (?:{AND} )?(\d{{1,2}}) "
    r"(?:centim\w+|cm)(?![a-z])"
)
"""A metre and centimetres: '1 metro e 4 centimetri'."""
_MINUS: Final = re.compile(rf"\bminus ({_WORD}|\d+)\b")


def in_digits(folded: str) -> str:
    """Return folded text with the number words before units in digits.

    >>> in_digits("two five-and-a-quarter-inch woofers, eight ohms"), in_digits("9 kilos et demi")
    ('two 5.25 inch woofers, 8 ohms', '9.5 kilos')
    """
    whole = _METRES.sub(lambda match: f"{match[1]}.{int(match[2]):02} m", _SPELT.sub(_spelt, folded))
    halved = _AND_HALF.sub(lambda match: f"{match[1]}.5 {match[2]}", whole)
    lowered = _MINUS.sub(lambda match: f"-{_plain(_value(match[1]))}", halved)
    return folded if lowered == folded else _SPELT.sub(_spelt, lowered)


def _spelt(match: re.Match[str]) -> str:
    counted = re.match(r"(?P<count>[a-z]+) (?P<rest>\S.*)", match["words"])
    if (
        counted
        and counted["count"] in _SMALL
        and not re.match(r"hundred|and |et |y |quarter|half|eighth", counted["rest"])
    ):
        # 'two five-inch': the first word counts what the others measure
        return f"{counted['count']} {_plain(_value(counted['rest']))} "
    return f"{_plain(_value(match['words']))} "


def _value(words: str) -> Fraction:
    total, last = Fraction(0), Fraction(0)
    for word in re.split(r"[ -]+", words):
        if word in ("and", "et", "y", "e", "en", "i", "an") or (word == "a" and last):
            total, last = total + last, Fraction(0)
        elif word in _PARTS:
            part = Fraction(str(_PARTS[word]))
            total, last = (total, last * part) if last and last < 8 else (total + last, part)
        elif word == _HUNDRED:
            last = (last or Fraction(1)) * 100
        else:
            number = Fraction(word) if word.isdigit() else Fraction({**_SMALL, **_TENS}[word])
            total, last = total + last, number
    return total + last


def _plain(value: Fraction) -> str:
    return f"{float(value):g}"
