"""What all commands share: options, errors in one line, and printing that no text can disturb."""

from __future__ import annotations

import csv
import gc
import os
import sys
import unicodedata
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

import typer
from typer.core import TyperGroup

from triptych.catalog.cli.as_given import spare_conversion
from triptych.catalog.errors import BadInput, CatalogError
from triptych.catalog.numerals import Mark

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table
    from sqlalchemy import Engine

    from triptych.catalog.ways_told import Views

ALLOCATED: Final = 200_000
"""So many objects are made before Python looks for garbage in circles: its own 700 take a tenth of a command."""

WIDE: Final = 120
"""Columns of a terminal from which tables say more."""


class Style(StrEnum):
    """How to write data."""

    TABLE = "table"
    JSON = "json"
    CSV = "csv"


_MARKS: Final[dict[str, Mark]] = {".": ".", "point": ".", ",": ",", "comma": ","}


def _mark(text: str) -> Mark:
    mark = _MARKS.get(text.strip().casefold())
    if mark is None:
        raise typer.BadParameter(f"{text!r}: write point or comma")
    return mark


DecimalOption = Annotated[
    Mark | None,
    typer.Option(
        "--decimal",
        metavar="point|comma",
        parser=_mark,
        help="Decimal mark of a number that can be read two ways, as 1.200; else that of its column's other cells.",
        show_default=False,
    ),
]

ClearOption = Annotated[
    bool, typer.Option("--clear", help="Let what is given as empty or unknown clear figures that are known.")
]

DatabaseOption = Annotated[
    str | None,
    typer.Option(
        "--db",
        metavar="URL_OR_PATH",
        help="The catalogue: an SQLite file or a database URL. Else TRIPTYCH_DB, else a file in your data folder.",
        show_default=False,
    ),
]
StyleOption = Annotated[Style, typer.Option("--format", "-f", help="How to write the answer.")]


@dataclass(frozen=True, slots=True)
class Afterwards:
    """What the whole program does after a command of the catalogue, which doesn't know how; its context holds it.

    `profiles` computes the acoustic profiles of loudspeakers by their keys, says how far it is, and tells how many.
    """

    profiles: Callable[[Engine, Collection[str], Callable[[str], None]], int]


class Commands(TyperGroup):
    """A group of commands that tells what the catalogue refuses on stderr and ends with 1."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Take the group's own words, and give the rest."""
        spare_conversion(self, ctx)
        return super().parse_args(ctx, args)

    def resolve_command(self, ctx: Any, args: list[str]) -> tuple[Any, Any, list[str]]:
        """The command that the first word names, the name it goes by, and the words after it."""
        name, command, words = super().resolve_command(ctx, args)
        if command is not None:
            spare_conversion(command, ctx)
        return name, command, words

    def invoke(self, ctx: Any) -> Any:
        """Run the command; only CatalogError is the user's to mend, anything else keeps its traceback."""
        try:
            return super().invoke(ctx)
        except CatalogError as problem:
            tell(f"error: {problem}")
            raise typer.Exit(1) from None


def application(help: str) -> typer.Typer:
    """Return an application whose help is plain and whose errors are told by `Commands`."""
    return typer.Typer(
        cls=Commands,
        help=help,
        no_args_is_help=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        add_completion=False,
    )


def run(app: Callable[[], object]) -> None:
    """Run an application as the whole program; quiet at Ctrl-C and closed pipes.

    It exits with 0 when done, 1 when the catalogue refuses, 2 when the command line is wrong.
    """
    gc.set_threshold(ALLOCATED)
    for stream in (sys.stdout, sys.stderr):
        # a terminal without a character for it gets an escape instead of a traceback
        getattr(stream, "reconfigure", lambda **_: None)(errors="backslashreplace")
    _refuse_strange_words()
    try:
        app()
        sys.stdout.flush()
    except CatalogError as problem:
        tell(f"error: {problem}")
        raise SystemExit(1) from None
    except KeyboardInterrupt:
        raise SystemExit(130) from None
    except BrokenPipeError:
        # Python flushes stdout once more at exit, which would fail again
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(1) from None
    finally:
        gc.freeze()  # else Python looks through all that was ever imported before it ends, a tenth of a command


