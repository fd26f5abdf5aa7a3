"""The answer, detached from the database: plain frozen values, built when they are looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import date
from math import isfinite
from typing import Annotated, Final, Generic, TypeAlias, TypeVar, overload

import numpy as np

from triptych.catalog.answer_columns import Mixed
from triptych.catalog.ways_told import Told
from triptych.recommender.advise.processors import in_order
from triptych.recommender.judge.criterion import LEAST_UTILITY
from triptych.recommender.judge.gates.speech import DEAD_DIP, FAIR_DIP

Item = TypeVar("Item")

Points: TypeAlias = Annotated[float, Told(digits=1)]
"""A score, from 0 to 100, or a part of one."""

Gain: TypeAlias = Annotated[float, Told(digits=2)]
"""Points of score that something is expected to bring."""

Chance: TypeAlias = Annotated[float, Told(digits=2)]

Figure: TypeAlias = Annotated[float, Told(digits=3)]
"""What is modelled or measured, in the unit that stands beside it or that its name ends with."""

Hertz: TypeAlias = Annotated[float, Told(digits=1)]

Price: TypeAlias = Annotated[float, Told(digits=2)]
"""In the currency that stands beside it."""

WhereAny: Final = Told(where_any=True)

ITEMS_AT_ONCE: Final = 256
"""How many items are built at once where all of them are looked at."""


TOLD_AT_ONCE: Final = 1024
"""How many are told at once by columns."""


class Built(Sequence[Item], Generic[Item]):
    """A sequence whose items are built when somebody looks at them, and kept."""

    def __init__(self, count: int, build: Callable[[range], list[Item]]) -> None:
        self._count = count
        self._build = build
        self._made: dict[int, Item] = {}

    def __len__(self) -> int:
        """The number of items, built or not."""
        return self._count

    @overload
    def __getitem__(self, index: int) -> Item: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Item]: ...
    def __getitem__(self, index: int | slice) -> Item | Sequence[Item]:
        """The item at `index`, or the items of a slice."""
        if isinstance(index, slice):
            wanted = range(*index.indices(self._count))
            if wanted:
                self._make(range(min(wanted), max(wanted) + 1))
            return [self._made[position] for position in wanted]
        if index < 0:
            index += self._count
        if not 0 <= index < self._count:
            raise IndexError(index)
        self._make(range(index, index + 1))
        return self._made[index]

    def __iter__(self) -> Iterator[Item]:
        """The items in order."""
        for start in range(0, self._count, ITEMS_AT_ONCE):
            yield from self[start : start + ITEMS_AT_ONCE]

    def _make(self, span: range) -> None:
        """Build what isn't there yet of a span; it is cheaper to build many at once."""
        missing = [position for position in span if position not in self._made]
        if missing:
            whole = range(missing[0], missing[-1] + 1)
            self._made.update(zip(whole, self._build(whole), strict=True))


class Columned(Built[Item]):
    """The same where many are told by columns, and become items only where somebody looks at them."""

    def __init__(self, count: int, columns: Callable[[range], Mixed]) -> None:
        super().__init__(count, lambda span: columns(span).records())
        self._columns = columns

    def by_columns(self, made: Callable[[Mixed], str]) -> Iterator[str]:
        """What is made of all of them in order, some at a time, on all processors; none of them is kept."""
        spans = [range(start, min(start + TOLD_AT_ONCE, self._count)) for start in range(0, self._count, TOLD_AT_ONCE)]
        with closing(in_order(lambda span: made(self._columns(span)).encode(), spans)) as texts:
            yield from map(bytes.decode, texts)


def known(value: float | np.floating) -> float | None:
    """A number, or None where it is not known or has no limit."""
    return float(value) if isfinite(value) else None


@dataclass(frozen=True, slots=True)
class GateAnswer:
    """What one gate said."""

    gate: str
    verdict: str
    why: str
    margin: Figure | None
    unit: str
    question: Annotated[str, WhereAny]


@dataclass(frozen=True, slots=True)
class CriterionAnswer:
    """What one criterion came to, with what it rests on."""

    criterion: str
    value: Figure
    low: Figure
    high: Figure
    unit: str
    utility: Figure
    weight: float
    evidence: str
    why: str
    inputs: dict[str, Figure | None]
    formula: str
    source: str


@dataclass(frozen=True, slots=True)
class SeatAnswer:
    """What one seat hears of the centre against the centre's own axis.

    `angle_deg` is that of the plan; `across_deg` that of the box as it is tilted, off its upright middle plane: at that
    angle two drivers side by side cancel at c/(2 d sin angle).
    """

    seat: str
    angle_deg: Figure
    across_deg: Figure | None
    dip_db: Figure | None
    dip_hz: Hertz | None
    null_hz: Hertz | None
    null_low_hz: Hertz | None = None
    null_high_hz: Hertz | None = None


@dataclass(frozen=True, slots=True)
class OtherPlace:
    """How the same loudspeaker does elsewhere in the room, and what is asked where an answer decides whether it may."""

    place: str
    pose: str
    score: Points | None
    verdict: str
    question: str = ""


@dataclass(frozen=True, slots=True)
class Chances:
    """What the draws say of a leading candidate: where its score lies, how often it is truly ahead, and stands at all.

    `low` and `high` are those of the score; `stands` is how often its conditions and all that isn't known leave it in.
    """

    low: Points
    high: Points
    first: Figure
    top_three: Figure
    stands: Figure


