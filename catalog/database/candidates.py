"""All loudspeakers as columns, for the recommender: arrays and coded words, all in order of id.

Each table is read as it lies, and its rows are laid beside the loudspeakers here: joined, grouped or put in order by
the engine they take longer than that. What is read becomes arrays a few rows at a time, so that no value lives as an
object of its own for longer.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import count, islice
from math import nan
from struct import error as struct_error
from struct import pack
from typing import Any, Final, TypeAlias, TypeVar, overload

import numpy as np
import sqlalchemy as sa
from numpy.typing import DTypeLike, NDArray
from sqlalchemy.orm import Session

from triptych.catalog.database import rows, stock_levels
from triptych.catalog.database.columns import ROWS_AT_ONCE, parts_of, read_columns
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

Codes: TypeAlias = NDArray[np.intp]
Numbers: TypeAlias = NDArray[np.float64]
Columns: TypeAlias = dict[str, Any]
Told = TypeVar("Told")


@dataclass(frozen=True, slots=True)
class Words(Sequence[Any]):
    """A column of a few values over and over: each of them, and which it is in every row."""

    words: tuple[Any, ...]
    rows: Codes

    @overload
    def __getitem__(self, row: int) -> Any: ...
    @overload
    def __getitem__(self, row: slice) -> Sequence[Any]: ...
    def __getitem__(self, row: int | slice) -> Any:
        """The value of a row, or of some."""
        if isinstance(row, slice):
            return [self.words[code] for code in self.rows[row].tolist()]
        return self.words[self.rows[row]]

    def __len__(self) -> int:
        """The number of rows."""
        return len(self.rows)

    def each(self, told: Callable[[Any], Any], kind: DTypeLike) -> NDArray[Any]:
        """What is told of each value, found once for all that are alike."""
        return np.array([told(word) for word in self.words], dtype=kind)[self.rows]


@dataclass(frozen=True, slots=True)
class Names(Sequence[str]):
    """The names of loudspeakers, each put together when somebody asks for it: maker, series if it has one, model."""

    makers: Words
    series: Words
    models: Sequence[str]

    @overload
    def __getitem__(self, row: int) -> str: ...
    @overload
    def __getitem__(self, row: slice) -> Sequence[str]: ...
    def __getitem__(self, row: int | slice) -> str | Sequence[str]:
        """The name in a row, or those in some."""
        if isinstance(row, slice):
            return [self[one] for one in range(*row.indices(len(self)))]
        series = self.series[row]
        return f"{self.makers[row]} {self.models[row] if series is None else f'{series} {self.models[row]}'}"

    def __len__(self) -> int:
        """The number of loudspeakers."""
        return len(self.models)


def candidate_columns(
    session: Session,
    roles: Collection[Role] | None = None,
    *,
    also: Collection[int] = (),
    day: date | None = None,
    without: Collection[str] = (),
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
    columns = _own_columns(session, roles, also, without)
    ids = columns["id"]
    columns |= _named(session, columns.pop("maker_id"), columns.pop("series_id"), columns.pop("family_id"))
    columns["name"] = Names(columns["maker"], columns["series"], columns["model"])
    columns["roles"] = _roles(session, ids)
    columns |= _drivers(session, ids, without)
    columns |= _crossovers(session, ids)
    columns |= _prices(session, ids, day)
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
    span = (int(ids[0]), int(ids[-1])) if len(ids) else (0, 0)
    gathered: dict[str, _Gathering] = {**_OWN, "name_key": _Listed, "retired": _Coded}
    query = _within(sa.select(*(table[name] for name in DESCRIBED)), table["id"], span)
    found = _read(session, query, {name: gathered[name] for name in DESCRIBED})
    beside = _Beside.of(ids, found.pop("id"))
    columns = {"id": ids.tolist()} | {name: beside.lay(column) for name, column in found.items()}
    columns["roles"] = _roles(session, ids, span)
    return columns | _drivers(session, ids, span=span) | _crossovers(session, ids, span)


Span: TypeAlias = tuple[int, int]
"""The least and the greatest number of what is read."""


def _within(
    query: sa.Select[*tuple[Any, ...]],
    number: sa.ColumnElement[int] | sa.orm.InstrumentedAttribute[int],
    span: Span | None,
) -> sa.Select[*tuple[Any, ...]]:
    return query if span is None else query.where(number.between(*span))


def free_units(session: Session, ids: Sequence[int], day: date) -> list[int | None]:
    """Give how many new units of each loudspeaker may be promised together; None where the ledger has no movement."""
    found = read_columns(session, ("id", "available"), stock_levels.alike_query(day, OFFERED))
    free = dict(zip(*found.values(), strict=True))
    return list(map(free.get, ids)) if free else [None] * len(ids)


class _Figures:
    """Gathers a column of figures, packed as an array has them, which is quicker than making one of so few."""

    def __init__(self, kind: DTypeLike = np.float64) -> None:
        self._kind = np.dtype(kind)
        self._packed = bytearray()

    def add(self, values: Sequence[Any]) -> None:
        form = f"{len(values)}{self._kind.char}"
        try:
            self._packed += pack(form, *values)
        except struct_error:
            self._packed += pack(form, *[nan if value is None else value for value in values])

    def found(self) -> NDArray[Any]:
        return np.frombuffer(self._packed, dtype=self._kind)


class _Coded:
    """Gathers a column of words."""

    def __init__(self) -> None:
        self._number: defaultdict[Any, int] = defaultdict(count().__next__)
        self._parts = list[Codes]()

    def add(self, values: Sequence[Any]) -> None:
        self._parts.append(np.fromiter(map(self._number.__getitem__, values), np.intp, len(values)))

    def found(self) -> Words:
        return Words(tuple(self._number), np.concatenate([np.zeros(0, dtype=np.intp), *self._parts]))


class _Listed:
    """Gathers a column as it is."""

    def __init__(self) -> None:
        self._values = list[Any]()

    def add(self, values: Sequence[Any]) -> None:
        self._values += values

    def found(self) -> list[Any]:
        return self._values


_Gathering: TypeAlias = Callable[[], _Figures | _Coded | _Listed]


def _whole() -> _Figures:
    return _Figures(np.int64)


def _yes_or_no() -> _Figures:
    return _Figures(np.bool_)


_BY_TYPE: Final[Mapping[type[Any], _Gathering]] = {
    sa.Double: _Figures, sa.Integer: _Figures, sa.Enum: _Coded, sa.String: _Coded, sa.Boolean: _Coded,
}  # fmt: skip
"""How columns of a type are gathered; counts and orders may be unknown, so they are figures too."""

_OWN: Final[Mapping[str, _Gathering]] = {
    column.key: _BY_TYPE[type(column.type)]
    for column in Loudspeaker.__table__.columns
    if column.key not in ("name_key", "note")
} | {"id": _whole, "revision": _Listed, "retired": _yes_or_no, "model": _Listed, "maker_id": _whole}
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


def _read(session: Session, query: sa.Select[*tuple[Any, ...]], gathered: Mapping[str, _Gathering]) -> Columns:
    """Read a query into columns, each gathered in its way."""
    columns = [make() for make in gathered.values()]
    for part in parts_of(session, query):
        for column, values in zip(columns, part, strict=True):
            column.add(values)
    return {name: column.found() for name, column in zip(gathered, columns, strict=True)}


def _less(columns: Mapping[str, Told], without: Collection[str]) -> dict[str, Told]:
    return {name: told for name, told in columns.items() if name not in without}


def _own_columns(
    session: Session, roles: Collection[Role] | None, also: Collection[int], without: Collection[str]
) -> Columns:
    table, own = Loudspeaker.__table__.columns, _less(_OWN, without)
    query = sa.select(*(table[name] for name in own)).where(_wanted(roles, also)).order_by(Loudspeaker.id)
    found = _read(session, query, own)
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
        "maker": _words(maker, makers.__getitem__),
        "series": _words(np.nan_to_num(series), all_series.get),
        "family": _words(kin, words_of_kin),
    }


def _words(numbers: NDArray[Any], named: Callable[[Any], str | None]) -> Words:
    """What numbers stand for, in order of their first rows; the same word once, though two numbers stand for it."""
    found, first, which = np.unique(numbers, return_index=True, return_inverse=True)
    order = np.argsort(first)
    words: dict[str | None, int] = {}
    codes = np.zeros(len(found), dtype=np.intp)
    for place in order.tolist():
        codes[place] = words.setdefault(named(found[place].item()), len(words))
    return Words(tuple(words), codes[which.ravel()])


@dataclass(frozen=True, slots=True)
class _Beside:
    """Rows of another table: those at `rows` belong to the loudspeakers at `places` of `count`."""

    places: Codes
    rows: Codes
    count: int

    @classmethod
    def of(cls, ids: NDArray[np.int64], theirs: NDArray[np.int64]) -> _Beside:
        """Where the loudspeakers of these numbers are; others than `ids` are left out."""
        places = np.searchsorted(ids, theirs)
        found = np.flatnonzero(places < len(ids))
        found = found[ids[places[found]] == theirs[found]]
        return cls(places[found], found, len(ids))

    def where(self, which: NDArray[np.bool_]) -> _Beside:
        """Only some of the rows of that table."""
        kept = which[self.rows]
        return _Beside(self.places[kept], self.rows[kept], self.count)

    def lay(self, column: Any) -> Any:
        """A column of that table beside the loudspeakers; unknown where there is no row."""
        if isinstance(column, Words):
            words = column.words if None in column.words else (*column.words, None)
            return Words(words, self._laid(column.rows, words.index(None)))
        if isinstance(column, list):
            return self._laid(np.array([*column, None], dtype=object), None).tolist()
        return self._laid(column, np.nan)

    def _laid(self, column: NDArray[Any], none: Any) -> NDArray[Any]:
        found = np.full(self.count, none, dtype=column.dtype)
        found[self.places] = column[self.rows]
        return found


def _roles(session: Session, ids: NDArray[np.int64], span: Span | None = None) -> Words:
    number = LoudspeakerRole.loudspeaker_id
    query = _within(sa.select(number, LoudspeakerRole.role), number, span)
    found = _read(session, query, {"id": _whole, "role": _Coded})
    offered: Words = found["role"]
    bits = {role.value: 1 << place for place, role in enumerate(Role)}
    beside = _Beside.of(ids, found["id"])
    each = offered.each(bits.__getitem__, np.int64)
    masks = np.bincount(beside.places, weights=each[beside.rows], minlength=len(ids)).astype(np.int64)
    return _words(masks, lambda mask: "|".join(role for role, bit in bits.items() if mask & bit) or None)


def _drivers(
    session: Session, ids: NDArray[np.int64], without: Collection[str] = (), span: Span | None = None
) -> Columns:
    table = Driver.__table__.columns
    names = {kind: _less(columns, without) for kind, columns in _DRIVERS.items()}
    stored = {column: _BY_TYPE[type(table[column].type)] for own in names.values() for column in own.values()}
    number = Driver.loudspeaker_id
    query = _within(sa.select(number, Driver.kind, *(table[column] for column in stored)), number, span)
    found = _read(session, query, {"id": _whole, "kind": _Coded, **stored})
    return dict(_of_each_kind(_Beside.of(ids, found["id"]), found, names))


def _of_each_kind(
    beside: _Beside, found: Columns, names: Mapping[DriverKind, Mapping[str, str]]
) -> Iterator[tuple[str, Any]]:
    kinds: Words = found["kind"]
    for kind, columns in names.items():
        own = beside.where(kinds.each(kind.value.__eq__, np.bool_))
        for name, column in columns.items():
            yield name, own.lay(found[column])


def _crossovers(session: Session, ids: NDArray[np.int64], span: Span | None = None) -> Columns:
    """The hand-overs of each loudspeaker, lowest first, and the order of the first."""
    number = Crossover.loudspeaker_id
    query = _within(sa.select(number, Crossover.ordinal, Crossover.frequency, Crossover.order), number, span)
    gathered: dict[str, _Gathering] = {"id": _whole, "ordinal": _whole, "frequency": _Figures, "order": _Figures}
    found = _read(session, query, gathered)
    beside = _Beside.of(ids, found["id"])
    each = [beside.where(found["ordinal"] == one) for one in range(1, CROSSOVER_COLUMNS + 1)]
    frequencies = {f"crossover_{one}": own.lay(found["frequency"]) for one, own in enumerate(each, start=1)}
    return frequencies | {"crossover_order": each[0].lay(found["order"])}


def _prices(session: Session, ids: NDArray[np.int64], day: date) -> Columns:
    table = Price.__table__.columns
    query = sa.select(Price.loudspeaker_id, *(table[column] for column in _PRICE.values()))
    valid = query.where(Price.valid_from <= day, sa.or_(Price.valid_to.is_(None), Price.valid_to > day))
    # an amount is exact and may be long; rates of tax are a few
    found = _read(session, valid, {"id": _whole, **dict.fromkeys(_PRICE, _Coded), "price_minor": _Listed})
    beside = _Beside.of(ids, found.pop("id"))
    return {name: beside.lay(column) for name, column in found.items()}
