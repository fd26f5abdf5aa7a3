"""The pages as text: escaped, whole, self-contained, in order; and their figures against the answer's."""

from __future__ import annotations

import base64
import hashlib
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.recommender.report import made
from tests.recommender.report.made import BAY, HARD, TOP, Page
from tests.recommender.verify.in_room import FLAT, hole, measured
from triptych.catalog.database.address import as_url
from triptych.catalog.database.engine import open_engine
from triptych.recommender.advise.advice import GateAnswer
from triptych.recommender.drawing.drawn_numbers import Unit
from triptych.recommender.report.client_report import report_page
from triptych.recommender.report.fit_sheet import NAME, cut, sheet_page

pytestmark = pytest.mark.whole


@pytest.fixture(params=HARD, ids=list(HARD))
def hard(request: pytest.FixtureRequest, sqlite_path: Path) -> Iterator[tuple[sa.Engine, str]]:
    engine = open_engine(as_url(str(sqlite_path)))
    yield engine, made.hard_catalogue(engine, HARD[request.param])
    engine.dispose()


@pytest.fixture
def plain(sqlite_path: Path) -> Iterator[sa.Engine]:
    engine = open_engine(as_url(str(sqlite_path)))
    made.hard_catalogue(engine, "Stacked")
    yield engine
    engine.dispose()


def check_page(page: Page, text: str) -> None:
    assert text.startswith("<!doctype html>")
    assert page.of("html")[0]["lang"] == "en-GB"
    assert page.headings[0] == 1
    assert page.headings.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(page.headings, page.headings[1:], strict=False))
    ids = Counter(held["id"] for held in page.attributes if "id" in held)
    assert all(count == 1 for count in ids.values()), ids.most_common(3)
    # only the page's own places and its own definitions are pointed at
    for held in page.attributes:
        for name in ("href", "src", "action", "srcset", "data"):
            if (aim := held.get(name)) is not None:
                assert aim.startswith("#"), held
                assert aim[1:] in ids
    assert set(re.findall(r"url\(([^)#]*)", text)) <= {""}
    # every drawing says what it shows
    for held in page.of("svg"):
        for place in (held["aria-labelledby"] or "").split():
            assert place in ids
        assert held["role"] == "img"


def test_a_report_with_hostile_names_is_whole_and_runs_nothing_of_theirs(hard: tuple[sa.Engine, str]) -> None:
    engine, name = hard
    surveyed = made.room(TOP, BAY, name=f"The {name}"[:200])
    found = made.asked(engine, surveyed)
    seat = surveyed.primary.name
    text = report_page(found, made.extra([measured(hole(1500, 15, 0.2), seat=seat)], found))
    page = Page(text)
    check_page(page, text)
    assert len(page.scripts) == 1
    assert "b" not in page.tags
    assert "49" not in {word.strip() for word in page.words}
    assert not set("\u202a\u202b\u202c\u202d\u202e") & set(text)


def test_a_sheet_with_hostile_names_is_whole_and_has_no_script(hard: tuple[sa.Engine, str]) -> None:
    engine, name = hard
    text = sheet_page(made.fitted(engine, name, made.room(TOP)))
    page = Page(text)
    check_page(page, text)
    assert "script" not in page.tags
    assert len(page.of("svg")) == 2


