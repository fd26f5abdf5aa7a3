"""Rooms as surveyed, and the questions asked of them."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from triptych.catalog.database.models import base as b
from triptych.catalog.records import Back, Hot, PlaceKind, Role, WallKind


class Room(b.Base):
    """A surveyed room; columns are named section and key of the room file."""

    __tablename__ = "room"
    __table_args__ = (
        sa.UniqueConstraint("name_key"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        *b.positive(
            "screen_width",
            "screen_height",
            "screen_diagonal",
            "mains_spacing",
            "amplifier_power",
            "amplifier_into",
            "amplifier_lowest_load",
        ),
        *b.not_negative(
            "screen_bottom", "mains_from_wall", "mains_axis_height", "amplifier_trim_range", "money_centre"
        ),
        sa.CheckConstraint("money_centre IS NULL OR money_tax_included IS NOT NULL", name="money_whole"),
        sa.CheckConstraint(
            "length(money_currency) = 3 AND money_currency = upper(money_currency)", name="money_currency_code"
        ),
        b.STRICT,
    )

    id: Mapped[b.Key]
    name: Mapped[str]
    name_key: Mapped[b.NameKey]
    screen_width: Mapped[b.Metres | None]
    screen_height: Mapped[b.Metres | None]
    screen_diagonal: Mapped[b.Metres | None]
    screen_aspect: Mapped[str | None]
    screen_bottom: Mapped[b.Metres | None]
    screen_transparent: Mapped[bool | None] = mapped_column(info={"means": "NULL where the room has no screen"})
    mains_speaker: Mapped[str | None]
    mains_spacing: Mapped[b.Metres | None]
    mains_from_wall: Mapped[b.Metres | None]
    mains_toe_in: Mapped[b.Degrees | None]
    mains_axis_height: Mapped[b.Metres | None]
    amplifier: Mapped[bool] = mapped_column(info={"means": "whether an amplifier is described at all"})
    amplifier_power: Mapped[b.Watts | None]
    amplifier_into: Mapped[b.Ohms | None]
    amplifier_lowest_load: Mapped[b.Ohms | None]
    amplifier_trim_range: Mapped[b.Decibels | None]
    listening_target_peak: Mapped[b.Decibels | None]
    listening_room_gain: Mapped[b.Decibels | None]
    listening_needs_real_centre: Mapped[bool]
    money_centre: Mapped[b.MinorUnits | None]
    money_currency: Mapped[b.Currency | None]
    money_tax_included: Mapped[bool | None] = mapped_column(info={"means": "NULL where no money is named"})


class Seat(b.Base):
    """A listening position."""

    __tablename__ = "seat"
    __table_args__ = (
        sa.UniqueConstraint("room_id", "name_key"),
        *b.positive("distance", "ear_height"),
        sa.Index(
            "uq_seat_primary",
            "room_id",
            unique=True,
            sqlite_where=sa.text('"primary"'),
            postgresql_where=sa.text('"primary"'),
        ),
        b.STRICT,
    )

    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id", ondelete="CASCADE"), primary_key=True)
    ordinal: Mapped[b.Count] = mapped_column(primary_key=True)
    name: Mapped[str]
    name_key: Mapped[b.NameKey]
    x: Mapped[b.Metres]
    distance: Mapped[b.Metres]
    ear_height: Mapped[b.Metres | None]
    primary: Mapped[bool]
    regular: Mapped[bool]


class Place(b.Base):
    """Somewhere a centre could stand."""

    __tablename__ = "place"
    __table_args__ = (
        sa.UniqueConstraint("room_id", "name_key"),
        *b.positive("width", "height", "depth"),
        *b.not_negative("base", "front", "load", "gap"),
        b.STRICT,
    )

    room_id: Mapped[int] = mapped_column(sa.ForeignKey("room.id", ondelete="CASCADE"), primary_key=True)
    ordinal: Mapped[b.Count] = mapped_column(primary_key=True)
    name: Mapped[str]
    name_key: Mapped[b.NameKey]
    kind: Mapped[PlaceKind]
    width: Mapped[b.Metres | None]
    height: Mapped[b.Metres | None]
    depth: Mapped[b.Metres | None]
    base: Mapped[b.Metres | None]
    front: Mapped[b.Metres | None]
    back: Mapped[Back | None]
    load: Mapped[b.Kilograms | None]
    hot: Mapped[Hot]
    wall: Mapped[WallKind | None]
    gap: Mapped[b.Metres | None]
    setback: Mapped[b.Metres | None]


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
