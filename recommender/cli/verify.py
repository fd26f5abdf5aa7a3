"""`triptych verify`: what three measured responses say after installing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from triptych.catalog.cli.options import (
    DatabaseOption,
    Style,
    StyleOption,
    harmless,
    print_csv,
    print_json,
    print_paragraph,
    print_table,
    tell,
)
from triptych.catalog.errors import BadInput, NotFound
from triptych.recommender.api import open_catalogue
from triptych.recommender.cli.matching import RoomOption

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from triptych.catalog.database.as_built import AsBuiltRecord, MeasuredSeat
    from triptych.catalog.records import CurveRecord, RoomRecord
    from triptych.recommender.verify.verification import Verification

UNISOLATED: Final = dict.fromkeys(map(ord, "\u2068\u2069"))
"""A terminal is told no marks of writing direction."""


def verify(
    room: RoomOption,
    left: Annotated[list[Path], typer.Option("--left", help="Measured response of the left main alone; one a seat.")],
    centre: Annotated[list[Path], typer.Option("--centre", help="Measured response of the centre alone; one a seat.")],
    right: Annotated[
        list[Path], typer.Option("--right", help="Measured response of the right main alone; one a seat.")
    ],
    seat: Annotated[
        list[str] | None, typer.Option("--seat", help="The seat of each three files, in their order; else the primary.")
    ] = None,
    mains: Annotated[str, typer.Option("--mains", help="The mains, by maker, series and model; else the room's.")] = "",
    speaker: Annotated[
        str, typer.Option("--speaker", help="The centre that was installed: its promises are checked too.")
    ] = "",
    place: Annotated[str, typer.Option("--place", help="Where it stands; else where it does best.")] = "",
    trim_set: Annotated[
        float, typer.Option("--trim-set", min=-24, max=24, help="The centre's trim while it was measured [dB].")
    ] = 0.0,
    keep: Annotated[bool, typer.Option("--keep/--no-keep", help="Store the measurement with the room.")] = True,
    database: DatabaseOption = None,
    style: StyleOption = Style.TABLE,
) -> None:
    """Check after installing how near the centre is to the mains, from three measured responses in text form.

    Measure each of the three alone, at the same drive level, with the microphone at the ear of the seat. For several
    seats repeat --seat, --left, --centre and --right; the trim is for the first.

    Example: triptych verify --room lounge.toml --left left.txt --centre centre.txt --right right.txt
    """
    from triptych.catalog.answers import Answers
    from triptych.recommender.advise import as_built_check
    from triptych.recommender.cli.verify_views import VERIFIED, Verified
    from triptych.recommender.installing import built_record, promised

    with open_catalogue(database) as opened:
        surveyed = opened.room(room)
        named = mains or surveyed.mains.speaker or None
        seats = _measured(surveyed, seat or [], left, centre, right)
        standing = promised(opened, surveyed, named, speaker, place) if speaker else None
        record = built_record(seats, standing, named, place, trim_set)
        found = as_built_check.check(record, standing)
        if keep:
            _keep(opened.engine, surveyed, record)
    if style is Style.JSON:
        print_json(Verified(surveyed.name, record, found), VERIFIED)
    elif style is Style.CSV:
        print_csv(Answers(VERIFIED).rows(found.seats, along="bands"))
    else:
        _show(surveyed.name, record, found)


def _measured(
    room: RoomRecord, names: Sequence[str], left: Sequence[Path], centre: Sequence[Path], right: Sequence[Path]
) -> tuple[MeasuredSeat, ...]:
    """The three files of each seat.

    Raises
    ------
    BadInput
        Not as many files of one as of another or as seats, or a file that can't be read.
    NotFound
        The room has no such seat.
    """
    from triptych.recommender.installing import measured_seats, seat_names

    counts = {"--left": len(left), "--centre": len(centre), "--right": len(right)}
    if len(set(counts.values())) > 1:
        told = ", ".join(f"{option} {count}" for option, count in counts.items())
        raise BadInput(f"give as many of each: {told} now")
    seats = seat_names(room, names, len(left))
    return measured_seats(seats, *([_curve(path) for path in paths] for paths in (left, centre, right)))


def _curve(path: Path) -> CurveRecord:
    from triptych.catalog.files.curve_files import read_curves
    from triptych.catalog.problems import refuse
    from triptych.catalog.records import CurveKind

    found = read_curves(path, CurveKind.IN_ROOM)
    for remark in found.remarks:
        tell(remark)
    refuse(found.problems)
    return found.records[0]


def _keep(engine: Engine, room: RoomRecord, record: AsBuiltRecord) -> None:
    """Store the measurement, or say on stderr why it is not."""
    from sqlalchemy.exc import DBAPIError

    from triptych.catalog.database import as_built
    from triptych.catalog.database.engine import writing
    from triptych.catalog.errors import DatabaseProblem

    try:
        with writing(engine) as session:
            new = as_built.save_as_built(session, room.name, record)
    except NotFound:
        tell(
            f"not stored: {room.name} is not in the catalogue; triptych room import adds it, --no-keep leaves this out"
        )
    except (DBAPIError, DatabaseProblem) as problem:
        # someone who may only read the catalogue still gets the answer
        tell(f"not stored: {getattr(problem, 'orig', problem)}")
    else:
        tell(f"stored with {room.name}" if new else f"{room.name} holds this measurement already")


def _show(room: str, record: AsBuiltRecord, found: Verification) -> None:
    from triptych.recommender.report import built

    typer.echo(harmless(f"{record.speaker or 'The centre'} in {room}, as built"))
    typer.echo("")
    headers = ["seat", "band", "reach", "rms", "centre is", "most", ""]
    rows = built.band_rows(found)
    print_table(headers, [[r.seat, r.band, r.reach, r.rms, r.mean, r.worst, r.verdict] for r in rows],
                right=["rms", "centre is", "most"])  # fmt: skip
    for line in built.settings_lines(found):
        print_paragraph(line.translate(UNISOLATED))
    _list("What cannot be corrected", built.dip_lines(found) or ["Nothing narrow and deep was found."])
    if found.signs:
        _list("What the placement was predicted to do", built.sign_lines(found))
    if found.promises:
        _list("What was promised", built.promise_lines(found))
    elif not record.speaker:
        print_paragraph("Name the centre with --speaker to check it against what was promised.")
    print_paragraph(built.STANDARD)


def _list(title: str, lines: Sequence[str]) -> None:
    typer.echo(f"\n{title}")
    for line in lines:
        print_paragraph(line.translate(UNISOLATED))
