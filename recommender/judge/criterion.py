"""A criterion's answer for many boxes: a physical quantity with its range, and what it rests on."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from triptych.recommender.scene.arrays import Arrays, BoolArray, FloatArray, IndexArray


@dataclass(frozen=True, slots=True)
class Criterion:
    """What is judged, and where its utility is 1 and least; `beside_mains` says whether it depends on the mains.

    `falls_on` says whether what is beyond `worst` counts as worse still: what is heard does, money, which has rules of
    its own, doesn't.
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


@dataclass(frozen=True, slots=True)
class CriterionValues(Arrays):
    """One criterion for N boxes: likely value between low and high, and the share that rests on stated figures.

    `measured` says of which boxes the value was measured; `remark` numbers the words of `remarks` that each adds to
    its reason. Where a criterion depends on the mains, every array is mains x boxes.
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
