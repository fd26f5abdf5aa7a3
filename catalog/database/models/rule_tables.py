"""Weights of the criteria and rules for the money, as rows the user can copy and change."""

from __future__ import annotations

import enum

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from triptych.catalog.database.models import base as b


class RuleKind(enum.Enum):
    """Whether a broken rule fails the budget."""

    MUST = "must"
    SHOULD = "should"


class RuleForm(enum.Enum):
    """What a rule asks: at least, at most, or that there is such a line at all."""

    FLOOR = "floor"
    CAP = "cap"
    PRESENCE = "presence"


class BudgetRole(enum.Enum):
    """What a line of a budget is for; `contingency` is what is left, and can be ruled like a role."""

    MAINS = "mains"
    CENTRE = "centre"
    SURROUNDS = "surrounds"
    WIDES = "wides"
    HEIGHTS = "heights"
    SUB = "sub"
    ELECTRONICS = "electronics"
    ACCESSORIES = "accessories"
    CALIBRATION = "calibration"
    DISPLAY = "display"
    CONTINGENCY = "contingency"


class RuleMeasure(enum.Enum):
    """What of a role a rule measures: every single box, two of them, or all lines together."""

    ONE = "one"
    PAIR = "pair"
    ALL = "all"


class RuleSide(enum.Enum):
    """Whether a role is what a rule measures, or what it is measured against."""

    MEASURED = "measured"
    AGAINST = "against"


class Denominator(enum.Enum):
    """What a share is a share of; `money` makes the factor a plain sum."""

    AUDIO_TOTAL = "audio_total"
    SPEAKERS_AND_SUB = "speakers_and_sub"
    LIMIT = "limit"
    MONEY = "money"


class RuleFitting(enum.Enum):
    """What must fit: enough of it, or able to bear or to drive what is chosen."""

    CHANNELS = "channels"
    LOAD = "load"
    POWER = "power"
    BEARING = "bearing"
    CABLES = "cables"
    INPUTS = "inputs"


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


class SpendingOrder(b.Base):
    """The order in which a rule set spends on roles, first bought first."""

    __tablename__ = "spending_order"
    __table_args__ = (
        sa.UniqueConstraint("rule_set_id", "role"),
        sa.CheckConstraint("role <> 'contingency'", name="bought"),
        b.STRICT,
    )

    rule_set_id: Mapped[int] = mapped_column(sa.ForeignKey("rule_set.id", ondelete="CASCADE"), primary_key=True)
    ordinal: Mapped[b.Count] = mapped_column(primary_key=True)
    role: Mapped[BudgetRole]


class Rule(b.Base):
    """One rule: the roles it measures against `factor` times a denominator, or times other roles.

    The factor is text because it is a decimal number that must stay exact. With a `fitting` it asks that what is there
    fits, and the form says no more than that it is no share.
    """

    __tablename__ = "rule"
    __table_args__ = (
        sa.UniqueConstraint("rule_set_id", "name"),
        sa.CheckConstraint("name <> ''", name="named"),
        sa.CheckConstraint("factor <> '' AND factor NOT LIKE '-%'", name="factor_not_negative"),
        sa.CheckConstraint("form <> 'presence' OR denominator IS NULL", name="presence_of_no_share"),
        b.STRICT,
    )

    rule_set_id: Mapped[int] = mapped_column(sa.ForeignKey("rule_set.id", ondelete="CASCADE"), primary_key=True)
    ordinal: Mapped[b.Count] = mapped_column(primary_key=True)
    name: Mapped[str]
    kind: Mapped[RuleKind]
    form: Mapped[RuleForm]
    measure: Mapped[RuleMeasure]
    factor: Mapped[str]
    denominator: Mapped[Denominator | None]
    against_measure: Mapped[RuleMeasure] = mapped_column(b.by_value(RuleMeasure, "against_measure"))
    why: Mapped[str | None]
    fitting: Mapped[RuleFitting | None]


class RuleRole(b.Base):
    """A role that a rule measures, or measures against."""

    __tablename__ = "rule_role"
    __table_args__ = (
        sa.ForeignKeyConstraint(
            ["rule_set_id", "rule_ordinal"], ["rule.rule_set_id", "rule.ordinal"], ondelete="CASCADE"
        ),
        sa.CheckConstraint("side = 'measured' OR role <> 'contingency'", name="contingency_is_measured"),
        b.STRICT,
    )

    rule_set_id: Mapped[int] = mapped_column(primary_key=True)
    rule_ordinal: Mapped[b.Count] = mapped_column(primary_key=True)
    side: Mapped[RuleSide] = mapped_column(primary_key=True)
    ordinal: Mapped[b.Count] = mapped_column(primary_key=True)
    role: Mapped[BudgetRole]
