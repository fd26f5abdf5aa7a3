"""What must fit: each rule at its edge, from closed forms and by hand, and what is not stated."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.money.budget.budget_lines import Budget, BudgetLine
from triptych.recommender.money.budget.check import BudgetVerdict, check
from triptych.recommender.money.budget.errors import BadRule
from triptych.recommender.money.budget.fitting import Asks, Fitting, Gives
from triptych.recommender.money.budget.mend import mend
from triptych.recommender.money.budget.rule_file import parse_rule_set, rule_set_toml
from triptych.recommender.money.budget.rules import FILM_FIRST, RULE_SETS, Duty, Form, Rule, RuleSet, fit

RECEIVER = Gives(
    "receiver", channels=5, processed=7, outputs=2, sub_outputs=1, inputs=2, power=100, power_into=8, lowest_load=6
)
STAND = Gives("stand", bears=20, width=0.25, depth=0.3)
BOX = Asks(load=8, nominal=8, least_power=25, weight=9, width=0.2, depth=0.28)


def line(role: str, pieces: int = 1, **known: Any) -> BudgetLine:
    return BudgetLine(role, 10_000, pieces, known.pop("item", None), **known)


def found(fitting: Fitting, *lines: BudgetLine) -> tuple[bool, str] | None:
    rules = RuleSet("one", (fit(Duty.MUST, "electronics", fitting, "so it is"),))
    results = check(Budget("EUR", 10**7, True, lines), rules).fits
    return (results[0].holds, results[0].why) if results else None


def holds(fitting: Fitting, *lines: BudgetLine) -> bool | None:
    judged = found(fitting, *lines)
    return None if judged is None else judged[0]


FRONT = (line("mains", 2, asks=BOX), line("centre", asks=BOX))
AROUND = line("surrounds", 2, asks=BOX)
UNDER_MAINS = line("accessories", gives=STAND, serves="mains")
DRUM = line("accessories", 20, gives=Gives("speaker_cable", area=1.5, by_metre=True), serves="mains")


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ((*FRONT, AROUND, line("electronics", gives=RECEIVER)), True),
        ((*FRONT, AROUND, line("heights", 1), line("electronics", gives=RECEIVER)), False),
        ((*FRONT, AROUND, line("heights", 2), line("electronics", gives=RECEIVER),
          line("electronics", gives=Gives("amplifier", channels=2))), True),
        # five and two drive seven, but eight are more than it decodes for
        ((*FRONT, AROUND, line("heights", 3), line("electronics", gives=RECEIVER),
          line("electronics", gives=Gives("amplifier", channels=5))), False),
        # without outputs no amplifier helps
        ((*FRONT, AROUND, line("heights", 2), line("electronics", gives=replace(RECEIVER, outputs=0)),
          line("electronics", gives=Gives("amplifier", channels=2))), False),
        # a subwoofer has its own amplifier, but needs an output
        ((*FRONT, line("sub", 2), line("electronics", gives=RECEIVER)), True),
        ((*FRONT, line("sub"), line("electronics", gives=replace(RECEIVER, sub_outputs=0))), False),
        ((*FRONT, line("electronics", 2, gives=Gives("amplifier", channels=2))), True),
        ((*FRONT, line("electronics", gives=Gives("amplifier", channels=2))), False),
        ((*FRONT, line("electronics", gives=Gives("receiver"))), None),
        ((*FRONT, line("electronics", item="something")), None),
    ],
)  # fmt: skip
def test_channels(lines: tuple[BudgetLine, ...], said: bool | None) -> None:
    assert holds(Fitting.CHANNELS, *lines) is said


def test_the_lowest_load_of_all_that_is_chosen_counts() -> None:
    electronics = line("electronics", gives=RECEIVER, owned=True)
    assert holds(Fitting.LOAD, *FRONT, electronics) is True
    low = line("surrounds", 2, asks=replace(BOX, load=4.0), item="Low")
    judged = found(Fitting.LOAD, *FRONT, low, electronics)
    assert judged == (False, "the surrounds (Low) are a load of 4 ohm; the electronics is rated down to 6")
    assert holds(Fitting.LOAD, replace(low, asks=Asks()), electronics) is None


def test_what_passes_tells_the_lowest_load_and_who_asks_for_most() -> None:
    """3.9 and 3.6 ohm at the lowest are 0.8 of 4.875 and 4.5 (design: how a nominal figure is read)."""
    mains = line("mains", 2, asks=replace(BOX, load=3.9 / 0.8, minimum=3.9))
    centre = line("centre", asks=replace(BOX, load=3.6 / 0.8, minimum=3.6, least_power=40))
    for lines in ((mains, centre), (centre, mains)):
        drives = line("electronics", gives=replace(RECEIVER, lowest_load=4))
        assert found(Fitting.LOAD, *lines, drives) == (
            True,
            "the centre falls to 3.6 ohm at the lowest and asks for an amplifier rated for 4.5, which may see 0.8 of "
            "that; the electronics is rated down to 4",
        )
        judged = found(Fitting.POWER, *lines, drives)
        assert judged is not None
        assert judged[0]
        assert "of the centre, for which 40 W are the least advised" in judged[1]


def test_a_load_that_its_lowest_impedance_makes_says_so() -> None:
    """6.3 ohm at its lowest may be 0.8 of what it is rated for (design: how a nominal figure is read): 7.875."""
    dips = replace(BOX, load=6.3 / 0.8, minimum=6.3)
    judged = found(Fitting.LOAD, line("mains", 2, asks=dips), line("electronics", gives=RECEIVER))
    assert judged is not None
    assert (
        "fall to 6.3 ohm at the lowest and ask for an amplifier rated for 7.87, which may see 0.8 of that" in judged[1]
    )
    judged = found(Fitting.LOAD, line("mains", 2, asks=replace(BOX, minimum=6.4)), line("electronics", gives=RECEIVER))
    assert judged is not None
    assert "a load of 8 ohm; " in judged[1]


def test_power_is_that_into_the_loudspeaker() -> None:
    """100 W into 8 ohm is 28.3 V, so 200 W into 4 (Ohm's law)."""
    electronics = line("electronics", gives=RECEIVER)
    enough = line("mains", 2, asks=replace(BOX, nominal=4.0, least_power=200.0))
    assert holds(Fitting.POWER, enough, electronics) is True
    more = replace(enough, asks=replace(BOX, nominal=4.0, least_power=200.1))
    assert holds(Fitting.POWER, more, electronics) is False


def test_stands_bear_twice_hold_the_box_and_are_enough() -> None:
    under = line("accessories", 2, gives=STAND, serves="mains")
    assert holds(Fitting.BEARING, FRONT[0], under) is True
    assert holds(Fitting.BEARING, FRONT[0], replace(under, pieces=1)) is False
    assert holds(Fitting.BEARING, line("mains", 2, asks=replace(BOX, weight=10.1)), under) is False
    wide = line("mains", 2, asks=replace(BOX, width=0.26))
    judged = found(Fitting.BEARING, wide, under)
    assert judged == (False, "the mains is 260 mm wide and 280 mm deep, more than the accessories holds")
    assert holds(Fitting.BEARING, FRONT[0], replace(under, serves="")) is None
    assert holds(Fitting.BEARING, FRONT[0], replace(under, gives=Gives("mount", bears=17.9))) is False


def test_cables_reach_are_enough_and_thick_enough() -> None:
    """10 m there and back of 1.5 mm2 are 0.23 ohm (IEC 60028): under 5 % of 8 ohm, over 5 % of 4."""
    fed = line("mains", 2, asks=BOX, run=10.0)
    drum = line("accessories", 20, gives=Gives("speaker_cable", area=1.5, by_metre=True), serves="mains")
    assert holds(Fitting.CABLES, fed, drum) is True
    assert holds(Fitting.CABLES, fed, replace(drum, pieces=19)) is False
    assert holds(Fitting.CABLES, replace(fed, asks=replace(BOX, nominal=4.0)), drum) is False
    pieces = line("accessories", 2, gives=Gives("speaker_cable", area=1.5, length=9.9), serves="mains")
    assert holds(Fitting.CABLES, fed, pieces) is False
    assert holds(Fitting.CABLES, fed, replace(pieces, gives=replace(pieces.gives, length=10.0))) is True  # type: ignore[type-var]
    sub = line("sub", run=5.0)
    assert holds(Fitting.CABLES, sub, line("accessories", gives=Gives("sub_cable", length=5.0), serves="sub")) is True
    assert holds(Fitting.CABLES, replace(fed, run=None), drum) is None


def test_sources_need_inputs() -> None:
    electronics = line("electronics", gives=RECEIVER)
    assert holds(Fitting.INPUTS, electronics, line("electronics", 2, gives=Gives("source"))) is True
    assert holds(Fitting.INPUTS, electronics, line("electronics", 3, gives=Gives("source"))) is False


def test_what_does_not_fit_fails_and_no_money_mends_it() -> None:
    lines = (
        line("mains", 2, asks=replace(BOX, load=4.0)),
        line("centre"),
        line("accessories"),
        line("electronics", gives=RECEIVER),
    )
    budget = Budget("EUR", 10**7, True, lines)
    judged = check(budget)
    assert [one.rule.name for one in judged.misfits] == ["load_fit"]
    assert (judged.verdict, judged.broken) == (BudgetVerdict.FAIL, ())
    told = "; no other price mends what does not fit: for the load, an amplifier rated down to 4 ohm, or "
    assert mend(budget).words.endswith(f"{told}the mains of 6 and more")


@pytest.mark.parametrize(
    ("fitting", "lines", "told", "bought"),
    [
        (Fitting.CHANNELS, (*FRONT, AROUND, line("heights", 1), line("electronics", gives=RECEIVER)),
         "a receiver of 6 channels, or amplifiers of 1 channel more",
         [line("electronics", gives=Gives("amplifier", channels=1))]),
        (Fitting.POWER, (*FRONT, line("electronics", gives=replace(RECEIVER, power=20))),
         "an amplifier of 25 W into 8 ohm", None),
        (Fitting.BEARING, (line("surrounds", 4, asks=BOX), line("accessories", 2, gives=STAND, serves="surrounds")),
         "2 more stands or mounts for the surrounds", [line("accessories", 2, gives=STAND, serves="surrounds")]),
        (Fitting.BEARING, (line("mains", asks=replace(BOX, weight=10.1)), UNDER_MAINS),
         "what bears the mains and may bear 20.2 kg", None),
        (Fitting.CABLES, (line("mains", 2, asks=BOX, run=10.0), replace(DRUM, pieces=13)),
         "7 m more of cable for the mains", [replace(DRUM, pieces=7)]),
        (Fitting.INPUTS, (line("electronics", gives=RECEIVER), line("electronics", 3, gives=Gives("source"))),
         "a receiver with 3 inputs", None),
    ],
)  # fmt: skip
def test_what_is_told_to_buy_makes_it_fit(
    fitting: Fitting, lines: tuple[BudgetLine, ...], told: str, bought: list[BudgetLine] | None
) -> None:
    rules = RuleSet("one", (fit(Duty.MUST, "electronics", fitting, "so it is"),))
    judged = check(Budget("EUR", 10**7, True, lines), rules).fits[0]
    assert (judged.holds, judged.mends) == (False, (told,))
    if bought is not None:
        assert holds(fitting, *lines, *bought) is True


def test_a_should_on_what_fits_fails_nothing() -> None:
    lines = (line("mains", 2, asks=replace(BOX, least_power=500.0)), line("electronics", gives=RECEIVER))
    rules = RuleSet("x", (fit(Duty.SHOULD, "electronics", Fitting.POWER, ""),))
    judged = check(Budget("EUR", 10**7, True, lines), rules)
    assert (judged.verdict, judged.fits[0].holds) == (BudgetVerdict.PASS, False)


@given(st.sampled_from(list(RULE_SETS.values())))
def test_rules_on_what_fits_read_back_from_their_file(rules: RuleSet) -> None:
    assert parse_rule_set(rule_set_toml(rules), "file") == rules
    assert {rule.fitting for rule in rules.rules} == {None, *Fitting}


def test_a_rule_on_what_fits_says_what() -> None:
    with pytest.raises(BadRule, match="of is shelves; name one of channels, load"):
        Rule("a", Form.FITS, Duty.MUST, ("electronics",), of=("shelves",))
    with pytest.raises(BadRule, match="no measure and no factor"):
        replace(FILM_FIRST.rules[-1], factor=2)  # type: ignore[arg-type]
