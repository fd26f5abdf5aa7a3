"""Stock counts from a file: read, laid beside the ledger, and written as the differences that were found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.attempts import planned
from triptych.catalog.database.file_columns import keep_columns, kept_columns
from triptych.catalog.database.models import Grade, MovementKind, SheetKind
from triptych.catalog.database.stock_levels import on_server
from triptych.catalog.errors import BadInput, CatalogError, NotFound, Overtaken
from triptych.catalog.numbers import whole
from triptych.catalog.problems import Problem
from triptych.catalog.stock import ledger, looking, operations
from triptych.catalog.stock.articles import Model, models
from triptych.catalog.stock.counts_at_once import CountedUnits, counted_at_once
from triptych.catalog.stock.locations import KnownLocations, locations
from triptych.catalog.stock.looking import There
from triptych.catalog.stock.many_lines import HoldingKey, key_of, look_at_all, make_holdings, write_all
from triptych.catalog.stock.movement_lines import LARGEST_QUANTITY, MovementLine, refuse_incomplete
from triptych.catalog.stock.price_lists import Listed, ListedChange, cells_refused
from triptych.catalog.stock.sheets import Sheet, SheetRow, cell, read_sheet
from triptych.catalog.stock.shortfalls import OtherFinish, refuse_forgotten
from triptych.catalog.stock.suppliers import mapping, save_mapping, supplier_named

COUNT_COLUMNS: Final = ("quantity", "location", "grade", "finish", "single", "pack")
"""Columns of a stock count: how many loudspeakers of what there are, and where."""

OF_STOCK_LIST: Final = {"on hand": "quantity"} | dict.fromkeys(("reserved", "available", "in transit", "serials"), "")
"""What `stock list` calls them, and what it tells besides."""

COUNT_FILE: Final = "count"


@dataclass(frozen=True, slots=True)
class _Plan:
    """What a count changes: its lines, what there was of each when it was worked out, and what is told of it.

    `titles` say of each line what was counted.
    """

    supplier: int | None
    names: Mapping[int, str]
    lines: tuple[MovementLine, ...]
    titles: tuple[str, ...]
    known: Mapping[HoldingKey, There]
    listed: Listed


def import_counts(
    engine: sa.Engine,
    path: Path,
    reason: str,
    location: str | None = None,
    supplier: str | None = None,
    ours_by_theirs: Mapping[str, str] | None = None,
    who: str | None = None,
    *,
    dry_run: bool = False,
) -> Listed:
    """Set what is on hand to what a file says was counted; the same file again changes nothing.

    What is not in the file was not counted, and stays. The columns' names are kept for the supplier's next file. It is
    read and checked while others write; where they move what was counted meanwhile, they wait while it is done again.

    Raises
    ------
    BadInput
        A cell cannot be taken; each one is named, also where more is reserved than was counted. Nothing was written.
    Overtaken
        Others move the same units again and again.
    """
    given = dict(ours_by_theirs or {})
    return planned(
        engine,
        lambda session: _plan(session, path, reason, location, supplier, given, who),
        lambda session, plan: _write(session, plan, given),
        _hold,
        dry_run=dry_run,
        at_once=lambda plan: None if given else _written_at_once(engine, plan),
    ).listed


def _written_at_once(engine: sa.Engine, plan: _Plan) -> _Plan | None:
    """Write what was counted of units that are there, and tell of what there was then; None where it is unusual."""
    if not plan.lines or any(key_of(line) not in plan.known for line in plan.lines):
        return None
    reason, who = plan.lines[0].note, plan.lines[0].who
    if not reason or not reason.strip() or not all(text.isprintable() for text in (reason, who or "")):
        return None
    counted = [
        CountedUnits(holding, line.quantity, line.loudspeaker_id, plan.names[line.loudspeaker_id])
        for line in plan.lines
        if (holding := plan.known[key_of(line)].holding_id) is not None
    ]
    before = counted_at_once(engine, counted, reason, who)
    if before is None:
        return None
    changes = [
        ListedChange(title, "counted", str(there), str(line.quantity))
        for title, line, there in zip(plan.titles, plan.lines, before, strict=True)
        if line.quantity != there
    ]
    listed = replace(plan.listed, changes=tuple(changes), unchanged=len(plan.lines) - len(changes))
    return replace(plan, listed=listed)


def _plan(
    session: Session,
    path: Path,
    reason: str,
    location: str | None,
    supplier: str | None,
    given: Mapping[str, str],
    who: str | None,
) -> _Plan:
    number = None if supplier is None else supplier_named(session, supplier)
    theirs = kept_columns(session, COUNT_FILE) if number is None else mapping(session, number, SheetKind.COUNTS)
    ours_listed = {name: ours for name, ours in _listed_otherwise(OF_STOCK_LIST).items() if name not in theirs}
    columns = ours_listed | dict(given)
    sheet = read_sheet(session, path, COUNT_COLUMNS, columns, ("quantity",), number, theirs)
    problems = list(sheet.problems)
    sold = models(session, [row.loudspeaker_id for row in sheet.rows if row.loudspeaker_id is not None])
    lines = _lines(sheet, sold, location, problems)
    lines = [(row, speaker, replace(line, note=reason, who=who)) for row, speaker, line in lines]
    places = [one.name for one in locations(session)]
    new = _new_locations(sheet, lines, places, problems)
    if not problems:
        known = look_at_all(session, [line for _, _, line in lines])
        changes = _differences(session, sheet, lines, known, places, problems)
    if problems:
        told = "\n".join(map(str, problems))
        raise BadInput(f"{told}\n{cells_refused(len(problems))}")
    listed = Listed(tuple(changes), len(lines) - len(changes), sheet.remarks, tuple(new))
    counted = tuple(line for _, _, line in lines)
    titles = tuple(_title(speaker, line) for _, speaker, line in lines)
    names = {line.loudspeaker_id: sold[line.loudspeaker_id].name for line in counted}
    return _Plan(number, names, counted, titles, known, listed)


def _title(speaker: str, line: MovementLine) -> str:
    """Say what was counted."""
    return f"{speaker}, {line.location}" + ("" if line.grade is Grade.NEW else f", {line.grade.value}")


def _listed_otherwise(columns: Mapping[str, str]) -> dict[str, str]:
    """Give names of columns as people and as programs read them."""
    return {written: ours for theirs, ours in columns.items() for written in (theirs, theirs.replace(" ", "_"))}


def _names(session: Session, lines: Sequence[MovementLine]) -> dict[int, str]:
    return {number: model.name for number, model in models(session, [line.loudspeaker_id for line in lines]).items()}


def _write(session: Session, plan: _Plan, given: Mapping[str, str]) -> None:
    """Write the differences that were found.

    Raises
    ------
    Overtaken
        Somebody has moved units that were counted, or named a loudspeaker anew.
    """
    if _names(session, plan.lines) != plan.names:
        raise Overtaken(_MOVED)
    if any(key_of(line) not in plan.known for line in plan.lines):
        # before anything is made for it
        _still(session, plan)
    changed = _hold(session, plan)
    found = _still(session, plan)
    wanted = [(_difference(line, found), found[key_of(line)]) for line in changed]
    write_all(session, wanted)
    if plan.supplier is None:
        keep_columns(session, COUNT_FILE, given)
    elif given:
        save_mapping(session, plan.supplier, SheetKind.COUNTS, {k: v for k, v in given.items() if v})


def _hold(session: Session, plan: _Plan) -> list[MovementLine]:
    """Make the holdings that are missing, keep others from all that was counted, and give the lines that change it."""
    changed = [line for line in plan.lines if line.quantity != _on_hand(plan.known, line)]
    missing = any(key_of(line) not in plan.known for line in changed)
    if missing:
        make_holdings(session, changed, look_at_all(session, plan.lines))
    if on_server(session):
        found = look_at_all(session, plan.lines) if missing else plan.known
        looking.lock(session, [there.holding_id for there in found.values() if there.holding_id is not None])
    return changed


_MOVED: Final = "somebody else has moved the same units meanwhile; nothing was written, try again"


def _still(session: Session, plan: _Plan) -> dict[HoldingKey, There]:
    """Give what there is now, where it is what there was."""
    found = look_at_all(session, plan.lines)
    if any(_seen(found, line) != _seen(plan.known, line) for line in plan.lines):
        raise Overtaken(_MOVED)
    return found


def _seen(found: Mapping[HoldingKey, There], line: MovementLine) -> tuple[int, int]:
    there = found.get(key_of(line))
    return (0, 0) if there is None else (there.sequence, there.on_hand)


def _on_hand(found: Mapping[HoldingKey, There], line: MovementLine) -> int:
    return _seen(found, line)[1]


def _difference(line: MovementLine, found: Mapping[HoldingKey, There]) -> MovementLine:
    return replace(line, quantity=line.quantity - _on_hand(found, line))


Counted = tuple[int, str, MovementLine]
"""The line of the file, the loudspeaker's name, and what was counted."""


