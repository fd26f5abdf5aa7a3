"""Rooms as surveyed, and the questions asked of them."""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from triptych.catalog.database.models import base as b
from triptych.catalog.fields import SECTIONS
from triptych.catalog.words import Role

ROOM_SECTIONS: Final = tuple(section for section in SECTIONS.values() if not section.repeated)
"""The sections that are columns of the room's own table."""


class Room(b.Base):
    """A surveyed room; columns are named section and key of the room file."""

    __tablename__ = "room"
    __table_args__ = (
        sa.UniqueConstraint("name_key"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        *(check for section in ROOM_SECTIONS for check in b.checks(section.keys.values(), f"{section.name}_")),
        sa.CheckConstraint("money_centre IS NULL OR money_tax_included IS NOT NULL", name="money_whole"),
        sa.CheckConstraint(
            "length(money_currency) = 3 AND money_currency = upper(money_currency)", name="money_currency_code"
        ),
        b.STRICT,
    )

    id: Mapped[b.Key]
    name: Mapped[str]
    name_key: Mapped[b.NameKey]
    amplifier: Mapped[bool] = mapped_column(info={"means": "whether an amplifier is described at all"})


for _section in ROOM_SECTIONS:
    b.add_columns(Room, _section.keys.values(), f"{_section.name}_", nullable=_section.optional)


class Seat(b.Base):
    """A listening position."""

    __tablename__ = "seat"
    __table_args__ = (
        sa.UniqueConstraint("room_id", "name_key"),
        *b.checks(SECTIONS["seat"].keys.values()),
        b.of_some("uq_seat_primary", "room_id", where='"primary"', unique=True),
        b.STRICT,
    )

    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id", ondelete="CASCADE"), primary_key=True)
    ordinal: Mapped[b.Count] = mapped_column(primary_key=True)
    name_key: Mapped[b.NameKey]


b.add_columns(Seat, SECTIONS["seat"].keys.values())


class Place(b.Base):
    """Somewhere a centre could stand."""

    __tablename__ = "place"
    __table_args__ = (
        sa.UniqueConstraint("room_id", "name_key"),
        *b.checks(SECTIONS["place"].keys.values()),
        b.STRICT,
    )

    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id", ondelete="CASCADE"), primary_key=True)
    ordinal: Mapped[b.Count] = mapped_column(primary_key=True)
    name_key: Mapped[b.NameKey]


b.add_columns(Place, SECTIONS["place"].keys.values())


class Brief(b.Base):
    """A saved question: mains, room and money."""

    __tablename__ = "brief"
    __table_args__ = (
        sa.UniqueConstraint("name_key"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        *b.not_negative("limit_amount"),
        sa.CheckConstraint("length(currency) = 3 AND currency = upper(currency)", name="currency_code"),
        sa.CheckConstraint("limit_amount IS NULL OR currency IS NOT NULL", name="limit_in_a_currency"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    name: Mapped[str]
    name_key: Mapped[b.NameKey]
    mains_id: Mapped[int | None] = mapped_column(sa.ForeignKey("loudspeaker.id"))
    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id", ondelete="CASCADE"))
    role: Mapped[Role]
    limit_amount: Mapped[b.MinorUnits | None]
    currency: Mapped[b.Currency | None]
    tax_included: Mapped[bool]
    made_at: Mapped[b.Instant]
