"""`triptych datasheet`: what a pasted datasheet says, what it leaves open, and into the catalogue with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import ClearOption, DatabaseOption, Style, StyleOption, tell
from triptych.catalog.errors import BadInput

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from triptych.catalog.cli.sheet_review import Said
    from triptych.catalog.database.changes import Changes
    from triptych.catalog.database.reads import Stored
    from triptych.catalog.datasheet import ReadField, ReadSheet, SheetRecord
    from triptych.catalog.records import LoudspeakerRecord

app = options.application("Datasheets: read what a maker prints, with flags for what is inferred or refused.")

FileArgument = Annotated[
    str, typer.Argument(help="A text, a web page (HTML) or a PDF; - for stdin.", show_default=False)
]


@app.callback()
def group() -> None:
    """Datasheets: read what a maker prints, with flags for what is inferred or refused."""


@app.command()
def read(
    file: FileArgument,
    style: StyleOption = Style.TABLE,
    save: Annotated[bool, typer.Option("--save", help="Store what was read, once you agree.")] = False,
    yes: Annotated[bool, typer.Option("--yes", "-y", help="With --save: do not ask.")] = False,
    maker: Annotated[str | None, typer.Option(help="Who makes it, if the sheet does not say.")] = None,
    model: Annotated[str | None, typer.Option(help="The model, if the sheet does not say.")] = None,
    series: Annotated[str | None, typer.Option(help="The maker's series.")] = None,
    roles: Annotated[str | None, typer.Option(help="main, centre, surround, height, sub; several with ';'.")] = None,
    set: Annotated[
        list[str] | None,
        typer.Option(
            "--set", metavar="COLUMN=VALUE", help="Your answer to a question; stands above the sheet. Repeatable."
        ),
    ] = None,
    one: Annotated[bool, typer.Option("--one", help="All of it is about one loudspeaker.")] = False,
    models: Annotated[
        str | None,
        typer.Option(metavar="NAMES", help="Of several take these, with commas between; as the sheet calls them."),
    ] = None,
    review: Annotated[
        bool,
        typer.Option(
            "--review", help="Show the text with what was read marked, ask what is open, then store what you agree to."
        ),
    ] = False,
    clear: ClearOption = False,
    db: DatabaseOption = None,
) -> None:
    """Read a datasheet: free text, a table of several loudspeakers, a saved web page or a PDF.

    Nothing is guessed: what can be read two ways is refused, with the question to ask. --review asks them one by one.

    Example: triptych datasheet read wren.txt --save --maker Oatfell --roles centre

    Two columns of a table: triptych datasheet read range.pdf --models "Wren Tower, Wren Centre"
    """
    names = {"maker": maker, "model": model, "series": series, "roles": roles}
    given = {name: text for name, text in names.items() if text is not None} | dict(_answer(one) for one in set or [])
    if (yes or clear) and not (save or review):
        raise typer.BadParameter("--yes and --clear go with --save or --review")
    if one and models is not None:
        raise typer.BadParameter("--one and --models contradict each other")
    if review and (file == "-" or yes or style is not Style.TABLE):
        raise typer.BadParameter("--review asks at the terminal: not with -, --yes or another --format")
    text = text_of(file)
    wanted = [name.strip() for name in (models or "").split(",") if name.strip()]

    def read_again(said: Mapping[str, str] | Said) -> ReadSheet:
        return _sheet(file, text, said, one=one, models=wanted)

    sheet = read_again(given)
    said: Said = [dict(given) for _ in sheet.records]
    if review:
        sheet = _reviewed(sheet, said, read_again)
    else:
        _show(sheet, style)
    if save or review:
        with options.catalogue(db) as engine:
            _save(engine, sheet, file, said, yes=yes, clear=clear)


def _reviewed(sheet: ReadSheet, said: Said, read_again: Callable[[Said], ReadSheet]) -> ReadSheet:
    """Show a sheet, ask about it, and show what came of it."""
    from triptych.catalog.cli import sheet_review

    sheet_review.print_text(sheet)
    typer.echo("")
    _show(sheet, Style.TABLE)
    asked = sheet_review.ask(sheet, said, read_again)
    if asked is not sheet:
        typer.echo("\nAs it would be stored:")
        _show(asked, Style.TABLE)
    return asked


def _answer(text: str) -> tuple[str, str]:
    name, mark, value = text.partition("=")
    if not mark or not name.strip():
        raise typer.BadParameter(f"{text!r} is no pair; write a column, '=' and a value", param_hint="--set")
    return name.strip(), value.strip()


def text_of(file: str) -> str:
    """Return the text of a text file, a page or a PDF; `-` is stdin.

    Raises
    ------
    BadInput
        The file cannot be read, or is no text.
    """
    from pathlib import Path

    from triptych.catalog.datasheet.pdf import is_pdf, pdf_text
    from triptych.catalog.files.tables import read_bytes

    content = typer.get_binary_stream("stdin").read() if file == "-" else read_bytes(Path(file))
    return pdf_text(content, file) if is_pdf(content) else _text(content, file)


def _sheet(
    file: str, text: str, said: Mapping[str, str] | Said, *, one: bool = False, models: Sequence[str] = ()
) -> ReadSheet:
    from triptych.catalog.datasheet import read_datasheet

    try:
        sheet = read_datasheet(text, said, one=one, models=models)
    except BadInput as problem:
        raise BadInput(f"{file}: {problem}") from None
    if not any(record.fields for record in sheet.records):
        raise BadInput(f"{file}: no figure of a loudspeaker in it; write lines such as 'Width: 546 mm'")
    return sheet


def _text(content: bytes, file: str) -> str:
    if b"\0" in content and not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise BadInput(f"{file}: no text file; save the datasheet as plain text, in UTF-8, as a web page or as a PDF")
    for encoding in ("utf-16",) if content.startswith((b"\xff\xfe", b"\xfe\xff")) else ("utf-8-sig", "cp1252"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise BadInput(f"{file}: the text is in no encoding that can be read; save it in UTF-8")


def record_each(
    sheet: ReadSheet, file: str, said: Sequence[Mapping[str, str]], stored: Mapping[str, Stored] | None = None
) -> list[LoudspeakerRecord]:
    """Return the record of every loudspeaker of a sheet, or say what each is short of.

    `said` is what a person says of each, and `stored` what the catalogue knows of them, by key; what neither sheet
    nor person says stays as it is there.

    Raises
    ------
    BadInput
        One is short of maker, model or roles, contradicts itself, or names are given for several.
    """
    from triptych.catalog.database.rows import name_key
    from triptych.catalog.datasheet.storing import name_of, record_of

    found = [(record, given) for record, given in zip(sheet.records, said, strict=True) if record.fields]
    if len(found) > 1 and len({given["model"] for _, given in found if "model" in given}) == 1:
        raise BadInput(
            f"{file}: holds {len(found)} loudspeakers, and --model names one; take it alone with --models, say with "
            "--one that it is one, or put 'Model: ...' into the text"
        )
    source = "stdin" if file == "-" else file.replace("\\", "/").rpartition("/")[2]
    records, complaints = [], []
    for number, (one, given) in enumerate(found, 1):
        try:
            known = (stored or {}).get(name_key(name_of(one, given)))
            records.append(record_of(one, source, given, known.record if known else None))
        except BadInput as problem:
            complaints.append(f"{file}, loudspeaker {number}: nothing stored; {problem}")
    if complaints:
        raise BadInput("\n".join(complaints))
    return records


def read_one(file: str, given: Mapping[str, str]) -> LoudspeakerRecord:
    """Return the one loudspeaker of a sheet, and tell on stderr what was refused and is to be asked.

    Raises
    ------
    BadInput
        It holds several, or is short of maker, model or roles.
    """
    text = text_of(file)
    sheet = _sheet(file, text, given)
    if len(sheet.records) > 1 and "model" in given:
        sheet = _sheet(file, text, given, models=[given["model"]])
    if len(sheet.records) > 1:
        raise BadInput(
            f"{file}: holds {len(sheet.records)} loudspeakers; name one with --model as the sheet calls it, or take "
            "them all with datasheet read --save"
        )
    [record] = record_each(sheet, file, [given])
    for name, field in sheet.records[0].fields.items():
        if field.flags and name not in given:
            tell(f"{name} {field.status.value}: {'; '.join(field.flags)}")
    for question in sheet.records[0].questions:
        tell(f"to ask: {question}")
    return record


def _save(engine: Engine, sheet: ReadSheet, file: str, said: Said, *, yes: bool, clear: bool) -> None:
    from triptych.catalog.cli.makers import doubted, unmeant
    from triptych.catalog.database.changes import changes_of, checked, refuse_overtaken
    from triptych.catalog.database.engine import reading, writing
    from triptych.catalog.database.reads import stored_by_key
    from triptych.catalog.database.rows import name_key
    from triptych.catalog.database.writes import write_changes
    from triptych.catalog.datasheet.storing import name_of

    with reading(engine) as session:
        stored = stored_by_key(
            session, {name_key(name_of(record, given)) for record, given in zip(sheet.records, said, strict=True)}
        )
    records = record_each(sheet, file, said, stored)
    changes = changes_of(checked(records), stored)
    _tell_kept(sheet, said, stored)
    answers = [given for record, given in zip(sheet.records, said, strict=True) if record.fields]
    by_name = {record.name: given for record, given in zip(records, answers, strict=True)}
    _refuse_cleared(changes, by_name, clear=clear)
    names = ", ".join(record.name for record in records)
    if (unsure := doubted(engine, records)) and (yes or file == "-"):
        raise BadInput(unmeant(unsure))
    for doubt in unsure:
        tell(f"{doubt}; --set {doubt.kin.value}={doubt.near!r} takes that")
    if not yes:
        if file == "-":
            raise BadInput("the text came through stdin, so nobody can be asked; nothing stored, add --yes")
        try:
            typer.confirm(options.harmless(f"Store {names}?"), abort=True, err=True)
        except UnicodeError:
            raise BadInput("the answer is not text in UTF-8; nothing stored") from None
    with writing(engine) as session:
        refuse_overtaken(session, changes)
        saved = write_changes(session, changes)
    tell(f"added {saved.added}, changed {saved.changed}, unchanged {saved.unchanged}: {names}")


def _tell_kept(sheet: ReadSheet, said: Said, stored: Mapping[str, Stored]) -> None:
    """Tell what is known and stays, because the sheet's own word for it could not be read."""
    from triptych.catalog.database.rows import name_key
    from triptych.catalog.datasheet.storing import name_of
    from triptych.catalog.fields import COLUMNS

    for one, given in zip(sheet.records, said, strict=True):
        known = stored.get(name_key(name_of(one, given)))
        for name, field in one.fields.items() if known else ():
            value = known and getattr(known.record, name)
            if field.value is None and value is not None and name not in given:
                tell(f"{name}: not read; {COLUMNS[name].shown(value)!r} of {known and known.record.name!r} stays")


