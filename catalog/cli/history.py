"""`triptych who` and `triptych history`: under what name somebody writes, and who wrote what."""

from __future__ import annotations

import dataclasses
from typing import Annotated

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell


def who(
    name: Annotated[
        str | None, typer.Argument(help="Your name, kept for this machine and user.", show_default=False)
    ] = None,
    db: DatabaseOption = None,
) -> None:
    """Say under what name is kept what you write, or with a name keep that for this machine.

    On a server it is the login, whatever is kept here; in an SQLite catalogue TRIPTYCH_USER goes before what is kept.

    Example: triptych who "Anna Lund"
    """
    from triptych.catalog.database import signing
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.stock_levels import on_server

    if name is not None:
        tell(f"kept in {signing.keep_name(name)}")
        typer.echo(signing.whoever())
        return
    with options.catalogue(db) as engine, reading(engine) as session:
        login = session.scalar(signing.LOGIN) if on_server(session) else signing.whoever()
    typer.echo(login or "")
    if not login:
        tell("nobody knows: keep a name with triptych who NAME")


def history(
    speaker: Annotated[
        str | None, typer.Option("--speaker", help="Only of this loudspeaker, and its prices.", show_default=False)
    ] = None,
    room: Annotated[str | None, typer.Option("--room", help="Only of this room.", show_default=False)] = None,
    kind: Annotated[
        str | None,
        typer.Option("--kind", help="Only of these: loudspeaker, price, quote, supply_order...", show_default=False),
    ] = None,
    person: Annotated[str | None, typer.Option("--who", help="Only by this person.", show_default=False)] = None,
    day: Annotated[
        str | None, typer.Option("--day", metavar="DATE", help="Only of this day.", show_default=False)
    ] = None,
    last: Annotated[int | None, typer.Option("--last", min=1, help="Only the newest.", show_default=False)] = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List who made, changed or removed what and when, oldest first; the stock's movements stand in `stock ledger`.

    Example: triptych history --speaker "Oatfell Linden Centre"
    """
    from triptych.catalog.cli.stock_tables import MOMENT, print_records
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.deeds import Deed, DeedsAsked
    from triptych.catalog.stock.deeds import history as read
    from triptych.catalog.stock.timing import day_of

    wanted = DeedsAsked(speaker, room, kind, person, day_of(day, "--day"))
    with options.catalogue(db) as engine, reading(engine) as session:
        found = read(session, wanted, last)
    if style is Style.TABLE and found:
        told = [(MOMENT["at"](one), one.who or "", f"{one.deed} {one.subject}", one.name, one.said) for one in found]
        options.print_table(["at", "who", "what", "name", "as it was then"], [[*row] for row in told])
    else:
        print_records(found, [field.name for field in dataclasses.fields(Deed)], style)
    if not found:
        tell("nothing was written")
