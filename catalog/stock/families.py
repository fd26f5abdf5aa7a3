"""Which mains a model belongs with."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.orm import Session

from catalog.models import Family, Loudspeaker, LoudspeakerRole, Maker, Series
from catalog.records import Role, Status


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
