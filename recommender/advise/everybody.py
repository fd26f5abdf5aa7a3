"""Everybody heard, some at a time: however many there are, few voices are held at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from triptych.recommender.advise.evaluate import Centres, Placed, Scene, heard, kept_somewhere, placings
from triptych.recommender.judge.verdicts import merged

VOICED_TOGETHER: Final = 4_000
"""So many voices at most are held at once, of 30 kB each."""


def evaluate(scene: Scene, keep_failed: bool = False) -> list[tuple[Placed, Centres]]:
    """Every place and pose with its gates, and what isn't ruled out there (or everything) as it is heard."""
    return everybody_heard(scene, placings(scene, keep_failed))


def everybody_heard(scene: Scene, placed: Sequence[Placed]) -> list[tuple[Placed, Centres]]:
    """Places and poses with those that are `kept` there as they are heard, as `evaluate.heard` gives them."""
    everyone = kept_somewhere(placed)
    if len(everyone) <= VOICED_TOGETHER:
        return heard(scene, placed)
    made = []
    for start in range(0, len(everyone), VOICED_TOGETHER):
        chosen = np.zeros(len(scene.boxes), dtype=np.bool_)
        chosen[everyone[start : start + VOICED_TOGETHER]] = True
        made.append(heard(scene, [replace(one, kept=one.kept[chosen[one.index[one.kept]]]) for one in placed]))
    found = []
    for one, parts in zip(placed, zip(*made, strict=True), strict=True):
        gate = merged([part.gates[-1] for part, _ in parts], [part.kept for part, _ in parts])
        judged = replace(one, gates=(*one.gates, gate), verdict=np.maximum(one.verdict, gate.verdict))
        found.append((judged, Centres.joined([centres for _, centres in parts])))
    return found
