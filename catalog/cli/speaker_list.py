"""`triptych speaker list`: apart from the other commands of loudspeakers, so that it needs none of what they need."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell
from triptych.catalog.errors import BadInput
from triptych.catalog.words import Enclosure, PortLocation, Role

if TYPE_CHECKING:
    from triptych.catalog.database.listings import LoudspeakerFilter
    from triptych.catalog.records import LoudspeakerRecord

PAGE_SIZE: Final = 50
"""Rows that a table shows at once unless it is told otherwise."""


def list_(
    role: Annotated[Role | None, typer.Option(help="Offered for this.")] = None,
    maker: Annotated[str | None, typer.Option(help="Of this maker, in any case.", show_default=False)] = None,
    text: Annotated[
        str | None, typer.Option(help="With these words in the name or family.", show_default=False)
    ] = None,
    max_price: Annotated[
        str | None, typer.Option(help="Price of one, at most; '700' or '700 EUR'.", show_default=False)
    ] = None,
    max_width: Annotated[str | None, typer.Option(help="At most so wide [mm].", show_default=False)] = None,
    max_height: Annotated[str | None, typer.Option(help="At most so high [mm].", show_default=False)] = None,
    max_depth: Annotated[str | None, typer.Option(help="At most so deep [mm].", show_default=False)] = None,
    enclosure: Annotated[Enclosure | None, typer.Option(help="With this enclosure.")] = None,
    port: Annotated[PortLocation | None, typer.Option(help="With the port there.")] = None,
    in_stock: Annotated[bool, typer.Option("--in-stock", help="With a unit that can be promised now.")] = False,
    retired: Annotated[bool, typer.Option("--retired", help="Retired ones too.")] = False,
    page: Annotated[int, typer.Option(min=1, help="Which page.")] = 1,
    page_size: Annotated[
        int | None,
        typer.Option(min=1, help=f"Rows a page; {PAGE_SIZE} in a table, else all, if left out.", show_default=False),
    ] = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List loudspeakers in order of their names; an unknown figure meets no limit.

    Example: triptych speaker list --role centre --max-height "7 in" --max-price "700 EUR"
    """
    from triptych.catalog.cli import speaker_tables
    from triptych.catalog.database.listings import LoudspeakerFilter

    price, currency = _price(max_price)
    wanted = LoudspeakerFilter(
        role=role,
        maker=maker,
        text=text,
        price_max=price,
        currency=currency,
        enclosure=enclosure,
        port=port,
        in_stock=in_stock,
        include_retired=retired,
        page=page,
        page_size=page_size or (PAGE_SIZE if style is Style.TABLE else None),
        max_width=_limit("width", max_width),
        max_height=_limit("height", max_height),
        max_depth=_limit("depth", max_depth),
    )
    records, total = _shown(db, wanted) if style is Style.TABLE else _whole(db, wanted)
    speaker_tables.print_many(records, style, total, page)
    _tell_page(wanted, len(records), total)


def _shown(db: str | None, wanted: LoudspeakerFilter) -> tuple[list[LoudspeakerRecord], int]:
    """Give a page with what a table shows, and how many there are on all."""
    from triptych.catalog.database.direct import looked_at
    from triptych.catalog.database.listings import loudspeakers_shown, number_of_loudspeakers

    if wanted.needs_more:
        return _whole(db, wanted)
    return looked_at(db, lambda ask: (loudspeakers_shown(ask, wanted), number_of_loudspeakers(ask, wanted)))


def _whole(db: str | None, wanted: LoudspeakerFilter) -> tuple[list[LoudspeakerRecord], int]:
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.reads import count, loudspeakers

    with options.catalogue(db) as engine, reading(engine) as session:
        return loudspeakers(session, wanted), count(session, wanted)


def _price(text: str | None) -> tuple[Any, str | None]:
    if text is None:
        return None, None
    from triptych.catalog import money

    try:
        amount = money.price(text)
        return amount.value, money.currency_of(amount, text)
    except BadInput as problem:
        raise BadInput(f"--max-price: {problem}") from None


def _limit(name: str, text: str | None) -> float | None:
    if text is None:
        return None
    from triptych.catalog.fields import COLUMNS

    try:
        limit: float | None = COLUMNS[name].read(text)
    except BadInput as problem:
        raise BadInput(f"--max-{name}: {problem}") from None
    return limit


def _tell_page(wanted: LoudspeakerFilter, shown: int, total: int) -> None:
    first = (wanted.page - 1) * (wanted.page_size or total) + 1
    if not shown:
        tell(f"none of {total} on page {wanted.page}" if total else "no loudspeaker is like that")
    elif shown < total:
        more = f"; --page {wanted.page + 1} shows more" if first + shown - 1 < total else ""
        tell(f"{first} to {first + shown - 1} of {total}{more}")