def _lines(sheet: Sheet, known: Mapping[int, Model], location: str | None, problems: list[Problem]) -> list[Counted]:
    counted: list[Counted] = []
    seen: dict[object, int] = {}
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


def _new_locations(sheet: Sheet, lines: list[Counted], places: Sequence[str], problems: list[Problem]) -> list[str]:
    """Tell the locations that a file makes; a name that is nearly another's becomes a problem."""
    known = KnownLocations(places)
    told = []
    for row, _, line in lines:
        try:
            new = known.is_new(line.location)
        except NotFound as problem:
            problems.append(sheet.problem(row, "location", str(problem)))
            continue
        # a count of none makes nothing
        if new and line.quantity:
            known.add(line.location)
            told.append(f"new location: {line.location}")
    return told


def _line(
    sheet: Sheet, row: SheetRow, known: Mapping[int, Model], location: str | None, problems: list[Problem]
) -> MovementLine | None:
    before = len(problems)
    quantity = cell(problems, sheet, row, "quantity", partial(whole, least=0, most=LARGEST_QUANTITY))
    grade = cell(problems, sheet, row, "grade", grade_named) or Grade.NEW
    single = cell(problems, sheet, row, "single", yes_or_no)
    where = row.cells.get("location") or location
    if quantity is None and len(problems) == before:
        problems.append(sheet.problem(row.line, "quantity", "is empty; leave the row out if not counted"))
    if not where:
        problems.append(sheet.problem(row.line, "location", "is not stated; give --location"))
    if len(problems) > before or quantity is None or not where or row.loudspeaker_id is None:
        return None
    pack = cell(problems, sheet, row, "pack", partial(whole, least=1, most=2))
    pack = pack or (1 if single else known[row.loudspeaker_id].pack)
    finish = row.cells.get("finish") or None
    return MovementLine(row.loudspeaker_id, MovementKind.COUNT, quantity, where, grade, finish, pack=pack)


