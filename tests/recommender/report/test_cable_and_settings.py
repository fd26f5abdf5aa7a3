from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.physics.wire import area_needed
from triptych.recommender.report.cable import (
    GAUGES,
    WIRE_SECTIONS,
    centre_length,
    gauge_area,
    main_length,
    run,
)
from triptych.recommender.report.settings import settings

# The longest run at 5 % of the nominal impedance [m], 4 ohm and 8 ohm, as the trade's tables give it (common practice).
TRADE = {18: (4.8, 9.5), 16: (7.6, 15.0), 14: (12.0, 24.0), 12: (19.0, 38.0)}


@pytest.mark.parametrize(("gauge", "longest"), TRADE.items())
def test_the_longest_run_of_a_gauge_is_the_trades(gauge: int, longest: tuple[float, float]) -> None:
    for ohm, length in zip((4.0, 8.0), longest, strict=True):
        assert gauge_area(gauge) / area_needed(1.0, ohm) == pytest.approx(length, rel=0.03)


def test_gauges_have_the_cross_sections_of_the_standard() -> None:
    # ASTM B258 (from memory): AWG 18 0.823 mm², 14 2.08 mm², 12 3.31 mm², 10 5.26 mm²
    for gauge, area in {18: 0.823, 14: 2.08, 12: 3.31, 10: 5.26}.items():
        assert gauge_area(gauge) == pytest.approx(area, rel=0.005)


@given(st.floats(1.0, 30.0), st.sampled_from([3.0, 4.0, 6.0, 8.0]))
def test_the_cable_named_is_enough_and_the_next_thinner_is_not(length: float, ohm: float) -> None:
    found = run("Centre", length, ohm, None)
    assert length - 1e-6 <= found.length < length + 0.5 + 1e-6
    if not found.enough:
        return
    needed = area_needed(found.length, ohm)
    assert found.area >= needed
    thinner = [area for area in WIRE_SECTIONS if area < found.area]
    assert not thinner or thinner[-1] < needed
    assert gauge_area(found.gauge) >= needed or found.gauge == GAUGES[-1]


def test_an_impedance_nobody_states_is_taken_low_and_said_to_be() -> None:
    assert (run("x", 3, None, None).ohm, run("x", 3, None, None).stated) == (4.0, False)
    assert (run("x", 3, None, 3.2).ohm, run("x", 3, None, 3.2).stated) == (4.0, True)


def test_a_main_farther_aside_takes_a_longer_cable() -> None:
    assert main_length(3.0, 0.45, 0.5) == pytest.approx(main_length(2.0, 0.45, 0.5) + 0.5)
    assert centre_length(None, 0.3) == centre_length(1.0, 0.3)


def test_what_arrives_first_waits_for_the_farthest() -> None:
    # 0.343 m at 343 m/s is 1 ms
    found = settings({"left": 2.843, "centre": 2.5, "right": 2.843}, -0.93, 80.0)
    delays = {channel.name: channel.delay for channel in found.channels}
    assert delays["left"] == delays["right"] == 0.0
    assert delays["centre"] == pytest.approx(1.0, abs=0.002)
    assert [channel.trim for channel in found.channels] == [0.0, -1.0, 0.0]


@pytest.mark.parametrize(("advised", "entered"), [(80.0, 80.0), (81.0, 90.0), (104.0, 110.0)])
def test_the_crossover_is_rounded_up_to_what_menus_offer(advised: float, entered: float) -> None:
    assert settings({}, None, advised).crossover == entered


def test_what_is_not_known_stays_unknown() -> None:
    found = settings({"left": 2.8, "centre": None, "right": 2.8}, None, None)
    assert found.crossover is None
    centre = found.channels[1]
    assert (centre.distance, centre.delay, centre.trim) == (None, None, None)
