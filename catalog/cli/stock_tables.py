"""Tables of the stock: all columns where the terminal has room, else folded into words; numbers stay whole."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from dataclasses import fields as fields_of
from datetime import UTC
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, Final

from triptych.catalog.cli import options
from triptych.catalog.cli.options import Style
from triptych.catalog.ways_told import cell

if TYPE_CHECKING:
    from triptych.catalog.database.listings import Holds
    from triptych.catalog.stock.quote_reading import Quoted
    from triptych.catalog.stock.reading import Entry, Held

Words = Mapping[str, Callable[[Any], str]]

NUMBERS: Final = ("on_hand", "reserved", "available", "in_transit", "quantity", "number", "units", "amount")

HEADS: Final = {"speaker": "loudspeaker"}
"""Heads of columns that people read otherwise than programs."""


def print_records(
    records: Sequence[Any], fields: Sequence[str], style: Style, right: Sequence[str] = (), words: Words | None = None
) -> None:
    """Print dataclasses: their fields as columns, or as JSON's values under the same names.

    `words` says how people read a field, from the record; programs get the value itself.
    """
    rows = [{name: getattr(record, name) for name in fields} for record in records]
    if style is Style.JSON:
        options.print_json(rows)
    elif style is Style.CSV:
        options.print_csv([list(fields), *([cell(value) for value in row.values()] for row in rows)])
    elif rows:
        _print_used(*_table(records, fields, words or {}), right)


def _table(records: Sequence[Any], fields: Sequence[str], words: Words) -> tuple[list[str], list[list[str]]]:
    """Give the columns that hold something, and their cells."""
    cells = [
        [words[name](record) if name in words else cell(getattr(record, name)) for name in fields] for record in records
    ]
    used = [place for place in range(len(fields)) if any(row[place] for row in cells)]
    heads = [HEADS.get(fields[place], fields[place]) for place in used]
    return heads, [[row[place] for place in used] for row in cells]


def _print_used(fields: Sequence[str], cells: Sequence[Sequence[str]], right: Sequence[str]) -> None:
    headers = [name.replace("_", " ") for name in fields]
    if not options.fits(headers, cells) and not options.whole_words(headers, cells):
        for row in cells:
            options.print_paragraph(
                "; ".join(f"{head} {cell}" for head, cell in zip(headers, row, strict=True) if cell)
            )
        return
    options.print_table(headers, cells, right=[name.replace("_", " ") for name in right])


def _until(record: Any) -> str:
    from triptych.catalog.stock.timing import until_words

    return "" if record.until is None else until_words(record.until, record.zone)


UNTIL: Final[dict[str, Callable[[Any], str]]] = {"until": _until, "zone": lambda _: ""}
"""Until when, in the words of the place; the zone is for programs."""


def _moment(record: Any) -> str:
    return str(record.at.astimezone(UTC).strftime("%Y-%m-%d %H:%MZ"))


MOMENT: Final[Words] = {"at": _moment}
"""When something was done, to the minute."""


def print_holdings(found: Sequence[Holds], style: Style) -> None:
    """Print what there is; where the terminal is narrow, with grade, pairs and finish in one column."""
    from triptych.catalog.database.listings import Holds

    fields = [field.name for field in fields_of(Holds)]
    if style is not Style.TABLE or not found or options.fits(*_table(found, fields, {})):
        print_records(found, fields, style, NUMBERS)
        return
    cells = [
        [
            row.speaker,
            row.location,
            _sort_and_serials(row),
            *map(str, (row.on_hand, row.reserved, row.available, row.in_transit)),
        ]
        for row in found
    ]
    numbers = ["on hand", "reserved", "available", "in transit"]
    _print_used(["loudspeaker", "location", "grade, finish", *numbers], cells, numbers)


def _sort_and_serials(row: Holds) -> str:
    return "; ".join(filter(None, (_sort(row), bool(row.serials) * f"serials {', '.join(row.serials)}")))


def _sort(row: Holds | Entry | Held) -> str:
    pairs = "in pairs" if row.pack == 2 else None
    return ", ".join(filter(None, (row.grade.replace("_", " "), row.finish, pairs)))


QUOTE_COLUMNS: Final = (
    "speaker",
    "quantity",
    "grade",
    "finish",
    "price",
    "per",
    "total",
    "tax",
    "tax_rate",
    "cost_each",
    "margin",
    "discount",
    "full_price",
    "delivered",
    "to_come",
    "returned",
    "refunded",
)
"""The columns of a quote's lines."""

_COUNTED: Final = ("quantity", "delivered", "to_come", "returned", "refunded")
_QUOTED_NUMBERS: Final = (*_COUNTED, "price", "total", "tax_rate", "cost_each", "margin", "discount", "full_price")


