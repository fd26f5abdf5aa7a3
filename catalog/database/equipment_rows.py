"""Equipment as rows: reads, and writes that are whole or none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Equipment
from triptych.catalog.database.reads import chunks, offered
from triptych.catalog.database.rows import refuse_unstorable
from triptych.catalog.equipment_record import EQUIPMENT, EquipmentRecord, equipment_faults
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.money import checked_currency, to_amount, to_minor
from triptych.catalog.names import meant_by, name_key
from triptych.catalog.words import EquipmentKind

Row = Mapping[Any, Any]


@dataclass(frozen=True, slots=True)
class KeptEquipment:
    """What became of the records."""

    added: int
    changed: int
    unchanged: int


def equipment(session: Session, kind: EquipmentKind | None = None, text: str | None = None) -> list[EquipmentRecord]:
    """Give all equipment, of one kind or with these words in the name, in order of kinds and names."""
    query = sa.select(Equipment.__table__)
    if kind is not None:
        query = query.where(Equipment.__table__.c.kind == kind)
    if text is not None:
        query = query.where(Equipment.name_key.contains(name_key(text), autoescape=True))
    found = [_record(row) for row in session.execute(query.order_by(Equipment.name_key)).mappings()]
    kinds = list(EquipmentKind)
    return sorted(found, key=lambda one: kinds.index(one.kind))


def equipment_by_key(session: Session, keys: Iterable[str]) -> dict[str, EquipmentRecord]:
    """Give the equipment that has these keys of names."""
    found: dict[str, EquipmentRecord] = {}
    for part in chunks(keys):
        rows = session.execute(sa.select(Equipment.__table__).where(Equipment.name_key.in_(part))).mappings()
        found |= {row["name_key"]: _record(row) for row in rows}
    return found


def equipment_meant(session: Session, name: str) -> str | None:
    """Give the name of the piece that a name of none means: mistyped, or without its maker; None for none."""
    key = meant_by(name_key(name), session.scalars(sa.select(Equipment.name_key).order_by(Equipment.name_key)).all())
    return None if key is None else equipment_by_key(session, [key])[key].name


def equipment_named(session: Session, name: str) -> EquipmentRecord:
    """Give the piece of that name, in any case.

    Raises
    ------
    NotFound
        None has it; the nearest names are told.
    """
    found = equipment_by_key(session, [name_key(name)])
    if found:
        return next(iter(found.values()))
    known = sa.select(Equipment.name_key, Equipment.__table__.c.maker + " " + Equipment.__table__.c.model)
    raise NotFound(f"no equipment is named {name!r}{offered(name_key(name), session.execute(known))}")


def save_equipment(session: Session, records: Sequence[EquipmentRecord]) -> KeptEquipment:
    """Add or change equipment by name, compared without case.

    Raises
    ------
    BadInput
        A record cannot be stored, or two have one name. Nothing was written.
    """
    by_key: dict[str, EquipmentRecord] = {}
    for record in records:
        key = record.key
        if key in by_key:
            raise BadInput(f"{record.name!r} stands twice; keep one")
        _refuse(record)
        by_key[key] = record
    known = equipment_by_key(session, by_key)
    new = [_row(key, record) for key, record in by_key.items() if key not in known]
    changed = {key: record for key, record in by_key.items() if key in known and known[key] != record}
    for part in chunks(new):
        session.execute(sa.insert(Equipment), part)
    for key, record in changed.items():
        session.execute(sa.update(Equipment).where(Equipment.name_key == key).values(_row(key, record)))
    return KeptEquipment(len(new), len(changed), len(known) - len(changed))


def edit_equipment(session: Session, name: str, record: EquipmentRecord) -> None:
    """Write a record in the place of the piece of that name, under whatever name it has itself.

    Raises
    ------
    NotFound
        No piece has that name.
    BadInput
        The record cannot be stored, or another piece has its name. Nothing was written.
    """
    old, key = equipment_named(session, name).key, record.key
    _refuse(record)
    if key != old and equipment_by_key(session, [key]):
        raise BadInput(f"{record.name!r} is in the catalogue already; remove one of the two first")
    session.execute(sa.update(Equipment).where(Equipment.name_key == old).values(_row(key, record)))


def remove_equipment(session: Session, name: str) -> EquipmentRecord:
    """Take a piece away for good; budgets that name it then say that it is unknown.

    Raises
    ------
    NotFound
        No piece has that name.
    """
    record = equipment_named(session, name)
    session.execute(sa.delete(Equipment).where(Equipment.name_key == record.key))
    return record


def _refuse(record: EquipmentRecord) -> None:
    refuse_unstorable(f"equipment {record.name!r}", record)
    checked_currency(record.currency)
    for name, complaint in equipment_faults({name: getattr(record, name) for name in EQUIPMENT}):
        raise BadInput(f"{record.name!r}: column {name}: {complaint}")


def _row(key: str, record: EquipmentRecord) -> dict[str, Any]:
    row = {name: getattr(record, name) for name in EQUIPMENT} | {"name_key": key}
    row["serves"] = EQUIPMENT["serves"].text(record.serves) or None
    row["price"] = None if record.price is None else to_minor(record.price, record.currency)
    return row


def _record(row: Row) -> EquipmentRecord:
    values = {name: row[name] for name in EQUIPMENT}
    values["serves"] = EQUIPMENT["serves"].read(row["serves"] or "")
    values["price"] = None if row["price"] is None else to_amount(row["price"], row["currency"])
    return EquipmentRecord(**values)
