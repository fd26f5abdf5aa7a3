"""`triptych quote`: prices that hold until a day, then reservations, then sales."""

from __future__ import annotations

import dataclasses
import re
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Any

import typer

from catalog.cli import options
from catalog.cli.options import DatabaseOption, Style, StyleOption, tell
from catalog.cli.stock_views import hold_until, money, print_records
from catalog.cli.stock_words import FinishOption, GradeName, GradeOption, NoteOption, UntilOption, whoever

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from catalog.stock.quote_reading import Offer
    from catalog.stock.quotes import Item

app = options.application("Quotes: make, show, list, accept, sell, lapse.")

NumberArgument = Annotated[int, typer.Argument(help="The quote's number.", show_default=False)]


@app.command()
def make(
    items: Annotated[
        list[str], typer.Argument(metavar="MODEL...", help="Loudspeakers; '2 x MODEL' for more than one, or one pair.")
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
        typer.Option("--price", help="What one is to cost, '480 EUR', in place of the catalogue.", show_default=False),
    ] = None,
    tax_rate: Annotated[
        float | None,
        typer.Option("--tax-rate", help="Percent of tax, for prices that don't say.", show_default=False),
    ] = None,
    note: NoteOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Offer loudspeakers to a job at today's prices, which hold until the quote lapses.

    Example: triptych quote make "2 x Oatfell Linden Tower" "Oatfell Linden Centre" --job "Mill House"
    """
    from catalog.database import writing
    from catalog.models import Grade
    from catalog.stock import quotes
    from catalog.stock.quote_reading import offers
    from catalog.stock.quotes import Item

    amount, currency = money(price, "--price")
    with options.catalogue(db) as engine, writing(engine) as session:
        like = Item("", 1, Grade(grade.value), finish, amount, currency, tax_rate)
        wanted = [_item(session, text, quantity, like) for text in items]
        end = hold_until(session, until, "")
        number, remarks = quotes.make(session, job, wanted, end, whoever(), note)
        made = offers(session, number)[0]
    for remark in remarks:
        tell(f"warning: {remark}")
    _print(made, style)


def _item(session: Session, text: str, quantity: int | None, like: Item) -> Item:
    from catalog.queries import stored
    from catalog.stock.holdings import pack_of

    counted = re.fullmatch(r"\s*(\d{1,7})\s*[x×]\s+(.+)", text, re.IGNORECASE | re.ASCII | re.DOTALL)
    name = counted[2] if counted else text
    units = int(counted[1]) if counted else quantity
    if units is None:
        units = pack_of(session, stored(session, name).id)
    return dataclasses.replace(like, speaker=name, quantity=units)


@app.command()
def show(number: NumberArgument, style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """Show one quote with its lines, what they cost, and what is left of the price.

    Example: triptych quote show 12
    """
    from catalog.database import reading
    from catalog.stock.quote_reading import offers

    with options.catalogue(db) as engine, reading(engine) as session:
        found = offers(session, number)[0]
    _print(found, style)


@app.command("list")
def list_(style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """List all quotes and how far each came.

    Example: triptych quote list --format csv
    """
    from catalog.database import reading
    from catalog.stock.quote_reading import offers

    with options.catalogue(db) as engine, reading(engine) as session:
        found = offers(session)
    if style is Style.JSON:
        options.print_json([_plain(offer) for offer in found])
    else:
        print_records(
            found, ("number", "job", "state", "total", "currency", "until", "note"), style, ("number", "total")
        )


@app.command()
def accept(
    number: NumberArgument,
    until: UntilOption = None,
    location: Annotated[
        str | None, typer.Option("--location", "-l", help="Take them from there only.", show_default=False)
    ] = None,
    db: DatabaseOption = None,
) -> None:
    """Reserve all that was quoted, or nothing.

    Example: triptych quote accept 12 --until 2027-01-31
    """
    from catalog.database import writing
    from catalog.stock import quotes

    with options.catalogue(db) as engine, writing(engine) as session:
        end = None if until is None else hold_until(session, until, location or "")
        numbers = quotes.accept(session, number, end, location, whoever())
    tell(f"quote {number} accepted: reserved (line {', '.join(map(str, numbers))})")


@app.command()
def sell(number: NumberArgument, db: DatabaseOption = None) -> None:
    """Turn the reservations of an accepted quote into sales at its prices, all or none.

    Example: triptych quote sell 12
    """
    from catalog.database import writing
    from catalog.stock import quotes

    with options.catalogue(db) as engine, writing(engine) as session:
        numbers = quotes.sell(session, number, whoever())
    tell(f"quote {number} sold (line {', '.join(map(str, numbers))})")


@app.command()
def lapse(number: NumberArgument, db: DatabaseOption = None) -> None:
    """End a quote before its day; what is reserved for it is free again.

    Example: triptych quote lapse 12
    """
    from catalog.database import writing
    from catalog.stock import quotes

    with options.catalogue(db) as engine, writing(engine) as session:
        numbers = quotes.lapse(session, number, whoever())
    tell(f"quote {number} lapsed" + (f": {len(numbers)} reservations released" if numbers else ""))


def _plain(offer: Offer) -> dict[str, Any]:
    return {name: _value(value) for name, value in dataclasses.asdict(offer).items()}


def _value(value: Any) -> Any:
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, (list, tuple)):
        return [_value(part) for part in value]
    if isinstance(value, dict):
        return {name: _value(part) for name, part in value.items()}
    return value.isoformat() if hasattr(value, "isoformat") else value


LINE = ("speaker", "quantity", "grade", "finish", "price", "per", "total", "tax", "tax_rate", "cost_each", "margin")


def _print(offer: Offer, style: Style) -> None:
    if style is Style.JSON:
        options.print_json(_plain(offer))
        return
    lines = [_rounded(line) for line in offer.lines]
    print_records(lines, LINE, style, ("quantity", "price", "total", "tax_rate", "cost_each", "margin"))
    share = "" if offer.margin is None else f", margin {offer.margin:.0%}"
    tell(
        f"quote {offer.number} for {offer.job}: {offer.state}, {offer.total} {offer.currency}{share}, until"
        f" {offer.until:%Y-%m-%d %H:%M}Z"
    )


@dataclasses.dataclass(frozen=True)
class _Line:
    """A line with its margin in words."""

    speaker: str
    quantity: int
    grade: str
    finish: str | None
    price: Decimal
    per: str
    total: Decimal
    tax: str | None
    tax_rate: float | None
    cost_each: Decimal | None
    margin: str | None


def _rounded(line: Any) -> _Line:
    fields = {name: getattr(line, name) for name in LINE}
    fields["margin"] = None if line.margin is None else f"{line.margin:.0%}"
    return _Line(**fields)
