"""How sure the ranking is, which answer would settle most, and how far the first place survives other weights."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from triptych.recommender.advise.beside import Option, Ranking
from triptych.recommender.advise.counsel import ABOUT_BOX
from triptych.recommender.advise.placed import Scene
from triptych.recommender.advise.questions import ANYWAY, ASK, ASK_GATE, DRIVER_WORDS, FIND, OF_THE_ROOM, ROOM_WIDE
from triptych.recommender.judge import certainty, robustness
from triptych.recommender.judge.answer_worth import AnswerWorth, worths
from triptych.recommender.judge.certainty import MOSTLY_UNKNOWN, DrawnPlaces, Risk
from triptych.recommender.judge.criteria.placing import screen_mismatch
from triptych.recommender.judge.criteria.sound import Relation
from triptych.recommender.judge.criterion import CriterionValues, utility
from triptych.recommender.judge.gates.terms import open_tax
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.physics.loudspeaker import Assumed
from triptych.recommender.scene.aiming import aim_question
from triptych.recommender.scene.arrays import (
    BoolArray,
    Boxes,
    FloatArray,
    IndexArray,
    PlaceFigures,
    Port,
    SensitivityCode,
)
from triptych.recommender.scene.boundaries import floor_between, furniture_fronts
from triptych.recommender.scene.levels import under_load

LEADING: Final = 20
"""How many of the ranked are drawn."""

WAITING: Final = 20
"""For how many of the pending the worth of their answer is computed."""

QUESTIONS_KEPT: Final = 6
"""How many questions are kept."""

TELLING: Final = ("dip", "drivers_low", "drivers_high", "mains_low", "mains_high")
"""Numbers of criteria that say what may become of them."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A candidate in one option: its row there, and its row among those kept."""

    candidate: int
    option: Option
    here: int
    kept: int


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
    about: str


@dataclass(frozen=True, slots=True)
class Certainty:
    """The chances of the leading candidates, the questions worth asking, and the weights that dethrone the first."""

    leading: IndexArray
    places: DrawnPlaces | None
    questions: tuple[Answerable, ...]
    dethroning: robustness.Dethroning | None


def certainty_of(scene: Scene, found: list[Option], result: Ranking) -> Certainty:
    """Draw the leading candidates and rank the questions by what their answers are worth."""
    leading = result.ranked[:LEADING]
    waiting = _waiting(found, result)
    if not len(leading):
        ordered = sorted(waiting, key=lambda answer: -answer.points)
        return Certainty(leading, None, tuple(ordered[:QUESTIONS_KEPT]), None)
    spots = _spots(found, result, leading)
    criteria, risks = _criteria(spots), _risks(spots)
    drawn = certainty.draw(criteria, scene.weights, _unknown(scene, spots, criteria), risks)
    close = [
        answer
        for worth in worths(drawn, risks)
        if worth.points > 0 or worth.cause in ANYWAY
        for answer in _answer(scene, worth, spots)
    ]
    ordered = sorted([*close, *waiting], key=lambda answer: (answer.unknown not in ANYWAY, -answer.points))
    asked = [answer for answer in ordered if answer.points > 0 or answer.unknown in ANYWAY]
    return Certainty(
        leading,
        certainty.places(drawn),
        tuple(_about_drivers(scene, asked[:QUESTIONS_KEPT])),
        _dethroning(scene, criteria, result.last[result.best[leading], leading]),
    )


def intervals(scene: Scene, option: Option, there: IndexArray) -> tuple[FloatArray, FloatArray]:
    """Between which scores the boxes at rows `there` of an option lie."""
    kept = np.searchsorted(option.kept, there)
    criteria = [
        replace(values, numbers={name: told for name, told in values.numbers.items() if name in TELLING}).take(kept)
        for values in option.criteria
    ]
    return certainty.interval(criteria, scene.weights, _unknown_there(scene, option, there, criteria))


def _spot(option: Option, candidate: int) -> Spot:
    here = int(np.searchsorted(option.index, candidate))
    return Spot(candidate, option, here, int(np.searchsorted(option.kept, here)))


