"""Reads: session first, always in a total order. Retired loudspeakers are hidden from lists, but found by name."""

from __future__ import annotations

import functools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import islice
from typing import Any, Final, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import listings, rows, stock_levels
from triptych.catalog.database.columns import read_columns
from triptych.catalog.database.listings import LoudspeakerFilter
from triptych.catalog.database.models import (
    AcousticProfile,
    Base,
    Crossover,
    Driver,
    Family,
    Loudspeaker,
    LoudspeakerRole,
    Maker,
    Price,
    Provenance,
    Series,
)
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.money import to_minor
from triptych.catalog.names import meant_by, nearest
from triptych.catalog.records import Figure as FigureRecord
from triptych.catalog.records import LoudspeakerRecord, PricePer, RoomRecord

__all__ = [
    "LoudspeakerFilter",
    "Stored",
    "chunks",
    "count",
    "hold_keys",
    "loudspeaker",
    "loudspeakers",
    "offered",
    "profiles",
    "room",
    "rooms",
    "stored",
    "stored_by_id",
    "stored_by_key",
    "unknown_mains",
    "weight_profile",
]

KEYS_AT_ONCE: Final = 500
"""How many names or numbers go into one statement."""

_OFFERED: Final = 3
"""How many near names a refusal tells."""

PROFILE: Final = ("id", "revision", "model_version", "data")
"""The columns of an acoustic profile."""

_IDS: Final[sa.BindParameter[Any]] = sa.bindparam("ids", expanding=True)
"""The numbers of those whose rows are read."""

Item = TypeVar("Item")


def chunks(items: Iterable[Item], size: int = KEYS_AT_ONCE) -> Iterator[list[Item]]:
    """Give the items in lists of at most `size`."""
    rest = iter(items)
    while part := list(islice(rest, size)):
        yield part


@dataclass(frozen=True, slots=True)
class Stored:
    """A record together with what the database knows beside it."""

    id: int
    key: str
    revision: int
    retired: bool
    record: LoudspeakerRecord


def loudspeakers(session: Session, filter: LoudspeakerFilter | None = None) -> list[LoudspeakerRecord]:
    """Give one page of the loudspeakers that pass the filter, in order of their names.

    Raises
    ------
    BadInput
        The page is not from 1, or a price is asked for where the currency could be two.
    """
    wanted = filter or LoudspeakerFilter()
    ids = _filtered(session, wanted, sa.select(Loudspeaker.id)).order_by(Loudspeaker.name_key)
    wanted.refuse_pages()
    if wanted.page_size is not None:
        ids = ids.limit(wanted.page_size).offset((wanted.page - 1) * wanted.page_size)
    return [found.record for found in _read(session, Loudspeaker.id.in_(ids))]


def count(session: Session, filter: LoudspeakerFilter | None = None) -> int:
    """Count the loudspeakers that pass the filter, on all pages."""
    query = _filtered(session, filter or LoudspeakerFilter(), sa.select(sa.func.count()).select_from(Loudspeaker))
    return session.scalar(query) or 0


def loudspeaker(session: Session, name: str) -> LoudspeakerRecord:
    """Give the loudspeaker of that name, in any case, retired or not.

    Raises
    ------
    NotFound
        None has it; the nearest names are told.
    """
    return stored(session, name).record


def stored(session: Session, name: str, *, hold: bool = False) -> Stored:
    """Give the loudspeaker of that name with its number, revision and whether it is retired.

    With `hold` nobody else changes it before the transaction ends: what is written then was read from what it is.

    Raises
    ------
    NotFound
        None has it; the nearest names are told.
    """
    key = rows.name_key(name)
    if hold:
        hold_keys(session, [key])
    found = stored_by_key(session, [key])
    if not found:
        known = sa.select(Loudspeaker.name_key).where(~Loudspeaker.retired).order_by(Loudspeaker.name_key)
        near = nearest(key, session.scalars(known).all(), _OFFERED)
        named = stored_by_key(session, near)
        raise NotFound(f"no loudspeaker is named {name!r}{_offer([named[found].record.name for found in near])}")
    return found[key]


def meant(session: Session, name: str) -> str | None:
    """Give the name of the loudspeaker that a name of none means: mistyped, or without its maker; None for none."""
    known = sa.select(Loudspeaker.name_key).where(~Loudspeaker.retired).order_by(Loudspeaker.name_key)
    key = meant_by(rows.name_key(name), session.scalars(known).all())
    return None if key is None else stored_by_key(session, [key])[key].record.name


