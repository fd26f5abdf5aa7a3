"""Amplifier, level, trim, money, supply and hazard."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.recommender.scenes import box, drive, mains, place, purse, seats
from triptych.recommender.judge.gates import drive as gates
from triptych.recommender.judge.gates import terms
from triptych.recommender.judge.verdicts import GateVerdicts, Verdict
from triptych.recommender.scene.aiming import aim
from triptych.recommender.scene.arrays import Life, SensitivityCode, Sold
from triptych.recommender.scene.levels import levels, trims


def verdict(verdicts: GateVerdicts) -> Verdict:
    return Verdict(int(verdicts.verdict[0]))


def level(distance: float = 3.0, amplifier: dict[str, float] | None = None, **changed: object) -> GateVerdicts:
    boxes, chain = box(**changed), drive(**(amplifier or {}))
    site, where = place("stand", base=0.935, front=0.0), seats(distance=distance)
    return gates.level(boxes, chain, levels(boxes, aim(boxes, site, where), where, chain).peaks)


def trim(**changed: object) -> GateVerdicts:
    boxes = box(**changed)
    site, where = place("stand", base=0.935, front=0.45), seats()
    return gates.trim(drive(), trims(levels(boxes, aim(boxes, site, where), where, drive()), mains(), where)).take(0)


@pytest.mark.parametrize(
    ("nominal", "minimum", "expected"),
    [
        (8.0, 6.4, Verdict.PASS),
        (6.0, 4.8, Verdict.PASS),
        (4.0, 3.2, Verdict.FAIL),
        (8.0, 4.0, Verdict.FAIL),
        (8.0, np.nan, Verdict.CONDITIONAL),
        (np.nan, 5.0, Verdict.CONDITIONAL),
        (np.nan, np.nan, Verdict.UNKNOWN),
    ],
)
def test_impedance_on_an_amplifier_rated_down_to_six_ohm(nominal: float, minimum: float, expected: Verdict) -> None:
    # minimum not under 0.8 of nominal: IEC 60268-5, from memory
    assert verdict(gates.amplifier(box(impedance_nominal=nominal, impedance_minimum=minimum), drive())) is expected


def test_a_minimum_below_the_load_an_amplifier_is_rated_for_is_told_beside_what_it_may_see() -> None:
    """0.8 of 4 ohm is 3.2 (IEC 60268-5, from memory)."""
    told = gates.amplifier(box(impedance_nominal=8.0, impedance_minimum=3.6), drive(lowest_load=4.0))
    assert verdict(told) is Verdict.PASS
    assert told.why(0) == "8.0 ohm nominal, 3.6 ohm minimum; an amplifier rated down to 4.0 ohm may see 3.2"


def test_an_amplifier_of_unknown_lowest_load_is_a_condition_below_its_rated_load() -> None:
    unrated = drive(lowest_load=np.nan)
    assert verdict(gates.amplifier(box(impedance_nominal=4.0), unrated)) is Verdict.CONDITIONAL
    assert verdict(gates.amplifier(box(impedance_nominal=8.0), unrated)) is Verdict.PASS


@pytest.mark.parametrize(
    ("missing", "told"),
    [("power", "[amplifier] power"), ("into", "[amplifier] into"), ("target_peak", "[listening] target_peak")],
)
def test_an_unjudged_level_names_the_one_key_that_is_missing(missing: str, told: str) -> None:
    judged = level(amplifier={missing: np.nan})
    assert verdict(judged) is Verdict.CONDITIONAL
    for words in (judged.why(0), judged.question(0)):
        assert (told in words, words.count("([")) == (True, 1)


def test_peak_level_at_the_seat_is_the_trades_formula() -> None:
    # S + 20 log10(V/2.83) - 20 log10 r + G; S 86, r 3.5 m, G 3, T 95 -> 19.8 V, 49 W into 8 ohm (trade practice 4l)
    watts = {"power": 19.8**2 / 8}
    judged = level(3.5, watts, sensitivity=86.0)
    assert judged.margin[0] == pytest.approx(0.0, abs=0.02)


@given(distance=st.floats(1.0, 8.0))
def test_doubling_the_distance_costs_six_decibels(distance: float) -> None:
    # 20 log10 2 = 6.0206 dB, spherical spreading, closed form
    assert level(distance).margin[0] - level(2 * distance).margin[0] == pytest.approx(6.0206, abs=1e-4)


@given(sensitivity=st.floats(75, 100), more=st.floats(0, 10))
def test_more_sensitivity_never_turns_pass_into_fail(sensitivity: float, more: float) -> None:
    assert level(sensitivity=sensitivity + more).verdict[0] <= level(sensitivity=sensitivity).verdict[0]


def test_short_of_the_target_says_by_how_much() -> None:
    judged = level(sensitivity=78.0)
    assert verdict(judged) is Verdict.FAIL
    assert f"{-judged.margin[0]:.1f} dB short" in judged.why(0)


def test_a_sensitivity_of_unknown_basis_waits_only_where_it_decides() -> None:
    needed = 88.0 - float(level(sensitivity=88.0).margin[0])
    assert verdict(level(sensitivity=needed + 3, basis=SensitivityCode.UNKNOWN)) is Verdict.UNKNOWN
    assert verdict(level(sensitivity=needed + 7, basis=SensitivityCode.UNKNOWN)) is Verdict.PASS
    assert verdict(level(sensitivity=needed - 1, basis=SensitivityCode.UNKNOWN)) is Verdict.FAIL


def test_an_unstated_sensitivity_neither_passes_nor_fails() -> None:
    judged = level(5.0, sensitivity=np.nan)
    assert verdict(judged) is Verdict.UNKNOWN
    assert "sensitivity" in judged.question(0)


def test_power_handling_limits_the_voltage() -> None:
    # 95 W into 8 ohm against a box for 47.5 W: 3.0103 dB less, closed form
    assert level().margin[0] - level(power_handling=47.5).margin[0] == pytest.approx(3.0103, abs=1e-4)


def test_trim_brings_the_centre_to_the_mains() -> None:
    quieter, louder = trim(sensitivity=84.0), trim(sensitivity=92.0)
    assert quieter.numbers["trim"][0] - louder.numbers["trim"][0] == pytest.approx(8.0)
    assert quieter.numbers["trim"][0] > 0


@pytest.mark.parametrize(
    ("sensitivity", "expected"), [(88.0, Verdict.PASS), (79.0, Verdict.CONDITIONAL), (74.0, Verdict.FAIL)]
)
def test_trim_warns_beyond_six_decibels_and_fails_beyond_the_range(sensitivity: float, expected: Verdict) -> None:
    assert verdict(trim(sensitivity=sensitivity)) is expected


@pytest.mark.parametrize(
    ("price", "taxed", "expected"),
    [
        (700.0, 1, Verdict.PASS),
        (700.01, 1, Verdict.FAIL),
        (583.33, 0, Verdict.PASS),
        (584.0, 0, Verdict.FAIL),
        (np.nan, 1, Verdict.UNKNOWN),
        (700.0, -1, Verdict.CONDITIONAL),
        (701.0, -1, Verdict.FAIL),
    ],
)
def test_money_is_compared_on_one_tax_basis(price: float, taxed: int, expected: Verdict) -> None:
    # 20 % of tax: 583.33 x 1.2 = 699.996, 584 x 1.2 = 700.80
    assert verdict(terms.money(box(price=price, price_taxed=taxed), purse())) is expected


def test_a_price_before_tax_without_a_rate_waits_unless_it_is_over_already() -> None:
    assert verdict(terms.money(box(price=650.0, price_taxed=0, tax_rate=np.nan), purse())) is Verdict.UNKNOWN
    assert verdict(terms.money(box(price=701.0, price_taxed=0, tax_rate=np.nan), purse())) is Verdict.FAIL


def test_another_currency_is_never_compared() -> None:
    assert verdict(terms.money(box(currency=1), purse())) is Verdict.UNKNOWN


def test_pairs_only_is_no_centre() -> None:
    assert verdict(terms.supply(box(sold=Sold.PAIR), in_stock=False)) is Verdict.FAIL
    untold = box(sold=Sold.UNKNOWN, usually_pairs=True)
    assert verdict(terms.supply(untold, in_stock=False)) is Verdict.CONDITIONAL


@pytest.mark.parametrize(("available", "expected"), [(1.0, Verdict.PASS), (0.0, Verdict.FAIL), (np.nan, Verdict.FAIL)])
def test_asked_from_stock_one_must_be_there(available: float, expected: Verdict) -> None:
    assert verdict(terms.supply(box(available=available), in_stock=True)) is expected


def test_a_discontinued_model_is_a_condition() -> None:
    judged = terms.supply(box(life=Life.DISCONTINUED, available=2.0), in_stock=True)
    assert verdict(judged) is Verdict.CONDITIONAL
    assert "2 left" in judged.why(0)


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({"wall": "masonry"}, Verdict.PASS),
        ({"wall": "stud"}, Verdict.CONDITIONAL),
        ({"wall": "plasterboard"}, Verdict.UNKNOWN),
        ({"wall": "unknown"}, Verdict.UNKNOWN),
        ({"wall": ""}, Verdict.UNKNOWN),
        ({"wall": "masonry", "hot": "unknown"}, Verdict.UNKNOWN),
        ({"wall": "masonry", "hot": "yes"}, Verdict.UNKNOWN),
    ],
)
def test_walls_and_heat_wait_until_a_person_has_answered(changed: dict[str, str], expected: Verdict) -> None:
    judged = terms.hazard(box(), place("wall", **changed))
    assert verdict(judged) is expected
    assert bool(judged.question(0)) is (expected is Verdict.UNKNOWN)


def test_a_light_box_may_hang_on_plain_plasterboard() -> None:
    assert verdict(terms.hazard(box(weight=2.0), place("wall", wall="plasterboard"))) is Verdict.PASS


@pytest.mark.parametrize(
    ("taxed", "currency", "asked"),
    [
        (-1, 0, "Is tax in its price?"),
        (1, -1, "In which currency is its price?"),
        (-1, -1, "In which currency is its price, and is tax in it?"),
        (1, 0, ""),
    ],
)
def test_of_a_price_only_what_nobody_said_is_asked(taxed: int, currency: int, asked: str) -> None:
    assert terms.money(box(price=500.0, price_taxed=taxed, currency=currency), purse()).question(0) == asked
