"""All loudspeakers as columns, for the recommender: one list a quantity, all in order of id."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import UTC, date, datetime
from itertools import islice, repeat
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows, stock_levels
from triptych.catalog.database.models import (
    Crossover,
    Driver,
    DriverKind,
    Family,
    Grade,
    Loudspeaker,
    LoudspeakerRole,
    Maker,
    Price,
    Series,
)
from triptych.catalog.records import Role

CROSSOVER_COLUMNS: Final = 3
"""How many hand-overs have a column; four ways have three."""

ROWS_AT_ONCE: Final = 500
"""How many rows are read at a time."""

OFFERED: Final = (Grade.NEW,)
"""The grades that are offered unasked: a demonstration unit is never sold as new."""

Columns = dict[str, list[Any]]


def candidate_columns(
    session: Session,
    roles: Collection[Role] | None = None,
    *,
    also: Collection[int] = (),
    day: date | None = None,
) -> dict[str, list[Any]]:
    """Give every loudspeaker that is not retired, and has one of the roles, as columns in order of id.

    Parameters
    ----------
    session : Session
        A transaction to read in.
    roles : collection of Role, optional
        All loudspeakers where None.
    also : collection of int, optional
        Ids to give whether or not they are retired and whatever their roles: the mains may be an old model.
    day : date, optional
        The day whose prices and reservations hold; today in UTC where None.

    Returns
    -------
    dict of str to list
        `id`, `revision`, `retired`, `name`, `maker`, `series`, `model`, `family` (as declared, else maker and series,
        else None), `roles` (values joined by `|`, in the order of `Role`), the scalar figures by their names in SI
        units, enums as their values, `tweeter_*` with `tweeter_coverage_h` and `tweeter_coverage_v` [deg],
        `midrange_*`, `woofer_*`, `crossover_1` to `crossover_3` [Hz], `crossover_order`, `price_minor` with `currency`,
        `price_per`, `tax`, `tax_rate`, and `available` (new units that go together; None where the ledger has no
        movement). Unknown is None.
    """
    day = day or datetime.now(UTC).date()
    columns = _own_columns(session, roles, also)
    ids = columns["id"]
    columns |= _beside(ids, _roles(session))
    for kind, names in rows.DRIVERS.items():
        columns |= _beside(ids, _drivers(session, kind, names))
    columns |= _beside(ids, _crossovers(session))
    columns |= _beside(ids, _prices(session, day))
    return columns | {"available": free_units(session, ids, day)}


DESCRIBED: Final = (
    "id", "revision", "retired", "name_key", "orientation", "width", "height", "layout", "woofer_spacing"
)  # fmt: skip
"""What a loudspeaker's own row says of how it is built, and which it is."""


def described_columns(session: Session, keys: Collection[str]) -> Columns:
    """Give what acoustic profiles are made of, of the loudspeakers of some keys, as columns in order of id.

    They are `DESCRIBED` and, as `candidate_columns` has them, `roles`, the columns of drivers and those of hand-overs.
    """
    table, ids = Loudspeaker.__table__.columns, list[int]()
    wanted = iter(keys)
    while part := list(islice(wanted, ROWS_AT_ONCE)):
        ids += session.scalars(sa.select(Loudspeaker.id).where(Loudspeaker.name_key.in_(part)))
    ids.sort()
    # those that came together have numbers in a row: all between is read at once
    span = (ids[0], ids[-1]) if ids else (0, 0)
    query = sa.select(*(table[name] for name in DESCRIBED)).order_by(Loudspeaker.id)
    columns = {"id": ids} | _beside(ids, read_columns(session, DESCRIBED, _within(query, table["id"], span)))
    columns |= _beside(ids, _roles(session, span))
    for kind, names in rows.DRIVERS.items():
        columns |= _beside(ids, _drivers(session, kind, names, span))
    return columns | _beside(ids, _crossovers(session, span))


Span = tuple[int, int]
"""The least and the greatest number of what is read."""


def _within(
    query: sa.Select[*tuple[Any, ...]],
    number: sa.ColumnElement[int] | sa.orm.InstrumentedAttribute[int],
    span: Span | None,
) -> sa.Select[*tuple[Any, ...]]:
    return query if span is None else query.where(number.between(*span))


def free_units(session: Session, ids: Sequence[int], day: date) -> list[Any]:
    """Give how many new units of each loudspeaker may be promised together; None where the ledger has no movement."""
    found = read_columns(session, ("id", "available"), stock_levels.alike_query(day, OFFERED))
    return _beside(ids, found)["available"]


_OWN: Final = tuple(
    column.key
    for column in Loudspeaker.__table__.columns
    if column.key not in ("maker_id", "series_id", "family_id", "name_key", "note")
)

_COVERAGE: Final = {"tweeter_coverage_h": "coverage_horizontal", "tweeter_coverage_v": "coverage_vertical"}
_PRICE: Final = {"price_minor" if name == "price" else name: column for name, column in rows.stored_in("price").items()}


