"""From arrays to words and numbers for those loudspeakers that are shown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from triptych.recommender.advise.advice import (
    Chances,
    CriterionAnswer,
    GateAnswer,
    NextQuestion,
    OtherPlace,
    Reason,
    RuledOut,
    SeatAnswer,
    Standing,
    Survival,
    Waiting,
)
from triptych.recommender.advise.derivations import derivations
from triptych.recommender.advise.evaluate import Option, Outcome, Scene
from triptych.recommender.advise.gather import Columns
from triptych.recommender.advise.listening import seat_answers
from triptych.recommender.advise.settle import Certainty
from triptych.recommender.judge.criteria.definitions import REACH, TIMBRE
from triptych.recommender.judge.criteria.placing import SURFACES, bay_resonance
from triptych.recommender.judge.criteria.value import crossover_advised
from triptych.recommender.judge.ranking import utility
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.physics import reflection
from triptych.recommender.scene.arrays import FloatArray, IndexArray

MILLI: Final = 1e3


def _crossover(option: Option) -> FloatArray:
    reach = next(measure for measure in option.measures if measure.criterion is REACH)
    return crossover_advised(reach.value)


def _timbre(option: Option) -> FloatArray:
    return next(measure.value for measure in option.measures if measure.criterion is TIMBRE)


def known(value: float) -> float | None:
    """A number, or None where it is not known or has no limit."""
    return float(value) if np.isfinite(value) else None


@dataclass(frozen=True, slots=True)
class Account:
    """Tells the candidates of one scene: `rows` are theirs in `columns`, `found` the options, `result` their groups."""

    scene: Scene
    columns: Columns
    rows: IndexArray
    found: list[Option]
    result: Outcome
    sure: Certainty

    def name(self, candidate: int) -> str:
        """The name of a candidate."""
        return str(self.columns["name"][self.rows[candidate]])

    def standings(self, ranks: range) -> list[Standing]:
        """The ranked loudspeakers at `ranks`, counted from 0."""
        candidates = [int(self.result.ranked[rank]) for rank in ranks]
        return self.stood(candidates, [int(self.result.best[candidate]) for candidate in candidates], ranks.start)

    def stood(self, candidates: list[int], chosen: list[int], first: int = 0) -> list[Standing]:
        """Candidates in the option chosen for each, with ranks from `first` + 1 up."""
        heard = self._heard(candidates, chosen)
        return [
            self._standing(candidate, option, first + place + 1, heard[place])
            for place, (candidate, option) in enumerate(zip(candidates, chosen, strict=True))
        ]

    def derived(self, standing: Standing, candidate: int, chosen: int) -> Standing:
        """A standing with the derivation of each of its quantities."""
        option = self.found[chosen]
        here = int(np.searchsorted(option.index, candidate))
        return replace(standing, derivations=derivations(self.scene, option, here))

    def _heard(self, candidates: list[int], chosen: list[int]) -> list[tuple[SeatAnswer, ...]]:
        """What the seats hear, modelled directly, for all candidates of an option at once."""
        answers: list[tuple[SeatAnswer, ...]] = [()] * len(candidates)
        for option in set(chosen):
            places = [place for place, other in enumerate(chosen) if other == option]
            own = np.array([candidates[place] for place in places], dtype=np.intp)
            told = seat_answers(self.columns, self.rows[own], own, self.found[option], self.scene.seats)
            for place, answer in zip(places, told, strict=True):
                answers[place] = answer
        return answers

    def _standing(self, candidate: int, chosen: int, rank: int, heard: tuple[SeatAnswer, ...]) -> Standing:
        option = self.found[chosen]
        here = int(np.searchsorted(option.index, candidate))
        kept = int(np.searchsorted(option.kept, here))
        scores = option.scores
        return Standing(
            rank=rank,
            speaker=self.name(candidate),
            place=option.site.name,
            pose=option.pose,
            verdict=Verdict(option.verdict[here]).word,
            score=float(scores.score[kept]),
            score_low=float(scores.low[kept]),
            score_high=float(scores.high[kept]),
            confidence=float(scores.confidence[kept]),
            chances=self._chances(candidate, chosen),
            price=known(self.scene.boxes.price[candidate]),
            currency=self.columns["currency"][self.rows[candidate]],
            available=self.columns["available"][self.rows[candidate]],
            gates=tuple(self._gates(option, here)),
            criteria=tuple(self._criteria(option, kept)),
            quantities=self._quantities(option, here, kept),
            seats=heard,
            other_places=tuple(self._other_places(candidate, chosen)),
        )

    def _chances(self, candidate: int, chosen: int) -> Chances | None:
        """What was drawn of a leading candidate, at the place it leads in."""
        leads = np.flatnonzero(self.sure.leading == candidate)
        if self.sure.standing is None or not len(leads) or self.result.best[candidate] != chosen:
            return None
        drawn, row = self.sure.standing, leads[0]
        parts = (drawn.low[row], drawn.high[row], drawn.first[row], drawn.top_three[row])
        return Chances(*(float(part) for part in parts))

    def questions(self) -> tuple[NextQuestion, ...]:
        """The questions worth asking, the dearest first; those about the mains name no candidate."""
        return tuple(
            NextQuestion(
                None if answer.candidate < 0 else self.name(answer.candidate),
                answer.unknown, answer.question, answer.find, answer.points, answer.changes, answer.pending,
            )
            for answer in self.sure.questions
        )  # fmt: skip

    def survival(self) -> Survival | None:
        """How far the first place survives other weights."""
        change = self.sure.dethroning
        if change is None:
            return None
        return Survival(
            self.name(int(self.sure.leading[change.rival])), change.moved, dict(change.taken), change.given_to
        )

    @staticmethod
    def _gates(option: Option, here: int) -> list[GateAnswer]:
        return [
            GateAnswer(
                gate=judgement.gate,
                verdict=judgement.cases[judgement.case[here]].verdict.word,
                why=judgement.why(here),
                margin=known(judgement.margin[here]),
                unit=judgement.unit,
                question=judgement.question(here),
            )
            for judgement in option.judgements
        ]

    def _criteria(self, option: Option, kept: int) -> list[CriterionAnswer]:
        return [
            CriterionAnswer(
                criterion=measure.criterion.name,
                value=float(measure.value[kept]),
                low=float(measure.low[kept]),
                high=float(measure.high[kept]),
                unit=measure.criterion.unit,
                utility=float(utility(measure.criterion, measure.value[kept : kept + 1])[0]),
                weight=self.scene.weights[measure.criterion.name],
                evidence=measure.evidence_of(kept),
                why=measure.told(kept),
                inputs={name: known(values[kept]) for name, values in measure.numbers.items()},
                formula=measure.criterion.formula,
                source=measure.criterion.source,
            )
            for measure in option.measures
        ]

    def _quantities(self, option: Option, here: int, kept: int) -> dict[str, float | None]:
        aim, site, loud = option.aim, option.site, option.levels
        boxes = option.boxes.take(np.array([here]))
        axis_known = not (aim.axis_unknown[here] or aim.unknown[here])
        angles = {
            "elevation_deg": aim.elevation[here],
            "tilt_needed_deg": aim.tilt_needed[here],
            "residual_deg": aim.residual[here],
            "lift_mm": aim.lift[here] * MILLI,
            **self._bounce(option, here),
        }
        numbers = {
            **{name: value if axis_known else np.nan for name, value in angles.items()},
            "tilt_fits_deg": aim.tilt_fits[here],
            "envelope_height_mm": aim.envelope_height[here] * MILLI,
            "envelope_depth_mm": aim.envelope_depth[here] * MILLI,
            "rear_clearance_mm": aim.rear_clearance[here] * MILLI,
            "setback_mm": site.setback * MILLI,
            "cavity_resonance_hz": bay_resonance(boxes, site)[0],
            "peak_level_db": np.nan if np.isnan(boxes.sensitivity[0]) else loud.peak[here],
            "trim_db": loud.trim[here],
            "timbre_rms_db": _timbre(option)[kept],
            "crossover_hz": np.nan if np.isnan(boxes.low_limit[0]) else _crossover(option)[kept],
        }
        return {name: known(value) for name, value in numbers.items()}

    def _bounce(self, option: Option, here: int) -> dict[str, float]:
        """The setbacks and the notch of the surface in front of the baffle, in mm and Hz."""
        site, aim = option.site, option.aim
        if site.kind not in SURFACES:
            return {"setback_max_mm": np.nan, "bounce_notch_hz": np.nan}
        source = float(aim.axis_height[here]) - aim.floor
        ear = aim.ear_height - aim.floor
        distance = float(aim.ear_distance[here])
        bounces = bool(reflection.bounce_exists(source, ear, distance, site.setback)) and site.setback > 0
        notch = reflection.notch_frequency(reflection.path_difference(source, ear, distance))
        return {
            "setback_max_mm": float(reflection.largest_setback(source, ear, distance)) * MILLI,
            "bounce_notch_hz": float(notch) if bounces else np.nan,
        }

    def _other_places(self, candidate: int, chosen: int) -> list[OtherPlace]:
        """The best pose in every other place."""
        best: dict[str, OtherPlace] = {}
        for option, score, verdict in zip(
            self.found, self.result.scores[:, candidate], self.result.verdicts[:, candidate], strict=True
        ):
            if option.site.name == self.found[chosen].site.name:
                continue
            other = OtherPlace(option.site.name, option.pose, known(score), Verdict(verdict).word)
            held = best.get(other.place)
            if held is None or (other.score or -1.0) > (held.score or -1.0):
                best[other.place] = other
        return list(best.values())

    def waiting(self, places: range) -> list[Waiting]:
        """The pending loudspeakers at `places`, each at its best place with the question that would settle it."""
        return [self._waiting(int(self.result.pending[place])) for place in places]

    def _waiting(self, candidate: int) -> Waiting:
        option = self.found[self.result.best[candidate]]
        here = int(np.searchsorted(option.index, candidate))
        open_gates = [answer for answer in self._gates(option, here) if answer.verdict == Verdict.UNKNOWN.word]
        questions = tuple(dict.fromkeys(answer.question for answer in open_gates))
        return Waiting(
            speaker=self.name(candidate),
            place=option.site.name,
            pose=option.pose,
            gate=open_gates[0].gate,
            why=open_gates[0].why,
            question=open_gates[0].question,
            questions=questions,
            score_if_passed=float(self.result.best_score[candidate]),
            price=known(self.scene.boxes.price[candidate]),
            currency=self.columns["currency"][self.rows[candidate]],
        )

    def ruled_out(self, places: range) -> list[RuledOut]:
        """The excluded loudspeakers at `places`, with the reasons at every place and pose."""
        return [self._ruled_out(int(self.result.excluded[place])) for place in places]

    def _ruled_out(self, candidate: int) -> RuledOut:
        reasons = [reason for option in self.found for reason in self._reasons(option, candidate)]
        return RuledOut(self.name(candidate), tuple(reasons))

    @staticmethod
    def _reasons(option: Option, candidate: int) -> list[Reason]:
        here = int(np.searchsorted(option.index, candidate))
        if here >= len(option.index) or option.index[here] != candidate:
            return []
        return [
            Reason(option.site.name, option.pose, judgement.gate, judgement.why(here))
            for judgement in option.judgements
            if judgement.cases[judgement.case[here]].verdict == Verdict.FAIL
        ]
