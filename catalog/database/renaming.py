"""Names that change while what has them stays: stock, quotes, prices and curves know a loudspeaker by its row."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import profiles, reads
from triptych.catalog.database.kinship import (
    POINTERS,
    TABLES,
    Kindred,
    KinName,
    drop_unused,
    kin_name,
    kin_named,
    kindred_of,
    rename_doubt,
)
from triptych.catalog.database.models import AsBuilt, Family, Loudspeaker, Maker, Room, Series
from triptych.catalog.database.writes import replace_loudspeaker, whole
from triptych.catalog.errors import BadInput
from triptych.catalog.names import name_key
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stated_records import NAME_PARTS, renamed


def rename_loudspeaker(session: Session, name: str, parts: Mapping[str, str | None]) -> LoudspeakerRecord:
    """Give a loudspeaker another maker, series or model; all that is known and kept of it stays its own.

    A family that is maker and series goes along. What the old name leaves without a loudspeaker goes.

    Raises
    ------
    NotFound
        None has that name; the nearest names are told.
    BadInput
        Another loudspeaker has the new name, or it is none.
    """
    item = reads.stored(session, name, hold=True)
    record = renamed(item.record, **{part: parts[part] for part in NAME_PARTS if part in parts})
    before = kindred_of(session, item.id)
    if other := reads.stored_by_key(session, {name_key(record.name)} - {item.key}):
        raise BadInput(_taken(repr(item.record.name), next(iter(other.values())).record.name))
    replace_loudspeaker(session, item, record)
    [now] = reads.stored_by_id(session, [item.id])
    follow(session, {item.key: now.record.name})
    drop_unused(session, before)
    return now.record


def rename_kin(session: Session, kin: Kindred, name: str, new: str) -> int:
    """Give a maker, a series (by its own name) or a family another name; tell how many loudspeakers have it.

    Raises
    ------
    NotFound
        None has that name; the nearest names are told.
    BadInput
        Another has the new name or nearly so, or a loudspeaker would have that of another one.
    """
    found = kin_named(session, kin, name)
    new = kin_name(kin, new)
    table = TABLES[kin]
    same = sa.and_(table.name_key == name_key(new), table.id != found.id)
    if kin is Kindred.SERIES:
        same = sa.and_(same, Series.maker_id == found.maker_id)
    if session.scalar(sa.select(table.id).where(same)) is not None:
        into = found.whole.removesuffix(found.name) + new
        pair = f"{shlex.quote(found.whole)} {shlex.quote(into)}"
        raise BadInput(f"{kin.value} {into!r} is there already; triptych {kin.value} merge {pair} makes one of the two")
    if (doubt := rename_doubt(session, found, new)) is not None:
        pair = f"{shlex.quote(found.whole)} {shlex.quote(found.whole.removesuffix(found.name) + new)}"
        meant = f"{doubt.made}, then triptych {kin.value} merge {pair}"
        raise BadInput(f"{doubt}: write that, or where the new one is meant, {meant}; nothing was written")
    with whole(session, f"{kin.value} {new!r}"):
        families = _families(session, found, new)
        session.execute(sa.update(table).where(table.id == found.id).values(name=new, name_key=name_key(new)))
        _move_families(session, families)
        _name_anew(session, found.theirs, kin)
    return found.loudspeakers


def merge_kin(session: Session, kin: Kindred, name: str, into: str) -> int:
    """Give all that one maker, series or family has to another, and take the empty one away; tell how many go over.

    Raises
    ------
    NotFound
        One of the two is not there; the nearest names are told.
    BadInput
        They are one, series of two makers, or both have a loudspeaker of one name.
    """
    old, new = kin_named(session, kin, name), kin_named(session, kin, into)
    if old.id == new.id:
        raise BadInput(f"{name!r} and {into!r} are one {kin.value} already")
    if old.maker_id != new.maker_id:
        raise BadInput(f"{old.whole!r} and {new.whole!r} are of two makers; merge those, or rename loudspeakers")
    with whole(session, f"{kin.value} {new.whole!r}"):
        theirs = Loudspeaker.id.in_(session.scalars(sa.select(Loudspeaker.id).where(old.theirs)).all())
        families = _families(session, old, new.name)
        if kin is Kindred.MAKER:
            _move_series(session, old, new)
        session.execute(sa.update(Loudspeaker).where(old.theirs).values({POINTERS[kin]: new.id}))
        session.execute(sa.delete(TABLES[kin]).where(TABLES[kin].id == old.id))
        _move_families(session, families)
        _name_anew(session, theirs, kin)
    return old.loudspeakers


def remove_kin(session: Session, kin: Kindred, name: str) -> None:
    """Take away a maker, series or family that no loudspeaker has; a maker's empty series go with it.

    Raises
    ------
    NotFound
        None has that name; the nearest names are told.
    BadInput
        A loudspeaker has it; names the first.
    """
    found = kin_named(session, kin, name)
    if found.loudspeakers:
        first = session.scalars(sa.select(Loudspeaker.id).where(found.theirs).order_by(Loudspeaker.name_key).limit(1))
        [named] = reads.stored_by_id(session, first.all())
        many = "is one loudspeaker" if found.loudspeakers == 1 else f"are {found.loudspeakers} loudspeakers"
        mend = f"merge it into another with triptych {kin.value} merge, or rename them"
        raise BadInput(f"of {kin.value} {found.whole!r} {many}, {named.record.name!r} first; {mend}")
    session.execute(sa.delete(TABLES[kin]).where(TABLES[kin].id == found.id))


def _move_series(session: Session, old: KinName, new: KinName) -> None:
    """Give one maker's series to another, those of one name into one."""
    query = sa.select(Series.id, Series.name, Series.name_key).order_by(Series.id)
    there = {key: number for number, _, key in session.execute(query.where(Series.maker_id == new.id))}
    for number, name, key in session.execute(query.where(Series.maker_id == old.id)).all():
        if key not in there:
            row = {"maker_id": new.id, "name": name, "name_key": key}
            there[key] = session.scalars(sa.insert(Series).values(row).returning(Series.id)).one()
        moved = {"maker_id": new.id, "series_id": there[key]}
        session.execute(sa.update(Loudspeaker).where(Loudspeaker.series_id == number).values(moved))


