"""What if: a few candidates in a place made for them, or without the cap on their price; judged by what judges all."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from triptych.recommender.advise.beside import Option, ranking
from triptych.recommender.advise.counsel import Elsewhere, conditions
from triptych.recommender.advise.leading import promising
from triptych.recommender.advise.placed import Scene
from triptych.recommender.judge.gates.fit import PORT_AT_MOST, PORT_DISTANCE
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.scene.aiming import (
    FEET_AT_MOST,
    SIDE_CLEARANCE,
    TOP_CLEARANCE,
    rear_allowance,
    stood_height,
)
from triptych.recommender.scene.arrays import FloatArray, IndexArray, PlaceFigures, Port

STAND_BEHIND: Final = 0.2
"""Free depth behind a box on a clear stand [m]. Common practice, no source."""

FREE_STAND: Final = PlaceFigures(
    name="clear stand", kind="stand", width=np.nan, height=np.nan, depth=np.nan, base=np.nan, front=np.nan, back="open",
    load=np.nan, hot="no", wall="", gap=np.nan, setback=0.0,
)  # fmt: skip

CENTIMETRE: Final = 0.01
"""Sizes of a place are advised in whole centimetres [m]."""


@dataclass(frozen=True, slots=True)
class _OnStand:
    """One candidate on a clear stand of its own: `here` is its row in the option, `base` that of the plate [m]."""

    which: int
    score: float
    option: Option
    here: int
    base: float
    front: float


def elsewhere(scene: Scene, candidates: IndexArray, floor: float) -> Elsewhere | None:
    """The best of some candidates in a place that is as large as it needs, if it scores more than a floor there.

    Each is tried on a clear stand under the picture, which says how it would be tilted. The place that is advised has
    room for that, and for its port; it is judged again as it is told, so that whoever builds it finds that it fits.
    """
    tried = sorted(_on_clear_stands(scene, candidates, floor), key=lambda one: -one.score)
    for one in tried:
        for place in _places_for(one):
            found = _judged(scene, candidates[[one.which]], place, floor)
            if found is not None:
                return Elsewhere(int(candidates[one.which]), found[0], place, found[1])
    return None


def _on_clear_stands(scene: Scene, candidates: IndexArray, floor: float) -> Iterator[_OnStand]:
    """Those candidates that may score more than a floor, each on a clear stand under the picture."""
    boxes = scene.boxes.take(candidates)
    # a box that tilts by up to 15 deg takes about a quarter of its depth more in height
    heights = stood_height(boxes) + 0.26 * boxes.depth
    limit = scene.picture.bottom if np.isfinite(scene.picture.bottom) else np.inf
    ear = float(scene.seats.ear_height[scene.seats.primary])
    bases = np.maximum(0.0, np.fmin(limit - heights, ear - boxes.height / 2))
    bases = np.floor(bases / CENTIMETRE) * CENTIMETRE
    fronts = [place.front for place in scene.places if np.isfinite(place.front)]
    # those whose stands have their front edges alike are judged at once
    alike: dict[float, list[int]] = {}
    for row, depth in enumerate(boxes.depth.tolist()):
        alike.setdefault(_up(max([*fronts, depth + STAND_BEHIND])), []).append(row)
    for front, rows in alike.items():
        stands = replace(cut(scene, candidates[rows], [replace(FREE_STAND, front=front)]), bases=bases[rows])
        found = promising(stands, floor)
        for place, row in enumerate(rows):
            best = _best_of(found, place, len(rows))
            if best is not None and (score := float(best.scored(len(rows))[place])) > floor:
                here = int(np.searchsorted(best.index, place))
                yield _OnStand(row, score, best, here, float(bases[row]), front)


def _places_for(one: _OnStand) -> Iterator[PlaceFigures]:
    """Places as large as a box needs as it is tilted on its stand: a shelf, then one with nothing beside it."""
    boxes, aim = one.option.boxes.take(np.array([one.here])), one.option.aim.take(np.array([one.here]))
    across = 2 * np.nan_to_num(boxes.port_diameter[0], nan=PORT_AT_MOST)
    air, face = max(PORT_DISTANCE, float(across)), int(boxes.port[0])
    side, above, behind = SIDE_CLEARANCE, TOP_CLEARANCE, float(rear_allowance(boxes)[0])
    behind = max(behind, air) if face in (Port.REAR, Port.UNKNOWN) else behind
    side = max(side, air) if face == Port.SIDE else side
    above = max(above, air) if face == Port.TOP else above
    feet = FEET_AT_MOST if np.isnan(boxes.feet[0]) else 0.0
    sizes = (boxes.width[0] + 2 * side, aim.envelope_height[0] + above + feet, aim.envelope_depth[0] + behind)
    if not np.isfinite(sizes).all():
        return
    width, height, depth = (_up(float(size)) for size in sizes)
    front = max(one.front, depth)
    clear = replace(FREE_STAND, base=one.base, front=front, height=height)
    yield replace(clear, name="clear shelf", kind="open_shelf", back="closed", width=width, depth=depth)
    yield clear


def _up(size: float) -> float:
    """A size up to the next whole centimetre [m]."""
    return float(np.ceil(size / CENTIMETRE - 1e-6)) * CENTIMETRE


def _judged(scene: Scene, candidate: IndexArray, place: PlaceFigures, floor: float) -> tuple[float, str] | None:
    """The score of a candidate in a place, and its conditions; None where it fails, waits or scores no more."""
    best = _best_of(promising(cut(scene, candidate, [place]), floor), 0, 1)
    score = -np.inf if best is None else float(best.scored(1)[0])
    return None if best is None or score <= floor else (score, conditions(best, 0))


def without_cap(
    scene: Scene, there: Collection[str], candidates: IndexArray, floor: float
) -> tuple[FloatArray, list[str]]:
    """Scores of candidates in some places if money were no object, with conditions.

    NaN where another gate fails or waits, and where one can't score more than a floor.
    """
    uncapped = replace(cut(scene, candidates, scene.places), purse=replace(scene.purse, cap=np.nan))
    here = promising(uncapped, floor, there)
    scores, words = np.full(len(candidates), np.nan), [""] * len(candidates)
    if not here:
        return scores, words
    result = ranking(here, uncapped)
    scores[result.ranked] = result.best_score[result.ranked]
    for one in result.ranked.tolist():
        words[one] = conditions(here[result.best[one]], one)
    return scores, words


def _best_of(found: Sequence[Option], place: int, count: int) -> Option | None:
    """Where the candidate at `place` of `count` scores best of what it passes in; None where it passes nowhere."""
    passing = [
        one
        for one in found
        if one.judged(count)[place] <= Verdict.CONDITIONAL and not np.isnan(one.scored(count)[place])
    ]
    return max(passing, key=lambda option: float(option.scored(count)[place]), default=None)


def cut(scene: Scene, candidates: IndexArray, places: Sequence[PlaceFigures]) -> Scene:
    """The scene with some of its candidates and other places."""
    return replace(
        scene,
        boxes=scene.boxes.take(candidates),
        kin=scene.kin.take(candidates),
        voices_of=lambda rows: scene.voices_of(candidates[rows]),
        drivers_of=lambda rows: scene.drivers_of(candidates[rows]),
        sealed=scene.sealed[candidates],
        places=tuple(places),
    )
