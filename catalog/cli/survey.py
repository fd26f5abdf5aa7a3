"""The questions of `triptych room new`: what to measure, and where."""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from typing import Any, Final

import typer

from triptych.catalog.cli.options import harmless, tell
from triptych.catalog.errors import BadInput
from triptych.catalog.files.room_keys import ROOM_NAME, SECTIONS, Key
from triptych.catalog.files.rooms import contradictions
from triptych.catalog.records import Listening, MainsPosition, Place, PlaceKind, RoomRecord, Seat

_INTRODUCTION: Final = """\
Lengths may carry their unit: 820 mm, 82 cm, 2.6 m, 32 in, 2 ft 8 in; a bare number is mm.
Heights are above the floor; distances go straight from the front wall, the one that the picture is on.
An empty answer is "unknown" unless the question says otherwise. Ctrl-C leaves, and nothing is written."""

Question = tuple[str, str]
"""A key and its words."""

_SCREEN: Final[tuple[Question, ...]] = (
    ("diagonal", "Diagonal of the picture itself, corner to corner, without the frame"),
    ("aspect", "Shape of the picture: 16:9, 2.39:1 ..."),
    ("width", "Width of the picture, if you measured it"),
    ("height", "Height of the picture, if you measured it"),
    ("bottom", "Lower edge of the picture above the floor"),
    ("transparent", "Can sound pass through the screen (woven or perforated)? yes or no; empty = no"),
)
_MAINS: Final[tuple[Question, ...]] = (
    ("speaker", "Left and right loudspeakers: maker, series and model as in the catalogue"),
    ("spacing", "Distance between them, tweeter to tweeter"),
    ("from_wall", "From the front wall to their front panel (baffle)"),
    ("toe_in", "How far they turn towards the seats, in degrees; 0 = straight ahead"),
    ("axis_height", "Height of their tweeters above the floor; empty = as the catalogue says"),
)
_SEAT: Final[tuple[Question, ...]] = (
    ("x", "Sideways from the middle of the picture to the head, right is +, left is -; empty = 0"),
    ("distance", "From the front wall to the head"),
    ("ear_height", "Height of the ears above the floor when sitting"),
    ("regular", "Is it used regularly? yes or no (no: shown, but not judged); empty = yes"),
)
_PLACE: Final[tuple[Question, ...]] = (
    ("kind", f"What is it: {', '.join(kind.value for kind in PlaceKind)}"),
    ("width", "Clear width, at the narrowest point"),
    ("height", "Clear height, at the lowest point; for a top, up to the picture or whatever is above"),
    ("depth", "Clear depth, from the front edge to the back"),
    ("base", "Height of its floor (what the box stands on) above the room's floor"),
    ("front", "From the front wall to its front edge"),
    ("back", "Is its back open or closed?"),
    ("load", "Weight that it may still bear, in kg"),
    ("hot", "Does it get hot (above a fire, beside a stove)? yes, no or unknown; empty = no"),
    ("wall", "What the wall is made of: masonry, stud, plasterboard or unknown"),
    ("gap", "Between the front of the box and the fabric of the screen"),
)
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

_AMPLIFIER: Final[tuple[Question, ...]] = (
    ("power", "Rated power of one channel, in W, as the manual says"),
    ("into", "Load for which that power is stated, in ohm"),
    ("lowest_load", "Lowest load that the amplifier is rated for, in ohm"),
    ("trim_range", "Range of its level trim either way, in dB"),
)
_LISTENING: Final[tuple[Question, ...]] = (
    ("target_peak", "Peak level wanted at the farthest regular seat, in dB (105 is the cinema's reference)"),
    ("room_gain", "What the room adds to the direct sound, in dB"),
    ("needs_real_centre", "Does anyone need a real centre (hard of hearing, seats off to the side)? empty = no"),
)
_MONEY: Final[tuple[Question, ...]] = (
    ("centre", "What the centre may cost; a number"),
    ("currency", "Currency, three letters"),
    ("tax_included", "Is tax included? yes or no; empty = yes"),
)


