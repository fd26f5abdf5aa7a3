"""Acoustic profiles as they are stored: kept as long as nothing changes of what they are made of."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import AcousticProfile, Loudspeaker
from triptych.catalog.records import LoudspeakerRecord


@dataclass(frozen=True, slots=True)
class StoredProfile:
    """An acoustic profile as it is stored: bytes that only the physics understands."""

    loudspeaker_id: int
    revision: int
    model_version: int
    data: bytes


def save_profiles(session: Session, profiles: Iterable[StoredProfile]) -> None:
    """Store acoustic profiles, each in the place of the one that its loudspeaker had."""
    # here, as who only reads profiles has no need of another engine's dialect
    from sqlalchemy.dialects import postgresql, sqlite

    insert: Callable[..., Any] = sqlite.insert if session.get_bind().dialect.name == "sqlite" else postgresql.insert
    statement = insert(AcousticProfile)
    fresh = {name: statement.excluded[name] for name in ("revision", "model_version", "data")}
    statement = statement.on_conflict_do_update(index_elements=["loudspeaker_id"], set_=fresh)
    found = [{name: getattr(profile, name) for name in StoredProfile.__slots__} for profile in profiles]
    if found:
        session.connection().execute(statement, found)


def keep_profiles(session: Session, theirs: sa.ColumnElement[bool]) -> None:
    """Count the revision of stored profiles up with that of their loudspeakers: what changes is not heard."""
    revision = sa.select(Loudspeaker.revision).where(Loudspeaker.id == AcousticProfile.loudspeaker_id)
    current = AcousticProfile.revision == revision.scalar_subquery()
    whose = AcousticProfile.loudspeaker_id.in_(sa.select(Loudspeaker.id).where(theirs))
    values = {"revision": AcousticProfile.revision + 1}
    session.execute(
        sa.update(AcousticProfile).where(current, whose).values(values).execution_options(synchronize_session=False)
    )


def described(record: LoudspeakerRecord) -> tuple[object, ...]:
    """Give all of a loudspeaker that a profile is made of: what `candidates.described_columns` reads."""
    # a centre that says nothing of its pose and size is taken to lie, so that roles count
    own = (record.roles, record.orientation, record.width, record.height, record.layout, record.woofer_spacing)
    return (*own, *rows.driver_rows(record), *rows.crossover_rows(record))