def _spots(found: list[Option], result: Ranking, candidates: IndexArray) -> list[Spot]:
    """Each candidate in its best option."""
    return [_spot(found[result.best[candidate]], candidate) for candidate in candidates.tolist()]


def _criteria(spots: list[Spot]) -> list[CriterionValues]:
    """The criteria of candidates, each taken from its own option."""

    def picked(row: int, name: str) -> FloatArray:
        return np.array([getattr(spot.option.criteria[row], name)[spot.kept] for spot in spots])

    def numbers(row: int) -> dict[str, FloatArray]:
        return {
            name: np.array([spot.option.criteria[row].numbers[name][spot.kept] for spot in spots])
            for name in TELLING
            if name in spots[0].option.criteria[row].numbers
        }

    return [
        CriterionValues(
            values.criterion, picked(row, "value"), picked(row, "low"), picked(row, "high"), picked(row, "stated"),
            values.evidence, "", numbers(row),
        )
        for row, values in enumerate(spots[0].option.criteria)
    ]  # fmt: skip


def _risks(spots: list[Spot]) -> list[Risk]:
    """The conditions that may turn out to rule candidates out, gate by gate; those of a place share the answer."""
    places = {name: float(number) for number, name in enumerate({spot.option.place.name: None for spot in spots})}
    risks = []
    for row, gate in enumerate(spots[0].option.gates):
        told = [spot.option.gates[row].risk(spot.here) for spot in spots]
        if any(chance > 0 for chance, _ in told):
            anywhere = gate.gate in ROOM_WIDE
            groups = [(0.0 if anywhere else places[spot.option.place.name]) if shared else -1.0
                      for spot, (_, shared) in zip(spots, told, strict=True)]  # fmt: skip
            risks.append(Risk(gate.gate, np.array([chance for chance, _ in told]), np.array(groups)))
    return risks


def _answer(scene: Scene, worth: AnswerWorth, spots: list[Spot]) -> Iterator[Answerable]:
    """The question that a worth is about; none where no file and no dealer could answer it."""
    if worth.row < 0:
        if worth.cause in ASK and not _answered(worth, spots):
            about = "candidate" if worth.candidate >= 0 else "room" if worth.cause in OF_THE_ROOM else "mains"
            candidate = spots[worth.candidate].candidate if worth.candidate >= 0 else -1
            question, find = ASK[worth.cause]
            if worth.cause == "drive":
                question = f"What is {' and '.join(scene.drive.untold)}?"
            elif worth.cause == "ear":
                question = next(aim_question(spot.option.aim) for spot in spots if spot.option.aim.missing)
            told = question, find
            yield Answerable(candidate, worth.cause, *told, worth.points, worth.changes, pending=False, about=about)
        return
    spot = spots[worth.candidate]
    gate = next(one for one in spot.option.gates if one.gate == worth.cause)
    shared = gate.risk(spot.here)[1]
    question = gate.question(spot.here) or ASK_GATE.get(gate.gate, "").format(place=spot.option.place.name)
    if question:
        yield Answerable(
            spot.candidate, gate.gate, question, FIND.get(gate.gate, "ask the maker"), worth.points, worth.changes,
            pending=False, about="room" if shared else "candidate",
        )  # fmt: skip


def _about_drivers(scene: Scene, answers: Sequence[Answerable]) -> list[Answerable]:
    """Answers of which those about the drivers of a candidate or the mains ask only what its datasheet leaves out."""
    mains = np.flatnonzero(scene.relation == Relation.IDENTICAL)[:1].tolist()
    asked = [
        ([answer.candidate] if answer.candidate >= 0 else mains) if answer.unknown.endswith("drivers") else []
        for answer in answers
    ]
    everyone = sorted({row for rows in asked for row in rows})
    if not everyone:
        return list(answers)
    assumed = scene.voices_of(np.array(everyone, dtype=np.intp)).profile.assumed
    return [
        replace(answer, question=_drivers_question(answer.candidate >= 0, assumed, everyone.index(rows[0])))
        if rows
        else answer
        for answer, rows in zip(answers, asked, strict=True)
    ]


