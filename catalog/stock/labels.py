"""Which units labels are for: what stands at a location, is promised to a job, has a serial or came together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Grade, Holding, Location, Loudspeaker, Movement, MovementKind, Reservation
from triptych.catalog.database.stock_levels import clock, is_last_line
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.stock.articles import model_named, named, speaker_name
from triptych.catalog.stock.deliveries import Came, delivered
from triptych.catalog.stock.job_names import JOB, job_named, with_job
from triptych.catalog.stock.locations import known_name
from triptych.catalog.stock.movement_lines import at_place
from triptych.catalog.stock.reading import serials_at

MOST_LABELS: Final = 2000
"""So many labels are printed at once: 84 sheets of 24."""


@dataclass(frozen=True, slots=True)
class LabelsAsked:
    """For which units labels are wanted: all of what is named has to be so; what is None is not asked."""

    location: str | None = None
    job: str | None = None
    serials: tuple[str, ...] = ()
    delivery: str | None = None
    speaker: str | None = None


@dataclass(frozen=True, slots=True)
class UnitLabel:
    """What a label says of one unit, or one pair; `serial` is None of what has none."""

    speaker: str
    finish: str | None
    grade: Grade
    pack: int
    serial: str | None
    job: str | None
    location: str


@dataclass(frozen=True, slots=True)
class LabelSet:
    """Labels in order of locations and loudspeakers, and what is worth telling about them."""

    labels: tuple[UnitLabel, ...]
    remarks: tuple[str, ...]


class _Promise(NamedTuple):
    """Units of a holding that are promised to a job; `serial` is None where it isn't said which."""

    number: int
    job: int
    name: str
    serial: str | None
    units: int


class _Shelf(NamedTuple):
    """What is alike at one location: how many are there, which serials, what is promised, and what a label says."""

    holding: int
    loose: int
    serials: Sequence[str]
    promises: Sequence[_Promise]
    label: UnitLabel


class _Wanted(NamedTuple):
    """What is asked for as the ledger knows it: folded serials, the job's number, and what came by the delivery."""

    serials: frozenset[str]
    job: int | None
    came: Sequence[Came] | None


def unit_labels(session: Session, asked: LabelsAsked) -> LabelSet:
    """Give a label for each unit that is on hand and asked for; of what comes in pairs for each pair.

    Raises
    ------
    BadInput
        Nothing says which units, or there are too many.
    NotFound
        There is no such location, job, serial, delivery or loudspeaker.
    Refused
        Nothing of what is asked for is on hand.
    """
    if asked == LabelsAsked():
        raise BadInput("say for which units: --location, --job, --serial, --delivery, or name a loudspeaker")
    wanted = _Wanted(
        frozenset(map(_folded, asked.serials)),
        None if asked.job is None else job_named(session, asked.job),
        None if asked.delivery is None else delivered(session, asked.delivery),
    )
    remarks: list[str] = []
    found = []
    for shelf in _shelves(session, asked):
        found += [*_of_serials(shelf, wanted), *_of_plain(shelf, wanted, remarks)]
    _refuse_strange(session, asked, found)
    if not found:
        raise Refused("; ".join(["nothing of it is on hand that a label could be for", *remarks]))
    if len(found) > MOST_LABELS:
        raise BadInput(f"{len(found)} labels are more than {MOST_LABELS} at once: say more of which units they are for")
    plain = sum(one.serial is None for one in found)
    if plain:
        remarks.append(f"{plain} of {len(found)} labels {'has' if plain == 1 else 'have'} no serial, so no barcode")
    return LabelSet(tuple(found), tuple(remarks))


def _shelves(session: Session, asked: LabelsAsked) -> list[_Shelf]:
    query = named(
        sa.select(Holding.id, Movement.on_hand, Movement.tracked, speaker_name(), Holding.finish)
        .add_columns(Holding.grade, Holding.pack, Location.name)
        .join(Movement, is_last_line())
        .join(Location, Location.id == Holding.location_id)
        .where(Movement.on_hand > 0),
        Holding.loudspeaker_id,
    ).order_by(Location.name_key, Loudspeaker.name_key, Holding.grade, Holding.finish_key, Holding.pack.desc())
    if asked.location is not None:
        query = query.where(Location.name_key == rows.name_key(known_name(session, asked.location)))
    if asked.speaker is not None:
        query = query.where(Holding.loudspeaker_id == model_named(session, asked.speaker).number)
    serials: defaultdict[int, list[str]] = defaultdict(list)
    for number, serial in serials_at(session, None):
        serials[number].append(serial)
    promised = _promised(session)
    return [
        _Shelf(
            number,
            units - tracked,
            serials[number],
            promised[number],
            UnitLabel(name, finish, grade, pack, None, None, at),
        )
        for number, units, tracked, name, finish, grade, pack, at in session.execute(query)
    ]


