"""`triptych quote`: prices that hold until a day, then reservations, then sales."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triptych.catalog.answers import Answers
from triptych.catalog.cli import options
from triptych.catalog.cli import stock_words as words
from triptych.catalog.cli.asked_finish import with_finish
from triptych.catalog.cli.makers import somebody_there
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell
from triptych.catalog.cli.stock_tables import CAME_BACK, UNTIL, print_quoted, print_records
from triptych.catalog.cli.stock_words import (
    FinishOption,
    GradeName,
    GradeOption,
    NoteOption,
    SingleOption,
    UntilOption,
    money,
    whoever,
)
from triptych.catalog.errors import BadInput

if TYPE_CHECKING:
    from triptych.catalog.stock.desk import Step
    from triptych.catalog.stock.quote_reading import Offer
    from triptych.catalog.stock.quotes import Item

app = options.application("Quotes: make, show, print, list, accept, sell, lapse.")

SerialsOption = Annotated[
    list[str] | None,
    typer.Option(
        "--serial",
        help="Which, of those that have a serial, with commas between; else what the job held, then the oldest "
        "received.",
        show_default=False,
    ),
]
SoldSerialsOption = Annotated[
    list[str] | None,
    typer.Option(
        "--serial",
        help="Which, of those that have a serial, with commas between; else as they were reserved, the first first.",
        show_default=False,
    ),
]
NumberArgument = Annotated[int, typer.Argument(help="The quote's number.", show_default=False)]


@app.command()
def make(
    items: Annotated[
        list[str],
        typer.Argument(
            metavar="MODEL...", help="Loudspeakers; '2 x MODEL' for more than one, or one pair, 'MODEL, FINISH'."
        ),
    ],
    job: Annotated[str, typer.Option("--job", help="For which customer or project.", show_default=False)],
    quantity: Annotated[
        int | None, typer.Option("--quantity", "-n", help="How many of each; '2 x MODEL' goes first.")
    ] = None,
    until: UntilOption = None,
    grade: GradeOption = GradeName.NEW,
    finish: FinishOption = None,
    price: Annotated[
        str | None,
        typer.Option(
            "--price",
            help="What each is to cost, also of a pair, '480 EUR', in place of the catalogue; with tax where that "
            "price has it.",
            show_default=False,
        ),
    ] = None,
    tax_rate: Annotated[
        str | None,
        typer.Option("--tax-rate", help="Percent of tax, for prices that don't say.", show_default=False),
    ] = None,
    single: SingleOption = False,
    discount: Annotated[
        str | None, typer.Option("--discount", help="Percent off each price, '10'; both are kept.", show_default=False)
    ] = None,
    location: Annotated[
        str | None, typer.Option("--location", "-l", help="Where its days end, by its time zone.", show_default=False)
    ] = None,
    note: NoteOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Offer loudspeakers to a job at today's prices, which hold until the quote lapses.

    Example: triptych quote make "2 x Oatfell Linden Tower" "Oatfell Linden Centre" --job "Mill House"
    """
    from triptych.catalog.database.models import Grade
    from triptych.catalog.numbers import percent
    from triptych.catalog.shares import discount as taken_off
    from triptych.catalog.stock import desk
    from triptych.catalog.stock.quotes import Item

    try:
        rate = None if tax_rate is None else percent(tax_rate)
    except BadInput as problem:
        raise BadInput(f"--tax-rate {problem}") from None
    try:
        off = None if discount is None else taken_off(discount)
    except BadInput as problem:
        raise BadInput(f"--discount {problem}") from None
    amount, currency = money(price, "--price")
    taxed = None if rate is None else float(rate)
    like = Item("", quantity, Grade(grade.value), finish, amount, currency, taxed, single, off)
    with options.catalogue(db) as engine:
        made = with_finish(
            lambda wanted: desk.make_quote(engine, job, wanted, until, whoever(), note, location),
            [_item(text, like) for text in items],
            _with_finish,
        )
    for said in made.warnings:
        tell(said)
    _print(made.offer, style)


def _with_finish(items: list[Item], speaker: str, finish: str | None) -> list[Item]:
    return [
        dataclasses.replace(one, finish=finish) if one.speaker == speaker and one.finish is None else one
        for one in items
    ]


def _item(text: str, like: Item) -> Item:
    speaker, quantity = _counted(text)
    return dataclasses.replace(like, speaker=speaker, quantity=like.quantity if quantity is None else quantity)


def _counted(text: str) -> tuple[str, int | None]:
    """Read `2 x MODEL`."""
    counted = re.fullmatch(r"\s*(\d{1,7})\s*[x×]\s+(.+)", text, re.IGNORECASE | re.ASCII | re.DOTALL)
    return (text, None) if counted is None else (counted[2], int(counted[1]))


