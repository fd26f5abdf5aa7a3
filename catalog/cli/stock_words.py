"""Options of the stock's commands, and what they say when it is done."""

from __future__ import annotations

import getpass
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import Style, tell

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from triptych.catalog.stock.lines import Line


class GradeName(StrEnum):
    """The condition of a unit, as it is written."""

    NEW = "new"
    OPEN_BOX = "open_box"
    B_STOCK = "b_stock"
    DEMO = "demo"
    QUARANTINE = "quarantine"


ModelArgument = Annotated[str, typer.Argument(help="Maker, series and model, in any case.", show_default=False)]
QuantityOption = Annotated[
    int | None,
    typer.Option(
        "--quantity",
        "-n",
        help="How many loudspeakers, also where they come in pairs; one, or one pair, if left out.",
        show_default=False,
    ),
]
LocationOption = Annotated[
    str, typer.Option("--location", "-l", help="Where: a shop, a store, a van.", show_default=False)
]
GradeOption = Annotated[GradeName, typer.Option("--grade", help="In what condition.")]
FinishOption = Annotated[str | None, typer.Option("--finish", help="In what finish.", show_default=False)]
JobOption = Annotated[str | None, typer.Option("--job", help="For which customer or project.", show_default=False)]
UntilOption = Annotated[
    str | None,
    typer.Option(
        "--until",
        metavar="DATE",
        help="Until when: 2026-12-31, to its end where the units are, or 2026-12-31 18:00. In 14 days if left out.",
        show_default=False,
    ),
]
SerialOption = Annotated[
    str | None, typer.Option("--serial", help="Which one, of those that have a serial.", show_default=False)
]
SingleOption = Annotated[
    bool, typer.Option("--single", help="Singles of what is sold in pairs: what was split, or came alone.")
]
NoteOption = Annotated[str | None, typer.Option("--note", help="What else is to be known.", show_default=False)]
ReasonOption = Annotated[str | None, typer.Option("--reason", help="Why: the ledger keeps it.", show_default=False)]


def whoever() -> str | None:
    """Give the name under which the ledger keeps who it was: TRIPTYCH_USER, or who is logged in."""
    try:
        return os.environ.get("TRIPTYCH_USER") or getpass.getuser()
    except (KeyError, OSError):
        return None


def line_of(session: Session, kind: str, model: str, location: str, **fields: Any) -> Line:
    """Give the movement that options ask for.

    Raises
    ------
    NotFound
        No loudspeaker has that name, or, for what takes from stock, no location; the nearest are told.
    """
    from triptych.catalog.database.models import Grade, MovementKind
    from triptych.catalog.database.reads import stored
    from triptych.catalog.stock.holdings import pack_of
    from triptych.catalog.stock.lines import Line

    number = stored(session, model).id
    pack = 1 if fields.pop("single", False) else pack_of(session, number)
    quantity = fields.pop("quantity", None)
    return Line(
        number,
        MovementKind(kind),
        pack if quantity is None else quantity,
        location,
        Grade(fields.pop("grade", "new")),
        pack=pack,
        who=whoever(),
        **fields,
    )


def seen_before(session: Session, location: str, *, coming: bool) -> str:
    """Refuse a location that is not known, unless units come there; then give what to tell of it.

    Raises
    ------
    NotFound
        Names the nearest. Where units come: it is nearly the name of one that is known, so rather mistyped.
    """
    from triptych.catalog.database.rows import name_key
    from triptych.catalog.errors import BadInput
    from triptych.catalog.stock.places import FEW, known_name, locations, refuse_mistyped

    if not name_key(location):
        raise BadInput("--location is blank: name where the units are")
    if not coming:
        known_name(session, location)
        return ""
    known = [place.name for place in locations(session)]
    if not refuse_mistyped(location, known):
        return ""
    beside = f" (known are {', '.join(known)})" if 0 < len(known) <= FEW else ""
    return f"new location: {location}{beside}"


def doubt_job(session: Session, job: str | None) -> list[str]:
    """Give what to tell of a job that is new and has nearly the name of an open one."""
    from triptych.catalog.stock.places import near_job

    near = None if job is None else near_job(session, job)
    return [] if near is None else [f"new job {job!r}; did you mean {near!r}?"]


def report(session: Session, done: str, line: Line, numbers: list[int]) -> dict[str, Any]:
    """Give what a movement came to, for a program or in words."""
    from triptych.catalog.database.reads import name_of
    from triptych.catalog.stock import level
    from triptych.catalog.stock.lines import instant
    from triptych.catalog.stock.places import zone_at

    left = level(session, line)
    return {
        "done": done,
        "speaker": name_of(session, line.loudspeaker_id),
        "quantity": abs(line.quantity),
        "location": line.location,
        "grade": line.grade.value,
        "finish": line.finish,
        "serial": line.serial,
        "lines": numbers,
        "on_hand": left.on_hand,
        "reserved": left.reserved,
        "available": left.available if line.grade.value != "quarantine" else 0,
        "job": line.job,
        "until": None if line.until is None else instant(line.until).isoformat(),
        "zone": zone_at(session, line.location),
    }


