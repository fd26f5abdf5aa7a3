"""Loudspeakers as they are sold: by name or number, and which mains a centre belongs with while its line ends."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads, rows
from triptych.catalog.database.models import (
    Family,
    Holding,
    Loudspeaker,
    LoudspeakerRole,
    Maker,
    Movement,
    MovementKind,
    Series,
)
from triptych.catalog.database.stock_levels import PACK, last_lines
from triptych.catalog.errors import NotFound
from triptych.catalog.records import Role, Status

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
_BY_NAME: Final = _MODELS.add_columns(Loudspeaker.name_key).where(
    Loudspeaker.name_key.in_(sa.bindparam("keys", expanding=True))
)
_BY_NUMBER: Final = _MODELS.where(Loudspeaker.id.in_(sa.bindparam("numbers", expanding=True)))


def sold_in_pairs(session: Session) -> frozenset[str]:
    """Give the names of the loudspeakers that are sold in pairs."""
    return frozenset(name for _, pack, _, name in session.execute(_MODELS) if pack == 2)


def model_named(session: Session, name: str) -> Model:
    """Give the loudspeaker of that name, in any case.

    Raises
    ------
    NotFound
        None has it; the nearest names are told.
    """
    return models_named(session, [name])[0]


def models_named(session: Session, names: Sequence[str]) -> list[Model]:
    """Give the loudspeakers of some names, in any case, in the order of the names.

    Raises
    ------
    NotFound
        None has one of them; the nearest names are told.
    """
    keys = [rows.name_key(name) for name in names]
    found = {
        row[-1]: model_from(*row[:-1]) for row in session.connection().execute(_BY_NAME, {"keys": sorted(set(keys))})
    }
    for name, key in zip(names, keys, strict=True):
        if key not in found:
            reads.stored(session, name)
            raise AssertionError("a loudspeaker that is not there has no record")
    return [found[key] for key in keys]


def models(session: Session, numbers: Collection[int]) -> dict[int, Model]:
    """Give those of some numbers that are loudspeakers, by number."""
    found = session.connection().execute(_BY_NUMBER, {"numbers": sorted(set(numbers))})
    return {row[0]: model_from(*row) for row in found}


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


def model_from(number: int, pack: int, status: Status | None, name: str) -> Model:
    """Give a loudspeaker as it is sold, as its row says it."""
    gone = str(status.value).replace("_", " ") if status is not None and status in NEVER_AGAIN else None
    return Model(number, pack, gone, name)


def pack_of_line(quantity: int, pack: int) -> int:
    """Give how the units of a line are packed, where the model is sold so: an odd number is of single ones."""
    return 1 if quantity % pack else pack


@dataclass(frozen=True, slots=True)
class Matching:
    """Mains of a model's family that are still about."""

    family: str
    sold: int
    on_hand: int


def matching_mains(session: Session, loudspeaker_id: int) -> Matching | None:
    """Give the mains of its family that were sold or are on hand, for a centre whose line ends; None otherwise.

    Whoever has them will ask for this centre, and there will be no other.
    """
    family, mains = _mains_of_family(session, loudspeaker_id)
    lines = last_lines().subquery()
    held = sa.select(sa.func.coalesce(sa.func.sum(lines.c.on_hand), 0)).where(lines.c.loudspeaker_id.in_(mains))
    on_hand = int(session.scalars(held).one()) if mains else 0
    out = Matching(family, sum(sold_and_out(session, mains).values()), on_hand)
    return out if out.sold > 0 or out.on_hand > 0 else None


_SOLD: Final = sa.case(
    (Movement.kind == MovementKind.SELL, Movement.quantity),
    (Movement.kind == MovementKind.RETURN, -Movement.quantity),
    else_=0,
)


def sold_and_out(session: Session, loudspeaker_ids: Collection[int]) -> dict[int, int]:
    """Give how many of each loudspeaker the ledger sold that have not come back, where there are any.

    What came back was sold before the ledger began where nothing was out: it counts for none, never for less.
    """
    running = (
        sa.select(
            Movement.loudspeaker_id.label("number"),
            _SOLD.label("units"),
            sa.func.sum(_SOLD).over(partition_by=Movement.loudspeaker_id, order_by=Movement.id).label("so_far"),
        )
        .join(Holding, Holding.id == Movement.holding_id)
        .where(Holding.loudspeaker_id.in_(loudspeaker_ids))
        .where(Movement.kind.in_((MovementKind.SELL, MovementKind.RETURN)))
        .subquery()
    )
    totals = sa.select(running.c.number, sa.func.sum(running.c.units), sa.func.min(running.c.so_far))
    found = session.execute(totals.group_by(running.c.number)).all()
    return {number: int(total) - min(0, int(lowest)) for number, total, lowest in found}


def _mains_of_family(session: Session, number: int) -> tuple[str, list[int]]:
    """Give the family of a model whose line ends, and the numbers of the mains in it; none where the line goes on.

    The family is the declared one, else maker and series. What is itself offered as mains doesn't match others.
    """
    query = sa.select(Loudspeaker, Family.name, Maker.name + " " + Series.name).where(Loudspeaker.id == number)
    query = _with_maker(query).outerjoin(Family, Family.id == Loudspeaker.family_id)
    model, family, series = session.execute(query).one()
    declared = model.family_id is not None
    same = Loudspeaker.family_id == model.family_id if declared else Loudspeaker.series_id == model.series_id
    if model.status not in NEVER_AGAIN or not (declared or series):
        return "", []
    mains = sa.select(LoudspeakerRole.loudspeaker_id).where(LoudspeakerRole.role == Role.MAIN)
    found = list(
        session.scalars(sa.select(Loudspeaker.id).where(same, Loudspeaker.id.in_(mains)).order_by(Loudspeaker.id))
    )
    return (family if declared else series), [] if number in found else found
