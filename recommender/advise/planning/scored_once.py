"""Scores of mains beside centres, each pair scored once however often a plan's searches ask for it."""

from __future__ import annotations

from typing import Final

import numpy as np

from triptych.recommender.advise.beside import AllPairs
from triptych.recommender.scene.arrays import FloatArray, IndexArray

HELD_AT_MOST: Final = 10_000_000
"""So many scores are kept, 80 MB; what comes after is scored whenever it is asked for."""


class ScoredOnce:
    """The scores of all pairs, kept as they are asked for: a plan searches at several limits, among the same few."""

    def __init__(self, pairs: AllPairs) -> None:
        self._pairs = pairs
        self._place = np.full(len(pairs.mains), -1)
        self._kept = np.full((0, len(pairs.models)), np.nan)
        self._held = 0

    def scores(self, rows: IndexArray, some: IndexArray) -> FloatArray:
        """Scores from 0 to 100 of some mains, none twice, beside some centres; -inf where there is none.

        What is asked of one centre is kept only for mains of which something is kept.
        """
        if (len(some) == 1 and (self._place[rows] < 0).any()) or not self._room_for(rows):
            return self._pairs.scores(rows, some)
        here = np.ix_(self._place[rows], some)
        unknown = np.isnan(self._kept[here])
        if unknown.any():
            mains, centres = rows[unknown.any(axis=1)], some[unknown.any(axis=0)]
            self._kept[np.ix_(self._place[mains], centres)] = self._pairs.scores(mains, centres)
        return np.asarray(self._kept[here])

    def _room_for(self, rows: IndexArray) -> bool:
        new, models = rows[self._place[rows] < 0], len(self._pairs.models)
        if (self._held + len(new)) * models > HELD_AT_MOST:
            return False
        if self._held + len(new) > len(self._kept):
            more = np.full((max(len(new), len(self._kept)), models), np.nan)
            self._kept = np.concatenate([self._kept, more])
        self._place[new] = self._held + np.arange(len(new))
        self._held += len(new)
        return True
