"""Numbers as they are written on a drawing, in the user's units."""

from __future__ import annotations

from enum import Enum
from fractions import Fraction
from functools import lru_cache
from typing import Final

from triptych.catalog.money import in_words

_INCH: Final = 0.0254
_PARTS: Final = 16
_MINUS: Final = "−"


class Unit(Enum):
    """What lengths are written in."""

    MILLIMETRE = "mm"
    INCH = "in"

    @property
    def words(self) -> str:
        """How a drawing says what its lengths are in."""
        return "millimetres" if self is Unit.MILLIMETRE else "inches and sixteenths"


def _whole(value: float) -> int:
    """The nearest whole number, halves away from zero."""
    return int(abs(value) + 0.5) * (-1 if value < 0 else 1)


def _inches(sixteenths: int) -> str:
    whole, rest = divmod(sixteenths, _PARTS)
    part = str(Fraction(rest, _PARTS)) if rest else ""
    return " ".join(piece for piece in (str(whole) if whole or not rest else "", part) if piece)


@lru_cache(maxsize=1024)  # a drawing says most lengths and angles more than once, and the next one says them again
def length(metres: float, unit: Unit) -> str:
    """Return a length to the nearest millimetre or sixteenth of an inch.

    Examples
    --------
    >>> length(0.1905, Unit.INCH).split(), length(-0.012, Unit.MILLIMETRE).split()
    (['7', '1/2', 'in'], ['−12', 'mm'])
    """
    parts = _whole(metres / _INCH * _PARTS if unit is Unit.INCH else metres * 1000)
    size = _inches(abs(parts)) if unit is Unit.INCH else str(abs(parts))
    return f"{_MINUS if parts < 0 else ''}{size}\u00a0{unit.value}"


@lru_cache(maxsize=1024)
def signed(value: float, digits: int, unit: str) -> str:
    """Return a number with its unit and a true minus sign.

    Examples
    --------
    >>> signed(-7.25, 1, "dB").split(), signed(-0.01, 1, "dB").split()
    (['−7.2', 'dB'], ['0.0', 'dB'])
    """
    text = f"{value:.{digits}f}"
    text = text.lstrip("-") if float(text) == 0 else text.replace("-", _MINUS)
    return f"{text}\u00a0{unit}"


def angle(degrees: float) -> str:
    """Return an angle to a tenth of a degree.

    Examples
    --------
    >>> angle(6), angle(-3.25)
    ('6.0°', '−3.2°')
    """
    return signed(degrees, 1, "").rstrip() + "°"


def frequency(hertz: float) -> str:
    """Return a frequency in three figures.

    Examples
    --------
    >>> frequency(947.3).split(), frequency(2210).split(), frequency(16000).split()
    (['947', 'Hz'], ['2.21', 'kHz'], ['16', 'kHz'])
    """
    rounded = float(f"{hertz:.3g}")
    return f"{rounded:g}\u00a0Hz" if rounded < 1000 else f"{rounded / 1000:g}\u00a0kHz"


def money(amount: float, currency: str) -> str:
    """Return an amount of money as the catalogue writes it, with what keeps its currency on the same line.

    Examples
    --------
    >>> money(1290, "EUR").split(), money(-12.5, "EUR").split()
    (['1290.00', 'EUR'], ['−12.50', 'EUR'])
    """
    return in_words(amount, currency).replace(" ", "\u00a0").replace("-", _MINUS)


def share(part: float) -> str:
    """Return a part of one as a percentage.

    Examples
    --------
    >>> share(0.1528).split()
    ['15.3', '%']
    """
    return f"{100 * part:.1f}\u00a0%"