def _drivers_question(of_candidate: bool, assumed: Assumed, row: int) -> str:
    """What to ask about the drivers of a candidate, or of the mains: only what its datasheet leaves out."""
    left = [word for name, word in DRIVER_WORDS.items() if getattr(assumed, name)[row]]
    listed = " and ".join([", ".join(left[:-1]), left[-1]]) if len(left) > 1 else "".join(left)
    whose = "its" if of_candidate else "the mains'"
    return f"What {'is' if len(left) == 1 else 'are'} {whose} {listed}?" if left else ASK["drivers"][0]


def _answered(worth: AnswerWorth, spots: list[Spot]) -> bool:
    """Whether a datasheet gave the answer, which may yet be overstated, or whether a gate asks for the rest of it."""
    if worth.candidate < 0:
        return False
    boxes, here = spots[worth.candidate].option.boxes, spots[worth.candidate].here
    if worth.cause == "price":
        return bool(np.isfinite(boxes.price[here]))
    if worth.cause == "low limit":
        return bool(boxes.low_limit_drop[here] == F3_DROP)
    if worth.cause != "sensitivity":
        return False
    return bool(boxes.sensitivity[here] > 0 and boxes.basis[here] == SensitivityCode.ANECHOIC)


def _unknown(scene: Scene, spots: list[Spot], criteria: list[CriterionValues]) -> dict[str, FloatArray]:
    """How much of each cause is unknown for each candidate."""
    told: dict[str, FloatArray] = {}
    options = {id(spot.option): spot.option for spot in spots}
    for number, option in options.items():
        places = np.array([place for place, spot in enumerate(spots) if id(spot.option) == number])
        there = np.array([spots[place].here for place in places.tolist()], dtype=np.intp)
        here = [values.take(places) for values in criteria]
        for cause, unknown in _unknown_there(scene, option, there, here).items():
            told.setdefault(cause, np.empty(len(spots)))[places] = unknown
    return told


def _unknown_there(
    scene: Scene, option: Option, there: IndexArray, criteria: list[CriterionValues]
) -> dict[str, FloatArray]:
    """How much of each cause is unknown for each of some boxes in an option; `criteria` are theirs."""
    candidates, boxes, aim, mains = option.index[there], option.boxes.take(there), option.aim.take(there), scene.mains
    stated = {values.criterion.name: values.stated for values in criteria}
    spread = {values.criterion.name: values.high > values.low for values in criteria}
    identical = scene.relation[candidates] == Relation.IDENTICAL
    own = scene.boxes.take(candidates)

    def all_alike(unknown: float) -> FloatArray:
        return np.full(len(there), float(unknown))

    return {
        "voicing": np.where(spread["timbre"] & ~identical, 1.0, 0.0),
        "drivers": np.where(identical, 0.0, 1 - stated["coverage"]),
        "mains' drivers": all_alike(1 - mains.sound.stated[0]),
        "floor": all_alike(np.ptp(floor_between(mains.stands.floor), axis=0).mean()),
        "furniture": all_alike(_front_unknown(scene, option)),
        "picture": all_alike(_picture_unknown(scene, option)),
        "sensitivity": np.where(spread["headroom"], _sensitivity_unknown(boxes), 0.0),
        "room gain": np.where(spread["headroom"], float(np.isnan(scene.drive.room_gain)), 0.0),
        "drive": all_alike(bool(scene.drive.untold)),
        "load": (under_load(boxes, scene.drive) > 0).astype(np.float64),
        "axis": (aim.axis_unknown | aim.unknown | aim.untried).astype(np.float64),
        "feet": np.isnan(own.feet).astype(np.float64),
        "mains' feet": all_alike(mains.stands.feet[0] > 0),
        "ear": aim.assumed.astype(np.float64),
        "mains' wall": all_alike(not mains.stands.wall_stated),
        # nobody measured it across its front: where its axis is, and what its baffle and a horn's mouth do
        "outside": (np.isnan(boxes.height) | np.isnan(boxes.width)).astype(np.float64),
        "mains' axis": all_alike(np.isnan(mains.stands.axis_height[0])),
        "port": _port_unknown(boxes, option.place).astype(np.float64),
        "price": (np.isnan(own.price) | (open_tax(own, scene.purse) > 0)).astype(np.float64),
        "mains' price": all_alike(np.isnan(mains.price[0])),
        "low limit": np.maximum(1 - stated["reach"], CLAIM),
    }


