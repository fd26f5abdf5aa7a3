"""Options of those that can still come first: bounds before values, so that few need to be heard.

What a centre scores at most is known before it is heard: gates, trim, aim, headroom, money and reach need no
response, and kinship leaves a difference in timbre whatever the responses are. Of a large catalogue most stay below
what the first few score, so their responses are neither read nor computed. The first few come out as if all had been
heard.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from triptych.recommender.advise.aside import Aside, lost_aside
from triptych.recommender.advise.beside import YIELDS, Option, comparable, likely_beside, options_of
from triptych.recommender.advise.evaluate import PORT, Free, Voiced, heard, kept_somewhere, placings, voiced
from triptych.recommender.advise.heard_once import HeardOnce
from triptych.recommender.advise.placed import Centres, Placed, Scene
from triptych.recommender.judge.criteria.definitions import (
    AIM,
    BALANCE,
    COVERAGE,
    CRITERIA,
    HEADROOM,
    REACH,
    SURROUNDINGS,
    TIMBRE,
)
from triptych.recommender.judge.criteria.placing import aim_left, bounces, surroundings
from triptych.recommender.judge.criteria.sound import WORDS, untold_loading
from triptych.recommender.judge.criteria.value import headroom, price_ratio, reach
from triptych.recommender.judge.gates import drive as drive_gates
from triptych.recommender.judge.gates.fit import plugged
from triptych.recommender.judge.gates.terms import comparable_price, open_tax
from triptych.recommender.judge.ranking import log_utility, score_of
from triptych.recommender.judge.verdicts import Verdict, as_likely_out, chance_to_stand
from triptych.recommender.physics import timbre
from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray
from triptych.recommender.scene.levels import trims

NARROWED_TOGETHER: Final = 4_000
"""So many voices at most are held at once while they are narrowed down, of 30 kB each."""

TOLD_EQUAL: Final = 0.12
"""What a score may lie under the last of the first few and still be told as equal: a digit, and the rounding of
responses that are held in single precision [points]."""

PROBED: Final = 3
"""So many times as many as are wanted are judged first, to learn what the last of them scores at least."""

LISTENED: Final = 4
"""Those are found among so many times as many, by what their seats lose."""

DEAD: Final = -1.0
"""Less than any score: of what comes after all others."""

WORTH_BOUNDING: Final = 8
"""With fewer candidates than so many times those wanted, all are heard at once."""


@dataclass(frozen=True, slots=True)
class Leading:
    """Options in which the first `ranked` of those that pass, and the first `waiting` of the others, are heard.

    None where all are.
    """

    options: list[Option]
    ranked: int | None = None
    waiting: int | None = None


@dataclass(frozen=True, slots=True)
class _Bounded:
    """One place and pose with those that trim and gates leave: the most they can score, and whether they pass there.

    `doubtful` are as likely as not ruled out by a condition. `free` is what the seats hear of them before any room,
    once that is known.
    """

    placed: Placed
    most: FloatArray
    passes: BoolArray
    doubtful: BoolArray
    free: Free | None = None

    @property
    def candidates(self) -> IndexArray:
        """Whose these are."""
        return np.asarray(self.placed.index[self.placed.kept])

    def only(self, chosen: BoolArray) -> _Bounded:
        """Those of the candidates that are chosen."""
        return self.at(np.flatnonzero(chosen[self.candidates]))

    def reaching(self, floors: Sequence[float], passing: BoolArray) -> _Bounded:
        """Those that may reach the floor of those that pass, or of those that wait.

        Where some wait that pass elsewhere is of no use to them.
        """
        return self.at(np.flatnonzero(self.reaches(floors, passing)))

    def reaches(self, floors: Sequence[float], passing: BoolArray) -> BoolArray:
        """Which of them may."""
        useful = self.passes | ~passing[self.candidates]
        return np.asarray(useful & (self.most >= np.where(self.passes, *floors) - TOLD_EQUAL))

    def at(self, rows: IndexArray) -> _Bounded:
        """Those at some rows."""
        placed = replace(self.placed, kept=self.placed.kept[rows])
        return _Bounded(
            placed, self.most[rows], self.passes[rows], self.doubtful[rows], self.free and self.free.take(rows)
        )


Group = tuple[FloatArray, IndexArray]
"""What each candidate of a group scores at most where it may score most, -inf where it isn't in it, and where."""


