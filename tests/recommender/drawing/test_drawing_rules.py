"""What holds for every drawing, whatever is drawn and whatever it is called."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from math import isfinite

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import example_count
from tests.recommender.drawing import examples
from tests.recommender.drawing.reading import Drawn, read
from triptych.recommender.drawing import floor_plan, frame, front_elevation, pieces, table
from triptych.recommender.drawing.canvas import Box, Canvas, Point
from triptych.recommender.drawing.drawn_numbers import Unit
from triptych.recommender.drawing.floor_plan import DrawnSeat, FloorPlan, plan
from triptych.recommender.drawing.front_elevation import Front, front
from triptych.recommender.drawing.money_bars import MoneySplit, Share, money
from triptych.recommender.drawing.response import Response, response
from triptych.recommender.drawing.seatmap import SeatHearing, SeatMap, seat_map
from triptych.recommender.drawing.section import Side
from triptych.recommender.drawing.shapes import Cabinet, DrawnPicture, Opening
from triptych.recommender.drawing.side_section import side
from triptych.recommender.drawing.style import PAPER, SCREEN

HARD_NAMES = (
    "Alder <&\" ' > & Sons",
    "Громкоговоритель средний Щёлково",
    "中央スピーカー・大型の箱型モデル",
    "مكبر الصوت الأوسط 560",
    "ลำโพงกลางขนาดใหญ่",
    "x" * 300,
    "many short words " * 30,
    "two\nlines\tand\x07 a bell \ud800 \ufffe \x01",
    "W" * 40 + " é̂̃̄̅̆",
    "",
    "🔊🔊 loud",
)
NAMES = st.one_of(st.sampled_from(HARD_NAMES), st.text(max_size=60))
UNITS = st.sampled_from(Unit)
WIDTHS = st.sampled_from((90.0, 110.0, 180.0, 260.0))

SOME_SEATS = (examples.SEATS[:1], examples.SEATS)
TALL = Cabinet(0.48, 0.195, 0.27, 0.005, 0.083)


def lengths(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


def maybe(strategy: st.SearchStrategy[float]) -> st.SearchStrategy[float | None]:
    return st.none() | strategy


# the plausible ranges of catalog.quantities
CABINETS = st.builds(
    Cabinet, lengths(0.04, 2), lengths(0.04, 2.5), lengths(0.03, 1.5), lengths(0, 0.15), maybe(lengths(0, 2.2))
)
KINDS = st.sampled_from(("cavity", "open_shelf", "top", "stand", "wall", "behind_screen"))
OPENINGS = st.builds(
    Opening,
    NAMES,
    KINDS,
    lengths(0, 6),
    maybe(lengths(0.05, 20)),
    maybe(lengths(0.03, 8)),
    maybe(lengths(0.03, 8)),
    st.booleans(),
)
PICTURES = st.none() | st.builds(DrawnPicture, lengths(0, 6), lengths(0.2, 20), lengths(0.1, 12), st.booleans())
TILTS = maybe(lengths(-30, 30))
FRONTS = st.builds(
    Front,
    NAMES,
    NAMES,
    OPENINGS,
    CABINETS,
    TILTS,
    lengths(0.3, 20),
    lengths(0.3, 6),
    maybe(lengths(0.05, 4)),
    st.none() | CABINETS,
    lengths(0, 1),
    PICTURES,
)
SIDES = st.builds(
    Side,
    NAMES,
    OPENINGS,
    CABINETS,
    lengths(0, 10),
    TILTS,
    lengths(0.3, 30),
    lengths(0.3, 6),
    TILTS,
    maybe(lengths(0, 8)),
    lengths(0, 0.3),
    lengths(-0.3, 3),
    maybe(lengths(50, 20000)),
    PICTURES,
)


@st.composite
def plans(draw: st.DrawFn) -> FloorPlan:
    places = draw(st.lists(st.tuples(NAMES, lengths(-15, 15), lengths(0.3, 30)), min_size=1, max_size=14))
    primary = draw(st.integers(0, len(places) - 1))
    seats = tuple(DrawnSeat(name, x, far, i == primary, draw(st.booleans())) for i, (name, x, far) in enumerate(places))
    box = draw(st.tuples(lengths(0.04, 2), lengths(0.03, 1.5)))
    main = draw(st.none() | st.tuples(lengths(0.04, 2), lengths(0.03, 1.5)))
    spacing, wall, toe_in = draw(lengths(0.3, 20)), draw(lengths(0, 10)), draw(lengths(-10, 60))
    baffle, picture = draw(lengths(0, 10)), draw(maybe(lengths(0.2, 20)))
    return FloorPlan(draw(NAMES), draw(NAMES), box, baffle, spacing, wall, toe_in, seats, main, picture)


HEARD = st.builds(
    SeatHearing,
    NAMES,
    lengths(-15, 15),
    lengths(0.3, 30),
    lengths(-180, 180),
    maybe(lengths(-60, 3)),
    maybe(lengths(200, 6000)),
    maybe(lengths(50, 40000)),
    st.booleans(),
    st.booleans(),
)
SEAT_MAPS = st.builds(SeatMap, NAMES, lengths(0, 10), st.lists(HEARD, min_size=1, max_size=14).map(tuple))


@st.composite
def responses(draw: st.DrawFn) -> Response:
    bands = draw(st.integers(2, 40))
    first, ratio = draw(lengths(20, 500)), draw(lengths(1.05, 2))
    level = st.lists(st.floats(-80, 40) | st.just(float("nan")), min_size=bands, max_size=bands).map(tuple)
    frequency = tuple(first * ratio**band for band in range(bands))
    centre, mains, low, high = (draw(level) for _ in range(4))
    return Response(draw(NAMES), draw(NAMES), draw(NAMES), frequency, centre, mains, low, high)


@st.composite
def moneys(draw: st.DrawFn) -> MoneySplit:
    roles = ("mains", "centre", "surrounds", "wides", "heights", "sub", "electronics", "accessories", "display")
    amounts = draw(st.lists(st.floats(0.01, 1e7), max_size=len(roles)))
    whole, speakers = sum(amounts), sum(amounts[:6])
    shares = tuple(
        Share(role, amount, amount / whole, amount / speakers if i < 6 else None)
        for i, (role, amount) in enumerate(zip(roles, amounts, strict=False))
    )
    return MoneySplit(draw(st.sampled_from(("EUR", "JPY", "GBP"))), draw(st.booleans()), whole, speakers, shares)


def check(svg: str) -> Drawn:
    drawn = read(svg)
    page = drawn.page
    for words in drawn.words:
        assert words.box.within(page), words
    for one, other in combinations(drawn.words, 2):
        assert not one.box.meets(other.box), (one, other)
    assert not [c for c in svg[:-1] if unicodedata.category(c) in ("Cc", "Cs", "Cn")]
    assert all(isfinite(float(value)) for value in _numbers(drawn))
    assert "<script" not in svg
    assert not re.search(r"(?:href|src|url\((?!#)|@import|http(?!://www\.w3\.org/2000/svg))", _markup(svg))
    return drawn


def crossed(drawn: Drawn) -> list[str]:
    """Words through which a line goes down to a dimension."""
    faint = [one.attrib for one in drawn.root.iter() if one.tag.endswith("line") and one.get("class") == "faint"]
    ends = [
        [float(line[key]) for key in ("x1", "y1", "x2", "y2")] for line in faint if line.get("x1") == line.get("x2")
    ]
    down = [(x, min(y, end), max(y, end)) for x, y, _, end in ends]
    return [
        words.text
        for words in drawn.words
        for x, low, high in down
        if words.box.left < x < words.box.right and low < words.box.bottom - 0.01 and high > words.box.top + 0.01
    ]


def _numbers(drawn: Drawn) -> Iterator[str]:
    for element in drawn.root.iter():
        for name in ("x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "width", "height"):
            if name in element.attrib:
                yield element.attrib[name].removesuffix("mm")
        for pair in element.get("points", "").split():
            yield from pair.split(",")


def _markup(svg: str) -> str:
    """The drawing without what people called things."""
    return re.sub(r"(<(text|title|desc)\b[^>]*>).*?(</\2>)", r"\1\3", svg)


MANY = settings(max_examples=example_count(1 / 2))


@pytest.mark.slow
@MANY
@given(FRONTS, UNITS, WIDTHS)
def test_fronts(shown: Front, unit: Unit, width: float) -> None:
    svg = front(shown, unit, width)
    drawn = check(svg)
    assert (drawn.source, crossed(drawn)) == (front(shown, unit, width), [])


@pytest.mark.whole
@MANY
@given(SIDES, UNITS, WIDTHS)
def test_sides(shown: Side, unit: Unit, width: float) -> None:
    svg = side(shown, unit, width)
    drawn = check(svg)
    assert (drawn.source, crossed(drawn)) == (side(shown, unit, width), [])


@pytest.mark.slow
@MANY
@given(plans(), UNITS, WIDTHS)
def test_plans(shown: FloorPlan, unit: Unit, width: float) -> None:
    svg = plan(shown, unit, width)
    drawn = check(svg)
    assert svg == plan(shown, unit, width)
    assert len([part for i in range(len(shown.seats)) for part in drawn.parts(f"ray-{i + 1}")]) == len(shown.seats)


@pytest.mark.slow
@MANY
@given(SEAT_MAPS, UNITS, WIDTHS)
def test_seat_maps(shown: SeatMap, unit: Unit, width: float) -> None:
    svg = seat_map(shown, unit, width)
    assert check(svg).source == seat_map(shown, unit, width)


@pytest.mark.slow
@MANY
@given(responses(), WIDTHS)
def test_responses(shown: Response, width: float) -> None:
    svg = response(shown, width)
    assert check(svg).source == response(shown, width)


@MANY
@given(moneys(), WIDTHS)
def test_moneys(shown: MoneySplit, width: float) -> None:
    svg = money(shown, width)
    assert check(svg).source == money(shown, width)


@pytest.mark.parametrize("name", examples.ALL)
def test_the_examples_keep_the_rules_and_say_what_they_are(name: str) -> None:
    drawn = check(examples.ALL[name]())
    ids = drawn.root.attrib["aria-labelledby"].split()
    told = {element.get("id"): element.text for element in drawn.root.iter() if element.get("id") in ids}
    assert all(told[one] for one in ids)
    assert drawn.root.attrib["role"] == "img"
    assert drawn.page.right == float(drawn.root.attrib["width"].removesuffix("mm"))


def test_what_is_kept_of_drawings_is_what_would_be_drawn_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    rooms = [replace(examples.FRONT_IN_BAY, spacing=apart, box=box) for apart in (2.6, 3.1) for box in (None, TALL)]
    plans = [
        replace(examples.PLAN, spacing=apart, seats=examples.SEATS[:most]) for apart in (2.6, 3.1) for most in (1, 3)
    ]

    def every() -> list[str]:
        seen = [front(room, unit, width) for room in rooms for unit in Unit for width in (90.0, 180.0)]
        return [*seen, *(plan(room, unit, width) for room in plans for unit in Unit for width in (90.0, 180.0))]

    warm = (every(), every())[1]
    bare = 0
    for module in (frame, front_elevation, floor_plan, table):
        for name, function in vars(module).copy().items():
            if getattr(function, "__globals__", None) is vars(pieces) and hasattr(function, "__wrapped__"):
                monkeypatch.setattr(module, name, function.__wrapped__)
                bare += 1
    assert bare >= 8
    assert every() == warm


def test_a_piece_that_looks_for_room_on_its_sheet_is_refused() -> None:
    @pieces.kept
    def label(canvas: Canvas) -> bool:
        return canvas.place(Point(1.0, 1.0), "words", Box(0.0, 0.0, 50.0, 50.0))

    with pytest.raises(AssertionError, match="looks for room"):
        label(Canvas("plan", 90.0, "", ""))


def test_names_are_written_as_they_are() -> None:
    name = "Alder <&\" ' & Sons"
    drawn = read(side(Side(name, examples.BAY, examples.LOW, 0.45, 6.0, 3.0, 1.02)))
    assert drawn.says(f"Centre: {name}")


def test_two_drawings_on_a_page_share_no_id_unless_they_are_the_same() -> None:
    svgs = dict.fromkeys(draw() for draw in examples.ALL.values())
    ids = [set(re.findall(r' id="([^"]+)"', svg)) for svg in svgs]
    assert not any(one & other for one, other in combinations(ids, 2))


def test_figures_are_in_the_users_units() -> None:
    # 480 mm = 18.898 in = 18 14/16 in to the nearest sixteenth; 2600 mm = 102.362 in = 102 6/16 in
    inches = read(front(examples.FRONT_IN_BAY, Unit.INCH))
    assert inches.says("18 7/8 in centre")
    assert inches.says("102 3/8 in mains")
    assert not any(re.search(r"\d\smm\b", words.text) for words in inches.words)
    assert read(front(examples.FRONT_IN_BAY)).says("480 mm centre")


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("palette", [PAPER, SCREEN])
def test_words_and_lines_stand_out_from_the_page(palette: dict[str, str]) -> None:
    # WCAG 2.1, success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (graphics, 3:1); all of these are used for both
    page = _luminance(palette["paper"])
    for name in ("ink", "quiet", "place", "mains", "centre", "seat", "bounce"):
        one = _luminance(palette[name])
        assert (max(one, page) + 0.05) / (min(one, page) + 0.05) >= 4.5, name


def test_paper_and_screen_know_the_same_colours() -> None:
    assert PAPER.keys() == SCREEN.keys()
    svg = examples.ALL["plan, mm, 180 mm"]()
    assert "@media screen and (prefers-color-scheme:dark)" in svg
