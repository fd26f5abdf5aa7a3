"""What would go unseen if a single line were wrong: each holds one thing that `tests/house/mutate.py` breaks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sqlalchemy import Engine

from tests.recommender import scenes
from tests.recommender.advise.scenarios import TOP, WIDE, ask, fill, record, standing
from tests.recommender.test_measured import ANGLE, LEVEL, curves, kin, voices
from triptych.recommender.judge.criteria.placing import aim_left, bounce, surroundings
from triptych.recommender.physics import erb
from triptych.recommender.physics.spherical import power_at
from triptych.recommender.scene.aiming import aim
from triptych.recommender.scene.arrays import Port
from triptych.recommender.scene.hearing import at_seats, decibels_of, downward, mains_points, mains_sound
from triptych.recommender.scene.levels import ear_distances, farthest

FLAT = scenes.place("top", base=0.935, front=0.0)
"""A place from which a usual box is on the ear as it stands."""


def test_the_farthest_seat_is_a_regular_one() -> None:
    seats = scenes.seats((0.0, 0.6, 0.0), np.array([3.0, 3.2, 6.0]))
    seats = replace(seats, regular=np.array([True, True, False]))
    stood = aim(scenes.box(), FLAT, seats)
    assert farthest(ear_distances(stood, seats), seats)[0] == pytest.approx(np.hypot(3.2, 0.6), abs=1e-3)


@pytest.mark.whole
def test_the_lowest_null_is_that_of_the_widest_spacing(engine: Engine) -> None:
    fill(engine, record(WIDE, woofer_spacing=""))
    seat = standing(ask(engine, TOP), "Wide").seats[1]
    assert seat.null_low_hz is not None
    assert seat.null_hz is not None
    assert seat.null_high_hz is not None
    assert seat.null_low_hz < seat.null_hz < seat.null_high_hz


def test_what_is_not_sent_down_does_not_come_back() -> None:
    shelf, box = scenes.place("open_shelf", base=0.5, front=1.2, setback=0.8), scenes.box(axis=0.1)
    stood = aim(box, shelf, scenes.seats())
    loud, soft = (bounce(box, shelf, stood, np.full((1, erb.BANDS), sent))[0] for sent in (0.0, -40.0))
    assert loud > 2.0
    assert soft < 0.3


@pytest.mark.parametrize(("port", "rise"), [(Port.NONE, 1.0), (Port.FRONT, 3.0), (Port.REAR, 8.0)])
def test_a_bay_is_roused_by_what_breathes_into_it(port: Port, rise: float) -> None:
    bay, box = scenes.place(), scenes.box(port=port)
    stood = aim(box, bay, scenes.seats())
    found = surroundings(box, bay, stood, scenes.picture(), 2.6, np.zeros((1, 0)))
    assert found.numbers["bay"][0] == pytest.approx(rise, rel=0.01)
    rest = np.hypot(found.numbers["front"][0], found.numbers["ripple"][0])
    assert found.value[0] == pytest.approx(np.hypot(rest, rise), rel=0.01)


def test_axes_at_unlike_heights_count_though_the_tilt_fits() -> None:
    low = scenes.place("top", base=0.40, front=0.5)
    stood = aim(scenes.box(), low, scenes.seats())
    assert stood.residual[0] == pytest.approx(0.0)
    towers = scenes.stands()
    ahead = 3.0 - stood.tilted_front[0]
    apart = np.degrees(np.arctan2(stood.tilted_height[0] - 1.02, ahead) - np.arctan2(0.92 - 1.02, np.hypot(2.55, 1.3)))
    assert aim_left(stood, towers, scenes.seats())[0, 0] == pytest.approx(abs(apart), abs=1e-3)


def test_a_wide_pair_on_its_side_serves_the_outer_seats() -> None:
    seats = scenes.seats((0.0, 1.3))
    stood = aim(scenes.box(), FLAT, seats)
    lying, upright = (
        at_seats(voices(), np.array([0]), stood, seats, on_side).levels[0, 1] for on_side in (False, True)
    )
    assert lying.min() < -8
    assert upright.min() > -6


def test_a_pair_one_over_the_other_sends_little_down() -> None:
    seats = scenes.seats()
    stood = aim(scenes.box(), FLAT, seats)
    sent = downward(voices(), np.array([0]), np.array([-30.0]), stood, seats, on_side=True)
    assert sent.min() < -6
    even = downward(voices(), np.array([0]), np.array([0.0]), stood, seats, on_side=True)
    np.testing.assert_allclose(even, 0.0, atol=0.02)


def test_above_a_measured_plane_the_model_goes_on() -> None:
    seats = scenes.seats((0.0, 0.3), 3.0, np.array([1.02, 1.9]))
    stood = aim(scenes.box(), FLAT, seats)
    found = at_seats(voices(curves(angle=ANGLE, level=LEVEL)), np.array([0]), stood, seats, on_side=False).levels[0, 1]
    plane = np.interp(np.degrees(np.arcsin(0.3 / np.sqrt(0.3**2 + 3.0**2 + 0.88**2))), ANGLE, LEVEL[:, -1])
    assert found[-1] < plane - 0.3


def test_left_and_right_mains_count_by_their_power() -> None:
    seats, towers = scenes.seats((0.7,)), scenes.stands(toe_in=0.0)
    model = replace(voices(), kin=kin(0))
    each = decibels_of(power_at(model.sources, mains_points(towers, seats, 0)))[0]
    assert np.abs(each[0] - each[1]).max() > 1.0
    mean = 10 * np.log10((10 ** (each[0] / 10) + 10 ** (each[1] / 10)) / 2)
    np.testing.assert_allclose(mains_sound(model, towers, seats).direct[0], mean, atol=1e-4)
