"""Advice beyond the ranking: a phantom centre, another place, a third main, more money, or none of these."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Self

import numpy as np

from triptych.recommender.advise.advice import SPOILS_ALL, Counsel
from triptych.recommender.advise.beside import Option, Ranking
from triptych.recommender.advise.placed import Scene
from triptych.recommender.judge.criteria.sound import Relation
from triptych.recommender.judge.criterion import LEAST_UTILITY, utility
from triptych.recommender.judge.gates.speech import dead_seat
from triptych.recommender.judge.gates.terms import comparable_price
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.physics.geometry import azimuth
from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray, PlaceFigures, Sold

PLACE_GATES: Final = frozenset({"envelope", "tilt", "port", "sight", "load", "height"})
"""Gates that another place could answer otherwise."""

ABOUT_BOX: Final = re.compile(r"\b(its|box|one (cost|weigh|sold|still)|port or radiator)\b")
"""What marks a question about one candidate; the others are about the room or a place, and asked once for all."""

ONLY_SUPPLY: Final = frozenset({"supply"})

ONLY_MONEY: Final = frozenset({"money"})

WORTH_IT: Final = 5.0
"""A gain in score that is worth another place or more money [points]. Common practice, no source."""

WEAK: Final = 0.25
"""A centre with a utility below this on the axis is no better there than a phantom [1]. Assumed."""

ON_THE_AXIS: Final = frozenset({"aim", "coverage", "reach"})
"""The criteria that decide between a real centre and a phantom for a listener on the axis."""

FAR_BELOW: Final = 0.5
"""A centre at so much of its share of the money is told to leave much of it. Common practice, no source."""

EQUAL: Final = 0.05
"""Scores less than that apart are told as equal [points]."""

NEAR_THE_MIDDLE: Final = 10.0
"""A seat this near the middle hears a phantom in the middle [deg]. Common practice, no source."""

TRIED: Final = 4
"""How many of those that another place could let in are tried on a clear stand."""


@dataclass(frozen=True, slots=True)
class Failing:
    """Which gates every candidate fails in each option, gates x candidates of the option, and how many there are."""

    found: Sequence[Option]
    gates: Sequence[BoolArray]
    count: int

    @classmethod
    def of(cls, found: Sequence[Option], count: int) -> Self:
        """Those of some options and `count` candidates."""
        return cls(found, [np.stack([gate.verdict == Verdict.FAIL for gate in one.gates]) for one in found], count)

    def only(self, gates: frozenset[str]) -> list[BoolArray]:
        """For every option whether each of its candidates fails there, and fails no gate but some of `gates`."""
        told = []
        for option, failing in zip(self.found, self.gates, strict=True):
            other = np.array([one.gate not in gates for one in option.gates])
            told.append((option.verdict == Verdict.FAIL) & ~failing[other].any(axis=0))
        return told

    def anywhere(self, gates: frozenset[str]) -> BoolArray:
        """For every candidate whether that is so in some option."""
        any_option = np.zeros(self.count, dtype=np.bool_)
        for option, only in zip(self.found, self.only(gates), strict=True):
            any_option[option.index] |= only
        return any_option

    def places(self, candidates: IndexArray, gates: frozenset[str]) -> set[str]:
        """The places in which that is so of any of some candidates."""
        chosen = np.zeros(self.count, dtype=np.bool_)
        chosen[candidates] = True
        told = zip(self.found, self.only(gates), strict=True)
        return {option.place.name for option, only in told if (only & chosen[option.index]).any()}


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """A candidate in a place made for it: its score there, and its conditions in words."""

    candidate: int
    score: float
    place: PlaceFigures
    conditions: str


@dataclass(frozen=True, slots=True)
class Tries:
    """What counsel may ask about some candidates: their names, and how they would do elsewhere or without the cap.

    `elsewhere` gives the best in a place made for it, `without_cap` scores here with the conditions of each, in words.
    Both are told which score is of use: who can't reach it isn't heard.
    `failing` says which gates they fail.
    """

    name: Callable[[int], str]
    elsewhere: Callable[[IndexArray, float], Elsewhere | None]
    without_cap: Callable[[IndexArray, float], tuple[FloatArray, list[str]]]
    failing: Failing


def counsel(
    scene: Scene, found: list[Option], result: Ranking, needs_real_centre: bool, tries: Tries, *, alone: bool
) -> tuple[Counsel, ...]:
    """All advice that applies, most useful first; of one that is asked about alone, what would help it."""
    if alone:
        helps = [*_change_place(scene, found, result, tries), *_raise_budget(scene, found, result, tries)]
        kept = [*_third_main(scene, found, result, tries), *helps]
        return (*kept, *(() if len(result.ranked) else _not_here(result, kept)))
    told = [
        *_third_main(scene, found, result, tries),
        *_change_place(scene, found, result, tries),
        *_raise_budget(scene, found, result, tries),
        *_within_share(scene, found, result, tries),
        *_phantom(scene, found, result, needs_real_centre),
    ]
    nothing = () if len(result.ranked) else _none(scene, found, result, told)
    return (*_nobody(found, result, tries), *nothing, *told)


def _nobody(found: list[Option], result: Ranking, tries: Tries) -> Iterator[Counsel]:
    """That even the first isn't to be bought for this room, and why."""
    if not len(result.ranked):
        return
    first = int(result.ranked[0])
    if why := hopeless(found[result.best[first]], first):
        yield Counsel(
            "none", f"None of these is to be bought for this room: {tries.name(first)} comes first, but {why}."
        )


