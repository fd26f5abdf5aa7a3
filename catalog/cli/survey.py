"""The questions of `triptych room new`: what to measure, and where."""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from functools import partial
from typing import Any, Final

import typer

from triptych.catalog.cli import makers
from triptych.catalog.cli.options import harmless, tell
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.fields import ROOM_NAME, SECTIONS, Field, Section
from triptych.catalog.files.rooms import contradictions, value_of
from triptych.catalog.inputs import read_line
from triptych.catalog.records import Listening, MainsPosition, Place, PlaceKind, RoomRecord, Seat

_INTRODUCTION: Final = """\
Lengths may carry their unit: 820 mm, 82 cm, 2.6 m, 32 in, 2 ft 8 in; a bare number is mm.
Heights are above the floor; distances go straight from the front wall, the one that the picture is on.
An empty answer is "unknown" unless the question says otherwise. Ctrl-C leaves, and nothing is written."""

Answers = Mapping[str, Any]

_ASKED_IF: Final[Mapping[str, Callable[[Answers], bool]]] = {
    "aspect": lambda answers: "diagonal" in answers,
    "width": lambda answers: "aspect" not in answers,
    "height": lambda answers: "aspect" not in answers,
    "back": lambda answers: answers["kind"] in (PlaceKind.CAVITY, PlaceKind.OPEN_SHELF),
    "wall": lambda answers: answers["kind"] is PlaceKind.WALL,
    "gap": lambda answers: answers["kind"] is PlaceKind.BEHIND_SCREEN,
    "currency": lambda answers: "centre" in answers,
    "tax_included": lambda answers: "centre" in answers,
}
"""Questions that matter only after some answers."""


def survey(taken: Collection[str], mains: Callable[[str], str]) -> RoomRecord:
    """Ask for a room on the terminal or from piped lines, and return it; nothing is written.

    Parameters
    ----------
    taken : collection of str
        Names of rooms that there are already.
    mains : callable
        Gives the catalogue's spelling of the name of the mains; raises NotFound with the near ones.

    Raises
    ------
    BadInput
        The input ends before the last question.
    NotFound
        The mains are in no catalogue, and nobody at the terminal can be asked again.
    """
    tell(_INTRODUCTION)
    name = _name(_words(ROOM_NAME), taken, required=True)
    sections = {
        "screen": _section("The picture", SECTIONS["screen"]),
        "mains": _section("The mains", SECTIONS["mains"], {"speaker": mains}) or MainsPosition(),
        "seats": _seats(),
        "places": _places(),
        "amplifier": _section("The amplifier", SECTIONS["amplifier"]),
        "listening": _section("The listeners", SECTIONS["listening"]) or Listening(),
        "money": _section("The money", SECTIONS["money"]),
    }
    return RoomRecord(name=str(name), **sections)


def _section(title: str, section: Section, checks: Mapping[str, Callable[[str], str]] | None = None) -> Any:
    """A record of one section, or None where nothing of it is known; asked again while its answers disagree."""
    tell(f"\n{title}")
    while True:
        answers = _answers(section, checks or {})
        record = section.record(**answers)
        faults = contradictions(record)
        if not faults:
            return record if answers else None
        for key, complaint in faults:
            tell(f"  {key} {complaint}")


def _answers(section: Section, checks: Mapping[str, Callable[[str], str]]) -> dict[str, Any]:
    """The answers about one section; `checks` hold some against the catalogue."""
    answers: dict[str, Any] = {}
    for key in section.asked:
        matters = _ASKED_IF.get(key.name)
        if key.about.ask and (matters is None or matters(answers)):
            read = partial(_checked, key, checks.get(key.name))
            value = _ask(_words(key), read, required=key.required, optional=key.optional)
            if value is not None:
                answers[key.name] = value
    return answers


def _checked(key: Field, check: Callable[[str], str] | None, text: str) -> Any:
    value = value_of(key, text)
    return value if check is None or value is None else check(value)


def _words(key: Field) -> str:
    """The question; one that ends in a colon is followed by the words to choose from."""
    ask = key.about.ask
    return f"{ask} {', '.join(key.choices)}" if ask.endswith(":") else ask


def _seats() -> tuple[Seat, ...]:
    tell("\nThe seats, one after the other")
    seats: tuple[Seat, ...] = _several(SECTIONS["seat"], at_least=1)
    if len(seats) == 1:
        return (replace(seats[0], primary=True),)
    names = {seat.name.casefold(): seat for seat in seats}

    def read(text: str) -> Seat:
        if text.strip().casefold() not in names:
            raise BadInput(f"is none of {', '.join(seat.name for seat in seats)}")
        return names[text.strip().casefold()]

    primary = _ask(f"Which is the primary seat: {', '.join(seat.name for seat in seats)}", read, required=True)
    return tuple(replace(seat, primary=seat is primary) for seat in seats)


def _places() -> tuple[Place, ...]:
    tell("\nPlaces where a centre could stand, one after the other")
    return _several(SECTIONS["place"], at_least=1)


def _several(section: Section, *, at_least: int = 0) -> tuple[Any, ...]:
    found: list[Any] = []
    while True:
        needed = len(found) < at_least
        words = f"Name of {section.name} {len(found) + 1}" + ("" if needed else "; empty = no more")
        name = _name(words, [one.name for one in found], required=needed)
        if name is None:
            return tuple(found)
        found.append(section.record(name=name, **_answers(section, {})))


def _name(words: str, taken: Collection[str], *, required: bool) -> str | None:
    from triptych.catalog.database.rows import name_key

    known = {name_key(name) for name in taken}

    def read(text: str) -> str | None:
        name: str | None = value_of(ROOM_NAME, text)
        if name is not None and name_key(name) in known:
            raise BadInput("is taken; give another name")
        return name

    answer: str | None = _ask(words, read, required=required)
    return answer


def _ask(words: str, read: Callable[[str], Any], *, required: bool = False, optional: bool = True) -> Any:
    """An answer that can be taken, however often it takes to ask; None where it is unknown or left to the default."""
    while True:
        text = _line(words)
        try:
            value = read(text) if text.strip() else None
        except NotFound as problem:
            if not makers.somebody_there():
                raise NotFound(f"{problem}; nothing was written") from None
            tell(f"  {problem}")
            continue
        except BadInput as problem:
            tell(f"  {problem}")
            continue
        if value is None and required:
            tell("  this one is needed")
        elif value is None and text.strip() and not optional:
            tell("  this cannot be unknown; leave it empty for the usual value")
        else:
            return value


def _line(words: str) -> str:
    # piped answers do not show, so their questions end their lines themselves
    typer.echo(f"{harmless(words)}: ", nl=not sys.stdin.isatty(), err=True)
    text = read_line(sys.stdin)
    if not text:
        raise BadInput(f"the input ends before the answer to {words!r}; nothing was written")
    return text.rstrip("\r\n")
