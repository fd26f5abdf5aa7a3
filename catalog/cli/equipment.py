"""`triptych equipment`: what a system needs beside its loudspeakers, in and out of the catalogue."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Annotated, Final

import typer

from triptych.catalog.cell_readings import CellReader
from triptych.catalog.cli import options
from triptych.catalog.cli.column_options import option_a_column
from triptych.catalog.cli.options import ClearOption, DatabaseOption, DecimalOption, Style, StyleOption, tell
from triptych.catalog.equipment_record import (
    CAUTION,
    EQUIPMENT,
    EQUIPMENT_UNITS,
    EquipmentRecord,
    equipment_of,
    equipment_texts,
    equipment_values,
)
from triptych.catalog.errors import BadInput
from triptych.catalog.money import in_words
from triptych.catalog.problems import nearest
from triptych.catalog.words import EquipmentKind, SaleUnit

app = options.application(
    "Equipment: receivers, amplifiers, sources, stands, mounts, cables. Import, add, edit, show, list, export, remove."
)

PieceArgument = Annotated[str, typer.Argument(help="Maker and model, in any case.", show_default=False)]


@app.command("import")
def import_(
    file: Annotated[
        Path, typer.Argument(help="A CSV or XLSX file, one piece a row, or TOML, one a table.", show_default=False)
    ],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would happen and change nothing.")] = False,
    map: Annotated[
        list[str] | None,
        typer.Option(
            "--map", metavar="THEIRS=OURS", help="Read column THEIRS as OURS; THEIRS= leaves it out. Repeatable."
        ),
    ] = None,
    decimal: DecimalOption = None,
    clear: ClearOption = False,
    db: DatabaseOption = None,
) -> None:
    """Take equipment from a file: all of it or, with one bad cell, nothing.

    Every bad cell is named. What the file has no column for stays as it is known; a cell that is empty where a figure
    is known is refused without --clear. The same file a second time changes nothing.

    Example: triptych equipment import racks.csv --map "Watts=power"
    """
    from triptych.catalog.database.engine import reading, writing
    from triptych.catalog.database.equipment_rows import KeptEquipment, equipment_by_key, save_equipment
    from triptych.catalog.files.equipment_files import read_equipment

    mapping = dict(options.pair(one, "--map") for one in map or [])
    with options.catalogue(db, fresh=True) as engine:

        def known(keys: Sequence[str]) -> Mapping[str, EquipmentRecord]:
            with reading(engine) as session:
                return equipment_by_key(session, keys)

        found = read_equipment(file, mapping, decimal, known=known, clear=clear)
        for remark in found.remarks:
            tell(f"warning: {remark}")
        if found.problems:
            for problem in found.problems:
                tell(str(problem))
            count = len(found.problems)
            raise BadInput(f"{found.source}: {count} problem{'s' * (count != 1)}, nothing changed; mend the file")
        if dry_run:
            before = known([record.key for record in found.records])
            same = sum(before.get(record.key) == record for record in found.records)
            kept = KeptEquipment(len(found.records) - len(before), len(before) - same, same)
        else:
            with writing(engine) as session:
                kept = save_equipment(session, found.records)
    counts = f"added {kept.added}, changed {kept.changed}, unchanged {kept.unchanged}"
    tell(("would have " if dry_run else "") + counts)


@app.command()
@option_a_column(EQUIPMENT, db=DatabaseOption)
def add(db: str | None = None, **texts: str | None) -> None:
    """Add one piece of equipment; every column of the file is an option, with the same units and words.

    Example: triptych equipment add --maker Tallow --model Seven --kind receiver --channels 7 --lowest-load "4 ohm"
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.equipment_rows import equipment_by_key, save_equipment

    given = {name: text for name, text in texts.items() if text is not None}
    record, faults = equipment_of(given, CellReader(columns=EQUIPMENT))
    if record is None:
        raise BadInput("\n".join(f"--{name.replace('_', '-')}: {complaint}" for name, complaint in faults))
    with options.catalogue(db, fresh=True) as engine, writing(engine) as session:
        if equipment_by_key(session, [record.key]):
            raise BadInput(f"{record.name!r} is in the catalogue already; change it with equipment edit")
        save_equipment(session, [record])
    tell(f"added {record.name}")


