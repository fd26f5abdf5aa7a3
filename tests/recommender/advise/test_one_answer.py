"""Whichever door is asked, a centre in a place has one score and interval, one verdict, one set of reasons."""

from __future__ import annotations

import re
import shutil
from html import unescape
from pathlib import Path

import pytest
from sqlalchemy import Engine

from tests.recommender.report import made
from triptych.catalog.database.engine import open_catalogue, reading
from triptych.recommender.advise.advice import Standing
from triptych.recommender.advise.compare import compare
from triptych.recommender.advise.match import Question, explain, match
from triptych.recommender.advise.picturing import dossier, fitting
from triptych.recommender.report.client_report import report_page
from triptych.recommender.report.fit_sheet import SETTLED, sheet_page
from triptych.recommender.report.reasons import conditions

pytestmark = pytest.mark.whole


@pytest.fixture(scope="module")
def seeded(seeded_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Engine:
    return open_catalogue(str(shutil.copy(seeded_template, tmp_path_factory.mktemp("seed") / "catalogue.db")))


def told(entry: Standing) -> tuple[object, ...]:
    """All that is said of a centre in a place, but its rank and its chances against others."""
    return (
        entry.speaker, entry.place, entry.pose, entry.verdict, entry.score, entry.score_low, entry.score_high,
        entry.confidence, entry.gates, entry.criteria, entry.quantities, entry.seats, conditions(entry),
    )  # fmt: skip


def text_of(page: str) -> str:
    return " ".join(unescape(re.sub("<[^>]*>", " ", page)).split())


@pytest.mark.parametrize("room", ["mill_house", "sail_loft"])
def test_all_doors_tell_the_same(seeded: Engine, room: str) -> None:
    surveyed = made.seed_room(room)
    question = Question(surveyed.mains.speaker or "", surveyed)
    with reading(seeded) as session:
        answer = match(session, question)[0]
        leaders = list(answer.ranked[:3])
        pages = report_page(dossier(session, question, 3)[0])
        side_by_side = compare(session, question, [entry.speaker for entry in leaders])[0]
        for entry in leaders:
            everywhere = explain(session, question, entry.speaker)[0].ranked
            there = explain(session, question, entry.speaker, entry.place)[0].ranked
            fitted = fitting(session, question, entry.speaker)[0]
            for others in (everywhere, there, side_by_side.standings, [fitted.shown[0].standing]):
                same = [one for one in others if (one.speaker, one.place, one.pose) == told(entry)[:3]]
                assert [told(one) for one in same] == [told(entry)]
            words = text_of(sheet_page(fitted))
            for line in conditions(entry)[:SETTLED]:
                assert " ".join(line.split())[:150] in words
    report = text_of(pages)
    for entry in leaders:
        assert f"{entry.score:.0f}" in report
        assert f"{entry.score_low:.0f} to {entry.score_high:.0f}" in report
        for line in conditions(entry):
            assert " ".join(line.split()) in report
