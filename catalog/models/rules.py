"""Weights of the criteria and rules for the money, as rows the user can copy and change."""

from __future__ import annotations

import enum

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from catalog.models import base as b


class RuleKind(enum.Enum):
    """Whether a broken rule fails the budget."""

    MUST = "must"
    SHOULD = "should"


class RuleForm(enum.Enum):
    """How a rule compares: a share at least, a share at most, or at least so many times another role."""

    FLOOR = "floor"
    CAP = "cap"
    RATIO = "ratio"


class BudgetRole(enum.Enum):
    """What a line of a budget is for."""

    MAINS = "mains"
    CENTRE = "centre"
    SURROUNDS = "surrounds"
    HEIGHTS = "heights"
    SUB = "sub"
    ELECTRONICS = "electronics"
    ACCESSORIES = "accessories"
    CALIBRATION = "calibration"
    DISPLAY = "display"


class RuleBasis(enum.Enum):
    """Which amount of a role a rule takes: the price of one, or the whole line."""

    EACH = "each"
    TOTAL = "total"


class Denominator(enum.Enum):
    """What a share is a share of."""

    AUDIO_TOTAL = "audio_total"
    SPEAKERS_AND_SUB = "speakers_and_sub"


class WeightProfile(b.Base):
    """A named set of weights of the criteria."""

    __tablename__ = "weight_profile"
    __table_args__ = (
        sa.UniqueConstraint("name_key"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    name: Mapped[str]
    name_key: Mapped[b.NameKey]
    note: Mapped[str | None]


class Weight(b.Base):
    """The weight of one criterion in a profile."""

    __tablename__ = "weight"
    __table_args__ = (*b.not_negative("value"), b.STRICT)

    weight_profile_id: Mapped[int] = mapped_column(
        sa.ForeignKey("weight_profile.id", ondelete="CASCADE"), primary_key=True
    )
    criterion: Mapped[str] = mapped_column(primary_key=True)
    value: Mapped[float] = mapped_column(sa.Double, info={"unit": "1"})


class RuleSet(b.Base):
    """A named set of budget rules."""

    __tablename__ = "rule_set"
    __table_args__ = (
        sa.UniqueConstraint("name_key"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    name: Mapped[str]
    name_key: Mapped[b.NameKey]
    note: Mapped[str | None]


class Rule(b.Base):
    """One rule: a role's amount against a share of a denominator, or against `factor` times another role's amount."""

    __tablename__ = "rule"
    __table_args__ = (
        *b.not_negative("factor"),
        sa.UniqueConstraint("rule_set_id", "name"),
        sa.CheckConstraint("(form = 'ratio') = (against_role IS NOT NULL)", name="ratio_against_a_role"),
        sa.CheckConstraint("(against_role IS NULL) = (against_basis IS NULL)", name="against_whole"),
        sa.CheckConstraint("(form = 'ratio') = (denominator IS NULL)", name="share_of_a_denominator"),
        b.STRICT,
    )

    rule_set_id: Mapped[int] = mapped_column(sa.ForeignKey("rule_set.id", ondelete="CASCADE"), primary_key=True)
    ordinal: Mapped[b.Count] = mapped_column(primary_key=True)
    name: Mapped[str]
    kind: Mapped[RuleKind]
    form: Mapped[RuleForm]
    role: Mapped[BudgetRole]
    basis: Mapped[RuleBasis]
    factor: Mapped[float] = mapped_column(sa.Double, info={"unit": "1"})
    denominator: Mapped[Denominator | None]
    against_role: Mapped[BudgetRole | None] = mapped_column(b.by_value(BudgetRole, "against_role"))
    against_basis: Mapped[RuleBasis | None] = mapped_column(b.by_value(RuleBasis, "against_basis"))
