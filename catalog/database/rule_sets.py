"""Budget rule sets as rows, and back as plain records. What a rule means is the recommender's business."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import Enum
from typing import Any, Final, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import (
    BudgetRole,
    Denominator,
    Rule,
    RuleFitting,
    RuleForm,
    RuleKind,
    RuleMeasure,
    RuleRole,
    RuleSet,
    RuleSide,
    SpendingOrder,
)
from triptych.catalog.database.rows import name_key, refuse_unstorable
from triptych.catalog.errors import BadInput, NotFound

__all__ = ["RuleRecord", "RuleSetRecord", "remove_rule_set", "rule_set", "rule_set_names", "save_rule_set"]

Member = TypeVar("Member", bound=Enum)

FITS: Final = "fits"
"""The form of a rule that asks that what is there fits."""

DENOMINATOR_WORDS: Final = frozenset(member.value for member in Denominator)


@dataclass(frozen=True, slots=True)
class RuleRecord:
    """One rule in the words of the database: `measure` of `roles` against `factor` times `of_measure` of `of`.

    A rule of the form `fits` names in `of` what must fit.
    """

    name: str
    form: str
    kind: str
    roles: tuple[str, ...]
    measure: str
    factor: Decimal
    of: tuple[str, ...]
    of_measure: str
    why: str


@dataclass(frozen=True, slots=True)
class RuleSetRecord:
    """Rules in the order in which they are shown, and roles in the order in which the set spends on them."""

    name: str
    rules: tuple[RuleRecord, ...]
    order: tuple[str, ...]
    why: str


def rule_set_names(session: Session) -> list[str]:
    """Give the names of the rule sets, in order."""
    return list(session.scalars(sa.select(RuleSet.name).order_by(RuleSet.name_key)))


def rule_set(session: Session, name: str) -> RuleSetRecord:
    """Give the rule set of that name, in any case.

    Raises
    ------
    NotFound
        None has it; those that there are are told.
    """
    found = session.execute(
        sa.select(RuleSet.id, RuleSet.name, RuleSet.note).where(RuleSet.name_key == name_key(name))
    ).first()
    if found is None:
        known = ", ".join(rule_set_names(session))
        raise NotFound(f"no rule set is named {name!r}; {f'there are {known}' if known else 'there are none'}")
    number, spelt, note = found
    order = sa.select(SpendingOrder.role).where(SpendingOrder.rule_set_id == number).order_by(SpendingOrder.ordinal)
    return RuleSetRecord(
        spelt, _rules(session, number), tuple(role.value for role in session.scalars(order)), note or ""
    )


def _rules(session: Session, number: int) -> tuple[RuleRecord, ...]:
    sides: dict[tuple[int, RuleSide], list[str]] = {}
    named = sa.select(RuleRole.rule_ordinal, RuleRole.side, RuleRole.role).where(RuleRole.rule_set_id == number)
    for rule, side, role in session.execute(named.order_by(RuleRole.rule_ordinal, RuleRole.side, RuleRole.ordinal)):
        sides.setdefault((rule, side), []).append(role.value)
    rows = session.scalars(sa.select(Rule).where(Rule.rule_set_id == number).order_by(Rule.ordinal)).all()
    return tuple(
        RuleRecord(
            name=row.name,
            form=FITS if row.fitting else row.form.value,
            kind=row.kind.value,
            roles=tuple(sides.get((row.ordinal, RuleSide.MEASURED), ())),
            measure=row.measure.value,
            factor=_factor(row),
            of=_against(row, sides),
            of_measure=row.against_measure.value,
            why=row.why or "",
        )
        for row in rows
    )


def _against(row: Rule, sides: Mapping[tuple[int, RuleSide], list[str]]) -> tuple[str, ...]:
    if row.fitting or row.denominator:
        return tuple(one.value for one in (row.fitting, row.denominator) if one)
    return tuple(sides.get((row.ordinal, RuleSide.AGAINST), ()))


def _factor(row: Rule) -> Decimal:
    try:
        return Decimal(row.factor)
    except InvalidOperation:
        raise BadInput(f"rule {row.name!r}: its factor is {row.factor!r}, which is no number: edit it") from None


def save_rule_set(session: Session, record: RuleSetRecord) -> bool:
    """Add a rule set, or put it in the place of the one of the same name; False if there was nothing to change.

    Raises
    ------
    BadInput
        A word in it is none that the database knows. Nothing was written.
    """
    key = name_key(record.name)
    if not key:
        raise BadInput("a rule set needs a name")
    refuse_unstorable(f"rule set {record.name!r}", record)
    number = session.scalar(sa.select(RuleSet.id).where(RuleSet.name_key == key))
    if number is not None and rule_set(session, record.name) == record:
        return False
    rows, roles, order = _rows(record)
    values = {"name": record.name, "name_key": key, "note": record.why or None}
    with session.begin_nested():
        if number is None:
            number = session.scalars(sa.insert(RuleSet).values(**values).returning(RuleSet.id)).one()
        else:
            session.execute(sa.update(RuleSet).where(RuleSet.id == number).values(**values))
            for table in (RuleRole, Rule, SpendingOrder):
                session.execute(sa.delete(table).where(table.__table__.columns["rule_set_id"] == number))
        for table, found in ((Rule, rows), (RuleRole, roles), (SpendingOrder, order)):
            if found:
                session.connection().execute(sa.insert(table), [{"rule_set_id": number} | row for row in found])
    return True


def remove_rule_set(session: Session, name: str) -> None:
    """Delete the rule set of that name.

    Raises
    ------
    NotFound
        None has it.
    """
    spelt = rule_set(session, name).name
    session.execute(sa.delete(RuleSet).where(RuleSet.name_key == name_key(spelt)))


Rows = list[dict[str, Any]]


def _rows(record: RuleSetRecord) -> tuple[Rows, Rows, Rows]:
    rules, roles = [], []
    for at, rule in enumerate(record.rules, start=1):
        where = f"rule {rule.name!r}"
        fits = rule.form == FITS
        share = rule.of[0] if not fits and rule.of and rule.of[0] in DENOMINATOR_WORDS else None
        rules.append({
            "ordinal": at,
            "name": rule.name,
            "kind": _member(RuleKind, rule.kind, where),
            "form": RuleForm.PRESENCE if fits else _member(RuleForm, rule.form, where),
            "fitting": _member(RuleFitting, "".join(rule.of[:1]), where) if fits else None,
            "measure": _member(RuleMeasure, rule.measure, where),
            "factor": str(rule.factor),
            "denominator": _member(Denominator, share, where) if share else None,
            "against_measure": _member(RuleMeasure, rule.of_measure, where),
            "why": rule.why or None,
        })  # fmt: skip
        roles += _role_rows(at, RuleSide.MEASURED, rule.roles, where)
        roles += _role_rows(at, RuleSide.AGAINST, () if share or fits else rule.of, where)
    order = [
        {"ordinal": at, "role": _member(BudgetRole, role, f"rule set {record.name!r}")}
        for at, role in enumerate(record.order, start=1)
    ]
    return rules, roles, order


def _role_rows(rule: int, side: RuleSide, roles: Sequence[str], where: str) -> Rows:
    return [
        {"rule_ordinal": rule, "side": side, "ordinal": at, "role": _member(BudgetRole, role, where)}
        for at, role in enumerate(roles, start=1)
    ]


def _member(kind: type[Member], value: str, where: str) -> Member:
    try:
        return kind(value)
    except ValueError:
        known = ", ".join(str(member.value) for member in kind)
        raise BadInput(f"{where}: {value!r} is none of {known}") from None
