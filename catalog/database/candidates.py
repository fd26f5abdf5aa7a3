"""All loudspeakers as columns, for the recommender: arrays and coded words, all in order of id.

Each table is read as it lies, and its rows are laid beside the loudspeakers here: joined, grouped or put in order by
the engine they take longer than that. What is read becomes arrays a few rows at a time, so that no value lives as an
object of its own for longer.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime
from itertools import islice
from typing import Any, Final, TypeAlias, TypeVar

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from triptych.catalog.database import rows, stock_levels
from triptych.catalog.database.columns import ROWS_AT_ONCE, parts_of, read_columns
from triptych.catalog.database.gathering import (
    AsRead,
    Coded,
    Columns,
    Figures,
    Gathering,
    Names,
    Numbers,
    RowsBeside,
    Words,
    whole,
    words_of,
    yes_or_no,
)
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

OFFERED: Final = (Grade.NEW,)
"""The grades that are offered unasked: a demonstration unit is never sold as new."""

Told = TypeVar("Told")


def candidate_columns(
    session: Session,
    roles: Collection[Role] | None = None,
    *,
    also: Collection[int] = (),
    day: date | None = None,
    without: Collection[str] = (),
    among: Collection[int] | None = None,
) -> Columns:
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
    without : collection of str, optional
        Figures that aren't wanted, and not read.
    among : collection of int, optional
        The only ids that are read at all, a few thousand at most; all where None.

    Returns
    -------
    dict of str to column
        `id`, `revision`, `retired`, `name`, `maker`, `series`, `model`, `family` (as declared, else maker and series,
        else None), `roles` (values joined by `|`, in the order of `Role`), the scalar figures by their names in SI
        units, enums as their values, `tweeter_*` with `tweeter_coverage_h` and `tweeter_coverage_v` [deg],
        `midrange_*`, `woofer_*`, `crossover_1` to `crossover_3` [Hz], `crossover_order`, `price_minor` with `currency`,
        `price_per`, `tax`, `tax_rate`, and `available` (new units that go together; None where the ledger has no
        movement). Figures are arrays, NaN where unknown; words are `Words`, None where unknown; `id` and `retired` are
        arrays of their own kinds, `model`, `revision`, `price_minor` and `available` lists.
    """
    day = day or datetime.now(UTC).date()
    some = None if among is None else _named_in(sorted(among))
    columns = _own_columns(session, roles, also, without, some)
    ids = columns["id"]
    columns |= _named(session, columns.pop("maker_id"), columns.pop("series_id"), columns.pop("family_id"))
    columns["name"] = Names(columns["maker"], columns["series"], columns["model"])
    columns["roles"] = _roles(session, ids, some)
    columns |= _drivers(session, ids, without, some)
    columns |= _crossovers(session, ids, some)
    columns |= _prices(session, ids, day, some)
    return columns | {"available": free_units(session, ids.tolist(), day)}


DESCRIBED: Final = (
    "id", "revision", "retired", "name_key", "orientation", "width", "height", "layout", "woofer_spacing"
)  # fmt: skip
"""What a loudspeaker's own row says of how it is built, and which it is."""


def described_columns(session: Session, keys: Collection[str]) -> Columns:
    """Give what acoustic profiles are made of, of the loudspeakers of some keys, as columns in order of id.

    They are `DESCRIBED` and, as `candidate_columns` has them, `roles`, the columns of drivers and those of hand-overs.
    `id` is a list.
    """
    table, wanted, numbers = Loudspeaker.__table__.columns, iter(keys), list[int]()
    while part := list(islice(wanted, ROWS_AT_ONCE)):
        numbers += session.scalars(sa.select(Loudspeaker.id).where(Loudspeaker.name_key.in_(part)))
    ids = np.array(sorted(numbers), dtype=np.int64)
    # those that came together have numbers in a row: all between is read at once
    span = _between(int(ids[0]), int(ids[-1])) if len(ids) else _between(0, 0)
    gathered: dict[str, Gathering] = {**_OWN, "name_key": AsRead, "retired": Coded}
    query = _within(sa.select(*(table[name] for name in DESCRIBED)), table["id"], span)
    found = _read(session, query, {name: gathered[name] for name in DESCRIBED})
    beside = RowsBeside.of(ids, found.pop("id"))
    columns = {"id": ids.tolist()} | {name: beside.lay(column) for name, column in found.items()}
    columns["roles"] = _roles(session, ids, span)
    return columns | _drivers(session, ids, some=span) | _crossovers(session, ids, some=span)