def hopeless(option: Option, candidate: int) -> str:
    """What is so bad about a candidate in an option that nobody should buy it; empty where nothing is."""
    here = int(np.searchsorted(option.index, candidate))
    kept = int(np.searchsorted(option.kept, here))
    seats = option.gates[-1]
    if dead_seat(seats)[here] and np.isfinite(seats.margin[here]):
        return seats.why(here)
    worst = [
        one
        for one in option.criteria
        if one.criterion.name in SPOILS_ALL and utility(one.criterion, one.value[[kept]])[0] <= LEAST_UTILITY
    ]
    return "; ".join(f"{one.criterion.name}: {one.told(kept)}" for one in worst)


def _best(result: Ranking) -> float:
    return float(result.best_score[result.ranked[0]]) if len(result.ranked) else 0.0


def _third_main(scene: Scene, found: list[Option], result: Ranking, tries: Tries) -> Iterator[Counsel]:
    identical = np.flatnonzero(scene.relation == Relation.IDENTICAL)
    if not len(identical):
        return
    main = int(identical[0])
    if len(result.ranked) and result.ranked[0] == main:
        yield Counsel(
            "third_main",
            f"A third {tries.name(main)} is the best centre here: three alike is what every other centre imitates."
            + _on_condition(found, result, main),
        )
    elif main in result.ranked[:3] and not hopeless(found[result.best[main]], main):
        words = f"A third {tries.name(main)} also fits, and sounds most like the mains."
        yield Counsel("third_main", words + _on_condition(found, result, main))
    elif scene.boxes.sold[main] == Sold.PAIR and (free := _free_words(found, main)):
        yield Counsel(
            "third_main",
            f"A third {tries.name(main)} {free}, and sounds most like the mains, but it is sold in "
            "pairs only: ask for a single one, or buy a second pair and keep one as a spare.",
        )
    elif scene.picture.transparent and main in result.excluded:
        reasons = dict.fromkeys(reason for option in found for reason in _failing(option, main))
        why = "; ".join(reasons) or "no place takes it"
        yield Counsel(
            "third_main", f"The screen lets sound through, so a third {tries.name(main)} would be best, but: {why}."
        )


def _free_words(found: list[Option], main: int) -> str:
    """That a third main would stand free as its maker made it to stand, or that it may; empty where it can't.

    On its side it isn't the centre that sounds most like the mains, so nobody is sent to buy a second pair for that.
    """
    others = [
        max(gate.verdict_of(here) for gate in option.gates if gate.gate not in ONLY_SUPPLY)
        for option in found
        if not option.on_side
        for here in np.flatnonzero(option.index == main).tolist()
    ]
    least = min(others, default=Verdict.FAIL)
    if least <= Verdict.CONDITIONAL:
        return "would stand free here"
    return "may stand free here, as far as that is known" if least == Verdict.UNKNOWN else ""


def _on_condition(found: list[Option], result: Ranking, candidate: int) -> str:
    """The conditions on which a candidate stands where it does best; empty where there are none."""
    return conditions(found[result.best[candidate]], candidate)


def conditions(option: Option, candidate: int) -> str:
    """The conditions on which a candidate stands in an option, as a sentence; empty where there are none."""
    here = int(np.searchsorted(option.index, candidate))
    gates = [gate for gate in option.gates if gate.verdict_of(here) == Verdict.CONDITIONAL]
    return f" On condition: {'; '.join(f'{gate.gate}: {gate.why(here)}' for gate in gates)}." if gates else ""


