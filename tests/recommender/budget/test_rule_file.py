from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.money.budget.budget_lines import ROLES
from triptych.recommender.money.budget.errors import BadRule
from triptych.recommender.money.budget.rule_file import parse_rule_set, rule_set_toml
from triptych.recommender.money.budget.rules import FILM_FIRST, RULE_SETS, Rule, RuleSet
from triptych.recommender.money.budget.toml_records import factor

PRINTED = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)


@pytest.mark.parametrize("rules", RULE_SETS.values(), ids=RULE_SETS)
def test_a_supplied_set_reads_back_unchanged(rules: RuleSet) -> None:
    assert parse_rule_set(rule_set_toml(rules), "file") == rules


@pytest.mark.examples
@given(
    why=PRINTED,
    order=st.permutations(ROLES),
    share=st.decimals(0, 1, allow_nan=False, allow_infinity=False, places=6),
)
def test_any_text_order_and_factor_reads_back(why: str, order: list[str], share: Decimal) -> None:
    rules = tuple(replace(rule, factor=share, why=why) if rule.of_money else rule for rule in FILM_FIRST.rules)
    made = RuleSet("mine", rules, tuple(order), why)
    assert parse_rule_set(rule_set_toml(made), "file") == made


def test_roles_that_an_order_leaves_out_come_last() -> None:
    text = 'name = "x"\norder = ["sub"]\n[[rule]]\nname = "a"\nform = "presence"\nroles = "sub"\n'
    made = parse_rule_set(text, "file")
    assert made.order[0] == "sub"
    assert sorted(made.order) == sorted(ROLES)
    assert made.rules == (replace(made.rules[0], roles=("sub",)),)


@pytest.mark.parametrize(("value", "read"), [("15 %", "0.15"), ("0,15", "0.15"), (2, "2"), (Decimal("0.5"), "0.5")])
def test_a_factor_is_a_number_or_percent(value: object, read: str) -> None:
    assert factor(value, "factor") == Decimal(read)


RULE = '[[rule]]\nname = "a"\nform = "floor"\nroles = ["sub"]\nfactor = 0.1\nof = ["audio_total"]\n'
SUM = RULE.replace("0.1", '"{}"').replace("audio_total", "money")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name = ", "no TOML"),
        (RULE, "name is missing"),
        ('name = "x"\n', r"\[\[rule\]\] table"),
        ('name = "x"\nrules = 1\n' + RULE, "'rules' is not known"),
        ('name = "x"\norder = ["sub", "sub"]\n' + RULE, "'sub' twice"),
        ('name = "x"\n' + RULE + "factr = 1\n", "'factr' is not known; did you mean 'factor'"),
        ('name = "x"\n' + RULE + "loud = 1\n", "'loud' is not known; there are name, form"),
        ('name = "x"\n' + RULE.replace("floor", "flor"), "write floor, cap, presence or fits"),
        ('name = "x"\n' + RULE.replace('roles = ["sub"]\n', ""), "roles is missing"),
        ('name = "x"\n' + RULE.replace("0.1", '"a tenth"'), "write one number"),
        ('name = "x"\n' + RULE.replace("0.1", '"3 EUR"'), "'EUR' is too much"),
        ('name = "x"\n' + RULE.replace('["audio_total"]', "[1]"), "list of words"),
        ('name = "x"\n' + RULE.replace("audio_total", "everything"), "neither a role nor a denominator"),
        ('name = "x"\n' + RULE + RULE, "stands twice"),
        ('name = "x"\n' + SUM.format("50 %"), r"rule 1 \(a\): factor is '50 %', and it is a sum of money"),
        ('name = "x"\n' + SUM.format("1.5 ×"), "write an amount, such as 500"),
    ],
)
def test_what_is_wrong_is_named(text: str, said: str) -> None:
    with pytest.raises(BadRule, match=said):
        parse_rule_set(text, "mine.toml")


def test_a_rule_of_the_dataclass_has_no_key_that_a_file_lacks() -> None:
    made = parse_rule_set('name = "x"\n' + RULE, "file").rules[0]
    assert made == Rule("a", made.form, made.kind, ("sub",), factor=Decimal("0.1"), of=("audio_total",))
