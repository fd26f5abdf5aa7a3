"""What is heard of one question, each candidate once in each place, whatever the weights are.

Weights decide which candidates need to be heard, not how they are heard: so what was heard for some weights is taken
as it is for others. A row comes out the same whichever rows it is heard with, which a test holds to the last bit.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

import numpy as np

from triptych.recommender.advise import evaluate
from triptych.recommender.advise.evaluate import Free, Voiced
from triptych.recommender.advise.placed import Centres, Placed, Scene
from triptych.recommender.judge.gates import speech
from triptych.recommender.judge.ranking import log_utility
from triptych.recommender.scene.arrays import IndexArray

Kind = TypeVar("Kind", Free, Centres)
Key = tuple[str, str]
"""A place and a pose."""


@dataclass(frozen=True, slots=True)
class _Rows(Generic[Kind]):
    """What was heard in a place and pose, and in which row of it each candidate is; -1 for none."""

    found: Kind
    where: IndexArray

    def beside(self, more: Kind, candidates: IndexArray, join: Callable[[Sequence[Kind]], Kind]) -> _Rows[Kind]:
        where = self.where.copy()
        where[candidates] = np.count_nonzero(where >= 0) + np.arange(len(candidates))
        return _Rows(join([self.found, more]), where)


class HeardOnce:
    """A question's places and what was heard there; several may ask at once, as nothing that is kept is changed."""

    def __init__(self) -> None:
        self._placings: list[Placed] | None = None
        self._free: Mapping[Key, _Rows[Free]] = {}
        self._centres: Mapping[Key, _Rows[Centres]] = {}

    def __len__(self) -> int:
        """How many candidates in places are kept."""
        return sum(int(np.count_nonzero(one.where >= 0)) for one in self._free.values())

    def placings(self, scene: Scene) -> list[Placed]:
        """Every place and pose, as `evaluate.placings` gives them."""
        if self._placings is None:
            self._placings = evaluate.placings(scene)
        return self._placings

    def listened(self, scene: Scene, placed: Sequence[Placed], known: Voiced | None = None) -> list[Free]:
        """What seats hear before any room of those that are `kept`, as `evaluate.listened` gives it.

        Where their voices are `known` they are not found again.
        """
        kept = self._free
        if missing := _missing(kept, placed):
            made = evaluate.listened(scene, missing, known or evaluate.voiced(scene, missing))
            kept = self._free = _with(kept, missing, made, Free.joined, len(scene.boxes))
        return [_taken(kept, one) for one in placed]

    def heard(
        self, scene: Scene, placed: Sequence[Placed], known: Voiced | None = None
    ) -> list[tuple[Placed, Centres]]:
        """Places and poses with those that are `kept` there as they are heard, as `evaluate.heard` gives them."""
        kept = self._centres
        if missing := _missing(kept, placed):
            known = known or evaluate.voiced(scene, missing)
            told = evaluate.heard(scene, missing, known, self.listened(scene, missing, known))
            made = [centres for _, centres in told]
            kept = self._centres = _with(kept, missing, made, Centres.joined, len(scene.boxes))
        return [
            (_judged(scene, one, free), _weighed(scene, _taken(kept, one)))
            for one, free in zip(placed, self.listened(scene, placed), strict=True)
        ]


def _key(placed: Placed) -> Key:
    return placed.place.name, placed.pose


def _missing(kept: Mapping[Key, _Rows[Kind]], placed: Sequence[Placed]) -> list[Placed]:
    """Those of whom nothing is kept; a place of which nothing is kept is among them even where nobody is asked for."""
    found = []
    for one in placed:
        known = kept.get(_key(one))
        left = one.kept if known is None else one.kept[known.where[one.index[one.kept]] < 0]
        if known is None or len(left):
            found.append(replace(one, kept=left))
    return found


def _with(
    kept: Mapping[Key, _Rows[Kind]],
    missing: Sequence[Placed],
    made: Sequence[Kind],
    join: Callable[[Sequence[Kind]], Kind],
    count: int,
) -> dict[Key, _Rows[Kind]]:
    """The same with what was made of those that were missing."""
    found = dict(kept)
    for one, new in zip(missing, made, strict=True):
        candidates = one.index[one.kept]
        if (known := found.get(_key(one))) is not None:
            found[_key(one)] = known.beside(new, candidates, join)
            continue
        where = np.full(count, -1)
        where[candidates] = np.arange(len(candidates))
        found[_key(one)] = _Rows(new, where)
    return found


def _taken(kept: Mapping[Key, _Rows[Kind]], placed: Placed) -> Kind:
    known = kept[_key(placed)]
    return known.found.take(known.where[placed.index[placed.kept]])


def _judged(scene: Scene, placed: Placed, free: Free) -> Placed:
    """A place and pose with the gate that listens."""
    gates = (*placed.gates, speech.seats(free.heard, placed.kept, len(placed.boxes), scene.seats))
    return replace(placed, gates=gates, verdict=np.maximum(placed.verdict, gates[-1].verdict))


def _weighed(scene: Scene, centres: Centres) -> Centres:
    """Centres with the part of their scores that these weights make of them."""
    own = [(one.criterion, one.value) for one in centres.own]
    return replace(centres, logs=log_utility(own, scene.weights))