def _sensitivity_unknown(boxes: Boxes) -> FloatArray:
    """How much of a sensitivity is in doubt: all of it unstated, half of one in an unknown field, else the claim."""
    told = np.where(boxes.basis == SensitivityCode.ANECHOIC, CLAIM, MOSTLY_UNKNOWN)
    return np.where(np.isnan(boxes.sensitivity), 1.0, told)


def _port_unknown(boxes: Boxes, place: PlaceFigures) -> BoolArray:
    """Whether nobody said where a box breathes, or whether the bay behind it is closed."""
    maybe_bay = place.kind == "cavity" and place.back == "unknown"
    return np.asarray((boxes.port == Port.UNKNOWN) | maybe_bay)


CLAIM: Final = 0.25
"""How much of a stated sensitivity or F3 is in doubt, as makers overstate both [1]. Our own figure."""

F3_DROP: Final = 3.0
"""The drop at which a low limit is F3 [dB]."""


def _front_unknown(scene: Scene, option: Option) -> bool:
    """Whether a box stands in a bay whose furniture may be of any width."""
    return option.place.kind == "cavity" and len(furniture_fronts(option.place, scene.places)) > 1


def _picture_unknown(scene: Scene, option: Option) -> bool:
    """Whether a screen is before the centre, and nobody said whether before the mains too."""
    least, _, most = screen_mismatch(option.place, scene.picture, scene.mains.stands.spacing)
    return most > least


def _dethroning(scene: Scene, criteria: list[CriterionValues], last: BoolArray) -> robustness.Dethroning | None:
    """The weights that would dethrone the first; no weights put what comes after all others before what doesn't."""
    names = [values.criterion.name for values in criteria]
    weights = np.array([scene.weights[name] for name in names])
    utilities = np.column_stack([utility(values.criterion, values.value) for values in criteria])
    return robustness.smallest_change(names, weights / weights.sum(), utilities[last == last[0]])


def _waiting(found: list[Option], result: Ranking) -> list[Answerable]:
    """What an answer is worth that could let a pending candidate in: its chance, times what it would then be better by.

    The chance that it passes is the share that passes among all whose answer is known, at the same gate and place.
    """
    best = float(result.best_score[result.ranked[0]]) if len(result.ranked) else 0.0
    answers = []
    for candidate in result.pending[:WAITING]:
        option = found[result.best[candidate]]
        here = int(np.searchsorted(option.index, candidate))
        open_gates = [judged for judged in option.gates if judged.verdict_of(here) == Verdict.UNKNOWN]
        chance = float(np.prod([_chance_to_pass(judged.verdict) for judged in open_gates]))
        gain = max(0.0, float(result.best_score[candidate]) - best)
        gate = open_gates[0]
        answers.append(
            Answerable(
                int(candidate), gate.gate, gate.question(here), FIND.get(gate.gate, "ask the maker"),
                chance * gain, chance if gain > 0 else 0.0, pending=True,
                about="candidate" if ABOUT_BOX.search(gate.question(here)) else "room",
            )
        )  # fmt: skip
    return answers


def _chance_to_pass(verdict: FloatArray) -> float:
    """The share that passes among those whose answer is known; Laplace's rule keeps it off 0 and 1."""
    known = verdict != Verdict.UNKNOWN
    passing = verdict <= Verdict.CONDITIONAL
    return float((passing[known].sum() + 1) / (known.sum() + 2))
