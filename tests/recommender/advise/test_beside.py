"""The score of every pair of mains and centre is the same among others as alone, in a plan as in a match."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine

from tests.recommender.advise.planning.shops import wanted
from tests.recommender.advise.test_curves import store
from triptych.catalog.database import reads
from triptych.catalog.database.engine import open_catalogue, reading
from triptych.catalog.records import CurveKind, CurveRecord
from triptych.recommender.advise.match import Question, ask
from triptych.recommender.advise.planning.front import front
from triptych.recommender.advise.planning.ground import Ground
from triptych.recommender.physics import timbre

pytestmark = pytest.mark.plan

QUESTION = 'currency = "EUR"\nlimit = 100000\ntax_included = true\ntax_rate = 20\n[want]\nmains = 2\ncentre = 1\n'


@pytest.fixture(scope="module")
def seeded(seeded_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Engine:
    return open_catalogue(str(shutil.copy(seeded_template, tmp_path_factory.mktemp("seed") / "catalogue.db")))


@pytest.mark.parametrize("room", ["Mill House", "Sail Loft"])
def test_every_pair_of_a_plan_has_the_score_and_the_place_that_match_gives_it(seeded: Engine, room: str) -> None:
    assert compared(seeded, room) > 200


def test_of_a_surround_on_a_line_the_plan_knows_the_price(seeded: Engine) -> None:
    line = '[[line]]\nrole = "surrounds"\nprice = 5000\nquantity = 2\nper = "each"\ntax_included = true\n'
    assert compared(seeded, "Mill House", every=9, question=QUESTION + line, surround=5000.0) > 20


def test_with_curves_of_some_too(seeded: Engine) -> None:
    bright, dull = tilted(1.0, 100.0, 16_000.0), tilted(-1.0, 100.0, 16_000.0)
    # covers what a match needs, but not all the ear's bands
    short = tilted(0.5, 350.0, 7_500.0)
    store(seeded, "Bramble Thatch Trivet Tower", bright)
    store(seeded, "Bramble Thatch Trivet Wide Centre", dull)
    store(seeded, "Kettle Moss Bobbin Centre", short)
    assert compared(seeded, "Mill House", every=3) > 70


def tilted(slope: float, low: float, high: float) -> CurveRecord:
    frequency = tuple(np.geomspace(low, high, 80).tolist())
    return CurveRecord(CurveKind.ON_AXIS, frequency, tuple(slope * np.log2(f / 1000) for f in frequency), "made up")


def compared(seeded: Engine, room: str, every: int = 1, question: str = QUESTION, surround: float | None = None) -> int:
    """How many pairs were compared with the main job, of every so many mains, one after the other."""
    count = 0
    with reading(seeded) as session:
        # a plan has its own limit in place of the room's cap on the centre
        surveyed = replace(reads.room(session, room), money=None)
        ground = Ground.of(session, wanted(seeded, question), surveyed, in_stock=False)
        stage = front(ground, ground.judged("mains", 2, with_sub=True))
        assert stage.pairs is not None
        assert stage.mains is not None
        assert stage.centre is not None
        centres = {ground.catalogue.names[row]: at for at, row in enumerate(stage.centre.rows)}
        whole = stage.pairs.scores(np.arange(len(stage.mains.offer)))
        for at, row in list(enumerate(stage.mains.offer.rows))[::every]:
            account = ask(session, Question(ground.catalogue.names[row], surveyed, surround_price=surround))
            ranked = set(account.result.ranked.tolist())
            for candidate in range(len(account.rows)):
                centre = centres.get(account.name(candidate))
                if candidate not in ranked:
                    assert centre is None or whole[at, centre] == -np.inf
                elif centre is not None:
                    count += 1
                    score = account.result.best_score[candidate]
                    # to the last bit but for the price, to which a plan adds tax in cents
                    assert whole[at, centre] == pytest.approx(score, rel=1e-15), (at, account.name(candidate))
                    if count % 4:  # the place follows from the score, and finding it judges the pair again
                        continue
                    placed, option = stage.pairs.best_place(at, centre), account.found[account.result.best[candidate]]
                    assert placed is not None
                    assert (placed[0].place, placed[0].pose) == (option.place.name, option.pose)
    return count


LEVELS = st.floats(-30.0, 90.0)
GAPPY = st.one_of(LEVELS, st.just(np.nan))


@given(
    st.lists(st.lists(GAPPY, min_size=6, max_size=6), min_size=1, max_size=4),
    st.lists(st.lists(GAPPY, min_size=6, max_size=6), min_size=1, max_size=4),
)
@settings(deadline=None)
def test_differences_of_all_from_all_are_the_standard_deviation_of_what_both_have(
    ours: list[list[float]], theirs: list[list[float]]
) -> None:
    found = timbre.shape_difference(np.array(ours), np.array(theirs))
    for row, other in enumerate(theirs):
        for column, own in enumerate(ours):
            apart = np.subtract(own, other)
            both = apart[~np.isnan(apart)]
            if len(both):
                assert found[row, column] == pytest.approx(np.std(both), abs=1e-6)
            else:
                assert np.isnan(found[row, column])
