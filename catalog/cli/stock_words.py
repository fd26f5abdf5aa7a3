"""Options of the stock's commands, and what they say when it is done."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import Style, tell

if TYPE_CHECKING:
    from triptych.catalog.stock.desk import Done


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
NewFinishOption = Annotated[
    bool,
    typer.Option("--new-finish", help="Their finish is meant so, also where it is none, or new and nearly another's."),
]
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
    list[str] | None,
    typer.Option("--serial", metavar="<str>", help="Which one, of those that have a serial.", show_default=False),
]
SingleOption = Annotated[
    bool, typer.Option("--single", help="Singles of what is sold in pairs: what was split, or came alone.")
]
NoteOption = Annotated[str | None, typer.Option("--note", help="What else is to be known.", show_default=False)]
ReasonOption = Annotated[str | None, typer.Option("--reason", help="Why: the ledger keeps it.", show_default=False)]


def whoever() -> str | None:
    """Give the name under which the ledger keeps who it was; on a server it is the login, whatever is said."""
    from triptych.catalog.database import signing

    return signing.whoever()


def serials(texts: Sequence[str] | None) -> list[str]:
    """Give the serials of an option that may be given several times, or with commas between them."""
    from triptych.catalog.stock.counter_words import serials_in

    # one that is blank is refused below, and not lost
    return [one for text in texts or () for one in serials_in(text) or [text]]


def money(text: str | None, option: str) -> tuple[int | None, str | None]:
    """Read an amount with its currency, `310 EUR`, in minor units."""
    from triptych.catalog.stock.counter_words import amount_of

    return amount_of(text, option)


def say(done: Done, style: Style) -> None:
    """Tell what a movement came to; as data where a program asks."""
    found = dataclasses.asdict(done)
    if style is Style.JSON:
        options.print_json(found)
    elif style is Style.CSV:
        options.print_csv([list(found), [_cell(value) for value in found.values()]])
    else:
        from triptych.catalog.stock.counter_words import in_words

        tell(in_words(done))


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return " ".join(map(str, value)) if isinstance(value, tuple) else str(value)


def say_all(found: Sequence[Done], style: Style) -> None:
    """Tell what several movements came to, each in a line; as rows where a program asks for CSV."""
    if style is Style.CSV:
        rows = [dataclasses.asdict(done) for done in found]
        options.print_csv([list(rows[0]) if rows else [], *([_cell(value) for value in row.values()] for row in rows)])
        return
    from triptych.catalog.stock.counter_words import in_words

    for done in found:
        tell(in_words(done))
