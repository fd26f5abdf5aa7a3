"""`triptych curve`: measured responses in and out of the catalogue, drawn in the terminal and in files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell
from triptych.catalog.errors import BadInput
from triptych.catalog.records import CurveKind

if TYPE_CHECKING:
    from triptych.catalog.database.measured_curves import StoredCurve
    from triptych.catalog.files.curve_files import CurveReading
    from triptych.recommender.cli.curve_plot import DrawnCurve

app = options.application("Measured response curves: import, list, show, remove.")

SpeakerArgument = Annotated[
    str, typer.Argument(metavar="SPEAKER", help="Maker, series and model, in any case.", show_default=False)
]
KindOption = Annotated[CurveKind | None, typer.Option("--kind", help="Only curves of this kind.", show_default=False)]
AngleOption = Annotated[
    str | None,
    typer.Option("--angle", metavar="DEG", help="Angle: positive to the right or up.", show_default=False),
]

MOST_DRAWN: Final = 5
"""Curves drawn in one plot."""


@app.command("import")
def import_(
    speaker: SpeakerArgument,
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Text or CSV files.", show_default=False)],
    kind: Annotated[CurveKind, typer.Option("--kind", help="What the curves are.", show_default=False)],
    angle: AngleOption = None,
    angle_from_name: Annotated[
        bool, typer.Option("--angle-from-name", help="Take each file's angle from its name, as in h_-30deg.txt.")
    ] = False,
    smoothing: Annotated[
        str | None,
        typer.Option("--smoothing", metavar="1/N", help="Smoothing of the curves, if any.", show_default=False),
    ] = None,
    date: Annotated[
        str | None, typer.Option("--date", metavar="YYYY-MM-DD", help="Day of the measurement.", show_default=False)
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would happen and change nothing.")] = False,
    db: DatabaseOption = None,
) -> None:
    """Take measured curves from files of frequency, level and perhaps phase: all of them or, with one bad line, none.

    A set of angles is one file an angle, or one table with a column an angle, headed by the angles. A curve of the same
    kind and angle is replaced. In-room curves are kept and drawn, but take no part in a match.

    Example: triptych curve import "Oatfell Linden Tower" linden.txt --kind on_axis
    """
    from triptych.catalog.database.engine import reading, writing
    from triptych.catalog.database.measured_curves import save_curves
    from triptych.catalog.database.reads import stored
    from triptych.recommender.advise.curve_arrays import prepare, takes_part

    degrees = None if angle is None else _degrees(angle)
    given = {"smoothing": _smoothing(smoothing), "measured_on": _day(date), "angle_from_name": angle_from_name}
    found = _read(files, kind, degrees, given)
    prepared = [prepare(record) for one in found for record in one.records]
    for one in prepared:
        if kind is not CurveKind.IN_ROOM and not takes_part(one):
            low, high = one.record.frequency[0], one.record.frequency[-1]
            tell(f"warning: {one.record.source}: {low:g} to {high:g} Hz is too narrow for a match; kept and drawn only")
    with options.catalogue(db) as engine:
        if dry_run:
            with reading(engine) as session:
                tell(f"would take {len(prepared)} curves of {stored(session, speaker).record.name}")
            return
        with writing(engine) as session:
            saved = save_curves(session, speaker, prepared)
    tell(f"added {saved.added}, changed {saved.changed}, unchanged {saved.unchanged}")


def _read(files: Sequence[Path], kind: CurveKind, angle: float | None, given: dict[str, Any]) -> list[CurveReading]:
    """All files read, or every reason why not."""
    from triptych.catalog.files.curve_files import read_curves

    found, refusals = [], []
    for file in files:
        try:
            found.append(read_curves(file, kind, angle=angle, **given))
        except BadInput as problem:
            refusals.append(str(problem))
    for one in found:
        for remark in one.remarks:
            tell(f"warning: {remark}")
    problems = [str(problem) for one in found for problem in one.problems] + refusals
    if len(problems) == 1:
        raise BadInput(f"{problems[0]}; nothing changed")
    if problems:
        for line in problems:
            tell(line)
        raise BadInput(f"{len(problems)} problems, nothing changed; mend the files")
    return found


def _degrees(text: str) -> float:
    from triptych.catalog.files.curve_lines import number

    found = number(text, ",") or number(text, ".")
    if found is None or not (found.unit == "°" or found.unit[:3] in ("", "deg")) or abs(found.value) > 360:
        raise BadInput(f"--angle {text!r} is no angle: give degrees from -180 to 180, such as 30 or -30")
    return found.value


def _smoothing(text: str | None) -> int | None:
    if text is None:
        return None
    count = text.strip().removeprefix("1/")
    if not count.isdecimal() or not 1 <= int(count) <= 96:
        raise BadInput(f"--smoothing {text!r}: give a part of an octave from 1/1 to 1/96, such as 1/24")
    return int(count)


def _day(text: str | None) -> Any:
    from datetime import date

    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadInput(f"--date {text!r} is no day: write it as 2026-05-31") from None


@app.command("list")
def list_(speaker: SpeakerArgument, style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """List the curves of a loudspeaker with where they come from.

    Example: triptych curve list "Oatfell Linden Tower"
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.measured_curves import curves
    from triptych.recommender.cli import curve_views

    with options.catalogue(db) as engine, reading(engine) as session:
        found = curves(session, speaker)
    curve_views.print_list(found, style)
    if not found:
        tell("no curve yet; triptych curve import takes them")


