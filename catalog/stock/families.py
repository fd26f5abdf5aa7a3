"""Which mains a model belongs with, and how many of those are about."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.availability import last_lines
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
from triptych.catalog.records import Role, Status


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
    family, mains = mains_of_family(session, loudspeaker_id)
    if not mains:
        return None
    lines = last_lines().subquery()
    held = sa.select(sa.func.coalesce(sa.func.sum(lines.c.on_hand), 0)).where(lines.c.loudspeaker_id.in_(mains))
    out = Matching(family, sum(sold_and_out(session, mains).values()), int(session.scalars(held).one()))
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


def mains_of_family(session: Session, loudspeaker_id: int) -> tuple[str, list[int]]:
    """Give the family of a model whose line ends, and the numbers of the mains in it; none where the line goes on.

    The family is the declared one, else maker and series. What is itself offered as mains doesn't match others.
    """
    model = session.get_one(Loudspeaker, loudspeaker_id)
    roles = _roles(session, loudspeaker_id)
    if model.status not in (Status.LAST_OF_LINE, Status.DISCONTINUED) or Role.MAIN in roles:
        return "", []
    same, name = _family(session, model)
    if same is None:
        return "", []
    query = sa.select(Loudspeaker.id).join(LoudspeakerRole, LoudspeakerRole.loudspeaker_id == Loudspeaker.id)
    mains = query.where(same, LoudspeakerRole.role == Role.MAIN, Loudspeaker.id != loudspeaker_id)
    return name, list(session.scalars(mains.order_by(Loudspeaker.id)))


def _roles(session: Session, loudspeaker_id: int) -> set[Role]:
    return set(session.scalars(sa.select(LoudspeakerRole.role).where(LoudspeakerRole.loudspeaker_id == loudspeaker_id)))


def _family(session: Session, model: Loudspeaker) -> tuple[sa.ColumnElement[bool] | None, str]:
    if model.family_id is not None:
        return Loudspeaker.family_id == model.family_id, session.get_one(Family, model.family_id).name
    if model.series_id is not None:
        maker, series = session.get_one(Maker, model.maker_id).name, session.get_one(Series, model.series_id).name
        return Loudspeaker.series_id == model.series_id, f"{maker} {series}"
    return None, ""