def _failing(option: Option, candidate: int) -> Iterator[str]:
    here = int(np.searchsorted(option.index, candidate))
    if here < len(option.index) and option.index[here] == candidate and option.place.kind == "behind_screen":
        for gate in option.gates:
            if gate.verdict_of(here) == Verdict.FAIL:
                yield gate.why(here)


def _change_place(scene: Scene, found: list[Option], result: Ranking, tries: Tries) -> Iterator[Counsel]:
    open_to_it = tries.failing.anywhere(PLACE_GATES)
    # kin that passes here in a poor place may do far better in a clear one
    open_to_it[result.ranked] = scene.relation[result.ranked] <= Relation.FAMILY
    nearest = _nearest_kin(scene, np.flatnonzero(open_to_it))
    if not len(nearest):
        return
    found_there = tries.elsewhere(nearest, _best(result) + WORTH_IT)
    if found_there is not None:
        here = f", against {_best(result):.0f} of the first where it may stand now," if len(result.ranked) else ""
        yield Counsel(
            "change_place",
            f"{tries.name(found_there.candidate)} would score about {found_there.score:.0f}{here} "
            f"{_place_words(found_there.place)}.{found_there.conditions}",
        )


def _place_words(place: PlaceFigures) -> str:
    """A place that somebody may build or buy, with its sizes."""
    height, base, front = (f"{size * 1e3:.0f} mm" for size in (place.height, place.base, place.front))
    stands = "on the floor" if place.base == 0 else f"with its surface {base} above the floor"
    if place.kind == "stand":
        clear = f"on a clear stand with nothing beside it, {height} free above it"
        return f"{clear}, {stands}, its front edge {front} from the wall"
    width, depth = (f"{size * 1e3:.0f} mm" for size in (place.width, place.depth))
    return (
        f"on a clear stand or open shelf at least {width} wide, {height} high and {depth} deep, {stands}, its front "
        f"edge {front} from the wall"
    )


def _raise_budget(scene: Scene, found: list[Option], result: Ranking, tries: Tries) -> Iterator[Counsel]:
    only_money = tries.failing.anywhere(ONLY_MONEY)
    only_money[result.ranked] = False
    hopeful = _nearest_kin(scene, np.flatnonzero(only_money))
    if not len(hopeful):
        return
    scores, words = tries.without_cap(hopeful, _best(result) + WORTH_IT)
    best = int(np.argmax(np.where(np.isnan(scores), -1.0, scores)))
    if np.isfinite(scores[best]) and scores[best] > _best(result) + WORTH_IT:
        price = comparable_price(scene.boxes.take(hopeful[[best]]), scene.purse)[0]
        here = f"against {_best(result):.0f}" if len(result.ranked) else "where nothing passes now"
        yield Counsel(
            "raise_budget",
            f"With {price - scene.purse.cap:.2f} more, {tries.name(int(hopeful[best]))} would pass and score about "
            f"{scores[best]:.0f}, {here}.{words[best]}",
        )


def _within_share(scene: Scene, found: list[Option], result: Ranking, tries: Tries) -> Iterator[Counsel]:
    """What more the centre's share of the money would buy, where the best takes little of it."""
    prices, main, surround = comparable_price(scene.boxes, scene.purse), scene.mains.price[0], scene.mains.surround[0]
    share = np.nan if np.isnan(main) else float(np.fmax(main, surround))
    if not len(result.ranked) or not prices[result.ranked[0]] <= FAR_BELOW * share:
        return
    leader = int(result.ranked[0])
    currency = scene.mains.currency[0]
    if scene.boxes.currency[leader] != currency:
        return
    dearer = tries.failing.anywhere(ONLY_MONEY) & (prices > prices[leader]) & (prices <= share)
    dearer &= scene.boxes.currency == currency
    hopeful = np.flatnonzero(dearer)
    found_scores, words = tries.without_cap(hopeful, _best(result) + EQUAL) if len(hopeful) else (np.zeros(0), [])
    scores = np.nan_to_num(found_scores, nan=-1.0)
    better = hopeful[scores > _best(result) + EQUAL]
    names = on_condition = ""
    if len(better):
        best = int(np.argmax(scores))
        first, on_condition = int(hopeful[best]), words[best]
        names = f"{tries.name(first)} at {prices[first]:.2f} scores {scores.max():.0f}, against {_best(result):.0f}"
    yield Counsel(
        "within_share",
        f"Within its share, the price of one {'surround' if share > main else 'main'}, you could spend up to "
        f"{share:.2f} on the centre; "
        + (f"{names}.{on_condition}" if names else _waiting_dearer(result, prices, dearest=share, name=tries.name)),
    )


