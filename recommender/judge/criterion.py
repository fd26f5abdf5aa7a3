"""A criterion's answer for many boxes: a physical quantity with its range, and what it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray


@dataclass(frozen=True, slots=True)
class Criterion:
    """What is measured, and where its utility is 1 and 0."""

    name: str
    unit: str
    best: float
    worst: float
    weight: float
    formula: str
    source: str


@dataclass(frozen=True, slots=True)
class CriterionValues:
    """One criterion for N boxes: likely value between low and high, and the share that rests on stated figures.

    `measured` says of which boxes the value was measured; `remark` numbers the words of `remarks` that each adds to
    its reason.
    """

    criterion: Criterion
    value: FloatArray
    low: FloatArray
    high: FloatArray
    stated: FloatArray
    evidence: str
    why: str
    numbers: Mapping[str, FloatArray] = field(default_factory=dict)
    measured: BoolArray | None = None
    remark: IndexArray | None = None
    remarks: tuple[str, ...] = ("",)

    def told(self, index: int) -> str:
        """The reason for box `index`, in words and numbers."""
        values = {name: float(array[index]) for name, array in self.numbers.items()}
        remark = self.remarks[0 if self.remark is None else self.remark[index]]
        return (self.why + remark).format(value=float(self.value[index]), **values)

    def evidence_of(self, index: int) -> str:
        """Where the value of box `index` comes from: measured, stated, modelled or assumed."""
        if self.measured is not None and self.measured[index]:
            return "measured"
        return self.evidence if self.stated[index] > 0 else "assumed"


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
    """A values whose range contains its value, with every number spread to the length of `value`."""
    count = len(value)
    spread = {name: np.broadcast_to(np.asarray(number, dtype=np.float64), count) for name, number in numbers.items()}
    return CriterionValues(
        criterion,
        value,
        np.minimum(low, value),
        np.maximum(high, value),
        np.broadcast_to(np.asarray(stated, dtype=np.float64), count),
        evidence,
        why,
        spread,
    )
