"""The stock ledger: holdings, movements that are added and never edited, and what is left of reservations."""

from __future__ import annotations

import enum
from datetime import datetime
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from triptych.catalog.database.models import base as b


class Grade(enum.Enum):
    """The condition of a unit; what is in quarantine is neither sold nor promised."""

    NEW = "new"
    OPEN_BOX = "open_box"
    B_STOCK = "b_stock"
    DEMO = "demo"
    QUARANTINE = "quarantine"


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
    SPLIT_IN = "split_in"
    WRITE_OFF = "write_off"


INTO: Final = (
    MovementKind.RECEIVE,
    MovementKind.RETURN,
    MovementKind.TRANSFER_IN,
    MovementKind.REGRADE_IN,
    MovementKind.SPLIT_IN,
    MovementKind.COUNT,
)
"""Movements that add their quantity to what is on hand; that of a count has its own sign."""

OUT_OF: Final = (
    MovementKind.SELL,
    MovementKind.TRANSFER_OUT,
    MovementKind.REGRADE_OUT,
    MovementKind.SPLIT_PAIR,
    MovementKind.WRITE_OFF,
)
"""Movements that take their quantity from what is on hand."""


def _effect() -> str:
    into, out_of = (", ".join(f"'{kind.value}'" for kind in kinds) for kinds in (INTO, OUT_OF))
    return f"effect = CASE WHEN kind IN ({into}) THEN quantity WHEN kind IN ({out_of}) THEN -quantity ELSE 0 END"


