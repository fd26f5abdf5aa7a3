"""Units that come in: counted by their serials, and of an order as it was given, reserved for the job it was for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Grade, MovementKind, SupplyOrder
from triptych.catalog.database.order_levels import come_of_order
from triptych.catalog.database.rows import name_key
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.stock import ledger
from triptych.catalog.stock.articles import model_named, model_of
from triptych.catalog.stock.desk_cases import Answer, DeskCase, Request, case_of
from triptych.catalog.stock.job_names import JOB, with_job
from triptych.catalog.stock.shortfalls import refuse_doubtful
from triptych.catalog.stock.timing import HOLD, until_words


@dataclass(frozen=True, slots=True)
class _Ordered:
    """What an order says of what comes of it."""

    finish: str | None
    job: str | None


def receive(session: Session, asked: Request, serials: Sequence[str] | None = None) -> Answer:
    """Take units in, each of the serials one, or one pair; what was ordered for a job is reserved for it.

    Raises
    ------
    BadInput
        The serials name another number of units.
    OtherFinish
        Their finish is left out, or is nearly another's. Nothing was written.
    Refused
        They are of another finish than was ordered. Nothing was written.
    """
    ordered, said = _ordered(session, asked), asked.finish is not None
    if ordered.finish is not None and asked.finish is None:
        asked = replace(asked, finish=ordered.finish)
    names = list(serials or ([] if asked.serial is None else [asked.serial]))
    case = case_of(session, replace(asked, serial=names[0] if names else None), MovementKind.RECEIVE, new=True)
    # what was ordered in a finish comes in it
    if case.there.holding_id is None and not asked.new_finish and (said or asked.finish is None):
        refuse_doubtful(session, case.model.number, case.line)
    if not names:
        number, _ = ledger.write(session, case.line, case.there)
        held = _reserved(case, ordered, [None])
        return case.answer("received", case.line, [number, *held])
    whole_line = replace(case.line, quantity=_named_units(case, asked, names))
    first = replace(case.line, quantity=case.there.pack)
    numbers = [ledger.write(session, first, case.there)[0]]
    numbers += [ledger.record_movement(session, replace(first, serial=name)) for name in names[1:]]
    numbers += _reserved(case, ordered, names)
    if len(names) > 1:
        case.remarks.append(f"each is one of its own: {', '.join(names)}")
        whole_line = replace(whole_line, serial=None)
    return case.answer("received", whole_line, numbers)


def _ordered(session: Session, asked: Request) -> _Ordered:
    """Give what the order says of what comes.

    Raises
    ------
    NotFound
        There is no such order.
    Refused
        It is for another loudspeaker or finish, was cancelled, or has come whole already.
    """
    if asked.order is None:
        return _Ordered(None, None)
    query = sa.select(SupplyOrder.finish, JOB.name, SupplyOrder.cancelled_at).where(SupplyOrder.id == asked.order)
    query = query.add_columns(SupplyOrder.quantity - come_of_order(), SupplyOrder.quantity, SupplyOrder.loudspeaker_id)
    row: Any = None
    if 1 <= asked.order < 2**31:
        row = session.execute(with_job(query, SupplyOrder.job_id, outer=True)).first()
    if row is None:
        raise NotFound(f"no order has the number {asked.order}: see triptych supplier orders; nothing was written")
    finish, job, cancelled, rest, quantity, number = row
    wanted = model_named(session, asked.model) if asked.number is None else model_of(session, asked.number)
    said = f"order {asked.order}"
    if wanted.number != number:
        said += f" is for {model_of(session, number).name}, not {wanted.name}: leave out the order, or name another"
    elif cancelled is not None:
        said += " was cancelled: leave it out"
    elif rest < (asked.quantity or 1):
        said += f" brings what was ordered, and no more: {rest} of {quantity} are still to come"
    if said != f"order {asked.order}":
        raise Refused(f"{said}; nothing was written")
    found = _Ordered(finish, job)
    if None not in (found.finish, asked.finish) and name_key(found.finish) != name_key(asked.finish):
        raise Refused(
            f"order {asked.order} is for {found.finish!r}, not {asked.finish!r}: receive them without --order, or as"
            " what was ordered; nothing was written"
        )
    return found


def _reserved(case: DeskCase, ordered: _Ordered, serials: Sequence[str | None]) -> list[int]:
    """Reserve what came of an order for the job that it was for, and tell so."""
    if ordered.job is None or case.line.grade is Grade.QUARANTINE:
        return []
    end = datetime.now(UTC) + HOLD
    units = case.line.quantity if serials == [None] else case.there.pack
    line = replace(case.line, kind=MovementKind.RESERVE, quantity=units, job=ordered.job, until=end)
    line = replace(line, order_id=None, amount=None, currency=None, note=None)
    case.remarks.append(
        f"reserved for {ordered.job}, for whom it was ordered, until {until_words(end, case.there.zone or 'UTC')}"
    )
    return [ledger.record_movement(case.session, replace(line, serial=serial)) for serial in serials]


def _named_units(case: DeskCase, asked: Request, names: Sequence[str]) -> int:
    """Give how many come where each is named; refuse another number of them than is said."""
    pack = case.there.pack
    units = len(names) * pack
    if asked.quantity not in (None, units):
        one = "a pair, which is 2, has one serial" if pack == 2 else "each has one serial"
        single = "; as single ones they come with --single" if pack == 2 and asked.quantity == len(names) else ""
        raise BadInput(
            f"{len(names)} serial{'s' * (len(names) != 1)} for {asked.quantity}: {one}, so they name {units}{single}"
        )
    return units
