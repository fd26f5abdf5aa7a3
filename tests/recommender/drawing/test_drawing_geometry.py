"""With a ruler on the drawings: what they show against trigonometry, the physics and the figures they were given."""

from __future__ import annotations

from dataclasses import replace
from math import cos, log10, radians, sin
from xml.etree.ElementTree import Element

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.recommender.drawing import examples
from tests.recommender.drawing.reading import Drawn, apart, read, slope
from triptych.recommender.drawing import seatmap
from triptych.recommender.drawing.canvas import Point
from triptych.recommender.drawing.floor_plan import plan
from triptych.recommender.drawing.front_elevation import front
from triptych.recommender.drawing.money_bars import money
from triptych.recommender.drawing.response import response
from triptych.recommender.drawing.seatmap import seat_map
from triptych.recommender.drawing.shapes import Tilted
from triptych.recommender.drawing.side_section import side
from triptych.recommender.physics import coverage, geometry, reflection

ROUNDED = 0.002
"""Coordinates are written to a thousandth of a millimetre [mm]."""


def scale_of(drawn: Drawn) -> int:
    note = next(words.text for words in drawn.words if "cale 1:" in words.text or "map 1:" in words.text)
    return int(note.split("1:")[1].split()[0])


@pytest.mark.parametrize("tilt", [6.0, -6.0, 0.0, 14.2, -27.5])
def test_a_tilt_is_drawn_as_that_angle(tilt: float) -> None:
    drawn = read(side(replace(examples.SIDE_ON_UNIT, tilt=tilt)))
    assert slope(*drawn.ends("axis")) == pytest.approx(tilt, abs=0.02)
    front_edge = drawn.points("box-large")[:2]
    assert slope(*front_edge) == pytest.approx(90 + tilt, abs=0.02)


def test_the_axis_stands_upright_on_the_front() -> None:
    drawn = read(side(examples.SIDE_IN_BAY))
    assert slope(*drawn.points("box")[:2]) - slope(*drawn.ends("axis")) == pytest.approx(90.0, abs=0.05)


@given(tilt=st.floats(-30, 30))
def test_a_tilted_box_takes_what_the_fit_gate_says(tilt: float) -> None:
    # recommender.physics.geometry: H cos t + D sin t, D cos t + H sin t, D sin t
    box = examples.STACKED
    tilted = Tilted(box, tilt)
    assert tilted.height == pytest.approx(float(geometry.tilted_height(box.stood, box.depth, tilt)))
    assert tilted.depth == pytest.approx(float(geometry.tilted_depth(box.stood, box.depth, tilt)))
    assert tilted.lift == pytest.approx(float(geometry.lift(box.depth, tilt)))
    lowest = min(up for _, up in tilted.corners)
    foremost = max(ahead for ahead, _ in tilted.corners)
    assert (lowest, foremost) == pytest.approx((0.0, 0.0), abs=1e-12)


@given(tilt=st.floats(-30, 30), back=st.floats(0, 0.3), up=st.floats(0, 0.21))
def test_tilting_keeps_distances(tilt: float, back: float, up: float) -> None:
    tilted = Tilted(examples.STACKED, tilt)
    one, other = tilted.point(0.0, 0.0), tilted.point(back, up)
    assert apart(Point(*one), Point(*other)) == pytest.approx((back**2 + up**2) ** 0.5, abs=1e-12)


def test_a_fitting_box_lies_inside_its_opening() -> None:
    elevation = read(front(examples.FRONT_IN_BAY))
    assert elevation.box("centre").within(elevation.box("opening"))
    section = read(side(examples.SIDE_IN_BAY))
    lids, floors = section.parts("lid"), section.parts("surface")
    low = float(floors[1].attrib["y"])
    high = float(lids[1].attrib["y"]) + float(lids[1].attrib["height"])
    drawn_box = section.box("box-large")
    assert high < drawn_box.top
    assert drawn_box.bottom < low + ROUNDED


def test_a_box_that_is_too_high_says_so() -> None:
    drawn = read(side(replace(examples.SIDE_IN_BAY, tilt=12.0)))
    short = geometry.tilted_height(examples.LOW.stood, examples.LOW.depth, 12.0) - 0.21
    assert drawn.says(f"{round(float(short) * 1000)} mm too high")
    assert not drawn.says("free above")


