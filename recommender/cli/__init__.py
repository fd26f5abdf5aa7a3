"""The command line: parse, call one function, render. A command's module is imported when the command is called."""

from __future__ import annotations

import gc
import os
from importlib import import_module
from typing import TYPE_CHECKING, Annotated, Any, Final, NamedTuple

import typer

from triptych.catalog.cli.as_given import spare_conversion
from triptych.catalog.cli.options import Afterwards, Commands, run
from triptych.recommender.cli import began

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from sqlalchemy import Engine

ABOUT: Final = "Find the centre loudspeaker that sounds like the mains, in the room and the furniture there is."


class Home(NamedTuple):
    """Where under `triptych` a command or a group of commands lives, and what the list of commands says of it."""

    module: str
    name: str
    help: str


COMMANDS: Final = {
    "page": Home("recommender.cli.browsing", "page", "The whole job in a browser, on this machine."),
    "match": Home("recommender.cli.matching", "match", "Rank the centres of the catalogue for two mains and a room."),
    "explain": Home("recommender.cli.matching", "explain", "Account for one centre at every place, number by number."),
    "compare": Home("recommender.cli.matching", "compare", "Set two or three centres side by side."),
    "sheet": Home("recommender.cli.sheet", "sheet", "Write one A4 page that an installer takes along."),
    "report": Home("recommender.cli.report", "report", "Write a report for the client, one self-contained file."),
    "verify": Home("recommender.cli.verify", "verify", "Check after installing how near the centre is to the mains."),
    "demo": Home("recommender.cli.demo", "demo", "Run the main job on invented loudspeakers in an invented room."),
    "speaker": Home(
        "catalog.cli.speaker", "app", "Loudspeakers: import, add, edit, rename, merge, show, list, export."
    ),
    "maker": Home("catalog.cli.makers", "maker", "Makers: list, add, rename, merge, remove."),
    "series": Home("catalog.cli.makers", "series", "Series of makers: list, add, rename, merge, remove."),
    "family": Home("catalog.cli.makers", "family", "Families of a voicing: list, add, rename, merge, remove."),
    "equipment": Home(
        "catalog.cli.equipment", "app", "Equipment: receivers, stands, cables: import, add, edit, show, list, export."
    ),
    "room": Home("catalog.cli.room", "app", "Rooms: import, new, edit, show, list, export, remove."),
    "datasheet": Home("catalog.cli.datasheet", "app", "Datasheets: read what a maker prints."),
    "curve": Home("recommender.cli.curve", "app", "Measured response curves: import, list, show, remove."),
    "weights": Home("recommender.cli.weights", "app", "What each criterion counts: list, show, copy, set."),
    "budget": Home("recommender.cli.budget", "app", "Money: check a budget, plan a whole system, keep rules."),
    "stock": Home("catalog.cli.stock", "app", "The stock: receive, reserve, sell, move, count, check."),
    "job": Home("catalog.cli.job", "app", "Jobs: list, show, new, rename, merge."),
    "quote": Home("catalog.cli.quote", "app", "Quotes: make, show, print, list, accept, sell, lapse."),
    "supplier": Home("catalog.cli.supplier", "app", "Suppliers: add, list, prices, orders."),
    "who": Home("catalog.cli.history", "who", "Say under what name you write, or keep one for this machine."),
    "history": Home("catalog.cli.history", "history", "List who wrote what and when."),
    "backup": Home("catalog.cli.backup", "backup", "Write a copy of the catalogue to a file, while others use it."),
    "restore": Home("catalog.cli.backup", "restore", "Put a copy in the place of the catalogue."),
}

ALONE: Final = {
    ("speaker", "list"): Home("catalog.cli.speaker_list", "list_", "List loudspeakers."),
    ("room", "list"): Home("catalog.cli.room_list", "list_", "List the rooms."),
    ("stock", "list"): Home("catalog.cli.stock_views", "list_", "List what there is."),
}
"""Commands of groups that are asked for often and need little: they are found without the rest of their group."""


class Late(Commands):
    """A group whose commands are imported when they are called: listing them all takes no time."""

    def list_commands(self, ctx: Any) -> list[str]:
        """The names of the commands, in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """The command of a name, with its module imported; None for another name."""
        home = COMMANDS.get(cmd_name)
        return None if home is None else built(cmd_name, home)

    def resolve_command(self, ctx: Any, args: list[str]) -> tuple[Any, Any, list[str]]:
        """The command that the first words name, the name it goes by, and the words after it."""
        home = ALONE.get((args[0], args[1])) if len(args) > 1 else None
        if home is None:
            return super().resolve_command(ctx, args)
        gc.disable()  # they end before there is anything to collect
        name = f"{args[0]} {args[1]}"
        command = built(name, home)
        spare_conversion(command, ctx)
        return name, command, args[2:]

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """The list of commands, from what is written here."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, home.help) for name, home in COMMANDS.items()])


def built(name: str, home: Home) -> Any:
    """A command or a group, made from the function or the application it lives in."""
    thing = getattr(import_module(f"triptych.{home.module}"), home.name)
    if not isinstance(thing, typer.Typer):
        alone = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False)
        alone.command(name)(thing)
        thing = alone
    command = typer.main.get_command(thing)
    command.name = name
    return command


app = typer.Typer(
    cls=Late,
    help=ABOUT,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
)


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"triptych {version('triptych')}")
        raise typer.Exit


def _profiles(engine: Engine, keys: Collection[str], say: Callable[[str], None]) -> int:
    from triptych.recommender.advise.ahead import profiles

    return profiles(engine, keys, say)


@app.callback()
def whole(
    context: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
    verbose: Annotated[
        int,
        typer.Option("--verbose", "-v", count=True, show_default=False, help="Say what is done; -vv: its SQL too."),
    ] = 0,
) -> None:
    """Find the centre loudspeaker that sounds like the mains, in the room and the furniture there is."""
    context.obj = Afterwards(_profiles)
    if verbose:
        _say_what_is_done(verbose)


def _say_what_is_done(verbose: int) -> None:
    import logging

    logging.basicConfig(format="%(name)s: %(message)s")
    logging.getLogger("triptych").setLevel(logging.INFO)
    if verbose > 1:
        logging.getLogger("sqlalchemy.engine").setLevel(logging.INFO)


def main() -> None:
    """Run the command line; the one place that knows exit codes."""
    began.now()
    # to start the threads of numpy's algebra takes longer than they save
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    run(app)
