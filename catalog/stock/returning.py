"""Which of the units that were sold comes back: one that has a serial comes back under it, and under no other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from triptych.catalog.database import rows
from triptych.catalog.database.models import Holding, Job, Movement, MovementKind
from triptych.catalog.errors import Refused
from triptych.catalog.stock.articles import model_of
from triptych.catalog.stock.job_names import JOB, with_job
from triptych.catalog.stock.movement_lines import MovementLine
from triptych.catalog.stock.shortfalls import FinishThere, OtherFinish, in_finish

SERIALS_NAMED: Final = 12
"""So many serials are named at once."""

_LATER: Final = aliased(Movement)


class _Out(NamedTuple):
    """Units that were sold and have not come back; `serial` is None where they have none."""

    finish: str
    job: int | None
    serial: str | None
    units: int


def which_comes(session: Session, line: MovementLine, job: int | None) -> tuple[MovementLine, list[str]]:
    """Give what comes back, with serial and job where only one can be meant, and what to tell of that.

    `job` is the number of the line's job, None where it names none or one that is new.

    Raises
    ------
    Refused
        It has a serial, and which one isn't said. Nothing was written.
    """
    if line.serial is not None:
        return _for_whom(session, line, ())
    named, (plain, total) = _named_out(session, line), _plain_out(session, line)
    if not named:
        _refuse_other_finish(session, line, plain)
        return _for_whom(session, line, plain)
    found, exact = _meant([*named, *plain], line, job)
    serials = [one for one in found if one.serial is not None]
    without = min(total, sum(one.units for one in found if one.serial is None)) if serials else total
    if line.quantity <= without:
        return _for_whom(session, line, plain)
    if exact and not without and len(serials) == 1 and line.quantity == serials[0].units:
        serial = serials[0].serial
        line, whose = _for_whom(session, replace(line, serial=serial), ())
        return line, [f"serial {serial}: the only one that was sold and did not come back", *whose]
    raise _unnamed(session, line, [one.serial or "" for one in serials or named], without)


def _for_whom(session: Session, line: MovementLine, plain: Sequence[_Out]) -> tuple[MovementLine, list[str]]:
    """Give what comes back with the job that it was sold for, where it names none and only one can be meant."""
    if line.job is not None:
        return line, []
    if line.serial is not None:
        jobs = {_sold_for(session, line)}
    else:
        finish = rows.name_key(line.finish)
        jobs = {one.job for one in plain if one.finish == finish and one.units}
    if jobs <= {None}:
        return line, []
    if len(jobs) > 1:
        return line, [
            "from which job it comes back isn't said, so it counts as installed there: undo this and say --job"
        ]
    name = session.get_one(Job, jobs.pop()).name
    return replace(line, job=name), [f"sold for {name}, so it comes back from there"]


def _sold_for(session: Session, line: MovementLine) -> int | None:
    """Give the job that the unit of a line's serial was sold for last, where it was."""
    query = sa.select(JOB.id).where(
        Movement.loudspeaker_id == line.loudspeaker_id,
        Movement.serial == " ".join((line.serial or "").split()),
        Movement.kind == MovementKind.SELL,
    )
    query = with_job(query.select_from(Movement), Movement.job_id, outer=True)
    return session.scalars(query.order_by(Movement.serial_sequence.desc()).limit(1)).first()


def owed_words(line: MovementLine) -> list[str]:
    """Say what a return leaves owed."""
    if line.job is None:
        return []
    return [f"owed to {line.job} again: {line.quantity}; if its money is given back, undo this and say --refund"]


