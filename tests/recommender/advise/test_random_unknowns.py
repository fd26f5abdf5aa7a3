"""Unknown never helps, over random boxes: the interval with a field blank holds the score for its plausible values.

What a figure left out does is held as a table for all boxes, not worked out for each, so two in a hundred may lie a
little outside.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import pytest
from sqlalchemy import Engine

from tests.benchmarks.bench_calibration import TWEETERS, Texts, case, centre, stored, told
from tests.recommender.advise.scenarios import fill
from triptych.catalog.consistency import record_from_texts
from triptych.catalog.database.engine import reading
from triptych.catalog.records import LoudspeakerRecord
from triptych.recommender.advise.advice import Standing
from triptych.recommender.advise.match import Question, ask

pytestmark = [pytest.mark.whole, pytest.mark.slow]

ROOMS = 4
BOXES = 8
"""In each room."""

HELD = 0.98
"""So often at least, of all boxes and places for each field."""

FAR = 5.0
"""By so much no score lies outside [points]: a distance of woofers said beside other blanks went 4.5 beyond once."""


def plausible(box: Texts) -> dict[str, list[str]]:
    """What each field of a box may be: frames that touch to the ends of the box, and what `plausible.py` says."""
    size, width = float(box["woofer_size"]), float(box["width"])
    nearest = 1.69 * size if box["layout"] == "MTM" else 1.1 * size + (270 if box["layout"] == "WMTMW" else 100)
    two_way = box["layout"] == "MTM"
    return {
        "crossover_order": ["2", "3", "4"],
        "woofer_spacing": [f"{one:.0f}" for one in np.geomspace(nearest, width - 1.1 * size, 4)],
        "crossover": ["1.8 kHz", "2.4 kHz", "3 kHz"] if two_way else ["300/2400", "400/2800", "500/3200"],
        "woofer_size": [f"{size * part:.0f}" for part in (0.88, 1.0, 1.1)],
        "tweeter_size": ["19", "25", "28"] if "dome" in box["tweeter_type"] else [],
        "tweeter_type": ["dome", "waveguide_dome", "horn", "ribbon", "folded_ribbon", "ring"],
        "midrange_size": [] if two_way else ["75", "90", "100"],
        "height": [f"{1.1 * size + 20 + more:.0f}" for more in (0, 20, 40)],
    }


def variants(box: Texts, name: str) -> Iterator[tuple[str, str, LoudspeakerRecord]]:
    """A box with each field blank, and with each plausible value: field, value, record."""
    for field, values in plausible(box).items():
        beside = {"tweeter_size": ""} if field == "tweeter_type" else {}
        for value in ("", *values):
            model = f"{name} {field} {value or 'blank'}"
            made, _ = record_from_texts({**box, **beside, field: value, "model": model}, "test")
            if made is not None:
                yield field, value, made


Outside = dict[str, list[float]]
"""By how much scores lie outside what was told with each field blank [points]."""


def compared(outside: Outside, field: str, blank: Standing, others: Iterable[Standing]) -> None:
    """Put down by how much the scores of the values of a field lie outside what was told without."""
    outside.setdefault(field, []).extend(
        max(blank.score_low - one.score, one.score - blank.score_high, 0.0) for one in others
    )


def held(outside: Outside) -> None:
    shares = {field: float(np.mean(np.array(some) < 0.05)) for field, some in outside.items()}
    assert {field: share for field, share in shares.items() if share < HELD} == {}
    assert {field: max(some) for field, some in outside.items() if max(some) > FAR} == {}
    assert min(len(some) for some in outside.values()) >= 30


@pytest.mark.parametrize("whole", [True, False], ids=["all else stated", "other holes"])
def test_of_drivers(engine: Engine, whole: bool) -> None:
    chance = np.random.default_rng(2_026)
    outside: Outside = {}
    for number in range(ROOMS):
        asked = case(chance, number)
        mains = stored(asked.mains[0], "true")
        boxes = {}
        for place in range(BOXES):
            own = {"maker": f"Maker {number} {place}", "series": "One", "model": "Centre"}
            box = centre(chance, str(chance.choice(TWEETERS)))
            box = (box if whole else told(chance, box)) | own
            boxes[place] = list(variants(box, f"Centre {number} {place}"))
        fill(engine, mains, *(made for some in boxes.values() for _, _, made in some))
        names = [made.name for some in boxes.values() for _, _, made in some]
        with reading(engine) as session:
            account = ask(session, Question(mains.name, asked.room), names)
            found = {one.speaker: one for one in account.stood(list(range(len(names))), [0] * len(names))}
        for some in boxes.values():
            blank = {field: found[made.name] for field, value, made in some if not value}
            for field in blank:
                told_ones = [found[made.name] for of, value, made in some if of == field and value]
                compared(outside, field, blank[field], told_ones)
    held({field: some for field, some in outside.items() if some})


MAINS_SAID = {
    "crossover_order": ("2", "3", "4"), "woofer_spacing": ("160", "170", "190"), "tweeter_size": ("19", "25", "28"),
    "crossover": ("300/2400", "400/2800", "500/3200"), "midrange_size": ("75", "90", "105"),
    "axis_height": ("750", "800", "900", "950"),
}  # fmt: skip
"""What a tower may be: see `plausible.TOWER`."""


def test_of_mains(engine: Engine) -> None:
    chance = np.random.default_rng(1_959)
    outside: Outside = {}
    for number in range(ROOMS):
        asked = case(chance, number)
        mains = {
            (field, value): stored({**asked.mains[0], "tweeter_type": "dome", field: value}, f"{field} {value}")
            for field, values in MAINS_SAID.items()
            for value in ("", *values)
        }
        centres = [stored(centre(chance, "dome") | {"maker": f"Maker {number} {place}", "series": "One",
                          "model": "Centre"}, f"{number} {place}") for place in range(BOXES // 2)]  # fmt: skip
        fill(engine, *mains.values(), *centres)
        names = [one.name for one in centres]
        found: dict[tuple[str, str], list[Standing]] = {}
        for said, one in mains.items():
            with reading(engine) as session:
                account = ask(session, Question(one.name, asked.room), names)
                found[said] = account.stood(list(range(len(names))), [0] * len(names))
        for field, values in MAINS_SAID.items():
            for place, blank in enumerate(found[field, ""]):
                compared(outside, field, blank, [found[field, value][place] for value in values])
    held(outside)
