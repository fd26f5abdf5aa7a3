from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
import sqlalchemy as sa

from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Rule, RuleRole, SpendingOrder
from triptych.catalog.database.rule_sets import (
    RuleRecord,
    RuleSetRecord,
    remove_rule_set,
    rule_set,
    rule_set_names,
    save_rule_set,
)
from triptych.catalog.errors import BadInput, NotFound

FLOOR = RuleRecord(
    "sub_floor", "floor", "should", ("sub",), "all", Decimal("0.1500"), ("audio_total",), "all", "film wants bass"
)
RATIO = RuleRecord(
    "ratio", "cap", "must", ("surrounds", "heights", "wides"), "pair", Decimal("2"), ("centre", "mains"), "one", ""
)
LEFT = RuleRecord("left", "floor", "should", ("contingency",), "all", Decimal("250.05"), ("money",), "all", "")
THERE = RuleRecord("there", "presence", "must", ("accessories",), "all", Decimal(1), (), "all", "")
MINE = RuleSetRecord("Mine", (FLOOR, RATIO, LEFT, THERE), ("centre", "mains", "sub"), "for a den")


def test_a_rule_set_comes_back_as_it_was_saved(engine: sa.Engine) -> None:
    with writing(engine) as session:
        assert save_rule_set(session, MINE)
    with reading(engine) as session:
        assert rule_set(session, "  MINE ") == MINE
        assert rule_set_names(session) == ["Mine"]


def test_a_factor_keeps_every_digit(engine: sa.Engine) -> None:
    exact = replace(FLOOR, factor=Decimal("0.100000000000000000000001"))
    with writing(engine) as session:
        save_rule_set(session, replace(MINE, rules=(exact,)))
        assert rule_set(session, "mine").rules[0].factor == exact.factor


def test_saving_again_changes_nothing_and_another_set_of_the_name_replaces_it(engine: sa.Engine) -> None:
    fewer = replace(MINE, rules=(THERE, FLOOR), order=("mains",), why="")
    with writing(engine) as session:
        save_rule_set(session, MINE)
        assert not save_rule_set(session, MINE)
        assert save_rule_set(session, fewer)
        assert rule_set(session, "mine") == fewer


def test_removing_leaves_no_row_behind(engine: sa.Engine) -> None:
    with writing(engine) as session:
        save_rule_set(session, MINE)
        remove_rule_set(session, "mine")
        for table in (Rule, RuleRole, SpendingOrder):
            assert session.scalar(sa.select(sa.func.count()).select_from(table)) == 0
        with pytest.raises(NotFound, match="no rule set is named 'mine'; there are none"):
            remove_rule_set(session, "mine")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"form": "ratio"}, "'ratio' is none of floor, cap, presence"),
        ({"kind": "may"}, "'may' is none of must, should"),
        ({"roles": ("tweeters",)}, "'tweeters' is none of"),
        ({"measure": "each"}, "'each' is none of one, pair, all"),
    ],
)
def test_a_word_the_database_does_not_know_is_refused_whole(
    engine: sa.Engine, change: dict[str, object], said: str
) -> None:
    wrong = replace(MINE, rules=(THERE, replace(FLOOR, **change)))  # type: ignore[arg-type]  # wrong on purpose
    with writing(engine) as session:
        save_rule_set(session, MINE)
        with pytest.raises(BadInput, match=said):
            save_rule_set(session, wrong)
        assert rule_set(session, "mine") == MINE


def test_a_set_without_a_name_is_refused(engine: sa.Engine) -> None:
    with writing(engine) as session, pytest.raises(BadInput, match="needs a name"):
        save_rule_set(session, replace(MINE, name="  "))