class Location(b.Base):
    """Where units stand: a shop, a store, a van; days end there at midnight of its time zone."""

    __tablename__ = "location"
    __table_args__ = (
        sa.UniqueConstraint("name_key"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    name: Mapped[str]
    name_key: Mapped[b.NameKey]
    zone: Mapped[str]
    loan_job_id: Mapped[int | None] = mapped_column(
        sa.ForeignKey("job.id"), info={"means": "the job to which is lent what stands there"}
    )


class Job(b.Base):
    """What units are promised or sold for: a customer, a project; one that was made another's keeps its lines."""

    __tablename__ = "job"
    __table_args__ = (
        sa.UniqueConstraint("name_key"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    name: Mapped[str]
    name_key: Mapped[b.NameKey]
    merged_into_id: Mapped[int | None] = mapped_column(sa.ForeignKey("job.id"))


class Holding(b.Base):
    """Units that are alike: one model, finish, grade and location, in pairs (`pack` 2) or single; never changed."""

    __tablename__ = "holding"
    __table_args__ = (
        sa.UniqueConstraint("loudspeaker_id", "location_id", "grade", "pack", "finish_key"),
        sa.UniqueConstraint("id", "loudspeaker_id"),
        sa.CheckConstraint("pack IN (1, 2)", name="pack_of_one_or_two"),
        sa.CheckConstraint("(finish IS NULL) = (finish_key = '')", name="finish_whole"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    loudspeaker_id: Mapped[int] = mapped_column(sa.ForeignKey("loudspeaker.id", ondelete="RESTRICT"))
    location_id: Mapped[int] = mapped_column(sa.ForeignKey("location.id"))
    grade: Mapped[Grade]
    pack: Mapped[b.Count]
    finish: Mapped[str | None]
    finish_key: Mapped[b.NameKey]


_SOMETIMES: Final = ("from_id", "order_id", "quote_id", "reservation_id", "to_holding_id", "undoes_id")
"""Columns of a movement by which lines are found, and which few have."""


class Movement(b.Base):
    """One line of the ledger, with what is on hand after it; triggers hold it to the line before.

    `sequence` counts the lines of a holding, so that two writers can't both follow the same line. Only a count can have
    a negative quantity: the difference that was found.
    """

    __tablename__ = "movement"
    __table_args__ = (
        sa.CheckConstraint("quantity > 0 OR (kind = 'count' AND quantity <> 0)", name="quantity_counts"),
        sa.CheckConstraint(_effect(), name="effect_of_kind"),
        sa.CheckConstraint("on_hand >= 0", name="on_hand_not_negative"),
        sa.CheckConstraint("tracked >= 0 AND tracked <= on_hand", name="tracked_on_hand"),
        sa.CheckConstraint("sequence >= 1", name="sequence_from_one"),
        sa.CheckConstraint("kind <> 'reserve' OR (job_id IS NOT NULL AND until IS NOT NULL)", name="reserve_for_a_job"),
        sa.CheckConstraint("until IS NULL OR kind = 'reserve'", name="until_of_a_reservation"),
        sa.CheckConstraint("kind <> 'release' OR reservation_id IS NOT NULL", name="release_of_a_reservation"),
        sa.CheckConstraint("reservation_id IS NULL OR kind IN ('release', 'sell')", name="reservation_ends"),
        sa.CheckConstraint("(serial IS NULL) = (serial_sequence IS NULL)", name="serial_whole"),
        sa.CheckConstraint("serial <> ''", name="serial_named"),
        sa.CheckConstraint("amount IS NULL OR (amount >= 0 AND currency IS NOT NULL)", name="amount_in_a_currency"),
        sa.UniqueConstraint("holding_id", "sequence"),
        sa.ForeignKeyConstraint(["holding_id", "loudspeaker_id"], ["holding.id", "holding.loudspeaker_id"]),
        *(b.of_some(f"ix_movement_{name}", name, where=f"{name} IS NOT NULL") for name in _SOMETIMES),
        b.of_some(
            "uq_movement_serial", "loudspeaker_id", "serial", "serial_sequence", where="serial IS NOT NULL", unique=True
        ),
        b.STRICT,
    )

    id: Mapped[b.Key]
    loudspeaker_id: Mapped[int]
    holding_id: Mapped[int]
    sequence: Mapped[b.Count]
    kind: Mapped[MovementKind] = mapped_column(b.by_value(MovementKind, "kind"))
    quantity: Mapped[b.Count]
    effect: Mapped[b.Count]
    on_hand: Mapped[b.Count] = mapped_column(info={"unit": "1", "means": "units of the holding after this line"})
    tracked: Mapped[b.Count] = mapped_column(info={"unit": "1", "means": "units of these that a serial names"})
    job_id: Mapped[int | None] = mapped_column(sa.ForeignKey("job.id"))
    until: Mapped[b.Instant | None]
    reservation_id: Mapped[int | None] = mapped_column(sa.ForeignKey("movement.id"))
    from_id: Mapped[int | None] = mapped_column(sa.ForeignKey("movement.id"))
    to_holding_id: Mapped[int | None] = mapped_column(sa.ForeignKey("holding.id"))
    order_id: Mapped[int | None] = mapped_column(sa.ForeignKey("supply_order.id"))
    quote_id: Mapped[int | None] = mapped_column(sa.ForeignKey("quote.id"))
    serial: Mapped[str | None]
    serial_sequence: Mapped[b.Count | None]
    amount: Mapped[b.MinorUnits | None] = mapped_column(
        info={"unit": "minor unit of the currency", "means": "of one, without tax: cost of what came, price of a sale"}
    )
    currency: Mapped[b.Currency | None]
    at: Mapped[b.Instant]
    who: Mapped[str | None]
    note: Mapped[str | None]
    digest: Mapped[str | None] = mapped_column(
        info={"means": "SHA-256 of the line's `LineDigest`, that of the line before it among it; a server makes it"}
    )
    undoes_id: Mapped[int | None] = mapped_column(
        sa.ForeignKey("movement.id"), info={"means": "the line that this one takes back"}
    )
    carries_id: Mapped[int | None] = mapped_column(
        sa.ForeignKey("movement.id"), info={"means": "the reservation that this one carries on elsewhere"}
    )
    deed_number: Mapped[int | None] = mapped_column(
        sa.BigInteger, info={"unit": "1", "means": "that of the deed of which it is a line; older lines have none"}
    )


class LedgerEnd(b.Base):
    """The last line of each holding; triggers keep it, so that one that is gone is missed."""

    __tablename__ = "ledger_end"
    __table_args__ = (b.STRICT,)

    holding_id: Mapped[int] = mapped_column(sa.ForeignKey("holding.id"), primary_key=True, autoincrement=False)
    sequence: Mapped[b.Count]
    digest: Mapped[str | None]


class Reservation(b.Base):
    """What is left of a reservation; triggers keep it, and refuse what the ledger doesn't say."""

    __tablename__ = "reservation"
    __table_args__ = (
        *b.not_negative("rest"),
        b.of_some("ix_reservation_live", "holding_id", "until", where="rest > 0"),
        b.STRICT,
    )

    movement_id: Mapped[int] = mapped_column(sa.ForeignKey("movement.id"), primary_key=True, autoincrement=False)
    holding_id: Mapped[int] = mapped_column(sa.ForeignKey("holding.id"))
    until: Mapped[datetime] = mapped_column(b.UtcTime)
    rest: Mapped[b.Count]
    serial: Mapped[str | None]