def reports(session: Session, done: str, numbers: Sequence[int]) -> list[dict[str, Any]]:
    """Give what lines of the ledger came to, each for itself."""
    from triptych.catalog.database.models import Grade, MovementKind
    from triptych.catalog.stock.lines import Line
    from triptych.catalog.stock.reading import entries

    found = []
    for loudspeaker_id, entry in entries(session, numbers):
        kind, grade = MovementKind(entry.kind), Grade(entry.grade)
        line = Line(loudspeaker_id, kind, entry.quantity, entry.location, grade, entry.finish, entry.job, entry.until)
        line = replace(line, serial=entry.serial, pack=entry.pack)
        found.append(report(session, done, line, [entry.number]))
    return found


def say(found: dict[str, Any], style: Style) -> None:
    """Tell what a movement came to; as data where a program asks."""
    if style is Style.JSON:
        options.print_json(found)
    elif style is Style.CSV:
        options.print_csv([list(found), [_cell(value) for value in found.values()]])
    else:
        tell(in_words(found))


def in_words(found: dict[str, Any]) -> str:
    """Give a report as a sentence."""
    from triptych.catalog.stock.timing import until_words

    # "moved 2 to shop 1" and not "moved to shop 1 2"
    what, *to = re.split(r"( (?:in)?to )", found["done"], maxsplit=1)
    sort = [found["finish"], None if found["grade"] == "new" else found["grade"].replace("_", " "), found["serial"]]
    held = f" for {found['job']}" if found["job"] else ""
    if found["until"]:
        held += f" until {until_words(datetime.fromisoformat(found['until']), found['zone'])}"
    numbers = found["lines"]
    line = f"line{'s' * (len(numbers) > 1)} {', '.join(map(str, numbers))}" if numbers else "as the ledger says"
    sentence = (
        f"{what} {found['quantity']}{''.join(to)}: {', '.join(filter(None, [found['speaker'], *sort]))}"
        f" at {found['location']}{held}; now {found['on_hand']} on hand, {found['reserved']} reserved,"
        f" {found['available']} available ({line})"
    )
    return " ".join(sentence.split())


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return " ".join(map(str, value)) if isinstance(value, list) else str(value)


def print_reports(found: Sequence[dict[str, Any]], style: Style) -> None:
    """Tell what several movements came to, each in a line; as rows where a program asks for CSV."""
    if style is Style.CSV:
        header = list(found[0]) if found else []
        options.print_csv([header, *([_cell(value) for value in row.values()] for row in found)])
        return
    for row in found:
        tell(in_words(row))


def models_of(session: Session, numbers: Sequence[int]) -> list[int]:
    """Give the loudspeakers that lines of the ledger speak of, each once, in the order of the lines."""
    from triptych.catalog.stock.reading import entries

    return list(dict.fromkeys(loudspeaker_id for loudspeaker_id, _ in entries(session, numbers)))


def warn_of_the_last(session: Session, *loudspeaker_ids: int) -> list[str]:
    """Give the warnings where a line ends while mains that it matches are still about."""
    return [said for number in loudspeaker_ids if (said := _last_of_line(session, number))]


def _last_of_line(session: Session, loudspeaker_id: int) -> str | None:
    from triptych.catalog.stock.availability import available
    from triptych.catalog.stock.families import matching_mains

    about = matching_mains(session, loudspeaker_id)
    if about is None:
        return None
    left = available(session, loudspeaker_id) or 0
    return (
        f"warning: the line ends, and {about.sold} mains of {about.family} are sold and {about.on_hand} in stock:"
        f" {left} to match them {'is' if left == 1 else 'are'} left"
    )


Work = Callable[["Session"], tuple["Line", Sequence[int]]]


def carry_out(
    db: str | None,
    done: str,
    style: Style,
    work: Work,
    *,
    warn: bool = False,
    new: str = "",
    job: str | None = None,
    doubts: Sequence[str] = (),
) -> list[int]:
    """Do the work in one transaction, say so only once it is committed, and give the ledger's lines.

    `new` is a location that may be new, and `job` a job; `doubts` is what the work adds to what is to be told.
    """
    from triptych.catalog.database.engine import writing

    with options.catalogue(db) as engine, writing(engine) as session:
        made = seen_before(session, new, coming=True) if new else ""
        near = doubt_job(session, job)
        line, numbers = work(session)
        found = report(session, done, line, list(numbers))
        # a count of none, where nothing was, makes no location
        remarks = [*([made] if made and numbers else []), *near, *doubts]
        if warn:
            remarks += warn_of_the_last(session, line.loudspeaker_id)
    for remark in remarks:
        tell(remark)
    say(found, style)
    return list(numbers)
