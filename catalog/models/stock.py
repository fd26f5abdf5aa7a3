"""The stock ledger: movements, which are added and never edited."""

from __future__ import annotations

import enum
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from catalog.models import base as b


class Grade(enum.Enum):
    """The condition of a unit."""

    NEW = "new"
    OPEN_BOX = "open_box"
    B_STOCK = "b_stock"
    DEMO = "demo"


class MovementKind(enum.Enum):
    """What happened to the units."""

    RECEIVE = "receive"
    RESERVE = "reserve"
    RELEASE = "release"
    SELL = "sell"
    RETURN = "return"
    TRANSFER_OUT = "transfer_out"
    TRANSFER_IN = "transfer_in"
    COUNT = "count"
    REGRADE_OUT = "regrade_out"
    REGRADE_IN = "regrade_in"
    SPLIT_PAIR = "split_pair"
    WRITE_OFF = "write_off"


class Movement(b.Base):
    """One line of the ledger; only a count can have a negative quantity: the difference that was found."""

    __tablename__ = "movement"
    __table_args__ = (
        sa.CheckConstraint("quantity > 0 OR (kind = 'count' AND quantity <> 0)", name="quantity_counts"),
        sa.CheckConstraint("location <> ''", name="located"),
        sa.CheckConstraint("kind <> 'reserve' OR (job IS NOT NULL AND until IS NOT NULL)", name="reserve_for_a_job"),
        sa.CheckConstraint("kind <> 'release' OR reservation_id IS NOT NULL", name="release_of_a_reservation"),
        sa.CheckConstraint("reservation_id IS NULL OR kind IN ('release', 'sell')", name="reservation_ends"),
        sa.CheckConstraint("serial IS NULL OR quantity IN (-1, 1)", name="serial_of_one"),
        sa.Index(None, "loudspeaker_id"),
        sa.Index(None, "reservation_id"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    loudspeaker_id: Mapped[int] = mapped_column(sa.ForeignKey("loudspeaker.id", ondelete="RESTRICT"))
    finish: Mapped[str | None]
    grade: Mapped[Grade]
    location: Mapped[str]
    kind: Mapped[MovementKind] = mapped_column(b.by_value(MovementKind, "kind"))
    quantity: Mapped[b.Count]
    job: Mapped[str | None]
    until: Mapped[date | None]
    reservation_id: Mapped[int | None] = mapped_column(sa.ForeignKey("movement.id"))
    serial: Mapped[str | None]
    at: Mapped[b.Instant]
    note: Mapped[str | None]
