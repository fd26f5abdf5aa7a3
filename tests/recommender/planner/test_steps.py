"""Money in steps."""

from __future__ import annotations

import numpy as np

from triptych.recommender.money.budget.rules import FILM_FIRST, MUSIC_FIRST, SMALL_ROOM
from triptych.recommender.money.planner.problem import Candidates, PlanProblem
from triptych.recommender.money.planner.solve import solve
from triptych.recommender.money.planner.steps import order_to_buy

MAINS = Candidates("mains", np.array([1000, 1500]), np.array([3.0, 5.0]))
CENTRE = Candidates("centre", np.array([400, 700]), np.array([2.0, 3.0]))
SURROUNDS = Candidates("surrounds", np.array([300]), np.array([1.0]))
SUB = Candidates("sub", np.array([500]), np.array([1.0]))
CHOICE = PlanProblem(MAINS, CENTRE, (SURROUNDS, SUB), 2500)


def test_what_plays_comes_first_and_then_the_rule_set_decides() -> None:
    system = solve(CHOICE).systems[0]
    bought = {rules.name: [one.role for one in order_to_buy(CHOICE, system, rules.order)] for rules in
              (FILM_FIRST, MUSIC_FIRST, SMALL_ROOM)}  # fmt: skip
    assert bought == {
        "film-first": ["mains", "centre", "sub", "surrounds"],
        "music-first": ["mains", "centre", "sub", "surrounds"],
        "small-room": ["mains", "centre", "sub", "surrounds"],
    }


def test_music_first_may_leave_the_centre_for_later() -> None:
    system = solve(CHOICE).systems[0]
    roles = [one.role for one in order_to_buy(CHOICE, system, MUSIC_FIRST.order, first=("mains",))]
    assert roles == ["mains", "sub", "centre", "surrounds"]


def test_each_purchase_waits_for_the_step_that_pays_for_it() -> None:
    system = solve(CHOICE).systems[0]
    bought = order_to_buy(CHOICE, system, FILM_FIRST.order, steps=(1000, 700, 700))
    assert [(one.role, one.together, one.step) for one in bought] == [
        ("mains", 1000, 0),
        ("centre", 1700, 1),
        ("sub", 2200, 2),
        ("surrounds", 2500, None),
    ]


def test_there_is_an_amplifier_with_cables_before_anything_that_it_drives() -> None:
    roles = ("mains", "centre", "sub", "electronics", "accessories")
    one = {role: Candidates(role, np.array([100]), np.zeros(1)) for role in roles}
    choice = PlanProblem(one["mains"], one["centre"], tuple(one[role] for role in roles[2:]), 1000)
    bought = order_to_buy(choice, solve(choice).systems[0], SMALL_ROOM.order)
    assert [purchase.role for purchase in bought] == ["electronics", "accessories", "mains", "centre", "sub"]
