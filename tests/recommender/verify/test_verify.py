from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import example_count
from tests.recommender.verify.in_room import FLAT, GRID, ROOM, comb, hole, measured
from triptych.recommender.physics.checks import OutOfRange
from triptych.recommender.verify.filters import BOOST, CUT, TILT, Filter, Shape, fit
from triptych.recommender.verify.trio import SeatCurve, trio
from triptych.recommender.verify.verification import Predicted, verify

BAND = (GRID >= 200) & (GRID <= 10000)


@pytest.mark.parametrize("kind", [Shape.LOW_SHELF, Shape.HIGH_SHELF])
@pytest.mark.parametrize("gain", [-6.0, 3.0])
def test_a_shelf_has_its_whole_gain_at_its_end_and_half_of_it_at_its_corner(kind: Shape, gain: float) -> None:
    # closed form: the limits of the transfer function at 0 and at infinity, and A at the corner
    shelf = Filter(kind, 1000.0, gain)
    low, corner, high = shelf.level(np.array([1.0, 1000.0, 1e6]))
    ends = (low, high) if kind is Shape.LOW_SHELF else (high, low)
    np.testing.assert_allclose(ends, [gain, 0.0], atol=1e-3)
    assert corner == pytest.approx(gain / 2, abs=1e-9)


def test_a_bell_has_its_gain_in_the_middle_and_none_far_away() -> None:
    assert Filter(Shape.BELL, 800.0, -4.0, 1.0).level(np.array([1.0, 800.0, 1e6])) == pytest.approx(
        [0, -4, 0], abs=1e-3
    )


def test_a_tilt_turns_about_its_frequency() -> None:
    tilted = Filter(Shape.TILT, 1000.0, 0.5).level(np.array([500.0, 1000.0, 4000.0]))
    assert tilted == pytest.approx([-0.5, 0.0, 1.0])


@pytest.mark.whole
@settings(max_examples=example_count(1 / 5))
@given(st.floats(-11.0, 11.0))
def test_a_pure_level_offset_gives_that_trim_and_nothing_else(offset: float) -> None:
    found = verify([measured(FLAT - offset)])
    assert found.trim == pytest.approx(offset, abs=0.01)
    assert found.correction.filters == ()
    assert found.correction.level == pytest.approx(offset, abs=0.01)
    assert found.dips == ()
    assert found.timbre == pytest.approx(0.0, abs=0.01)
    assert {band.verdict for band in found.seats[0].bands} == {"alike"}


def test_the_mains_are_the_mean_power_of_the_two() -> None:
    # 0 dB and 6.02 dB: powers 1 and 4, mean 2.5, 3.98 dB
    found = verify([measured(FLAT, left=FLAT, right=FLAT + 20 * np.log10(2.0))])
    assert found.trim == pytest.approx(10 * np.log10(2.5), abs=0.01)


@pytest.mark.whole
@pytest.mark.parametrize(
    ("kind", "corner", "gain"),
    [
        (Shape.HIGH_SHELF, 4000.0, -3.0),
        (Shape.HIGH_SHELF, 2500.0, 3.0),
        (Shape.LOW_SHELF, 400.0, -4.0),
        (Shape.LOW_SHELF, 600.0, 3.5),
        (Shape.BELL, 1000.0, -4.0),
        (Shape.BELL, 2800.0, 3.0),
        (Shape.TILT, 1000.0, -0.8),
    ],
)
def test_a_known_mismatch_is_found_and_mended(kind: Shape, corner: float, gain: float) -> None:
    known = Filter(kind, corner, gain, 1.0 if kind is Shape.BELL else 0.5**0.5)
    found = verify([measured(-known.level(GRID))]).correction
    (one,) = found.filters
    assert one.kind is kind
    assert one.frequency == pytest.approx(corner, rel=0.08)
    assert one.gain == pytest.approx(gain, abs=0.25)
    assert found.rms_after < 0.15 < found.rms_before


@pytest.mark.whole
def test_two_mismatches_take_two_filters() -> None:
    first, second = Filter(Shape.LOW_SHELF, 350.0, -4.0), Filter(Shape.HIGH_SHELF, 5000.0, 3.0)
    found = verify([measured(-first.level(GRID) - second.level(GRID))]).correction
    assert {one.kind for one in found.filters} == {Shape.LOW_SHELF, Shape.HIGH_SHELF}
    assert found.rms_after < 0.2


@pytest.mark.whole
def test_a_correction_stays_within_its_bounds_and_says_what_is_left() -> None:
    far = Filter(Shape.HIGH_SHELF, 3000.0, 12.0)
    found = verify([measured(-far.level(GRID))]).correction
    assert max(one.gain for one in found.filters if one.kind is not Shape.TILT) <= BOOST + 1e-9
    assert found.rms_after > 0.5


