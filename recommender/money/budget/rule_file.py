"""A rule set as a TOML file, so that it can be edited as text and passed on."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Mapping
from decimal import Decimal
from enum import Enum
from typing import Any, Final, TypeVar

from triptych.recommender.money.budget.errors import BadBudget, BadRule
from triptych.recommender.money.budget.figures import number
from triptych.recommender.money.budget.lines import ROLES
from triptych.recommender.money.budget.rules import Form, Kind, Measure, Rule, RuleSet

_SET: Final = ("name", "why", "order", "rule")
_RULE: Final = ("name", "form", "kind", "roles", "measure", "factor", "of", "of_measure", "why")

Member = TypeVar("Member", bound=Enum)


def rule_set_toml(rules: RuleSet) -> str:
    """A rule set as the text of a TOML file that `parse_rule_set` reads back unchanged."""
    lines = [f"name = {_text(rules.name)}", f"why = {_text(rules.why)}", f"order = {_texts(rules.order)}"]
    for rule in rules.rules:
        lines += ["", "[[rule]]", *_rule_lines(rule)]
    return "\n".join(lines) + "\n"


def _rule_lines(rule: Rule) -> Iterable[str]:
    yield f"name = {_text(rule.name)}"
    yield f"form = {_text(rule.form.value)}"
    yield f"kind = {_text(rule.kind.value)}"
    yield f"roles = {_texts(rule.roles)}"
    if rule.form is not Form.PRESENCE:
        yield f"measure = {_text(rule.measure.value)}"
        yield f"factor = {rule.factor:f}"
        yield f"of = {_texts(rule.of)}"
        yield f"of_measure = {_text(rule.of_measure.value)}"
    yield f"why = {_text(rule.why)}"


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _texts(values: Iterable[str]) -> str:
    return f"[{', '.join(_text(value) for value in values)}]"


def parse_rule_set(text: str, where: str) -> RuleSet:
    """A rule set from the text of a TOML file.

    Raises
    ------
    BadRule
        It is not TOML, a key is not known or missing, or a rule says nothing that can be judged.
    """
    try:
        data = tomllib.loads(text, parse_float=Decimal)
    # a whole number of thousands of digits is a ValueError of its own
    except (ValueError, RecursionError) as problem:
        raise BadRule(f"{where} is not TOML: {problem}") from None
    _known_keys(data, _SET, where)
    name = str(data.get("name", "")).strip()
    if not name:
        raise BadRule(f"{where}: name is missing; write what the rule set is called")
    found = data.get("rule", [])
    if not isinstance(found, list) or not all(isinstance(rule, Mapping) for rule in found) or not found:
        raise BadRule(f"{where}: write each rule as a [[rule]] table, one at least")
    rules = tuple(read_rule(rule, f"{where}: rule {at}") for at, rule in enumerate(found, start=1))
    return RuleSet(name, rules, _order(data.get("order", list(ROLES)), where), str(data.get("why", "")))


def read_rule(data: Mapping[str, Any], where: str) -> Rule:
    """One rule from a mapping with the keys of a rule file."""
    _known_keys(data, _RULE, where)
    name = str(data.get("name", "")).strip()
    if not name:
        raise BadRule(f"{where}: name is missing")
    where = f"{where} ({name})"
    for key in ("form", "roles"):
        if key not in data:
            raise BadRule(f"{where}: {key} is missing")
    return Rule(
        name,
        _member(Form, data["form"], f"{where}: form"),
        _member(Kind, data.get("kind", "must"), f"{where}: kind"),
        _words(data["roles"], f"{where}: roles"),
        _member(Measure, data.get("measure", "all"), f"{where}: measure"),
        factor(data.get("factor", 1), f"{where}: factor"),
        _words(data.get("of", []), f"{where}: of"),
        _member(Measure, data.get("of_measure", "all"), f"{where}: of_measure"),
        str(data.get("why", "")),
    )


def factor(value: object, where: str) -> Decimal:
    """A factor as a number, or in percent.

    >>> factor("15 %", "factor"), factor("0.15", "factor")
    (Decimal('0.15'), Decimal('0.15'))
    """
    text = value.strip() if isinstance(value, str) else value
    share = isinstance(text, str) and text.endswith("%")
    try:
        found = number(text.removesuffix("%") if isinstance(text, str) else text, where)
    except BadBudget as problem:
        raise BadRule(str(problem)) from None
    return found / 100 if share else found


def _known_keys(data: Mapping[str, Any], known: tuple[str, ...], where: str) -> None:
    unknown = next((key for key in data if key not in known), None)
    if unknown is not None:
        raise BadRule(f"{where}: '{unknown}' is not known; there are {', '.join(known)}")


def _order(value: object, where: str) -> tuple[str, ...]:
    order = _words(value, f"{where}: order")
    strange = next((role for role in order if role not in ROLES or order.count(role) > 1), None)
    if strange is not None:
        raise BadRule(f"{where}: order holds {strange!r} twice or it is no role; roles are {', '.join(ROLES)}")
    return (*order, *(role for role in ROLES if role not in order))


def _words(value: object, where: str) -> tuple[str, ...]:
    words = [value] if isinstance(value, str) else value
    if not isinstance(words, list) or not all(isinstance(word, str) for word in words):
        raise BadRule(f"{where} is {value!r}; write a list of words")
    return tuple(word.strip().lower() for word in words)


def _member(kind: type[Member], value: object, where: str) -> Member:
    try:
        return kind(str(value).strip().lower())
    except ValueError:
        raise BadRule(f"{where} is {value!r}; write {', '.join(str(one.value) for one in kind)}") from None
