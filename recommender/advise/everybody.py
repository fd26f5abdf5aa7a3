"""Everybody heard, some at a time: however many there are, few voices are held at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import inf
from time import monotonic
from typing import Final

import numpy as np

from triptych.recommender.advise.evaluate import heard, kept_somewhere, placings
from triptych.recommender.advise.placed import Centres, Placed, Scene
from triptych.recommender.judge.verdicts import merged
from triptych.recommender.scene.arrays import IndexArray

VOICED_TOGETHER: Final = 4_000
"""So many voices at most are held at once, of 30 kB each."""

FIRST_HEARD: Final = 300
"""So many are heard even where there is no time, before the time is looked at."""


def evaluate(scene: Scene, keep_failed: bool = False) -> list[tuple[Placed, Centres]]:
    """Every place and pose with its gates, and what isn't ruled out there (or everything) as it is heard."""
    return everybody_heard(scene, placings(scene, keep_failed))


def in_parts(rows: IndexArray, until: float = inf) -> Iterator[IndexArray]:
    """Rows in parts to be heard one after the other, each in rising order; as many of them as the time is enough for.

    Where time is short they are some of all that there are.
    """
    if until == inf or len(rows) <= FIRST_HEARD:
        yield from (rows[start : start + VOICED_TOGETHER] for start in range(0, len(rows), VOICED_TOGETHER))
        return
    order, done, size = np.random.default_rng(0).permutation(rows), 0, FIRST_HEARD
    while done < len(order):
        began = monotonic()
        yield np.sort(order[done : done + size])
        now = monotonic()
        done, left = done + size, (until - now) * size / max(now - began, 1e-6)
        if left < FIRST_HEARD / 2:
            return
        size = min(VOICED_TOGETHER, 4 * size, int(left))


def everybody_heard(scene: Scene, placed: Sequence[Placed], until: float = inf) -> list[tuple[Placed, Centres]]:
    """Places and poses with those that are `kept` there as they are heard, as `evaluate.heard` gives them.

    Who could not be heard by then is kept no more.
    """
    everyone = kept_somewhere(placed)
    if len(everyone) <= (VOICED_TOGETHER if until == inf else FIRST_HEARD):
        return heard(scene, placed)
    made = []
    for part in in_parts(everyone, until):
        chosen = np.zeros(len(scene.boxes), dtype=np.bool_)
        chosen[part] = True
        made.append(heard(scene, [replace(one, kept=one.kept[chosen[one.index[one.kept]]]) for one in placed]))
    found = []
    for one, parts in zip(placed, zip(*made, strict=True), strict=True):
        gate = merged([part.gates[-1] for part, _ in parts], [part.kept for part, _ in parts])
        kept = np.concatenate([part.kept for part, _ in parts])
        order = np.argsort(kept)
        judged = replace(one, gates=(*one.gates, gate), verdict=np.maximum(one.verdict, gate.verdict), kept=kept[order])
        found.append((judged, Centres.joined([centres for _, centres in parts]).take(order)))
    return found
