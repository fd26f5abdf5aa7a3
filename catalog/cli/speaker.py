"""`triptych speaker`: loudspeakers in and out of the catalogue."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from triptych.catalog.cli import options, speaker_list
from triptych.catalog.cli.column_options import option_a_column
from triptych.catalog.cli.options import ClearOption, DatabaseOption, DecimalOption, Style, StyleOption, tell
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS
from triptych.catalog.records import LoudspeakerRecord

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from triptych.catalog.database.changes import Saved

app = options.application("Loudspeakers: import, add, edit, rename, merge, show, list, export, retire, remove.")

SheetOption = Annotated[
    str | None,
    typer.Option(
        "--from",
        metavar="FILE",
        help="Read a datasheet first; - for stdin. Options stand above what it says.",
        show_default=False,
    ),
]
PROFILED: Final = 500
"""From so many on, the acoustic profiles of what a file brings are computed at once: fewer cost the first answer less
than to load what computes them costs an import."""

NameArgument = Annotated[str, typer.Argument(help="Maker, series and model, in any case.", show_default=False)]


@app.command("import")
def import_(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(help="A CSV or XLSX file, one loudspeaker a row.", show_default=False)],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would happen and change nothing.")] = False,
    keep_good: Annotated[
        bool, typer.Option("--keep-good", help="Take the good rows; write the others to FILE.refused.csv with reasons.")
    ] = False,
    map: Annotated[
        list[str] | None,
        typer.Option(
            "--map", metavar="THEIRS=OURS", help="Read column THEIRS as OURS; THEIRS= leaves it out. Repeatable."
        ),
    ] = None,
    decimal: DecimalOption = None,
    clear: ClearOption = False,
    no_profiles: Annotated[
        bool,
        typer.Option("--no-profiles", help="Leave acoustic profiles to the first answers that need them."),
    ] = False,
    db: DatabaseOption = None,
) -> None:
    """Take loudspeakers from a file: all of it or, with one bad cell, nothing.

    Every bad cell is named. What the file has no column for stays as it is known; a cell that is empty where a figure
    is known is refused without --clear. The same file a second time changes nothing. Where it brings five hundred or
    more, their acoustic profiles are computed once all of it is stored, so that no answer waits for them: 8 kB each.

    Example: triptych speaker import shop.csv --map "Product=model"
    """
    from triptych.catalog.cli.progress import working
    from triptych.catalog.files.importing import Import, import_file

    mapping = dict(options.pair(one, "--map") for one in map or [])
    wanted = Import(file, mapping, decimal, clear, keep_good, dry_run, tell_line=tell)
    with options.catalogue(db, fresh=not dry_run) as engine, working("reading the file") as say:
        saved = import_file(engine, wanted, say)
    tell(("would have " if dry_run else "") + _saved(saved))
    ahead = None if dry_run or no_profiles else context.find_object(options.Afterwards)
    if ahead and len(saved.fresh) >= PROFILED:
        with options.catalogue(db) as engine, working("reading the catalogue") as say:
            made = ahead.profiles(engine, saved.fresh, say)
        if made:
            tell(f"acoustic profiles computed: {made}")


def _saved(saved: Saved) -> str:
    counts = f"added {saved.added}, changed {saved.changed}, unchanged {saved.unchanged}"
    return counts + (f"; {saved.retired} of them retired, so hidden" if saved.retired else "")


@app.command()
@option_a_column(COLUMNS, sheet=SheetOption, db=DatabaseOption)
def add(sheet: str | None = None, db: str | None = None, **texts: str | None) -> None:
    """Add one loudspeaker; every column of the file is an option, with the same units and words.

    Example: triptych speaker add --maker Oatfell --model Wren --roles centre --width "7 1/2 in"

    With a datasheet: triptych speaker add --from wren.txt --maker Oatfell --roles centre
    """
    from triptych.catalog.cli.makers import settled
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.reads import stored_by_key
    from triptych.catalog.database.rows import name_key
    from triptych.catalog.database.writes import save_loudspeakers

    given = {name: text for name, text in texts.items() if text is not None}
    if sheet is not None:
        from triptych.catalog.cli.datasheet import read_one

        record = read_one(sheet, given)
    else:
        record = _record(given)
    with options.catalogue(db, fresh=True) as engine:
        # whoever is asked holds nobody up
        record = settled(engine, record)
        with writing(engine) as session:
            if stored_by_key(session, [name_key(record.name)]):
                raise BadInput(f"{record.name!r} is in the catalogue already; change it with speaker edit")
            save_loudspeakers(session, [record])
    tell(f"added {record.name}")


def _record(texts: Mapping[str, str]) -> LoudspeakerRecord:
    from triptych.catalog.stated_records import record_from_texts

    record, faults = record_from_texts(texts, "speaker add")
    if record is None:
        raise BadInput("\n".join(f"--{name.replace('_', '-')}: {complaint}" for name, complaint in faults))
    return record


@app.command()
def edit(
    name: NameArgument,
    set: Annotated[
        list[str],
        typer.Option("--set", metavar="COLUMN=VALUE", help="A figure; an empty value is unknown. Repeatable."),
    ],
    revision: Annotated[
        int | None,
        typer.Option(
            min=1, help="The revision that you saw: refused where somebody has changed it since.", show_default=False
        ),
    ] = None,
    db: DatabaseOption = None,
) -> None:
    """Change figures of one loudspeaker; what others change meanwhile stays.

    Example: triptych speaker edit "Oatfell Linden Tower" --set weight=18.6 --set "crossover=350 / 2.8 kHz"
    """
    from triptych.catalog.database.edits import edit_loudspeaker
    from triptych.catalog.database.engine import writing

    changes = dict(options.pair(one, "--set") for one in set)
    _check_changes(changes)
    with options.catalogue(db) as engine:
        if "family" in changes:
            changes |= _settled_family(engine, name, changes["family"])
        with writing(engine) as session:
            edited = edit_loudspeaker(session, name, changes, revision)
    for column, value in edited.cleared.items():
        tell(f"--set {column}= clears {value!r}")
    tell(f"{edited.record.name}: {_saved(edited.saved)}")


def _settled_family(engine: Engine, name: str, family: str) -> dict[str, str]:
    """The family that was meant, asked for before anybody is held up."""
    from dataclasses import replace

    from triptych.catalog.cli.makers import settled
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.reads import loudspeaker

    if COLUMNS["family"].says_nothing(family):
        return {}
    with reading(engine) as session:
        old = loudspeaker(session, name)
    meant = settled(engine, replace(old, family=COLUMNS["family"].read(family)))
    return {"family": meant.family or ""}


def _check_changes(changes: Iterable[str]) -> None:
    from triptych.catalog.problems import nearest

    for name in changes:
        if name not in COLUMNS:
            raise BadInput(f"--set {name}=...: {name!r} is no column; {nearest(name, COLUMNS)}")
        if name in ("maker", "series", "model"):
            raise BadInput(f"--set {name}=...: names the loudspeaker; give it another with triptych speaker rename")


@app.command()
def rename(
    name: NameArgument,
    maker: Annotated[str | None, typer.Option(help="Its maker from now on.", show_default=False)] = None,
    series: Annotated[str | None, typer.Option(help="Its series; '' for none.", show_default=False)] = None,
    model: Annotated[str | None, typer.Option(help="Its model.", show_default=False)] = None,
    db: DatabaseOption = None,
) -> None:
    """Give a loudspeaker another name; stock, quotes, prices and curves stay its own, and rooms follow.

    Example: triptych speaker rename "Oatfell Lindn Tower" --series Linden
    """
    from triptych.catalog.cli.makers import settled
    from triptych.catalog.database.engine import reading, writing
    from triptych.catalog.database.reads import loudspeaker
    from triptych.catalog.database.renaming import rename_loudspeaker
    from triptych.catalog.stated_records import renamed

    parts = {"maker": maker, "series": series, "model": model}
    parts = {part: _name_part(part, text) for part, text in parts.items() if text is not None}
    if not parts:
        raise typer.BadParameter("say what changes: --maker, --series or --model")
    with options.catalogue(db) as engine:
        with reading(engine) as session:
            old = loudspeaker(session, name)
        meant = settled(engine, renamed(old, **parts))
        with writing(engine) as session:
            record = rename_loudspeaker(session, name, {part: getattr(meant, part) for part in parts})
    tell(f"{old.name!r} is {record.name!r} now")


def _name_part(part: str, text: str) -> str | None:
    if part == "series" and not text.strip():
        return None
    try:
        name: str | None = COLUMNS[part].read(text)
    except BadInput as problem:
        raise BadInput(f"--{part}: {problem}") from None
    if not name:
        raise BadInput(f"--{part}: is blank; give a name")
    return name


@app.command()
def show(name: NameArgument, style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """Show one loudspeaker with every figure, its source, and what is unknown.

    Example: triptych speaker show "oatfell linden tower" --format json
    """
    from triptych.catalog.cli import speaker_tables
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.reads import stored

    with options.catalogue(db) as engine, reading(engine) as session:
        found = stored(session, name)
    speaker_tables.print_one(found, style)


app.command("list")(speaker_list.list_)


@app.command()
def export(
    file: Annotated[
        str, typer.Argument(help="Where to: .xlsx for a workbook, else CSV; - for stdout.", show_default=False)
    ] = "-",
    retired: Annotated[bool, typer.Option("--retired", help="Retired ones too.")] = False,
    db: DatabaseOption = None,
) -> None:
    """Write all loudspeakers to a file that imports to the identical catalogue; a file of that name is replaced.

    Example: triptych speaker export shop.xlsx
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.reads import LoudspeakerFilter, loudspeakers
    from triptych.catalog.files.loudspeakers import csv_of, write_loudspeakers

    with options.catalogue(db) as engine, reading(engine) as session:
        records = loudspeakers(session, LoudspeakerFilter(include_retired=retired))
    if file == "-":
        typer.echo(csv_of(records), nl=False)
    else:
        write_loudspeakers(Path(file), records)
        tell(f"wrote {len(records)} to {file}")


