"""`triptych supplier`: who delivers, at what price and when; their files in."""

from __future__ import annotations

import dataclasses
import shlex
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import DatabaseOption, DecimalOption, Style, StyleOption, tell
from triptych.catalog.cli.stock_tables import print_records
from triptych.catalog.cli.stock_words import FinishOption, ModelArgument, NewFinishOption, say_all, whoever
from triptych.catalog.errors import BadInput
from triptych.catalog.words import PricePer

if TYPE_CHECKING:
    from triptych.catalog.stock.price_lists import Listed
    from triptych.catalog.stock.reordering import ToOrder

app = options.application("Suppliers: add, list, prices, order, orders, reorder, article, cancel.")

FileArgument = Annotated[Path, typer.Argument(help="A CSV or XLSX file with a header.", show_default=False)]
DryRunOption = Annotated[bool, typer.Option("--dry-run", help="Show what would change and change nothing.")]
MapOption = Annotated[
    list[str] | None,
    typer.Option(
        "--map",
        metavar="THEIRS=OURS",
        help="Column THEIRS is OURS, which is kept for the supplier's next file; THEIRS= leaves it out. Repeatable.",
    ),
]


@app.command()
def add(
    name: Annotated[str, typer.Argument(help="Its name.", show_default=False)],
    lead_time: Annotated[
        int | None, typer.Option("--lead-time", help="Days from order to delivery.", show_default=False)
    ] = None,
    db: DatabaseOption = None,
) -> None:
    """Add a supplier, or change its lead time.

    Example: triptych supplier add "Harbour Trading" --lead-time 21
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.names import mistaken_for
    from triptych.catalog.stock.suppliers import save_supplier, suppliers

    with options.catalogue(db) as engine, writing(engine) as session:
        before = [source.name for source in suppliers(session)]
        save_supplier(session, name, lead_time)
        new = len(suppliers(session)) > len(before)
    near = mistaken_for(name, before) if new else None
    tell(f"supplier {name}{': new' if new else ''}" + (f", beside {near}: are they two?" if near else ""))


@app.command("list")
def list_(style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """List the suppliers.

    Example: triptych supplier list
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.suppliers import suppliers

    with options.catalogue(db) as engine, reading(engine) as session:
        found = suppliers(session)
    print_records(found, ("name", "lead_time"), style, ("lead_time",))
    if not found:
        tell("no supplier yet: add one with supplier add")


def _print_listed(found: Listed, style: Style, *, dry_run: bool) -> None:
    """Show what a file changed, or would have."""
    for remark in found.remarks:
        tell(f"warning: {remark}")
    print_records(found.changes, ("speaker", "change", "before", "after"), style)
    for note in found.notes:
        tell(note)
    would = "would have " if dry_run else ""
    tell(f"{would}changed {len(found.changes)}, unchanged {found.unchanged}")


def pairs(texts: list[str] | None) -> dict[str, str]:
    """Read --map options."""
    found = {}
    for text in texts or []:
        theirs, mark, ours = text.partition("=")
        if not mark or not theirs.strip():
            raise typer.BadParameter(f"{text!r} is no pair; write one name, '=' and another", param_hint="--map")
        found[theirs.strip()] = ours.strip().lower().replace(" ", "_")
    return found


