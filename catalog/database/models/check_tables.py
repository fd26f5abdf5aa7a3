"""What was measured in a room after installing."""

from __future__ import annotations

import enum

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from triptych.catalog.database.models import base as b


class Channel(enum.Enum):
    """Which of the front three played."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


class AsBuilt(b.Base):
    """One check of a room after installing; every check is kept."""

    __tablename__ = "as_built"
    __table_args__ = (
        sa.CheckConstraint("speaker <> ''", name="speaker_named"),
        sa.CheckConstraint("place <> ''", name="place_named"),
        sa.CheckConstraint("mains <> ''", name="mains_named"),
        sa.Index("ix_as_built_room_id", "room_id"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id", ondelete="CASCADE"))
    speaker: Mapped[str | None] = mapped_column(info={"means": "the centre installed; NULL where nobody said"})
    place: Mapped[str | None] = mapped_column(info={"means": "where it stands; NULL where nobody said"})
    mains: Mapped[str | None]
    trim_set: Mapped[b.Decibels] = mapped_column(info={"means": "the centre's trim while it was measured"})
    made_at: Mapped[b.Instant]


class AsBuiltCurve(b.Base):
    """One response measured at a seat: frequency and level of each point as little-endian doubles."""

    __tablename__ = "as_built_curve"
    __table_args__ = (b.STRICT,)

    as_built_id: Mapped[int] = mapped_column(sa.ForeignKey("as_built.id", ondelete="CASCADE"), primary_key=True)
    ordinal: Mapped[b.Count] = mapped_column(primary_key=True, info={"means": "0 for the seat that the trim is for"})
    channel: Mapped[Channel] = mapped_column(primary_key=True)
    seat: Mapped[str]
    source: Mapped[str]
    raw: Mapped[bytes] = mapped_column(sa.LargeBinary)