def _promised(session: Session) -> defaultdict[int, list[_Promise]]:
    """Give what is promised by holding, oldest first."""
    query = with_job(
        sa.select(Reservation.holding_id, Reservation.movement_id, JOB.id, JOB.name)
        .add_columns(Reservation.serial, Reservation.rest)
        .join(Movement, Movement.id == Reservation.movement_id)
        .where(Reservation.rest > 0, Reservation.until > clock(session))
        .order_by(Reservation.movement_id),
        Movement.job_id,
    )
    found: defaultdict[int, list[_Promise]] = defaultdict(list)
    for holding, number, job, name, serial, units in session.execute(query):
        found[holding].append(_Promise(number, job, name, serial, units))
    return found


def _folded(serial: str) -> str:
    return " ".join(serial.split()).casefold()


def _of_serials(shelf: _Shelf, wanted: _Wanted) -> Iterator[UnitLabel]:
    """Give the labels of the units on a shelf that have serials."""
    jobs = {one.serial: one for one in shelf.promises}
    came = None if wanted.came is None else {one.serial for one in wanted.came}
    for serial in shelf.serials:
        promise = jobs.get(serial)
        named = not wanted.serials or _folded(serial) in wanted.serials
        of_job = wanted.job is None or (promise is not None and promise.job == wanted.job)
        if named and of_job and (came is None or serial in came):
            yield replace(shelf.label, serial=serial, job=None if promise is None else promise.name)


def _of_plain(shelf: _Shelf, wanted: _Wanted, remarks: list[str]) -> Iterator[UnitLabel]:
    """Give the labels of the units on a shelf that have no serial, those that are promised first."""
    if wanted.serials:
        return
    left, before, promises, own = shelf.loose, 0, shelf.promises, set[int | None]()
    if wanted.came is not None:
        came = [one for one in wanted.came if one.holding == shelf.holding and one.serial is None]
        own = {one.promise for one in came}
        left = min(left, sum(one.units for one in came))
        # what was there before is what others were promised, as far as it goes: it has its labels
        before = shelf.loose - left
        promises = sorted(promises, key=lambda promise: promise.number not in own)
    for promise in promises:
        if promise.serial is not None:
            continue
        older = 0 if promise.number in own else min(promise.units, before)
        before -= older
        part = min(promise.units - older, left)
        left -= part
        if wanted.job not in (None, promise.job):
            continue
        yield from [replace(shelf.label, job=promise.name)] * (part // shelf.label.pack)
        if part < promise.units and wanted.came is None:
            remarks.append(_unsaid(shelf.label, promise.name, promise.units - part))
    if wanted.job is None:
        yield from [shelf.label] * (left // shelf.label.pack)


def _unsaid(label: UnitLabel, job: str, units: int) -> str:
    held = "is" if units == 1 else "are"
    return (
        f"{units} of {label.speaker} {at_place(label.location)} {held} reserved for {job}, and it"
        " isn't said which of those that have a serial: no label says that job"
    )


def _refuse_strange(session: Session, asked: LabelsAsked, found: Sequence[UnitLabel]) -> None:
    """Refuse serials that none of what is asked for has, and are never left out in silence."""
    there = {_folded(one.serial) for one in found if one.serial is not None}
    missing = [serial for serial in asked.serials if _folded(serial) not in there]
    if not missing:
        return
    known = sa.select(sa.literal(1)).where(
        Movement.kind != MovementKind.RESERVE, sa.func.lower(Movement.serial) == _folded(missing[0])
    )
    there_once = session.scalar(known.limit(1)) is not None
    why = "is not on hand among what is asked for" if there_once else "was never here"
    raise NotFound(f"serial {missing[0]!r} {why}: see triptych stock find {missing[0]!r}")
