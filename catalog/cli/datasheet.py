"""`triptych datasheet`: what a pasted datasheet says, what it leaves open, and into the catalogue with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import ClearOption, DatabaseOption, Style, StyleOption, tell
from triptych.catalog.errors import BadInput

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from triptych.catalog.datasheet import ReadField, ReadSheet
    from triptych.catalog.datasheet.review import SheetReview
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
    save: Annotated[bool, typer.Option("--save", help="Store what was read; asks only what it needs to know.")] = False,
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
    from triptych.catalog.datasheet.review import open_review

    names = {"maker": maker, "model": model, "series": series, "roles": roles}
    given = {name: text for name, text in names.items() if text is not None} | dict(_answer(one) for one in set or [])
    if (yes or clear) and not (save or review):
        raise typer.BadParameter("--yes and --clear go with --save or --review")
    if one and models is not None:
        raise typer.BadParameter("--one and --models contradict each other")
    if review and (file == "-" or yes or style is not Style.TABLE):
        raise typer.BadParameter("--review asks at the terminal: not with -, --yes or another --format")
    wanted = [name.strip() for name in (models or "").split(",") if name.strip()]
    looked = open_review(text_of(file), file, given, one=one, models=wanted)
    if review:
        looked = _reviewed(looked)
    else:
        _show(looked, style)
    if save or review:
        with options.catalogue(db, fresh=True) as engine:
            _save(engine, looked, yes=yes, clear=clear, reviewed=review)


def _reviewed(review: SheetReview) -> SheetReview:
    """Show a sheet, ask about it, and show what came of it."""
    from triptych.catalog.cli import sheet_review

    sheet_review.print_text(review)
    typer.echo("")
    _show(review, Style.TABLE)
    asked = sheet_review.ask(review)
    if asked is not review:
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

    from triptych.catalog.datasheet.texts import sheet_text
    from triptych.catalog.files.tables import read_bytes

    return sheet_text(typer.get_binary_stream("stdin").read() if file == "-" else read_bytes(Path(file)), file)


def read_one(file: str, given: Mapping[str, str]) -> LoudspeakerRecord:
    """Return the one loudspeaker of a sheet; at a terminal it is looked through first; what is open is told.

    Raises
    ------
    BadInput
        It holds several, or is short of maker, model or roles.
    """
    from triptych.catalog.cli.makers import somebody_there
    from triptych.catalog.datasheet.review import open_review
    from triptych.catalog.datasheet.storing import BY_OPTION
    from triptych.catalog.files.sheet_storing import sheet_records

    text = text_of(file)
    review = open_review(text, file, given)
    if len(review.sheet.records) > 1 and "model" in given:
        review = open_review(text, file, given, models=[given["model"]])
    if len(review.sheet.records) > 1:
        raise BadInput(
            f"{file}: holds {len(review.sheet.records)} loudspeakers; name one with --model as the sheet calls it, or "
            "take them all with datasheet read --save"
        )
    if file != "-" and somebody_there():
        review = _reviewed(review)
    [record] = sheet_records(review, say=BY_OPTION)
    [found] = review.sheet.records
    for name, field in found.fields.items():
        if field.flags and name not in review.said[0]:
            tell(f"{name} {field.status.value}: {'; '.join(field.flags)}")
    for question in found.questions:
        tell(f"to ask: {question}")
    return record


def _save(engine: Engine, review: SheetReview, *, yes: bool, clear: bool, reviewed: bool) -> None:
    from triptych.catalog.cli.makers import unmeant
    from triptych.catalog.cli.sheet_review import ask_each
    from triptych.catalog.datasheet.review import name_questions
    from triptych.catalog.files.sheet_storing import plan_sheet, refuse_clearing, store_sheet

    if not yes and review.name != "-":
        review = ask_each(review, name_questions)
    plan = plan_sheet(engine, review)
    for line in (*plan.kept, *plan.cleared):
        tell(line)
    refuse_clearing(plan, clear=clear)
    if plan.doubts and (yes or review.name == "-"):
        raise BadInput(unmeant(plan.doubts))
    for doubt in plan.doubts:
        tell(f"{doubt}; --set {doubt.kin.value}={doubt.near!r} takes that")
    if not yes and (reviewed or plan.doubts):
        # to save was said already; only a look, or a name that is nearly a known one, leaves something to agree to
        options.agreed(f"Store {plan.names}?", "nothing stored")
    saved = store_sheet(engine, plan, clear=clear)
    tell(f"added {saved.added}, changed {saved.changed}, unchanged {saved.unchanged}: {plan.names}")


def _show(review: SheetReview, style: Style) -> None:
    if style is Style.JSON:
        options.print_json(review.sheet.as_json())
    elif style is Style.CSV:
        _print_csv(review.sheet)
    else:
        for place in range(len(review.sheet.records)):
            _print_record(review, place)
        _print_rest(review.sheet)


def _print_csv(sheet: ReadSheet) -> None:
    rows: list[Sequence[str]] = [("loudspeaker", "column", "value", "unit", "status", "flags", "raw")]
    for number, record in enumerate(sheet.records, 1):
        rows += [(str(number), *_cells(name, field)) for name, field in record.fields.items()]
    options.print_csv(rows)


def _cells(name: str, field: ReadField) -> tuple[str, ...]:
    from triptych.catalog.fields import COLUMNS

    text, unit = COLUMNS[name].text(field.value), COLUMNS[name].unit or ""
    return name, text, unit, field.status.value, "; ".join(field.flags), field.raw


def _print_record(review: SheetReview, place: int) -> None:
    from triptych.catalog.datasheet.review import review_rows

    record = review.sheet.records[place]
    if len(review.sheet.records) > 1:
        typer.echo(("" if place == 0 else "\n") + f"Loudspeaker {place + 1}")
    shown = [
        (row.column, row.value or "–", row.status.value, "; ".join(row.flags) or row.raw)
        for row in review_rows(review, place)
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
