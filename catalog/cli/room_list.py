"""`triptych room list`: apart from the other commands of rooms, so that it needs none of what they need."""

from __future__ import annotations

from triptych.catalog.cli import options
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell


def list_(style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """List the rooms in order of their names.

    Example: triptych room list
    """
    from triptych.catalog.database.direct import looked_at
    from triptych.catalog.database.listings import rooms_shown

    found = looked_at(db, rooms_shown)
    headers = ("room", "seats", "places")
    rows = [(one.name, str(one.seats), str(one.places)) for one in found]
    if style is Style.JSON:
        options.print_json({"rooms": found})
    elif style is Style.CSV:
        options.print_csv([headers, *rows])
    elif rows:
        options.print_table(headers, rows, right=headers[1:])
    else:
        tell("no room yet; triptych room new asks for one")
