"""Advice beyond the ranking: a phantom centre, another place, a third main, more money, or none of these."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

import numpy as np

from recommender.advise.advice import Counsel
from recommender.advise.evaluate import Option, Outcome, Scene
from recommender.criteria.sound import Relation
from recommender.physics.geometry import azimuth
from recommender.scene import BoolArray, FloatArray, IndexArray
from recommender.verdicts import Verdict

PLACE_GATES: Final = frozenset({"envelope", "tilt", "port", "sight", "load", "height"})
"""Gates that another place could answer otherwise."""

WORTH_IT: Final = 5.0
"""A gain in score that is worth another place or more money [points]. Common practice, no source."""

WEAK: Final = 40.0
"""Below this the best centre is hardly one [points]. Common practice, no source."""

ON_AXIS: Final = 10.0
"""A seat this near the middle hears a phantom in the middle [deg]. Common practice, no source."""

TRIED: Final = 4
"""How many of those that another place could let in are tried on a clear stand."""

Elsewhere = Callable[[IndexArray], tuple[FloatArray, FloatArray, FloatArray, FloatArray]]
"""Candidates -> their scores on a clear stand, and the widths, heights and depths they take."""


def counsel(
    scene: Scene,
    found: list[Option],
    result: Outcome,
    names: Callable[[int], str],
    needs_real_centre: bool,
    elsewhere: Elsewhere,
) -> tuple[Counsel, ...]:
    """All advice that applies, most useful first."""
    told = [
        *_third_main(scene, found, result, names),
        *_change_place(scene, found, result, names, elsewhere),
        *_raise_budget(scene, found, result, names),
        *_phantom(scene, result, needs_real_centre),
    ]
    if not len(result.ranked):
        told.extend(_none(result, told))
    return tuple(told)


def _best(result: Outcome) -> float:
    return float(result.best_score[result.ranked[0]]) if len(result.ranked) else 0.0


def _third_main(scene: Scene, found: list[Option], result: Outcome, names: Callable[[int], str]) -> Iterator[Counsel]:
    identical = np.flatnonzero(scene.relation == Relation.IDENTICAL)
    if not len(identical):
        return
    main = int(identical[0])
    if len(result.ranked) and result.ranked[0] == main:
        yield Counsel(
            "third_main",
            f"A third {names(main)} is the best centre here: three alike is what every other centre imitates.",
        )
    elif main in result.ranked[:3]:
        yield Counsel("third_main", f"A third {names(main)} also fits, and sounds most like the mains.")
    elif scene.picture.transparent and main in result.excluded:
        reasons = dict.fromkeys(reason for option in found for reason in _failing(option, main))
        why = "; ".join(reasons) or "no place takes it"
        yield Counsel(
            "third_main", f"The screen lets sound through, so a third {names(main)} would be best, but: {why}."
        )


def _failing(option: Option, candidate: int) -> Iterator[str]:
    here = int(np.searchsorted(option.index, candidate))
    if here < len(option.index) and option.index[here] == candidate and option.site.kind == "behind_screen":
        for judgement in option.judgements:
            if judgement.cases[judgement.case[here]].verdict == Verdict.FAIL:
                yield judgement.why(here)


def _fails_only(found: list[Option], count: int, gates: frozenset[str]) -> BoolArray:
    """For every candidate whether in some option it fails, and fails no gate but some of `gates`."""
    any_option = np.zeros(count, dtype=np.bool_)
    for option in found:
        other = [j.verdict == Verdict.FAIL for j in option.judgements if j.gate not in gates]
        only = (option.verdict == Verdict.FAIL) & ~np.any(np.vstack(other), axis=0)
        any_option[option.index] |= only
    return any_option


def _change_place(
    scene: Scene, found: list[Option], result: Outcome, names: Callable[[int], str], elsewhere: Elsewhere
) -> Iterator[Counsel]:
    count = len(scene.boxes)
    open_to_it = _fails_only(found, count, PLACE_GATES)
    open_to_it[result.ranked] = False
    hopeful = np.flatnonzero(open_to_it)
    nearest = hopeful[np.lexsort((hopeful, scene.relation[hopeful]))][:TRIED]
    if not len(nearest):
        return
    scores, widths, heights, depths = elsewhere(nearest)
    best = int(np.nanargmax(np.where(np.isnan(scores), -1.0, scores)))
    if scores[best] > _best(result) + WORTH_IT:
        here = f"against {_best(result):.0f} for the best here" if len(result.ranked) else "and nothing passes here"
        yield Counsel(
            "change_place",
            f"{names(int(nearest[best]))} would score about {scores[best]:.0f}, {here}, on a clear stand or shelf "
            f"under the picture "
            f"at least {widths[best] * 1e3:.0f} mm wide, {heights[best] * 1e3:.0f} mm high and "
            f"{depths[best] * 1e3:.0f} mm deep.",
        )


def _raise_budget(scene: Scene, found: list[Option], result: Outcome, names: Callable[[int], str]) -> Iterator[Counsel]:
    only_money = _fails_only(found, len(scene.boxes), frozenset({"money"}))
    only_money[result.ranked] = False
    hopeful = np.flatnonzero(only_money)
    if not len(hopeful):
        return
    kin = scene.relation[hopeful]
    pick = hopeful[np.lexsort((scene.boxes.price[hopeful], kin))][0]
    if scene.relation[pick] <= Relation.FAMILY or not len(result.ranked):
        over = scene.boxes.price[pick] - scene.purse.cap
        yield Counsel("raise_budget", f"With {over:.2f} more, {names(int(pick))} would pass every gate but the money.")


def _phantom(scene: Scene, result: Outcome, needs_real_centre: bool) -> Iterator[Counsel]:
    seats = scene.seats
    angles = np.abs(azimuth(seats.x, seats.distance))[seats.regular]
    few_on_axis = len(angles) <= 2 and bool(np.all(angles <= ON_AXIS))
    if _best(result) >= WEAK or needs_real_centre or not few_on_axis:
        return
    yield Counsel(
        "phantom",
        "No centre at all: with one or two seats near the middle the mains make a phantom centre that matches "
        "them by nature. "
        "Speech is a little less clear than from a real one.",
    )


def _none(result: Outcome, told: list[Counsel]) -> Iterator[Counsel]:
    if len(result.pending):
        yield Counsel("none", "None passes yet: answer the questions below, the best of them first.")
    elif not told:
        yield Counsel(
            "none",
            "None of these: no loudspeaker in the catalogue passes here. Change the place, or widen the catalogue.",
        )
    else:
        yield Counsel("none", "None of these passes in this room as it is.")