@app.command()
def show(number: NumberArgument, style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """Show one quote with its lines, what they cost, and what is left of the price.

    Example: triptych quote show 12
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.quote_reading import offers

    with options.catalogue(db) as engine, reading(engine) as session:
        found = offers(session, number)[0]
    _print(found, style)


@app.command("print")
def print_(
    number: NumberArgument,
    out: Annotated[Path, typer.Option("--out", "-o", help="The HTML or PDF file to write.", show_default=False)],
    db: DatabaseOption = None,
) -> None:
    """Write a quote as a page to print or send: finishes, prices, discounts; what it costs us stands on none.

    Example: triptych quote print 12 --out quote.html
    """
    from triptych.catalog import page_files
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.quote_page import quote_page
    from triptych.catalog.stock.quote_reading import offers

    page_files.refuse_name(out)
    with options.catalogue(db) as engine, reading(engine) as session:
        found = offers(session, number)[0]
    page_files.write(quote_page(found), out)
    tell(f"quote {number}: {out}")


@app.command("list")
def list_(style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """List all quotes and how far each came.

    Example: triptych quote list --format csv
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.quote_reading import offers

    with options.catalogue(db) as engine, reading(engine) as session:
        found = offers(session)
    if style is Style.JSON:
        options.print_json(found)
    else:
        fields = ("number", "job", "state", "total", "currency", "until", "note", "returned", "refunded")
        print_records(found, fields, style, ("number", "total", "returned", "refunded"), {**UNTIL, **CAME_BACK})
        if not found:
            tell("no quote yet")


@app.command()
def accept(
    number: NumberArgument,
    until: UntilOption = None,
    location: Annotated[
        str | None, typer.Option("--location", "-l", help="Take them from there only.", show_default=False)
    ] = None,
    serial: SerialsOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Reserve all that was quoted, or nothing.

    Example: triptych quote accept 12 --until 2027-01-31
    """
    from triptych.catalog.stock import desk

    with options.catalogue(db) as engine:
        step = desk.accept_quote(engine, number, until, location, words.serials(serial), whoever())
    _say(step, style)


@app.command()
def sell(
    number: NumberArgument,
    items: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="MODEL...",
            help="What is delivered now, '2 x MODEL' or 'MODEL, FINISH'; all that is left if left out.",
            show_default=False,
        ),
    ] = None,
    finish: Annotated[
        str | None, typer.Option("--finish", help="Only those in this finish.", show_default=False)
    ] = None,
    serial: SoldSerialsOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Turn the reservations of an accepted quote into sales at its prices: all, or what is delivered now.

    Example: triptych quote sell 12 "2 x Oatfell Linden Tower"
    """
    from triptych.catalog.database.rows import name_key
    from triptych.catalog.stock import desk
    from triptych.catalog.stock.quotes import QuotePart

    parts = [QuotePart(*_counted(text), finish) for text in items or ()]
    if finish is not None and not parts:
        raise BadInput("--finish says in which of what is delivered: name the loudspeaker too")
    with options.catalogue(db) as engine:
        step = with_finish(
            lambda wanted: desk.sell_quote(engine, number, words.serials(serial), whoever(), wanted),
            parts,
            lambda wanted, speaker, finish: [
                dataclasses.replace(one, finish=finish) if name_key(one.speaker) == name_key(speaker) else one
                for one in wanted
            ],
        )
    _say(step, style)


@app.command()
def lapse(number: NumberArgument, style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """End a quote for good before its day; what is kept for it is free. What was delivered stays sold.

    Example: triptych quote lapse 12
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock import desk
    from triptych.catalog.stock.quote_reading import offers, parted_words

    with options.catalogue(db) as engine:
        if somebody_there():
            with reading(engine) as session:
                found = offers(session, number)[0]
            told = parted_words(found) if found.state == "accepted" else ""
            if told:
                options.agreed(f"quote {number}: {told}. Let go of the rest for good?", "nothing was ended")
        step = desk.lapse_quote(engine, number, whoever())
    _say(step, style)


def _say(step: Step, style: Style) -> None:
    """Tell what a step of a quote came to, once it is committed."""
    for warning in step.warnings:
        tell(warning)
    if style is Style.JSON:
        moved = [dataclasses.asdict(done) for done in step.moved]
        options.print_json(Answers().plain(step.offer) | {"movements": moved, "warnings": step.warnings})
        return
    words.say_all(step.moved, style)
    offer = step.offer
    tell(
        f"quote {offer.number} for {offer.job}: {offer.state}" + ("" if step.moved else ", nothing was reserved for it")
    )


def _print(offer: Offer, style: Style) -> None:
    from triptych.catalog.stock.timing import until_words

    if style is Style.JSON:
        options.print_json(offer)
        return
    print_quoted(offer.lines, style)
    share = "" if offer.margin is None else f", margin {offer.margin:.0%}"
    end = until_words(offer.until, offer.zone)
    total = f"{offer.total} {offer.currency} {offer.tax_words}"
    tell(f"quote {offer.number} for {offer.job}: {offer.state}, {total}{share}, until {end}")
    for line in offer.lines:
        if line.returned:
            tell(
                f"owed again: {line.returned} × {line.speaker}{f', {line.finish}' if line.finish else ''}, which came"
                " back: what is sold for the job goes in its place"
            )
