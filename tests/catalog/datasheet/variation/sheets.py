"""Whole sheets and their truth: loudspeakers in a drawn layout, with what stands beside, as a copy left it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import Final

from tests.catalog.datasheet.corpus_check import Sheet
from tests.catalog.datasheet.variation import forms, layouts
from tests.catalog.datasheet.variation.invented import Invented, family
from tests.catalog.datasheet.variation.writing import LANGUAGES, Hand, Said


@dataclass(frozen=True)
class Variation:
    """One sheet and the habits that made it."""

    sheet: Sheet
    habits: Mapping[str, str]


def variation(seed: int) -> Variation:
    """Return the sheet of a seed."""
    draw = Random(seed)
    hand = Hand(draw, draw.choice(LANGUAGES))
    hand.habits["language"] = hand.language
    several = draw.random() < 0.5
    made = family(draw, draw.choice((2, 2, 3, 4)) if several else 1)
    hand.habits["loudspeakers"] = "several" if several else "one"
    choices = layouts.SEVERAL if several else layouts.ONE
    name = draw.choice(sorted(choices))
    hand.habits["layout"] = f"{'several' if several else 'one'}: {name}"
    said = forms.statements(hand, made)
    if len(said) < 3:
        said += [one for one in forms.statements(hand, made) if one.matter not in {each.matter for each in said}]
    text = choices[name](hand, made, said)
    sentences = name in ("prose", "paragraphs", "one paragraph")
    text = _copied(hand, _beside(hand, text))
    told = [layouts.sentences(hand, one)[1] if sentences else _told(said, place) for place, one in enumerate(made)]
    truth = {
        "kind": "maker's page",
        "language": "en-GB" if hand.language == "en" else hand.language,
        "tidy": not several and name in ("lines", "labelled names"),
        "loudspeaker": [_truth(one, figures) for one, figures in zip(made, told, strict=True)],
    }
    return Variation(Sheet(f"variation {seed}", text, truth), dict(hand.habits))


def _told(said: Sequence[Said], place: int) -> dict[str, str]:
    return {column: value for one in said for column, value in one.told[place].items()}


def _truth(one: Invented, told: Mapping[str, str]) -> dict[str, object]:
    """The truth of a loudspeaker: what its statements tell, and what is entered by custom."""
    custom = {
        "sensitivity_basis": "unknown",
        "roles": "centre" if one.kind == "centre" else "main",
        "orientation": "lying" if one.kind == "centre" else "upright",
        "woofer_count": str(one.woofers),
        "midrange_count": "1",
        "port_location": "none" if one.box == "sealed" else one.box,
    }
    figures = {**custom, **told}
    return {
        "maker": one.maker,
        "model": one.model,
        "figures": figures,
        "may_refuse": {column: "entered by custom" for column in custom if column not in told},
        "also": {"price_per": ["each"]} if figures.get("price_per") == "each" else {},
    }


def _beside(hand: Hand, text: str) -> str:
    """A text with lines about other things, above, between or below its own."""
    kinds = [kind for kind in hand.words["beside"] if hand.draw.random() < 0.12]
    for kind in sorted(hand.words["beside"]):
        hand.habits[f"beside: {kind}"] = "yes" if kind in kinds else "no"
    numbers = {
        "gross": hand.number(hand.draw.randrange(210, 390) / 10, 1),
        "x": "610", "y": "455", "z": "390", "cx": "61", "cy": "45", "cz": "39",
        "was": str(hand.draw.randrange(1301, 1999)), "less": str(hand.draw.randrange(61, 99)),
        "part": str(hand.draw.randrange(101, 199)),
    }  # fmt: skip
    lines = [str(hand.draw.choice(hand.words["beside"][kind])).format(**numbers) for kind in kinds]
    if not lines or "<html>" in text:
        return text.replace("</body>", "".join(f"<p>{line}</p>" for line in lines) + "</body>")
    where = hand.chosen("where the rest stands", "below", "below a blank line", "between")
    if where != "between" or hand.habits["loudspeakers"] == "several":
        return text + ("\n" if where == "below" else "\n\n") + "\n".join(lines)
    rows = text.split("\n")
    for line in lines:
        rows.insert(hand.draw.randrange(2, len(rows) + 1) if len(rows) > 2 else len(rows), line)
    return "\n".join(rows)


def _without_accents(text: str) -> str:
    return "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))


def _wrapped(text: str) -> str:
    """Lines broken at 72 characters, as by mail."""
    made = []
    for line in text.split("\n"):
        while len(line) > 72 and " " in line[:72] and "  " not in line:
            edge = line.rindex(" ", 0, 72)
            made.append(line[:edge])
            line = line[edge + 1 :]
        made.append(line)
    return "\n".join(made)


_COPIES: Final[dict[str, Callable[[str], str]]] = {
    "accents apart": lambda text: unicodedata.normalize("NFD", text),
    "accents lost": _without_accents,
    "ligatures lost": lambda text: re.sub("ffi|ff|fi|fl", " ", text),
    "hard blanks": lambda text: re.sub(r"(?<=\d) (?=\w)", "\u00a0", text),
    "empty lines": lambda text: text.replace("\n", "\n\n"),
    "wrapped": _wrapped,
    "trailing blanks": lambda text: text.replace("\n", "   \n"),
    "line ends": lambda text: text.replace("\n", "\r\n"),
    "capitals": lambda text: text if "<html>" in text else text.upper(),
    "indented": lambda text: "\n".join(f"   {line}" if line else line for line in text.split("\n")),
    "full width": lambda text: re.sub(r"[0-9:()]", lambda one: chr(ord(one[0]) + 0xFEE0), text),
}


def _copied(hand: Hand, text: str) -> str:
    """A text as it came out of a copy."""
    if hand.draw.random() > 0.3:
        hand.habits["copy"] = "as it was"
        return text
    name = hand.chosen("copy", *sorted(_COPIES))
    if "<html>" in text and name in ("full width", "ligatures lost", "empty lines"):
        hand.habits["copy"] = "as it was"
        return text
    return _COPIES[name](text)
