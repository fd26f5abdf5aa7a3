"""`triptych maker`, `series` and `family`: the names that loudspeakers have in common, and doubts about new ones."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Final

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell
from triptych.catalog.errors import BadInput
from triptych.catalog.names import name_key

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from triptych.catalog.database.kinship import Doubt, Kindred
    from triptych.catalog.records import LoudspeakerRecord

OF_WHAT: Final = {
    "maker": "Makers",
    "series": "Series, each named by its maker and its own name",
    "family": "Families, loudspeakers that are voiced together",
}
"""What the names are of, and what the help says of it."""

_MANY: Final = {"maker": "makers", "series": "series", "family": "families"}

NameArgument = Annotated[str, typer.Argument(help="As it is, in any case.", show_default=False)]


def _group(word: str) -> typer.Typer:
    """The commands of one kind of name; a function a command, as all three work alike."""
    app = options.application(f"{OF_WHAT[word]}: list, add, rename, merge, remove.")
    before = "Oatfell " * (word == "series")
    old, new = f"{before}Lindn", "Linden"

    def list_(style: StyleOption = Style.TABLE, db: DatabaseOption = None) -> None:
        _list(word, style, db)

    def add(name: NameArgument, db: DatabaseOption = None) -> None:
        _add(word, name, db)

    def rename(
        name: NameArgument,
        new: Annotated[str, typer.Argument(help="As it shall be.", show_default=False)],
        db: DatabaseOption = None,
    ) -> None:
        _rename(word, name, new, db)

    def merge(
        name: NameArgument,
        into: Annotated[str, typer.Argument(help="The one that stays.", show_default=False)],
        db: DatabaseOption = None,
    ) -> None:
        _merge(word, name, into, db)

    def remove(name: NameArgument, db: DatabaseOption = None) -> None:
        _remove(word, name, db)

    for command, name, says, example in (
        (list_, "list", "List them, each with how many loudspeakers have it.", ""),
        (add, "add", "Make a new name on purpose, however near another; one that is not used yet too.", f'"{old}"'),
        (rename, "rename", "Give it another name; its loudspeakers keep all they have.", f'"{old}" "{new}"'),
        (
            merge,
            "merge",
            "Give all loudspeakers of one to another, and take the empty one away.",
            f'"{old}" "{before}{new}"',
        ),
        (remove, "remove", "Take one away that no loudspeaker has.", f'"{old}"'),
    ):
        help = f"{says}\n\nExample: triptych {word} {name} {example}".rstrip()
        app.command(name, help=help)(command)
    return app


def _list(word: str, style: Style, db: str | None) -> None:
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.kinship import Kindred, kin_names

    with options.catalogue(db) as engine, reading(engine) as session:
        found = kin_names(session, Kindred(word))
    headers = (word, "loudspeakers")
    rows = [(one.whole, str(one.loudspeakers)) for one in found]
    if style is Style.JSON:
        options.print_json({_MANY[word]: [{"name": one.whole, "loudspeakers": one.loudspeakers} for one in found]})
    elif style is Style.CSV:
        options.print_csv([headers, *rows])
    elif rows:
        options.print_table(headers, rows, right=headers[1:])
    else:
        tell("none yet")


def _add(word: str, name: str, db: str | None) -> None:
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.kinship import Kindred, add_kin_name

    with options.catalogue(db) as engine, writing(engine) as session:
        new = add_kin_name(session, Kindred(word), name)
    tell(f"{word} added: {name}" if new else f"{word} {name!r} is there already")


def _rename(word: str, name: str, new: str, db: str | None) -> None:
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.kinship import Kindred
    from triptych.catalog.database.renaming import rename_kin

    with options.catalogue(db) as engine, writing(engine) as session:
        count = rename_kin(session, Kindred(word), name, new)
    tell(f"{word} {name!r} is {new!r} now: {_counted(count)}")


def _merge(word: str, name: str, into: str, db: str | None) -> None:
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.kinship import Kindred
    from triptych.catalog.database.renaming import merge_kin

    with options.catalogue(db) as engine, writing(engine) as session:
        count = merge_kin(session, Kindred(word), name, into)
    tell(f"{word} {name!r} is in {into!r} now: {_counted(count)}")


def _remove(word: str, name: str, db: str | None) -> None:
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.kinship import Kindred
    from triptych.catalog.database.renaming import remove_kin

    with options.catalogue(db) as engine, writing(engine) as session:
        remove_kin(session, Kindred(word), name)
    tell(f"{word} removed: {name}")


def _counted(count: int) -> str:
    return "1 loudspeaker" if count == 1 else f"{count} loudspeakers"


def settled(engine: Engine, record: LoudspeakerRecord) -> LoudspeakerRecord:
    """Return a loudspeaker under the names that were meant: each that is nearly a known one is asked about.

    Raises
    ------
    BadInput
        There is a near name, and nobody at the terminal who could be asked.
    """
    from triptych.catalog.stated_records import renamed

    meant: set[tuple[Kindred, str]] = set()
    while True:
        open_ = [doubt for doubt in doubted(engine, [record]) if (doubt.kin, name_key(doubt.name)) not in meant]
        if not open_:
            return record
        doubt = open_[0]
        if not somebody_there():
            raise BadInput(unmeant(open_))
        if _takes(doubt):
            record = renamed(record, **{doubt.kin.value: doubt.near})
        else:
            meant.add((doubt.kin, name_key(doubt.name)))


def doubted(engine: Engine, records: Iterable[LoudspeakerRecord]) -> list[Doubt]:
    """Give what is new among the names of loudspeakers and nearly a known one."""
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.kinship import doubts

    with reading(engine) as session:
        return doubts(session, records)


def unmeant(doubts: Iterable[Doubt]) -> str:
    """Return the refusal of names that nobody can be asked about, a line each."""
    return "\n".join(
        f"{doubt}: write that, or make the new one first, {doubt.made}; nothing was written" for doubt in doubts
    )


def somebody_there() -> bool:
    """Whether somebody sits at the terminal who can be asked."""
    return sys.stdin.isatty()


def _takes(doubt: Doubt) -> bool:
    question = options.harmless(f"{doubt}. Take {doubt.near!r}?")
    try:
        return typer.confirm(question, default=True, err=True)
    except UnicodeError:
        raise BadInput("the answer is not text in UTF-8; nothing was written") from None


maker = _group("maker")
series = _group("series")
family = _group("family")