@app.command()
def prices(
    supplier: Annotated[str, typer.Argument(help="The supplier's name.", show_default=False)],
    file: FileArgument,
    start: Annotated[
        str | None, typer.Option("--from", metavar="DATE", help="From when they hold; today if left out.")
    ] = None,
    currency: Annotated[
        str | None, typer.Option("--currency", help="Of amounts without one.", show_default=False)
    ] = None,
    per: Annotated[
        PricePer | None,
        typer.Option(
            "--per", help="What an amount buys of what is sold in pairs, where no per says it.", show_default=False
        ),
    ] = None,
    map: MapOption = None,
    decimal: DecimalOption = None,
    dry_run: DryRunOption = False,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Take a price list: all of it or, with one bad cell, nothing. The same list again changes nothing.

    Columns: speaker (or maker, series, model), cost without tax, retail, currency, per (each or pair), tax, tax_rate.

    Example: triptych supplier prices "Harbour Trading" january.xlsx --from 2027-01-01 --map "Trade price=cost"
    """
    from triptych.catalog import money
    from triptych.catalog.stock.price_lists import import_prices
    from triptych.catalog.stock.timing import day_of

    given = pairs(map)
    day = day_of(start, "--from") or datetime.now(UTC).date()
    code = money.currency(currency) if currency else None
    with options.catalogue(db) as engine:
        found = import_prices(engine, supplier, file, day, given, code, decimal, per=per, dry_run=dry_run)
    _print_listed(found, style, dry_run=dry_run)


@app.command()
def order(
    model: ModelArgument,
    supplier: Annotated[str, typer.Option("--supplier", help="From whom.", show_default=False)],
    quantity: Annotated[int, typer.Option("--quantity", "-n", help="How many loudspeakers.", show_default=False)],
    expected: Annotated[
        str | None, typer.Option("--expected", metavar="DATE", help="When they should come.", show_default=False)
    ] = None,
    job: Annotated[
        str | None, typer.Option("--job", help="For whom; left out, they are for stock.", show_default=False)
    ] = None,
    finish: FinishOption = None,
    db: DatabaseOption = None,
) -> None:
    """Write down what was ordered; `stock receive --order NUMBER` takes it in. What is discontinued is refused.

    Example: triptych supplier order "Oatfell Linden Centre" --supplier "Harbour Trading" --quantity 2
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.stock import suppliers
    from triptych.catalog.stock.locations import refuse_mistyped_job
    from triptych.catalog.stock.timing import day_of

    day = day_of(expected, "--expected")
    with options.catalogue(db) as engine, writing(engine) as session:
        refuse_mistyped_job(session, job)
        number = suppliers.order(session, model, quantity, supplier, day, job, finish)
    sort = f", {finish}," if finish else ""
    tell(f"order {number}: {quantity} × {model}{sort} from {supplier}" + (f", expected {day}" if day else ""))
    tell(f"when they come: triptych stock receive {shlex.quote(model)} -n {quantity} --order {number} -l LOCATION")


@app.command()
def orders(
    everything: Annotated[bool, typer.Option("--all", help="Also what has come or was cancelled.")] = False,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List what is ordered and has not come.

    Example: triptych supplier orders --format csv
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.suppliers import Order
    from triptych.catalog.stock.suppliers import orders as read

    with options.catalogue(db) as engine, reading(engine) as session:
        found = read(session, every=everything)
    print_records(found, [field.name for field in dataclasses.fields(Order)], style, ("number", "quantity", "come"))
    if not found:
        tell("nothing is ordered" if everything else "nothing that is ordered is still to come")


@app.command()
def reorder(
    model: Annotated[str | None, typer.Argument(help="Set the point of this loudspeaker.", show_default=False)] = None,
    least: Annotated[
        int | None, typer.Option("--least", help="Below so many, 0 for no point.", show_default=False)
    ] = None,
    up_to: Annotated[
        int | None,
        typer.Option("--up-to", help="How many there are to be then; as many if left out.", show_default=False),
    ] = None,
    finish: FinishOption = None,
    everything: Annotated[bool, typer.Option("--all", help="Also what there is enough of.")] = False,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List what is to be ordered and from whom; with a loudspeaker set below how many, free or coming, that is so.

    Example: triptych supplier reorder "Oatfell Linden Centre" --least 2 --up-to 6
    """
    from triptych.catalog.database.engine import reading, writing
    from triptych.catalog.stock.reordering import ToOrder, set_reorder_point, to_order

    if (model is None) != (least is None):
        raise BadInput("a point has a loudspeaker and --least, how many there are to be at least")
    if model is not None and least is not None:
        with options.catalogue(db) as engine, writing(engine) as session:
            set_reorder_point(session, model, least, least if up_to is None else up_to, finish)
        tell(f"{model}: no point" if least == 0 else f"{model}: at least {least}, up to {up_to or least}")
        return
    with options.catalogue(db) as engine, reading(engine) as session:
        found = to_order(session, every=everything)
    fields = [field.name for field in dataclasses.fields(ToOrder)]
    if style is Style.TABLE and found:
        headers = ["loudspeaker", "there", "least", "order", "from"]
        options.print_table(headers, [_reordered(one) for one in found], right=["there", "least", "order"])
    else:
        print_records(found, fields, style)
    if not found:
        tell("nothing is below its point")


def _reordered(one: ToOrder) -> list[str]:
    return [one.called, f"{one.free} + {one.coming}", str(one.least), str(one.to_order), one.source]


@app.command()
def article(
    model: Annotated[str | None, typer.Argument(help="The loudspeaker.", show_default=False)] = None,
    number: Annotated[str | None, typer.Argument(help="Its number.", show_default=False)] = None,
    supplier: Annotated[
        str | None, typer.Option("--supplier", help="Whose number it is; ours if left out.", show_default=False)
    ] = None,
    finish: FinishOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List article numbers, or keep one: files of deliveries and prices may name loudspeakers by it.

    Example: triptych supplier article "Oatfell Linden Centre" LC-20-OAK --supplier "Harbour Trading" --finish oak
    """
    from triptych.catalog.database.engine import reading, writing
    from triptych.catalog.stock.reordering import Numbered, article_numbers, save_article

    if (model is None) != (number is None):
        raise BadInput("name the loudspeaker and its number, or neither to list them")
    if model is not None and number is not None:
        with options.catalogue(db) as engine, writing(engine) as session:
            save_article(session, model, number, supplier, finish)
        tell(f"article {number}: {', '.join(filter(None, (model, finish)))}")
        return
    with options.catalogue(db) as engine, reading(engine) as session:
        found = article_numbers(session)
    print_records(found, [field.name for field in dataclasses.fields(Numbered)], style)
    if not found:
        tell("no article has a number yet")


@app.command()
def cancel(
    number: Annotated[int, typer.Argument(help="The order's number.", show_default=False)], db: DatabaseOption = None
) -> None:
    """Cancel what has not come of an order.

    Example: triptych supplier cancel 4
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.stock.suppliers import cancel_order

    with options.catalogue(db) as engine, writing(engine) as session:
        cancel_order(session, number)
    tell(f"order {number} cancelled")


def delivery(
    file: FileArgument,
    number: Annotated[
        str, typer.Option("--delivery", help="Number of the delivery note: each is taken once.", show_default=False)
    ],
    location: Annotated[
        str | None, typer.Option("--location", "-l", help="Where, for rows that don't say.", show_default=False)
    ] = None,
    supplier: Annotated[
        str | None, typer.Option("--supplier", help="Whose numbers of articles are meant.", show_default=False)
    ] = None,
    currency: Annotated[
        str | None, typer.Option("--currency", help="Of costs without one.", show_default=False)
    ] = None,
    per: Annotated[
        PricePer | None,
        typer.Option(
            "--per", help="What a cost buys of what is sold in pairs, where no per says it.", show_default=False
        ),
    ] = None,
    new_finish: NewFinishOption = False,
    map: MapOption = None,
    dry_run: DryRunOption = False,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Take in a delivery from a file: all of it or, with one bad cell, nothing; the same delivery comes once.

    Columns: speaker (or maker, series, model; or article), quantity, cost without tax, per (each or pair), currency,
    serial (several apart by commas), order, location, grade, finish, single, note.

    Example: triptych stock deliver note.csv --delivery 4711 --location shop
    """
    from triptych.catalog import money
    from triptych.catalog.stock.deliveries import Delivery, receive_delivery

    code = money.currency(currency) if currency else None
    about = Delivery(number, location, supplier, code, pairs(map), whoever(), new_finish, per)
    with options.catalogue(db) as engine:
        found = receive_delivery(engine, file, about, dry_run=dry_run)
    for remark in dict.fromkeys(remark for answer in found for remark in answer.remarks):
        tell(remark)
    done = [answer.done for answer in found]
    if style is Style.JSON:
        options.print_json(done)
    else:
        say_all(done, style)
    tell(f"{'would have ' if dry_run else ''}received {sum(one.quantity for one in done)} in {len(done)} rows")


def counts(
    file: FileArgument,
    reason: Annotated[str, typer.Option("--reason", help="Why: the ledger keeps it.", show_default=False)],
    location: Annotated[
        str | None, typer.Option("--location", "-l", help="Where, for rows that don't say.", show_default=False)
    ] = None,
    supplier: Annotated[
        str | None, typer.Option("--supplier", help="Whose names for the columns are meant.", show_default=False)
    ] = None,
    map: MapOption = None,
    dry_run: DryRunOption = False,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Take a stock count from a file: all of it or, with one bad cell, nothing. The same file again changes nothing.

    Columns: speaker (or maker, series, model), quantity, location, grade, finish, single.

    Example: triptych stock import june.csv --location shop --reason "June count"
    """
    from triptych.catalog.stock.counts import import_counts

    given = pairs(map)
    with options.catalogue(db) as engine:
        found = import_counts(engine, file, reason, location, supplier, given, whoever(), dry_run=dry_run)
    _print_listed(found, style, dry_run=dry_run)
