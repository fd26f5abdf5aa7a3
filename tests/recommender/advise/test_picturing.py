"""What is drawn is what was answered."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, radians, sin
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa

from tests.recommender.advise.scenarios import STACKED, TOP, WIDE, fill, record
from tests.recommender.report import made
from triptych.catalog.database.address import as_url
from triptych.catalog.database.engine import open_engine, reading
from triptych.recommender.advise.match import Question
from triptych.recommender.advise.picturing import Dossier, dossier, fitting
from triptych.recommender.drawing.floor_plan import DrawnSeat
from triptych.recommender.physics import erb

pytestmark = pytest.mark.whole

BENCH = TOP.replace('depth = "450 mm"', 'depth = "1.2 m"').replace(
    'front = "450 mm"', 'front = "1.2 m"\nsetback = "700 mm"'
)


@pytest.fixture
def engine(sqlite_path: Path) -> Iterator[sa.Engine]:
    opened = open_engine(as_url(str(sqlite_path)))
    fill(opened, record(WIDE), record(STACKED))
    yield opened
    opened.dispose()


def found(engine: sa.Engine, *places: str) -> Dossier:
    with reading(engine) as session:
        return dossier(session, Question("Alder Croft Flint Tower", made.room(*places)), 3)[0]


def test_every_drawing_of_a_known_centre_can_be_drawn(engine: sa.Engine) -> None:
    for shown in found(engine, TOP).shown:
        pictures = shown.pictures
        assert None not in (pictures.front, pictures.side, pictures.plan, pictures.seat_map, pictures.response)


def test_the_drawn_box_is_tilted_and_lifted_as_answered(engine: sa.Engine) -> None:
    for shown in found(engine, TOP).shown:
        side, numbers = shown.pictures.side, shown.standing.quantities
        assert side is not None
        assert side.tilt is not None
        used, lift = numbers["tilt_used_deg"], numbers["lift_mm"]
        assert side.tilt == pytest.approx(used)
        assert side.tilted.lift * 1000 == pytest.approx(lift)
        assert side.tilted.height * 1000 == pytest.approx(numbers["envelope_height_mm"])
        assert side.tilted.depth * 1000 == pytest.approx(numbers["envelope_depth_mm"])


def test_the_drawn_axis_meets_the_ear_where_the_answer_leaves_nothing(engine: sa.Engine) -> None:
    for shown in found(engine, TOP).shown:
        side, left = shown.pictures.side, shown.standing.quantities["residual_deg"]
        assert side is not None
        assert side.axis is not None
        assert left == pytest.approx(0.0, abs=1e-9)
        out, up = side.axis
        rises = np.degrees(np.arctan2(side.ear - up, side.ear_distance - out))
        assert side.tilt == pytest.approx(rises, abs=0.01)


def test_what_is_free_behind_and_above_is_what_the_envelope_leaves(engine: sa.Engine) -> None:
    shown = found(engine, TOP.replace("[[place]]", '[[place]]\nheight = "300 mm"')).shown[0]
    turn = radians(shown.tilt or 0.0)
    height, depth = (shown.record.height or 0) + (shown.record.feet or 0), shown.record.depth or 0
    # the envelope of a tilted box, by hand
    assert shown.clearance.above == pytest.approx(0.3 - height * cos(turn) - depth * sin(turn))
    assert shown.clearance.behind == pytest.approx(0.45 - depth * cos(turn) - height * sin(turn))
    assert shown.clearance.side == pytest.approx((1.6 - (shown.record.width or 0)) / 2)


def test_the_bounce_is_drawn_where_it_was_answered(engine: sa.Engine) -> None:
    shown = found(engine, BENCH).shown[0]
    side = shown.pictures.side
    assert side is not None
    assert side.bounce == shown.standing.criterion_named("surroundings").inputs["notch"] is not None
    assert side.bounce_point is not None


def test_the_seats_are_the_rooms_with_the_angles_answered(engine: sa.Engine) -> None:
    whole = found(engine, TOP)
    shown = whole.shown[0]
    assert shown.pictures.plan is not None
    assert shown.pictures.plan.seats == tuple(
        DrawnSeat(seat.name, seat.x, seat.distance, seat.primary, seat.regular) for seat in whole.room.seats
    )
    drawn = [shown.pictures.plan.azimuth(seat) for seat in shown.pictures.plan.seats]
    assert drawn == pytest.approx([seat.angle_deg for seat in shown.standing.seats], abs=1e-4)
    assert shown.pictures.seat_map is not None
    assert [seat.dip for seat in shown.pictures.seat_map.seats] == [seat.dip_db for seat in shown.standing.seats]


def test_the_response_lies_within_its_range_and_about_its_mean(engine: sa.Engine) -> None:
    for shown in found(engine, TOP).shown:
        response = shown.pictures.response
        assert response is not None
        assert response.frequency == pytest.approx(erb.bands())
        inside = (erb.bands() >= 200 - 1e-6) & (erb.bands() <= 8000)
        assert np.mean(np.array(response.centre_level)[inside]) == pytest.approx(0, abs=1e-9)
        assert np.mean(np.array(response.mains_level)[inside]) == pytest.approx(0, abs=1e-9)
        difference = np.array(response.difference)
        assert np.all(np.array(response.low) <= difference)
        assert np.all(difference <= np.array(response.high))


def test_drivers_are_drawn_on_the_box_and_one_tweeter_among_them(engine: sa.Engine) -> None:
    for shown in found(engine, TOP).shown:
        front = shown.pictures.front
        assert front is not None
        assert front.box is not None
        assert sum(driver.tweeter for driver in front.drivers) == 1
        for driver in front.drivers:
            assert abs(driver.x) + driver.size / 2 <= front.box.width / 2
            assert abs(driver.up) + driver.size / 2 <= front.box.height / 2 + 0.005


def test_what_is_not_known_is_not_drawn(engine: sa.Engine) -> None:
    silent = record(WIDE, model="Silent", height="", layout="", woofer_size="", woofer_count="")
    fill(engine, silent)
    with reading(engine) as session:
        shown = fitting(session, Question("Alder Croft Flint Tower", made.room(TOP)), silent.name)[0].shown[0]
    assert shown.pictures.front is None
    assert shown.pictures.side is None
    assert shown.pictures.response is None
    assert shown.clearance.above is None


def test_a_centre_is_fitted_where_it_does_best(engine: sa.Engine) -> None:
    best = found(engine, TOP, made.BAY).shown[0].standing
    with reading(engine) as session:
        question = Question("Alder Croft Flint Tower", made.room(TOP, made.BAY))
        fit = fitting(session, question, best.speaker)[0].shown[0].standing
    assert (fit.place, fit.pose) == (best.place, best.pose)
    assert fit.score == pytest.approx(best.score)
