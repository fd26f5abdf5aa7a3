"""Stock counts from a file: read, laid beside the ledger, and written as the differences that were found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Final

from sqlalchemy.orm import Session

from triptych.catalog.database.models import Grade, MovementKind, SheetKind
from triptych.catalog.errors import BadInput, CatalogError, NotFound
from triptych.catalog.numbers import whole
from triptych.catalog.problems import Problem
from triptych.catalog.stock import ledger, operations
from triptych.catalog.stock.articles import Model, models
from triptych.catalog.stock.locations import locations, refuse_mistyped
from triptych.catalog.stock.movement_lines import LARGEST_QUANTITY, MovementLine
from triptych.catalog.stock.price_lists import Listed, ListedChange, cells_refused
from triptych.catalog.stock.sheets import Sheet, SheetRow, cell, read_sheet
from triptych.catalog.stock.suppliers import mapping, save_mapping, supplier_named

COUNT_COLUMNS: Final = ("quantity", "location", "grade", "finish", "single")
"""Columns of a stock count: how many loudspeakers of what there are, and where."""


def import_counts(
    session: Session,
    path: Path,
    reason: str,
    location: str | None = None,
    supplier: str | None = None,
    ours_by_theirs: Mapping[str, str] | None = None,
    who: str | None = None,
) -> Listed:
    """Set what is on hand to what a file says was counted; the same file again changes nothing.

    What is not in the file was not counted, and stays. The columns' names are kept for the supplier's next file.

    Raises
    ------
    BadInput
        A cell cannot be taken; each one is named. Nothing was written.
    Refused
        More is reserved somewhere than was counted. Nothing was written.
    """
    given = dict(ours_by_theirs or {})
    number = None if supplier is None else supplier_named(session, supplier)
    if number is not None:
        given = mapping(session, number, SheetKind.COUNTS) | given
    sheet = read_sheet(session, path, COUNT_COLUMNS, given, ("quantity",))
    problems = list(sheet.problems)
    lines = _lines(session, sheet, location, problems)
    lines = [(row, speaker, replace(line, note=reason, who=who)) for row, speaker, line in lines]
    new = _new_locations(session, sheet, lines, problems)
    if not problems:
        changes = _count(session, sheet, lines, problems)
    if problems:
        told = "\n".join(map(str, problems))
        raise BadInput(f"{told}\n{cells_refused(len(problems))}")
    if number is not None and ours_by_theirs:
        save_mapping(session, number, SheetKind.COUNTS, {k: v for k, v in ours_by_theirs.items() if v})
    return Listed(tuple(changes), len(lines) - len(changes), sheet.remarks, tuple(new))


Counted = tuple[int, str, MovementLine]
"""The line of the file, the loudspeaker's name, and what was counted."""


def _lines(session: Session, sheet: Sheet, location: str | None, problems: list[Problem]) -> list[Counted]:
    counted: list[Counted] = []
    seen: dict[object, int] = {}
    known = models(session, [row.loudspeaker_id for row in sheet.rows if row.loudspeaker_id is not None])
    for row in sheet.rows:
        line = _line(sheet, row, known, location, problems)
        if line is None:
            continue
        key = (line.loudspeaker_id, line.location.casefold(), line.grade, line.pack, (line.finish or "").casefold())
        if key in seen:
            said = f"{row.speaker!r} was counted there in line {seen[key]} already; leave one of the two"
            problems.append(sheet.problem(row.line, "speaker", said))
        seen[key] = row.line
        counted.append((row.line, row.speaker, line))
    return counted


def _new_locations(session: Session, sheet: Sheet, lines: list[Counted], problems: list[Problem]) -> list[str]:
    """Tell the locations that a file makes; a name that is nearly another's becomes a problem."""
    known = [one.name for one in locations(session)]
    told = []
    for row, _, line in lines:
        try:
            new = refuse_mistyped(line.location, known)
        except NotFound as problem:
            problems.append(sheet.problem(row, "location", str(problem)))
            continue
        # a count of none makes nothing
        if new and line.quantity:
            known.append(line.location)
            told.append(f"new location: {line.location}")
    return told


def _line(
    sheet: Sheet, row: SheetRow, known: Mapping[int, Model], location: str | None, problems: list[Problem]
) -> MovementLine | None:
    before = len(problems)
    quantity = cell(problems, sheet, row, "quantity", partial(whole, least=0, most=LARGEST_QUANTITY))
    grade = cell(problems, sheet, row, "grade", _grade) or Grade.NEW
    single = cell(problems, sheet, row, "single", _yes)
    where = row.cells.get("location") or location
    if quantity is None and len(problems) == before:
        problems.append(sheet.problem(row.line, "quantity", "is empty; leave the row out if not counted"))
    if not where:
        problems.append(sheet.problem(row.line, "location", "is not stated; give --location"))
    if len(problems) > before or quantity is None or not where or row.loudspeaker_id is None:
        return None
    pack = 1 if single else known[row.loudspeaker_id].pack
    finish = row.cells.get("finish") or None
    return MovementLine(row.loudspeaker_id, MovementKind.COUNT, quantity, where, grade, finish, pack=pack)


def _grade(text: str) -> Grade:
    for grade in Grade:
        if text.casefold().replace(" ", "_").replace("-", "_") == grade.value:
            return grade
    raise BadInput(f"{text!r}: give {', '.join(grade.value for grade in Grade)}")


def _yes(text: str) -> bool:
    if text.casefold() not in ("yes", "no"):
        raise BadInput(f"{text!r}: give yes or no")
    return text.casefold() == "yes"


def _count(session: Session, sheet: Sheet, lines: list[Counted], problems: list[Problem]) -> list[ListedChange]:
    found = [ledger.look(session, line) for _, _, line in lines]
    ledger.lock(session, [there.holding_id for there in found if there.holding_id is not None])
    changes = []
    for row, speaker, line in lines:
        before = ledger.level(session, line).on_hand
        try:
            number = operations.count(session, line)
        except CatalogError as problem:
            problems.append(sheet.problem(row, "quantity", str(problem)))
            continue
        if number is not None:
            what = f"{speaker}, {line.location}" + ("" if line.grade is Grade.NEW else f", {line.grade.value}")
            changes.append(ListedChange(what, "counted", str(before), str(line.quantity)))
    return changes
