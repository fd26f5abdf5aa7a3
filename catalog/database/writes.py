"""Records into the database: added, changed or found unchanged, all of them or none."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from datetime import date
from functools import cache
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import profiles, reads, rows, stock_levels
from triptych.catalog.database.bulk import insert_rows
from triptych.catalog.database.changes import Change, Changes, changes_of, checked
from triptych.catalog.database.changes import Saved as Saved
from triptych.catalog.database.models import (
    AsBuilt,
    Base,
    Crossover,
    Driver,
    Family,
    Loudspeaker,
    LoudspeakerRole,
    Maker,
    Place,
    Price,
    Provenance,
    Room,
    Seat,
    Series,
    Source,
)
from triptych.catalog.database.signing import signed_together
from triptych.catalog.database.signing_many import made_together
from triptych.catalog.errors import BadInput, Refused
from triptych.catalog.records import Figure as FigureRecord
from triptych.catalog.records import LoudspeakerRecord, RoomRecord


def save_loudspeakers(session: Session, records: Sequence[LoudspeakerRecord], *, day: date | None = None) -> Saved:
    """Add or change loudspeakers by their names; a changed one gets the next revision.

    A name is compared without case. The first spelling of a maker, series or family stands. A figure whose value does
    not change keeps where it came from, unless its evidence or its flags change. A price that changes ends the one
    before it on `day` (today in UTC where None), which stays in the database.

    Raises
    ------
    BadInput
        A record cannot be stored, two have one name, or one divides a stored name otherwise. Nothing was written.
    """
    by_key = checked(records)
    reads.hold_keys(session, by_key)
    return write_changes(session, changes_of(by_key, reads.stored_by_key(session, by_key)), day=day)


WRITTEN_AT_ONCE: Final = 2_000
"""How many loudspeakers are written with one statement a table, so that rows do not pile up in memory."""


def write_changes(
    session: Session, changes: Changes, *, day: date | None = None, say: Callable[[str], None] = lambda words: None
) -> Saved:
    """Write what was worked out in the same transaction, or is held since by `refuse_overtaken`.

    `say` is told how far it is.

    Raises
    ------
    BadInput
        The database refuses it. Nothing was written.
    """
    records = [*changes.added, *(record for _, record, _ in changes.changed)]
    with whole(session, "the loudspeakers"), _signed(session, len(records)):
        writer = _Writer(session, records, day or reads.today())
        with _added(session, len(changes.added)):
            for at, part in enumerate(reads.chunks(changes.added, WRITTEN_AT_ONCE)):
                say(f"adding {at * WRITTEN_AT_ONCE + len(part):,} of {len(changes.added):,} loudspeakers")
                writer.add(part)
        for at, changed in enumerate(reads.chunks(changes.changed, WRITTEN_AT_ONCE)):
            say(f"changing {at * WRITTEN_AT_ONCE + len(changed):,} of {len(changes.changed):,} loudspeakers")
            writer.change(changed)
    return changes.saved


_MANY: Final = 100
"""From here on loudspeakers are signed together."""


def _signed(session: Session, count: int) -> AbstractContextManager[None]:
    return nullcontext() if _one_by_one(session, count) else signed_together(_driver(session))


def _added(session: Session, count: int) -> AbstractContextManager[None]:
    return nullcontext() if _one_by_one(session, count) else made_together(_driver(session))


def _one_by_one(session: Session, count: int) -> bool:
    return count < _MANY or stock_levels.on_server(session)


def _driver(session: Session) -> Any:
    return session.connection().connection.driver_connection


def replace_loudspeaker(session: Session, item: reads.Stored, record: LoudspeakerRecord) -> None:
    """Write a record in the place of a stored one that is held, under whatever name; its figures say their sources.

    Raises
    ------
    BadInput
        The record cannot be stored. Nothing was written.
    """
    checked([record])
    with whole(session, f"{record.name!r}"):
        _Writer(session, [record], reads.today()).change([(item, record, dict(record.figures))])


def retire_loudspeaker(session: Session, name: str, *, retired: bool = True) -> None:
    """Hide a loudspeaker from lists and candidates, or with `retired=False` show it again; it is never deleted.

    Raises
    ------
    NotFound
        None has that name; the nearest names are told.
    """
    number = reads.number(session, name)
    session.execute(sa.update(Loudspeaker).where(Loudspeaker.id == number).values(retired=retired))


def save_room(session: Session, room: RoomRecord) -> Saved:
    """Add a room, or replace the one of the same name, whatever its case.

    Raises
    ------
    BadInput
        The room cannot be stored. Nothing was written.
    """
    rows.refuse_impossible_room(room)
    there = session.scalar(sa.select(Room.id).where(Room.name_key == rows.name_key(room.name)))
    return _write_room(session, None, room) if there is None else replace_room(session, room.name, room)


def replace_room(session: Session, name: str, room: RoomRecord) -> Saved:
    """Put a room in the place of the one of that name; what was measured in it stays.

    Raises
    ------
    NotFound
        None has that name; the nearest names are told.
    BadInput
        The room cannot be stored, or another has its name. Nothing was written.
    """
    rows.refuse_impossible_room(room)
    if reads.room(session, name) == room:
        return Saved(unchanged=1)
    number = session.scalar(sa.select(Room.id).where(Room.name_key == rows.name_key(name)))
    same = sa.select(Room.id).where(Room.name_key == rows.name_key(room.name), Room.id != number)
    if session.scalar(same) is not None:
        raise BadInput(f"another room is named {room.name!r}: give this one a name of its own")
    return _write_room(session, number, room)


def _write_room(session: Session, number: int | None, room: RoomRecord) -> Saved:
    row = rows.room_row(room)
    with whole(session, f"room {room.name!r}"):
        if number is None:
            written = session.scalars(sa.insert(Room).values(**row).returning(Room.id)).one()
        else:
            written = number
            session.execute(sa.update(Room).where(Room.id == number).values(**row))
        for table, parts in ((Seat, rows.part_rows(room.seats)), (Place, rows.part_rows(room.places))):
            session.execute(sa.delete(table).where(table.__table__.columns["room_id"] == written))
            _insert(session, table, [{"room_id": written} | part for part in parts])
    return Saved(added=1) if number is None else Saved(changed=1)


def remove_room(session: Session, name: str, *, measured: bool = False) -> str:
    """Take a room away for good, and with `measured` what was measured in it; give its name.

    Raises
    ------
    NotFound
        None has that name; the nearest names are told.
    Refused
        Something was measured in it, and that was not to go.
    """
    room = reads.room(session, name, hold=True)
    number = session.scalar(sa.select(Room.id).where(Room.name_key == rows.name_key(name)))
    checks = session.scalar(sa.select(sa.func.count()).where(AsBuilt.room_id == number)) or 0
    if checks and not measured:
        many = "a check" if checks == 1 else f"{checks} checks"
        raise Refused(
            f"room {room.name!r} is kept, for {many} after installing tell of it; --measured takes them along"
        )
    session.execute(sa.delete(Room).where(Room.id == number))
    return room.name


@contextmanager
def whole(session: Session, what: str) -> Iterator[None]:
    """Write all of it or nothing.

    Raises
    ------
    BadInput
        Says which rule of the database refused it.
    """
    try:
        with session.begin_nested():
            yield
    except (sa.exc.IntegrityError, sa.exc.DataError, OverflowError) as problem:
        said = str(getattr(problem, "orig", problem))
        rule = re.search(r"\b(?:ck|uq|fk|pk)_(\w+)", said)
        broken = rule[1].replace("_", " ") if rule else " ".join(said.split())
        raise BadInput(f"{what} cannot be stored: {broken}; nothing was written") from problem


def _insert(session: Session, table: type[Base], found: Sequence[Mapping[str, Any]]) -> None:
    if found:
        session.connection().execute(sa.insert(table), list(found))


class _Writer:
    """Writes records with one statement a table, however many they are."""

    def __init__(self, session: Session, records: Sequence[LoudspeakerRecord], day: date) -> None:
        self.session = session
        self.day = day
        self.makers = _numbers(session, Maker, (record.maker for record in records))
        self.families = _numbers(session, Family, (record.family for record in records if record.family))
        self.series = _series_numbers(session, self.makers, records)
        self.key = cache(rows.name_key)  # of makers, series and families, which many have in common

    def add(self, records: Sequence[LoudspeakerRecord]) -> None:
        """Insert loudspeakers and all that is theirs."""
        names = [*_REFERENCES, *rows.SCALARS, "revision", "retired"]
        own = [(*self._references(record), *rows.scalars(record), 1, False) for record in records]
        insert_rows(self.session, Loudspeaker, names, own)
        keys = [row[_REFERENCES.index("name_key")] for row in own]
        numbers = _found_numbers(self.session, Loudspeaker, keys)
        owned = [(numbers[key], record) for key, record in zip(keys, records, strict=True)]
        self._insert_children([(number, record, record.figures) for number, record in owned])
        self._insert_prices(owned, {})

    def change(self, changes: Sequence[Change]) -> None:
        """Update loudspeakers, and put new children in the place of the old; old prices are ended, not deleted."""
        own = [
            {"number": item.id}
            | dict(zip(_REFERENCES, self._references(record), strict=True))
            | dict(zip(rows.SCALARS, rows.scalars(record), strict=True))
            for item, record, _ in changes
        ]
        unheard = (
            item.id for item, record, _ in changes if profiles.described(item.record) == profiles.described(record)
        )
        for part in reads.chunks(unheard):
            profiles.keep_profiles(self.session, Loudspeaker.id.in_(part))
        if own:
            fresh: dict[str, Any] = {name: sa.bindparam(name) for name in own[0] if name != "number"}
            update = sa.update(Loudspeaker).where(Loudspeaker.id == sa.bindparam("number"))
            self.session.connection().execute(update.values(**fresh, revision=Loudspeaker.revision + 1), own)
        for part in reads.chunks(item.id for item, _, _ in changes):
            for table in (LoudspeakerRole, Driver, Crossover, Provenance):
                self.session.execute(sa.delete(table).where(table.__table__.columns["loudspeaker_id"].in_(part)))
        self._insert_children([(item.id, record, figures) for item, record, figures in changes])
        self._change_prices(changes)

    def _references(self, record: LoudspeakerRecord) -> tuple[int, int | None, int | None, str]:
        """The rows that a loudspeaker points to, and the key of its name, in the order of `_REFERENCES`."""
        key = self.key
        maker = self.makers[key(record.maker)]
        series = self.series[maker, key(record.series)] if record.series else None
        family = self.families[key(record.family)] if record.family else None
        return maker, series, family, rows.name_key(record.name)

    def _insert_children(self, owned: Sequence[tuple[int, LoudspeakerRecord, Mapping[str, FigureRecord]]]) -> None:
        for table, names, rows_of in (
            (LoudspeakerRole, rows.ROLE_ROW, rows.role_rows),
            (Driver, rows.DRIVER_ROW, rows.driver_rows),
            (Crossover, rows.CROSSOVER_ROW, rows.crossover_rows),
        ):
            found = ((number, *row) for number, record, _ in owned for row in rows_of(record))
            insert_rows(self.session, table, ("loudspeaker_id", *names), found)
        told = ((number, rows.said_of(figures)) for number, _, figures in owned if figures)
        insert_rows(self.session, Provenance, ("loudspeaker_id", "said"), told)

    def _change_prices(self, changes: Iterable[Change]) -> None:
        new = [
            (item.id, record) for item, record, _ in changes if rows.price_row(item.record) != rows.price_row(record)
        ]
        following: dict[int, date] = {}
        for part in reads.chunks(number for number, _ in new):
            theirs = Price.loudspeaker_id.in_(part)
            # A price that began today was never yesterday's: it goes; an older one ends today and stays.
            self.session.execute(sa.delete(Price).where(theirs, Price.valid_from == self.day))
            ended = sa.update(Price).where(theirs, reads.valid_on(self.day)).values(valid_to=self.day)
            self.session.execute(ended)
            later = sa.select(Price.loudspeaker_id, sa.func.min(Price.valid_from)).where(
                theirs, Price.valid_from > self.day
            )
            following |= {row[0]: row[1] for row in self.session.execute(later.group_by(Price.loudspeaker_id))}
        self._insert_prices(new, following)

    def _insert_prices(self, owned: Iterable[tuple[int, LoudspeakerRecord]], following: Mapping[int, date]) -> None:
        found = [
            {"loudspeaker_id": number, "valid_from": self.day, "valid_to": following.get(number)} | row
            for number, record in owned
            if (row := rows.price_row(record)) is not None
        ]
        if found:
            insert_rows(self.session, Price, list(found[0]), (tuple(row.values()) for row in found))


_REFERENCES: Final = ("maker_id", "series_id", "family_id", "name_key")


def _found_numbers(session: Session, table: type[Any], keys: Iterable[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for part in reads.chunks(keys):
        query = sa.select(table.name_key, table.id).where(table.name_key.in_(part))
        found |= {row[0]: row[1] for row in session.execute(query)}
    return found


def _numbers(session: Session, table: type[Any], names: Iterable[str]) -> dict[str, int]:
    """Give the numbers of names, adding those that are not there; the first spelling stands."""
    spelling: dict[str, str] = {}
    for name in dict.fromkeys(names):
        spelling.setdefault(rows.name_key(name), name)
    found = _found_numbers(session, table, spelling)
    missing = [{"name": name, "name_key": key} for key, name in spelling.items() if key not in found]
    _insert(session, table, missing)
    return found | _found_numbers(session, table, (row["name_key"] for row in missing))


def _series_numbers(
    session: Session, makers: Mapping[str, int], records: Sequence[LoudspeakerRecord]
) -> dict[tuple[int, str], int]:
    spelling: dict[tuple[int, str], str] = {}
    for maker, series in dict.fromkeys((record.maker, record.series) for record in records):
        if series:
            spelling.setdefault((makers[rows.name_key(maker)], rows.name_key(series)), series)
    query = sa.select(Series.maker_id, Series.name_key, Series.id)
    found = {(maker, key): number for maker, key, number in session.execute(query)}
    missing = [
        {"maker_id": maker, "name": name, "name_key": key}
        for (maker, key), name in spelling.items()
        if (maker, key) not in found
    ]
    _insert(session, Series, missing)
    return {(maker, key): number for maker, key, number in session.execute(query)} if missing else found


def source_numbers(session: Session, names: Iterable[str]) -> dict[str, int]:
    """Give the numbers of sources, adding those that are not there."""
    wanted = sorted(set(names))
    found: dict[str, int] = {}
    for part in reads.chunks(wanted):
        query = sa.select(Source.name, Source.id).where(Source.name.in_(part))
        there = {row[0] for row in session.execute(query)}
        missing = [{"name": name} for name in part if name not in there]
        _insert(session, Source, missing)
        found |= {row[0]: row[1] for row in session.execute(query)}
    return found
