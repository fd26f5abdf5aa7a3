"""A delivery from a file: what came, at what cost, with which serials, of which orders; all of it or nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.attempts import until_kept
from triptych.catalog.database.engine import writing
from triptych.catalog.database.file_columns import keep_columns, kept_columns
from triptych.catalog.database.models import Grade, Movement, MovementKind
from triptych.catalog.errors import BadInput, CatalogError, NotFound, Refused
from triptych.catalog.money import currency as currency_code
from triptych.catalog.money import currency_of, price, to_minor
from triptych.catalog.numbers import whole
from triptych.catalog.problems import Problem
from triptych.catalog.stock import arriving, together
from triptych.catalog.stock.counter_words import serials_in
from triptych.catalog.stock.counts import grade_named, yes_or_no
from triptych.catalog.stock.desk_cases import Answer, Request
from triptych.catalog.stock.movement_lines import LARGEST_QUANTITY, refuse_text
from triptych.catalog.stock.price_lists import cells_refused
from triptych.catalog.stock.sheets import Sheet, SheetRow, cell, read_sheet
from triptych.catalog.stock.shortfalls import OtherFinish
from triptych.catalog.stock.suppliers import supplier_named

DELIVERY_COLUMNS: Final = (
    "quantity",
    "location",
    "grade",
    "finish",
    "single",
    "cost",
    "currency",
    "serial",
    "order",
    "note",
)
"""Columns of a delivery: of each loudspeaker how many came, where, at what cost of one without tax, and which."""

DELIVERY_FILE: Final = "delivery"
_NOTE: Final = "delivery {}"


@dataclass(frozen=True, slots=True)
class Delivery:
    """What a delivery note says of itself: its number, who sent it, where it came to, and what its columns mean.

    `new_finishes` says that finishes are meant as they stand, also where there is none, or one nearly another's.
    """

    number: str
    location: str | None = None
    supplier: str | None = None
    currency: str | None = None
    columns: Mapping[str, str] | None = None
    who: str | None = None
    new_finishes: bool = False


def receive_delivery(engine: sa.Engine, path: Path, delivery: Delivery, *, dry_run: bool = False) -> list[Answer]:
    """Take in what a file says was delivered, in one transaction; a delivery is taken once, by its number.

    Raises
    ------
    BadInput
        A cell cannot be taken, or what it says is refused; each one is named. Nothing was written.
    Refused
        A delivery of that number has come already.
    """
    refuse_text("the delivery's number", delivery.number)

    def attempt() -> list[Answer]:
        with writing(engine) as session:
            done = _received(session, path, delivery)
            if dry_run:
                session.rollback()
            return done

    return until_kept(attempt)


def _received(session: Session, path: Path, delivery: Delivery) -> list[Answer]:
    _refuse_second(session, delivery.number)
    given = dict(delivery.columns or {})
    supplier = None if delivery.supplier is None else supplier_named(session, delivery.supplier)
    sheet = read_sheet(session, path, DELIVERY_COLUMNS, given, (), supplier, kept_columns(session, DELIVERY_FILE))
    problems = list(sheet.problems)
    asked = [(row.line, *found) for row in sheet.rows if (found := _asked(sheet, row, delivery, problems)) is not None]
    done = []
    if not problems:
        for line, request, serials in asked:
            try:
                done.append(arriving.receive(session, request, serials))
            except CatalogError as problem:
                column = "finish" if isinstance(problem, OtherFinish) else "speaker"
                problems.append(sheet.problem(line, column, str(problem).removesuffix("; nothing was written")))
    if problems:
        told = "\n".join(map(str, problems))
        raise BadInput(f"{told}\n{cells_refused(len(problems))}")
    keep_columns(session, DELIVERY_FILE, given)
    warnings = tuple(f"warning: {remark}" for remark in sheet.remarks)
    return [replace(answer, remarks=(*warnings, *answer.remarks)) for answer in done]


def _refuse_second(session: Session, number: str) -> None:
    """Refuse a delivery that has come; one that was undone whole may come again."""
    line = session.scalar(sa.select(sa.func.min(Movement.id)).where(*_of_delivery(number)))
    if line is not None:
        note = _NOTE.format(" ".join(number.split()))
        raise Refused(f"{note} has come already, from line {line} of the ledger on; nothing was written")


def _of_delivery(number: str) -> tuple[sa.ColumnElement[bool], ...]:
    """Give the conditions that a line took in something of a delivery, and was not undone."""
    note = _NOTE.format(" ".join(number.split()))
    said = sa.or_(Movement.note == note, Movement.note.startswith(f"{note}:", autoescape=True))
    undone = sa.select(Movement.undoes_id).where(Movement.undoes_id.is_not(None))
    return (Movement.kind == MovementKind.RECEIVE, said, Movement.id.not_in(undone))


class Came(NamedTuple):
    """What came by a line of a delivery, and the reservation that was made of it at once, where one was."""

    holding: int
    serial: str | None
    units: int
    promise: int | None


def delivered(session: Session, number: str) -> list[Came]:
    """Give what came by a delivery.

    Raises
    ------
    NotFound
        None of that number has come.
    """
    refuse_text("the delivery's number", number)
    lines = session.scalars(sa.select(Movement).where(*_of_delivery(number)).order_by(Movement.id)).all()
    found = []
    for line in lines:
        kept = [one.id for one in together.one_with(session, line) if one.kind is MovementKind.RESERVE]
        found.append(Came(line.holding_id, line.serial, line.quantity, next(iter(kept), None)))
    if not found:
        raise NotFound(f"no delivery has come under the number {number!r}: stock ledger tells what came")
    return found


def _asked(
    sheet: Sheet, row: SheetRow, delivery: Delivery, problems: list[Problem]
) -> tuple[Request, list[str] | None] | None:
    before = len(problems)
    quantity = cell(problems, sheet, row, "quantity", partial(whole, least=1, most=LARGEST_QUANTITY))
    grade = cell(problems, sheet, row, "grade", grade_named) or Grade.NEW
    single = cell(problems, sheet, row, "single", yes_or_no) or False
    order = cell(problems, sheet, row, "order", partial(whole, least=1, most=2**31 - 1))
    cost = _cost(sheet, row, delivery, problems)
    serials = serials_in(row.cells.get("serial", "").replace("\n", ","))
    where = row.cells.get("location") or delivery.location
    if quantity is None and not serials and len(problems) == before:
        problems.append(sheet.problem(row.line, "quantity", "is empty, and no serial says how many; leave the row out"))
    if not where:
        problems.append(sheet.problem(row.line, "location", "is not stated; give --location"))
    if len(problems) > before or not where or row.loudspeaker_id is None:
        return None
    note = ": ".join(filter(None, (_NOTE.format(" ".join(delivery.number.split())), row.cells.get("note"))))
    asked = Request(row.speaker, where, quantity, grade, row.cells.get("finish") or None, None, single)
    asked = replace(asked, note=note, order=order, who=delivery.who, number=row.loudspeaker_id)
    asked = replace(asked, new_finish=delivery.new_finishes)
    if cost is not None:
        asked = replace(asked, amount=cost[0], currency=cost[1])
    return asked, serials or None


def _cost(sheet: Sheet, row: SheetRow, delivery: Delivery, problems: list[Problem]) -> tuple[int, str] | None:
    stated = cell(problems, sheet, row, "currency", currency_code)
    return cell(problems, sheet, row, "cost", lambda text: _minor(text, sheet, stated, delivery.currency))


def _minor(text: str, sheet: Sheet, stated: str | None, usual: str | None) -> tuple[int, str]:
    amount = price(text, sheet.marks.get("cost"), stated=stated or usual)
    code = currency_of(amount, text, stated) or usual
    if code is None:
        raise BadInput(f"{text!r}: in which currency? Write it beside the amount, or give --currency EUR")
    return to_minor(amount.value, code), code