def read_columns(session: Session, names: Sequence[str], query: sa.Select[*tuple[Any, ...]]) -> Columns:
    """Read a query into columns: the driver's own values, enums as text, a few rows at a time.

    Wrapping 70,000 rows costs as much as reading them; and while few tuples live at once, the collector of cycles,
    which would walk through everything the process has imported, is not woken.
    """
    columns: list[list[Any]] = [[] for _ in names]
    with session.connection().execute(query) as result:
        cursor: Any = result.cursor
        while part := cursor.fetchmany(ROWS_AT_ONCE):
            for column, values in zip(columns, zip(*part, strict=True), strict=True):
                column.extend(values)
    return dict(zip(names, columns, strict=True))


def _beside(ids: Sequence[int], found: Columns) -> Columns:
    """Lay columns that have an `id` of their own beside the ids; None where there is no row."""
    keys = found.pop("id")
    if keys == ids:
        return found
    position = dict(zip(keys, range(len(keys)), strict=True))
    # maps over what is built in, as loops over 100,000 rows take longer than reading them; -1 is the None at the end
    places = list(map(position.get, ids, repeat(-1)))
    return {name: list(map([*column, None].__getitem__, places)) for name, column in found.items()}


def _own_columns(session: Session, roles: Collection[Role] | None, also: Collection[int]) -> Columns:
    table = Loudspeaker.__table__.columns
    query = (
        sa.select(
            *(table[name] for name in _OWN),
            Maker.name,
            Series.name,
            sa.func.coalesce(Family.name, Maker.name + " " + Series.name),
            Maker.name + " " + sa.func.coalesce(Series.name + " ", "") + Loudspeaker.model,
        )
        .select_from(Loudspeaker)
        .join(Maker, Maker.id == Loudspeaker.maker_id)
        .outerjoin(Series, Series.id == Loudspeaker.series_id)
        .outerjoin(Family, Family.id == Loudspeaker.family_id)
        .where(_wanted(roles, also))
        .order_by(Loudspeaker.id)
    )
    columns = read_columns(session, (*_OWN, "maker", "series", "family", "name"), query)
    for name in ("retired", "bung"):
        columns[name] = [None if value is None else bool(value) for value in columns[name]]
    return columns


def _wanted(roles: Collection[Role] | None, also: Collection[int]) -> sa.ColumnElement[bool]:
    wanted: sa.ColumnElement[bool] = ~Loudspeaker.retired
    if roles is not None:
        offered = sa.select(LoudspeakerRole.loudspeaker_id).where(LoudspeakerRole.role.in_(roles))
        wanted = sa.and_(wanted, Loudspeaker.id.in_(offered))
    return sa.or_(wanted, Loudspeaker.id.in_(also)) if also else wanted


def _roles(session: Session, span: Span | None = None) -> Columns:
    bits = {role: 1 << place for place, role in enumerate(Role)}
    mask = sa.func.sum(sa.case(*((LoudspeakerRole.role == role, bit) for role, bit in bits.items())))
    number = LoudspeakerRole.loudspeaker_id
    query = _within(sa.select(number, mask).group_by(number), number, span)
    found = read_columns(session, ("id", "roles"), query)
    words = {mask: "|".join(role.value for role, bit in bits.items() if mask & bit) for mask in set(found["roles"])}
    return {"id": found["id"], "roles": list(map(words.__getitem__, found["roles"]))}


def _drivers(session: Session, kind: DriverKind, names: Mapping[str, str], span: Span | None = None) -> Columns:
    table = Driver.__table__.columns
    # the two angles of a coverage are columns of their own
    apart = {name: column for name, column in names.items() if column in table} | (
        _COVERAGE if "coverage" in names.values() else {}
    )
    query = sa.select(Driver.loudspeaker_id, *(table[column] for column in apart.values())).where(Driver.kind == kind)
    return read_columns(session, ("id", *apart), _within(query, Driver.loudspeaker_id, span))


def _crossovers(session: Session, span: Span | None = None) -> Columns:
    """The hand-overs of each loudspeaker, lowest first, and the order of the first."""
    number, numbers = Crossover.ordinal, range(1, CROSSOVER_COLUMNS + 1)
    frequencies = [sa.func.max(sa.case((number == one, Crossover.frequency))) for one in numbers]
    order = sa.func.max(sa.case((number == 1, Crossover.order)))
    query = sa.select(Crossover.loudspeaker_id, *frequencies, order).group_by(Crossover.loudspeaker_id)
    names = ("id", *(f"crossover_{one}" for one in numbers), "crossover_order")
    return read_columns(session, names, _within(query, Crossover.loudspeaker_id, span))


def _prices(session: Session, day: date) -> Columns:
    table = Price.__table__.columns
    query = sa.select(Price.loudspeaker_id, *(table[column] for column in _PRICE.values()))
    valid = query.where(Price.valid_from <= day, sa.or_(Price.valid_to.is_(None), Price.valid_to > day))
    return read_columns(session, ("id", *_PRICE), valid)