def leading_options(scene: Scene, ranked: int, waiting: int, ear: HeardOnce | None = None) -> Leading:
    """Every place and pose beside the first of the mains, heard for those that may be among the first few.

    Those that wait for an answer are a ranking of their own, of which all are heard, too, that may score more than the
    first of those that pass: their answers may change the choice. What `ear` heard of the same scene, under whatever
    weights, is not heard again.
    """
    ear = HeardOnce() if ear is None else ear
    placed, wanted = ear.placings(scene), (ranked, waiting)
    if len(scene.boxes) <= WORTH_BOUNDING * ranked:
        return Leading(options_of(scene, ear.heard(scene, placed)))
    unlike = least_unlike(scene)
    bounded = [_bounded(scene, one, unlike) for one in placed]
    passing = _passing(bounded, len(scene.boxes))
    yielding = _yielding(bounded, len(scene.boxes))
    floors = _floors(scene, bounded, passing, wanted, ear, yielding)
    reaching = [one.reaching(floors, passing) for one in bounded]
    aside = lost_aside(scene, [one.placed for one in reaching])
    nearer = [
        one.at(np.flatnonzero(_known_aside(scene, one, lost).reaches(floors, passing)))
        for one, lost in zip(reaching, aside, strict=True)
    ]
    scored = _scored_some_at_a_time(scene, nearer, passing, floors, ear)
    floors = _floors_of(scored, wanted, yielding)
    chosen = _above(scored, floors)
    options = options_of(scene, ear.heard(scene, [one.only(chosen).placed for one in bounded]))
    return Leading(options, *(None if floor == -np.inf else count for floor, count in zip(floors, wanted, strict=True)))


def promising(scene: Scene, floor: float, only: Collection[str] | None = None) -> list[Option]:
    """Places, or `only` those named, and poses with those heard that may score a floor where they pass.

    Beside the first of the mains, and no place in which nobody may.
    """
    unlike = least_unlike(scene)
    bounded = [_bounded(scene, one, unlike) for one in placings(scene, only=only)]
    chosen = _above(_groups(bounded, _passing(bounded, len(scene.boxes))), (floor, np.inf))
    left = [one.only(chosen).placed for one in bounded]
    return options_of(scene, heard(scene, [one for one in left if len(one.kept)]))


def _bounded(scene: Scene, placed: Placed, unlike: FloatArray) -> _Bounded:
    kept = placed.kept
    trim = drive_gates.trim(scene.drive, trims(placed.levels.take(kept), scene.mains, scene.seats)).take(0)
    verdict = np.maximum(placed.verdict[kept], trim.verdict)
    alive = verdict < Verdict.FAIL
    doubtful = as_likely_out(chance_to_stand(placed.gates, kept) * chance_to_stand([trim]))
    left = replace(placed, kept=kept[alive])
    most = _most(scene, left, unlike)
    return _Bounded(left, most, verdict[alive] <= Verdict.CONDITIONAL, doubtful[alive])


def _most(scene: Scene, placed: Placed, unlike: FloatArray) -> FloatArray:
    """The most that those kept can score in a place: what isn't heard is perfect there, but for the least `unlike`."""
    kept, place, mains = placed.kept, placed.place, scene.mains
    boxes, stood, rows = placed.boxes.take(kept), placed.aim.take(kept), placed.index[kept]
    prices = comparable(mains, comparable_price(boxes, scene.purse), boxes.currency.astype(np.intp))
    bung = plugged(placed.boxes, placed.gates[PORT])[kept]
    known = [
        (HEADROOM, headroom(boxes, scene.drive, placed.levels.peaks.take(kept)).value),
        (AIM, aim_left(stood, mains.stands, scene.seats)[0]),
        (BALANCE, price_ratio(prices, mains.price, mains.surround, open_tax(boxes, scene.purse))[0]),
        (REACH, reach(boxes, scene.sealed[rows], bung).value),
        (TIMBRE, unlike[rows]),
    ]
    if not bounces(place):
        silent = np.zeros((len(rows), 0))
        around = surroundings(boxes, place, stood, scene.picture, mains.stands.spacing, silent, scene.places)
        known.append((SURROUNDINGS, around.value))
    return score_of(log_utility(known, scene.weights), _total(scene))