Number: TypeAlias = "sa.ColumnElement[int] | sa.orm.InstrumentedAttribute[int]"
Part: TypeAlias = Callable[[Number], sa.ColumnElement[bool]]
"""Which loudspeakers are read, by the column that has their numbers."""


def _between(first: int, last: int) -> Part:
    return lambda number: number.between(first, last)


def _named_in(ids: Sequence[int]) -> Part:
    return lambda number: number.in_(ids)


def _within(query: sa.Select[*tuple[Any, ...]], number: Number, some: Part | None) -> sa.Select[*tuple[Any, ...]]:
    return query if some is None else query.where(some(number))


def offered_for(session: Session, roles: Collection[Role]) -> dict[Role, NDArray[np.int64]]:
    """Give the numbers of all loudspeakers on file that are offered for each of some roles, retired ones too."""
    query = sa.select(LoudspeakerRole.loudspeaker_id, LoudspeakerRole.role).where(LoudspeakerRole.role.in_(roles))
    found = _read(session, query, {"id": whole, "role": Coded})
    offered: Words = found["role"]
    return {role: found["id"][offered.each(role.value.__eq__, np.bool_)] for role in roles}


def free_units(session: Session, ids: Sequence[int], day: date) -> list[int | None]:
    """Give how many new units of each loudspeaker may be promised together; None where the ledger has no movement."""
    found = read_columns(session, ("id", "available"), stock_levels.alike_query(day, OFFERED))
    free = dict(zip(*found.values(), strict=True))
    return list(map(free.get, ids)) if free else [None] * len(ids)


_BY_TYPE: Final[Mapping[type[Any], Gathering]] = {
    sa.Double: Figures, sa.Integer: Figures, sa.Enum: Coded, sa.String: Coded, sa.Boolean: Coded,
}  # fmt: skip
"""How columns of a type are gathered; counts and orders may be unknown, so they are figures too."""

_OWN: Final[Mapping[str, Gathering]] = {
    column.key: _BY_TYPE[type(column.type)]
    for column in Loudspeaker.__table__.columns
    if column.key not in ("name_key", "note")
} | {"id": whole, "revision": AsRead, "retired": yes_or_no, "model": AsRead, "maker_id": whole}
"""How the columns of a loudspeaker's own table are gathered."""

_SIDES: Final = {"coverage_h": "coverage_horizontal", "coverage_v": "coverage_vertical"}
"""The two angles of a coverage are columns of their own."""

_DRIVERS: Final = {
    kind: {name: column for name, column in names.items() if column != "coverage"}
    | ({f"{kind.value}_{end}": side for end, side in _SIDES.items()} if "coverage" in names.values() else {})
    for kind, names in rows.DRIVERS.items()
}
"""The columns of each kind of driver, by what they are called there."""

_PRICE: Final = {"price_minor" if name == "price" else name: column for name, column in rows.stored_in("price").items()}


def _read(session: Session, query: sa.Select[*tuple[Any, ...]], gathered: Mapping[str, Gathering]) -> Columns:
    """Read a query into columns, each gathered in its way."""
    columns = [make() for make in gathered.values()]
    for part in parts_of(session, query):
        for column, values in zip(columns, part, strict=True):
            column.add(values)
    return {name: column.found() for name, column in zip(gathered, columns, strict=True)}


def _less(columns: Mapping[str, Told], without: Collection[str]) -> dict[str, Told]:
    return {name: told for name, told in columns.items() if name not in without}


def _own_columns(
    session: Session,
    roles: Collection[Role] | None,
    also: Collection[int],
    without: Collection[str],
    some: Part | None,
) -> Columns:
    table, own = Loudspeaker.__table__.columns, _less(_OWN, without)
    query = sa.select(*(table[name] for name in own)).where(_wanted(roles, also)).order_by(Loudspeaker.id)
    found = _read(session, _within(query, Loudspeaker.__table__.columns["id"], some), own)
    bung: Words = found["bung"]
    # a file keeps 0 and 1, a server says yes or no
    known = tuple(None if value is None else bool(value) for value in bung.words)
    return found | {"bung": Words(known, bung.rows)}


def _wanted(roles: Collection[Role] | None, also: Collection[int]) -> sa.ColumnElement[bool]:
    wanted: sa.ColumnElement[bool] = ~Loudspeaker.retired
    if roles is not None:
        offered = sa.select(LoudspeakerRole.loudspeaker_id).where(LoudspeakerRole.role.in_(roles))
        wanted = sa.and_(wanted, Loudspeaker.id.in_(offered))
    return sa.or_(wanted, Loudspeaker.id.in_(also)) if also else wanted


