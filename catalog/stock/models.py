"""Loudspeakers as they are sold: by name or number, what the stock needs of them in one statement."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, Final, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads, rows
from triptych.catalog.database.availability import PACK
from triptych.catalog.database.models import Loudspeaker, Maker, Series
from triptych.catalog.errors import NotFound
from triptych.catalog.records import Status

Query = TypeVar("Query", bound="sa.Select[*tuple[Any, ...]]")

NEVER_AGAIN: Final = (Status.LAST_OF_LINE, Status.DISCONTINUED)
"""Models that are never back-ordered."""


@dataclass(frozen=True, slots=True)
class Model:
    """A loudspeaker as it is sold: `pack` is 2 for pairs; `gone` says in words why there will be no more."""

    number: int
    pack: int
    gone: str | None = None
    name: str = ""


def speaker_name() -> sa.ColumnElement[str]:
    """Give the expression of a loudspeaker's name; the query joins `Maker`, and `Series` where there is one."""
    series = sa.func.coalesce(Series.name + " ", "")
    return Maker.name + " " + series + Loudspeaker.model


def named(query: Query, on: Any) -> Query:
    """Join to a query what `speaker_name` needs, where `on` is the loudspeaker's number."""
    return _with_maker(query.join(Loudspeaker, Loudspeaker.id == on))


def _with_maker(query: Query) -> Query:
    joined = query.join(Maker, Maker.id == Loudspeaker.maker_id)
    return joined.outerjoin(Series, Series.id == Loudspeaker.series_id)


_MODELS: Final = _with_maker(
    sa.select(Loudspeaker.id, PACK, Loudspeaker.status, speaker_name()).select_from(Loudspeaker)
)
_BY_NAME: Final = _MODELS.where(Loudspeaker.name_key == sa.bindparam("key"))
_BY_NUMBER: Final = _MODELS.where(Loudspeaker.id.in_(sa.bindparam("numbers", expanding=True)))


def model_named(session: Session, name: str) -> Model:
    """Give the loudspeaker of that name, in any case.

    Raises
    ------
    NotFound
        None has it; the nearest names are told.
    """
    found = session.connection().execute(_BY_NAME, {"key": rows.name_key(name)}).first()
    if found is None:
        reads.stored(session, name)
        raise AssertionError("a loudspeaker that is not there has no record")
    return _model(*found)


def models(session: Session, numbers: Collection[int]) -> dict[int, Model]:
    """Give those of some numbers that are loudspeakers, by number."""
    found = session.connection().execute(_BY_NUMBER, {"numbers": sorted(set(numbers))})
    return {row[0]: _model(*row) for row in found}


def model_of(session: Session, number: int) -> Model:
    """Give the loudspeaker of a number.

    Raises
    ------
    NotFound
        None has it.
    """
    found = models(session, [number])
    if number not in found:
        raise NotFound(f"no loudspeaker has the number {number}")
    return found[number]


def _model(number: int, pack: int, status: Status | None, name: str) -> Model:
    gone = str(status.value).replace("_", " ") if status is not None and status in NEVER_AGAIN else None
    return Model(number, pack, gone, name)
