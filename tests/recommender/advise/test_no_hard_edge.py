"""A small step of a room makes a small step of a score, where no gate rules anything out: scans over whole ranges."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import pytest
from sqlalchemy import Engine

from tests.recommender.advise.practice import STRANGER
from tests.recommender.advise.scenarios import ROOM, STACKED, WIDE, fill, record
from triptych.catalog.database.engine import reading
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import LoudspeakerRecord
from triptych.recommender.advise.advice import Standing
from triptych.recommender.advise.match import Question, ask
from triptych.recommender.physics.geometry import elevation

pytestmark = [pytest.mark.whole, pytest.mark.slow]

A_POINT: Final = 1.3
"""A tenth of a degree may move a score so far [points]: about a point."""

EAR: Final = 1.02
FAR: Final = 3.0
"""How high the ear is, and how far from the wall [m]."""

CENTRES: Final = (
    record(STACKED, model="Kin", depth="120", port_location="front", axis_height="90", feet="0"),
    record(WIDE, model="Stranger", depth="120", port_location="front", axis_height="80", feet="0", **STRANGER),
)

LOW: Final = ROOM.replace('bottom = "820 mm"', 'bottom = "10 mm"')
"""The picture on the floor, so that nothing hides it from what hangs high."""

ON_THE_WALL: Final = """
[[place]]
name = "{name}"
kind = "wall"
base = "{base:.2f} mm"
wall = "masonry"
load = "60 kg"
"""


def hung(angles: np.ndarray, centre: LoudspeakerRecord) -> str:
    """A place on the wall for each angle at which the axis of a centre is then seen from the ear [deg]."""
    assert centre.depth
    assert centre.axis_height
    # the height whose elevation is the angle, from the baffle of what hangs close to the wall
    away = FAR - centre.depth - 0.05
    bases = EAR + np.tan(np.radians(angles)) * away - centre.axis_height
    assert elevation(EAR + np.tan(np.radians(20.0)) * away, EAR, away) == pytest.approx(20.0)
    return "".join(
        ON_THE_WALL.format(name=f"{angle:.1f}", base=1e3 * base) for angle, base in zip(angles, bases, strict=True)
    )


def everywhere(engine: Engine, room: str, names: list[str]) -> Mapping[tuple[str, str], Standing]:
    """Each of some centres in every place, as it was designed to stand."""
    with reading(engine) as session:
        account = ask(session, Question("Alder Croft Flint Tower", room_from_toml(room, "test")), names)
        return {
            (one.speaker, one.place): one
            for option in account.options_at(None)
            if account.found[option].pose == "as_designed"
            for one in account.stood(list(range(len(names))), [option] * len(names))
        }


@pytest.mark.parametrize(("centre", "ends"), [(CENTRES[0], (10.0, 35.0)), (CENTRES[1], (19.0, 21.0))])
def test_no_tenth_of_a_degree_of_height_moves_a_score_by_more_than_a_point(
    engine: Engine, centre: LoudspeakerRecord, ends: tuple[float, float]
) -> None:
    fill(engine, *CENTRES)
    angles = np.round(np.arange(ends[0], ends[1] + 0.05, 0.1), 1)
    found = everywhere(engine, LOW + hung(angles, centre), [centre.name])
    at = [found[centre.name, f"{angle:.1f}"] for angle in angles]
    left = [float(next(gate.margin for gate in one.gates if gate.gate == "height") or 0.0) for one in at]
    assert min(left) < 0 < max(left)
    # up to 30 deg a tilt cures it, and no gate rules it out
    scores = np.array([one.score for one in at if one.verdict != "fail"])
    assert len(scores) >= min(len(angles), 190)
    assert (np.diff(scores) <= 0.01).all()
    assert np.abs(np.diff(scores)).max() < A_POINT


def test_a_height_costs_what_the_trade_says_of_it(engine: Engine) -> None:
    # trade practice: up to 10 deg good, up to 15 acceptable with a tilt, beyond 20 none where there is another
    angles, kin = np.array([0.0, 10.0, 15.0, 20.5, 25.0]), CENTRES[0]
    fill(engine, *CENTRES)
    found = everywhere(engine, LOW + hung(angles, kin), [kin.name])
    ear, good, acceptable, beyond, far = (found[kin.name, f"{angle:.1f}"] for angle in angles)
    assert good.score > 0.9 * ear.score
    assert acceptable.score > 0.75 * ear.score
    assert beyond.score < 0.65 * ear.score
    assert far.score < 0.45 * ear.score
    assert not acceptable.hopeless
    assert "voices come from there whatever its tilt" in far.hopeless


def test_what_stands_too_high_loses_by_its_score_and_not_by_a_rule(engine: Engine) -> None:
    fill(engine, *CENTRES)
    for angle in (19.9, 20.1, 24.0):
        room = LOW + hung(np.array([angle]), CENTRES[0])
        with reading(engine) as session:
            account = ask(session, Question("Alder Croft Flint Tower", room_from_toml(room, "test")))
            ranked = account.standings(range(len(account.result.ranked))).records()
        assert len(ranked) == 2
        assert [one.score for one in ranked] == sorted((one.score for one in ranked), reverse=True)
