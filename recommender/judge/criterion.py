"""A criterion's answer for many boxes: a physical quantity with its range, and what it rests on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from triptych.recommender.judge.verdicts import in_order, named
from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray
from triptych.recommender.scene.structures import Arrays

LEAST_UTILITY: Final = 0.02
"""The lowest utility up to `worst`, so that one hopeless criterion spoils a score and doesn't erase it."""

BEYOND_WORST: Final = 5.0
"""Beyond `worst` a utility falls by a factor of e for each fifth of the scale: what is worse than hopeless isn't bought
back by being good elsewhere. Our own figure."""

LEAST_TOLD: Final = 0.05
"""So much of what is added or taken off is told, rounded to a tenth [dB]."""

NO_UTILITY: Final = 1e-4
"""Where that ends, a little over a scale beyond `worst`."""


@dataclass(frozen=True, slots=True)
class Criterion:
    """What is judged, and where its utility is 1 and least; `beside_mains` says whether it depends on the mains.

    `falls_on` says whether what is beyond `worst` counts as worse still: what is heard does, money, which has rules of
    its own, doesn't. `least` is the utility at `worst`.
    """

    name: str
    unit: str
    best: float
    worst: float
    weight: float
    formula: str
    source: str
    beside_mains: bool = False
    falls_on: bool = True
    least: float = LEAST_UTILITY


def utility(criterion: Criterion, value: FloatArray) -> FloatArray:
    """The utility of a value: 1 at `best`, linear to the least at `worst`, and falling on beyond where it is heard."""
    linear = (value - criterion.worst) / (criterion.best - criterion.worst)
    within = np.clip(linear, criterion.least, 1.0)
    if not criterion.falls_on or not (linear < 0.0).any():
        return within
    return np.maximum(within * np.exp(BEYOND_WORST * np.minimum(linear, 0.0)), NO_UTILITY)


def at_most_middle(criterion: Criterion, value: FloatArray, one: FloatArray, other: FloatArray) -> FloatArray:
    """The likely value, or the middle of the ends that something unknown leaves where that is less good.

    The middle is that of what the ends make of a score: a utility counts to the power of the criterion's weight.
    """
    parts = [utility(criterion, end) ** criterion.weight for end in (one, other)]
    middle = np.maximum((0.5 * (parts[0] + parts[1])) ** (1 / criterion.weight), NO_UTILITY)
    along = np.where(middle >= LEAST_UTILITY, middle, np.log(middle / LEAST_UTILITY) / BEYOND_WORST)
    taken = criterion.worst + along * (criterion.best - criterion.worst)
    return np.where(middle < utility(criterion, value), taken, value)


STATED_COUNTS: Final = 0.5
"""What a datasheet or a survey states counts half of what is measured [1]: a score that rests on such figures alone is
told as half. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class CriterionValues(Arrays):
    """One criterion for N boxes: likely value between low and high, and the share that rests on stated figures.

    `measured` says of which boxes the value was measured; `remark` numbers the words of `remarks` that each adds to
    its reason; what is stated of it `counts` so much as evidence. Where a criterion depends on the mains, every array
    is mains x boxes.
    """

    criterion: Criterion
    value: FloatArray
    low: FloatArray
    high: FloatArray
    stated: FloatArray
    evidence: str
    why: str
    numbers: dict[str, FloatArray] = field(default_factory=dict)
    measured: BoolArray | None = None
    remark: IndexArray | None = None
    remarks: tuple[str, ...] = ("",)
    counts: float = STATED_COUNTS

    @property
    def relied(self) -> FloatArray:
        """The share that rests on figures: what was measured counts whole, what is stated `counts`."""
        whole = np.zeros((), dtype=np.bool_) if self.measured is None else self.measured
        return np.asarray(np.where(whole, self.stated, self.counts * self.stated))

    @property
    def poorest(self) -> FloatArray:
        """The end of the range with the lowest utility."""
        return self.high if self.criterion.best < self.criterion.worst else self.low

    @property
    def finest(self) -> FloatArray:
        """The end of the range with the highest utility."""
        return self.low if self.criterion.best < self.criterion.worst else self.high

    def told(self, index: int) -> str:
        """The reason for box `index`, in words and numbers."""
        return self.tolds(np.array([index]))[0]

    def tolds(self, rows: IndexArray) -> list[str]:
        """The reasons for the boxes at `rows`."""
        which = np.zeros(len(rows), dtype=np.intp) if self.remark is None else self.remark[rows]
        told = [""] * len(rows)
        for remark in set(which.tolist()):
            here, text = np.flatnonzero(which == remark), self.why + self.remarks[remark]
            columns = [self._named(name)[rows[here]].tolist() for name in named(text)]
            filled = map(in_order(text).format, *columns) if columns else [text.format()] * len(here)
            for place, words in zip(here.tolist(), filled, strict=True):
                told[place] = words
        return told

    def _named(self, name: str) -> FloatArray:
        """What a reason names: the value itself, or one of the numbers."""
        return self.numbers.get(name, self.value)

    def evidence_of(self, index: int) -> str:
        """Where the value of box `index` comes from: measured, stated, modelled or assumed."""
        return self.evidences(np.array([index]))[0]

    def evidences(self, rows: IndexArray) -> list[str]:
        """Where the values of the boxes at `rows` come from.

        Stated is only what is stated whole; a model of some stated figures is a model.
        """
        said = self.stated[rows] >= 1 if self.evidence == "stated" else self.stated[rows] > 0
        told = [self.evidence if enough else "assumed" for enough in said.tolist()]
        if self.measured is None:
            return told
        return [
            "measured" if measured else word for word, measured in zip(told, self.measured[rows].tolist(), strict=True)
        ]


def criterion_values(
    criterion: Criterion,
    value: FloatArray,
    low: FloatArray,
    high: FloatArray,
    stated: FloatArray | float,
    evidence: str,
    why: str,
    **numbers: FloatArray | float,
) -> CriterionValues:
    """Values whose range contains the likely one, with every number spread to their shape."""
    shape = value.shape
    spread = {name: np.broadcast_to(np.asarray(number, dtype=np.float64), shape) for name, number in numbers.items()}
    return CriterionValues(
        criterion,
        value,
        np.minimum(low, value),
        np.maximum(high, value),
        np.broadcast_to(np.asarray(stated, dtype=np.float64), shape),
        evidence,
        why,
        spread,
    )
