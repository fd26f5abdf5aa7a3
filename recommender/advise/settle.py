"""How sure the ranking is, which answer would settle most, and how far the first place survives other weights."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.advise.beside import Option, Ranking
from triptych.recommender.advise.evaluate import Scene
from triptych.recommender.judge import certainty, robustness
from triptych.recommender.judge.certainty import DrawnScores
from triptych.recommender.judge.criteria.sound import Relation
from triptych.recommender.judge.criterion import CriterionValues
from triptych.recommender.judge.ranking import utility
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.scene.arrays import FloatArray, IndexArray, Port
from triptych.recommender.scene.boundaries import floor_between, furniture_fronts

LEADING: Final = 20
"""How many of the ranked are drawn."""

WAITING: Final = 20
"""For how many of the pending the worth of their answer is computed."""

QUESTIONS_KEPT: Final = 6
"""How many questions are kept."""

ASK: Final = {
    "voicing": ("How do it and the mains measure?", "import measured curves of both with `triptych curve import`"),
    "drivers": (
        "What are its driver layout, sizes, spacing and crossover?",
        "the manual; the spacing with a tape, between the middles of the outer woofers",
    ),
    "mains' drivers": ("What are the mains' driver layout, sizes, spacing and crossover?", "the mains' manual"),
    "floor": (
        "What covers the floor between the loudspeakers and the seats: boards or stone, or carpet?",
        "look; `floor` under [mains] in the room file",
    ),
    "sensitivity": ("What is its sensitivity for 2.83 V at 1 m, anechoic?", "ask the maker, or a measured review"),
    "axis": ("How high above its base is the middle of the tweeter?", "a tape on the box, or the manual's drawing"),
    "mains' axis": ("How high above the floor are the mains' tweeters?", "a tape, floor to the middle of the tweeter"),
    "port": ("On which face is the port or radiator?", "a photograph of its back, or the manual"),
    "price": ("What does one cost, and is tax in that?", "ask the dealer"),
    "mains' price": ("What does one of the mains cost?", "the dealer's list, or what was paid"),
    "low limit": ("Where has its response fallen by 3 dB?", "ask the maker for F3, anechoic"),
}
"""What to ask about each unknown, and where the answer is to be found; what no file can say isn't asked."""

FIND: Final = {
    "envelope": "a tape, at the narrowest point",
    "tilt": "a tape on the box and at the seat",
    "port": "a photograph of its back, or the manual",
    "sight": "a tape, from the floor",
    "load": "the scales or the manual",
    "amplifier": "the manual, or ask the maker",
    "level": "ask the maker, or a measured review",
    "height": "a tape, from the floor",
    "money": "ask the dealer",
    "hazard": "look, and ask a licensed trade where you can't",
}
"""Where the answer to a gate's question is to be found."""


@dataclass(frozen=True, slots=True)
class Answerable:
    """One question and what its answer is worth: expected gain in points, and how often it changes the first place."""

    candidate: int
    unknown: str
    question: str
    find: str
    points: float
    changes: float
    pending: bool


@dataclass(frozen=True, slots=True)
class Certainty:
    """The chances of the leading candidates, the questions worth asking, and the weights that dethrone the first."""

    leading: IndexArray
    standing: DrawnScores | None
    questions: tuple[Answerable, ...]
    dethroning: robustness.Dethroning | None


def certainty_of(scene: Scene, found: list[Option], result: Ranking) -> Certainty:
    """Draw the leading candidates and rank the questions by what their answers are worth."""
    leading = result.ranked[:LEADING]
    waiting = _waiting(found, result)
    if not len(leading):
        ordered = sorted(waiting, key=lambda answer: -answer.points)
        return Certainty(leading, None, tuple(ordered[:QUESTIONS_KEPT]), None)
    criteria = _criteria(found, result, leading)
    drawn = certainty.draw(criteria, scene.weights, _unknown(scene, found, result, leading, criteria))
    close = [
        Answerable(
            -1 if worth.candidate < 0 else int(leading[worth.candidate]),
            worth.cause,
            *ASK[worth.cause],
            worth.points,
            worth.changes,
            pending=False,
        )
        for worth in certainty.worths(drawn)
        if worth.points > 0 and worth.cause in ASK
    ]
    ordered = sorted([*close, *waiting], key=lambda answer: -answer.points)
    return Certainty(
        leading,
        certainty.standing(drawn, result.best_score[leading]),
        tuple(answer for answer in ordered if answer.points > 0)[:QUESTIONS_KEPT],
        _dethroning(scene, criteria),
    )


