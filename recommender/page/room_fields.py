"""The fields of a room's form: which a first ranking wants, what stands beside them, and in which part each is."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from triptych.catalog.fields import SECTIONS, Field, Section

Texts = dict[str, str]
"""What stands in the fields, or is wrong with it, by their paths."""

FIRST: Final[Mapping[str, tuple[str, ...]]] = {
    "screen": ("diagonal", "aspect", "bottom"),
    "mains": ("speaker", "spacing"),
    "seat": ("name", "distance", "x"),
    "place": ("name", "kind", "width", "height", "depth", "base"),
    "amplifier": (),
    "listening": (),
    "money": ("centre", "currency"),
}
"""The few keys that a first ranking wants; the others are folded away."""

SHORT: Final[Mapping[str, str]] = {
    "name": "Name",
    "screen.diagonal": "Diagonal of the picture",
    "screen.aspect": "Its shape",
    "screen.bottom": "Its lower edge above the floor",
    "mains.speaker": "Left and right loudspeakers",
    "mains.spacing": "Between them, tweeter to tweeter",
    "seat.name": "What you call it",
    "seat.distance": "From the front wall to the head",
    "seat.ear_height": "Ears above the floor, sitting",
    "seat.x": "Sideways from the middle, right is +",
    "place.name": "What you call it",
    "place.kind": "What it is",
    "place.width": "Clear width",
    "place.height": "Clear height",
    "place.depth": "Clear depth",
    "place.base": "Its floor above the room's floor",
    "place.front": "From the front wall to its front edge",
    "money.centre": "What the centre may cost",
    "money.currency": "In which currency",
}
"""Labels shorter than the questions of `room new`."""

BESIDE_LABEL: Final[Mapping[str, str]] = {
    "name": "",
    "screen.diagonal": "Of the picture itself, corner to corner, without the frame",
    "screen.aspect": "16:9, 2.39:1 …",
    "screen.bottom": "",
    "mains.speaker": "Maker, series and model, as in the catalogue",
    "mains.spacing": "",
    "seat.name": "",
    "seat.distance": "",
    "seat.ear_height": "",
    "seat.x": "From the middle of the picture to the head; 0 if empty",
    "place.name": "",
    "place.kind": "",
    "place.width": "At the narrowest point",
    "place.height": "At the lowest point; for a top, up to the picture or whatever is above",
    "place.depth": "From the front edge to the back",
    "place.base": "Of what the box stands on",
    "place.front": "",
    "money.centre": "A number",
    "money.currency": "Three letters, such as EUR",
}
"""What those labels leave out of the questions."""

TITLES: Final = {
    "screen": "The picture",
    "mains": "The mains",
    "seat": "Seat",
    "place": "Place for a centre",
    "amplifier": "The amplifier",
    "listening": "The listeners",
    "money": "The money",
}


@dataclass(frozen=True, slots=True)
class FormField:
    """One field: its path in the form, what it asks, what stands in it, and what is wrong with that."""

    path: str
    label: str
    ask: str
    value: str
    choices: tuple[str, ...]
    problem: str
    first: bool


@dataclass(frozen=True, slots=True)
class FormPart:
    """A section of the room, or one of its seats or places."""

    name: str
    title: str
    number: int | None
    fields: tuple[FormField, ...]
    primary: bool = False
    problem: str = ""


def parts_of(texts: Texts, problems: Texts) -> list[FormPart]:
    """The sections of a room as parts of the form, each seat and place as its own."""
    found = []
    for section in SECTIONS.values():
        if not section.repeated:
            found.append(_part(section, None, texts, problems))
            continue
        numbers = {int(path.split(".")[1]) for path in texts if path.startswith(f"{section.name}.")} or {1}
        found += [_part(section, number, texts, problems) for number in sorted(numbers)]
    return found


def _part(section: Section, number: int | None, texts: Texts, problems: Texts) -> FormPart:
    prefix = section.name if number is None else f"{section.name}.{number}"
    keys = [key for key in section.asked if key.name != "primary"]
    title = TITLES[section.name] + ("" if number is None else f" {number}")
    fields = tuple(field_of(section.name, key, f"{prefix}.{key.name}", texts, problems) for key in keys)
    primary = section.name == "seat" and texts.get("primary", "1") == str(number)
    paths = (section.name, f"{section.name}.", *(f"{section.name}.{key}" for key in section.keys if section.repeated))
    whole = next((problems[path] for path in paths if path in problems), "")
    return FormPart(section.name, title, number, fields, primary, whole if number in (None, 1) else "")


def field_of(section: str, key: Field, path: str, texts: Texts, problems: Texts) -> FormField:
    """A key of a room as a field of the form."""
    short = f"{section}.{key.name}" if section else key.name
    label, beside = _words(short, key)
    return FormField(
        path, label, beside, texts.get(path, ""), key.choices, problems.get(path, ""),
        not section or key.name in FIRST[section],
    )  # fmt: skip


def _words(short: str, key: Field) -> tuple[str, str]:
    """The label of a field, and what stands beside it; nothing is said twice."""
    if short in SHORT:
        return SHORT[short], BESIDE_LABEL[short]
    meaning, ask = key.about.meaning[:1].upper() + key.about.meaning[1:], (key.about.ask or "").rstrip(":")
    said = set(re.findall(r"\w+", ask.casefold()))
    return (ask, "") if set(re.findall(r"\w+", meaning.casefold())) <= said else (meaning, ask)
