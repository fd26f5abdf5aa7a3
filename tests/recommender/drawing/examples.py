"""The seed room's figures as drawings: a lying centre in the bay, one on the unit, one on the shelf."""

from __future__ import annotations

from collections.abc import Callable
from math import nan, sin

from triptych.recommender.drawing.drawn_numbers import Unit
from triptych.recommender.drawing.floor_plan import DrawnSeat, FloorPlan, plan
from triptych.recommender.drawing.front_elevation import Front, front
from triptych.recommender.drawing.money_bars import MoneySplit, Share, money
from triptych.recommender.drawing.response import Response, response
from triptych.recommender.drawing.seatmap import SeatHearing, SeatMap, seat_map
from triptych.recommender.drawing.section import Side
from triptych.recommender.drawing.shapes import Cabinet, DrawnDriver, DrawnPicture, Opening
from triptych.recommender.drawing.side_section import side

BAY = Opening("media unit bay", "cavity", 0.27, 0.64, 0.21, 0.38, True)
UNIT_TOP = Opening("top of the unit", "top", 0.52, 1.6, 0.285, 0.45)
SHELF = Opening("shelf over the picture", "open_shelf", 1.70, 1.1, 0.33, 0.28)
LOW = Cabinet(0.48, 0.165, 0.27, 0.005, 0.083)
STACKED = Cabinet(0.56, 0.205, 0.30, 0.005, 0.152)
TOWER = Cabinet(0.195, 0.985, 0.31, 0.02, 0.905)
PICTURE = DrawnPicture(0.82, 1.439, 0.809)
LOW_NAME, STACKED_NAME = "Bramble Thatch Trivet Wide Centre", "Bramble Thatch Trivet Stacked Centre"
MAINS_NAME = "Bramble Thatch Trivet Tower"
DRIVERS = (DrawnDriver(-0.1175, 0.0, 0.13), DrawnDriver(0.1175, 0.0, 0.13), DrawnDriver(0.0, 0.0, 0.025, True))

FRONT_IN_BAY = Front(LOW_NAME, MAINS_NAME, BAY, LOW, 6.0, 2.6, 1.02, 0.925, TOWER, 0.0, PICTURE, DRIVERS)
FRONT_ON_UNIT = Front(STACKED_NAME, MAINS_NAME, UNIT_TOP, STACKED, 7.4, 2.6, 1.02, 0.925, TOWER, 0.0, PICTURE)
FRONT_ON_SHELF = Front(LOW_NAME, MAINS_NAME, SHELF, LOW, -9.0, 2.6, 1.02, None, None, 0.0, PICTURE)

SIDE_IN_BAY = Side(LOW_NAME, BAY, LOW, 0.45, 6.0, 3.0, 1.02, 7.7, 0.38, 0.04, 0.0, None, PICTURE)
SIDE_ON_UNIT = Side(STACKED_NAME, UNIT_TOP, STACKED, 0.45, 7.4, 3.0, 1.02, 0.0, 0.45, 0.04, 0.0, None, PICTURE)
SIDE_ON_SHELF = Side(LOW_NAME, SHELF, LOW, 0.29, -14.2, 3.0, 1.02, 0.0, 0.29, 0.0, 0.0, None, PICTURE)
BENCH = Opening("long bench", "top", 0.27, 1.6, None, 1.2)
SIDE_WITH_BOUNCE = Side(STACKED_NAME, BENCH, STACKED, 0.5, 0.0, 3.0, 1.02, None, 1.2, 0.04, 0.7, 1420.0, PICTURE)

SEATS = (
    DrawnSeat("middle", 0.0, 3.0, primary=True),
    DrawnSeat("left of middle", -0.65, 3.0),
    DrawnSeat("right of middle", 0.65, 3.0),
    DrawnSeat("far left", -1.3, 3.0),
    DrawnSeat("corner", 1.45, 2.7, regular=False),
)
PLAN = FloorPlan(LOW_NAME, MAINS_NAME, (0.48, 0.27), 0.45, 2.6, 0.45, 12.0, SEATS, (0.195, 0.31), 1.439)

HEARD = (
    SeatHearing("middle", 0.0, 3.0, 0.0, -0.4, 5200.0, None, True),
    SeatHearing("left of middle", -0.65, 3.0, -14.3, -3.0, 1650.0, 2950.0),
    SeatHearing("right of middle", 0.65, 3.0, 14.3, -3.0, 1650.0, 2950.0),
    SeatHearing("far left", -1.3, 3.0, -27.0, -14.2, 1560.0, 1610.0),
    SeatHearing("corner", 1.45, 2.7, 32.8, None, None, None, False, False),
)
SEAT_MAP = SeatMap(LOW_NAME, 0.45, HEARD)

BANDS = tuple(100.0 * 2.0 ** (band / 3) for band in range(22))
CENTRE_LEVEL = tuple(1.2 * sin(band / 3) for band in range(22))
MAINS_LEVEL = tuple(nan if band == 0 else 0.5 * sin(band / 5) for band in range(22))
RESPONSE = Response(
    LOW_NAME,
    MAINS_NAME,
    "middle",
    BANDS,
    CENTRE_LEVEL,
    MAINS_LEVEL,
    tuple(a - b - 1.0 for a, b in zip(CENTRE_LEVEL, MAINS_LEVEL, strict=True)),
    tuple(a - b + 1.0 for a, b in zip(CENTRE_LEVEL, MAINS_LEVEL, strict=True)),
)

MONEY = MoneySplit(
    "EUR",
    True,
    4000.0,
    2800.0,
    (
        Share("mains", 1290.0, 1290 / 4000, 1290 / 2800),
        Share("centre", 590.0, 590 / 4000, 590 / 2800),
        Share("surrounds", 420.0, 420 / 4000, 420 / 2800),
        Share("sub", 500.0, 500 / 4000, 500 / 2800),
        Share("electronics", 970.0, 970 / 4000, None),
        Share("accessories", 130.0, 130 / 4000, None),
        Share("calibration", 100.0, 100 / 4000, None),
    ),
)


def _each(unit: Unit, width: float) -> dict[str, Callable[[], str]]:
    return {
        "front in the bay": lambda: front(FRONT_IN_BAY, unit, width),
        "front on the unit": lambda: front(FRONT_ON_UNIT, unit, width),
        "front on the shelf": lambda: front(FRONT_ON_SHELF, unit, width),
        "side in the bay": lambda: side(SIDE_IN_BAY, unit, width),
        "side on the unit": lambda: side(SIDE_ON_UNIT, unit, width),
        "side on the shelf": lambda: side(SIDE_ON_SHELF, unit, width),
        "side with bounce": lambda: side(SIDE_WITH_BOUNCE, unit, width),
        "plan": lambda: plan(PLAN, unit, width),
        "seat map": lambda: seat_map(SEAT_MAP, unit, width),
        "response": lambda: response(RESPONSE, width),
        "money": lambda: money(MONEY, width),
    }


ALL = {
    f"{name}, {unit.value}, {width:g} mm": draw
    for unit, width in ((Unit.MILLIMETRE, 180.0), (Unit.INCH, 180.0), (Unit.MILLIMETRE, 90.0), (Unit.INCH, 90.0))
    for name, draw in _each(unit, width).items()
}
"""Every drawing in both units on a wide and on a narrow sheet."""
