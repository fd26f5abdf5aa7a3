"""Weight profiles as rows: session first. What the criteria are is for the recommender to know."""

from __future__ import annotations

from collections.abc import Mapping

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Weight, WeightProfile
from triptych.catalog.database.rows import name_key, refuse_unstorable
from triptych.catalog.errors import BadInput, NotFound, Refused


def names(session: Session) -> list[str]:
    """Give the names of the profiles, in order."""
    return list(session.scalars(sa.select(WeightProfile.name).order_by(WeightProfile.name_key)))


def add(session: Session, name: str, weights: Mapping[str, float]) -> None:
    """Add a profile.

    Raises
    ------
    BadInput
        The name is blank, or holds what no text has.
    Refused
        A profile has that name already, in any case.
    """
    refuse_unstorable("the weight profile", name, "name")
    if not name_key(name):
        raise BadInput("a weight profile needs a name: write one, such as mine")
    if _number(session, name) is not None:
        raise Refused(f"there is a weight profile named {name!r} already: choose another name")
    profile = WeightProfile(name=name.strip(), name_key=name_key(name))
    session.add(profile)
    session.flush()
    _insert(session, profile.id, weights)


def replace(session: Session, name: str, weights: Mapping[str, float]) -> None:
    """Give a profile other weights.

    Raises
    ------
    NotFound
        No profile has that name.
    """
    number = _number(session, name)
    if number is None:
        raise NotFound(f"no weight profile is named {name!r}")
    session.execute(sa.delete(Weight).where(Weight.weight_profile_id == number))
    _insert(session, number, weights)


def _number(session: Session, name: str) -> int | None:
    return session.scalar(sa.select(WeightProfile.id).where(WeightProfile.name_key == name_key(name)))


def _insert(session: Session, number: int, weights: Mapping[str, float]) -> None:
    rows = [{"weight_profile_id": number, "criterion": name, "value": value} for name, value in weights.items()]
    session.execute(sa.insert(Weight), rows)
