"""`triptych sheet`: one A4 page for the installer."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triptych.catalog.cli.options import DatabaseOption, tell
from triptych.catalog.errors import BadInput
from triptych.recommender.api import open_catalogue
from triptych.recommender.cli.matching import MainsOption, RoomOption

if TYPE_CHECKING:
    from triptych.recommender.drawing.drawn_numbers import Unit

OutOption = Annotated[
    Path, typer.Option("--out", help="The file to write, .html or .pdf; one of that name is replaced.")
]
UnitsOption = Annotated[str, typer.Option("--units", help="What lengths are written in: mm or in.")]


def sheet(
    centre: Annotated[str, typer.Argument(help="The centre to fit, by maker, series and model.")],
    room: RoomOption,
    out: OutOption,
    mains: MainsOption = "",
    place: Annotated[str, typer.Option("--place", help="Where it goes; else where it does best.")] = "",
    units: UnitsOption = "mm",
    database: DatabaseOption = None,
) -> None:
    """Write one A4 page that an installer takes along: place, aim, cables, settings, checks, cautions, drawings.

    Example: triptych sheet "Maker Series Centre" --room lounge.toml --out fit.html
    """
    from triptych.catalog.page_files import refuse_name, write
    from triptych.recommender.advise import picturing
    from triptych.recommender.report.fit_sheet import sheet_page

    unit = unit_of(units)
    refuse_name(out)
    with open_catalogue(database) as opened:
        question = opened.question(room, mains)
        found = opened.answer(lambda session: picturing.fitting(session, question, centre, place or None))
    picturing.refuse_what_does_not_fit(found)
    write(sheet_page(found, unit), out)
    tell(f"wrote {out}")


def unit_of(word: str) -> Unit:
    """What lengths are written in.

    Raises
    ------
    BadInput
        The word is neither mm nor in.
    """
    from triptych.recommender.drawing.drawn_numbers import Unit

    try:
        return Unit(word.strip().lower())
    except ValueError:
        raise BadInput(f"--units {word!r}: mm or in is wanted") from None
