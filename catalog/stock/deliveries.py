"""A delivery from a file: what came, at what cost, with which serials, of which orders; all of it or nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.attempts import until_kept
from triptych.catalog.database.engine import writing
from triptych.catalog.database.file_columns import keep_columns, kept_columns
from triptych.catalog.database.models import Grade, Holding, Location, Movement, MovementKind, SupplyOrder
from triptych.catalog.errors import BadInput, CatalogError, NotFound, Refused
from triptych.catalog.money import currency as currency_code
from triptych.catalog.money import currency_of, price, to_minor
from triptych.catalog.numbers import whole
from triptych.catalog.problems import Problem
from triptych.catalog.records import PricePer
from triptych.catalog.stock import arriving, together
from triptych.catalog.stock.articles import Model, model_of, models
from triptych.catalog.stock.counter_words import serials_in
from triptych.catalog.stock.counts import grade_named, yes_or_no
from triptych.catalog.stock.desk_cases import Answer, Request
from triptych.catalog.stock.movement_lines import LARGEST_QUANTITY, refuse_text
from triptych.catalog.stock.price_lists import cells_refused
from triptych.catalog.stock.sheets import Sheet, SheetRow, cell, read_sheet
from triptych.catalog.stock.shortfalls import OtherFinish
from triptych.catalog.stock.suppliers import supplier_named
from triptych.catalog.stock.unit_costs import bought, of_one

DELIVERY_COLUMNS: Final = (
    "quantity",
    "location",
    "grade",
    "finish",
    "single",
    "cost",
    "per",
    "currency",
    "serial",
    "order",
    "note",
)
"""Columns of a delivery: of each loudspeaker how many came, where, at what cost without tax, and which."""

DELIVERY_FILE: Final = "delivery"
_NOTE: Final = "delivery {}"


@dataclass(frozen=True, slots=True)
class Delivery:
    """What a delivery note says of itself: its number, who sent it, where it came to, and what its columns mean.

    `new_finishes` says that finishes are meant as they stand, also where there is none, or one nearly another's; `per`
    what a cost buys of what is sold in pairs, where no row says it.
    """

    number: str
    location: str | None = None
    supplier: str | None = None
    currency: str | None = None
    columns: Mapping[str, str] | None = None
    who: str | None = None
    new_finishes: bool = False
    per: PricePer | None = None


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
    come = _come(session, delivery.number)
    given = dict(delivery.columns or {})
    supplier = None if delivery.supplier is None else supplier_named(session, delivery.supplier)
    sheet = read_sheet(session, path, DELIVERY_COLUMNS, given, (), supplier, kept_columns(session, DELIVERY_FILE))
    problems = list(sheet.problems)
    numbers = {row.loudspeaker_id for row in sheet.rows if row.loudspeaker_id is not None}
    sold = models(session, numbers)
    asked = [
        (row.line, *found) for row in sheet.rows if (found := _asked(sheet, row, delivery, sold, problems)) is not None
    ]
    done = []
    remarks = list(sheet.remarks)
    if come and not problems:
        asked = _undone_of(session, delivery.number, come, asked)
        remarks.append("this delivery came before: taken in is what of it was undone")
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
    warnings = tuple(f"warning: {remark}" for remark in remarks)
    return [replace(answer, remarks=(*warnings, *answer.remarks)) for answer in done]


_Asked = tuple[int, Request, list[str] | None]
"""A row of a delivery: its line in the file, what it asks for, and the serials of what comes."""


def _come(session: Session, number: str) -> list[Movement]:
    """Give what came of a delivery and was not undone; nothing of one that is new, or was undone whole.

    Raises
    ------
    Refused
        All of it came.
    """
    come = list(session.scalars(sa.select(Movement).where(*_of_delivery(number)).order_by(Movement.id)))
    if come and not session.scalar(sa.select(sa.func.count()).where(*_of_delivery(number, undone=True))):
        raise _second(number, come[0].id)
    return come


def _second(number: str, line: int) -> Refused:
    note = _NOTE.format(" ".join(number.split()))
    return Refused(f"{note} has come already, from line {line} of the ledger on; nothing was written")


def _undone_of(session: Session, number: str, come: Sequence[Movement], asked: Sequence[_Asked]) -> list[_Asked]:
    """Give the rows of a delivery of which nothing is there, as they were undone.

    Raises
    ------
    Refused
        None was, or what is there is in no row.
    """
    left = Counter(_sort_of(session, one) for one in come)
    found = []
    for line, request, serials in asked:
        sorts = _sorts(session, request, serials)
        missing = [sort for sort in sorts if sort not in left]
        left -= Counter(sorts)
        if serials and len(missing) < len(serials):
            serials, request = [sort.serial or "" for sort in missing], replace(request, quantity=None)
        if missing:
            found.append((line, request, serials))
    if not found:
        raise _second(number, come[0].id)
    if left:
        line = next(one.id for one in come if _sort_of(session, one) in left)
        raise Refused(
            f"{_NOTE.format(' '.join(number.split()))} came in part already, and line {line} of the ledger is in no row"
            " of the file: undo it too, or leave out of the file what came; nothing was written"
        )
    return found


class _Sort(NamedTuple):
    """What a line of a delivery says of what came."""

    speaker: int
    place: str
    grade: Grade
    finish: str
    pack: int
    serial: str | None
    units: int


def _sort_of(session: Session, line: Movement) -> _Sort:
    held = session.get_one(Holding, line.holding_id)
    place = rows.name_key(session.get_one(Location, held.location_id).name)
    return _Sort(line.loudspeaker_id, place, held.grade, held.finish_key, held.pack, line.serial, line.quantity)


def _sorts(session: Session, asked: Request, serials: Sequence[str] | None) -> list[_Sort]:
    """Give the lines that a row would come to."""
    model = model_of(session, asked.number or 0)
    pack = 1 if asked.single else model.pack
    order = None if asked.order is None or asked.finish else session.get(SupplyOrder, asked.order)
    finish = rows.name_key(asked.finish if order is None else order.finish)
    alike = (model.number, rows.name_key(asked.location), asked.grade, finish, pack)
    if not serials:
        return [_Sort(*alike, None, pack if asked.quantity is None else asked.quantity)]
    return [_Sort(*alike, " ".join(one.split()), pack) for one in serials]


def _of_delivery(number: str, *, undone: bool = False) -> tuple[sa.ColumnElement[bool], ...]:
    """Give the conditions that a line took in something of a delivery, and was not undone, or was."""
    note = _NOTE.format(" ".join(number.split()))
    said = sa.or_(Movement.note == note, Movement.note.startswith(f"{note}:", autoescape=True))
    gone = Movement.id.in_(sa.select(Movement.undoes_id).where(Movement.undoes_id.is_not(None)))
    return (Movement.kind == MovementKind.RECEIVE, said, gone if undone else ~gone)


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
    sheet: Sheet, row: SheetRow, delivery: Delivery, sold: Mapping[int, Model], problems: list[Problem]
) -> tuple[Request, list[str] | None] | None:
    before = len(problems)
    quantity = cell(problems, sheet, row, "quantity", partial(whole, least=1, most=LARGEST_QUANTITY))
    grade = cell(problems, sheet, row, "grade", grade_named) or Grade.NEW
    single = cell(problems, sheet, row, "single", yes_or_no) or False
    order = cell(problems, sheet, row, "order", partial(whole, least=1, most=2**31 - 1))
    cost = _cost(sheet, row, delivery, sold, single, problems)
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


def _cost(
    sheet: Sheet, row: SheetRow, delivery: Delivery, sold: Mapping[int, Model], single: bool, problems: list[Problem]
) -> tuple[int, str] | None:
    """What one cost; a row of what is sold in pairs has to say what its cost buys."""
    stated = cell(problems, sheet, row, "currency", currency_code)
    per = cell(problems, sheet, row, "per", _per)
    cost = cell(problems, sheet, row, "cost", lambda text: _minor(text, sheet, stated, delivery.currency))
    model = sold.get(row.loudspeaker_id or 0)
    if cost is None or model is None:
        return cost
    if model.pack == 2 and not single:
        per = per or delivery.per
    if per is None and model.pack == 2 and not single:
        said = "is not stated, and it is sold in pairs: write each or pair, or give per for all that are sold so"
        problems.append(sheet.problem(row.line, "per", said))
        return None
    return of_one(cost[0], bought(model, per, single=single)), cost[1]


def _per(text: str) -> PricePer:
    found = text.strip().lower()
    if found not in [one.value for one in PricePer]:
        raise BadInput(f"{text!r}: write each or pair")
    return PricePer(found)


def _minor(text: str, sheet: Sheet, stated: str | None, usual: str | None) -> tuple[int, str]:
    amount = price(text, sheet.marks.get("cost"), stated=stated or usual)
    code = currency_of(amount, text, stated) or usual
    if code is None:
        raise BadInput(f"{text!r}: in which currency? Write it beside the amount, or give --currency EUR")
    return to_minor(amount.value, code), code