def _refuse_cleared(changes: Changes, answers: Mapping[str, Mapping[str, str]], *, clear: bool) -> None:
    """Tell which figures empty answers clear, by the loudspeaker's name, and refuse that unless it is wanted."""
    from triptych.catalog.consistency import cleared

    found = [
        f"--set {name}= clears {value!r} of {item.record.name!r}"
        for item, record, _ in changes.changed
        for name, value in cleared(item.record, record, answers.get(record.name, {})).items()
    ]
    for line in found:
        tell(line)
    if found and not clear:
        raise BadInput("nothing stored; give the figures, leave their --set out, or add --clear")


def _show(sheet: ReadSheet, style: Style) -> None:
    if style is Style.JSON:
        options.print_json(sheet.as_json())
    elif style is Style.CSV:
        _print_csv(sheet)
    else:
        for number, record in enumerate(sheet.records, 1):
            _print_record(record, number if len(sheet.records) > 1 else None)
        _print_rest(sheet)


def _print_csv(sheet: ReadSheet) -> None:
    rows: list[Sequence[str]] = [("loudspeaker", "column", "value", "unit", "status", "flags", "raw")]
    for number, record in enumerate(sheet.records, 1):
        rows += [(str(number), *_cells(name, field)) for name, field in record.fields.items()]
    options.print_csv(rows)


