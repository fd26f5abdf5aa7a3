"""A rule set as a TOML file, so that it can be edited as text and passed on."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, fields
from decimal import Decimal
from enum import Enum
from typing import Annotated, Final

from triptych.catalog.number_texts import typed
from triptych.recommender.money.budget.budget_lines import ROLES
from triptych.recommender.money.budget.errors import BadRule, BudgetError
from triptych.recommender.money.budget.rules import Duty, Rule, RuleSet, most_of, told_factor
from triptych.recommender.money.budget.toml_records import Read, Table, factor, parse, read, tables

_RIGHT: Final = ("measure", "factor", "of", "of_measure")
"""The keys that say nothing where a rule only asks that there is such a line."""


def rule_set_toml(rules: RuleSet) -> str:
    """A rule set as the text of a TOML file that `parse_rule_set` reads back unchanged."""
    lines = [f"{key} = {_toml(getattr(rules, key))}" for key in ("name", "why", "order")]
    for rule in rules.rules:
        told = [one.name for one in fields(rule) if _says(rule, one.name)]
        lines += ["", "[[rule]]", *(f"{key} = {_toml(_as_told(rule, key))}" for key in told)]
    return "\n".join(lines) + "\n"


def _says(rule: Rule, key: str) -> bool:
    """Whether a key says anything of a rule."""
    return rule.of_money or key not in _RIGHT or (rule.fitting is not None and key == "of")


def _as_told(rule: Rule, key: str) -> object:
    """A value of a rule; a share in the percent in which it is told."""
    if key == "factor" and told_factor(rule).endswith("%"):
        return f"{typed(rule.factor * 100)} %"
    return getattr(rule, key)


def _toml(value: object) -> str:
    """A value on one line, so that a rule stays short enough to be edited as text."""
    if isinstance(value, Enum):
        value = value.value
    if isinstance(value, tuple):
        return f"[{', '.join(map(_toml, value))}]"
    return (
        f"{value:f}" if isinstance(value, Decimal) else json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    )


@dataclass(frozen=True, slots=True)
class SetTable:
    """A rule set as its file has it, its rules unread."""

    name: str = ""
    why: str = ""
    order: tuple[str, ...] = ROLES
    rule: Annotated[Sequence[Table], Read(tables)] = ()


def parse_rule_set(text: str, where: str) -> RuleSet:
    """A rule set from the text of a TOML file.

    Raises
    ------
    BadRule
        It is not TOML, a key is not known or missing, or a rule says nothing that can be judged.
    """
    found = read(SetTable, parse(text, where, BadRule), where, BadRule)
    name = found.name.strip()
    if not name:
        raise BadRule(f"{where}: name is missing; write what the rule set is called")
    if not found.rule:
        raise BadRule(f"{where}: write each rule as a [[rule]] table, one at least")
    rules = tuple(read_rule(rule, f"{where}: rule {at}") for at, rule in enumerate(found.rule, start=1))
    return RuleSet(name, rules, _order(found.order, where), found.why)


def read_rule(data: Table, where: str) -> Rule:
    """One rule from a mapping with the keys of a rule file; what does not say otherwise is a must."""
    name = str(data.get("name", "")).strip()
    if not name:
        raise BadRule(f"{where}: name is missing")
    said = {**data, **_factor(data, f"{where} ({name}): factor")}
    return read(Rule, {"kind": Duty.MUST.value, **said, "name": name}, f"{where} ({name})", BadRule)


def _factor(data: Table, where: str) -> Table:
    """A factor that is written as text, read once, as what `of` names has its bounds; nothing where there is none."""
    written = data.get("factor")
    if not isinstance(written, str):
        return {}
    of = data.get("of", ())
    compared = (of,) if isinstance(of, str) else tuple(map(str, of)) if isinstance(of, list) else ()
    refuse_no_sum(compared, written, where)
    try:
        return {"factor": factor(written, where, Decimal(most_of(compared)[0]))}
    except BudgetError as problem:
        raise BadRule(str(problem)) from None


def refuse_no_sum(of: tuple[str, ...], written: str, where: str) -> None:
    """Refuse percent and times, as they are written, where a rule compares with a sum of money."""
    if of == ("money",) and written.strip().endswith(("%", "×")):
        raise BadRule(f"{where} is {written!r}, and it is a sum of money; write an amount, such as 500")


def _order(order: tuple[str, ...], where: str) -> tuple[str, ...]:
    strange = next((role for role in order if role not in ROLES or order.count(role) > 1), None)
    if strange is not None:
        raise BadRule(f"{where}: order holds {strange!r} twice or it is no role; roles are {', '.join(ROLES)}")
    return (*order, *(role for role in ROLES if role not in order))
