"""`triptych stock labels`: what stands on units and boxes, with the serial as a barcode."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import DatabaseOption, tell
from triptych.catalog.cli.stock_words import serials


def labels(
    out: Annotated[Path, typer.Option("--out", "-o", help="The HTML or PDF file to write.", show_default=False)],
    model: Annotated[str | None, typer.Argument(help="Only of this loudspeaker.", show_default=False)] = None,
    at: Annotated[str | None, typer.Option("--location", "-l", help="Of what is there.", show_default=False)] = None,
    job: Annotated[str | None, typer.Option("--job", help="Of what is reserved for it.", show_default=False)] = None,
    serial: Annotated[
        list[str] | None,
        typer.Option("--serial", help="Of those that have one of them, with commas between.", show_default=False),
    ] = None,
    delivery: Annotated[
        str | None, typer.Option("--delivery", help="Of what came by it and is on hand.", show_default=False)
    ] = None,
    db: DatabaseOption = None,
) -> None:
    """Write labels to print: loudspeaker, finish, grade, job, location, and the serial as a barcode (Code 128).

    Each is of one unit, or one pair, that is on hand; 24 go on a sheet of A4. Of several options all have to hold.

    Example: triptych stock labels --delivery 4711 --out labels.pdf
    """
    from triptych.catalog import page_files
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.label_page import label_page
    from triptych.catalog.stock.labels import LabelsAsked, unit_labels

    page_files.refuse_name(out)
    asked = LabelsAsked(at, job, tuple(serials(serial)), delivery, model)
    with options.catalogue(db) as engine, reading(engine) as session:
        found = unit_labels(session, asked)
    page, untold = label_page(found.labels)
    page_files.write(page, out)
    for remark in (*found.remarks, *untold):
        tell(remark)
    count = len(found.labels)
    tell(f"{count} label{'s' * (count != 1)}: {out}")
