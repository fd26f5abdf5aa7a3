"""Makers, series and families: the rows that names are chosen from, and what of a new name is nearly a known one."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.models import Family, Loudspeaker, Maker, Series
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.names import TRADE_WORDS, NearNames, clean_name, name_key
from triptych.catalog.records import LoudspeakerRecord


class Kindred(StrEnum):
    """What loudspeakers have in common by name."""

    MAKER = "maker"
    SERIES = "series"
    FAMILY = "family"


@dataclass(frozen=True, slots=True)
class KinName:
    """A maker, series or family as it is kept; `whole` is how it is named alone, a series with its maker in front."""

    kin: Kindred
    id: int
    maker_id: int | None
    name: str
    whole: str
    loudspeakers: int = 0

    @property
    def theirs(self) -> sa.ColumnElement[bool]:
        """The condition that a loudspeaker has this name."""
        column: sa.ColumnElement[int | None] = POINTERS[self.kin]
        return column == self.id


TABLES: Final[Mapping[Kindred, type[Any]]] = {Kindred.MAKER: Maker, Kindred.SERIES: Series, Kindred.FAMILY: Family}
POINTERS: Final[Mapping[Kindred, Any]] = {
    Kindred.MAKER: Loudspeaker.maker_id,
    Kindred.SERIES: Loudspeaker.series_id,
    Kindred.FAMILY: Loudspeaker.family_id,
}


def kin_names(session: Session, kin: Kindred) -> list[KinName]:
    """Give the makers, series or families in order of their names, each with how many loudspeakers have it."""
    table, pointer = TABLES[kin], POINTERS[kin]
    count = sa.select(sa.func.count()).where(pointer == table.id).correlate(table).scalar_subquery()
    if kin is Kindred.SERIES:
        query = sa.select(Series.id, Maker.id, Series.name, Maker.name + " " + Series.name, count).join(
            Maker, Maker.id == Series.maker_id
        )
        query = query.order_by(Maker.name_key, Series.name_key)
    else:
        query = sa.select(table.id, sa.null(), table.name, table.name, count).order_by(table.name_key)
    return [KinName(kin, *row) for row in session.execute(query)]


def kin_named(session: Session, kin: Kindred, name: str) -> KinName:
    """Give the maker, series or family of that name, in any case; a series by its maker's name and its own.

    Raises
    ------
    NotFound
        None has it; the nearest names are told.
    """
    known = {name_key(one.whole): one for one in kin_names(session, kin)}
    found = known.get(name_key(name))
    if found is None:
        near = reads.offered(name_key(name), [(key, one.whole) for key, one in known.items()])
        raise NotFound(f"no {kin.value} is named {name!r}{near}")
    return found


def add_kin_name(session: Session, kin: Kindred, name: str) -> bool:
    """Add a maker, series or family on purpose, however near another; False where there is one of that name.

    Raises
    ------
    BadInput
        It is no name, or that of a series does not begin with a known maker's.
    """
    name = kin_name(kin, name)
    if any(name_key(one.whole) == name_key(name) for one in kin_names(session, kin)):
        return False
    row: dict[str, Any] = {"name": name, "name_key": name_key(name)}
    if kin is Kindred.SERIES:
        maker, series = _divided(session, name)
        row = {"maker_id": maker.id, "name": series, "name_key": name_key(series)}
    session.execute(sa.insert(TABLES[kin]).values(**row))
    return True


def kin_name(kin: Kindred, text: str) -> str:
    """Return a name as it is kept.

    Raises
    ------
    BadInput
        It is blank, too long, or holds what does not show.
    """
    try:
        name = clean_name(text)
    except BadInput as problem:
        raise BadInput(f"{kin.value}: {problem}") from None
    if not name_key(name):
        raise BadInput(f"{kin.value}: give a name; {text!r} is blank")
    return name


def _divided(session: Session, name: str) -> tuple[KinName, str]:
    """The maker that the name of a series begins with, the longest there is, and the rest."""
    words = name.split(" ")
    makers = {name_key(one.whole): one for one in kin_names(session, Kindred.MAKER)}
    for count in range(len(words) - 1, 0, -1):
        if (maker := makers.get(name_key(" ".join(words[:count])))) is not None:
            return maker, " ".join(words[count:])
    raise BadInput(f"series {name!r}: does not begin with a known maker's name; write the maker, then the series")


def kindred_of(session: Session, number: int) -> list[tuple[Kindred, int | None]]:
    """Give the family, series and maker of a loudspeaker by their numbers, a series before its maker."""
    row = session.execute(sa.select(*(POINTERS[kin] for kin in Kindred)).where(Loudspeaker.id == number)).one()
    return list(zip(reversed(Kindred), reversed(row), strict=True))


def drop_unused(session: Session, kindred: Iterable[tuple[Kindred, int | None]]) -> None:
    """Take the makers, series and families away, of those given, that are left without a loudspeaker."""
    for kin, number in kindred:
        table = TABLES[kin]
        used: sa.ColumnElement[bool] = sa.exists().where(POINTERS[kin] == table.id)
        if kin is Kindred.MAKER:
            used = sa.or_(used, sa.exists().where(Series.maker_id == table.id))
        if number is not None:
            gone = sa.delete(table).where(table.id == number, ~used)
            session.execute(gone.execution_options(synchronize_session=False))


@dataclass(frozen=True, slots=True)
class Doubt:
    """A name that is new and nearly that of a known one; of a series, that of its maker's."""

    kin: Kindred
    name: str
    near: str
    maker: str | None = None

    def __str__(self) -> str:
        """What is doubted, in a line."""
        of = f" of {self.maker!r}" if self.maker else ""
        return f"{self.kin.value} {self.name!r}{of} is new, and {self.near!r} is known"

    @property
    def made(self) -> str:
        """The command that makes the name on purpose."""
        return f"triptych {self.kin.value} add {shlex.quote(self._whole(self.name))}"

    @property
    def merged(self) -> str:
        """The command that makes one of the two."""
        names = (shlex.quote(self._whole(name)) for name in (self.name, self.near))
        return f"triptych {self.kin.value} merge {' '.join(names)}"

    def _whole(self, name: str) -> str:
        return " ".join(filter(None, (self.maker, name)))


