"""Loudspeakers: who makes them, what they are made of, what they cost, and where each figure comes from."""

from __future__ import annotations

import enum
from datetime import date
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from triptych.catalog.database.models import base as b
from triptych.catalog.fields import COLUMNS
from triptych.catalog.words import PricePer, Role, Tax, TweeterType

if TYPE_CHECKING:
    from triptych.catalog.words import Enclosure, PortLocation, SoldAs, Status

OWN_COLUMNS: Final = tuple(column for column in COLUMNS.values() if not column.about.stored)
"""The fields of a loudspeaker that are columns of its own table, by the same name."""


class DriverKind(enum.Enum):
    """Which part of the band a driver plays."""

    TWEETER = "tweeter"
    MIDRANGE = "midrange"
    WOOFER = "woofer"


def _parent(table: str = "loudspeaker", **options: Any) -> Mapped[int]:
    return mapped_column(sa.ForeignKey(f"{table}.id", ondelete="CASCADE"), **options)


class Maker(b.Base):
    """Who makes loudspeakers."""

    __tablename__ = "maker"
    __table_args__ = (
        sa.UniqueConstraint("name_key"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    name: Mapped[str]
    name_key: Mapped[b.NameKey]


class Series(b.Base):
    """A maker's series."""

    __tablename__ = "series"
    __table_args__ = (
        sa.UniqueConstraint("maker_id", "name_key"),
        sa.UniqueConstraint("id", "maker_id"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    maker_id: Mapped[int] = _parent("maker")
    name: Mapped[str]
    name_key: Mapped[b.NameKey]


class Family(b.Base):
    """Loudspeakers voiced together."""

    __tablename__ = "family"
    __table_args__ = (
        sa.UniqueConstraint("name_key"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    name: Mapped[str]
    name_key: Mapped[b.NameKey]


class Source(b.Base):
    """Where figures are taken from: a file, a datasheet, a person."""

    __tablename__ = "source"
    __table_args__ = (sa.UniqueConstraint("name"), b.STRICT)

    id: Mapped[b.Key]
    name: Mapped[str]


class Loudspeaker(b.Base):
    """One generic loudspeaker; the columns of its own fields are added below, named as in `LoudspeakerRecord`."""

    __tablename__ = "loudspeaker"
    __table_args__ = (
        # The key is maker, series and model in one text, so it holds where the series is NULL.
        sa.UniqueConstraint("name_key"),
        sa.ForeignKeyConstraint(["series_id", "maker_id"], ["series.id", "series.maker_id"]),
        sa.CheckConstraint("name_key <> ''", name="named"),
        sa.CheckConstraint("revision >= 1", name="revision_from_one"),
        sa.CheckConstraint("low_limit < high_limit", name="low_limit_below_high_limit"),
        sa.CheckConstraint("amplifier_min <= amplifier_max", name="amplifier_min_up_to_amplifier_max"),
        *b.checks(OWN_COLUMNS),
        sa.Index(None, "maker_id"),
        sa.Index(None, "family_id"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    revision: Mapped[b.Count]
    retired: Mapped[bool]
    maker_id: Mapped[int] = mapped_column(sa.ForeignKey("maker.id"))
    series_id: Mapped[int | None]
    family_id: Mapped[int | None] = mapped_column(sa.ForeignKey("family.id"))
    name_key: Mapped[b.NameKey]
    if TYPE_CHECKING:
        # for type checkers only: the columns that queries name
        model: Mapped[str]
        width: Mapped[float | None]
        height: Mapped[float | None]
        depth: Mapped[float | None]
        enclosure: Mapped[Enclosure | None]
        port_location: Mapped[PortLocation | None]
        sold_as: Mapped[SoldAs | None]
        status: Mapped[Status | None]


b.add_columns(Loudspeaker, OWN_COLUMNS)


class LoudspeakerRole(b.Base):
    """One role that a loudspeaker is offered for."""

    __tablename__ = "loudspeaker_role"
    __table_args__ = (sa.Index(None, "role"), b.STRICT)

    loudspeaker_id: Mapped[int] = _parent(primary_key=True)
    role: Mapped[Role] = mapped_column(primary_key=True)


class Driver(b.Base):
    """All drivers of one kind in a loudspeaker."""

    __tablename__ = "driver"
    __table_args__ = (
        *b.positive("size"),
        *b.not_negative("count"),
        sa.CheckConstraint("kind = 'tweeter' OR type IS NULL", name="type_of_tweeter"),
        sa.CheckConstraint("(coverage_horizontal IS NULL) = (coverage_vertical IS NULL)", name="coverage_whole"),
        sa.CheckConstraint(
            "coverage_horizontal > 0 AND coverage_horizontal <= 360"
            " AND coverage_vertical > 0 AND coverage_vertical <= 360",
            name="coverage_range",
        ),
        b.STRICT,
    )

    loudspeaker_id: Mapped[int] = _parent(primary_key=True)
    kind: Mapped[DriverKind] = mapped_column(primary_key=True)
    size: Mapped[b.Metres | None]
    count: Mapped[b.Count | None]
    type: Mapped[TweeterType | None]
    material: Mapped[str | None]
    coverage_horizontal: Mapped[b.Degrees | None]
    coverage_vertical: Mapped[b.Degrees | None]


class Crossover(b.Base):
    """One hand-over between two drivers, counted from the lowest; the order can be known where the frequency isn't."""

    __tablename__ = "crossover"
    __table_args__ = (
        *b.positive("frequency"),
        sa.CheckConstraint("ordinal >= 1", name="ordinal_from_one"),
        sa.CheckConstraint('"order" BETWEEN 1 AND 8', name="order_range"),
        b.STRICT,
    )

    loudspeaker_id: Mapped[int] = _parent(primary_key=True)
    ordinal: Mapped[b.Count] = mapped_column(primary_key=True)
    frequency: Mapped[b.Hertz | None]
    order: Mapped[b.Count | None]


class Price(b.Base):
    """What a loudspeaker costs from one date up to, and without, another; the latest has no end."""

    __tablename__ = "price"
    __table_args__ = (
        *b.not_negative("amount"),
        sa.CheckConstraint("length(currency) = 3 AND currency = upper(currency)", name="currency_code"),
        sa.CheckConstraint("tax_rate >= 0 AND tax_rate <= 100", name="tax_rate_range"),
        sa.CheckConstraint("valid_from < valid_to", name="valid_from_before_valid_to"),
        sa.UniqueConstraint("loudspeaker_id", "valid_from"),
        b.of_some("uq_price_open", "loudspeaker_id", where="valid_to IS NULL", unique=True),
        b.STRICT,
    )

    id: Mapped[b.Key]
    loudspeaker_id: Mapped[int] = _parent()
    amount: Mapped[b.MinorUnits | None]
    currency: Mapped[b.Currency | None]
    per: Mapped[PricePer | None]
    tax: Mapped[Tax | None]
    tax_rate: Mapped[b.Percent | None]
    valid_from: Mapped[date]
    valid_to: Mapped[date | None]


class Provenance(b.Base):
    """Where the figures of one loudspeaker come from: by source, for each its text, or that with evidence and flags.

    A row a figure was most of an import, and nobody asks for one figure of many loudspeakers.
    """

    __tablename__ = "provenance"
    __table_args__ = (b.STRICT,)

    loudspeaker_id: Mapped[int] = _parent(primary_key=True)
    said: Mapped[dict[str, dict[str, Any]]] = mapped_column(sa.JSON)


class AcousticProfile(b.Base):
    """What the physics computes once a revision of a loudspeaker; the catalogue does not know what is in it."""

    __tablename__ = "acoustic_profile"
    __table_args__ = (b.STRICT,)

    loudspeaker_id: Mapped[int] = _parent(primary_key=True)
    revision: Mapped[b.Count]
    model_version: Mapped[b.Count]
    data: Mapped[bytes] = mapped_column(sa.LargeBinary)
