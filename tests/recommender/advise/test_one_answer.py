"""Whichever door is asked, a centre in a place has one score and interval, one verdict, one set of reasons."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import asdict
from html import unescape
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from tests.recommender.advise.random_cases import a_centre, a_tower, room_text
from tests.recommender.advise.scenarios import fill, record
from tests.recommender.report import made
from triptych.catalog.database.engine import open_catalogue, reading
from triptych.catalog.files.rooms import room_from_toml
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


def told(entry: Standing) -> tuple[list[str], list[float]]:
    """All texts and numbers of a centre in a place, but its rank and its chances against others."""
    alone = {
        name: value
        for name, value in asdict(entry).items()
        if name not in ("rank", "chances", "derivations", "seat_derivations", "available")
    }
    parts = list(leaves(alone | {"conditions": conditions(entry)}))
    return [part for part in parts if isinstance(part, str)], [part for part in parts if not isinstance(part, str)]


def leaves(value: Any) -> Iterator[str | float]:
    """Texts and numbers of a nest of containers, in order; unknown ones left out."""
    if isinstance(value, dict):
        value = [part for pair in value.items() for part in pair]
    if isinstance(value, list | tuple):
        for part in value:
            yield from leaves(part)
    elif value is not None:
        yield value


def spot(entry: Standing) -> tuple[str, str, str]:
    return entry.speaker, entry.place, entry.pose


def text_of(page: str) -> str:
    return " ".join(unescape(re.sub("<[^>]*>", " ", page)).split())


def alike_at_all_doors(session: Session, question: Question, count: int) -> str:
    """The text of the report, after the first centres were held to be told alike by every other door."""
    leaders = list(match(session, question)[0].ranked[:count])
    side_by_side = compare(session, question, [entry.speaker for entry in leaders])[0].standings
    for entry in leaders:
        everywhere = explain(session, question, entry.speaker)[0].ranked
        there = explain(session, question, entry.speaker, entry.place)[0].ranked
        fitted = fitting(session, question, entry.speaker)[0]
        for others in (everywhere, there, side_by_side, [fitted.shown[0].standing]):
            same = [one for one in others if spot(one) == spot(entry)]
            assert len(same) == 1
            assert told(same[0])[0] == told(entry)[0]
            # responses are in single precision, whose last digit depends on who else is asked about
            assert told(same[0])[1] == pytest.approx(told(entry)[1], rel=1e-5, abs=1e-6)
        words = text_of(sheet_page(fitted))
        for line in conditions(entry)[:SETTLED]:
            assert " ".join(line.split())[:150] in words
    report = text_of(report_page(dossier(session, question, count)[0]))
    for entry in leaders:
        assert f"{entry.score:.0f}" in report
        assert f"{entry.score_low:.0f} to {entry.score_high:.0f}" in report
        for line in conditions(entry):
            assert " ".join(line.split()) in report
    return report


@pytest.mark.parametrize("room", ["mill_house", "sail_loft"])
def test_all_doors_tell_the_same(seeded: Engine, room: str) -> None:
    surveyed = made.seed_room(room)
    with reading(seeded) as session:
        assert alike_at_all_doors(session, Question(surveyed.mains.speaker or "", surveyed), 3)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_all_doors_tell_the_same_of_random_rooms(engine: Engine, seed: int) -> None:
    chance = np.random.default_rng(seed)
    room = room_from_toml(room_text(chance), "test")
    tower = record(a_tower(chance), model="Tower")
    fill(engine, tower, *(record(a_centre(chance, False), model=f"Centre {number}") for number in range(8)))
    with reading(engine) as session:
        assert alike_at_all_doors(session, Question(tower.name, room), 3)
