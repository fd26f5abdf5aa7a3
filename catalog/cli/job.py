"""`triptych job`: what is offered, promised, ordered and installed for whom; new ones, rename and merge."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell
from triptych.catalog.cli.stock_tables import UNTIL, print_records

if TYPE_CHECKING:
    from triptych.catalog.stock.job_sums import JobLine

app = options.application("Jobs: list, show, new, rename, merge.")

NameArgument = Annotated[str, typer.Argument(help="The job's name, in any case.", show_default=False)]
COUNTS = (
    *("offered", "promised", "ordered", "to_order", "lent", "installed", "outstanding", "to_order_if_taken"),
    "returned",
)


def _figure(name: str) -> Callable[[Any], str]:
    return lambda record: str(getattr(record, name) or "")


NOT_NONE: Final = {name: _figure(name) for name in COUNTS}
"""None of something is left empty, so that a table shows what there is."""


def _called(line: JobLine) -> str:
    return f"{line.speaker}, {line.finish}" if line.finish else line.speaker


@app.command("list")
def list_(
    everything: Annotated[bool, typer.Option("--all", help="Also those of which nothing is open.")] = False,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List the jobs for which something is open, in units: promised, ordered, to be ordered, lent, installed.

    Example: triptych job list --all
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.job_sums import JobSum, jobs

    with options.catalogue(db) as engine, reading(engine) as session:
        found = jobs(session, every=everything)
    print_records(found, [field.name for field in dataclasses.fields(JobSum)], style, COUNTS, UNTIL | NOT_NONE)
    if not found:
        tell("no job" if everything else "no job of which anything is open")


@app.command()
def show(name: NameArgument, style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """Show one job: what of it is promised and where to fetch it, ordered, to be ordered, installed, outstanding.

    Example: triptych job show "Mill House"
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.job_sums import JobLine, job_story, story_words

    with options.catalogue(db) as engine, reading(engine) as session:
        found = job_story(session, name)
    if style is Style.JSON:
        options.print_json(found)
        return
    fields = [field.name for field in dataclasses.fields(JobLine)]
    if style is Style.CSV:
        print_records(found.lines, fields, style)
        return
    shown = [name for name in fields if name not in ("job", "finish", "to_fetch")]
    print_records(found.lines, shown, style, COUNTS, NOT_NONE | {"speaker": _called})
    for line in found.lines:
        if line.to_fetch:
            tell(f"to fetch: {_called(line)}: {', '.join(line.to_fetch)}")
    if not found.lines:
        tell(f"nothing is offered, promised, ordered or installed for {found.job}")
    for words in story_words(found):
        tell(words)


@app.command()
def new(
    name: Annotated[str, typer.Argument(help="What it is called.", show_default=False)], db: DatabaseOption = None
) -> None:
    """Make a job of which nothing is written yet; one is made by itself unless its name is nearly another's.

    Example: triptych job new "Mill House 2"
    """
    from triptych.catalog.stock import desk

    with options.catalogue(db) as engine:
        kept = desk.new_job(engine, name)
    tell(f"job {kept}")


@app.command()
def rename(
    name: NameArgument,
    new: Annotated[str, typer.Argument(help="What it is called from now on.", show_default=False)],
    db: DatabaseOption = None,
) -> None:
    """Give a job another name; what was written for it stays with it.

    Example: triptych job rename "Mill Huose" "Mill House"
    """
    from triptych.catalog.stock import desk

    with options.catalogue(db) as engine:
        kept = desk.rename_job(engine, name, new)
    tell(f"job {name}: is named {kept} now")


@app.command()
def merge(
    name: NameArgument,
    into: Annotated[str, typer.Option("--into", help="The job that it is a part of.", show_default=False)],
    db: DatabaseOption = None,
) -> None:
    """Make two jobs one: what was written for the first counts for the second from now on, and cannot be parted again.

    Example: triptych job merge "Mill Huose" --into "Mill House"
    """
    from triptych.catalog.stock import desk

    with options.catalogue(db) as engine:
        kept = desk.merge_jobs(engine, name, into)
    tell(f"job {name}: is part of {kept} now")