def test_clearances_are_those_of_the_fit_gate() -> None:
    drawn = read(side(examples.SIDE_IN_BAY))
    height, depth = examples.LOW.stood, examples.LOW.depth
    above = 0.21 - float(geometry.tilted_height(height, depth, 6.0))
    behind = 0.38 - float(geometry.tilted_depth(height, depth, 6.0))
    lift = float(geometry.lift(depth, 6.0))
    for words in (f"{above * 1000:.0f} mm free above", f"{behind * 1000:.0f} mm free behind"):
        assert drawn.says(words)
    assert drawn.says(f"{lift * 1000:.0f} mm front edge lifted")


@pytest.mark.parametrize("width", [90.0, 120.0, 180.0, 260.0])
def test_the_front_elevation_is_to_its_scale(width: float) -> None:
    drawn = read(front(examples.FRONT_IN_BAY, width=width))
    k = 1000 / scale_of(drawn)
    picture, centre, main = drawn.box("picture"), drawn.box("centre"), drawn.box("main-left")
    assert picture.right - picture.left == pytest.approx(1.439 * k, abs=ROUNDED)
    assert picture.bottom - picture.top == pytest.approx(0.809 * k, abs=ROUNDED)
    assert centre.right - centre.left == pytest.approx(0.48 * k, abs=ROUNDED)
    assert main.bottom - main.top == pytest.approx(0.985 * k, abs=ROUNDED)
    assert apart(drawn.middle("tweeter-left"), drawn.middle("tweeter-right")) == pytest.approx(2.6 * k, abs=ROUNDED)
    floor = drawn.ends("floor")[0].y
    assert floor - centre.bottom == pytest.approx(0.27 * k, abs=ROUNDED)
    heights = [float(line.attrib["y1"]) for line in drawn.parts("height")]
    assert min(abs(floor - height - 1.02 * k) for height in heights) < ROUNDED
    assert drawn.root.attrib["width"] == f"{width:g}mm"


def test_the_front_of_a_box_that_looks_up_is_foreshortened() -> None:
    drawn = read(front(examples.FRONT_IN_BAY))
    k, centre = 1000 / scale_of(drawn), drawn.box("centre")
    edges = [float(line.attrib["y1"]) for line in drawn.parts("edge")]
    lift = examples.LOW.depth * sin(radians(6.0))
    assert edges == pytest.approx([centre.bottom - lift * k], abs=ROUNDED)
    assert edges[0] - centre.top == pytest.approx(examples.LOW.stood * cos(radians(6.0)) * k, abs=ROUNDED)


def test_the_bounce_leaves_as_it_arrives_and_where_the_physics_says() -> None:
    shown = examples.SIDE_WITH_BOUNCE
    drawn = read(side(shown))
    start, touch, ear = drawn.points("bounce")
    assert slope(start, touch) == pytest.approx(-slope(touch, ear), abs=0.02)
    source = examples.STACKED.feet + 0.152
    along = reflection.reflection_point(source, 1.02 - 0.27, 3.0 - 0.5)
    assert (touch.x - start.x) * scale_of(drawn) / 1000 == pytest.approx(float(along), abs=1e-4)
    surface = drawn.parts("surface")[0]
    assert touch.y == pytest.approx(float(surface.attrib["y"]), abs=ROUNDED)
    assert touch.x < float(surface.attrib["x"]) + float(surface.attrib["width"])


def test_no_bounce_is_drawn_where_there_is_none() -> None:
    assert not read(side(examples.SIDE_IN_BAY)).parts("bounce")
    assert not read(side(replace(examples.SIDE_WITH_BOUNCE, setback=0.1))).parts("bounce")


def test_an_unknown_axis_is_not_drawn() -> None:
    box = replace(examples.LOW, axis=None)
    section = read(side(replace(examples.SIDE_IN_BAY, box=box, tilt=None, residual=None)))
    assert not section.parts("axis")
    assert section.says("not known")
    assert not read(front(replace(examples.FRONT_IN_BAY, box=box))).says("centre’s axis")


def test_seats_lie_where_they_sit_and_at_the_angles_of_the_physics() -> None:
    drawn = read(plan(examples.PLAN))
    k, source = 1000 / scale_of(drawn), drawn.middle("tweeter-centre")
    for index, seat in enumerate(examples.SEATS):
        here = drawn.middle(f"seat-{index + 1}")
        assert (here.x - source.x) / k == pytest.approx(seat.x, abs=1e-4)
        assert (here.y - source.y) / k == pytest.approx(seat.distance - 0.45, abs=1e-4)
        angle = float(geometry.azimuth(seat.x, seat.distance - 0.45))
        start, end = drawn.ends(f"ray-{index + 1}")
        assert slope(start, end) + 90.0 == pytest.approx(angle, abs=0.02)
        assert drawn.says(f"{angle:.1f}°".replace("-", "−"))


