"""`triptych demo`: the seed data in a scratch database, the main job on the seed room, and what to try next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from triptych.catalog.cli.options import Style, StyleOption, catalogue, print_csv, print_json

if TYPE_CHECKING:
    from sqlalchemy import Engine

ROOM = "Mill House"


def demo(
    top: Annotated[int | None, typer.Option("--top", min=1, help="How many ranked to show.")] = None,
    keep: Annotated[str, typer.Option("--keep", help="Keep the scratch database under this file name.")] = "",
    style: StyleOption = Style.TABLE,
) -> None:
    """Run the main job on invented loudspeakers in an invented room.

    Example: triptych demo
    """
    import tempfile
    from pathlib import Path

    from triptych.catalog.errors import Refused
    from triptych.recommender.advise import match
    from triptych.recommender.cli import as_csv, as_json, asking

    if keep and Path(keep).exists():
        raise Refused(f"{keep} exists already: name a new file for --keep, or remove it")
    with tempfile.TemporaryDirectory(prefix="triptych") as folder, catalogue(keep or f"{folder}/demo.db") as engine:
        fill(engine)
        question = asking.question(engine, ROOM, "", "", "centre", in_stock=False, weights="")
        answer = asking.answer(engine, lambda session: match.match(session, question))
    if style is Style.JSON:
        print_json(as_json.advice(answer, top))
    elif style is Style.CSV:
        print_csv(as_csv.ranking(answer, top))
    else:
        from triptych.recommender.cli import render

        console = render.console()
        render.answer(console, answer, top)
        render.next_steps(console, answer, keep)


def fill(engine: Engine) -> None:
    """Put the invented loudspeakers and rooms of the seed data into a catalogue."""
    from importlib.resources import as_file, files

    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.writes import save_loudspeakers, save_room
    from triptych.catalog.files.loudspeakers import read_loudspeakers
    from triptych.catalog.files.rooms import read_room

    with as_file(files("triptych.seed_data")) as folder, writing(engine) as session:
        save_loudspeakers(session, read_loudspeakers(folder / "loudspeakers.csv").records)
        for room in sorted(folder.glob("*.toml")):
            save_room(session, read_room(room))
