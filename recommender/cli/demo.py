"""`triptych demo`: the seed data in a scratch database, the main job on the seed room, and what to try next."""

from __future__ import annotations

from typing import Annotated

import typer

from triptych.catalog.cli.options import Style, StyleOption, print_csv, print_json
from triptych.recommender.api import open_catalogue

DEMO_ROOM = "Mill House"


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
    from triptych.recommender.cli import ranking_csv

    if keep and Path(keep).exists():
        raise Refused(f"{keep} exists already: name a new file for --keep, or remove it")
    with (
        tempfile.TemporaryDirectory(prefix="triptych") as folder,
        open_catalogue(keep or f"{folder}/demo.db") as opened,
    ):
        opened.import_demo()
        answer = opened.match(DEMO_ROOM)
    if style is Style.JSON:
        print_json(answer.first(top))
    elif style is Style.CSV:
        print_csv(ranking_csv.ranking(answer.first(top)))
    else:
        from triptych.recommender.cli import render

        console = render.console()
        render.answer(console, answer, top)
        render.next_steps(console, answer, keep)
