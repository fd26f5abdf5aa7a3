"""No pair scores more than the bound that a plan passes it over by."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import Engine

from tests.recommender.advise.planning import shops
from triptych.catalog.database import reads
from triptych.catalog.database.engine import open_catalogue, reading
from triptych.recommender.advise.planning import choose
from triptych.recommender.advise.planning.bounds import most_of_pairs, most_scores
from triptych.recommender.advise.planning.front import front
from triptych.recommender.advise.planning.ground import Ground

pytestmark = pytest.mark.plan

QUESTION = shops.HEAD.format(limit=9000) + shops.WANT + shops.ACCESSORIES


@pytest.fixture(scope="module")
def seeded(seeded_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Engine:
    return open_catalogue(str(shutil.copy(seeded_template, tmp_path_factory.mktemp("seed") / "catalogue.db")))


@pytest.mark.parametrize("room", ["Mill House", "Sail Loft", ""])
@pytest.mark.parametrize("makers_only", [False, True])
def test_no_pair_scores_more_than_its_bound(
    seeded: Engine, room: str, makers_only: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if makers_only:
        monkeypatch.setattr("triptych.recommender.advise.planning.bounds.MOST_FIGURES", 0)
    with reading(seeded) as session:
        surveyed = reads.room(session, room) if room else None
        ground = Ground.of(session, shops.wanted(seeded, QUESTION), surveyed, in_stock=False)
        pairs = front(ground, ground.judged("mains", 2, with_sub=True)).pairs
    assert pairs is not None
    scores, (most, group) = pairs.scores(np.arange(len(pairs.mains))), most_scores(pairs)
    assert (scores <= most[group]).all()
    mains, centres = (part.ravel() for part in np.indices(scores.shape))
    closer = most_of_pairs(pairs, most, group)(mains, centres).reshape(scores.shape)
    assert (scores <= closer).all()
    assert (closer <= most[group]).all()
    assert (closer < most[group]).any()
    some = np.arange(0, len(pairs.models), 3)
    np.testing.assert_array_equal(pairs.scores(np.arange(4), some), scores[:4, some])


def test_what_is_passed_over_changes_no_answer(seeded: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    with reading(seeded) as session:
        room = reads.room(session, "Mill House")
    whole = shops.ask(seeded, limit=7000, place=room, head="indifference = 4\n")
    monkeypatch.setattr(choose, "HELD_WHOLE", 0)
    passed_over = shops.ask(seeded, limit=7000, place=room, head="indifference = 4\n")
    assert [(one.value, one.total) for one in passed_over.systems] == [(one.value, one.total) for one in whole.systems]
    assert passed_over.cheaper is not None
    assert whole.cheaper is not None
    assert passed_over.cheaper.total == whole.cheaper.total