def _refuse_strange_words() -> None:
    """End with 2 where an argument is no text: nothing that is kept or told could hold it."""
    for word in sys.argv[1:]:
        try:
            word.encode()
        except UnicodeEncodeError:
            tell(f"error: {word[:80]!r} is not text in UTF-8: write it so, and give files names in UTF-8")
            raise SystemExit(2) from None


def pair(text: str, option: str) -> tuple[str, str]:
    """Return what stands on both sides of the first equals sign of an option's value."""
    left, mark, right = text.partition("=")
    if not mark or not left.strip():
        raise typer.BadParameter(f"{text!r} is no pair; write one name, '=' and another", param_hint=option)
    return left.strip(), right.strip()


@contextmanager
def catalogue(url_or_path: str | None, *, fresh: bool = False) -> Iterator[Engine]:
    """Give the catalogue's engine, created or upgraded where that is needed, and let go of it afterwards.

    What fills a catalogue says that a `fresh` one may be meant.
    """
    from triptych.catalog.database.engine import open_catalogue

    engine = open_catalogue(url_or_path, fresh=fresh)
    try:
        yield engine
    finally:
        engine.dispose()


def agreed(question: str, kept: str) -> None:
    """Ask at the terminal whether it is meant, and leave where it is not; `kept` says what then wasn't done.

    Raises
    ------
    BadInput
        The answer is no text.
    """
    try:
        typer.confirm(harmless(question), abort=True, err=True)
    except UnicodeError:
        raise BadInput(f"the answer is not text in UTF-8; {kept}") from None


def harmless(text: str) -> str:
    r"""Return text in which nothing commands a terminal: what does not print is written out, such as \x1b."""
    return "".join(_harmless(character) for character in text)


def _harmless(character: str) -> str:
    if character.isprintable():
        return character
    # Python calls no-break and thin spaces unprintable; a terminal shows them as blanks
    return " " if unicodedata.category(character) == "Zs" else character.encode("unicode_escape").decode()


def tell(text: str) -> None:
    """Write words for people to stderr, line by line."""
    for line in text.split("\n"):
        typer.echo(harmless(line), err=True)


def print_json(value: object, views: Views | None = None) -> None:
    """Write a value as JSON to stdout, as it is computed; records by the views that there are of them."""
    from triptych.catalog.answers import Answers

    sys.stdout.writelines(Answers(views).json(value))
    sys.stdout.write("\n")


def print_csv(rows: Iterable[Sequence[str]]) -> None:
    """Write rows as CSV to stdout: the exact text to a file or pipe, and to a terminal what commands it not.

    What a spreadsheet would run is marked; the same mark is taken off where a file is read.
    """
    from triptych.catalog.formulas import guarded_rows

    # what echoes for typer leaves out what commands a terminal where there is none
    terminal = sys.stdout.isatty()
    writer = csv.writer(sys.stdout, lineterminator="\n")
    safe = guarded_rows(rows)
    writer.writerows([harmless(cell) for cell in row] if terminal else row for row in safe)


def console(*, stderr: bool = False) -> Console:
    """Give a console that reads no markup, colours no words on its own, and nothing at all where NO_COLOR is set."""
    from rich.console import Console

    # by https://no-color.org an empty one says nothing; FORCE_COLOR makes no terminal of a file then
    if not os.environ.get("NO_COLOR"):
        return Console(stderr=stderr, highlight=False, markup=False)
    terminal = (sys.stderr if stderr else sys.stdout).isatty()
    return Console(stderr=stderr, highlight=False, markup=False, color_system=None, force_terminal=terminal)


def terminal_width() -> int:
    """Return how many columns a table may take."""
    return console().width


BROKEN: Final = {"loudspeaker": "loud-\nspeaker"}
"""Heads too long for a narrow column, and where they are broken."""


UNBROKEN: Final = 32
"""Cells that are to stay whole do so up to that length."""


LONG_WORD: Final = 20
"""Words beyond that length, such as addresses, may be broken in a narrow table. No source."""