def print_quoted(found: Sequence[Quoted], style: Style) -> None:
    """Print the lines of a quote; where the terminal is narrow, in words what is no number, without tax and cost."""
    lines = [_with_share(line) for line in found]
    if style is not Style.TABLE or options.fits(*_table(lines, QUOTE_COLUMNS, _DELIVERED)):
        print_records(lines, QUOTE_COLUMNS, style, _QUOTED_NUMBERS, _DELIVERED)
        return
    cells = [
        [_quoted_words(line), str(line.quantity), f"{line.price} {line.per}", str(line.total), line.margin or ""]
        for line in lines
    ]
    shown = ["loudspeaker", "quantity", "price", "total", "margin"][: 5 if any(row[4] for row in cells) else 4]
    _print_used(shown, [row[: len(shown)] for row in cells], ["quantity", "total", "margin"])
    untold = [
        words
        for words, value in (("tax", "tax"), ("what each cost", "cost_each"))
        if any(getattr(line, value) is not None for line in found)
    ]
    options.tell_left_out(untold)


def _with_share(line: Quoted) -> SimpleNamespace:
    """Give a line with its margin in words."""
    margin = None if line.margin is None else f"{line.margin:.0%}"
    return SimpleNamespace(**asdict(line) | {"margin": margin, "gone_words": line.gone_words})


def _of_accepted(name: str) -> Callable[[Any], str]:
    return lambda line: str(getattr(line, name)) if line.delivered or line.to_come else ""


CAME_BACK: Final[Words] = {
    "returned": lambda one: str(one.returned or ""),
    "refunded": lambda one: str(one.refunded or ""),
}
"""What came back is empty where nothing did."""

_DELIVERED: Final[Words] = {
    **{name: _of_accepted(name) for name in ("delivered", "to_come")},
    **CAME_BACK,
}
"""What was delivered is empty of what nobody has accepted, and what came back where nothing did."""


def _quoted_words(line: SimpleNamespace) -> str:
    grade = "" if line.grade == "new" else line.grade.replace("_", " ")
    less = "" if line.discount is None else f"{line.discount:g} % off {line.full_price}"
    return "; ".join(filter(None, (", ".join(filter(None, (line.speaker, line.finish, grade))), less, line.gone_words)))


def print_reservations(found: Sequence[Held], style: Style) -> None:
    """Print what is promised; where the terminal is narrow, with sort, serial and place in one column."""
    from triptych.catalog.stock.reading import Held

    fields = [field.name for field in fields_of(Held)]
    if style is Style.TABLE and all(one.pack == 1 for one in found):
        fields.remove("pack")  # a table has little room, and says nothing by it
    if style is not Style.TABLE or not found or options.fits(*_table(found, fields, UNTIL)):
        print_records(found, fields, style, NUMBERS, UNTIL)
        return
    cells = [
        [
            str(one.number),
            str(one.units),
            _promised(one),
            one.job,
            f"{'lapsed at ' if one.lapsed else ''}{_until(one)}",
        ]
        for one in found
    ]
    _print_used(["number", "units", "loudspeaker", "job", "until"], cells, ["number", "units"])


def _promised(one: Held) -> str:
    from triptych.catalog.stock.movement_lines import at_place

    return "; ".join(
        filter(None, (f"{one.speaker}, {_sort(one)}", one.serial and f"serial {one.serial}", at_place(one.location)))
    )


def print_ledger(found: Sequence[Entry], style: Style, *, one: bool = True) -> None:
    """Print lines of the ledger; where the terminal is narrow, what is no number or place is folded into words.

    `one` says that all are of one loudspeaker, which then goes without saying in a table.
    """
    from triptych.catalog.stock.reading import Entry

    fields = [field.name for field in fields_of(Entry)]
    if one and style is Style.TABLE:
        fields.remove("speaker")
    if style is not Style.TABLE or not found or options.fits(*_table(found, fields, UNTIL)):
        print_records(found, fields, style, NUMBERS, UNTIL)
        return
    headers = ["line", "at", "kind", "quantity", "on hand", "location", "what"]
    cells = [_folded(row, "%Y-%m-%d %H:%MZ", one=one) for row in found]
    short = options.terminal_width() < options.WIDE and not options.fits(headers, cells)
    if short:
        cells = [_folded(row, "%Y-%m-%d", one=one) for row in found]
    _print_used(headers, cells, ["line", "quantity", "on hand"])
    options.tell_left_out(["the time of day"] if short else [])


def _folded(row: Entry, clock: str, *, one: bool) -> list[str]:
    at, kind = row.at.astimezone(UTC).strftime(clock), row.kind.replace("_", " ")
    return [str(row.number), at, kind, str(row.quantity), str(row.on_hand), row.location, _story(row, one=one)]


def _story(row: Entry, *, one: bool) -> str:
    """Give in words what a line says beside its numbers; that it is new goes without saying."""
    from triptych.catalog.stock.movement_lines import to_place

    until = _until(row)
    parts = (
        "" if one else row.speaker,
        _sort(row).removeprefix("new").removeprefix(", "),
        row.serial and f"serial {row.serial}",
        row.to and to_place(row.to),
        row.job and f"for {row.job}",
        until and f"until {until}",
        row.reservation and f"of reservation {row.reservation}",
        row.ends and f"of line {row.ends}",
        row.quote and f"of quote {row.quote}",
        row.order and f"of order {row.order}",
        row.amount is not None and f"{row.amount} {row.currency} each",
        row.who and f"by {row.who}",
        row.note,
    )
    return "; ".join(part for part in parts if part)