@dataclass(frozen=True, slots=True)
class NextQuestion:
    """A question, where its answer is found, and what the answer is worth.

    `points` is what the choice is expected to gain by the answer; `changes` how likely the answer changes the choice.
    `about` is mains, room or candidate; `speaker` names the candidate.
    """

    speaker: str | None
    unknown: str
    question: str
    find: str
    points: Gain
    changes: Chance
    pending: bool
    about: str = "candidate"


@dataclass(frozen=True, slots=True)
class Survival:
    """How far the first place survives other weights: the rival that the least moved weight would put first."""

    rival: str
    moved: Figure
    taken: dict[str, Figure]
    given_to: str


@dataclass(frozen=True, slots=True)
class Derivation:
    """One quantity's formula with its inputs, in the units their names end with."""

    quantity: str
    formula: str
    inputs: dict[str, Annotated[float, Told(digits=6)] | None]
    evidence: str
    source: str


SPOILS_ALL: Final = frozenset({"timbre", "coverage", "aim", "surroundings"})
"""The criteria of which the worst makes a centre one that nobody should buy."""


@dataclass(frozen=True, slots=True)
class Standing:
    """One loudspeaker in one place and pose, with everything that was found out about it there."""

    rank: int
    speaker: str
    place: str
    pose: str
    verdict: str
    score: Points
    confidence: Chance
    score_low: Points
    score_high: Points
    chances: Chances | None
    price: Price | None
    currency: str | None
    available: int | None
    gates: tuple[GateAnswer, ...]
    criteria: tuple[CriterionAnswer, ...]
    quantities: dict[str, Figure | None]
    seats: Annotated[tuple[SeatAnswer, ...], Told(key="quantities.seats")]
    derivations: Annotated[tuple[Derivation, ...], WhereAny] = field(default=(), kw_only=True)
    seat_derivations: Annotated[tuple[Derivation, ...], WhereAny] = field(default=(), kw_only=True)
    other_places: tuple[OtherPlace, ...]
    place_kind: str

    @property
    def conditional(self) -> bool:
        """Whether it passes only if something is met or answered."""
        return self.verdict == "conditional"

    @property
    def dead_seat(self) -> bool:
        """Whether a regular seat loses its speech, or may."""
        seats = next((gate for gate in self.gates if gate.gate == "seats"), None)
        return (
            seats is not None
            and seats.verdict == "conditional"
            and (seats.margin is None or seats.margin < FAIR_DIP - DEAD_DIP)
        )

    @property
    def last(self) -> bool:
        """Whether it comes after all others, whatever it scores."""
        return self.dead_seat

    @property
    def hopeless(self) -> str:
        """What is so bad about it that nobody should buy it for this room, and how bad; empty where nothing is."""
        lost = [gate.why for gate in self.gates if gate.gate == "seats" and gate.margin is not None]
        if self.dead_seat and lost:
            return lost[0]
        worst = [one for one in self.criteria if one.criterion in SPOILS_ALL and one.utility <= LEAST_UTILITY]
        return "; ".join(f"{one.criterion}: {one.why}" for one in worst)

    def criterion_named(self, name: str) -> CriterionAnswer:
        """What was found of one criterion."""
        return next(one for one in self.criteria if one.criterion == name)

    def merit(self) -> tuple[int, bool, float, float, float]:
        """What sorts the better first: those that may stand, then those that wait, then the others; each by score.

        What takes the speech of a regular seat comes last; of equal scores, as they are told, the cheaper is first.
        """
        group = {"pass": 0, "conditional": 0, "unknown": 1, "fail": 2}[self.verdict]
        price = np.inf if self.price is None else self.price
        return group, self.last, -round(self.score, 1), price, -self.score


@dataclass(frozen=True, slots=True)
class Waiting:
    """A loudspeaker that one answer could bring into the ranking."""

    speaker: str
    place: str
    pose: str
    question: str
    questions: tuple[str, ...]
    gate: str
    why: str
    score_if_passed: Points
    price: Price | None
    currency: str | None


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a loudspeaker is ruled out in one place and pose."""

    place: str
    pose: str
    gate: str
    why: str


@dataclass(frozen=True, slots=True)
class RuledOut:
    """A loudspeaker that no place passes."""

    speaker: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Counsel:
    """One piece of advice beyond the ranking.

    `kind` is phantom, change_place, third_main, raise_budget, within_share or none.
    """

    kind: str
    why: str


@dataclass(frozen=True, slots=True)
class Otherwise:
    """What would have been chosen if it needn't be in stock, and when it could be had; None if nobody knows."""

    speaker: str
    place: str
    score: Points
    when: date | None
    why: str


@dataclass(frozen=True, slots=True)
class Advice:
    """The whole answer to one question."""

    mains: Annotated[str, Told(key="mains.name")]
    mains_evidence: Annotated[str, Told(key="mains.evidence")]
    mains_as_centre: Annotated[str, Told(key="mains.as_centre")]
    room: str
    ranked: Sequence[Standing]
    pending: Sequence[Waiting]
    excluded: Sequence[RuledOut]
    advice: tuple[Counsel, ...]
    cautions: tuple[str, ...]
    questions: tuple[NextQuestion, ...] = ()
    survival: Survival | None = None
    preference: Annotated[float | None, Told(digits=3, where_any=True)] = None
    otherwise: Annotated[Otherwise | None, WhereAny] = None

    def first(self, top: int | None) -> Advice:
        """The same with the first `top` of the ranking, or with all of it."""
        return self if top is None else replace(self, ranked=self.ranked[:top])
