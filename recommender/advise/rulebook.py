"""Rule sets between the catalogue's rows and the rules that are judged; those that come with the tool are put there."""

from __future__ import annotations

from sqlalchemy.orm import Session

from triptych.catalog.database import rule_sets as rows
from triptych.catalog.database.rows import name_key
from triptych.recommender.money.budget.rules import RULE_SETS, Duty, Form, Measure, Rule, RuleSet


def built_in(name: str) -> bool:
    """Whether a rule set comes with the tool, and so is not to be changed."""
    return name_key(name) in RULE_SETS


def stored(session: Session, name: str) -> RuleSet:
    """The rule set of that name; one that comes with the tool is found even where nobody could write it down yet.

    Raises
    ------
    NotFound
        There is none; those that there are are told.
    """
    supplied = RULE_SETS.get(name_key(name))
    return supplied or of_record(rows.rule_set(session, name))


def all_sets(session: Session) -> list[RuleSet]:
    """Every rule set: those that come with the tool, then the user's own in order of their names."""
    own = [name for name in rows.rule_set_names(session) if not built_in(name)]
    return [*RULE_SETS.values(), *(stored(session, name) for name in own)]


def complete(session: Session) -> bool:
    """Whether the sets that come with the tool stand in the catalogue, unchanged."""
    there = {name_key(name) for name in rows.rule_set_names(session)}
    return all(name in there and rows.rule_set(session, name) == to_record(rules) for name, rules in RULE_SETS.items())


def seed(session: Session) -> None:
    """Write the sets that come with the tool into the catalogue, where they are missing or older."""
    for rules in RULE_SETS.values():
        rows.save_rule_set(session, to_record(rules))


def to_record(rules: RuleSet) -> rows.RuleSetRecord:
    """A rule set in the words of the catalogue."""
    return rows.RuleSetRecord(rules.name, tuple(_to_row(rule) for rule in rules.rules), rules.order, rules.why)


def _to_row(rule: Rule) -> rows.RuleRecord:
    words = rule.form.value, rule.kind.value
    return rows.RuleRecord(
        rule.name, *words, rule.roles, rule.measure.value, rule.factor, rule.of, rule.of_measure.value, rule.why
    )


def of_record(record: rows.RuleSetRecord) -> RuleSet:
    """A rule set from the words of the catalogue.

    Raises
    ------
    BadRule
        A row says nothing that can be judged.
    """
    return RuleSet(record.name, tuple(_of_row(row) for row in record.rules), record.order, record.why)


def _of_row(row: rows.RuleRecord) -> Rule:
    return Rule(
        row.name,
        Form(row.form),
        Duty(row.kind),
        row.roles,
        Measure(row.measure),
        row.factor,
        row.of,
        Measure(row.of_measure),
        row.why,
    )
