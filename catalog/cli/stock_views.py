"""What the stock's commands show: what there is, the ledger, what is promised, and the proof."""

from __future__ import annotations

import dataclasses
from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING, Annotated

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell
from triptych.catalog.cli.stock_tables import (
    NUMBERS,
    UNTIL,
    print_holdings,
    print_ledger,
    print_records,
    print_reservations,
)
from triptych.catalog.cli.stock_words import NoteOption, say, say_all, whoever
from triptych.catalog.errors import BadInput, NotFound

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from triptych.catalog.database.listings import Holds

ModelOption = Annotated[str | None, typer.Argument(help="Only this loudspeaker.", show_default=False)]


def list_(
    model: ModelOption = None,
    at: Annotated[str | None, typer.Option("--location", "-l", help="Only there.", show_default=False)] = None,
    everything: Annotated[bool, typer.Option("--all", help="Also what there is nothing left of.")] = False,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List what there is: on hand, reserved, available now, and on its way.

    Example: triptych stock list --location shop --format csv
    """
    from triptych.catalog.database.direct import looked_at
    from triptych.catalog.database.listings import holdings_shown

    if model is None and at is None:
        found, strange = looked_at(db, partial(holdings_shown, include_empty=everything)), ""
    else:
        found, strange = _there(db, model, at, everything=everything)
    print_holdings(found, style)
    if not found:
        tell("nothing is in stock" + (f" at {at}" if at else "") + strange)


def _there(db: str | None, model: str | None, at: str | None, *, everything: bool) -> tuple[list[Holds], str]:
    """Give what there is of a loudspeaker or at a location, and what to add where there is no such location."""
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.articles import model_named
    from triptych.catalog.stock.reading import stock_list

    with options.catalogue(db) as engine, reading(engine) as session:
        number = None if model is None else model_named(session, model).number
        return stock_list(session, number, at, include_empty=everything), _strange(session, at)


def _strange(session: Session, location: str | None) -> str:
    """Give what to add where a location is asked for that isn't known."""
    from triptych.catalog.stock.locations import known_name

    try:
        if location is not None:
            known_name(session, location)
    except NotFound as problem:
        return f": {problem}"
    return ""


def find(
    serial: Annotated[str, typer.Argument(help="Its serial, in any case, or a part of it.", show_default=False)],
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Find units by their serial: where one is, where it was, and on which quote and job.

    Example: triptych stock find 8841A
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.serials import TracedUnit, units_of_serial

    with options.catalogue(db) as engine, reading(engine) as session:
        found = units_of_serial(session, serial)
    if style is Style.JSON:
        options.print_json(found)
        return
    fields = [field.name for field in dataclasses.fields(TracedUnit) if field.name != "lines"]
    print_records(found, fields, style, NUMBERS, UNTIL)
    if not found:
        tell(f"no serial has {serial!r} in it")
    elif style is Style.TABLE and len(found) == 1:
        typer.echo()
        print_ledger(found[0].lines, style)
    elif style is Style.TABLE:
        tell(f"{len(found)} serials: name one whole to see where it was")


def reservations(
    lapsed: Annotated[bool, typer.Option("--lapsed", help="Also those that lapsed with something left.")] = False,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List what is promised to whom and until when, soonest first.

    Example: triptych stock reservations --lapsed
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.reading import reservations as read

    with options.catalogue(db) as engine, reading(engine) as session:
        found = read(session, lapsed=lapsed)
    print_reservations(found, style)
    if not found:
        tell("nothing is reserved")


def value(style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """List what there is by what it cost, without tax: first in, first out; what has no known cost is told apart.

    Example: triptych stock value
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.earnings import Worth, stock_value, total_words

    with options.catalogue(db) as engine, reading(engine) as session:
        found = stock_value(session)
    print_records(found, [field.name for field in dataclasses.fields(Worth)], style, ("units", "unknown", "cost"))
    tell(total_words(found) if found else "nothing is in stock")


class EarnedName(StrEnum):
    """By what sales are summed, as it is written."""

    JOB = "job"
    MONTH = "month"
    QUOTE = "quote"


def margin(
    by: Annotated[EarnedName, typer.Option("--by", help="Summed by.")] = EarnedName.MONTH,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List what sales brought, without tax, what they cost, and what is left, by month, job or quote.

    Example: triptych stock margin --by job
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.earnings import Earned, EarnedBy, earned, left_out_words

    with options.catalogue(db) as engine, reading(engine) as session:
        found = earned(session, EarnedBy(by.value))
    fields = [field.name for field in dataclasses.fields(Earned)]
    if style is Style.TABLE and found:
        shown = [
            [one.key or "none", str(one.units), str(one.net), str(one.cost), one.currency or "", _share(one.margin)]
            for one in found
        ]
        numbers = ["units", "net", "cost", "margin"]
        options.print_table([by.value, "units", "net", "cost", "currency", "margin"], shown, right=numbers)
    else:
        print_records(found, fields, style)
    for words in left_out_words(found):
        tell(words)
    if not found:
        tell("nothing is sold")


def _share(margin: float | None) -> str:
    return "" if margin is None else f"{margin:.1%}"


def loans(style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """List what is lent for demonstration, to whom and until when, soonest first; `overdue` is what should be back.

    Example: triptych stock loans
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.carrying import Loan
    from triptych.catalog.stock.carrying import loans as read

    with options.catalogue(db) as engine, reading(engine) as session:
        found = read(session)
    print_records(found, [field.name for field in dataclasses.fields(Loan)], style, NUMBERS, UNTIL)
    if not found:
        tell("nothing is lent")


DayOption = Annotated[
    str | None, typer.Option("--day", metavar="DATE", help="Only of this day, or from it on.", show_default=False)
]
ToOption = Annotated[
    str | None, typer.Option("--to", metavar="DATE", help="Up to the end of this day.", show_default=False)
]


def ledger(
    model: ModelOption = None,
    day: DayOption = None,
    to: ToOption = None,
    person: Annotated[str | None, typer.Option("--who", help="Only by this person.", show_default=False)] = None,
    job: Annotated[str | None, typer.Option("--job", help="Only for this job.", show_default=False)] = None,
    at: Annotated[str | None, typer.Option("--location", "-l", help="Only there.", show_default=False)] = None,
    last: Annotated[
        int | None, typer.Option("--last", min=1, help="Only the newest so many lines.", show_default=False)
    ] = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Show movements, of one loudspeaker, day, person, job or location, oldest first.

    `on hand` is what their holding has after each; a day is one where the units are.

    Example: triptych stock ledger --day 2026-12-04 --location shop
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.reading import LinesAsked
    from triptych.catalog.stock.reading import ledger as read
    from triptych.catalog.stock.timing import day_of

    asked = LinesAsked(model, day_of(day, "--day"), day_of(to, "--to"), person, job, at)
    with options.catalogue(db) as engine, reading(engine) as session:
        found = read(session, asked, last)
    print_ledger(found, style, one=model is not None)
    if not found:
        tell("the ledger has no such line")


def check(style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """Prove from the ledger alone that the stock is sound; exit 1 where it is not.

    Example: triptych stock check
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.proof import check as prove
    from triptych.catalog.stock.proof_lines import Finding

    with options.catalogue(db) as engine, reading(engine) as session:
        found = prove(session)
    print_records(found, [field.name for field in dataclasses.fields(Finding)], style, ("checked",))
    broken = [finding for finding in found if not finding.holds]
    if broken:
        raise BadInput(
            f"{len(broken)} of {len(found)} invariants are broken: put a backup in its place, and tell who keeps it"
        )
    tell(f"all {len(found)} invariants hold")


def location(
    name: Annotated[str | None, typer.Argument(help="Its name.", show_default=False)] = None,
    zone: Annotated[
        str | None,
        typer.Option("--zone", help="Time zone in which its days end, such as Europe/Lisbon.", show_default=False),
    ] = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List the locations; with a name add one, or set its time zone.

    Example: triptych stock location "Harbour store" --zone Europe/Lisbon
    """
    from triptych.catalog.database.engine import reading, writing
    from triptych.catalog.stock.locations import locations, save_location, zone_at

    if name is not None:
        with options.catalogue(db) as engine, writing(engine) as session:
            kept = zone or zone_at(session, name)
            save_location(session, name, kept)
        tell(f"location {name}: its days end at midnight in {kept}")
        return
    with options.catalogue(db) as engine, reading(engine) as session:
        found = locations(session)
    print_records(found, ("name", "zone"), style)
    if not found:
        tell("no location yet: add one with a name, or receive units there")


def arrive(
    number: Annotated[int, typer.Argument(help="The line of the ledger that sent them.", show_default=False)],
    quantity: Annotated[
        int | None, typer.Option("--quantity", "-n", help="How many arrived; all if left out.", show_default=False)
    ] = None,
    db: DatabaseOption = None,
) -> None:
    """Take what was sent into stock where it was sent to.

    Example: triptych stock arrive 31
    """
    from triptych.catalog.stock import desk

    with options.catalogue(db) as engine:
        found = desk.arrive(engine, number, quantity, whoever())
    say_all(found, Style.TABLE)


def undo(
    number: Annotated[int, typer.Argument(help="The line of the ledger that was mistyped.", show_default=False)],
    note: NoteOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Take back a mistyped movement, unless later lines stand on it: then they are told.

    Example: triptych stock undo 31
    """
    from triptych.catalog.stock import desk

    with options.catalogue(db) as engine:
        answer = desk.undo(engine, number, note, whoever())
    for remark in answer.remarks:
        tell(remark)
    say(answer.done, style)
