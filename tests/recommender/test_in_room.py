"""What floor, front wall, furniture and seats make of timbre: limits, then what isn't known over all it may be."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import example_count
from tests.recommender import scenes
from tests.recommender.test_measured import curves, kin, voices
from triptych.recommender.judge.criteria import placing, sound
from triptych.recommender.judge.criterion import CriterionValues
from triptych.recommender.physics import bounce, boundary, erb, reflection
from triptych.recommender.physics.sensitivity import anechoic_sensitivity
from triptych.recommender.scene import boundaries
from triptych.recommender.scene.aiming import aim
from triptych.recommender.scene.arrays import Boxes, FloatArray, InRoom, Loading, PlaceFigures, Seats, Sound, Stands
from triptych.recommender.scene.boundaries import centre_images, floor_elevation, mains_images
from triptych.recommender.scene.hearing import Voices, at_seats, downward, mains_downward, mains_sound

SEATS = scenes.seats((0.0, -1.0, 1.2))
TOP = scenes.place("top", base=0.55, front=0.45)
UPRIGHT: dict[str, Any] = {"lying": False, "width": 0.2, "height": 0.4, "axis": 0.3}


def centre(
    boxes: Boxes, place: PlaceFigures = TOP, seats: Seats = SEATS, found: Voices | None = None, **room: Any
) -> Sound:
    """One centre as it is heard in a room."""
    stood = aim(boxes, place, seats)
    own, one = found or voices(), np.zeros(1, dtype=np.intp)
    heard = at_seats(own, one, stood, seats, on_side=False)
    sent = downward(own, one, floor_elevation(stood), stood, seats, on_side=False)
    images = centre_images(boxes, place, room.get("places", ()), stood, seats, sent, room.get("floor", "unknown"))
    return replace(heard.sound, room=images.around(heard.sound.room))


def mains(stands: Stands, seats: Seats = SEATS, found: Voices | None = None) -> Sound:
    """One pair of mains as they are heard in a room."""
    others = replace(found or voices(), kin=kin(0))
    free = mains_sound(others, stands, seats)
    images = mains_images(stands, seats, mains_downward(others, stands, seats))
    return replace(free, room=images.around(free.room))


def timbre(centres: Sound, others: Sound) -> CriterionValues:
    return sound.timbre_of(centres, others).take(0)


def holds(told: CriterionValues, found: list[float], slack: float = 0.02) -> None:
    """The interval contains all that was found; the likely is no better than the middle of it."""
    assert told.low[0] - slack <= min(found)
    assert max(found) <= told.high[0] + slack
    assert told.value[0] >= np.median(found) - slack


# limits


def test_the_floor_mirrors_a_box_where_its_tilt_brings_it() -> None:
    boxes = scenes.box(depth=0.4)
    stood = aim(boxes, TOP, SEATS)
    images = centre_images(boxes, TOP, (), stood, SEATS, np.zeros((1, erb.BANDS), np.float32))
    tilt, turn = stood.tilt_used[0], np.radians(stood.tilt_used[0])
    assert tilt > 3.0
    # the front edge stays where it was and is raised by 0.4 m sin t; the axis is 85 mm up the leaning front
    axis = np.array([0.0, 0.45 - 0.085 * np.sin(turn), 0.55 + 0.4 * np.sin(turn) + 0.085 * np.cos(turn)])
    for number, seat in enumerate(SEATS.judged):
        ear = np.array([SEATS.x[seat], SEATS.distance[seat], SEATS.ear_height[seat]])
        ways = [np.linalg.norm(ear - axis * np.array([1, 1, side])) for side in (1, -1)]
        np.testing.assert_allclose(images.strength[0, number], ways[0] / ways[1], rtol=1e-5)
        in_step = boundary.in_step(np.array([ways[1] - ways[0]]))
        np.testing.assert_allclose(images.in_step[0, number], in_step[0], atol=1e-4)


def test_a_bounce_in_bands_is_the_image_source_smoothed() -> None:
    frequency = np.geomspace(170.0, 9000.0, 4000)
    for source, ear, distance in ((0.92, 1.02, 3.0), (0.3, 1.02, 2.5), (1.7, 1.0, 3.0)):
        whole = bounce.bounce_response(frequency, source, ear, distance)
        smoothed = 10 * np.log10(erb.smooth(frequency, 10 ** (whole / 10)))
        strength = 10 ** (reflection.reflected_level(source, ear, distance) / 20)
        found = boundary.image_in_bands(strength, reflection.path_difference(source, ear, distance))
        np.testing.assert_allclose(found, smoothed, atol=0.15)


@given(strength=st.floats(0, 1), difference=st.floats(0, 20))
def test_an_image_adds_no_more_than_both_in_step(strength: float, difference: float) -> None:
    found = boundary.image_in_bands(strength, difference)
    assert (found <= 20 * np.log10(1 + strength) + 1e-5).all()  # single precision
    assert (found >= 20 * np.log10(max(1 - strength, 1e-2)) - 1e-9).all()


def test_a_wall_far_away_adds_nothing() -> None:
    near, far = (boundary.image_in_bands(boundary.wall_image(0.2, 2 * off, 2.5), 2 * off) for off in (0.4, 1e4))
    assert np.abs(near).max() > 3
    assert np.abs(far).max() < 0.01
    assert np.abs(boundary.power_in_bands(boundary.wall_image(0.2, 0.0, 1.0), 1e3)).max() < 0.01


@given(off=st.floats(0.1, 1.0), narrow=st.floats(0.1, 0.5), factor=st.floats(1.1, 4.0))
def test_a_wider_front_shades_the_wall_more(off: float, narrow: float, factor: float) -> None:
    slim, wide = (boundary.wall_image(width, 2 * off, 3.0) for width in (narrow, narrow * factor))
    assert (wide < slim).all()


def test_no_floor_makes_no_ripple_and_a_rigid_one_does() -> None:
    stood = aim(scenes.box(), TOP, SEATS)
    images = centre_images(scenes.box(), TOP, (), stood, SEATS, np.zeros((1, erb.BANDS), np.float32))
    images = replace(images, wall=0 * images.wall)
    silent = np.zeros((1, 1, 3, erb.BANDS), np.float32)
    nothing = InRoom(silent, silent[:, :, 0], np.zeros(1), np.zeros(1), np.zeros(1), np.ones(1), np.ones(1))
    floor = images.around(nothing).direct
    assert not floor[:, 0].any()
    assert np.std(floor[:, -1, 0]) > 1
    assert (np.diff(np.std(floor[0, :, 0], axis=-1)) > 0).all()


def test_one_box_at_the_mains_own_place_differs_by_nothing() -> None:
    """All three on the axis, as high as the ear, so that nothing is tilted, with one front and one wall behind them."""
    seats = scenes.seats(0.0, ear_height=0.85)
    box = scenes.box(width=0.2, height=0.4, axis=0.3, lying=False)
    own = scenes.stands(spacing=1e-6, toe_in=0.0, from_wall=np.array([0.45]), axis_height=np.array([0.85]))
    here = scenes.place("stand", base=0.55, front=0.45)
    box = replace(box, depth=np.array([1e-3]))
    found = timbre(centre(box, here, seats), mains(own, seats))
    assert found.numbers["direct"][0] == pytest.approx(0.0, abs=0.05)
    assert found.numbers["power"][0] == pytest.approx(0.0, abs=0.01)


def test_heights_apart_make_the_floor_tell_them_apart() -> None:
    seat = scenes.seats(0.0)
    others = mains(scenes.stands(), seat)
    apart = [
        timbre(centre(scenes.box(), replace(TOP, base=base), seat), others).numbers["direct"][0]
        for base in (0.83, 0.5, 0.15)
    ]
    assert apart == sorted(apart)
    assert apart[-1] > apart[0] + 0.3


def test_a_seat_that_is_judged_counts_and_the_primary_counts_most() -> None:
    others = scenes.stands()
    alone, aside = scenes.seats(0.0), scenes.seats((0.0, 1.2))
    one, two = (timbre(centre(scenes.box(), seats=seats), mains(others, seats)) for seats in (alone, aside))
    occasional = replace(aside, regular=np.array([True, False]))
    assert timbre(centre(scenes.box(), seats=occasional), mains(others, occasional)).value == one.value
    assert two.value[0] > one.value[0] + 0.3


def test_what_is_lost_in_level_on_the_way_to_a_seat_counts_as_timbre() -> None:
    """A set that falls alike in all bands off the axis has the shape of its mains everywhere."""
    angle, level = (0.0, 60.0), np.array([[0.0], [-12.0]]) * np.ones(28)
    falling = voices(curves(axis=np.zeros(28), angle=angle, level=level))
    even = voices(curves(axis=np.zeros(28), angle=angle, level=0 * level))
    straight = scenes.stands(toe_in=0.0)
    lost = [
        timbre(centre(scenes.box(), found=found), mains(straight, found=even)).numbers["direct"][0]
        for found in (even, falling)
    ]
    # a seat at 1.0 and one at 1.2 m to the side of 2.55 m, a quarter of all each
    aside = np.degrees(np.arctan2([1.0, 1.2], 2.55)) * 12.0 / 60.0
    assert lost[1] ** 2 - lost[0] ** 2 == pytest.approx(np.sum(aside**2) / 4, rel=0.25)


# what isn't known, over all that it may be


@pytest.mark.whole
@pytest.mark.parametrize("base", [0.1, 0.5, 0.9, 1.6])
@pytest.mark.parametrize("axis", [0.7, 0.92, 1.1])
def test_the_interval_holds_every_floor(monkeypatch: pytest.MonkeyPatch, base: float, axis: float) -> None:
    stands, box, place = scenes.stands(axis_height=np.array([axis])), scenes.box(), replace(TOP, base=base)
    told = timbre(centre(box, place), mains(stands))
    found = []
    for part in np.linspace(0.0, 1.0, 21):
        monkeypatch.setattr(boundaries, "FLOORS", (float(part),) * 4)
        found.append(float(timbre(centre(box, place), mains(stands)).value[0]))
    holds(told, found)


@pytest.mark.parametrize("kind", ["hard", "carpet"])
@pytest.mark.parametrize("base", [0.1, 0.5, 0.9])
def test_a_floor_that_the_room_tells_is_within_what_an_unknown_one_may_be(kind: str, base: float) -> None:
    box, place = scenes.box(), replace(TOP, base=base)

    def told(floor: str) -> CriterionValues:
        own = centre(box, place, floor=floor)
        return timbre(own, mains(scenes.stands(floor=floor)))

    known, unknown = told(kind), told("unknown")
    assert unknown.low[0] - 0.02 <= known.low[0] <= known.value[0] <= known.high[0] <= unknown.high[0] + 0.02
    assert known.high[0] - known.low[0] < unknown.high[0] - unknown.low[0]


def test_a_hard_floor_bounces_more_than_carpet_and_both_less_than_a_rigid_one() -> None:
    least_hard, most_hard = boundaries.floor_between("hard")
    least_carpet, most_carpet = boundaries.floor_between("carpet")
    assert (boundaries.floor_between("unknown") == np.array([[0.0], [1.0]])).all()
    assert (least_carpet > 0).all()
    assert (least_carpet < most_carpet).all()
    assert (most_carpet[erb.bands() > 700] < least_hard[erb.bands() > 700]).all()
    assert ((least_hard < most_hard) & (most_hard < 1)).all()


@pytest.mark.whole
@pytest.mark.parametrize("base", [0.2, 0.55, 1.0])
def test_the_interval_holds_every_distance_of_the_mains_from_the_wall(base: float) -> None:
    box, place = scenes.box(), replace(TOP, base=base)
    back = np.array([0.31])
    told = timbre(centre(box, place), mains(scenes.stands(from_wall=back, wall_stated=False)))
    # what moves with the mains but the wall, such as a seat's angle, is held still
    found = [float(timbre(centre(box, place), moved(back, step)).value[0]) for step in np.linspace(0.0, 1.5, 31)]
    holds(told, found)


def moved(back: FloatArray, step: float) -> Sound:
    """Mains with a wall `step` further behind them than their own depth."""
    stands = scenes.stands(from_wall=back)
    free = mains(stands)
    seats = SEATS.judged
    distance = np.hypot(SEATS.distance[seats] - 0.31, 1.3)[:1]
    own, other = (boundaries._wall(stands.front, back + more, distance) for more in (0.0, step))
    direct = free.room.direct + (other[0] - own[0])[:, None, None].astype(np.float32)
    power = free.room.power + (other[1] - own[1])[:, None].astype(np.float32)
    return replace(free, room=replace(free.room, direct=direct, power=power))


@pytest.mark.whole
def test_the_interval_holds_every_axis_of_mains_that_nobody_measured() -> None:
    box = scenes.box()
    unmeasured = scenes.stands(axis_height=np.array([np.nan]), axis_stated=np.array([False]))
    told = timbre(centre(box), mains(unmeasured))
    found = [
        float(timbre(centre(box), mains(scenes.stands(axis_height=np.array([axis])))).value[0])
        for axis in np.linspace(*boundaries.MAINS_AXIS[::2], 15)
    ]
    holds(told, found, slack=0.1)


@pytest.mark.whole
def test_the_interval_holds_every_axis_on_a_box_that_states_none() -> None:
    unstated = scenes.box(**{**UPRIGHT, "axis": np.nan, "axis_stated": False})
    told = timbre(centre(unstated), mains(scenes.stands()))
    found = [
        float(timbre(centre(scenes.box(**{**UPRIGHT, "axis": share * 0.4})), mains(scenes.stands())).value[0])
        for share in np.linspace(0.1, 1.0, 10)
    ]
    holds(told, found, slack=0.1)


BAY = scenes.place(width=0.64, height=0.21, base=0.27, front=0.45)
UNIT = scenes.place("top", width=1.6, base=0.52, front=0.45)


def test_the_front_of_furniture_is_taken_from_the_top_of_the_same_piece() -> None:
    # 1.6 m wide, 0.52 m high and mirrored by the floor it stands on
    assert boundaries.furniture_fronts(BAY, (BAY, UNIT)) == (1.04,)
    assert boundaries.furniture_fronts(BAY, (BAY, replace(UNIT, width=0.8))) == (0.8,)
    for other in (replace(UNIT, front=0.3), replace(UNIT, base=1.2), replace(UNIT, kind="open_shelf")):
        assert len(boundaries.furniture_fronts(BAY, (BAY, other))) > 1


@given(width=st.floats(0.2, 0.6), front=st.floats(0.64, 30.0))
def test_the_interval_holds_every_front_of_furniture(width: float, front: float) -> None:
    least, likely, most = (float(part[0]) for part in placing.furniture(scenes.box(width=width), BAY))
    gain = boundary.furniture_gain(placing.BOUNCE_GRID, width, front)
    assert least - 0.02 <= bounce.bounce_ripple(placing.BOUNCE_GRID, gain).rms <= most + 0.02
    assert likely >= (least + most) / 2


def test_the_likely_of_surroundings_is_no_better_than_the_middle_and_one_figure_where_the_room_says_enough() -> None:
    box, stood = scenes.box(), aim(scenes.box(), BAY, SEATS)
    judged = [
        placing.surroundings(box, BAY, stood, scenes.picture(), 2.6, np.zeros((1, 0)), places)
        for places in ((BAY,), (BAY, UNIT))
    ]
    assert judged[0].value[0] >= (judged[0].low[0] + judged[0].high[0]) / 2
    assert judged[1].low[0] == judged[1].value[0] == judged[1].high[0]
    assert judged[0].low[0] <= judged[1].value[0] <= judged[0].high[0]


@pytest.mark.parametrize("width", np.geomspace(0.64, 20.0, 12))
def test_the_interval_of_timbre_holds_every_front_of_furniture(width: float) -> None:
    box, others = scenes.box(height=0.16, axis=0.08), mains(scenes.stands())
    told = timbre(centre(box, BAY), others)
    known = centre(box, BAY, places=(replace(UNIT, width=width, base=0.52 if width < 1.04 else 0.6),))
    found = float(timbre(known, others).value[0])
    assert told.low[0] <= found <= told.high[0]
    assert told.value[0] >= found - 0.25


@pytest.mark.parametrize("kind", ["stand", "top", "open_shelf"])
def test_the_interval_holds_every_distance_of_a_place_that_nobody_measured(kind: str) -> None:
    place = scenes.place(kind, base=0.55, front=np.nan)
    stood = aim(scenes.box(), place, SEATS)
    sent = np.zeros((1, erb.BANDS), np.float32)
    unknown = centre_images(scenes.box(), place, (), stood, SEATS, sent)
    for off in np.linspace(0.28, 1.8, 25):
        wall, _ = boundaries._wall(np.array([0.17]), np.array([off]), np.array([2.5]))
        change = wall - wall.mean() - unknown.wall
        # to the middle over both parts, of which direct sound is one
        assert np.sqrt(np.mean(change**2)) / np.sqrt(2) <= unknown.unknown[0] + 0.02


def test_a_tweeter_of_unknown_type_is_never_better_off() -> None:
    def of(loading: Loading) -> CriterionValues:
        one = centre(scenes.box())
        return timbre(replace(one, kin=replace(one.kin, loading=np.array([loading], np.int8))), mains(scenes.stands()))

    unknown, known = of(Loading.UNKNOWN), of(Loading.HORN)
    assert unknown.value[0] > known.value[0]
    assert unknown.low[0] <= known.low[0] <= known.high[0] < unknown.high[0]
    # a loading that the model sees isn't assumed again
    assert of(Loading.DOME).value == known.value


@pytest.mark.whole
def test_no_model_at_all_is_no_better_than_the_middle_of_models() -> None:
    bare: dict[str, Any] = {"layout": None, "woofer_count": np.nan, "crossover": np.nan, "woofer_spacing": np.nan}
    none = timbre(centre(scenes.box(), found=voices(**bare)), mains(scenes.stands()))
    layouts: list[dict[str, Any]] = [
        {"layout": "TM"},
        {"layout": "MTM"},
        {"layout": "W(T/M)W", "crossover": [350.0, 2600.0, np.nan]},
        {"layout": "W(TM)W", "crossover": [350.0, 2600.0, np.nan]},
    ]
    modelled = [timbre(centre(scenes.box(), found=voices(**one)), mains(scenes.stands())).value[0] for one in layouts]
    holds(none, modelled)


def test_the_share_of_voicing_is_told_beside_it_and_is_what_is_left_of_the_square() -> None:
    found = timbre(centre(scenes.box()), mains(scenes.stands()))
    numbers = {name: float(part[0]) for name, part in found.numbers.items()}
    responses = (numbers["direct"] ** 2 + numbers["power"] ** 2) / 2
    assert numbers["voicing_share"] == pytest.approx(numbers["voicing"] ** 2 / found.value[0] ** 2)
    assert numbers["voicing_share"] == pytest.approx(1 - responses / found.value[0] ** 2)
    assert f"{numbers['voicing_share']:.0%} of the whole" in found.told(0)


@settings(max_examples=example_count(2 / 3))
@given(
    narrow=st.floats(0.1, 0.5), factor=st.floats(1.0, 3.0), louder=st.floats(1.05, 2.0), stated=st.floats(80.0, 95.0)
)
def test_half_space_costs_no_more_than_a_step_and_a_wider_front_less(
    narrow: float, factor: float, louder: float, stated: float
) -> None:
    def anechoic(width: float, height: float) -> list[float]:
        found = anechoic_sensitivity(stated, "half_space", min(width, height), max(width, height))
        return [float(part) for part in found]

    slim, wide = anechoic(narrow, narrow * factor), anechoic(narrow * louder, narrow * factor * louder)
    assert stated - 6.03 < slim[0] <= slim[1] <= slim[2] <= stated
    assert all(one < other for one, other in zip(slim, wide, strict=True))
    unmeasured = anechoic(np.nan, np.nan)
    assert stated - 6.03 < unmeasured[0] <= unmeasured[1] <= unmeasured[2] <= stated