def hold_keys(session: Session, keys: Iterable[str]) -> None:
    """Wait until nobody else is changing the loudspeakers of these keys, and keep them to this transaction."""
    if not stock_levels.on_server(session):  # a SQLite file has one writer at a time
        return
    for part in chunks(keys):
        held = sa.select(Loudspeaker.id).where(Loudspeaker.name_key.in_(part)).order_by(Loudspeaker.name_key)
        session.execute(held.with_for_update()).all()


def number(session: Session, name: str) -> int:
    """Give the number of the loudspeaker of that name, in any case, retired or not.

    Raises
    ------
    NotFound
        None has it; the nearest names are told.
    """
    found = session.scalar(sa.select(Loudspeaker.id).where(Loudspeaker.name_key == rows.name_key(name)))
    return stored(session, name).id if found is None else found


def unknown_mains(session: Session, room: RoomRecord) -> str | None:
    """Say that a room names mains that are in no catalogue yet, with the nearest names; None where it doesn't."""
    if room.mains.speaker is None:
        return None
    try:
        number(session, room.mains.speaker)
    except NotFound as problem:
        return f"{problem}: speaker under [mains] of {room.name} waits for it, or mains.speaker is to be mended"
    return None


def stored_by_key(session: Session, keys: Iterable[str]) -> dict[str, Stored]:
    """Give the loudspeakers that have these keys, retired or not."""
    found = (item for part in chunks(keys) for item in _read(session, Loudspeaker.name_key.in_(part)))
    return {item.key: item for item in found}


def stored_by_id(session: Session, numbers: Sequence[int]) -> list[Stored]:
    """Give the loudspeakers of these numbers, retired or not, in order of their names."""
    return _read(session, Loudspeaker.id.in_(numbers))


def rooms(session: Session) -> list[str]:
    """Give the names of the rooms, in order."""
    from triptych.catalog.database.models import Room

    return list(session.scalars(sa.select(Room.name).order_by(Room.name_key)))


def room(session: Session, name: str, *, hold: bool = False) -> RoomRecord:
    """Give the room of that name, in any case; with `hold` nobody else changes it before the transaction ends.

    Raises
    ------
    NotFound
        None has it; the nearest names are told.
    """
    # whoever looks at loudspeakers alone needs no tables of rooms and weights
    from triptych.catalog.database.models import Place, Room, Seat

    key = rows.name_key(name)
    query = sa.select(Room.__table__).where(Room.name_key == key)
    base = session.execute(query.with_for_update() if hold else query).mappings().first()
    if base is None:
        known = session.execute(sa.select(Room.name_key, Room.name)).all()
        raise NotFound(f"no room is named {name!r}{offered(key, known)}")
    seats, places = (
        session.execute(sa.select(part.__table__).where(part.room_id == base["id"]).order_by(part.ordinal)).mappings()
        for part in (Seat, Place)
    )
    return rows.room_record(base, seats.all(), places.all())


def weight_profile(session: Session, name: str) -> dict[str, float]:
    """Give the weights of the profile of that name, in any case, by criterion.

    Raises
    ------
    NotFound
        None has it; the nearest names are told.
    """
    from triptych.catalog.database.models import Weight, WeightProfile

    key = rows.name_key(name)
    profile = session.scalar(sa.select(WeightProfile.id).where(WeightProfile.name_key == key))
    if profile is None:
        known = session.execute(sa.select(WeightProfile.name_key, WeightProfile.name)).all()
        raise NotFound(f"no weight profile is named {name!r}{offered(key, known)}")
    weights = sa.select(Weight.criterion, Weight.value).where(Weight.weight_profile_id == profile)
    return {row[0]: row[1] for row in session.execute(weights.order_by(Weight.criterion))}


def profiles(
    session: Session, ids: Sequence[int] | None = None, names: Sequence[str] = PROFILE
) -> dict[str, list[Any]]:
    """Give the stored acoustic profiles as columns, `id`, `revision`, `model_version`, `data` or some; by id."""
    table = AcousticProfile
    stored = {"id": table.loudspeaker_id, "revision": table.revision, "model_version": table.model_version}
    query = sa.select(*({**stored, "data": table.data}[name] for name in names)).order_by(table.loudspeaker_id)
    if ids is None:
        return read_columns(session, names, query)
    columns: dict[str, list[Any]] = {name: [] for name in names}
    for part in chunks(sorted(set(ids))):
        for name, column in read_columns(session, names, query.where(table.loudspeaker_id.in_(part))).items():
            columns[name] += column
    return columns


def _offer(names: Sequence[str]) -> str:
    return f"; the nearest: {', '.join(repr(name) for name in names)}" if names else "; none is like it"


def offered(key: str, known: Iterable[sa.Row[str, str] | tuple[str, str]]) -> str:
    """Give what a refusal says of the names, by their keys, that are nearest to one."""
    by_key = {row[0]: row[1] for row in known}
    return _offer([by_key[near] for near in nearest(key, by_key, _OFFERED)])