def _cells(name: str, field: ReadField) -> tuple[str, ...]:
    from triptych.catalog.fields import COLUMNS

    text, unit = COLUMNS[name].text(field.value), COLUMNS[name].unit or ""
    return name, text, unit, field.status.value, "; ".join(field.flags), field.raw


def _print_record(record: SheetRecord, number: int | None) -> None:
    if number is not None:
        typer.echo(("" if number == 1 else "\n") + f"Loudspeaker {number}")
    shown = [
        (name, _value(name, field), field.status.value, "; ".join(field.flags) or field.raw)
        for name, field in record.fields.items()
    ]
    options.print_table(("column", "value", "status", "why, or how it stands there"), shown)
    if record.questions:
        typer.echo("\nTo ask:")
        for question in record.questions:
            typer.echo(options.harmless(f"  {question}"))
    if record.unread:
        typer.echo("\nNot read:")
        for line in record.unread:
            typer.echo(options.harmless(f"  {line}"))


def _print_rest(sheet: ReadSheet) -> None:
    """Print what is about no loudspeaker, and each number not read of lines that were."""
    from triptych.catalog.datasheet.result import left_out

    for title, lines in (("About none of them", sheet.unread), ("Numbers not read", left_out(sheet))):
        if lines:
            typer.echo(f"\n{title}:")
        for line in lines:
            typer.echo(options.harmless(f"  {line}"))


def _value(name: str, field: ReadField) -> str:
    from triptych.catalog.cli.sheet_review import as_typed

    return as_typed(name, field) if field.value is not None else "–"
