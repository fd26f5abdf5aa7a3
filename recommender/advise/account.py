"""From arrays to words and numbers for those loudspeakers that are shown."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final

import numpy as np

from triptych.catalog.errors import NotFound
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
    known,
)
from triptych.recommender.advise.beside import Option, Ranking
from triptych.recommender.advise.catalogue import Loudspeakers
from triptych.recommender.advise.derivations import derivations, seat_derivations
from triptych.recommender.advise.evaluate import Scene
from triptych.recommender.advise.settle import Certainty, intervals
from triptych.recommender.advise.voices import VoiceBook
from triptych.recommender.judge.criteria.definitions import REACH, TIMBRE
from triptych.recommender.judge.criteria.placing import SURFACES, bay_resonance
from triptych.recommender.judge.criteria.value import crossover_advised
from triptych.recommender.judge.criterion import utility
from triptych.recommender.judge.verdicts import VERDICT_WORDS, GateVerdicts, Verdict
from triptych.recommender.physics import coverage, description, loudspeaker, reflection
from triptych.recommender.physics.direction import plane_angles
from triptych.recommender.scene.aiming import own_azimuth, seat_points
from triptych.recommender.scene.arrays import FloatArray, IndexArray, PlaceFigures, Seats

GROUPS: Final = ("mains", "room", "candidate")
"""What questions are about, in the order in which they are told."""

TO_MILLIMETRES: Final = 1e3


def _crossover(option: Option, kept: int) -> float:
    reach = next(values for values in option.criteria if values.criterion is REACH)
    return float(crossover_advised(reach.value[kept]))


def _timbre(option: Option, kept: int) -> float:
    """The difference in timbre of one that is kept [dB]; NaN where nothing was modelled or measured."""
    timbre = next(values for values in option.criteria if values.criterion is TIMBRE)
    return float(np.nan if np.isnan(timbre.numbers["direct"][kept]) else timbre.value[kept])


def _resonance(option: Option, here: int) -> float:
    """The resonance of the bay behind a box [Hz]; NaN where there is none."""
    if option.place.kind != "cavity":
        return np.nan
    return float(bay_resonance(option.boxes.take(np.array([here])), option.place)[0])


@dataclass(frozen=True, slots=True)
class Account:
    """Tells the candidates of a scene: `rows` are theirs in `catalogue`, `found` the options, `result` their groups.

    Of those that pass and of those that wait only the first `exact` were heard, where these are numbers; `whole` then
    gives the account of all. `shelved` says of candidates that are not in stock what else there is of them, and when.
    """

    scene: Scene
    catalogue: Loudspeakers
    book: VoiceBook
    mains_row: int
    rows: IndexArray
    found: list[Option]
    result: Ranking
    sure: Certainty | None
    room: str
    shelved: Mapping[int, str] = field(default_factory=lambda: MappingProxyType({}))
    exact: tuple[int | None, int | None] = (None, None)
    whole: Callable[[], Account] | None = None

    def name(self, candidate: int) -> str:
        """The name of a candidate."""
        return self.catalogue.names[int(self.rows[candidate])]

    @property
    def mains(self) -> str:
        """The name of the mains."""
        return self.catalogue.names[self.mains_row]

    def places_at(self, name: str | None) -> list[PlaceFigures]:
        """The place of that name, or all of the room.

        Raises
        ------
        NotFound
            The room has no such place.
        """
        places = self.scene.places
        found = [place for place in places if name is None or place.name.casefold() == name.casefold()]
        if not found:
            known_names = ", ".join(repr(place.name) for place in places)
            raise NotFound(f"{self.room} has no place named {name!r}; it has {known_names}")
        return found

    def options_at(self, name: str | None) -> list[int]:
        """The options in the place of that name, or in all, that any candidate could take."""
        there = {place.name for place in self.places_at(name)}
        return [number for number, one in enumerate(self.found) if len(one.index) and one.place.name in there]

    def standings(self, ranks: range) -> list[Standing]:
        """The ranked loudspeakers at `ranks`, counted from 0."""
        if (account := self._all_for(ranks, self.exact[0])) is not self:
            return account.standings(ranks)
        candidates = [int(self.result.ranked[rank]) for rank in ranks]
        return self.stood(candidates, [int(self.result.best[candidate]) for candidate in candidates], ranks.start)

    def stood(self, candidates: list[int], chosen: list[int], first: int = 0) -> list[Standing]:
        """Candidates in the option chosen for each, with ranks from `first` + 1 up."""
        heard, between = self._heard(candidates, chosen), intervals(self.scene, self.found, candidates, chosen)
        useful = {
            option: [utility(one.criterion, one.value) for one in self.found[option].criteria] for option in set(chosen)
        }
        return [
            self._standing(candidate, option, first + place + 1, heard[place], between[place], useful[option])
            for place, (candidate, option) in enumerate(zip(candidates, chosen, strict=True))
        ]

    def derived(self, standing: Standing, candidate: int, chosen: int) -> Standing:
        """A standing with the derivation of each of its quantities."""
        option = self.found[chosen]
        here = int(np.searchsorted(option.index, candidate))
        return replace(
            standing,
            derivations=derivations(self.scene, option, here),
            seat_derivations=seat_derivations(self.scene, option, here),
        )

    def _heard(self, candidates: list[int], chosen: list[int]) -> list[tuple[SeatAnswer, ...]]:
        """What the seats hear, modelled directly, for all candidates of an option at once."""
        answers: list[tuple[SeatAnswer, ...]] = [()] * len(candidates)
        for option in set(chosen):
            places = [place for place, other in enumerate(chosen) if other == option]
            own = np.array([candidates[place] for place in places], dtype=np.intp)
            told = _seat_answers(self.catalogue.drivers.take(self.rows[own]), own, self.found[option], self.scene.seats)
            for place, answer in zip(places, told, strict=True):
                answers[place] = answer
        return answers

    def _standing(
        self,
        candidate: int,
        chosen: int,
        rank: int,
        heard: tuple[SeatAnswer, ...],
        between: tuple[float, float],
        useful: Sequence[FloatArray],
    ) -> Standing:
        option = self.found[chosen]
        here = int(np.searchsorted(option.index, candidate))
        kept = int(np.searchsorted(option.kept, here))
        scores = option.scores
        return Standing(
            rank=rank,
            speaker=self.name(candidate),
            place=option.place.name,
            pose=option.pose,
            verdict=Verdict(option.verdict[here]).word,
            score=float(scores.score[kept]),
            score_low=between[0],
            score_high=between[1],
            confidence=float(scores.confidence[kept]),
            chances=self._chances(candidate, chosen, between),
            price=known(self.scene.boxes.price[candidate]),
            currency=self.catalogue.asked.currency[self.rows[candidate]],
            available=self.catalogue.available[self.rows[candidate]],
            gates=tuple(self._gates(option, here)),
            criteria=tuple(self._criteria(option, kept, useful)),
            quantities=self._quantities(option, here, kept),
            seats=heard,
            other_places=tuple(self._other_places(candidate, chosen)),
        )

    def _chances(self, candidate: int, chosen: int, interval: tuple[float, float]) -> Chances | None:
        """What was drawn of a leading candidate, at the place it leads in; nothing where it is looked at alone."""
        if self.sure is None or self.sure.places is None or self.result.best[candidate] != chosen:
            return None
        leads = np.flatnonzero(self.sure.leading == candidate)
        if not len(leads):
            return None
        drawn, row = self.sure.places, leads[0]
        parts = (drawn.first[row], drawn.top_three[row], drawn.stands[row])
        return Chances(*interval, *(float(part) for part in parts))

    def questions(self) -> tuple[NextQuestion, ...]:
        """The questions worth asking, each once: about the mains, which touch everybody, the room, the candidates.

        In each group the dearest is first.
        """
        told: dict[tuple[str | None, str], NextQuestion] = {}
        asked = self.sure.questions if self.sure else ()
        for answer in sorted(asked, key=lambda one: (GROUPS.index(one.about), -one.points)):
            about = answer.about
            name = self.name(answer.candidate) if about == "candidate" else None
            worth = answer.points, answer.changes, answer.pending
            question = NextQuestion(name, answer.unknown, answer.question, answer.find, *worth, about)
            told.setdefault((name, answer.question), question)
        return tuple(told.values())

    def survival(self) -> Survival | None:
        """How far the first place survives other weights."""
        change = self.sure.dethroning if self.sure else None
        if self.sure is None or change is None:
            return None
        return Survival(
            self.name(int(self.sure.leading[change.rival])), change.moved, dict(change.taken), change.given_to
        )

    @staticmethod
    def _gates(option: Option, here: int) -> list[GateAnswer]:
        return [
            GateAnswer(
                gate=gate.gate,
                verdict=gate.verdict_of(here).word,
                why=gate.why(here),
                margin=known(gate.margin[here]),
                unit=gate.unit,
                question=gate.question(here),
            )
            for gate in option.gates
        ]

    def _criteria(self, option: Option, kept: int, useful: Sequence[FloatArray]) -> list[CriterionAnswer]:
        return [
            CriterionAnswer(
                criterion=values.criterion.name,
                value=float(values.value[kept]),
                low=float(values.low[kept]),
                high=float(values.high[kept]),
                unit=values.criterion.unit,
                utility=float(useful[row][kept]),
                weight=self.scene.weights[values.criterion.name],
                evidence=values.evidence_of(kept),
                why=values.told(kept),
                inputs={name: known(told[kept]) for name, told in values.numbers.items()},
                formula=values.criterion.formula,
                source=values.criterion.source,
            )
            for row, values in enumerate(option.criteria)
        ]

    def _quantities(self, option: Option, here: int, kept: int) -> dict[str, float | None]:
        aim, place, loud = option.aim, option.place, option.levels
        boxes = option.boxes
        axis_known = not (aim.axis_unknown[here] or aim.guessed[here])
        angles = {
            "elevation_deg": aim.elevation[here],
            "tilt_needed_deg": aim.tilt_needed[here],
            "residual_deg": aim.residual[here],
            "lift_mm": aim.lift[here] * TO_MILLIMETRES,
            **self._bounce(option, here),
        }
        numbers = {
            **{name: value if axis_known else np.nan for name, value in angles.items()},
            "tilt_fits_deg": aim.tilt_fits[here],
            "envelope_height_mm": aim.envelope_height[here] * TO_MILLIMETRES,
            "envelope_depth_mm": aim.envelope_depth[here] * TO_MILLIMETRES,
            "rear_clearance_mm": aim.rear_clearance[here] * TO_MILLIMETRES,
            "setback_mm": place.setback * TO_MILLIMETRES,
            "cavity_resonance_hz": _resonance(option, here),
            "peak_level_db": np.nan if np.isnan(boxes.sensitivity[here]) else loud.peaks.likely[here],
            "trim_db": option.trim[here],
            "timbre_rms_db": _timbre(option, kept),
            "crossover_hz": np.nan if np.isnan(boxes.low_limit[here]) else _crossover(option, kept),
        }
        return {name: known(value) for name, value in numbers.items()}

    def _bounce(self, option: Option, here: int) -> dict[str, float]:
        """The largest set-back and the notch of the surface in front, for the untilted box, in mm and Hz."""
        place, aim, seats = option.place, option.aim, self.scene.seats
        if place.kind not in SURFACES:
            return {"setback_max_mm": np.nan, "bounce_notch_hz": np.nan}
        source = float(aim.axis_height[here] - aim.floor[here])
        ear = float(aim.ear_height - aim.floor[here])
        from_edge = seats.distance[seats.primary] - place.front
        largest = float(reflection.largest_setback(source, ear, from_edge))
        bounces = place.setback > 0 and bool(
            reflection.bounce_exists(source, ear, from_edge + place.setback, place.setback)
        )
        notch = reflection.notch_frequency(reflection.path_difference(source, ear, float(aim.ear_distance[here])))
        return {
            "setback_max_mm": largest * TO_MILLIMETRES,
            "bounce_notch_hz": float(notch) if bounces else np.nan,
        }

    def _other_places(self, candidate: int, chosen: int) -> list[OtherPlace]:
        """The best pose in every other place; no score is told where it is ruled out."""
        best: dict[str, OtherPlace] = {}
        scores, verdicts = (part[:, candidate].tolist() for part in (self.result.scores, self.result.verdicts))
        for option, score, verdict in zip(self.found, scores, verdicts, strict=True):
            if option.place.name == self.found[chosen].place.name:
                continue
            told = None if verdict == Verdict.FAIL else known(score)
            other = OtherPlace(option.place.name, option.pose, told, VERDICT_WORDS[verdict])
            held = best.get(other.place)
            if held is None or (other.score or -1.0) > (held.score or -1.0):
                best[other.place] = other
        return list(best.values())

    def waiting_at(self, places: range) -> list[Waiting]:
        """The pending loudspeakers at `places`, each at its best place with the question that would settle it."""
        if (account := self._all_for(places, self.exact[1])) is not self:
            return account.waiting_at(places)
        return [self._waiting(int(self.result.pending[place])) for place in places]

    def _all_for(self, ranks: range, exact: int | None) -> Account:
        """The account that knows the ranks of a group up to the last of some."""
        return self.whole() if self.whole and exact is not None and ranks.stop > exact else self

    def _waiting(self, candidate: int) -> Waiting:
        option = self.found[self.result.best[candidate]]
        here = int(np.searchsorted(option.index, candidate))
        open_gates = [answer for answer in self._gates(option, here) if answer.verdict == Verdict.UNKNOWN.word]
        questions = tuple(dict.fromkeys(answer.question for answer in open_gates))
        return Waiting(
            speaker=self.name(candidate),
            place=option.place.name,
            pose=option.pose,
            gate=open_gates[0].gate,
            why=open_gates[0].why,
            question=open_gates[0].question,
            questions=questions,
            score_if_passed=float(self.result.best_score[candidate]),
            price=known(self.scene.boxes.price[candidate]),
            currency=self.catalogue.asked.currency[self.rows[candidate]],
        )

    def _why(self, gate: GateVerdicts, here: int, candidate: int) -> str:
        """Why a gate fails; for what is not in stock, what there is instead and when it could be had."""
        beside = self.shelved.get(candidate) if gate.gate == "supply" else None
        return f"{gate.why(here)} ({beside})" if beside else gate.why(here)

    def ruled_out(self, places: range) -> list[RuledOut]:
        """The excluded loudspeakers at `places`, with the reasons at every place and pose."""
        return [self._ruled_out(int(self.result.excluded[place])) for place in places]

    def _ruled_out(self, candidate: int) -> RuledOut:
        reasons = [reason for option in self.found for reason in self._reasons(option, candidate)]
        return RuledOut(self.name(candidate), tuple(reasons))

    def _reasons(self, option: Option, candidate: int) -> list[Reason]:
        here = int(np.searchsorted(option.index, candidate))
        if here >= len(option.index) or option.index[here] != candidate:
            return []
        return [
            Reason(option.place.name, option.pose, gate.gate, self._why(gate, here, candidate))
            for gate in option.gates
            if gate.verdict_of(here) == Verdict.FAIL
        ]


def _seat_answers(
    drivers: description.Columns, candidates: IndexArray, option: Option, seats: Seats
) -> list[tuple[SeatAnswer, ...]]:
    """For each of some `candidates`, standing as in `option`: its angle, deepest dip and null at every seat.

    `drivers` are the candidates'.
    """
    model = description.describe(drivers)
    if option.pose == "on_side":
        model = loudspeaker.turned(model)
    aim = option.aim.take(np.searchsorted(option.index, candidates))
    angles = [own_azimuth(aim, seats, seat) for seat in range(len(seats.name))]
    heard = _heard_at(model, seat_points(aim, seats))
    return [
        tuple(
            SeatAnswer(
                seat=name,
                angle_deg=float(angles[seat][row]),
                **{key: known(values[row, seat]) for key, values in heard.items()},
            )
            for seat, name in enumerate(seats.name)
        )
        for row in range(len(candidates))
    ]


def _heard_at(model: loudspeaker.Sources, points: FloatArray) -> dict[str, FloatArray]:
    """What is told of seats at `points` in the frame of each loudspeaker, by exact paths; loudspeakers x seats."""
    dip = coverage.seat_dip(model, points)
    across = plane_angles(*np.moveaxis(points, -1, 0)).azimuth
    # the wider apart two drivers are, the lower they cancel
    factors = (np.ones(len(model)), model.spacing_high, model.spacing_low)
    pairs = (loudspeaker.outer_pair(loudspeaker.spread_out(model, factor)) for factor in factors)
    nulls = (
        np.where(model.usable[:, None], coverage.first_null(pair.left[:, None], pair.right[:, None], points), np.nan)
        for pair in pairs
    )
    names = ("null_hz", "null_low_hz", "null_high_hz")
    return {"across_deg": across, "dip_db": dip.level, "dip_hz": dip.frequency, **dict(zip(names, nulls, strict=True))}
