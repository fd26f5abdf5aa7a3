"""What is advised is judged again as it is told: whoever builds the place finds that the centre stands in it."""

from __future__ import annotations

import re
from collections import Counter

import numpy as np
import pytest
from sqlalchemy import Engine

from tests.conftest import example_count
from tests.recommender.advise.random_cases import a_centre, a_tower, room_text
from tests.recommender.advise.scenarios import BAY, STACKED, account, ask, fill, record
from triptych.catalog.database.engine import reading
from triptych.catalog.files.rooms import room_from_toml
from triptych.recommender.advise.advice import Counsel
from triptych.recommender.advise.match import Question, explain, match

pytestmark = pytest.mark.whole

SHELF = re.compile(r"at least (\d+) mm wide, (\d+) mm high and (\d+) mm deep")
STAND = re.compile(r"nothing beside it, (\d+) mm free above it")
WHERE = re.compile(r"(?:with its surface (\d+) mm above|on) the floor, its front edge (\d+) mm from the wall")


def built(advice: Counsel, kind: str) -> str:
    """The place of an advice, as somebody builds it who has only its words."""
    base, front = WHERE.search(advice.why).groups()  # type: ignore[union-attr]  # what is told has both
    lines = [f'name = "advised"\nkind = "{kind}"\nbase = "{base or 0} mm"\nfront = "{front} mm"']
    if shelf := SHELF.search(advice.why):
        sizes = dict(zip(("width", "height", "depth"), shelf.groups(), strict=True))
        lines += [f'{side} = "{size} mm"' for side, size in sizes.items()]
        lines += ['back = "closed"'] if kind == "open_shelf" else []
    elif stand := STAND.search(advice.why):
        lines += [f'height = "{stand[1]} mm"']
    return "\n[[place]]\n" + "\n".join(lines) + "\n"


def test_a_rear_port_has_the_air_it_needs_in_the_place_that_is_advised(engine: Engine) -> None:
    # by hand: two diameters of 70 mm are 140 mm of air, more than 40 mm of plugs, behind a box of 300 mm
    box = record(STACKED, depth="300", port_location="rear", port_diameter="70", bung="no")
    fill(engine, box)
    (told,) = [one for one in ask(engine, BAY).advice if one.kind == "change_place"]
    sizes = SHELF.search(told.why)
    assert sizes is not None
    assert int(sizes[3]) >= 300 + 140
    (stood,) = [one for one in account(engine, box.name, built(told, "open_shelf")).ranked if one.place == "advised"]
    assert stood.verdict == "conditional"
    assert [gate.gate for gate in stood.gates if gate.verdict != "pass"] == ["load"]


def test_whoever_builds_what_is_advised_finds_that_it_fits(engine: Engine) -> None:
    """Random centres that breathe anywhere, in random rooms whose bay is too low for all of them."""
    seen: Counter[str] = Counter()
    for seed in range(example_count(1 / 2)):
        chance = np.random.default_rng([2029, seed])
        tower = record({**a_tower(chance), "model": "Tower"})
        boxes = []
        for number in range(3):
            box = {**a_centre(chance, whole=bool(chance.random() < 0.6)), "model": f"Centre {seed} {number}"}
            face = str(chance.choice(["rear", "side", "front", ""]))
            boxes.append(record({**box, "maker": "House", "enclosure": "ported", "port_location": face, "bung": "no",
                                 "port_diameter": str(chance.choice(["", "35", "50", "70", "90"]))}))  # fmt: skip
        fill(engine, tower, *boxes)
        text = re.sub(r'\nheight = "\d+ mm"', '\nheight = "90 mm"', room_text(chance))
        with reading(engine) as session:
            answer, _ = match(session, Question(tower.name, room_from_toml(text, "test")))
            for told in (one for one in answer.advice if one.kind == "change_place"):
                name, score = told.why.split(" would score about ")
                for kind in ("open_shelf", "top", "stand") if SHELF.search(told.why) else ("stand",):
                    room = room_from_toml(text + built(told, kind), "test")
                    stands, _ = explain(session, Question(tower.name, room), name, "advised")
                    best = max(stands.ranked, key=lambda one: one.score * (one.verdict in ("pass", "conditional")))
                    assert best.verdict in ("pass", "conditional"), (seed, told.why, best.gates)
                    assert best.score == pytest.approx(int(score.split()[0]), abs=1.0 if kind == "open_shelf" else 4.0)
                    seen[kind] += 1
    assert seen["open_shelf"] > 3, seen