def _families(session: Session, found: KinName, new: str) -> dict[str, str]:
    """The families that are named by maker and series: by their keys, the names that they have after a change."""
    if found.kin is Kindred.SERIES:
        maker = found.whole.removesuffix(f" {found.name}")
        return {name_key(found.whole): f"{maker} {new}"}
    series = session.scalars(sa.select(Series.name).where(Series.maker_id == found.id)).all()
    return {name_key(found.name, one): f"{new} {one}" for one in series} if found.kin is Kindred.MAKER else {}


def _move_families(session: Session, moved: Mapping[str, str]) -> None:
    numbers = sa.select(Family.name_key, Family.id)
    for key, name in moved.items():
        query = numbers.where(Family.name_key.in_([key, name_key(name)]))
        found = {row[0]: row[1] for row in session.execute(query)}
        old, new = found.get(key), found.get(name_key(name))
        if old is None:
            continue
        if new is None or new == old:
            session.execute(sa.update(Family).where(Family.id == old).values(name=name, name_key=name_key(name)))
        else:
            session.execute(sa.update(Loudspeaker).where(Loudspeaker.family_id == old).values(family_id=new))
            session.execute(sa.delete(Family).where(Family.id == old))


def _name_anew(session: Session, theirs: sa.ColumnElement[bool], kin: Kindred) -> None:
    """Write what follows from the names of maker, series and model, and count a revision."""
    query = sa.select(Loudspeaker.id, Loudspeaker.name_key, Maker.name, Series.name, Loudspeaker.model)
    query = query.join(Maker, Maker.id == Loudspeaker.maker_id).outerjoin(Series, Series.id == Loudspeaker.series_id)
    found = session.execute(query.where(theirs).order_by(Loudspeaker.id)).all()
    names = {number: " ".join(filter(None, parts)) for number, _, *parts in found}
    keys = {number: name_key(name) for number, name in names.items()}
    _refuse_shared(session, names, keys)
    profiles.keep_profiles(session, theirs)
    session.execute(sa.update(Loudspeaker).where(theirs).values(revision=Loudspeaker.revision + 1))
    changed = {number: key for number, key, *_ in found if keys[number] != key}
    # through names that nobody can have, for one may take what another of them had
    for by_number in ({number: f"\x01{number}" for number in changed}, {number: keys[number] for number in changed}):
        rows = [{"number": number, "key": key} for number, key in by_number.items()]
        update = sa.update(Loudspeaker).where(Loudspeaker.id == sa.bindparam("number"))
        if rows:
            session.connection().execute(update.values(name_key=sa.bindparam("key")), rows)
    if kin is not Kindred.FAMILY:
        follow(session, {key: names[number] for number, key, *_ in found})


def _refuse_shared(session: Session, names: Mapping[int, str], keys: Mapping[int, str]) -> None:
    """Refuse names of which two loudspeakers would have one."""
    there: dict[str, int] = {}
    for part in reads.chunks(set(keys.values())):
        query = sa.select(Loudspeaker.name_key, Loudspeaker.id).where(Loudspeaker.name_key.in_(part))
        there |= {key: number for key, number in session.execute(query) if number not in keys}
    for number, key in keys.items():
        if there.setdefault(key, number) != number:
            raise BadInput(_taken("one of them", names[number]))


def _taken(name: str, other: str) -> str:
    return (
        f"{name} would be named as another is, {other!r}; nothing was changed. Rename one of the two first, or make"
        " one of them with triptych speaker merge"
    )


_TEXTS: Final = (
    (Room.id, Room.__table__.columns["mains_speaker"]),
    (AsBuilt.id, AsBuilt.__table__.columns["speaker"]),
    (AsBuilt.id, AsBuilt.__table__.columns["mains"]),
)
"""Where loudspeakers are named by a text."""


def follow(session: Session, names: Mapping[str, str]) -> None:
    """Write new names of loudspeakers, given by the keys of the old, where rooms and measurements say the old ones."""
    for number, column in _TEXTS:
        for row, text in session.execute(sa.select(number, column).where(column.is_not(None))).all():
            name = names.get(name_key(text))
            if name is not None and name != text:
                session.execute(sa.update(column.table).where(column.table.c.id == row).values({column.name: name}))


def named_by_text(session: Session, key: str) -> list[str]:
    """Tell which rooms name a loudspeaker, by the key of its name, and which checks after installing."""
    room = sa.select(Room.name, Room.__table__.c.mains_speaker).where(Room.__table__.c.mains_speaker.is_not(None))
    told = [f"room {name!r}" for name, text in session.execute(room.order_by(Room.name_key)) if name_key(text) == key]
    check = sa.select(Room.name, AsBuilt.speaker, AsBuilt.mains).join(Room, Room.id == AsBuilt.room_id)
    names = dict.fromkeys(
        name
        for name, *texts in session.execute(check.order_by(AsBuilt.id))
        if key in [name_key(text) for text in texts]
    )
    return told + [f"what was measured in room {name!r}" for name in names]
