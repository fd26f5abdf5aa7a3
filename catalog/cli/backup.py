"""`triptych backup` and `triptych restore`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import DatabaseOption, tell


def backup(
    file: Annotated[Path, typer.Argument(help="Where to.", show_default=False)],
    replace: Annotated[bool, typer.Option("--replace", help="Replace a file of that name.")] = False,
    db: DatabaseOption = None,
) -> None:
    """Write a copy of the catalogue to a file, while others use it.

    Example: triptych backup monday.db
    """
    from triptych.catalog.database.copies import backup as write

    with options.catalogue(db) as engine:
        write(engine, file, replace=replace)
    tell(f"backed up to {file}")


def restore(
    file: Annotated[Path, typer.Argument(help="A file that backup wrote.", show_default=False)],
    db: DatabaseOption = None,
) -> None:
    """Put a copy in the place of the catalogue; what was there is laid beside it first.

    Example: triptych restore monday.db
    """
    from triptych.catalog.database.address import as_url, default_url
    from triptych.catalog.database.copies import restore as put_back
    from triptych.catalog.database.engine import open_engine

    engine = open_engine(as_url(db) if db is not None else default_url())
    try:
        kept = put_back(engine, file)
    finally:
        engine.dispose()
    tell(f"restored from {file}" + (f"; what was there: {kept}" if kept else ""))