def test_the_policy_lets_our_own_script_run_and_no_other(plain: sa.Engine) -> None:
    text = report_page(made.asked(plain, made.room(TOP)))
    page = Page(text)
    (policy,) = (held["content"] for held in page.of("meta") if "http-equiv" in held)
    digest = base64.b64encode(hashlib.sha256(page.scripts[0].encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in (policy or "")
    assert (policy or "").startswith("default-src 'none'")


def test_the_report_says_what_the_answer_says(plain: sa.Engine) -> None:
    found = made.asked(plain, made.room(TOP, BAY))
    words = Page(report_page(found)).all_words
    first = found.advice.ranked[0]
    assert f"Take the {first.speaker}: {first.place}" in words
    assert f"It scores {first.score:.0f} of 100" in words
    for entry in found.advice.ranked:
        assert entry.speaker in words
    for piece in found.advice.advice:
        assert piece.why in words
    for caution in found.advice.cautions:
        assert caution in words
    for criterion in first.criteria:
        assert criterion.formula in words
        assert criterion.source in words
    for question in found.advice.questions:
        assert question.question in words


def test_what_passes_with_conditions_has_a_star_and_its_condition_and_is_counted_apart(plain: sa.Engine) -> None:
    found = made.asked(plain, made.room(TOP))
    first, *others = found.advice.ranked
    if_ever = GateAnswer("supply", "conditional", "last of its line", None, "units", "")
    entries = [first, replace(others[0], verdict="conditional", gates=(if_ever,))]
    for ranked, told in (
        (entries, f"{len(entries) - 1} passes every gate, 1 passes with conditions (*)"),
        (entries[1:], "1 passes with conditions (*)"),
    ):
        told_of = replace(found, advice=replace(found.advice, ranked=tuple(ranked)), shown=())
        words = Page(report_page(told_of)).all_words
        assert told in words
        assert f"{others[0].rank}*" in words
        assert f"{others[0].rank}* supply: last of its line" in words
        assert f"{first.rank}*" not in words


def test_every_place_of_the_report_can_be_reached_from_its_contents(plain: sa.Engine) -> None:
    found = made.asked(plain, made.room(TOP))
    page = Page(report_page(found, made.extra([measured(FLAT)], found)))
    sections = {held["id"] for held in page.of("section")}
    assert {f"#{one}" for one in sections} <= {held["href"] for held in page.of("a")}
    assert sections >= {"answer", "ranked", "ask", "budget", "built", "cautions", "sources"}


def test_a_report_where_nothing_passes_says_so(plain: sa.Engine) -> None:
    tight = TOP.replace('kind = "top"', 'kind = "cavity"').replace(
        'width = "1.6 m"', 'width = "100 mm"\nheight = "100 mm"'
    )
    found = made.asked(plain, made.room(tight))
    text = report_page(found)
    check_page(Page(text), text)
    words = Page(text).all_words
    assert "No centre of the catalogue passes every gate" in words
    assert "ruled out" in words
    for out in found.advice.excluded:
        assert out.speaker in words


def test_the_sheet_has_the_answers_millimetres_degrees_and_decibels(plain: sa.Engine) -> None:
    found = made.fitted(plain, "Alder Croft Flint Stacked", made.room(TOP))
    shown = found.shown[0]
    words = Page(sheet_page(found)).all_words.replace("\u00a0", " ")
    numbers = shown.standing.quantities
    lift, used = (numbers[name] for name in ("lift_mm", "tilt_used_deg"))
    assert lift is not None
    assert used is not None
    assert f"{used:.1f}° up: raise the front edge by {lift:.0f} mm" in words
    # the front edge of the top is 450 mm from the wall, and the box flush with it
    assert "450 mm from the front wall, flush with the front edge" in words
    clearance = numbers["rear_clearance_mm"]
    assert f"{clearance:.0f} mm free behind the box" in words
    # ear 3.0 m from the wall and 1.02 m up, baffle at 0.45 m: by Pythagoras with the drop to the axis
    assert shown.axis is not None
    straight = (2.55**2 + (1.02 - shown.axis) ** 2) ** 0.5
    assert f"{straight:.2f} m" in words
    main = (1.3**2 + 2.55**2 + (1.02 - 0.91) ** 2) ** 0.5
    assert f"{main:.2f} m" in words
    assert f"{(main - straight) / 343 * 1000:.2f} ms"[:3] in words


def test_lengths_are_in_the_units_asked_for(plain: sa.Engine) -> None:
    words = Page(sheet_page(made.fitted(plain, "Alder Croft Flint Stacked", made.room(TOP)), Unit.INCH)).all_words
    assert "inches and sixteenths" in words
    assert "ft" in words
    assert not re.search(r"\d\s?mm(?!²)", words)


def test_what_is_not_known_is_said_and_not_made_up(plain: sa.Engine) -> None:
    empty = dict.fromkeys(("axis_height", "weight", "impedance_nominal", "impedance_minimum"), "")
    unknown = made.record({**made.STACKED, **empty}, model="Silent", orientation="upright")
    made.fill(plain, unknown)
    words = Page(sheet_page(made.fitted(plain, unknown.name, made.room(TOP)))).all_words
    assert "Not known: measure the height of the tweeter" in words
    assert "not known: weigh it" in words
    assert "4 ohm, not stated" in words


def test_a_box_that_no_tilt_fits_is_not_said_to_look_at_the_ears(plain: sa.Engine) -> None:
    """Where nothing is free over the box it stays as it stands, and the sheet says how far off it looks."""
    tight = made.room(TOP + 'height = "195 mm"\n')
    found = made.fitted(plain, "Alder Croft Flint Stacked", tight)
    residual = found.shown[0].standing.quantities["residual_deg"]
    assert residual is not None
    assert residual > 1
    words = Page(sheet_page(found)).all_words
    assert f"None fits here: as it stands it looks {residual:.1f}° below the ears" in words
    assert "looks at the ears" not in words


def test_a_long_name_is_cut_on_the_sheet_and_whole_in_the_report(plain: sa.Engine) -> None:
    long = made.record(made.STACKED, model="Long " * 20 + "end")
    made.fill(plain, long)
    assert len(cut(long.name)) <= NAME
    surveyed = made.room(TOP)
    assert f"Fit sheet: {cut(long.name)}" in Page(sheet_page(made.fitted(plain, long.name, surveyed))).all_words
    assert long.name in Page(report_page(made.asked(plain, surveyed))).all_words


def test_the_same_question_gives_the_same_bytes(plain: sa.Engine) -> None:
    surveyed = made.room(TOP, BAY)
    assert report_page(made.asked(plain, surveyed)) == report_page(made.asked(plain, surveyed))
