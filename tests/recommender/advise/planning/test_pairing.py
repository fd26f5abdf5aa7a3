"""All pairs at once against the main job, which knows one mains at a time."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import Engine

from tests.recommender.advise.planning.shops import wanted
from tests.recommender.advise.test_curves import store
from triptych.catalog.database import reads
from triptych.catalog.database.engine import open_catalogue, reading
from triptych.catalog.records import CurveKind, CurveRecord
from triptych.recommender.advise.match import Question, ask
from triptych.recommender.advise.planning.front import front
from triptych.recommender.advise.planning.ground import Ground
from triptych.recommender.advise.planning.pairing import Sound, apart
from triptych.recommender.advise.planning.setting import Setting
from triptych.recommender.physics import timbre

pytestmark = pytest.mark.plan

QUESTION = 'currency = "EUR"\nlimit = 100000\ntax_included = true\ntax_rate = 20\n[want]\nmains = 2\ncentre = 1\n'


@pytest.fixture(scope="module")
def seeded(seeded_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Engine:
    return open_catalogue(str(shutil.copy(seeded_template, tmp_path_factory.mktemp("seed") / "catalogue.db")))


@pytest.mark.parametrize("room", ["Mill House", "Sail Loft"])
def test_every_pair_has_the_score_and_place_that_match_gives_it(seeded: Engine, room: str) -> None:
    assert compared(seeded, room) > 200


def test_with_curves_of_some_too(seeded: Engine) -> None:
    bright, dull = tilted(1.0, 100.0, 16_000.0), tilted(-1.0, 100.0, 16_000.0)
    # covers what a match needs, but not all the ear's bands
    short = tilted(0.5, 350.0, 7_500.0)
    store(seeded, "Bramble Thatch Trivet Tower", bright)
    store(seeded, "Bramble Thatch Trivet Wide Centre", dull)
    store(seeded, "Kettle Moss Bobbin Centre", short)
    assert compared(seeded, "Mill House") > 200


def tilted(slope: float, low: float, high: float) -> CurveRecord:
    frequency = tuple(np.geomspace(low, high, 80).tolist())
    return CurveRecord(CurveKind.ON_AXIS, frequency, tuple(slope * np.log2(f / 1000) for f in frequency), "made up")


def compared(seeded: Engine, room: str) -> int:
    """How many pairs were compared with the main job, one mains after the other."""
    count = 0
    with reading(seeded) as session:
        # a plan has its own limit in place of the room's cap on the centre
        surveyed = replace(reads.room(session, room), money=None)
        ground = Ground(session, wanted(seeded, QUESTION), Setting.of(surveyed), in_stock=False)
        ahead = front(ground, ground.judged("mains", 2, with_sub=True))
        assert ahead.pairing is not None
        assert ahead.mains is not None
        assert ahead.centre is not None
        centres = {ground.columns["name"][row]: at for at, row in enumerate(ahead.centre.rows)}
        whole = 100 * ahead.pairing.rows(np.arange(len(ahead.mains.offer)))
        for at, row in enumerate(ahead.mains.offer.rows):
            account, _ = ask(session, Question(ground.columns["name"][row], surveyed))
            ranked = set(account.result.ranked.tolist())
            for candidate in range(len(account.rows)):
                centre = centres.get(account.name(candidate))
                if candidate not in ranked:
                    assert centre is None or whole[at, centre] == -np.inf
                elif centre is not None:
                    count += 1
                    score = account.result.best_score[candidate]
                    assert whole[at, centre] == pytest.approx(score, abs=1e-4), (at, account.name(candidate))
                    placed, option = ahead.pairing.best_place(at, centre), account.found[account.result.best[candidate]]
                    assert placed is not None
                    assert (placed[0].place, placed[0].pose) == (option.site.name, option.pose)
    return count


def test_differences_by_matrix_products_are_those_by_the_definition() -> None:
    random = np.random.default_rng(7)
    one, other = (_sounds(random, count) for count in (5, 8))
    for at in range(5):
        told = timbre.difference(other.direct, one.direct[at], other.power, one.power[at])
        np.testing.assert_allclose(np.sqrt(apart(one, other)[at]), told.combined, atol=1e-6)


def test_bands_that_were_not_measured_are_not_compared() -> None:
    random = np.random.default_rng(8)
    one, other = (_sounds(random, count) for count in (4, 6))
    one.direct[1, :3] = np.nan
    other.direct[2, -4:] = np.nan
    other.power[2, 5] = np.nan
    for at in range(4):
        told = timbre.difference(other.direct, one.direct[at], other.power, one.power[at])
        np.testing.assert_allclose(np.sqrt(apart(one, other)[at]), told.combined, atol=1e-6)


def _sounds(random: np.random.Generator, count: int) -> Sound:
    direct, power = random.normal(0, 4, (2, count, 28))
    no = np.zeros(count, dtype=np.bool_)
    return Sound(direct, power, no, no)