def survey(taken: Collection[str] = ()) -> RoomRecord:
    """Ask for a room on the terminal or from piped lines, and return it; nothing is written.

    Parameters
    ----------
    taken : collection of str
        Names of rooms that there are already.

    Raises
    ------
    BadInput
        The input ends before the last question.
    """
    tell(_INTRODUCTION)
    name = _name("Name of the room", taken, required=True)
    sections = {
        "screen": _section("The picture", "screen", _SCREEN),
        "mains": _section("The mains", "mains", _MAINS) or MainsPosition(),
        "seats": _seats(),
        "places": _places(),
        "amplifier": _section("The amplifier", "amplifier", _AMPLIFIER),
        "listening": _section("The listeners", "listening", _LISTENING) or Listening(),
        "money": _section("The money", "money", _MONEY),
    }
    return RoomRecord(name=str(name), **sections)


def _section(title: str, section: str, questions: tuple[Question, ...]) -> Any:
    """A record of one section, or None where nothing of it is known; asked again while its answers disagree."""
    tell(f"\n{title}")
    while True:
        answers = _answers(section, questions)
        record = SECTIONS[section].record(**answers)
        faults = contradictions(record)
        if not faults:
            return record if answers else None
        for key, complaint in faults:
            tell(f"  {key} {complaint}")


def _answers(section: str, questions: tuple[Question, ...]) -> dict[str, Any]:
    answers: dict[str, Any] = {}
    for name, words in questions:
        matters = _ASKED_IF.get(name)
        if matters is None or matters(answers):
            value = _ask(words, SECTIONS[section].keys[name])
            if value is not None:
                answers[name] = value
    return answers


def _seats() -> tuple[Seat, ...]:
    tell("\nThe seats, one after the other")
    seats: tuple[Seat, ...] = _several("seat", _SEAT, at_least=1)
    if len(seats) == 1:
        return (replace(seats[0], primary=True),)
    names = {seat.name.casefold(): seat for seat in seats}

    def read(text: str) -> Seat:
        if text.strip().casefold() not in names:
            raise BadInput(f"is none of {', '.join(seat.name for seat in seats)}")
        return names[text.strip().casefold()]

    primary = _ask(
        f"Which is the primary seat: {', '.join(seat.name for seat in seats)}",
        Key("primary", read, str, required=True),
    )
    return tuple(replace(seat, primary=seat is primary) for seat in seats)


def _places() -> tuple[Place, ...]:
    tell("\nPlaces where a centre could stand, one after the other")
    return _several("place", _PLACE)


def _several(section: str, questions: tuple[Question, ...], *, at_least: int = 0) -> tuple[Any, ...]:
    found: list[Any] = []
    while True:
        needed = len(found) < at_least
        words = f"Name of {section} {len(found) + 1}" + ("" if needed else "; empty = no more")
        name = _name(words, [one.name for one in found], required=needed)
        if name is None:
            return tuple(found)
        found.append(SECTIONS[section].record(name=name, **_answers(section, questions)))


def _name(words: str, taken: Collection[str], *, required: bool) -> str | None:
    from triptych.catalog.database.rows import name_key

    known = {name_key(name) for name in taken}

    def read(text: str) -> str | None:
        name: str | None = ROOM_NAME.read(text)
        if name is not None and name_key(name) in known:
            raise BadInput("is taken; give another name")
        return name

    answer: str | None = _ask(words, Key("name", read, str, required=required))
    return answer


def _ask(words: str, key: Key) -> Any:
    """An answer that can be taken, however often it takes to ask; None where it is unknown or left to the default."""
    while True:
        text = _line(words)
        try:
            value = key.read(text) if text.strip() else None
        except BadInput as problem:
            tell(f"  {problem}")
            continue
        if value is None and key.required:
            tell("  this one is needed")
        elif value is None and text.strip() and not key.may_be_unknown:
            tell("  this cannot be unknown; leave it empty for the usual value")
        else:
            return value


def _line(words: str) -> str:
    # piped answers do not show, so their questions end their lines themselves
    typer.echo(f"{harmless(words)}: ", nl=not sys.stdin.isatty(), err=True)
    text = sys.stdin.readline()
    if not text:
        raise BadInput(f"the input ends before the answer to {words!r}; nothing was written")
    return text.rstrip("\r\n")
