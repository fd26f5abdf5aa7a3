"""`triptych stock available` and `stock price`: what may be promised and when, and what used ones are sold for."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Annotated

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli import stock_words as words
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell
from triptych.catalog.cli.stock_tables import print_records
from triptych.catalog.cli.stock_words import FinishOption, GradeName, GradeOption, ModelArgument, SingleOption
from triptych.catalog.errors import BadInput
from triptych.catalog.words import PricePer

if TYPE_CHECKING:
    from triptych.catalog.stock.availability import Promise


def available(
    model: ModelArgument,
    quantity: Annotated[
        int | None, typer.Option("--quantity", "-n", min=1, help="How many together; one, or one pair, if left out.")
    ] = None,
    grade: GradeOption = GradeName.NEW,
    finish: FinishOption = None,
    single: SingleOption = False,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Say how many may be promised together now, and when otherwise; then what there is of other grades, and its price.

    Example: triptych stock available "Oatfell Linden Tower" --quantity 2
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.models import Grade
    from triptych.catalog.stock.articles import model_named
    from triptych.catalog.stock.availability import Asked, promised

    if grade is GradeName.QUARANTINE:
        raise BadInput("what is in quarantine is neither sold nor promised: regrade it first")
    with options.catalogue(db) as engine, reading(engine) as session:
        found = model_named(session, model)
        wanted = quantity if quantity is not None else 1 if single else found.pack
        asked = Asked(wanted, (Grade(grade.value),), finish, finish is None, single)
        promise = promised(session, [found.number], asked)[found.number]
    if style is Style.TABLE:
        _tell(found.name, promise, wanted, finish, grade)
    else:
        _print(found.name, promise, style)


def _tell(name: str, promise: Promise, wanted: int, finish: str | None, grade: GradeName) -> None:
    sort = ", ".join(filter(None, (finish, None if grade is GradeName.NEW else grade.value.replace("_", " "))))
    now = promise.why if promise.available >= wanted else f"{promise.available} available now"
    typer.echo(options.harmless(f"{name}{f', {sort}' if sort else ''}: {now}"))
    if promise.available < wanted:
        when = f"{wanted} to be had on {promise.when}: " if promise.when else f"{wanted}: "
        typer.echo(options.harmless(f"{when}{promise.why}"))
    for one in promise.others:
        typer.echo(options.harmless(one.words))


def _print(name: str, promise: Promise, style: Style) -> None:
    others = [
        {
            "grade": one.grade.value,
            "units": one.units,
            "finish": one.finish,
            "pack": one.pack,
            "location": one.location,
            "free_on": one.free_on,
            "price": None if one.tag is None else one.tag.price,
            "currency": None if one.tag is None else one.tag.currency,
            "per": None if one.tag is None else one.tag.per.value,
        }
        for one in promise.others
    ]
    said = {"speaker": name, "available": promise.available, "when": promise.when, "why": promise.why}
    if style is Style.JSON:
        options.print_json(said | {"others": others})
        return
    from triptych.catalog.ways_told import cell

    told = said | {"why": promise.told}
    options.print_csv([list(told), [cell(value) for value in told.values()]])


def price(
    model: Annotated[str | None, typer.Argument(help="The loudspeaker.", show_default=False)] = None,
    grade: Annotated[GradeName | None, typer.Option("--grade", help="Of which grade.", show_default=False)] = None,
    amount: Annotated[
        str | None,
        typer.Option(
            "--price",
            help="What one, or a pair, is sold for, '400 EUR'; with tax or without as the price of a new one.",
            show_default=False,
        ),
    ] = None,
    per: Annotated[
        PricePer | None,
        typer.Option("--per", help="What the price buys: asked of what is sold in pairs.", show_default=False),
    ] = None,
    none: Annotated[bool, typer.Option("--none", help="Keep no price any more.")] = False,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List what open box, B-stock and demo units are sold for, or keep it: quotes take that price, answers tell it.

    Example: triptych stock price "Oatfell Linden Centre" --grade demo --price "400 EUR"
    """
    from triptych.catalog.database.engine import reading, writing
    from triptych.catalog.database.models import Grade
    from triptych.catalog.stock.grade_prices import GradePriced, grade_prices, set_grade_price

    if model is not None:
        if grade is None or (amount is None) != none:
            raise BadInput("a price has a loudspeaker, --grade and --price; --none takes it away")
        minor, currency = words.money(amount, "--price")
        with options.catalogue(db) as engine, writing(engine) as session:
            kept = set_grade_price(session, model, Grade(grade.value), minor, currency, per)
        tell(f"{model}, {grade.value.replace('_', ' ')}: {kept}")
        return
    if grade is not None or amount is not None or none:
        raise BadInput("name the loudspeaker whose price is kept")
    with options.catalogue(db) as engine, reading(engine) as session:
        found = grade_prices(session)
    print_records(found, [field.name for field in dataclasses.fields(GradePriced)], style, ("price",))
    if not found:
        tell("no grade has a price of its own yet")
