"""Units: their exact factors to SI, and how people spell them."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Final

from triptych.catalog.quantities import Kind

_INCH: Final = Fraction(254, 10_000)
_POUND: Final = Fraction(45_359_237, 100_000_000)
# Inch and pound are exact: International Yard and Pound Agreement, 1959.

FACTORS: Final[dict[Kind, dict[str, Fraction]]] = {
    Kind.LENGTH: {"mm": Fraction(1, 1000), "cm": Fraction(1, 100), "m": Fraction(1), "in": _INCH, "ft": 12 * _INCH},
    Kind.MASS: {"kg": Fraction(1), "g": Fraction(1, 1000), "lb": _POUND, "oz": _POUND / 16},
    Kind.LEVEL: {"dB": Fraction(1)},
    Kind.FREQUENCY: {"Hz": Fraction(1), "kHz": Fraction(1000)},
    Kind.RESISTANCE: {"ohm": Fraction(1), "kohm": Fraction(1000)},
    Kind.POWER: {"W": Fraction(1), "kW": Fraction(1000)},
    Kind.ANGLE: {"deg": Fraction(1)},
    Kind.PERCENT: {"%": Fraction(1)},
    Kind.COUNT: {"1": Fraction(1)},
    # cross-sections of wire are stated in no other unit where cables are sold by them
    Kind.AREA: {"mm2": Fraction(1)},
}
"""What one of each unit is in the unit of its kind."""

KIND_OF: Final[dict[str, Kind]] = {unit: kind for kind, factors in FACTORS.items() for unit in factors}

SMALLER_PART: Final = {("ft", "in"): 12, ("lb", "oz"): 16}
"""Units of which two make one figure, and how many of the smaller one make the larger."""

_SPELLINGS: Final = {
    "mm": "mm millimetre millimetres millimeter millimeters millimètre millimètres millimetri milimetros milímetros",
    "cm": "cm centimetre centimetres centimeter centimeters centimètre centimètres centimetri centímetros zentimeter "
    "centymetry centymetrow",
    "m": "m metre metres meter meters mètre mètres metri metro metros",
    "in": 'in inch inches " zoll pouce pouces pollici pollice pulgadas pulg duim',
    "ft": "ft foot feet '",
    "kg": "kg kgs kilo kilos kilogram kilograms kilogramm kilogramme kilogrammes chilogrammi kilogramos kilograma "
    "kilogramow",
    "g": "g gr gram grams gramm",
    "lb": "lb lbs pound pounds livres libbre libras",
    "oz": "oz ounce ounces",
    "Hz": "hz hertz",
    "kHz": "khz kilohertz k",
    "ohm": "ohm ohms ω ohmios ohmio omy omow",
    "kohm": "kohm kohms kω",
    "W": "w watt watts wrms vatios vatio",
    "kW": "kw",
    "dB": "db dba dbspl decibel decibels",
    "V": "v volt volts vrms",
    "deg": "° º deg degree degrees grad degres degrés gradi grados",
    "%": "% percent prozent",
}
UNITS: Final = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings.split()}
"""Standard names of units by every spelling in small letters."""

EXAMPLES: Final[Mapping[Kind, tuple[str, ...]]] = {
    Kind.LENGTH: ("178 mm", "17.8 cm", "7 1/2 in", "2.5 m", "20 mm"),
    Kind.MASS: ("12.5 kg", "27 lb 8 oz"),
    Kind.LEVEL: ("88 dB", "3 dB"),
    Kind.FREQUENCY: ("45 Hz", "2.2 kHz"),
    Kind.RESISTANCE: ("8 ohm",),
    Kind.POWER: ("120 W",),
    Kind.ANGLE: ("15 deg",),
    Kind.PERCENT: ("20 %",),
    Kind.COUNT: ("2",),
    Kind.AREA: ("2.5",),
}
"""How a quantity of each kind is written."""

FRACTIONAL: Final = frozenset({"in", "ft", "lb", "oz"})
"""The units whose parts people write as fractions; elsewhere a stroke parts two numbers."""
