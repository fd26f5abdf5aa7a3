"""`triptych room`: rooms in and out of the catalogue."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from triptych.catalog.cli import options, room_list
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell
from triptych.catalog.records import RoomRecord

if TYPE_CHECKING:
    from triptych.catalog.fields import Field

app = options.application("Rooms: import, new, edit, show, list, export, remove.")

NameArgument = Annotated[str, typer.Argument(help="The room's name, in any case.", show_default=False)]


@app.command("import")
def import_(
    file: Annotated[Path, typer.Argument(help="A room in TOML.", show_default=False)],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Check the file and change nothing.")] = False,
    db: DatabaseOption = None,
) -> None:
    """Take a room from a file; one of the same name is replaced. Everything that is wrong is named.

    Example: triptych room import mill_house.toml
    """
    from triptych.catalog.files.rooms import read_room

    room = read_room(file)
    if dry_run:
        tell(f"{file.name} is a good room: {room.name}")
        _warn(db, room)
    else:
        _save(db, room)


def _save(db: str | None, room: RoomRecord) -> None:
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.writes import save_room

    with options.catalogue(db, fresh=True) as engine, writing(engine) as session:
        saved = save_room(session, room)
    done = "added" if saved.added else "replaced" if saved.changed else "unchanged"
    tell(f"{done}: {room.name}")
    _warn(db, room)


def _warn(db: str | None, room: RoomRecord) -> None:
    """Tell mains that no catalogue has: they may come later, or be mistyped."""
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.reads import unknown_mains

    if room.mains.speaker is None:
        return
    with options.catalogue(db) as engine, reading(engine) as session:
        if said := unknown_mains(session, room):
            tell(f"warning: {said}")


@app.command()
def new(db: DatabaseOption = None) -> None:
    """Describe a room question by question; each says what to measure and where.

    Nothing is written before the last answer. An empty answer is unknown, where that may be.

    Example: triptych room new
    """
    from triptych.catalog.cli.survey import survey
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.reads import loudspeaker, rooms

    with options.catalogue(db, fresh=True) as engine:
        with reading(engine) as session:
            taken = rooms(session)

        # read anew at each answer: a person takes minutes, and no transaction should wait for that
        def mains(name: str) -> str:
            with reading(engine) as session:
                return loudspeaker(session, name).name

        room = survey(taken, mains)
    _save(db, room)
    tell(f"triptych room export {_argument(room.name)} gives it as a file; triptych match uses it by name")


@app.command()
def edit(
    name: NameArgument,
    set: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="KEY=VALUE",
            help="A key of the room's file, such as screen.bottom or 'seat.left.x'; empty takes it out. Repeatable.",
        ),
    ] = None,
    add: Annotated[
        list[str] | None, typer.Option("--add", metavar="PART", help="A new seat.NAME or place.NAME. Repeatable.")
    ] = None,
    remove: Annotated[
        list[str] | None,
        typer.Option("--remove", metavar="PART", help="A seat.NAME, a place.NAME or a whole section. Repeatable."),
    ] = None,
    db: DatabaseOption = None,
) -> None:
    """Change a room key by key, or its name; what others change of it meanwhile stays.

    Example: triptych room edit "Mill House" --set "screen.bottom=82 cm" --add place.shelf --set place.shelf.kind=top
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.reads import room
    from triptych.catalog.database.writes import replace_room
    from triptych.catalog.files.room_edits import edited_room

    changes = dict(options.pair(one, "--set") for one in set or [])
    if not (changes or add or remove):
        raise typer.BadParameter("say what changes: --set, --add or --remove")
    with options.catalogue(db) as engine, writing(engine) as session:
        new = edited_room(room(session, name, hold=True), changes, add or (), remove or ())
        saved = replace_room(session, name, new)
    tell(f"{'changed' if saved.changed else 'unchanged'}: {new.name}")
    _warn(db, new)


@app.command()
def remove(
    name: NameArgument,
    measured: Annotated[bool, typer.Option("--measured", help="What was measured in it too.")] = False,
    db: DatabaseOption = None,
) -> None:
    """Take a room away for good; refused where something was measured in it.

    Example: triptych room remove "Mill House"
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.writes import remove_room

    with options.catalogue(db) as engine, writing(engine) as session:
        removed = remove_room(session, name, measured=measured)
    tell(f"removed: {removed}")


def _argument(name: str) -> str:
    import shlex

    return shlex.quote(name)


@app.command()
def show(name: NameArgument, style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """Show one room with its seats and places.

    Example: triptych room show "mill house"
    """
    from triptych.catalog.cli.values import ROOM_UNITS, room_values

    room = _room(db, name)
    if style is Style.JSON:
        options.print_json({"units": ROOM_UNITS} | room_values(room))
        return
    rows = _rows(room)
    if style is Style.CSV:
        options.print_csv([("section", "key", "value"), *rows])
    else:
        options.print_table(("section", "key", "value"), rows)


def _rows(room: RoomRecord) -> list[tuple[str, str, str]]:
    """One row a key, values as in the file; a section that is not there is unknown as a whole."""
    from triptych.catalog.fields import SECTIONS

    rows = [("", "name", room.name)]
    for name, section in SECTIONS.items():
        for number, record in enumerate(section.records(room), start=1):
            where = f"{name} {number}" if section.repeated else name
            rows += [(where, key, _shown(one, getattr(record, key, None))) for key, one in section.keys.items()]
    return rows


def _shown(key: Field, value: Any) -> str:
    from triptych.catalog.files.rooms import toml_value

    if value is None:
        return "unknown"
    if key.quantity is not None:
        return key.shown(value)
    told = toml_value(key, value)
    return str(told).lower() if isinstance(told, bool) else str(told)


app.command("list")(room_list.list_)


@app.command()
def export(
    name: NameArgument,
    file: Annotated[str, typer.Argument(help="Where to; - for stdout. A file of that name is replaced.")] = "-",
    db: DatabaseOption = None,
) -> None:
    """Write a room as TOML that imports to the identical room.

    Example: triptych room export "Mill House" mill_house.toml
    """
    from triptych.catalog.files.rooms import toml_of, write_room

    room = _room(db, name)
    if file == "-":
        typer.echo(toml_of(room), nl=False)
    else:
        write_room(Path(file), room)
        tell(f"wrote {room.name} to {file}")


def _room(db: str | None, name: str) -> RoomRecord:
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.reads import room

    with options.catalogue(db) as engine, reading(engine) as session:
        return room(session, name)
