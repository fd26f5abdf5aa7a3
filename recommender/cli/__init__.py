"""The command line: parse, call one function, render. Heavy libraries are imported where they are used."""

from __future__ import annotations

from typing import Annotated

import typer

from catalog.cli import datasheet, room, speaker
from catalog.cli.options import application, run
from recommender.cli import demo, matching, weights


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"triptych {version('triptych')}")
        raise typer.Exit


app = application("Find the centre loudspeaker that sounds like the mains, in the room and the furniture there is.")


@app.callback()
def whole(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Find the centre loudspeaker that sounds like the mains, in the room and the furniture there is."""


app.command("match")(matching.match)
app.command("explain")(matching.explain)
app.command("compare")(matching.compare)
app.command("demo")(demo.demo)
app.add_typer(speaker.app, name="speaker")
app.add_typer(room.app, name="room")
app.add_typer(datasheet.app, name="datasheet")
app.add_typer(weights.app, name="weights")


def main() -> None:
    """Run the command line; the one place that knows exit codes."""
    run(app)