def _waiting_dearer(result: Ranking, prices: FloatArray, dearest: float, name: Callable[[int], str]) -> str:
    """That nothing dearer scores more, with the best of those that would if they passed."""
    dearer = (prices[result.pending] > prices[result.ranked[0]]) & (prices[result.pending] <= dearest)
    hopeful = result.pending[dearer & (result.best_score[result.pending] > _best(result) + EQUAL)]
    if not len(hopeful):
        return "nothing dearer scores more."
    first = int(hopeful[np.argmax(result.best_score[hopeful])])
    return (
        f"nothing dearer that passes scores more; {name(first)} at {prices[first]:.2f} would score "
        f"{result.best_score[first]:.0f} if it passes, against {_best(result):.0f}."
    )


def _nearest_kin(scene: Scene, candidates: IndexArray) -> IndexArray:
    """The candidates most akin to the mains, as many as are tried."""
    return candidates[np.lexsort((candidates, scene.relation[candidates]))][:TRIED]


def _weakest(found: list[Option], result: Ranking) -> float:
    """The lowest utility of the best centre on the axis: of aim, coverage, crossover; 0 without a centre."""
    if not len(result.ranked):
        return 0.0
    best = int(result.ranked[0])
    option = found[result.best[best]]
    kept = np.searchsorted(option.index[option.kept], best)
    judged = [one for one in option.criteria if one.criterion.name in ON_THE_AXIS]
    return min(float(utility(one.criterion, one.value[[kept]])[0]) for one in judged)


def _phantom(scene: Scene, found: list[Option], result: Ranking, needs_real_centre: bool) -> Iterator[Counsel]:
    seats = scene.seats
    angles = np.abs(azimuth(seats.x, seats.distance))[seats.regular]
    few_on_axis = len(angles) <= 2 and bool(np.all(angles <= NEAR_THE_MIDDLE))
    if needs_real_centre or not few_on_axis or _weakest(found, result) >= WEAK:
        return
    yield Counsel(
        "phantom",
        "No centre at all: with one or two seats near the middle the mains make a phantom centre that matches them by "
        "nature. Speech is a little less clear than from a real one.",
    )


def _most_admitting(found: list[Option], result: Ranking) -> tuple[str, int]:
    """The question of place or room that most of the pending wait for alone, and how many they are."""
    alone: Counter[str] = Counter()
    for candidate in result.pending.tolist():
        asked = set[str]()
        for option in found:
            here = int(np.searchsorted(option.index, candidate))
            if here < len(option.index) and option.index[here] == candidate:
                waiting = {gate.question(here) for gate in option.gates if gate.verdict_of(here) == Verdict.UNKNOWN}
                if option.verdict[here] == Verdict.UNKNOWN and len(waiting) == 1:
                    asked |= waiting
        alone.update(question for question in asked if not ABOUT_BOX.search(question))
    return alone.most_common(1)[0] if alone else ("", 0)


def _none(scene: Scene, found: list[Option], result: Ranking, told: list[Counsel]) -> Iterator[Counsel]:
    if len(result.pending):
        question, count = _most_admitting(found, result)
        which = f"answer this one first: {question} It is all that {count} of {len(result.pending)} wait for."
        rest = which if count > 1 else "answer what is asked of them, the best of them first."
        yield Counsel("none", f"None passes yet: {rest}")
    elif scene.in_stock:
        yield Counsel("none", "None of what is in stock passes here: ask without --in-stock for what could be ordered.")
    elif not told:
        yield Counsel(
            "none",
            "None of these: no loudspeaker in the catalogue passes here. Change the place, or widen the catalogue.",
        )
    else:
        yield Counsel("none", "None of these passes in this room as it is.")


def _not_here(result: Ranking, helps: list[Counsel]) -> Iterator[Counsel]:
    """That what is asked about alone passes nowhere here, or not yet."""
    if len(result.pending):
        yield Counsel("none", "It doesn't pass yet: what is asked of it decides.")
    elif helps:
        yield Counsel("none", "It passes nowhere in this room as it is.")
    else:
        yield Counsel("none", "It passes nowhere in this room: change the place, or choose another centre.")
