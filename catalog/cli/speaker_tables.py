"""Loudspeakers on the terminal, as JSON and as CSV."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from triptych.catalog.cli import options
from triptych.catalog.cli.options import Style
from triptych.catalog.cli.values import LOUDSPEAKER_UNITS, loudspeaker_values
from triptych.catalog.fields import COLUMNS
from triptych.catalog.money import in_words
from triptych.catalog.records import Evidence, LoudspeakerRecord, PricePer

if TYPE_CHECKING:
    from triptych.catalog.database.reads import Stored


def print_one(found: Stored, style: Style) -> None:
    """Write one loudspeaker with where its figures come from."""
    if style is Style.JSON:
        options.print_json(_one(found))
    elif style is Style.CSV:
        _print_cells([found.record])
    else:
        _print_sheet(found)


def print_many(records: Sequence[LoudspeakerRecord], style: Style, total: int, page: int) -> None:
    """Write one page of loudspeakers."""
    if style is Style.JSON:
        values = [loudspeaker_values(record) for record in records]
        options.print_json({"units": LOUDSPEAKER_UNITS, "total": total, "page": page, "loudspeakers": values})
    elif style is Style.CSV:
        _print_cells(records)
    elif records:
        _print_list(records)


def _print_cells(records: Sequence[LoudspeakerRecord]) -> None:
    # what reads files is not quick to import, and a table does without
    from triptych.catalog.files.loudspeakers import cells

    options.print_csv(cells(records))


def _one(found: Stored) -> dict[str, Any]:
    head = {"units": LOUDSPEAKER_UNITS, "retired": found.retired, "revision": found.revision}
    return head | loudspeaker_values(found.record) | {"figures": found.record.figures}


def _print_sheet(found: Stored) -> None:
    from triptych.catalog.files.loudspeakers import texts_from_record

    texts = texts_from_record(found.record)
    rows = [
        (name, COLUMNS[name].shown(getattr(found.record, name)), _source(found, name, text))
        for name, text in texts.items()
        if text
    ]
    rows.append(("revision", str(found.revision), ""))
    if found.retired:
        rows.append(("retired", "yes, hidden from lists", ""))
    options.print_table(("column", "value", "source"), rows)
    unknown = ", ".join(name for name, text in texts.items() if not text)
    options.print_paragraph(f"Unknown: {unknown}." if unknown else "Nothing is unknown.")


def _source(found: Stored, name: str, text: str) -> str:
    """Where a figure comes from, and how it stood there if that is not what is shown."""
    figure = found.record.figures.get(name)
    if figure is None:
        return ""
    evidence = "" if figure.evidence is Evidence.STATED else f", {figure.evidence.value}"
    flags = f" ({'; '.join(figure.flags)})" if figure.flags else ""
    return figure.source + evidence + ("" if figure.raw == text else f": {figure.raw}") + flags


def _print_list(records: Sequence[LoudspeakerRecord]) -> None:
    wide = options.terminal_width() >= options.WIDE
    headers = ("loudspeaker", "roles", "W×H×D mm", "enclosure", "dB", "price")
    more = ("ohm", "low Hz", "kg", "layout")
    rows = [_row(record) + (_more(record) if wide else ()) for record in records]
    options.print_table(
        headers + (more if wide else ()), rows, right=("W×H×D mm", "dB", "price", "ohm", "low Hz", "kg")
    )
    if not wide:
        told = [_more(record) for record in records]
        options.tell_left_out([name for place, name in enumerate(more) if any(row[place] != "–" for row in told)])


def _row(record: LoudspeakerRecord) -> tuple[str, ...]:
    size = "×".join(_rounded(record, side) for side in ("width", "height", "depth"))
    enclosure = record.enclosure.value.replace("_", " ") if record.enclosure else "–"
    if record.port_location and record.port_location.value != "none":
        enclosure += f", {record.port_location.value}"
    roles = COLUMNS["roles"].text(record.roles).replace(";", ", ")
    return (record.name, roles, size, enclosure, _rounded(record, "sensitivity"), _price(record))


def _more(record: LoudspeakerRecord) -> tuple[str, ...]:
    figures = (_rounded(record, name) for name in ("impedance_nominal", "low_limit", "weight"))
    return (*figures, record.layout or "–")


def _rounded(record: LoudspeakerRecord, name: str) -> str:
    return COLUMNS[name].rounded(getattr(record, name))


def _price(record: LoudspeakerRecord) -> str:
    if record.price is None:
        return "–"
    pair = "/pair" if record.price_per is PricePer.PAIR else ""
    return f"{in_words(record.price, record.currency)}{pair}"