Query = TypeVar("Query", bound="sa.Select[Any]")


def _filtered(session: Session, wanted: LoudspeakerFilter, query: Query) -> Query:
    condition, values = listings.conditions(wanted)
    text = sa.text(condition).bindparams(**values)
    more: list[sa.ColumnElement[bool]] = []
    if wanted.price_min is not None or wanted.price_max is not None:
        more.append(Loudspeaker.id.in_(_priced(session, wanted)))
    if wanted.in_stock:
        more.append(Loudspeaker.id.in_(stock_levels.ids_in_stock()))
    return query.where(text, *more)


def _priced(session: Session, wanted: LoudspeakerFilter) -> sa.Select[int]:
    currency = wanted.currency or _only_currency(session)
    units = sa.case((Price.per == PricePer.PAIR, 2), else_=1)
    query = sa.select(Price.loudspeaker_id).where(valid_on(today()), Price.currency == currency)
    if wanted.price_min is not None:
        query = query.where(Price.amount >= to_minor(wanted.price_min, currency) * units)
    if wanted.price_max is not None:
        query = query.where(Price.amount <= to_minor(wanted.price_max, currency) * units)
    return query


def _only_currency(session: Session) -> str | None:
    found = session.scalars(sa.select(Price.currency).where(Price.currency.is_not(None)).distinct()).all()
    if len(found) > 1:
        raise BadInput(f"prices are in {', '.join(sorted(filter(None, found)))}: say which currency is meant")
    return found[0] if found else None


def _read(session: Session, condition: sa.ColumnElement[bool]) -> list[Stored]:
    """Read whole records with one statement a table for each few hundred of them, in order of their names."""
    base = session.execute(_base_query().where(condition).order_by(Loudspeaker.name_key)).mappings().all()
    ids = [row["id"] for row in base]
    roles = _children(session, LoudspeakerRole, ids)
    drivers = _children(session, Driver, ids)
    crossovers = _children(session, Crossover, ids)
    prices = _children(session, Price, ids, valid_on(today()))
    figures = _figures(session, ids)
    return [
        Stored(
            row["id"],
            row["name_key"],
            row["revision"],
            row["retired"],
            rows.loudspeaker_record(
                row,
                [role["role"] for role in roles[row["id"]]],
                drivers[row["id"]],
                crossovers[row["id"]],
                next(iter(prices[row["id"]]), None),
                figures.get(row["id"]),
            ),
        )
        for row in base
    ]


@functools.cache
def _base_query() -> sa.Select[Any]:
    return (
        sa.select(
            Loudspeaker.__table__,
            Maker.name.label("maker"),
            Series.name.label("series"),
            Family.name.label("family"),
        )
        .join(Maker, Maker.id == Loudspeaker.maker_id)
        .outerjoin(Series, Series.id == Loudspeaker.series_id)
        .outerjoin(Family, Family.id == Loudspeaker.family_id)
    )


def _children(
    session: Session, table: type[Base], ids: Sequence[int], *conditions: sa.ColumnElement[bool]
) -> defaultdict[int, list[rows.Row]]:
    grouped: defaultdict[int, list[rows.Row]] = defaultdict(list)
    query = _children_query(table).where(*conditions) if conditions else _children_query(table)
    for part in chunks(ids):
        for row in session.execute(query, {"ids": part}).mappings():
            grouped[row["loudspeaker_id"]].append(row)
    return grouped


@functools.cache
def _children_query(table: type[Base]) -> sa.Select[Any]:
    """Give the query of a table's rows of some `ids`: made once, as is each that a record is read with."""
    columns = table.__table__.columns
    key = [column for column in columns if column.primary_key]
    return sa.select(table.__table__).where(columns["loudspeaker_id"].in_(_IDS)).order_by(*key)


def _figures(session: Session, ids: Sequence[int]) -> dict[int, dict[str, FigureRecord]]:
    query = sa.select(Provenance.loudspeaker_id, Provenance.said).where(Provenance.loudspeaker_id.in_(_IDS))
    found = (row for part in chunks(ids) for row in session.execute(query, {"ids": part}))
    return {number: rows.figures_said(said) for number, said in found}


def today() -> date:
    """Give the date by which prices are valid: UTC."""
    return datetime.now(UTC).date()


def valid_on(day: date | sa.ColumnElement[date]) -> sa.ColumnElement[bool]:
    """Give the condition that a price holds on a day."""
    return sa.and_(Price.valid_from <= day, sa.or_(Price.valid_to.is_(None), Price.valid_to > day))