@pytest.mark.examples
@settings(max_examples=example_count(1 / 5))
@given(st.integers(0, 50))
def test_no_filter_ever_leaves_its_bounds(seed: int) -> None:
    steps = np.random.default_rng(seed).normal(0, 1.2, 12)
    wanted = np.interp(np.log(GRID[BAND]), np.linspace(np.log(200), np.log(10000), 12), np.cumsum(steps))
    for one in fit(GRID[BAND], wanted, np.ones(BAND.sum(), dtype=bool)).filters:
        limit = (-TILT, TILT) if one.kind is Shape.TILT else (-CUT, BOOST)
        assert limit[0] - 1e-9 <= one.gain <= limit[1] + 1e-9


def test_a_null_is_told_and_not_filled() -> None:
    found = verify([measured(hole(1500.0, 18.0, 0.15))])
    assert found.correction.filters == ()
    (dip,) = found.dips
    assert dip.frequency == pytest.approx(1500.0, rel=0.03)
    assert dip.depth > 6.0
    assert dip.moves is None


def test_a_null_that_the_mains_have_too_is_the_rooms() -> None:
    null = hole(1500.0, 18.0, 0.15)
    assert verify([measured(null, null, null)]).dips == ()


def test_a_null_that_moves_with_the_seat_is_told_apart_from_one_that_stays() -> None:
    stays, here, there = hole(800.0, 15.0, 0.2), hole(2000.0, 15.0, 0.2), hole(2800.0, 15.0, 0.2)
    found = verify([measured(stays + here), measured(stays + there, seat="end")])
    moves = {round(dip.frequency, -2): dip.moves for dip in found.dips}
    assert moves == {800.0: False, 2000.0: True}
    assert next(dip for dip in found.dips if dip.moves).elsewhere == ("end",)


@pytest.mark.whole
def test_a_broad_trough_is_no_null() -> None:
    found = verify([measured(hole(1000.0, 4.0, 1.5))])
    assert found.dips == ()
    assert [one.kind for one in found.correction.filters] == [Shape.BELL]


@pytest.mark.whole
@pytest.mark.parametrize("notch", [700.0, 1420.0, 2600.0])
def test_the_predicted_bounce_shows_where_it_was_predicted(notch: float) -> None:
    (sign,) = verify([measured(comb(notch))], Predicted(bounce=notch * 1.05)).signs
    assert sign.shows
    assert sign.found == pytest.approx(notch, rel=0.04)


@pytest.mark.whole
def test_a_bounce_that_is_not_there_does_not_show() -> None:
    (sign,) = verify([measured(FLAT)], Predicted(bounce=1420.0)).signs
    assert sign.shows is False
    (sign,) = verify([measured(comb(1420.0))], Predicted(bounce=700.0)).signs
    assert sign.shows is False


def test_what_the_mains_do_too_is_not_the_placement() -> None:
    (sign,) = verify([measured(comb(1420.0), comb(1420.0), comb(1420.0))], Predicted(bounce=1420.0)).signs
    assert sign.shows is False
    assert sign.mains_too


@pytest.mark.whole
def test_a_bay_resonance_shows_as_a_rise() -> None:
    rise = -hole(110.0, 7.0, 0.4)
    (sign,) = verify([measured(rise)], Predicted(bay=120.0)).signs
    assert sign.shows
    assert sign.found == pytest.approx(110.0, rel=0.05)
    (sign,) = verify([measured(FLAT)], Predicted(bay=120.0)).signs
    assert sign.shows is False


def test_where_the_curves_do_not_reach_nothing_is_said() -> None:
    short = GRID >= 250
    cut = trio("middle", *(SeatCurve(GRID[short], ROOM[short]) for _ in range(3)))
    found = verify([cut], Predicted(bay=120.0))
    assert found.signs[0].shows is None
    assert [band.band for band in found.seats[0].bands] == ["speech", "above"]


@pytest.mark.whole
def test_promises_are_kept_within_their_ranges() -> None:
    tilted = Filter(Shape.HIGH_SHELF, 2000.0, -5.0).level(GRID)
    told = Predicted(trim=2.0, timbre=0.8, timbre_high=1.0)
    kept = {promise.what: promise.met for promise in verify([measured(FLAT - 1.5)], told).promises}
    assert kept == {"trim": True, "timbre": True}
    missed = verify([measured(FLAT - 4.0)], told).promises
    assert [promise.met for promise in missed] == [False, True]
    with_trim_set = verify([measured(FLAT)], told, trim_set=2.0).promises
    assert with_trim_set[0].measured == pytest.approx(2.0, abs=0.01)
    coloured = verify([measured(tilted)], told).promises
    assert coloured[1].met is False


def test_curves_that_miss_the_speech_band_are_refused() -> None:
    short = GRID <= 2000
    with pytest.raises(OutOfRange, match=r"300 Hz to 3\.4 kHz"):
        trio("middle", *(SeatCurve(GRID[short], ROOM[short]) for _ in range(3)))


@pytest.mark.whole
def test_the_trim_does_not_depend_on_how_finely_a_curve_was_measured() -> None:
    coarse = np.geomspace(20.0, 20000.0, 240)
    level = np.interp(np.log(coarse), np.log(GRID), ROOM - 2.5)
    found = verify([trio("middle", SeatCurve(GRID, ROOM), SeatCurve(coarse, level), SeatCurve(GRID, ROOM))])
    assert found.trim == pytest.approx(2.5, abs=0.03)
