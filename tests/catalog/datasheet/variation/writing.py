"""How a figure is written: the words of a language, marks and units, and for each matter the forms it takes."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from random import Random
from typing import Any, Final

from tests.catalog.datasheet.variation.invented import Invented

LANGUAGES: Final = ("en", "de", "fr", "es", "it", "nl", "pl")
INCH: Final = 25.4
POUND: Final = 0.45359237


@cache
def words(language: str) -> Mapping[str, Any]:
    """Return what sheets of a language say."""
    return tomllib.loads((Path(__file__).parent / "words" / f"{language}.toml").read_text("utf-8"))


@dataclass(frozen=True)
class Said:
    """One statement: its label, its value for each loudspeaker, and what it tells of each."""

    matter: str
    label: str
    values: tuple[str, ...]
    told: tuple[Mapping[str, str], ...]


@dataclass
class Hand:
    """Whoever writes a sheet: one language, and the habits that were drawn so far."""

    draw: Random
    language: str
    habits: dict[str, str] = field(default_factory=dict)
    kept: dict[str, str] = field(default_factory=dict)

    @property
    def words(self) -> Mapping[str, Any]:
        """What the language says."""
        return words(self.language)

    def chosen(self, name: str, *choices: str) -> str:
        """Draw a habit once, and keep to it."""
        if name not in self.habits:
            self.habits[name] = self.draw.choice(choices)
        return self.habits[name]

    def once(self, name: str, *choices: str) -> str:
        """Draw what is no habit once, and keep to it."""
        if name not in self.kept:
            self.kept[name] = self.draw.choice(choices)
        return self.kept[name]

    def label(self, matter: str) -> str:
        """Draw one of the words for a matter."""
        return str(self.draw.choice(self.words["labels"][matter]))

    def term(self, name: str) -> str:
        """Draw one of the language's ways to say something."""
        return str(self.draw.choice(self.words["terms"][name]))

    def number(self, value: float, decimals: int = 0) -> str:
        """Write a number with the decimal mark of the language."""
        plain = f"{value:.{decimals}f}"
        return plain.replace(".", self.words["decimal"])

    def thousands(self, value: int) -> str:
        """Write a whole number with what parts its thousands."""
        mark = self.chosen("thousands", *self.words["thousands"])
        return f"{value:,}".replace(",", mark)

    def range(self, low: str, high: str) -> str:
        """Write from where to where."""
        return self.chosen("range", *self.words["ranges"]).format(a=low, b=high)

    def unit(self, text: str, unit: str) -> str:
        """Write a unit behind a number, close to it or apart."""
        return f"{text}{'' if self.chosen('units', 'apart', 'apart', 'close') == 'close' else ' '}{unit}"


ONE_UNIT: Final = ("mm", "mm", "cm")


def length(hand: Hand, millimetres: float) -> tuple[str, str, str]:
    """Write a length: the number, its unit, and what it is in mm as written."""
    unit = hand.chosen("lengths", *ONE_UNIT, *(["in"] if hand.language == "en" else []))
    if unit == "in":
        quarters = round(millimetres / INCH * 4) / 4
        return hand.number(quarters, 2 if quarters % 0.5 else 1), "in", f"{quarters * INCH:g} mm"
    if unit == "cm":
        return hand.number(millimetres / 10, 1), "cm", f"{millimetres:g} mm"
    return hand.number(millimetres), "mm", f"{millimetres:g} mm"


def mass(hand: Hand, kilograms: float) -> tuple[str, str, str]:
    """Write a mass as `length` does, in kg as written."""
    unit = hand.chosen("masses", "kg", "kg", *(["lbs"] if hand.language == "en" else []))
    if unit == "lbs":
        pounds = round(kilograms / POUND, 1)
        return hand.number(pounds, 1), "lbs", f"{pounds * POUND:.6g} kg"
    return hand.number(kilograms, 1), "kg", f"{kilograms:g} kg"


def money(hand: Hand, price: int) -> str:
    """Write an amount of money."""
    sign, amount = hand.words["sign"], hand.thousands(price)
    if hand.language == "en":
        return f"{sign}{amount}" + (".00" if hand.chosen("money", "whole", "with pence") == "with pence" else "")
    before = hand.language in ("nl", "de") and hand.chosen("money", "before", "behind") == "before"
    return f"{sign} {amount},-" if before else f"{amount} {sign}"


def per_terms(hand: Hand) -> tuple[str, dict[str, str]]:
    """Draw whether a price is of one or of a pair, with or without tax, and tell both."""
    per = hand.chosen("price per", "each", "pair")
    tax = hand.chosen("tax", "said", "without", "unsaid", "unsaid")
    told = {"price_per": per}
    shown = hand.term(per)
    if tax == "said":
        shown, told = f"{shown} {hand.term('tax')}", told | {"tax": "included"}
    elif tax == "without":
        shown, told = f"{shown} {hand.term('no_tax')}", told | {"tax": "excluded"}
    return shown, told


def crossover_figure(one: Invented) -> str:
    """Tell the hand-overs as the truth writes them."""
    return "/".join(map(str, one.crossover))


def response_told(one: Invented) -> dict[str, str]:
    """Tell what a frequency response says."""
    return {
        "low_limit": f"{one.low} Hz",
        "low_limit_drop": f"{one.drop} dB",
        "high_limit": f"{one.high} Hz",
    }


def box_told(one: Invented) -> dict[str, str]:
    """Tell what is said of the box."""
    if one.box == "sealed":
        return {"enclosure": "sealed"}
    return {"enclosure": "ported", "port_location": one.box}


def tweeter_told(one: Invented, size: str) -> dict[str, str]:
    """Tell what is said of the tweeter, whose size is as it was written."""
    return {"tweeter_size": size, "tweeter_type": "dome", "tweeter_material": one.material}


def role_told(one: Invented) -> dict[str, str]:
    """Tell what a loudspeaker is for."""
    return {"roles": "centre" if one.kind == "centre" else "main"}


def drawn_order(hand: Hand, sides: Sequence[str]) -> list[int]:
    """Draw in which order the sides stand."""
    order = hand.chosen("order", "whd", "whd", "hwd", "wdh")
    return ["whd".index(side) for side in order][: len(sides)]
