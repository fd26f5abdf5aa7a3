"""Options of the stock's commands, and what they say when it is done."""

from __future__ import annotations

import getpass
import os
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from catalog.cli import options
from catalog.cli.options import Style, tell

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from catalog.stock.lines import Line


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
    from catalog.models import Grade, MovementKind
    from catalog.queries import stored
    from catalog.stock.holdings import pack_of
    from catalog.stock.lines import Line

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
        Names the nearest.
    """
    from catalog.errors import BadInput, NotFound
    from catalog.exchange.problems import nearest
    from catalog.rows import name_key
    from catalog.stock.places import locations

    if not name_key(location):
        raise BadInput("--location is blank: name where the units are")
    known = {name_key(place.name): place.name for place in locations(session)}
    if name_key(location) in known:
        return ""
    hint = nearest(location, known.values()) if known else "there is none yet"
    if not coming:
        raise NotFound(f"no location is named {location!r}; {hint}")
    return f"new location: {location} ({hint})" if known else f"new location: {location}"


def report(session: Session, done: str, line: Line, numbers: list[int]) -> dict[str, Any]:
    """Give what a movement came to, for a program or in words."""
    from catalog.queries import name_of
    from catalog.stock import level

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
    }


def say(found: dict[str, Any], style: Style) -> None:
    """Tell what a movement came to; as data where a program asks."""
    if style is Style.JSON:
        options.print_json(found)
    elif style is Style.CSV:
        options.print_csv([list(found), [_cell(value) for value in found.values()]])
    else:
        lines = ", ".join(map(str, found["lines"]))
        grade = "" if found["grade"] == "new" else f", {found['grade']}"
        tell(
            f"{found['done']} {found['quantity']}: {found['speaker']} at {found['location']}{grade}; now"
            f" {found['on_hand']} on hand, {found['reserved']} reserved, {found['available']} available"
            f" (line {lines})"
        )


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return " ".join(map(str, value)) if isinstance(value, list) else str(value)


def warn_of_the_last(session: Session, loudspeaker_id: int) -> list[str]:
    """Give the warning where a line ends while mains that it matches are still about."""
    from catalog.stock.availability import available, matching_mains

    about = matching_mains(session, loudspeaker_id)
    if about is None:
        return []
    left = available(session, loudspeaker_id) or 0
    return [
        f"warning: the line ends, and {about.sold} mains of {about.family} are sold and {about.on_hand} in stock:"
        f" {left} to match them {'is' if left == 1 else 'are'} left"
    ]
