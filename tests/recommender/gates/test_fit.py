"""Does it go where it has to live: checked against arithmetic of the trade and closed forms, then limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.recommender.scenes import box, picture, place, seats
from triptych.recommender.judge.gates import fit, pointing
from triptych.recommender.judge.verdicts import GateVerdicts, Verdict
from triptych.recommender.scene.aiming import EARS, aim
from triptych.recommender.scene.arrays import Boxes, PlaceFigures, Port, Seats


def envelope(boxes: Boxes, site: PlaceFigures) -> GateVerdicts:
    return fit.envelope(boxes, site)


def tilt(boxes: Boxes, site: PlaceFigures, ear: float = 1.02, distance: float = 3.0) -> GateVerdicts:
    return pointing.tilt(boxes, aim(boxes, site, seats(distance=distance, ear_height=ear)))


def port(boxes: Boxes, site: PlaceFigures) -> GateVerdicts:
    return fit.port(boxes, site, aim(boxes, site, seats()))


def sight(boxes: Boxes, site: PlaceFigures, **screen: float | bool) -> GateVerdicts:
    return fit.sight(boxes, site, aim(boxes, site, seats()), picture(**screen))


def verdict(verdicts: GateVerdicts) -> Verdict:
    return Verdict(int(verdicts.verdict[0]))


def test_margin_is_that_of_the_binding_dimension() -> None:
    # 210 - 10 clearance - 170 - 12 feet = 18; 640 - 2 x 5 - 500 = 130; 380 - 280 - 40 = 60: common practice, no source
    judged = envelope(box(feet=0.012), place())
    assert verdict(judged) is Verdict.PASS
    assert judged.margin[0] == pytest.approx(18.0)
    assert "height" in judged.why(0)


@pytest.mark.parametrize(
    ("changed", "dimension"),
    [
        ({"width": 0.631}, "width"),
        ({"height": 0.201}, "height"),
        ({"depth": 0.341}, "depth"),
        ({"feet": 0.031}, "height"),
    ],
)
def test_one_millimetre_too_many_fails_and_names_the_dimension(changed: dict[str, float], dimension: str) -> None:
    judged = envelope(box(**changed), place())
    assert verdict(judged) is Verdict.FAIL
    assert judged.margin[0] == pytest.approx(-1.0)
    assert judged.why(0).startswith(f"{dimension}: 1 mm short")


@pytest.mark.parametrize("changed", [{"width": 0.63}, {"height": 0.2}, {"depth": 0.34}])
def test_an_exact_fit_fits(changed: dict[str, float]) -> None:
    assert verdict(envelope(box(**changed), place())) is Verdict.PASS


def test_stated_room_for_plugs_takes_the_place_of_the_usual_forty_millimetres() -> None:
    assert verdict(envelope(box(depth=0.33, rear_allowance=0.05), place())) is Verdict.PASS
    assert verdict(envelope(box(depth=0.33, rear_allowance=0.051), place())) is Verdict.FAIL


def test_plugs_reach_through_an_open_back() -> None:
    assert verdict(envelope(box(depth=0.38), place(back="open"))) is Verdict.PASS
    assert verdict(envelope(box(depth=0.38), place(back="closed"))) is Verdict.FAIL


def test_unstated_feet_are_a_condition_only_where_they_could_matter() -> None:
    assert verdict(envelope(box(height=0.19, feet=np.nan), place())) is Verdict.CONDITIONAL
    assert verdict(envelope(box(height=0.18, feet=np.nan), place())) is Verdict.PASS


def test_an_unknown_size_is_unknown_and_asks() -> None:
    judged = envelope(box(height=np.nan), place())
    assert verdict(judged) is Verdict.UNKNOWN
    assert judged.question(0)


def test_an_unknown_height_doesnt_hide_that_the_width_fails() -> None:
    assert verdict(envelope(box(height=np.nan, width=0.7), place())) is Verdict.FAIL


def test_free_air_limits_nothing() -> None:
    assert verdict(envelope(box(width=1.2, height=1.4, depth=0.5), place("behind_screen", front=0.8))) is Verdict.PASS


@given(
    width=st.floats(0.1, 1.0), height=st.floats(0.05, 0.6), depth=st.floats(0.1, 0.6), more=st.floats(0.0, 0.5),
    which=st.sampled_from(["width", "height", "depth"]),
)  # fmt: skip
def test_a_larger_opening_never_turns_pass_into_fail(
    width: float, height: float, depth: float, more: float, which: str
) -> None:
    boxes, bay = box(width=width, height=height, depth=depth), place()
    larger = place(**{which: getattr(bay, which) + more})
    for judged in (envelope, tilt, port):
        assert judged(boxes, larger).verdict[0] <= judged(boxes, bay).verdict[0]


def test_tilt_that_an_opening_takes_is_the_one_at_which_the_box_is_as_high_as_it() -> None:
    # published: H = 0.20 m, D = 0.30 m take 0.249056 m at 10 deg (closed form H cos t + D sin t)
    site = place(height=0.249056 + 0.010, depth=0.6)
    found = aim(box(height=0.20, depth=0.30, axis=0.10), site, seats())
    assert found.tilt_fits[0] == pytest.approx(10.0, abs=1e-3)


@pytest.mark.parametrize("kind", ["cavity", "stand"])
def test_no_box_is_tilted_further_than_its_owner_allows(kind: str) -> None:
    site, ear = place(kind, height=0.5, base=0.4, front=0.6), seats(distance=2.5, ear_height=1.1)
    free = aim(box(), site, ear)
    assert free.tilt_used[0] == free.tilt_needed[0] > 8.0
    for allowed in (0.0, 3.0, 29.0):
        held = aim(box(), replace(site, tilt_limit=allowed), ear)
        assert held.tilt_used[0] == pytest.approx(min(allowed, free.tilt_needed[0]))
        # from the tilted axis to the ear, by hand: as high as it is lifted, less what it already points up
        rises = np.degrees(np.arctan2(1.1 - held.tilted_height[0], held.tilted_distance[0]))
        assert held.residual[0] == pytest.approx(rises - held.tilt_used[0], abs=1e-6)
        assert held.tilt_needed[0] == free.tilt_needed[0]
    judged = pointing.tilt(box(), aim(box(), replace(site, tilt_limit=3.0), ear))
    assert verdict(judged) is Verdict.CONDITIONAL
    assert "3.0 deg of the" in judged.why(0)
    assert "allowed" in judged.why(0)
    unmeasured = aim(box(), replace(site, height=np.nan, tilt_limit=1.0), ear)
    assert unmeasured.tilt_used[0] <= 1.0


def test_what_clears_the_picture_flat_is_tilted_up_to_it_and_no_further() -> None:
    # published: H = 0.20 m, D = 0.30 m take 0.249056 m at 10 deg (closed form H cos t + D sin t)
    boxes, site = box(height=0.20, depth=0.30, axis=0.10, feet=0.0), place("top", height=np.nan, base=0.50)
    ear = seats(ear_height=1.5)
    free, under = aim(boxes, site, ear), aim(boxes, site, ear, picture=picture(bottom=0.50 + 0.249056))
    assert free.tilt_used[0] > 11.0
    assert under.tilt_used[0] == under.tilt_fits[0] == pytest.approx(10.0, abs=1e-3)
    assert fit.sight(boxes, site, under, picture(bottom=0.50 + 0.249056)).verdict[0] == Verdict.PASS
    # a higher picture limits nothing, and one that it hides even flat changes nothing
    for bottom in (1.0, 0.65):
        assert aim(boxes, site, ear, picture=picture(bottom=bottom)).tilt_used[0] == free.tilt_used[0]


def test_flat_fits_and_tilted_doesnt_says_how_much_does() -> None:
    judged = tilt(box(height=0.19), place())
    assert verdict(judged) is Verdict.CONDITIONAL
    fits = float(judged.numbers["fits"][0])
    assert 0 < fits < float(judged.numbers["needed"][0])
    assert f"{fits:.1f} deg" in judged.why(0)


def test_what_is_left_must_stay_acceptable() -> None:
    # ear 1.60 m, distance 1.5 m: far more than 15 deg are left
    assert verdict(tilt(box(height=0.199), place(), ear=1.6, distance=2.0)) is Verdict.FAIL


def test_aim_at_an_ear_is_the_published_angle_and_signed() -> None:
    # plane trigonometry: 0.50 m, ear 1.05 m, 3.0 m away: 10.3889 deg up; 2.00 m, 1.10 m, 3.0 m: 16.6992 deg down
    low = aim(box(axis=0.10), place("stand", base=0.40, front=0.6), seats(distance=3.6, ear_height=1.05))
    high = aim(box(axis=0.10), place("wall", base=1.90, front=0.6), seats(distance=3.6, ear_height=1.10))
    assert low.elevation[0] == pytest.approx(-10.3889, abs=5e-5)
    assert high.elevation[0] == pytest.approx(16.6992, abs=5e-5)
    # looking down lowers the axis by a few mm, looking up raises it by the lift
    assert high.tilt_needed[0] == pytest.approx(-16.6992, abs=0.25)
    assert low.tilt_needed[0] == pytest.approx(np.degrees(np.arctan2(1.05 - low.tilted_height[0], 3.0)), abs=0.1)
    assert low.tilted_height[0] > 0.50 + 0.9 * low.lift[0]
    assert high.residual[0] == 0.0


def test_an_unstated_axis_is_asked_for_only_where_the_tilt_is_limited() -> None:
    tall = box(height=0.40, width=0.2, axis=np.nan, lying=False)
    assert verdict(tilt(tall, place("stand", base=0.5, front=0.6))) is Verdict.CONDITIONAL
    deep = box(height=0.40, depth=0.45, width=0.2, axis=np.nan, lying=False)
    narrow = place(height=0.411, depth=0.5, base=0.20, width=0.5)
    assert verdict(tilt(deep, narrow, distance=2.6)) is Verdict.UNKNOWN


@pytest.mark.parametrize("face", [Port.REAR, Port.SIDE])
def test_a_rear_or_side_port_never_passes_in_a_closed_bay(face: Port) -> None:
    roomy = place(width=2.0, depth=2.0)
    assert verdict(port(box(port=face), roomy)) is Verdict.FAIL
    assert verdict(port(box(port=face, bung=True), roomy)) is Verdict.CONDITIONAL
    assert verdict(port(box(port=face, bung=True, radiator=True), roomy)) is Verdict.FAIL
    # the trade's do-not, unless a bung is supplied; where nobody says so it is asked for, as every unknown that decides
    silent = port(box(port=face, bung_unknown=True), roomy)
    assert verdict(silent) is Verdict.UNKNOWN
    assert silent.question(0) == "Does a bung for its port come with it?"
    near = place("top", front=0.36)
    behind = {"port": Port.REAR, "depth": 0.3}
    told = [port(box(**behind, **bung), near) for bung in ({}, {"bung_unknown": True}, {"bung": True})]
    if face == Port.REAR:
        assert [verdict(one) for one in told] == [Verdict.FAIL, Verdict.UNKNOWN, Verdict.CONDITIONAL]
        assert [fit.plugged(box(**behind), one).tolist() for one in told[:2]] == [[False], [True]]


def test_a_box_that_does_not_go_in_has_no_distance_to_anything() -> None:
    shallow = port(box(port=Port.REAR, depth=0.4), place("open_shelf", depth=0.3, back="closed"))
    assert verdict(shallow) is Verdict.FAIL
    assert shallow.why(0) == "the box doesn't go in, so its port has no air"


def test_a_front_port_or_none_passes_in_a_closed_bay() -> None:
    assert verdict(port(box(port=Port.FRONT), place())) is Verdict.PASS
    assert verdict(port(box(port=Port.NONE), place())) is Verdict.PASS


def test_an_unstated_port_waits_in_a_bay_and_is_no_question_in_free_air() -> None:
    assert verdict(port(box(port=Port.UNKNOWN), place())) is Verdict.UNKNOWN
    assert verdict(port(box(port=Port.UNKNOWN), place("stand", base=0.5, front=1.0))) is Verdict.PASS


@pytest.mark.parametrize(
    ("front", "diameter", "expected"),
    [
        (0.42, 0.05, Verdict.PASS),
        (0.37, 0.05, Verdict.FAIL),
        (0.42, 0.08, Verdict.FAIL),
        (0.39, np.nan, Verdict.CONDITIONAL),
    ],
)
def test_a_rear_port_wants_100_mm_or_two_diameters(front: float, diameter: float, expected: Verdict) -> None:
    # common practice, no source; the box is 280 mm deep and not tilted
    boxes = box(port=Port.REAR, port_diameter=diameter, axis=0.085)
    site = place("stand", base=0.935, front=front)
    assert verdict(port(boxes, site)) is expected


def test_turned_on_its_side_a_side_port_looks_up_or_down() -> None:
    assert box(port=Port.SIDE).on_side().port[0] == Port.TOP
    assert box(port=Port.BOTTOM).on_side().port[0] == Port.SIDE
    assert box(port=Port.REAR).on_side().port[0] == Port.REAR


def test_nothing_may_stand_before_the_picture() -> None:
    on_top = place("top", base=0.70, front=0.5, depth=0.45)
    judged = sight(box(height=0.17, axis=0.085), on_top)
    assert verdict(judged) is Verdict.FAIL
    # what hides is the part above the picture's lower edge at 0.82 m, not the whole box
    assert -100 < judged.margin[0] < -50
    assert verdict(sight(box(height=0.10, axis=0.05), place("top", base=0.66, front=0.5))) is Verdict.PASS


def test_above_the_picture_is_out_of_sight() -> None:
    assert verdict(sight(box(), place("wall", base=1.64, front=0.3))) is Verdict.PASS


def test_behind_a_screen_only_where_sound_passes() -> None:
    site = place("behind_screen", base=0.8, front=0.8)
    assert verdict(sight(box(), site, transparent=True)) is Verdict.PASS
    assert verdict(sight(box(), site, transparent=False)) is Verdict.FAIL


@pytest.mark.parametrize(
    ("weight", "rating", "expected"),
    [
        (9.0, 18.0, Verdict.PASS),
        (9.1, 18.0, Verdict.FAIL),
        (9.1, np.nan, Verdict.CONDITIONAL),
        (np.nan, 18.0, Verdict.UNKNOWN),
        # 500 x 170 x 280 mm are 23.8 l, which at 0.8 kg a litre are 19.04 kg: half of 38.2 kg bears that
        (np.nan, 38.2, Verdict.PASS),
        (np.nan, 38.0, Verdict.UNKNOWN),
    ],
)
def test_half_of_the_rating_bears_it(weight: float, rating: float, expected: Verdict) -> None:
    assert verdict(fit.load(box(weight=weight), place(load=rating))) is expected


def test_nobody_is_asked_what_the_floor_bears() -> None:
    on_floor = place("stand", base=0.0, load=np.nan)
    assert verdict(fit.load(box(), on_floor)) is Verdict.PASS
    assert verdict(fit.load(box(), replace(on_floor, base=0.3))) is Verdict.CONDITIONAL
    assert verdict(fit.load(box(), replace(on_floor, kind="wall"))) is Verdict.CONDITIONAL
    # a rating that somebody gave holds, wherever it is
    assert verdict(fit.load(box(), replace(on_floor, load=10.0))) is Verdict.FAIL


def test_an_unstated_weight_is_no_help_where_the_rating_is_unknown() -> None:
    # 200 l of which nobody said what they weigh are likely over what most furniture bears
    large, site = box(width=1.0, height=0.5, depth=0.4, weight=np.array([np.nan, 8.0])), place(load=np.nan)
    silent, light = fit.load(large, site).risks()
    assert silent > 0.9 > 0.1 > light


def test_an_axis_far_above_the_ear_needs_its_tilt() -> None:
    high = place("wall", base=2.2, front=0.6)
    free = box(axis=0.085)
    assert verdict(pointing.height(free, aim(free, high, seats()))) is Verdict.CONDITIONAL
    near = place("wall", base=1.4, front=0.6)
    assert verdict(pointing.height(free, aim(free, near, seats()))) is Verdict.PASS


def unmeasured(at: Seats) -> Seats:
    """The same seats, of which nobody measured the ear."""
    return replace(at, ear_stated=np.zeros(1, dtype=np.bool_))


def test_an_ear_that_nobody_measured_is_a_condition_where_every_plausible_one_passes() -> None:
    boxes = box()
    for gate, number in ((pointing.height, "elevation"), (pointing.tilt, "needed")):
        judged = gate(boxes, aim(boxes, place(), unmeasured(seats())))
        assert verdict(judged) is Verdict.CONDITIONAL
        assert "ear" in judged.question(0)
        told = [gate(boxes, aim(boxes, place(), seats(ear_height=ear))).numbers[number][0] for ear in EARS]
        assert (judged.numbers["least"][0], judged.numbers["most"][0]) == (min(told), max(told))
        assert f"{min(told):.1f} to {max(told):.1f} deg" in judged.why(0)


def test_an_ear_that_nobody_measured_waits_where_it_decides_and_fails_where_none_passes() -> None:
    for base, answer in ((1.75, Verdict.UNKNOWN), (2.6, Verdict.FAIL)):
        uncured = replace(place("wall", base=base, front=0.6), tilt_limit=1.0)
        assert verdict(pointing.height(box(axis=0.085), aim(box(axis=0.085), uncured, unmeasured(seats())))) is answer