def _total(scene: Scene) -> float:
    return sum(scene.weights[one.name] for one in CRITERIA)


def least_unlike(scene: Scene) -> FloatArray:
    """The least that the timbre of each candidate can differ from the first of the mains' [dB].

    As if both responses were the same and its datasheet stated as much as the mains'. What was measured on both sides
    may leave nothing.
    """
    sound, kin = scene.mains.sound, scene.kin
    unknown = sound.room.unknown[0] ** 2
    if sound.measured[0] or sound.whole[0]:
        return np.full(len(scene.boxes), np.sqrt(unknown))
    seen = float(sound.stated[0])
    voicing = np.square(timbre.voicing_difference(WORDS, seen=seen)).take(scene.relation)
    return np.asarray(np.sqrt(voicing + untold_loading(sound.kin, kin)[0] / 2 + unknown))


def _scored_some_at_a_time(
    scene: Scene, bounded: Sequence[_Bounded], passing: BoolArray, floors: Sequence[float], ear: HeardOnce
) -> tuple[Group, Group]:
    """Those that may reach the floors by what they score, each where it scores most.

    The voices of a few are found at a time: what the seats lose is heard by them, and what is left of those few then.
    """
    scored = _groups([], passing)
    everyone = kept_somewhere([one.placed for one in bounded])
    for start in range(0, len(everyone), NARROWED_TOGETHER):
        chosen = np.zeros(len(passing), dtype=np.bool_)
        chosen[everyone[start : start + NARROWED_TOGETHER]] = True
        some = [one.only(chosen) for one in bounded]
        known = voiced(scene, [one.placed for one in some])
        narrowed = [one.reaching(floors, passing) for one in _narrowed(scene, some, ear, known)]
        scored = _better(scored, _groups(_scored(scene, narrowed, ear, known), passing))
    return scored


def _better(ours: tuple[Group, Group], theirs: tuple[Group, Group]) -> tuple[Group, Group]:
    """Each of two groups with the more that each candidate scores in one or the other, and where."""
    first, second = (
        (np.maximum(most, other), np.where(other > most, there, where))
        for (most, where), (other, there) in zip(ours, theirs, strict=True)
    )
    return first, second


def _narrowed(scene: Scene, bounded: Sequence[_Bounded], ear: HeardOnce, known: Voiced | None = None) -> list[_Bounded]:
    """The same with what the seats lose known; `DEAD` where speech is lost at one, which comes after all others."""
    told = ear.listened(scene, [one.placed for one in bounded], known)
    return [_with_coverage(scene, one, free) for one, free in zip(bounded, told, strict=True)]


def _known_aside(scene: Scene, bounded: _Bounded, aside: Aside) -> _Bounded:
    """The same with what is lost at one seat known, where it is."""
    lost = log_utility([(COVERAGE, np.nan_to_num(aside.lost, nan=COVERAGE.best))], scene.weights)
    return replace(bounded, most=_lowered(scene, bounded.most, lost, aside.dead))


def _with_coverage(scene: Scene, bounded: _Bounded, free: Free) -> _Bounded:
    lost = log_utility([(COVERAGE, free.coverage.value)], scene.weights)
    return replace(bounded, most=_lowered(scene, bounded.most, lost, free.dead), free=free)


def _lowered(scene: Scene, most: FloatArray, lost: FloatArray, dead: BoolArray) -> FloatArray:
    """The most that is left by what is lost; `DEAD` stays so."""
    return np.where(dead | (most == DEAD), DEAD, most * np.exp(lost / _total(scene)))


def _scored(scene: Scene, narrowed: Sequence[_Bounded], ear: HeardOnce, known: Voiced | None = None) -> list[_Bounded]:
    """The same with what they score in place of the most they can; `DEAD` as before."""
    some = [one for one in narrowed if len(one.most)]
    told = ear.heard(scene, [one.placed for one in some], known)
    return [
        replace(one, most=np.where(centres.dead, DEAD, _score(scene, centres)))
        for one, (_, centres) in zip(some, told, strict=True)
    ]


