"""Measured curves in place of the model: what is heard, timbre, coverage. All 'measured' curves here are synthetic."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import example_count
from tests.recommender import scenes
from tests.recommender.physics import boxes as made_up
from triptych.recommender.advise.voices import stated_share
from triptych.recommender.judge.criteria import evenness, sound, unsaid
from triptych.recommender.judge.criterion import CriterionValues
from triptych.recommender.physics import description, erb, loudspeaker
from triptych.recommender.physics.loudspeaker import Sources
from triptych.recommender.physics.profile import Profile, decibels, profile
from triptych.recommender.scene.aiming import aim
from triptych.recommender.scene.arrays import Kin, Loading, Seats, Stands
from triptych.recommender.scene.hearing import Heard, Voices, at_seats, mains_sound
from triptych.recommender.scene.measured import MEASURED_ANGLES, Measured, plane_of

MTM: dict[str, Any] = {
    "lying": True, "width": 0.50, "height": 0.17, "tweeter_type": "dome", "tweeter_size": 0.025, "woofer_size": 0.13,
    "woofer_count": 2, "layout": "MTM", "woofer_spacing": 0.28, "crossover": [2400.0, np.nan, np.nan],
    "crossover_order": 4,
}  # fmt: skip
UNKNOWN: dict[str, Any] = {
    "tweeter_size": np.nan,
    "woofer_size": np.nan,
    "woofer_spacing": np.nan,
    "crossover_order": np.nan,
}
OCTAVES = np.log2(erb.bands() / 1000.0)
TILT = (1.5 * OCTAVES).astype(np.float32)
ROOM = scenes.seats((0.0, -1.3, 1.3))


def kin(model: int) -> Kin:
    """A loudspeaker of no family, whose maker makes nothing else."""
    return Kin(np.array([model]), np.array([-1]), np.array([model]), np.array([Loading.DOME], np.int8))


MODELLED: dict[str, tuple[Sources, Profile]] = {}
"""The few loudspeakers that are asked for again and again; modelling one takes longer than judging it."""


def modelled_as(**known: Any) -> tuple[Sources, Profile]:
    key = repr(sorted(known.items()))
    if key not in MODELLED:
        sources = description.describe(made_up.columns(1, **{**MTM, **known}))
        MODELLED[key] = sources, profile(sources)
    return MODELLED[key]


def voices(measured: Measured | None = None, model_key: int = 1, **known: Any) -> Voices:
    """One loudspeaker, modelled, with something measured in place of the model."""
    sources, model = modelled_as(**known)
    found = Measured.none(1) if measured is None else measured
    modelled = decibels(model.sound_power)
    power = np.where(found.whole[:, None] & ~np.isnan(found.power), found.power, modelled)
    return Voices(
        model, sources, power, kin(model_key), stated_share(model), model.usable, found,
    )  # fmt: skip


def curves(
    axis: Any = None, power: Any = None, angle: tuple[float, ...] = (), level: Any = None, vertical: bool = False
) -> Measured:
    """What was measured of one loudspeaker, from closed forms."""
    none = Measured.none(1)
    if axis is not None:
        none.axis[0], none.direct[0] = axis, True
    if power is not None:
        none.power[0], none.whole[0] = power, True
    if not angle:
        return none
    none.row[0] = 0
    planes = np.full((1, 2, MEASURED_ANGLES.size, erb.BANDS), np.nan, np.float32)
    reach = np.full((1, 2, 2), np.nan)
    plane = int(vertical)
    planes[0, plane], reach[0, plane] = plane_of(np.array(angle), np.asarray(level, float), mirrored=not vertical)
    return replace(none, planes=planes, reach=reach)


def heard(found: Voices, seats: Seats = ROOM, on_side: bool = False) -> Heard:
    box = scenes.box()
    placed = aim(box, scenes.place("top", base=0.935, front=0.0), seats)
    return at_seats(found, np.array([0]), placed, seats, on_side)


def spacing_of(model: loudspeaker.Sources) -> float:
    left, right = loudspeaker.outer_pair(model)
    return float(right[0, 0] - left[0, 0])


AIMED = scenes.stands(toe_in=float(np.degrees(np.arctan2(1.3, 2.55))), axis_height=np.array([1.02]))
"""Mains that the primary seat is on the axis of."""


def timbre(centre: Voices, mains: Voices, towers: Stands | None = None, seats: Seats = ROOM) -> CriterionValues:
    others = replace(mains, kin=kin(0))
    return sound.timbre_of(heard(centre, seats).sound, mains_sound(others, towers or scenes.stands(), seats)).take(0)


def test_a_measured_tilt_is_the_whole_difference_in_direct_sound() -> None:
    # the population rms of a tilt about its mean; the one seat is on every axis, so the model adds nothing
    flat, tilted, seat = voices(curves(axis=np.zeros(28))), voices(curves(axis=TILT)), scenes.seats(0.0)
    assert timbre(tilted, flat, AIMED, seat).numbers["direct"][0] == pytest.approx(np.std(1.5 * OCTAVES), abs=1e-3)
    assert timbre(flat, tilted, AIMED, seat).numbers["power"][0] == pytest.approx(np.std(1.5 * OCTAVES), abs=1e-3)
    assert timbre(tilted, tilted, AIMED, seat).numbers["direct"][0] == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("level", [-20.0, 85.0])
def test_a_level_of_its_own_makes_no_difference(level: float) -> None:
    mains = voices(curves(axis=TILT))
    one, other = timbre(voices(curves(axis=TILT)), mains), timbre(voices(curves(axis=TILT + level)), mains)
    assert other.value[0] == pytest.approx(one.value[0], abs=1e-5)


ANGLE = (0.0, 10.0, 20.0, 30.0, 60.0)
LEVEL = -np.array(ANGLE)[:, None] / 10.0 * np.linspace(0.0, 1.0, 28)
SET: dict[str, Any] = {"axis": TILT, "angle": ANGLE, "level": LEVEL}
FULL: dict[str, Any] = {**SET, "power": -np.linspace(0.0, 8.0, 28)}


@pytest.mark.parametrize(
    ("centre", "mains", "evidence", "left", "told"),
    [
        ({}, {}, "modelled", 1.0, "are assumed"),
        ({"axis": TILT}, {}, "modelled", 1.0, "measured direct sound of the centre against the model of the mains"),
        ({}, {"axis": TILT}, "modelled", 1.0, "model of the centre against the measured direct sound of the mains"),
        ({"axis": TILT}, {"axis": TILT}, "measured", 0.5**0.5, "off the axis by the model; sound power modelled"),
        (SET, SET, "measured", 0.5**0.5, "measured on both sides, sound power modelled"),
        (FULL, SET, "measured", 0.5**0.5, "measured on both sides, sound power modelled"),
        (FULL, FULL, "measured", 0.0, "so nothing more is assumed"),
    ],
)
def test_voicing_shrinks_as_curves_arrive_and_what_was_compared_is_told(
    centre: dict[str, Any], mains: dict[str, Any], evidence: str, left: float, told: str
) -> None:
    found = timbre(voices(curves(**centre)), voices(curves(**mains)))
    assert found.numbers["voicing"][0] == pytest.approx(1.4 * left)
    assert found.evidence_of(0) == evidence
    assert told in found.told(0)
    parts = (found.numbers["direct"][0] ** 2 + found.numbers["power"][0] ** 2) / 2
    assert found.value[0] == pytest.approx(np.sqrt(parts + (1.4 * left) ** 2))
    assert found.high[0] - found.low[0] == pytest.approx(0.0, abs=1e-9) if left == 0 else found.high[0] > found.low[0]


def test_what_is_known_grows_with_the_curves() -> None:
    stated = [timbre(voices(curves(**one)), voices(curves(**one))).stated[0] for one in ({}, {"axis": TILT}, FULL)]
    assert stated == sorted(stated)
    assert stated[2] == 1.0
    assert timbre(voices(model_key=0), voices()).stated[0] == 1.0


def test_bands_that_one_side_lacks_are_not_compared() -> None:
    part = TILT.copy()
    part[:4] = np.nan
    wild = TILT.copy()
    wild[:4] += 30.0
    cut = timbre(voices(curves(axis=part)), voices(curves(axis=TILT)))
    same = timbre(voices(curves(axis=part)), voices(curves(axis=wild)))
    assert cut.value[0] == pytest.approx(same.value[0])


def test_a_measured_set_takes_the_models_place_at_the_seats() -> None:
    found = heard(voices(curves(**SET)))
    angle = np.degrees(np.arctan2(1.3, 3.0))
    expected = -angle / 10.0 * np.linspace(0.0, 1.0, 28)
    # angles between two curves lie on the straight line between them; the other side mirrors the one measured
    np.testing.assert_allclose(found.levels[0, 1], expected, atol=0.02)
    np.testing.assert_allclose(found.levels[0, 2], expected, atol=0.02)
    covered = evenness.coverage_of(found, ROOM)
    assert covered.evidence_of(0) == "measured"
    assert covered.low[0] == covered.value[0] == covered.high[0]
    assert covered.stated[0] == 1.0
    judged = expected[erb.bands() <= 6000.0]
    assert covered.value[0] == pytest.approx((np.sqrt(np.mean(judged**2)) - judged.min()) / 2, abs=0.02)


def test_a_set_that_does_not_reach_a_seat_leaves_it_to_the_model() -> None:
    short: dict[str, Any] = {"angle": ANGLE[:3], "level": LEVEL[:3]}
    found, model = heard(voices(curves(**short))), heard(voices())
    np.testing.assert_allclose(found.levels[0, 1:], model.levels[0, 1:], atol=1e-6)
    assert evenness.coverage_of(found, ROOM).evidence_of(0) == "modelled"
    at_end = heard(voices(curves(**short)), scenes.seats((0.0, float(3.0 * np.tan(np.radians(20.0))))))
    np.testing.assert_allclose(at_end.levels[0, 1], LEVEL[2], atol=1e-5)


def test_a_box_on_its_side_takes_its_vertical_set_turned() -> None:
    angles = (-60.0, 0.0, 60.0)
    level = np.array([[-6.0], [0.0], [-12.0]]) * np.ones(28)
    found = heard(voices(curves(angle=angles, level=level, vertical=True)), on_side=True)
    angle = np.degrees(np.arctan2(1.3, 3.0))
    # a seat to the left of a box turned on its side lies above it
    assert found.levels[0, 1].mean() == pytest.approx(-12.0 * angle / 60.0, abs=0.02)
    assert found.levels[0, 2].mean() == pytest.approx(-6.0 * angle / 60.0, abs=0.02)
    assert found.around[0]
    assert not heard(voices(curves(angle=angles, level=level, vertical=True))).around[0]


def test_without_a_model_a_full_set_still_gives_figures() -> None:
    bare: dict[str, Any] = {"layout": None, "woofer_count": np.nan, "crossover": np.nan, "woofer_spacing": np.nan}
    none = voices(**bare)
    assert not none.usable[0]
    assert timbre(none, voices()).evidence_of(0) == "assumed"
    full = voices(curves(**FULL), **bare)
    found = timbre(full, voices(curves(**FULL)))
    assert found.evidence_of(0) == "measured"
    assert found.value[0] < 1.5
    assert evenness.coverage_of(heard(full), ROOM).evidence_of(0) == "measured"


def covered(seats: Seats = ROOM, **known: Any) -> CriterionValues:
    return evenness.coverage_of(heard(voices(**known), seats), seats)


@pytest.mark.whole
@given(
    known=st.sets(st.sampled_from(sorted(UNKNOWN))),
    width=st.floats(0.40, 0.75),
    size=st.sampled_from([0.1, 0.13, 0.165]),
    layout=st.sampled_from(["MTM", "W(T/M)W", "TM"]),
)
@settings(max_examples=example_count(2 / 3))
def test_coverages_range_holds_its_value_and_narrows_when_an_unknown_is_filled_in(
    known: set[str], width: float, size: float, layout: str
) -> None:
    box = {**MTM, "width": width, "woofer_size": size, "layout": layout}
    box |= {name: value for name, value in UNKNOWN.items() if name not in known}
    wide = covered(**box)
    assert wide.low[0] <= wide.value[0] <= wide.high[0]
    if layout == "TM" or "woofer_spacing" in known:
        return
    # fill in the spacing that was assumed: the model stays what it was, and no more is added for what it might be
    model = description.describe(made_up.columns(1, **box))
    filled = covered(**{**box, "woofer_spacing": spacing_of(model)})
    assert filled.value[0] <= wide.value[0] + 0.01
    assert filled.high[0] - filled.low[0] < wide.high[0] - wide.low[0]
    assert wide.low[0] - 0.01 <= filled.low[0] <= filled.high[0] <= wide.high[0] + 0.01


def test_each_stated_input_narrows_the_range_for_the_same_model() -> None:
    # sizes that are filled in are the typical ones, so that the model stays what it was
    order = ("crossover_order", "tweeter_size", "woofer_spacing")
    model = description.describe(made_up.columns(1, **{**MTM, **dict.fromkeys(order, np.nan)}))
    assumed = {
        "crossover_order": 4,
        "tweeter_size": 0.025,
        "woofer_spacing": spacing_of(model),
    }
    widths = []
    unknown: dict[str, Any] = dict.fromkeys(order, np.nan)
    for count in range(len(order) + 1):
        filled = {name: assumed[name] for name in order[:count]}
        found = covered(**unknown | filled)
        widths.append(found.high[0] - found.low[0])
    assert all(later < earlier for earlier, later in pairwise(widths))
    # what no datasheet says is left, either way
    assert widths[-1] == pytest.approx(found.value[0] * (evenness.MODEL_DOUBT - 1 / evenness.MODEL_DOUBT))


def test_the_ends_of_the_range_are_the_models_at_the_ends_of_the_spacing() -> None:
    box = {**MTM, "woofer_spacing": np.nan}
    near = scenes.seats((0.0, 0.5))
    found = covered(near, **box)
    model = description.describe(made_up.columns(1, **box))
    ends = []
    for factor in (model.spacing_low, model.spacing_high):
        spacing = spacing_of(model) * float(factor[0])
        ends.append(covered(near, **{**MTM, "woofer_spacing": spacing}).value[0])
    # all else is stated, so but for what no datasheet says the spacing is the only doubt; the formula scales the
    # drivers' own directivity with it
    likely = found.value[0] / (1 + found.numbers["raised"][0])
    beside = [np.interp(np.log(likely), unsaid.LOSSES, np.log(end)) for end in unsaid.UNSAID["spacing"]]
    less, more = (np.exp(np.hypot(np.log(evenness.MODEL_DOUBT), one)) for one in beside)
    assert found.low[0] == pytest.approx(min(*ends, likely) / less, rel=0.1)
    assert found.high[0] == pytest.approx(max(*ends, likely) * more, rel=0.1)


def test_stated_inputs_leave_what_no_datasheet_says() -> None:
    found = covered()
    assert found.low[0] == pytest.approx(found.value[0] / evenness.MODEL_DOUBT)
    assert found.high[0] == pytest.approx(found.value[0] * evenness.MODEL_DOUBT)