def _places(found: list[Option], result: Ranking, candidates: IndexArray) -> list[tuple[Option, int, int]]:
    """Each candidate's best option, its place among the option's boxes, and among those kept."""
    places = []
    for candidate in candidates:
        option = found[result.best[candidate]]
        here = int(np.searchsorted(option.index, candidate))
        places.append((option, here, int(np.searchsorted(option.kept, here))))
    return places


def _criteria(found: list[Option], result: Ranking, candidates: IndexArray) -> list[CriterionValues]:
    """The criteria of candidates, each taken from its own best option."""
    places = _places(found, result, candidates)

    def picked(row: int, name: str) -> FloatArray:
        return np.array([getattr(option.criteria[row], name)[kept] for option, _, kept in places])

    return [
        CriterionValues(
            values.criterion, picked(row, "value"), picked(row, "low"), picked(row, "high"), picked(row, "stated"),
            values.evidence, "",
        )
        for row, values in enumerate(places[0][0].criteria)
    ]  # fmt: skip


def _unknown(
    scene: Scene, found: list[Option], result: Ranking, candidates: IndexArray, criteria: list[CriterionValues]
) -> dict[str, FloatArray]:
    """How much of each cause is unknown for each candidate."""
    places = _places(found, result, candidates)
    stated = {values.criterion.name: values.stated for values in criteria}
    spread = {values.criterion.name: values.high > values.low for values in criteria}
    everyone = np.ones(len(candidates))
    mains = scene.mains
    return {
        "voicing": np.where(spread["timbre"] & (scene.relation[candidates] != Relation.IDENTICAL), 1.0, 0.0),
        "drivers": np.where(scene.relation[candidates] == Relation.IDENTICAL, 0.0, 1 - stated["coverage"]),
        "mains' drivers": everyone * float(1 - scene.mains.sound.stated[0]),
        "floor": everyone * float(np.ptp(floor_between(mains.stands.floor), axis=0).mean()),
        "furniture": np.array([float(_front_unknown(scene, option)) for option, _, _ in places]),
        "sensitivity": 1 - stated["headroom"],
        "axis": np.array([float(option.aim.axis_unknown[here]) for option, here, _ in places]),
        "mains' axis": everyone * float(np.isnan(mains.stands.axis_height[0])),
        "port": np.array([float(option.boxes.port[here] == Port.UNKNOWN) for option, here, _ in places]),
        "price": np.isnan(scene.boxes.price[candidates]).astype(np.float64),
        "mains' price": everyone * float(np.isnan(mains.price[0])),
        "low limit": 1 - stated["reach"],
    }


def _front_unknown(scene: Scene, option: Option) -> bool:
    """Whether a box stands in a bay whose furniture may be of any width."""
    return option.place.kind == "cavity" and len(furniture_fronts(option.place, scene.places)) > 1


def _dethroning(scene: Scene, criteria: list[CriterionValues]) -> robustness.Dethroning | None:
    names = [values.criterion.name for values in criteria]
    weights = np.array([scene.weights[name] for name in names])
    utilities = np.column_stack([utility(values.criterion, values.value) for values in criteria])
    return robustness.smallest_change(names, weights / weights.sum(), utilities)


def _waiting(found: list[Option], result: Ranking) -> list[Answerable]:
    """What an answer is worth that could let a pending candidate in: its chance, times what it would then be better by.

    The chance that it passes is the share that passes among all whose answer is known, at the same gate and place.
    """
    best = float(result.best_score[result.ranked[0]]) if len(result.ranked) else 0.0
    answers = []
    for candidate in result.pending[:WAITING]:
        option = found[result.best[candidate]]
        here = int(np.searchsorted(option.index, candidate))
        open_gates = [judged for judged in option.gates if judged.verdict[here] == Verdict.UNKNOWN]
        chance = float(np.prod([_chance_to_pass(judged.verdict) for judged in open_gates]))
        gain = max(0.0, float(result.best_score[candidate]) - best)
        gate = open_gates[0]
        answers.append(
            Answerable(
                int(candidate), gate.gate, gate.question(here), FIND.get(gate.gate, "ask the maker"),
                chance * gain, chance if gain > 0 else 0.0, pending=True,
            )
        )  # fmt: skip
    return answers


def _chance_to_pass(verdict: FloatArray) -> float:
    """The share that passes among those whose answer is known; Laplace's rule keeps it off 0 and 1."""
    known = verdict != Verdict.UNKNOWN
    passing = verdict <= Verdict.CONDITIONAL
    return float((passing[known].sum() + 1) / (known.sum() + 2))