def grade_named(text: str) -> Grade:
    """Read a grade as people write it."""
    for grade in Grade:
        if text.casefold().replace(" ", "_").replace("-", "_") == grade.value:
            return grade
    raise BadInput(f"{text!r}: give {', '.join(grade.value for grade in Grade)}")


def yes_or_no(text: str) -> bool:
    """Read yes or no."""
    if text.casefold() not in ("yes", "no"):
        raise BadInput(f"{text!r}: give yes or no")
    return text.casefold() == "yes"


def _refuse_forgotten(session: Session, line: MovementLine, known: Mapping[HoldingKey, There]) -> None:
    """Refuse a count that rather forgot its finish; only of what there is nothing so far is anything read."""
    if line.quantity > _on_hand(known, line) == 0:
        refuse_forgotten(session, line, looking.look(session, line))


def _differences(
    session: Session,
    sheet: Sheet,
    lines: list[Counted],
    known: Mapping[HoldingKey, There],
    places: Sequence[str],
    problems: list[Problem],
) -> list[ListedChange]:
    changes = []
    # where nothing ever was, no finish can be forgotten
    there = {rows.name_key(name) for name in places}
    for row, speaker, line in lines:
        difference = _difference(line, known)
        try:
            operations.refuse_uncounted(line, line.pack or 1)
            if difference.quantity:
                refuse_incomplete(difference)
                if rows.name_key(line.location) in there:
                    _refuse_forgotten(session, line, known)
                # where nothing ever was there is nothing that a count could be too few of
                if key_of(line) in known:
                    ledger.values_of(session, difference, known[key_of(line)], None)
                before = str(_on_hand(known, line))
                changes.append(ListedChange(_title(speaker, line), "counted", before, str(line.quantity)))
        except CatalogError as problem:
            column = "finish" if isinstance(problem, OtherFinish) else "quantity"
            problems.append(sheet.problem(row, column, str(problem)))
    return changes