@app.command()
def retire(
    name: NameArgument,
    undo: Annotated[bool, typer.Option("--undo", help="Bring it back.")] = False,
    db: DatabaseOption = None,
) -> None:
    """Hide a loudspeaker from lists and recommendations; it stays in the catalogue.

    Example: triptych speaker retire "Oatfell Linden Tower"
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.writes import retire_loudspeaker

    with options.catalogue(db) as engine, writing(engine) as session:
        retire_loudspeaker(session, name, retired=not undo)
    tell(f"{'brought back' if undo else 'retired'}: {name}")


@app.command()
def merge(
    name: NameArgument,
    into: Annotated[str, typer.Argument(help="The one that stays.", show_default=False)],
    db: DatabaseOption = None,
) -> None:
    """Make one of two loudspeakers that are the same; stock, quotes, prices and curves are kept.

    Article numbers and reorder points go along. Where both have stock or quotes, the first is retired and keeps what
    was written of it.

    Example: triptych speaker merge "Oatfell Lindn Tower" "Oatfell Linden Tower"
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.stock.merging import merge_loudspeakers

    with options.catalogue(db) as engine, writing(engine) as session:
        merged = merge_loudspeakers(session, name, into)
    if merged.kept:
        tell(f"retired: {name}, which keeps its history; {merged.record.name} is the one from now on")
    else:
        tell(f"{name} is in {merged.record.name} now")
    for line in merged.lost:
        tell(f"{line} is gone, for {merged.record.name} has its own")
    for line in merged.told:
        tell(line)


@app.command()
def remove(name: NameArgument, db: DatabaseOption = None) -> None:
    """Take a loudspeaker away for good, with its figures and curves; refused where anything refers to it.

    Example: triptych speaker remove "Oatfell Lindn Tower"
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.stock.merging import remove_loudspeaker

    with options.catalogue(db) as engine, writing(engine) as session:
        record = remove_loudspeaker(session, name)
    tell(f"removed: {record.name}")