def _score(scene: Scene, centres: Centres) -> FloatArray:
    """What centres score beside the first of the mains."""
    logs = log_utility(likely_beside(scene.mains, centres, scene.seats), scene.weights, centres.logs)
    return np.asarray(score_of(logs, _total(scene))[0])


def _passing(bounded: Sequence[_Bounded], count: int) -> BoolArray:
    """Which candidates pass somewhere."""
    passing = np.zeros(count, dtype=np.bool_)
    for one in bounded:
        passing[one.candidates[one.passes]] = True
    return passing


def _yielding(bounded: Sequence[_Bounded], count: int) -> FloatArray:
    """What is taken off the score of each candidate, at most, where it yields to others as one may be ruled out."""
    found = np.zeros(count)
    for one in bounded:
        found[one.candidates[one.doubtful]] = YIELDS
    return found


def _groups(bounded: Sequence[_Bounded], passing: BoolArray) -> tuple[Group, Group]:
    """Those that pass somewhere, and those that only wait, each where it may score most."""
    most = np.full((2, max(1, len(bounded)), len(passing)), -np.inf)
    for row, one in enumerate(bounded):
        most[0, row, one.candidates] = np.where(one.passes, one.most, -np.inf)
        most[1, row, one.candidates] = np.where(one.passes, -np.inf, one.most)
    most[1, :, passing] = -np.inf
    passed, waiting = ((group.max(axis=0), group.argmax(axis=0)) for group in most)
    return passed, waiting


def _above(groups: Sequence[Group], floors: Sequence[float]) -> BoolArray:
    """Which candidates may reach the floor of their group."""
    found = [np.isfinite(most) & (most >= floor - TOLD_EQUAL) for (most, _), floor in zip(groups, floors, strict=True)]
    return np.asarray(np.logical_or(*found))


def _floors(
    scene: Scene,
    bounded: Sequence[_Bounded],
    passing: BoolArray,
    wanted: tuple[int, int],
    ear: HeardOnce,
    yielding: FloatArray,
) -> tuple[float, float]:
    """What the last that is wanted of each group scores at least; -inf where there are no more."""
    groups, size = _groups(bounded, passing), PROBED * max(wanted)
    while True:
        hopeful = [_hopeful(most, LISTENED * size) for most, _ in groups]
        probed = _at_best(bounded, groups, hopeful)
        narrowed = _narrowed(scene, probed, ear)
        likely = _groups(narrowed, passing)
        nearest = _at_best(narrowed, likely, [_hopeful(most, size) for most, _ in likely])
        scored = _groups(_scored(scene, nearest, ear), passing)
        if all(
            len(rows) < LISTENED * size or _last(most, count) > -np.inf
            for rows, (most, _), count in zip(hopeful, scored, wanted, strict=True)
        ):
            return _floors_of(scored, wanted, yielding)
        size *= PROBED


def _floors_of(scored: Sequence[Group], wanted: tuple[int, int], yielding: FloatArray) -> tuple[float, float]:
    """What the last that is wanted of each group scores, where it is no more than the first of those that pass.

    Whoever yields to others counts for less: what it yields to is wanted too.
    """
    least = [np.where(most > DEAD, np.maximum(most - yielding, 0.0), most) for most, _ in scored]
    passing, waiting = (_last(most, count) for most, count in zip(least, wanted, strict=True))
    return passing, min(waiting, _last(least[0], 1))


def _hopeful(most: FloatArray, size: int) -> IndexArray:
    """Those of a group that may score most."""
    order = np.argsort(-most, kind="stable")[:size]
    return np.asarray(order[np.isfinite(most[order])], dtype=np.intp)


def _at_best(bounded: Sequence[_Bounded], groups: Sequence[Group], wanted: Sequence[IndexArray]) -> list[_Bounded]:
    """Some of each group where they may score most, and no other place."""
    best = np.full(len(groups[0][0]), -1)
    for (_, where), rows in zip(groups, wanted, strict=True):
        best[rows] = where[rows]
    return [one.only(best == row) for row, one in enumerate(bounded) if (best == row).any()]


def _last(scores: FloatArray, wanted: int) -> float:
    """The last of the first `wanted` scores, of which none comes after all others; -inf where there are fewer."""
    found = np.sort(scores[scores > DEAD])
    return float(found[-wanted]) if len(found) >= wanted else -np.inf
