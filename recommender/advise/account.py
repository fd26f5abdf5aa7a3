"""From arrays to words and numbers for those loudspeakers that are shown."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final

import numpy as np

from triptych.catalog.answer_columns import Column, Mixed, Numbers, Picked, Rows, Same
from triptych.catalog.errors import NotFound
from triptych.recommender.advise import told_columns
from triptych.recommender.advise.advice import Chances, NextQuestion, Standing, Survival
from triptych.recommender.advise.beside import Option, Ranking
from triptych.recommender.advise.catalogue import Loudspeakers
from triptych.recommender.advise.derivations import derivations, seat_derivations
from triptych.recommender.advise.placed import Scene
from triptych.recommender.advise.settle import Certainty, intervals
from triptych.recommender.advise.voices import VoiceBook
from triptych.recommender.judge.verdicts import VERDICT_WORDS
from triptych.recommender.scene.arrays import FloatArray, IndexArray, PlaceFigures

GROUPS: Final = ("mains", "room", "candidate")
"""What questions are about, in the order in which they are told."""


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

    def standings(self, ranks: range) -> Mixed:
        """The ranked loudspeakers at `ranks`, counted from 0."""
        if (account := self._all_for(ranks, self.exact[0])) is not self:
            return account.standings(ranks)
        candidates = self.result.ranked[ranks.start : ranks.stop]
        return self._stood(candidates, self.result.best[candidates], ranks.start)

    def stood(self, candidates: Sequence[int], chosen: Sequence[int]) -> list[Standing]:
        """Candidates in the option chosen for each, with ranks from 1 up."""
        return self._stood(np.array(candidates, dtype=np.intp), np.array(chosen, dtype=np.intp)).records()

    def _stood(self, candidates: IndexArray, chosen: IndexArray, first: int = 0) -> Mixed:
        parts = []
        for option in np.unique(chosen).tolist():
            places = np.flatnonzero(chosen == option)
            parts.append((places.tolist(), self._standing(candidates[places], option, first + 1 + places)))
        return Mixed(len(candidates), parts)

    def derived(self, standing: Standing, candidate: int, chosen: int) -> Standing:
        """A standing with the derivation of each of its quantities."""
        option = self.found[chosen]
        here = int(np.searchsorted(option.index, candidate))
        return replace(
            standing,
            derivations=derivations(self.scene, option, here),
            seat_derivations=seat_derivations(self.scene, option, here),
        )

    def _standing(self, candidates: IndexArray, chosen: int, ranks: IndexArray) -> Rows:
        """Candidates in one option."""
        option, scene = self.found[chosen], self.scene
        here = np.searchsorted(option.index, candidates)
        kept = np.searchsorted(option.kept, here)
        low, high = intervals(scene, option, here)
        rows = self.rows[candidates]
        columns: dict[str, Column] = {
            "rank": ranks.tolist(),
            **self._named(candidates),
            "place": Same(option.place.name),
            "place_kind": Same(option.place.kind),
            "pose": Same(option.pose),
            "verdict": Picked(VERDICT_WORDS, option.verdict[here]),
            "score": Numbers(option.scores.score[kept]),
            "score_low": Numbers(low),
            "score_high": Numbers(high),
            "confidence": Numbers(option.scores.confidence[kept]),
            "chances": self._all_chances(candidates, chosen, low, high),
            "available": [self.catalogue.available[row] for row in rows.tolist()],
            "gates": told_columns.gates(option, here),
            "criteria": told_columns.criteria(option, kept, scene.weights),
            "quantities": told_columns.quantities(option, here, kept, scene.seats),
            "seats": told_columns.seat_answers(self.catalogue.drivers.take(rows), option, here, scene.seats),
            "derivations": Same(()),
            "seat_derivations": Same(()),
            "other_places": told_columns.other_places(self.found, self.result, candidates, chosen),
        }
        return Rows(Standing, len(candidates), columns)

    def _named(self, candidates: IndexArray) -> dict[str, Column]:
        """Who candidates are, and what one of each costs."""
        rows = self.rows[candidates].tolist()
        return {
            "speaker": [self.catalogue.names[row] for row in rows],
            "price": told_columns.known(self.scene.boxes.price[candidates]),
            "currency": [self.catalogue.asked.currency[row] for row in rows],
        }

    def _all_chances(self, candidates: IndexArray, chosen: int, low: FloatArray, high: FloatArray) -> Column:
        if self.sure is None:
            return Same(None)
        leads = np.isin(candidates, self.sure.leading).tolist()
        told = zip(candidates.tolist(), leads, low.tolist(), high.tolist(), strict=True)
        return [self._chances(one, chosen, (least, most)) if leading else None for one, leading, least, most in told]

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

    def waiting_at(self, places: range) -> Mixed:
        """The pending loudspeakers at `places`, each at its best place with the question that would settle it."""
        if (account := self._all_for(places, self.exact[1])) is not self:
            return account.waiting_at(places)
        candidates = self.result.pending[places.start : places.stop]
        chosen = self.result.best[candidates]
        parts = []
        for number in np.unique(chosen).tolist():
            which = np.flatnonzero(chosen == number)
            some, option = candidates[which], self.found[number]
            beside = {**self._named(some), "score_if_passed": Numbers(self.result.best_score[some])}
            rows = told_columns.waiting(option, np.searchsorted(option.index, some), beside)
            parts.append((which.tolist(), rows))
        return Mixed(len(candidates), parts)

    def _all_for(self, ranks: range, exact: int | None) -> Account:
        """The account that knows the ranks of a group up to the last of some."""
        return self.whole() if self.whole and exact is not None and ranks.stop > exact else self

    def ruled_out(self, places: range) -> Mixed:
        """The excluded loudspeakers at `places`, with the reasons at every place and pose."""
        candidates = self.result.excluded[places.start : places.stop]
        names = [self.name(candidate) for candidate in candidates.tolist()]
        rows = told_columns.ruled_out(names, self.found, candidates, self.shelved)
        return Mixed(len(candidates), [(range(len(candidates)), rows)])