def doubts(session: Session, records: Iterable[LoudspeakerRecord]) -> list[Doubt]:
    """Give the new makers, series and families of records that are nearly known ones, or nearly each other's.

    A series is compared with those of its maker, and a family that is maker and series is left to them.
    """
    told = list(records)
    makers = _new(told, lambda record: record.maker)
    known_makers = {name_key(name): name for name in session.scalars(sa.select(Maker.name).order_by(Maker.name_key))}
    found = list(_doubted(Kindred.MAKER, makers, known_makers.values(), TRADE_WORDS))
    for key, named in _by_maker(told).items():
        series = sa.select(Series.name).join(Maker, Maker.id == Series.maker_id).where(Maker.name_key == key)
        known = session.scalars(series.order_by(Series.name_key)).all() if key in known_makers else []
        found += _doubted(Kindred.SERIES, named, known, maker=known_makers.get(key, makers[key]))
    families = _new(told, _own_family)
    if families:
        known = session.scalars(sa.select(Family.name).order_by(Family.name_key)).all()
        found += _doubted(Kindred.FAMILY, families, known)
    return found


def rename_doubt(session: Session, found: KinName, new: str) -> Doubt | None:
    """Give the other name of its kind that a new one is nearly; a series' among those of its maker."""
    others = [one for one in kin_names(session, found.kin) if one.id != found.id and one.maker_id == found.maker_id]
    idle = TRADE_WORDS if found.kin is Kindred.MAKER else frozenset()
    maker = found.whole.removesuffix(found.name).strip() or None
    return next(iter(_doubted(found.kin, {name_key(new): new}, [one.name for one in others], idle, maker)), None)


def _new(records: Sequence[LoudspeakerRecord], of: Callable[[LoudspeakerRecord], str | None]) -> dict[str, str]:
    """The names by key, in the first spelling."""
    found: dict[str, str] = {}
    key = cache(name_key)
    for record in records:
        if name := of(record):
            found.setdefault(key(name), name)
    return found


def _by_maker(records: Sequence[LoudspeakerRecord]) -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = {}
    key = cache(name_key)
    for record in records:
        if record.series:
            found.setdefault(key(record.maker), {}).setdefault(key(record.series), record.series)
    return found


def _own_family(record: LoudspeakerRecord) -> str | None:
    """The family, where it is said and not made of maker and series."""
    derived = record.series is not None and record.family == f"{record.maker} {record.series}"
    return None if derived else record.family


def _doubted(
    kin: Kindred,
    named: Mapping[str, str],
    known: Iterable[str],
    idle: frozenset[str] = frozenset(),
    maker: str | None = None,
) -> Iterable[Doubt]:
    spelt = list(known)
    keys = {name_key(name) for name in spelt}
    fresh = [name for key, name in named.items() if key not in keys]
    if not fresh:
        return
    names = NearNames(spelt, idle)
    for name in fresh:
        near = names.meant(name)
        if near is not None:
            yield Doubt(kin, name, near, maker)
        names.add(name)
