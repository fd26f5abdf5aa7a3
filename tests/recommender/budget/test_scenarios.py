"""Budgets whose verdict is known beforehand, by hand; the rules are the design's (common practice, no source)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.recommender.budget.shopping import (
    ACCESSORIES,
    CENTRE,
    ELECTRONICS,
    MAINS,
    SOUND,
    SUB,
    SURROUNDS,
    budget,
    head,
    line,
)
from triptych.catalog.answers import Answers
from triptych.recommender.money.budget.check import BudgetVerdict, Check, check
from triptych.recommender.money.budget.mend import MendOutcome, mend
from triptych.recommender.money.budget.rules import FILM_FIRST, MUSIC_FIRST
from triptych.recommender.views import BUDGET, CheckedBudget


def result(checked: Check, name: str) -> tuple[object, ...]:
    one = next(one for one in checked.results if one.rule.name == name)
    return one.holds, one.have, one.need, one.short


def test_a_sound_budget_passes_with_every_rule_kept() -> None:
    checked = check(budget(*SOUND))
    assert checked.verdict is BudgetVerdict.PASS
    assert all(one.holds and one.judged for one in checked.results)
    assert (checked.over, checked.missing, checked.advised, checked.cautions) == (0, (), (), ())


def test_a_centre_cheaper_than_one_surround_fails_and_is_told_by_how_much() -> None:
    checked = check(budget(MAINS, line("centre", 250), line("surrounds", 600, "pair"), SUB, ACCESSORIES))
    assert checked.verdict is BudgetVerdict.FAIL
    assert result(checked, "centre_at_least_any_surround") == (False, 25_000, 30_000, 5_000)
    why = next(one.why for one in checked.results if one.rule.name == "centre_at_least_any_surround")
    assert "250.00 EUR" in why
    assert "300.00 EUR" in why
    assert "50.00 EUR short" in why


@pytest.mark.parametrize(
    ("surrounds", "need"),
    [
        (line("surrounds", 600, "pair"), 30_000),
        (line("surrounds", 300, quantity=2), 30_000),
        (line("surrounds", 600, "pair", 2), 30_000),
        (line("surrounds", 900, "lot", more="pieces = 3\ntax_included = true"), 30_000),
        (line("surrounds", 200) + line("surrounds", 300), 30_000),
        (line("surrounds", 200) + line("heights", 700, "pair"), 35_000),
    ],
)
def test_one_surround_is_one_box_however_it_is_sold(surrounds: str, need: int) -> None:
    checked = check(budget(MAINS, line("centre", 250), surrounds, ACCESSORIES))
    assert result(checked, "centre_at_least_any_surround")[2:] == (need, need - 25_000)


def test_a_total_that_is_right_before_tax_and_wrong_after() -> None:
    without = tuple(text.replace("tax_included = true", "tax_included = false") for text in SOUND)
    before = check(budget(*without, top=head(3800, "tax_included = false")))
    after = check(budget(*without, top=head(3800)))
    assert (before.verdict, before.budget.total) == (BudgetVerdict.PASS, 370_000)
    assert (after.verdict, after.budget.total, after.over) == (BudgetVerdict.FAIL, 444_000, 64_000)


def test_a_limit_without_tax_takes_it_off_prices_that_have_it() -> None:
    checked = check(budget(*SOUND, top=head(3100, "tax_included = false\ntax_rate = 20")))
    # 1100 + 600 + 400 + 600 + 800 + 200, each divided by 1.2 and rounded to the cent.
    assert checked.budget.total == 91_667 + 50_000 + 33_333 + 50_000 + 66_667 + 16_667
    assert checked.verdict is BudgetVerdict.PASS


def test_a_line_may_have_a_tax_rate_of_its_own() -> None:
    book = line("calibration", 100, more="tax_included = false\ntax_rate = 5")
    assert budget(book).total == 10_500


def test_a_list_without_cables_and_stands_is_incomplete_and_not_passed() -> None:
    checked = check(budget(MAINS, CENTRE, SURROUNDS, SUB, ELECTRONICS))
    assert (checked.verdict, checked.missing) == (BudgetVerdict.INCOMPLETE, ("accessories",))


def test_accessories_for_nothing_are_still_missing_unless_they_are_owned() -> None:
    nothing = check(budget(*SOUND[:-1], line("accessories", 0)))
    owned = check(budget(*SOUND[:-1], '[[line]]\nrole = "accessories"\nowned = true\n'))
    assert (nothing.verdict, owned.verdict) == (BudgetVerdict.INCOMPLETE, BudgetVerdict.PASS)


def test_fail_comes_before_incomplete_and_both_are_told() -> None:
    checked = check(budget(MAINS, line("centre", 250), SURROUNDS, SUB))
    assert (checked.verdict, checked.missing) == (BudgetVerdict.FAIL, ("accessories",))


def test_a_list_without_a_centre_is_incomplete_and_its_rules_are_not_judged() -> None:
    checked = check(budget(MAINS, SURROUNDS, SUB, ELECTRONICS, ACCESSORIES))
    assert (checked.verdict, checked.missing) == (BudgetVerdict.INCOMPLETE, ("centre",))
    centre = [one for one in checked.results if one.rule.name.startswith("centre")]
    assert [(one.holds, one.judged) for one in centre] == [(True, False), (True, False)]


def test_music_first_reorders() -> None:
    lines = (line("mains", 2000, "pair"), line("centre", 600), SURROUNDS, SUB, ACCESSORIES)
    film, music = check(budget(*lines), FILM_FIRST), check(budget(*lines), MUSIC_FIRST)
    assert (film.verdict, music.verdict) == (BudgetVerdict.FAIL, BudgetVerdict.PASS)
    assert [share.role for share in film.shares] == ["mains", "centre", "accessories", "sub", "surrounds"]
    assert [share.role for share in music.shares] == ["mains", "accessories", "sub", "centre", "surrounds"]


def test_shares_of_both_denominators() -> None:
    checked = check(budget(*SOUND, line("display", 250)))
    assert checked.denominators == {"audio_total": 370_000, "speakers_and_sub": 270_000}
    centre = next(share for share in checked.shares if share.role == "centre")
    assert (centre.of_audio_total, centre.of_speakers_and_sub) == (Fraction(6, 37), Fraction(6, 27))
    display = next(share for share in checked.shares if share.role == "display")
    assert (display.of_audio_total, display.of_speakers_and_sub) == (None, None)


def test_a_sub_outside_its_share_is_pointed_out_with_its_denominator_and_does_not_fail() -> None:
    checked = check(budget(MAINS, CENTRE, SURROUNDS, line("sub", 300), ELECTRONICS, ACCESSORIES))
    # 15 % of 3400.
    assert result(checked, "sub_floor") == (False, 30_000, 51_000, 21_000)
    assert checked.verdict is BudgetVerdict.PASS
    assert "15 % of the audio total" in next(one.why for one in checked.results if one.rule.name == "sub_floor")


def test_a_contingency_that_is_eaten_up_is_pointed_out() -> None:
    checked = check(budget(*SOUND, line("display", 200)))
    assert result(checked, "contingency") == (False, 10_000, 20_000, 10_000)
    assert checked.verdict is BudgetVerdict.PASS


def test_what_is_owned_counts_nothing_and_says_so() -> None:
    owned = '[[line]]\nrole = "mains"\nowned = true\n'
    checked = check(budget(owned, CENTRE, SURROUNDS, SUB, ELECTRONICS, ACCESSORIES))
    assert (checked.verdict, checked.budget.total) == (BudgetVerdict.PASS, 260_000)
    assert any("owned and counts nothing" in caution for caution in checked.cautions)
    assert not next(one for one in checked.results if one.rule.name == "centre_at_least_one_main").judged


def test_an_owned_line_with_a_price_is_still_compared_box_by_box() -> None:
    owned = line("mains", 1400, "pair", more="owned = true\ntax_included = true")
    checked = check(budget(owned, CENTRE, SURROUNDS, SUB, ELECTRONICS, ACCESSORIES))
    assert result(checked, "centre_at_least_one_main") == (False, 60_000, 70_000, 10_000)


def test_a_currency_with_a_rate_is_brought_over() -> None:
    abroad = line("sub", 500, more='currency = "USD"\ntax_included = true')
    assert budget(abroad, top=head() + "[rates]\nUSD = 0.92\n").total == 46_000


def test_a_mend_takes_money_where_it_is_and_puts_it_where_it_is_missing() -> None:
    over = budget(MAINS, line("centre", 400), SURROUNDS, SUB, ELECTRONICS, line("accessories", 700))
    mended = mend(over)
    # The limit is reached: what the centre lacks against one main is 150; a euro off the mains' pair saves half of it.
    assert (mended.outcome, mended.proven) == (MendOutcome.MENDED, True)
    # x from the mains to the centre: 400 + x >= (1100 - x) / 2, so x >= 100.
    assert mended.total_change == 20_000
    assert [(change.words, change.by) for change in mended.changes] == [
        ("take 100.00 EUR from the mains and put it in the centre", 10_000)
    ]


def test_money_that_is_left_mends_without_taking_any_away() -> None:
    mended = mend(budget(MAINS, line("centre", 450), SURROUNDS, SUB, ACCESSORIES))
    assert [change.words for change in mended.changes] == [
        "put 100.00 EUR of what is left of the limit into the centre"
    ]


def test_a_budget_that_keeps_its_musts_has_nothing_to_mend() -> None:
    assert mend(budget(*SOUND)).outcome is MendOutcome.NOTHING_TO_MEND


def test_a_limit_that_fixed_lines_alone_break_is_told_what_would_do() -> None:
    fixed = tuple(f"{text}fixed = true\n" for text in SOUND)
    answer = mend(budget(*fixed, top=head(3000)))
    assert (answer.outcome, answer.limit, answer.changes) == (MendOutcome.ANOTHER_LIMIT, 370_000, ())


def test_fixed_lines_that_break_a_rule_among_themselves_cannot_be_mended_at_any_limit() -> None:
    centre = line("centre", 250) + "fixed = true\n"
    answer = mend(budget(MAINS + "fixed = true\n", centre, ACCESSORIES))
    assert (answer.outcome, answer.limit) == (MendOutcome.NO_LIMIT_WOULD_DO, None)


def test_the_report_has_the_form_of_the_contract() -> None:
    read = budget(MAINS, line("centre", 250), SURROUNDS, SUB, ELECTRONICS)
    report = Answers(BUDGET).plain(CheckedBudget(check(read), mend(read)))
    assert report["verdict"] == "fail"
    assert (report["total"], report["limit"], report["over"]) == (3150.0, 4000.0, 0.0)
    assert report["denominators"] == {"audio_total": 3150.0, "speakers_and_sub": 2350.0}
    assert {"role": "sub", "amount": 600.0, "of_audio_total": 0.190476, "of_speakers_and_sub": 0.255319} in report[
        "shares"
    ]
    assert report["missing"] == ["accessories"]
    first = report["rules"][0]
    assert {key: first[key] for key in ("rule", "kind", "holds", "have", "need", "short")} == {
        "rule": "centre_at_least_one_main",
        "kind": "must",
        "holds": False,
        "have": 250.0,
        "need": 550.0,
        "short": 300.0,
    }
    assert report["mend"] == [{"change": "put 300.00 EUR of what is left of the limit into the centre", "by": 300.0}]
