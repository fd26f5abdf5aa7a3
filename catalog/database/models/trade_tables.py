"""Suppliers, what they charge and owe, and quotes."""

from __future__ import annotations

import enum
from datetime import date, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from triptych.catalog.database.models import base as b
from triptych.catalog.database.models.ledger_tables import Grade
from triptych.catalog.records import PricePer, Tax

CURRENCY = "length(currency) = 3 AND currency = upper(currency)"


class SheetKind(enum.Enum):
    """What a supplier's file holds."""

    PRICES = "prices"
    COUNTS = "counts"


class QuoteState(enum.Enum):
    """How far a quote came; an open one whose day has passed has lapsed by itself."""

    OPEN = "open"
    ACCEPTED = "accepted"
    SOLD = "sold"
    LAPSED = "lapsed"


class Supplier(b.Base):
    """Who delivers loudspeakers, and after how long."""

    __tablename__ = "supplier"
    __table_args__ = (
        sa.UniqueConstraint("name_key"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        sa.CheckConstraint("lead_time BETWEEN 0 AND 3650", name="lead_time_range"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    name: Mapped[str]
    name_key: Mapped[b.NameKey]
    lead_time: Mapped[int | None] = mapped_column(info={"unit": "day"})


class SupplierColumn(b.Base):
    """What a supplier calls a column of ours in one kind of file."""

    __tablename__ = "supplier_column"
    __table_args__ = (sa.UniqueConstraint("supplier_id", "kind", "theirs_key"), b.STRICT)

    supplier_id: Mapped[int] = mapped_column(sa.ForeignKey("supplier.id", ondelete="CASCADE"), primary_key=True)
    kind: Mapped[SheetKind] = mapped_column(b.by_value(SheetKind, "kind"), primary_key=True)
    ours: Mapped[str] = mapped_column(primary_key=True)
    theirs: Mapped[str]
    theirs_key: Mapped[b.NameKey]


class SupplierPrice(b.Base):
    """What a supplier charges for one, without tax, and advises as price, from one date up to, and without, another."""

    __tablename__ = "supplier_price"
    __table_args__ = (
        *b.not_negative("cost", "retail"),
        sa.CheckConstraint(CURRENCY, name="currency_code"),
        sa.CheckConstraint("cost IS NOT NULL OR retail IS NOT NULL", name="priced"),
        sa.CheckConstraint("tax_rate >= 0 AND tax_rate <= 100", name="tax_rate_range"),
        sa.CheckConstraint("valid_from < valid_to", name="valid_from_before_valid_to"),
        sa.UniqueConstraint("supplier_id", "loudspeaker_id", "valid_from"),
        sa.Index(None, "loudspeaker_id"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    supplier_id: Mapped[int] = mapped_column(sa.ForeignKey("supplier.id", ondelete="RESTRICT"))
    loudspeaker_id: Mapped[int] = mapped_column(sa.ForeignKey("loudspeaker.id", ondelete="RESTRICT"))
    cost: Mapped[b.MinorUnits | None]
    retail: Mapped[b.MinorUnits | None]
    currency: Mapped[b.Currency]
    tax: Mapped[Tax | None] = mapped_column(info={"means": "whether `retail` includes tax"})
    tax_rate: Mapped[b.Percent | None]
    valid_from: Mapped[date]
    valid_to: Mapped[date | None]


class SupplyOrder(b.Base):
    """Units ordered from a supplier; what has come of them stands in the ledger."""

    __tablename__ = "supply_order"
    __table_args__ = (
        *b.positive("quantity"),
        sa.Index(None, "loudspeaker_id"),
        b.of_some("ix_supply_order_job_id", "job_id", where="job_id IS NOT NULL"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    loudspeaker_id: Mapped[int] = mapped_column(sa.ForeignKey("loudspeaker.id", ondelete="RESTRICT"))
    supplier_id: Mapped[int] = mapped_column(sa.ForeignKey("supplier.id"))
    job_id: Mapped[int | None] = mapped_column(sa.ForeignKey("job.id"))
    quantity: Mapped[b.Count]
    expected: Mapped[date | None]
    ordered_at: Mapped[b.Instant]
    cancelled_at: Mapped[b.Instant | None]
    finish: Mapped[str | None]


class Quote(b.Base):
    """An offer whose prices hold until it lapses."""

    __tablename__ = "quote"
    __table_args__ = (
        sa.CheckConstraint(CURRENCY, name="currency_code"),
        sa.CheckConstraint("until > made_at", name="until_later"),
        sa.Index(None, "state"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    job_id: Mapped[int] = mapped_column(sa.ForeignKey("job.id"))
    state: Mapped[QuoteState]
    currency: Mapped[b.Currency]
    made_at: Mapped[b.Instant]
    until: Mapped[datetime] = mapped_column(b.UtcTime)
    who: Mapped[str | None]
    note: Mapped[str | None]
    lines: Mapped[b.Count | None] = mapped_column(
        info={"unit": "1", "means": "lines it is made with; a trigger lets no more in, nor accepts it with fewer"}
    )
    zone: Mapped[str | None] = mapped_column(info={"means": "time zone in which its days end"})


class QuoteLine(b.Base):
    """Units of one model in a quote at the price of one; never changed."""

    __tablename__ = "quote_line"
    __table_args__ = (
        *b.positive("quantity"),
        *b.not_negative("amount", "cost"),
        sa.CheckConstraint("tax_rate >= 0 AND tax_rate <= 100", name="tax_rate_range"),
        b.STRICT,
    )

    quote_id: Mapped[int] = mapped_column(sa.ForeignKey("quote.id", ondelete="CASCADE"), primary_key=True)
    ordinal: Mapped[b.Count] = mapped_column(primary_key=True)
    loudspeaker_id: Mapped[int] = mapped_column(sa.ForeignKey("loudspeaker.id", ondelete="RESTRICT"))
    grade: Mapped[Grade]
    finish: Mapped[str | None]
    quantity: Mapped[b.Count]
    amount: Mapped[b.MinorUnits] = mapped_column(info={"unit": "minor unit of the currency", "means": "for one `per`"})
    per: Mapped[PricePer]
    tax: Mapped[Tax | None]
    tax_rate: Mapped[b.Percent | None]
    cost: Mapped[b.MinorUnits | None] = mapped_column(
        info={"unit": "minor unit of the currency", "means": "of one, without tax, when it was quoted"}
    )
    discount: Mapped[b.Percent | None]
    full_amount: Mapped[b.MinorUnits | None] = mapped_column(
        info={"unit": "minor unit of the currency", "means": "for one `per`, before the discount"}
    )


class Article(b.Base):
    """The number under which a loudspeaker in a finish is ordered: a supplier's, or our own where it has none."""

    __tablename__ = "article"
    __table_args__ = (
        sa.CheckConstraint("number_key <> ''", name="numbered"),
        b.of_some("uq_article_own", "number_key", where="supplier_id IS NULL", unique=True),
        sa.UniqueConstraint("supplier_id", "number_key"),
        sa.Index(None, "loudspeaker_id"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    loudspeaker_id: Mapped[int] = mapped_column(sa.ForeignKey("loudspeaker.id", ondelete="CASCADE"))
    supplier_id: Mapped[int | None] = mapped_column(sa.ForeignKey("supplier.id", ondelete="CASCADE"))
    finish: Mapped[str | None]
    number: Mapped[str]
    number_key: Mapped[b.NameKey]


class ReorderPoint(b.Base):
    """Of what there are fewer than `least`, up to `up_to` are ordered; of one finish, or of all where it has none."""

    __tablename__ = "reorder_point"
    __table_args__ = (
        sa.UniqueConstraint("loudspeaker_id", "finish_key"),
        sa.CheckConstraint("(finish IS NULL) = (finish_key = '')", name="finish_whole"),
        sa.CheckConstraint("least >= 1 AND up_to >= least", name="up_to_from_least"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    loudspeaker_id: Mapped[int] = mapped_column(sa.ForeignKey("loudspeaker.id", ondelete="CASCADE"))
    finish: Mapped[str | None]
    finish_key: Mapped[b.NameKey]
    least: Mapped[b.Count]
    up_to: Mapped[b.Count]


class GradePrice(b.Base):
    """What one of another grade than new, or a pair, is sold for; with tax or without as the price of a new one."""

    __tablename__ = "grade_price"
    __table_args__ = (
        sa.UniqueConstraint("loudspeaker_id", "grade"),
        sa.CheckConstraint("grade IN ('open_box', 'b_stock', 'demo')", name="grade_of_its_own"),
        sa.CheckConstraint(CURRENCY, name="currency_code"),
        *b.not_negative("amount"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    loudspeaker_id: Mapped[int] = mapped_column(sa.ForeignKey("loudspeaker.id", ondelete="CASCADE"))
    grade: Mapped[Grade]
    amount: Mapped[b.MinorUnits] = mapped_column(info={"unit": "minor unit of the currency", "means": "for one `per`"})
    currency: Mapped[b.Currency]
    per: Mapped[PricePer]


class FileColumn(b.Base):
    """What files of one kind call a column of ours, whoever sends them."""

    __tablename__ = "file_column"
    __table_args__ = (b.STRICT,)

    kind: Mapped[str] = mapped_column(primary_key=True)
    theirs_key: Mapped[b.NameKey] = mapped_column(primary_key=True)
    theirs: Mapped[str]
    ours: Mapped[str]