@app.command()
def show(
    speaker: SpeakerArgument,
    kind: KindOption = None,
    angle: AngleOption = None,
    smooth: Annotated[
        int, typer.Option("--smooth", min=0, max=48, metavar="N", help="Smooth by 1/N octave; 0 for not at all.")
    ] = 12,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Also write the drawing, as .svg or .png.", show_default=False),
    ] = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Draw the curves of a loudspeaker; with a full set also the standard's averages and the preference figure.

    Example: triptych curve show "Oatfell Linden Tower" --kind horizontal --out linden.svg
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.reads import stored
    from triptych.catalog.errors import NotFound
    from triptych.recommender.advise.curve_account import account_of
    from triptych.recommender.cli import curve_views

    wanted = None if angle is None else _degrees(angle)
    if out is not None and out.suffix.lower() not in (".svg", ".png"):
        raise BadInput(f"{out}: the drawing is .svg or .png; give a name that ends in one of them")
    with options.catalogue(db) as engine, reading(engine) as session:
        name = stored(session, speaker).record.name
        found = account_of(_stored(session, name))
    picked = [one for one in found.curves if kind in (None, one.record.kind) and wanted in (None, one.record.angle)]
    if not picked:
        raise NotFound(f"{name} has no such curve; triptych curve list shows what there is")
    drawn = curve_views.series(found, picked, smooth, averages=kind is None and wanted is None)
    if style is Style.TABLE:
        curve_views.print_plot(name, drawn[:MOST_DRAWN], smooth, found)
        if len(drawn) > MOST_DRAWN:
            tell(f"{MOST_DRAWN} of {len(drawn)} are drawn; --kind and --angle pick others")
    else:
        curve_views.print_data(name, found, picked, drawn, style)
    if out is not None:
        _write(out, name, drawn[:MOST_DRAWN], curve_views.smoothed_words(smooth))
        tell(f"wrote {out}")


def _stored(session: Any, name: str) -> list[StoredCurve]:
    from triptych.catalog.database.measured_curves import curves

    return curves(session, name)


def _write(path: Path, name: str, drawn: Sequence[DrawnCurve], note: str) -> None:
    from triptych.catalog.files.tables import write_whole
    from triptych.recommender.cli import curve_plot

    if path.suffix.lower() == ".png":
        content = curve_plot.picture(path, name, drawn)
    else:
        from triptych.recommender.drawing.curve_levels import CurveLine, curves

        lines = [CurveLine(one.name, one.frequency, one.level) for one in drawn]
        content = curves(name, lines, note).encode()
    write_whole(path, content)


@app.command()
def remove(
    speaker: SpeakerArgument,
    kind: KindOption = None,
    angle: AngleOption = None,
    every: Annotated[bool, typer.Option("--all", help="All curves of the loudspeaker.")] = False,
    db: DatabaseOption = None,
) -> None:
    """Remove curves of one kind, one curve of a set, or all.

    Example: triptych curve remove "Oatfell Linden Tower" --kind horizontal --angle 30
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.measured_curves import remove_curves

    if (kind is None) != every:
        raise BadInput("say which curves: --kind, perhaps with --angle, or --all")
    if angle is not None and kind is None:
        raise BadInput("--angle needs --kind: horizontal or vertical")
    with options.catalogue(db) as engine, writing(engine) as session:
        count = remove_curves(session, speaker, kind, None if angle is None else _degrees(angle))
    tell(f"removed {count}")