@pytest.mark.parametrize("toe_in", [12.0, 0.0, 30.0, -5.0])
def test_toe_in_is_drawn_as_that_angle_and_mirrored(toe_in: float) -> None:
    drawn = read(plan(replace(examples.PLAN, toe_in=toe_in)))
    assert slope(*drawn.ends("axis-left")) == pytest.approx(-90.0 + toe_in, abs=0.02)
    assert slope(*drawn.ends("axis-right")) == pytest.approx(-90.0 - toe_in, abs=0.02)
    front_left, front_right = drawn.points("main-left")[:2]
    # the baffle stands square to the axis
    assert slope(front_left, front_right) == pytest.approx(toe_in, abs=0.05)
    assert apart(front_left, front_right) == pytest.approx(0.195 * 1000 / scale_of(drawn), abs=ROUNDED)


def test_the_arc_of_equal_distance_runs_through_both_mains() -> None:
    drawn = read(plan(examples.PLAN))
    path = drawn.part("equal-distance").attrib["d"].replace("M", "").replace("A", " ").split()
    x0, y0, radius, _, _, _, _, x1, y1 = map(float, path)
    ends = sorted([Point(x0, y0), Point(x1, y1)])
    for end, name in zip(ends, ("left", "right"), strict=True):
        assert apart(end, drawn.middle(f"tweeter-{name}")) < ROUNDED
    assert radius == pytest.approx(apart(drawn.middle("seat-1"), ends[0]), abs=ROUNDED)


def test_dips_stand_at_their_frequency_and_hang_as_deep_as_they_are() -> None:
    drawn = read(seat_map(examples.SEAT_MAP))
    left, right = (drawn.points(f"dip-{seat}") for seat in (1, 4))
    tips = [max(points, key=lambda point: point.y) for points in (left, right)]
    decades = log10(5200 / 1560) / log10(6000 / 200)
    zero = drawn.ends("zero-1")
    inner = (zero[1].x - 8.0) - (zero[0].x + 8.0)
    assert tips[0].x - tips[1].x == pytest.approx(decades * inner, abs=0.01)
    frames, bars = drawn.box("frame-2"), drawn.box("bar-2")
    assert (bars.bottom - bars.top) / (frames.bottom - frames.top) == pytest.approx(3.0 / 12.0, abs=1e-3)
    deepest = drawn.box("bar-4")
    assert deepest.bottom == pytest.approx(drawn.box("frame-4").bottom, abs=ROUNDED)
    assert not drawn.parts("bar-5")
    assert drawn.says("not known")


def test_the_map_shows_the_band_in_which_dips_are_looked_for() -> None:
    assert (seatmap.LOWEST_DIP, seatmap.HIGHEST_DIP) == (coverage.LOWEST_HEARD, coverage.HIGHEST_HEARD)


def test_curves_show_their_levels() -> None:
    drawn = read(response(examples.RESPONSE))
    centre, difference = drawn.points("centre"), drawn.points("difference")
    assert len(centre) == len(examples.BANDS)
    # the first band of the mains is not known, so neither is the difference there
    assert len(difference) == len(drawn.points("mains")) == len(examples.BANDS) - 1
    panel = drawn.parts("panel")[0].attrib
    across = [(point.x - float(panel["x"])) / float(panel["width"]) for point in centre]
    assert across == pytest.approx([band / 21 for band in range(22)], abs=1e-4)
    up = [point.y - centre[0].y for point in centre]
    per_decibel = up[3] / examples.CENTRE_LEVEL[3]
    assert up == pytest.approx([level * per_decibel for level in examples.CENTRE_LEVEL], abs=0.01)
    assert per_decibel < 0
    spread = drawn.box("spread")
    assert all(spread.top < point.y < spread.bottom for point in difference)


def test_pieces_of_a_bar_are_as_high_as_their_shares() -> None:
    drawn = read(money(examples.MONEY))
    for share in examples.MONEY.shares:
        pieces = drawn.parts(f"segment-{share.role}")
        parts = [part for part in (share.of_audio_total, share.of_speakers_and_sub) if part]
        assert len(pieces) == len(parts)
        whole = sum(float(piece.attrib["height"]) for piece in _first_bar(drawn))
        for piece, part in zip(pieces, parts, strict=True):
            assert float(piece.attrib["height"]) == pytest.approx(part * whole, abs=0.01)
            assert drawn.says(f"{100 * part:.1f} %")


def _first_bar(drawn: Drawn) -> list[Element]:
    pieces = [part for share in examples.MONEY.shares for part in drawn.parts(f"segment-{share.role}")]
    return [piece for piece in pieces if piece.attrib["x"] == pieces[0].attrib["x"]]
