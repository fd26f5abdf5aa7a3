"""Yes/no questions with four answers, for many boxes at once; words are made only for those that are shown."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import IntEnum
from functools import cache, reduce
from string import Formatter
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from triptych.recommender.scene.arrays import BoolArray, CodeArray, FloatArray, IndexArray
from triptych.recommender.scene.structures import Arrays

MINUS_NOTHING: Final = re.compile(r"-(0(?:\.0+)?)(?![\d.])")
"""A number that rounds to nothing below zero."""


class Verdict(IntEnum):
    """What a gate answers, from best to worst."""

    PASS = 0
    CONDITIONAL = 1
    UNKNOWN = 2
    FAIL = 3

    @property
    def word(self) -> str:
        """The word people read."""
        return VERDICT_WORDS[self]


VERDICT_WORDS: Final = tuple(verdict.name.lower() for verdict in Verdict)
"""What people read of each verdict."""


@dataclass(frozen=True, slots=True)
class Case:
    """One way a gate can answer. `why` and `question` are format strings over the gate's numbers.

    `fails` names the number that is the chance that the answer to a condition rules a box out; what is `shared` is the
    room's, so that its answer is one for all boxes that stand there.
    """

    verdict: Verdict
    why: str
    question: str = ""
    fails: str = ""
    shared: bool = False


@dataclass(frozen=True, slots=True)
class GateVerdicts(Arrays):
    """One gate's answers for N boxes: which case holds for each, and the numbers that made it so.

    Where a gate depends on the mains, every array is mains x boxes. `texts` number, for each box, the `words` that its
    reason names.
    """

    gate: str
    unit: str
    cases: tuple[Case, ...]
    case: CodeArray
    margin: FloatArray
    numbers: dict[str, FloatArray] = field(default_factory=dict)
    texts: dict[str, IndexArray] = field(default_factory=dict)
    words: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def verdict(self) -> CodeArray:
        """The verdict of each box, as codes of `Verdict`."""
        return self._codes[self.case]

    @property
    def _codes(self) -> CodeArray:
        """The verdict of each case."""
        return np.frombuffer(bytes([case.verdict for case in self.cases]), dtype=np.int8)

    def verdicts(self, rows: IndexArray) -> CodeArray:
        """The verdict of the boxes at `rows`."""
        return self._codes[self.case[rows]]

    def verdict_of(self, index: int) -> Verdict:
        """The verdict of box `index`."""
        return self.cases[int(self.case[index])].verdict

    def worsened(self, condition: BoolArray, case: Case) -> GateVerdicts:
        """The answers with another case for those boxes that meet a condition and had a better verdict."""
        worse = condition & (self.verdict < case.verdict)
        codes = np.where(worse, len(self.cases), self.case).astype(np.int8)
        return replace(self, cases=(*self.cases, case), case=codes)

    def why(self, index: int) -> str:
        """The reason for box `index`, in words and numbers."""
        return self.whys(np.array([index]))[0]

    def whys(self, rows: IndexArray) -> list[str]:
        """The reasons for the boxes at `rows`."""
        return self._told([case.why for case in self.cases], rows)

    def risk(self, index: int) -> tuple[float, bool]:
        """The chance that box `index` turns out to be ruled out, and whether all boxes here share the answer."""
        case = self.cases[self.case[index]]
        return (float(self.numbers[case.fails][index]) if case.fails else 0.0), case.shared

    def risks(self, rows: IndexArray | None = None) -> FloatArray:
        """The chance that each box, or those at `rows`, turns out to be ruled out by its condition here."""
        cases = self.case if rows is None else self.case[rows]
        found = np.zeros(len(cases))
        for number, case in enumerate(self.cases):
            if case.fails:
                here = np.flatnonzero(cases == number)
                found[here] = self.numbers[case.fails][here if rows is None else rows[here]]
        return found

    def question(self, index: int) -> str:
        """What to ask so that box `index` can be judged; empty where nothing is unknown."""
        return self.questions(np.array([index]))[0]

    def questions(self, rows: IndexArray) -> list[str]:
        """What to ask so that the boxes at `rows` can be judged."""
        return self._told([case.question for case in self.cases], rows)

    def _told(self, texts: Sequence[str], rows: IndexArray) -> list[str]:
        """For each of some boxes the text of its case."""
        cases = self.case[rows]
        numbers = cases.tolist()
        told = [texts[case] for case in numbers]
        for case in set(numbers):
            if "{" in texts[case]:
                here = np.flatnonzero(cases == case)
                filled = self._filled(texts[case], rows[here])
                for place, text in zip(here.tolist(), filled, strict=True):
                    told[place] = text
        return told

    def _filled(self, text: str, rows: IndexArray) -> Iterator[str]:
        """A format string over numbers and words, for each of some boxes."""
        columns = []
        for name in named(text):
            if name in self.texts:
                columns.append([self.words[name][which] for which in self.texts[name][rows].tolist()])
            else:
                columns.append(self.numbers[name][rows].tolist())
        for told in map(in_order(text).format, *columns):
            yield MINUS_NOTHING.sub(r"\1", told) if "-0" in told else told


@cache
def named(text: str) -> tuple[str, ...]:
    """What a format string names, in its order."""
    return tuple(name for _, name, _, _ in Formatter().parse(text) if name)


@cache
def in_order(text: str) -> str:
    """A format string with what it names told by its place."""
    parts = []
    for before, name, form, _ in Formatter().parse(text):
        parts.append(before.replace("{", "{{").replace("}", "}}"))
        if name:
            parts.append(f"{{:{form}}}")
    return "".join(parts)


def judge(
    gate: str,
    unit: str,
    margin: FloatArray,
    cases: Sequence[tuple[BoolArray | bool, Case]],
    **numbers: FloatArray | float,
) -> GateVerdicts:
    """A gate's answers by the first case whose condition holds; the last condition must always hold."""
    shape = margin.shape
    first, none = np.zeros(shape, dtype=np.int8), np.ones(shape, dtype=np.bool_)
    # box by box a case further while none has held: to look for the first across cases takes a hundred times as long
    for condition, _ in cases[:-1]:
        none &= np.logical_not(condition)
        first += none
    spread = {name: _spread(value, shape) for name, value in numbers.items()}
    told = {**spread, "margin": margin}
    return GateVerdicts(gate, unit, tuple(case for _, case in cases), first, margin, told)


