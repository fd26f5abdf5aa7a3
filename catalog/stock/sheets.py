"""Suppliers' files as frames of text under our names, laid beside the catalogue; every bad cell is named."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Loudspeaker
from triptych.catalog.errors import BadInput
from triptych.catalog.files.tables import Table, read_table
from triptych.catalog.numerals import Mark, decimal_mark
from triptych.catalog.problems import Problem, nearest

if TYPE_CHECKING:
    import pandas as pd

NAMES: Final = ("speaker", "maker", "series", "model")
"""Columns that name a loudspeaker: `speaker` alone, or maker, series and model."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A file as a frame of text with our columns, `line`, `key` and `loudspeaker_id`; and what is wrong in it.

    `marks` are the decimal marks of its columns, by their cells that read one way only.
    """

    source: str
    frame: pd.DataFrame
    problems: tuple[Problem, ...]
    remarks: tuple[str, ...]
    used: Mapping[str, str]
    marks: Mapping[str, Mark | None]


def read_sheet(
    session: Session, path: Path, columns: tuple[str, ...], ours_by_theirs: Mapping[str, str], needed: tuple[str, ...]
) -> Sheet:
    """Read a CSV or XLSX file and find its loudspeakers in the catalogue.

    Parameters
    ----------
    path : Path
        The file.
    columns : tuple of str
        The columns that it may have, beside those that name a loudspeaker.
    ours_by_theirs : mapping of str to str
        What its headers mean; what is mapped to an empty text is left out.
    needed : tuple of str
        Columns that it must have.

    Raises
    ------
    BadInput
        The file is no table, or its header isn't understood.
    """
    known = (*NAMES, *columns)
    meant = {rows.name_key(theirs): ours for theirs, ours in ours_by_theirs.items()}
    for ours in meant.values():
        if ours and ours not in known:
            raise BadInput(f"column {ours!r} is none of ours; {nearest(ours, known)}")
    table = read_table(path, lambda header: rows.name_key(header) in meant or _ours(header) in known)
    header = _header(table, known, meant)
    for column in needed:
        if column not in header.values():
            raise BadInput(f"{table.source}: has no column {column}; say which it is with --map THEIRS={column}")
    if "speaker" not in header.values() and not {"maker", "model"} <= set(header.values()):
        raise BadInput(
            f"{table.source}: has no column speaker, nor maker and model; say which with --map THEIRS=speaker"
        )
    frame = _frame(table, header)
    used = {table.header.cells[place]: ours for place, ours in header.items()}
    marks = {ours: decimal_mark(table.written(place)) for place, ours in header.items()}
    problems = [*_untrusted(table, header)]
    frame = _beside_catalogue(session, frame)
    problems += _strangers(session, table, frame)
    return Sheet(table.source, frame, tuple(problems), table.remarks, used, marks)


def _ours(header: str) -> str:
    return rows.name_key(header).replace(" ", "_")


def _header(table: Table, known: tuple[str, ...], meant: Mapping[str, str]) -> dict[int, str]:
    header: dict[int, str] = {}
    for place, text in enumerate(table.header.cells):
        if not text:
            continue
        ours = meant.get(rows.name_key(text), _ours(text))
        if not ours:
            continue
        if ours not in known:
            raise BadInput(
                f"{table.source}, header: {text!r} is no known column; {nearest(ours, known)}"
                f" Say what it is with --map {text!r}=..., or leave it out with --map {text!r}="
            )
        if ours in header.values():
            raise BadInput(f"{table.source}, header: {ours} comes twice")
        header[place] = ours
    return header


def _frame(table: Table, header: Mapping[int, str]) -> pd.DataFrame:
    import pandas as pd

    cells = [
        [row.line, *(row.cells[place] if place < len(row.cells) else "" for place in header)] for row in table.rows
    ]
    frame = pd.DataFrame(cells, columns=["line", *header.values()], dtype=str)
    frame["line"] = frame["line"].astype(int)
    return frame


def _untrusted(table: Table, header: Mapping[int, str]) -> list[Problem]:
    return [
        Problem(table.source, table.place(row.line, place), header[place], complaint)
        for row in table.rows
        for place, complaint in row.complaints.items()
        if place in header
    ]


def _beside_catalogue(session: Session, frame: pd.DataFrame) -> pd.DataFrame:
    import pandas as pd

    if "speaker" not in frame:
        parts = frame.reindex(columns=["maker", "series", "model"], fill_value="")
        frame = frame.assign(speaker=parts.agg(" ".join, axis=1).str.split().str.join(" "))
    frame = frame.assign(key=frame["speaker"].map(rows.name_key))
    found = session.execute(sa.select(Loudspeaker.name_key, Loudspeaker.id)).all()
    catalogue = pd.DataFrame([tuple(row) for row in found], columns=["key", "loudspeaker_id"])
    catalogue = catalogue.astype({"key": "str", "loudspeaker_id": "Int64"})
    return frame.astype({"key": "str"}).merge(catalogue, on="key", how="left")


def _strangers(session: Session, table: Table, frame: pd.DataFrame) -> list[Problem]:
    from triptych.catalog.database import reads
    from triptych.catalog.errors import NotFound

    problems = []
    for line, name in frame.loc[frame["loudspeaker_id"].isna(), ["line", "speaker"]].itertuples(index=False):
        try:
            reads.stored(session, name)
        except NotFound as unknown:
            problems.append(Problem(table.source, f"line {line}", "speaker", str(unknown)))
    return problems


def cell(problems: list[Problem], source: str, row: Mapping[str, Any], column: str, read: Callable[[str], Any]) -> Any:
    """Read one cell of a row, None where it is empty or absent; what cannot be read becomes a problem."""
    text = str(row.get(column, "") or "")
    if not text:
        return None
    try:
        return read(text)
    except BadInput as problem:
        problems.append(Problem(source, f"line {row['line']}", column, str(problem)))
        return None