def _named(session: Session, maker: NDArray[np.int64], series: Numbers, family: Numbers) -> Columns:
    """The names of makers, series and families, each read once, by the numbers that loudspeakers have of them."""
    makers, all_series, families = (
        dict(zip(*read_columns(session, ("id", "name"), sa.select(table.id, table.name)).values(), strict=True))
        for table in (Maker, Series, Family)
    )
    # a series is of one maker; what is of no family and no series is no kin by either
    kin = np.where(np.isnan(family), -np.nan_to_num(series), family)
    maker_of = dict(zip(kin.tolist(), maker.tolist(), strict=True))

    def words_of_kin(number: float) -> str | None:
        if number > 0:
            return str(families[number])
        return f"{makers[maker_of[number]]} {all_series[-number]}" if number else None

    return {
        "maker": words_of(maker, makers.__getitem__),
        "series": words_of(np.nan_to_num(series), all_series.get),
        "family": words_of(kin, words_of_kin),
    }


def _roles(session: Session, ids: NDArray[np.int64], some: Part | None = None) -> Words:
    number = LoudspeakerRole.loudspeaker_id
    query = _within(sa.select(number, LoudspeakerRole.role), number, some)
    found = _read(session, query, {"id": whole, "role": Coded})
    offered: Words = found["role"]
    bits = {role.value: 1 << place for place, role in enumerate(Role)}
    beside = RowsBeside.of(ids, found["id"])
    each = offered.each(bits.__getitem__, np.int64)
    masks = np.bincount(beside.places, weights=each[beside.rows], minlength=len(ids)).astype(np.int64)
    return words_of(masks, lambda mask: "|".join(role for role, bit in bits.items() if mask & bit) or None)


def _drivers(
    session: Session, ids: NDArray[np.int64], without: Collection[str] = (), some: Part | None = None
) -> Columns:
    table = Driver.__table__.columns
    names = {kind: _less(columns, without) for kind, columns in _DRIVERS.items()}
    stored = {column: _BY_TYPE[type(table[column].type)] for own in names.values() for column in own.values()}
    number = Driver.loudspeaker_id
    query = _within(sa.select(number, Driver.kind, *(table[column] for column in stored)), number, some)
    found = _read(session, query, {"id": whole, "kind": Coded, **stored})
    return dict(_of_each_kind(RowsBeside.of(ids, found["id"]), found, names))


def _of_each_kind(
    beside: RowsBeside, found: Columns, names: Mapping[DriverKind, Mapping[str, str]]
) -> Iterator[tuple[str, Any]]:
    kinds: Words = found["kind"]
    for kind, columns in names.items():
        own = beside.where(kinds.each(kind.value.__eq__, np.bool_))
        for name, column in columns.items():
            yield name, own.lay(found[column])


def _crossovers(session: Session, ids: NDArray[np.int64], some: Part | None = None) -> Columns:
    """The hand-overs of each loudspeaker, lowest first, and the order of the first."""
    number = Crossover.loudspeaker_id
    query = _within(sa.select(number, Crossover.ordinal, Crossover.frequency, Crossover.order), number, some)
    gathered: dict[str, Gathering] = {"id": whole, "ordinal": whole, "frequency": Figures, "order": Figures}
    found = _read(session, query, gathered)
    beside = RowsBeside.of(ids, found["id"])
    each = [beside.where(found["ordinal"] == one) for one in range(1, CROSSOVER_COLUMNS + 1)]
    frequencies = {f"crossover_{one}": own.lay(found["frequency"]) for one, own in enumerate(each, start=1)}
    return frequencies | {"crossover_order": each[0].lay(found["order"])}


def _prices(session: Session, ids: NDArray[np.int64], day: date, some: Part | None) -> Columns:
    table = Price.__table__.columns
    query = sa.select(Price.loudspeaker_id, *(table[column] for column in _PRICE.values()))
    query = _within(query, Price.loudspeaker_id, some)
    valid = query.where(Price.valid_from <= day, sa.or_(Price.valid_to.is_(None), Price.valid_to > day))
    # an amount is exact and may be long; rates of tax are a few
    found = _read(session, valid, {"id": whole, **dict.fromkeys(_PRICE, Coded), "price_minor": AsRead})
    beside = RowsBeside.of(ids, found.pop("id"))
    return {name: beside.lay(column) for name, column in found.items()}