def merged(parts: Sequence[GateVerdicts], rows: Sequence[IndexArray]) -> GateVerdicts:
    """A gate's answers for all boxes, from several in each of which only some rows were judged."""
    first = parts[0]
    return replace(
        first,
        case=_laid([part.case for part in parts], rows),
        margin=_laid([part.margin for part in parts], rows),
        numbers={name: _laid([part.numbers[name] for part in parts], rows) for name in first.numbers},
        texts={name: _laid([part.texts[name] for part in parts], rows) for name in first.texts},
    )


def _laid(arrays: Sequence[NDArray[Any]], rows: Sequence[IndexArray]) -> NDArray[Any]:
    """The first of some arrays, with the rows of each other one laid over it."""
    found = arrays[0].copy()
    for other, own in zip(arrays[1:], rows[1:], strict=True):
        found[own] = other[own]
    return found


def missing_words(
    names: Sequence[str], missing: Sequence[FloatArray | BoolArray]
) -> tuple[IndexArray, tuple[str, ...]]:
    """For each box the number of the words that list what is missing, and the words, such as 'height and depth'."""
    numbers = sum((np.asarray(one, dtype=np.intp) << place for place, one in enumerate(missing)), np.intp(0))
    words = []
    for number in range(1 << len(names)):
        told = [name for place, name in enumerate(names) if number >> place & 1]
        words.append(" and ".join([", ".join(told[:-1]), told[-1]]) if len(told) > 1 else "".join(told))
    return np.asarray(numbers, dtype=np.intp), tuple(words)


def triangular_chance(limit: FloatArray, low: float, likely: float, high: float) -> FloatArray:
    """The chance that what is triangular between two ends stays below a limit [1]."""
    x = np.clip(limit, low, high)
    rising = (x - low) ** 2 / ((high - low) * (likely - low))
    falling = 1.0 - (high - x) ** 2 / ((high - low) * (high - likely))
    return np.asarray(np.where(x < likely, rising, falling))


def _spread(value: FloatArray | float, shape: tuple[int, ...]) -> FloatArray:
    array = np.asarray(value, dtype=np.float64)
    return array if array.shape == shape else np.broadcast_to(array, shape)


AS_LIKELY_AS_NOT: Final = 0.5
"""A condition that fails so often is as likely as not to rule a box out [1]."""


def chance_to_stand(gates: Iterable[GateVerdicts], rows: IndexArray | None = None) -> FloatArray:
    """The chance that no condition rules out each box, or those at `rows`."""
    return np.asarray(reduce(np.multiply, (1.0 - gate.risks(rows) for gate in gates)))


def as_likely_out(stands: FloatArray) -> BoolArray:
    """Which boxes are as likely as not ruled out by a condition or another, by their chances to stand."""
    return np.asarray(stands <= 1.0 - AS_LIKELY_AS_NOT)


def worst(gates: Sequence[GateVerdicts]) -> CodeArray:
    """The worst verdict that any of some gates gives each box."""
    return np.asarray(np.max(np.stack([gate.verdict for gate in gates]), axis=0))