def _refuse_other_finish(session: Session, line: MovementLine, out: Sequence[_Out]) -> None:
    """Refuse where none of the finish that is said is out, and others are.

    Raises
    ------
    OtherFinish
        Names them.
    """
    units: Counter[str] = Counter()
    for one in out:
        units[one.finish] += one.units
    if units[rows.name_key(line.finish)] or not +units:
        return
    shown = {rows.name_key(finish): finish for finish in _finishes(session, line)}
    found = [FinishThere(shown.get(finish), number) for finish, number in units.items() if number]
    name = model_of(session, line.loudspeaker_id).name
    told = " and ".join(one.words for one in found)
    raise OtherFinish(
        f"cannot {line.units}: of {name} there were sold, and did not come back, {told}, none {in_finish(line.finish)}:"
        " say which with --finish, or say --before if it was sold before the ledger began; nothing was written",
        [one for one in found if one.units >= line.quantity],
    )


def _finishes(session: Session, line: MovementLine) -> list[str]:
    query = sa.select(Holding.finish).where(Holding.loudspeaker_id == line.loudspeaker_id, Holding.finish.is_not(None))
    return [finish for finish in session.scalars(query) if finish is not None]


def _meant(out: Sequence[_Out], line: MovementLine, job: int | None) -> tuple[list[_Out], bool]:
    """Give those of the finish and the job, else of either, else all; and whether they are of both."""
    finish = rows.name_key(line.finish)
    tests: tuple[Callable[[_Out], bool], ...] = (
        lambda one: one.finish == finish and (line.job is None or one.job == job),
        lambda one: one.finish == finish,
        lambda one: line.job is not None and one.job == job,
    )
    for place, test in enumerate(tests):
        found = [one for one in out if one.units and test(one)]
        if found:
            return found, place == 0
    return list(out), False


def _unnamed(session: Session, line: MovementLine, serials: Sequence[str], without: int) -> Refused:
    more = f" and {len(serials) - SERIALS_NAMED} more" if len(serials) > SERIALS_NAMED else ""
    beside = f" and {without} without a serial" if without else ""
    return Refused(
        f"cannot {line.units}: of {model_of(session, line.loudspeaker_id).name} there were sold, and did not come back,"
        f" {', '.join(serials[:SERIALS_NAMED])}{more}{beside}: name the serial with --serial, one at a time,"
        " or say --before if it was sold before the ledger began; nothing was written"
    )


def _named_out(session: Session, line: MovementLine) -> list[_Out]:
    """Give the units with serials that were moved last when they were sold."""
    moved = sa.select(sa.func.max(_LATER.serial_sequence)).where(
        _LATER.loudspeaker_id == line.loudspeaker_id, _LATER.serial == Movement.serial, _LATER.effect != 0
    )
    query = with_job(
        sa.select(Holding.finish_key, JOB.id, Movement.serial, Movement.quantity)
        .join(Holding, Holding.id == Movement.holding_id)
        .where(Movement.loudspeaker_id == line.loudspeaker_id, Movement.kind == MovementKind.SELL)
        .where(Movement.serial.is_not(None), Movement.serial_sequence == moved.scalar_subquery())
        .where(Holding.pack == line.pack),
        Movement.job_id,
        outer=True,
    )
    return [_Out(*row) for row in session.execute(query.order_by(Movement.id))]


def _plain_out(session: Session, line: MovementLine) -> tuple[list[_Out], int]:
    """Give the units without serials that were sold and have not come back, by finish and job, and of all of them.

    What came back for no job or another may be any of them, so there may be fewer than their sum.
    """
    query = with_job(
        sa.select(Holding.finish_key, JOB.id, Movement.kind, Movement.quantity)
        .join(Holding, Holding.id == Movement.holding_id)
        .where(Movement.loudspeaker_id == line.loudspeaker_id, Movement.serial.is_(None), Holding.pack == line.pack)
        .where(Movement.kind.in_((MovementKind.SELL, MovementKind.RETURN))),
        Movement.job_id,
        outer=True,
    )
    found: Counter[tuple[str, int | None]] = Counter()
    total = 0
    for finish, job, kind, quantity in session.execute(query.order_by(Movement.id)):
        units = quantity if kind is MovementKind.SELL else -quantity
        found[finish, job] = max(0, found[finish, job] + units)
        total = max(0, total + units)
    return [_Out(finish, job, None, units) for (finish, job), units in found.items()], total