@app.command()
def edit(
    name: PieceArgument,
    set: Annotated[
        list[str],
        typer.Option("--set", metavar="COLUMN=VALUE", help="A figure; an empty value is unknown. Repeatable."),
    ],
    db: DatabaseOption = None,
) -> None:
    """Change figures of one piece, or its name.

    Example: triptych equipment edit "Tallow Seven" --set "power=110 W" --set "power_into=8 ohm"
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.equipment_rows import edit_equipment, equipment_named

    changes = dict(options.pair(one, "--set") for one in set)
    for column in changes:
        if column not in EQUIPMENT:
            raise BadInput(f"--set {column}=...: {column!r} is no column; {nearest(column, EQUIPMENT)}")
    with options.catalogue(db) as engine, writing(engine) as session:
        old = equipment_named(session, name)
        record, faults = equipment_of(changes, CellReader(columns=EQUIPMENT), old)
        if record is None:
            raise BadInput("\n".join(f"column {column}: {complaint}" for column, complaint in faults))
        edit_equipment(session, name, record)
    for column in changes:
        if getattr(record, column) is None and getattr(old, column) is not None:
            tell(f"--set {column}= clears {EQUIPMENT[column].shown(getattr(old, column))!r}")
    tell(f"{record.name}: {'unchanged' if record == old else 'changed'}")


@app.command()
def show(name: PieceArgument, style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
    """Show one piece with every figure, and what is unknown of its kind.

    Example: triptych equipment show "tallow seven" --format json
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.equipment_rows import equipment_named

    with options.catalogue(db) as engine, reading(engine) as session:
        record = equipment_named(session, name)
    if style is Style.JSON:
        options.print_json({"units": EQUIPMENT_UNITS} | equipment_values(record))
    elif style is Style.CSV:
        _print_cells([record])
    else:
        rows = [(name, EQUIPMENT[name].shown(getattr(record, name))) for name, text in _stated(record) if text]
        options.print_table(("column", "value"), rows)
        unknown = ", ".join(name for name, text in _stated(record) if not text)
        options.print_paragraph(f"Unknown: {unknown}." if unknown else "Nothing is unknown.")
        if record.kind in (EquipmentKind.STAND, EquipmentKind.MOUNT, EquipmentKind.RECEIVER, EquipmentKind.AMPLIFIER):
            options.print_paragraph(CAUTION)


def _stated(record: EquipmentRecord) -> Iterable[tuple[str, str]]:
    """The columns that a piece of its kind can have, with their texts."""
    return ((name, text) for name, text in equipment_texts(record).items() if text or record.has(name))


@app.command("list")
def list_(
    kind: Annotated[EquipmentKind | None, typer.Option(help="Of this kind.")] = None,
    text: Annotated[str | None, typer.Option(help="With these words in the name.", show_default=False)] = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """List equipment by its kinds, in order of its names.

    Example: triptych equipment list --kind receiver
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.equipment_rows import equipment

    with options.catalogue(db) as engine, reading(engine) as session:
        found = equipment(session, kind, text)
    if style is Style.JSON:
        options.print_json({"units": EQUIPMENT_UNITS, "equipment": [equipment_values(record) for record in found]})
    elif style is Style.CSV:
        _print_cells(found)
    elif found:
        rows = [(record.name, record.kind.value, _figures(record), _price(record)) for record in found]
        options.print_table(("equipment", "kind", "figures", "price"), rows, right=("price",))
    else:
        tell("no equipment is like that")


def _print_cells(records: Iterable[EquipmentRecord]) -> None:
    from triptych.catalog.files.equipment_files import equipment_cells

    options.print_csv(equipment_cells(records))


_TOLD: Final = {"lowest_load": "down to", "bears": "bears", "length": "", "conductor_area": "", "serves": "for"}
"""What is told of a piece beside its channels and its power, and the words before it."""


def _figures(record: EquipmentRecord) -> str:
    """What counts most of a piece, in a few words."""
    shown = {name: EQUIPMENT[name].shown(getattr(record, name)) for name in EQUIPMENT}
    told = []
    if shown["channels"] or shown["processed_channels"]:
        told.append(f"{shown['channels'] or '?'} of {shown['processed_channels'] or shown['channels']} channels")
    if shown["power"]:
        told.append(f"{shown['power']} into {shown['power_into']}")
    told += [f"{words} {shown[name]}".strip() for name, words in _TOLD.items() if shown[name]]
    return ", ".join(told).replace(";", ", ")


def _price(record: EquipmentRecord) -> str:
    if record.price is None:
        return "–"
    per = "" if record.price_per in (None, SaleUnit.EACH) else f"/{record.price_per.value}"
    return f"{in_words(record.price, record.currency)}{per}"


@app.command()
def export(
    file: Annotated[
        str,
        typer.Argument(
            help="Where to: .xlsx for a workbook, .toml for TOML, else CSV; - for stdout.", show_default=False
        ),
    ] = "-",
    db: DatabaseOption = None,
) -> None:
    """Write all equipment to a file that imports to the identical catalogue; a file of that name is replaced.

    Example: triptych equipment export racks.xlsx
    """
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.equipment_rows import equipment
    from triptych.catalog.files.equipment_files import equipment_cells, write_equipment
    from triptych.catalog.files.tables import csv_text

    with options.catalogue(db) as engine, reading(engine) as session:
        found = equipment(session)
    if file == "-":
        typer.echo(csv_text(equipment_cells(found)), nl=False)
    else:
        write_equipment(Path(file), found)
        tell(f"wrote {len(found)} to {file}")


@app.command()
def remove(name: PieceArgument, db: DatabaseOption = None) -> None:
    """Take a piece of equipment away for good.

    Example: triptych equipment remove "Tallow Seven"
    """
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.equipment_rows import remove_equipment

    with options.catalogue(db) as engine, writing(engine) as session:
        record = remove_equipment(session, name)
    tell(f"removed: {record.name}")