def print_table(
    headers: Sequence[str], rows: Sequence[Sequence[str]], *, right: Sequence[str] = (), whole: str = ""
) -> None:
    """Write rows as a table to stdout; headers named in `right` stand over numbers, which are never broken.

    The cells under `whole` are names to be typed again, and broken only where they are long.
    """
    screen = console()
    narrow = not fits(headers, rows)
    table = _table(headers, rows, right, narrow, whole)
    if not narrow:
        screen.print(table)
        return
    from rich.segment import Segments

    # what takes time is laying it out, so that is done once where the heads are whole
    parts = list(screen.render(table))
    if _whole(headers, "".join(part.text for part in parts)):
        screen.print(Segments(parts), end="")
    else:
        screen.print(_table([BROKEN.get(header, header) for header in headers], rows, right, narrow, whole))


def _whole(headers: Sequence[str], shown: str) -> bool:
    return all(header in shown for header in headers if header in BROKEN)


def _table(
    headers: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[str], narrow: bool, whole: str
) -> Table:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold")
    heads, unbroken = [], []
    for place, header in enumerate(headers):
        number = header in right
        # a header over shorter numbers gives its room to the words beside it
        longest = max((len(row[place]) for row in rows), default=0)
        heads.append(header.replace(" ", "\n") if number and narrow and len(header) > longest else header)
        unbroken.append(number or (header == whole and longest <= UNBROKEN))
    widths = _widths(heads, rows, unbroken) if narrow else None
    for place, header in enumerate(headers):
        justify: Literal["left", "right"] = "right" if header in right else "left"
        width = None if widths is None else widths[place]
        table.add_column(Text(heads[place]), justify=justify, overflow="fold", no_wrap=unbroken[place], width=width)
    for row in rows:
        # Text is never read as markup
        table.add_row(*(Text(harmless(cell)) for cell in row))
    return table


def _widths(heads: Sequence[str], rows: Sequence[Sequence[str]], unbroken: Sequence[bool]) -> list[int] | None:
    """Give widths of columns at which no word is broken, the widest narrowed first.

    None where there is no room for them, or where no word is broken without them.
    """
    from rich.cells import cell_len

    most, least = [], []
    for head, whole, *cells in zip(heads, unbroken, *rows, strict=True):
        texts = [*head.split("\n"), *map(harmless, cells)]
        most.append(max(map(cell_len, texts)))
        words = [min(cell_len(word), LONG_WORD) for text in texts for word in text.split()]
        least.append(most[-1] if whole else max(words, default=0))
    room = terminal_width() - 2 * (len(heads) - 1)
    if sum(least) > room:
        return None
    level = max(most)
    while sum(max(low, min(high, level)) for low, high in zip(least, most, strict=True)) > room:
        level -= 1
    if all(low <= level for low, whole in zip(least, unbroken, strict=True) if not whole):
        return None
    widths = [max(low, min(high, level)) for low, high in zip(least, most, strict=True)]
    # what is left over goes to the first of those that were narrowed
    for place, high in enumerate(most):
        if widths[place] == level < high and sum(widths) < room:
            widths[place] += 1
    return widths


def tell_left_out(names: Sequence[str]) -> None:
    """Tell which columns a table had no room for, and how they are seen."""
    if names:
        listed = " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
        tell(f"left out for want of room: {listed}; a wider terminal or --format csv has them")


def fits(headers: Sequence[str], rows: Sequence[Sequence[str]]) -> bool:
    """Tell whether a table stands in the terminal without breaking a cell."""
    from rich.cells import cell_len

    columns = zip(headers, *rows, strict=True)
    return sum(max(cell_len(harmless(cell)) for cell in column) + 2 for column in columns) - 2 <= terminal_width()


def whole_words(headers: Sequence[str], rows: Sequence[Sequence[str]]) -> bool:
    """Tell whether a table stands in the terminal with its cells broken between words only."""
    needed = 0
    for head, *cells in zip(headers, *rows, strict=True):
        words = [word for text in (BROKEN.get(head, head), *cells) for word in text.split()]
        needed += 2 + max((min(len(word), LONG_WORD) for word in words), default=0)
    return needed - 2 <= terminal_width()


def print_paragraph(text: str) -> None:
    """Write a sentence to stdout, wrapped to the terminal, after an empty line."""
    import textwrap

    typer.echo("\n" + textwrap.fill(harmless(text), terminal_width()))
