"""Who wrote what and when, apart from the ledger: loudspeakers, rooms, prices, orders, quotes, jobs and the rest."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Loudspeaker, Room, Signature, Supplier
from triptych.catalog.database.signing import FOR_PROOF
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.money import to_amount
from triptych.catalog.problems import nearest
from triptych.catalog.stock.articles import models
from triptych.catalog.stock.days import day_between

SUBJECTS: Final = (
    "loudspeaker",
    "room",
    "equipment",
    "price",
    "supplier_price",
    "supply_order",
    "quote",
    "job",
    "location",
    "supplier",
    "article",
    "reorder_point",
    "grade_price",
)
"""Of what rows a signature is kept."""

_OF_A_LOUDSPEAKER: Final = ("loudspeaker", "price", "supplier_price", "article", "reorder_point", "grade_price")
_NUMBERED: Final = {"supply_order": "order", "quote": "quote"}
_SILENT: Final = ("name", "name_key", "loudspeaker_id")


@dataclass(frozen=True, slots=True)
class Deed:
    """What somebody made, changed or removed, as it was then; `who` is None where another program wrote."""

    number: int
    at: datetime
    who: str | None
    deed: str
    subject: str
    name: str
    said: str


@dataclass(frozen=True, slots=True)
class DeedsAsked:
    """Which deeds are asked for; what is None is not asked."""

    speaker: str | None = None
    room: str | None = None
    subject: str | None = None
    who: str | None = None
    day: date | None = None


def history(session: Session, wanted: DeedsAsked, limit: int | None = None) -> list[Deed]:
    """Give who did what, oldest first; the newest `limit` where it is given.

    Raises
    ------
    BadInput
        Nothing is signed of such a subject.
    NotFound
        Nothing of that loudspeaker or room was ever written.
    """
    query = sa.select(Signature).where(*_conditions(session, wanted)).order_by(Signature.id.desc()).limit(limit)
    found = list(session.scalars(query))[::-1]
    said = [json.loads(one.said) for one in found]
    known = _names(session, found, said)
    return [
        Deed(one.id, one.at, one.who, one.deed, one.subject, _name(one, told, known), _words(one.subject, told, known))
        for one, told in zip(found, said, strict=True)
    ]


def _conditions(session: Session, wanted: DeedsAsked) -> list[sa.ColumnElement[bool]]:
    # what a quote says is signed too, for the proof alone
    which: list[sa.ColumnElement[bool]] = [Signature.subject.in_(SUBJECTS), Signature.said != FOR_PROOF]
    if wanted.subject is not None:
        if wanted.subject not in SUBJECTS:
            raise BadInput(f"{wanted.subject!r}: {nearest(wanted.subject, SUBJECTS)}")
        which.append(Signature.subject == wanted.subject)
    if wanted.speaker is not None:
        numbers = _numbers(session, Loudspeaker, "loudspeaker", wanted.speaker)
        which += [Signature.subject.in_(_OF_A_LOUDSPEAKER), Signature.number.in_(numbers)]
    if wanted.room is not None:
        which += [Signature.subject == "room", Signature.number.in_(_numbers(session, Room, "room", wanted.room))]
    if wanted.who is not None:
        which.append(sa.func.lower(Signature.who) == wanted.who.strip().lower())
    if wanted.day is not None:
        which += day_between(session, Signature.at, wanted.day)
    return which


def _numbers(session: Session, table: type[Loudspeaker] | type[Room], subject: str, name: str) -> list[int]:
    """Give the number of what has that name, or the numbers of what had it before it was renamed or removed."""
    key = rows.name_key(name)
    there = session.scalar(sa.select(table.id).where(table.name_key == key))
    if there is not None:
        return [there]
    once = sa.select(Signature.number).where(
        Signature.subject == subject, Signature.said.contains(json.dumps(key)[1:-1], autoescape=True)
    )
    found = sorted(set(session.scalars(once)))
    if not found:
        raise NotFound(f"no {subject} is named {name!r}, and none was")
    return found


def _names(session: Session, found: list[Signature], said: list[Any]) -> dict[tuple[str, int], str]:
    numbers = {one.number for one in found if one.subject in _OF_A_LOUDSPEAKER}
    numbers |= {told["loudspeaker_id"] for told in said if "loudspeaker_id" in told}
    known = {("loudspeaker", number): model.name for number, model in models(session, numbers).items()}
    suppliers = {told["supplier_id"] for told in said if told.get("supplier_id") is not None}
    for number, name in session.execute(sa.select(Supplier.id, Supplier.name).where(Supplier.id.in_(suppliers))):
        known["supplier", number] = name
    return known


def _name(one: Signature, told: Mapping[str, Any], known: Mapping[tuple[str, int], str]) -> str:
    if one.subject in _OF_A_LOUDSPEAKER:
        return known.get(("loudspeaker", one.number)) or told.get("name_key") or f"loudspeaker {one.number}"
    if one.subject in _NUMBERED:
        return f"{_NUMBERED[one.subject]} {one.number}"
    return str(told.get("name") or told.get("name_key") or one.number)


def _words(subject: str, told: Mapping[str, Any], known: Mapping[tuple[str, int], str]) -> str:
    """Give in words what a row said."""
    parts = []
    if subject == "supply_order":
        parts.append(known.get(("loudspeaker", told["loudspeaker_id"]), ""))
    for name, value in told.items():
        if name in _SILENT or name == "currency" or value in (None, False, 0):
            continue
        if name in ("amount", "cost", "retail", "price"):
            value = f"{to_amount(value, told['currency'])} {told['currency']}"
        if name == "supplier_id":
            name, value = "supplier", known.get(("supplier", value), value)
        if name == "merged_into_id":
            name = "merged into job"
        parts.append(f"{name.replace('_', ' ')} {value}" if value not in (True, 1) or name == "revision" else name)
    return ", ".join(filter(None, map(str, parts)))
