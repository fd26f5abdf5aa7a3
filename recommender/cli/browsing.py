"""`triptych page`: the whole job in a browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triptych.catalog.cli.options import DatabaseOption, tell


def page(
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Where to listen; 0 takes a free one.")] = 0,
    no_open: Annotated[bool, typer.Option("--no-open", help="Don't open a browser; the address is told.")] = False,
    listen: Annotated[
        str, typer.Option("--listen", help="Another address than this machine's own; needs --passwords.")
    ] = "",
    passwords: Annotated[
        Path | None, typer.Option("--passwords", help="A file of names and argon2 hashes, a line each: name:hash.")
    ] = None,
    name: Annotated[
        list[str] | None,
        typer.Option("--name", help="With --listen: a name under which browsers reach it, as host:port. Repeatable."),
    ] = None,
    hash_password: Annotated[
        bool, typer.Option("--hash-password", help="Ask for a name and a password, print the file's line, and end.")
    ] = False,
    db: DatabaseOption = None,
) -> None:
    """Open the catalogue in a browser: mains, room, centres and money, as the commands tell it.

    It serves this machine alone. The address that it tells opens once and becomes a cookie.

    Example: triptych page --db demo.db
    """
    from triptych.recommender.page import serving
    from triptych.recommender.page.passwords import asked_line

    if hash_password:
        typer.echo(asked_line())
        return
    served = serving.wanted(port, listen, passwords, tuple(name or ()))
    serving.serve(db, served, open_browser=not no_open, tell=tell)
