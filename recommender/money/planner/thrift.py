"""Whether every part of a system is worth its price: nothing cheaper in its place would be worth as much.

Rules about money that may give way tilt a choice between things that are worth their money. They never pay for one
that is not: a dearer receiver makes a total greater of which the subwoofer is a share, and a dearer box that is no
better lifts its own share, but neither serves anybody. So a system counts as what it is worth after every exchange
that spares money and loses nothing but by such rules; and as that ends at a system in which no exchange is left, the
search takes these alone. What must be kept may be paid for: an exchange that breaks it is none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final, Self

import numpy as np

from triptych.recommender.money.planner.blocks import Block, Need
from triptych.recommender.money.planner.problem import BoolArray, FloatArray, IntArray, PlanProblem
from triptych.recommender.money.planner.search import Part

MAINS: Final = 0
CENTRE: Final = 1

Chosen = tuple[int, ...]
"""The place of a system's candidate in each role, mains and centre first."""


@dataclass(slots=True)
class Thrift:
    """The exchanges that are open in a choice.

    Parameters
    ----------
    problem : PlanProblem
        With all that may be chosen.
    had : callable or None
        Whether a system is to be had; all are where it is not given.
    free : tuple of array of bool, or None
        Which candidates of each role are to be had whatever else is chosen; all if not given.
    """

    problem: PlanProblem
    had: Callable[[Chosen], bool] | None = None
    free: tuple[BoolArray, ...] | None = None
    rows: dict[int, BesideMains] = field(default_factory=dict)
    _columns: dict[int, FloatArray] = field(default_factory=dict)
    _known: dict[Chosen, bool] = field(default_factory=dict)
    _worth: list[FloatArray] = field(default_factory=list)
    _use: list[IntArray] = field(default_factory=list)
    _least: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))

    def __post_init__(self) -> None:
        problem = self.problem
        # the limit is kept by whatever is cheaper
        rules = [rule for rule in problem.rules if rule.hard]
        self._least = np.array([rule.least - rule.limit * problem.limit for rule in rules], dtype=np.int64)
        self._use = [
            np.array([rule.use(role) for rule in rules], dtype=np.int64).reshape(len(rules), len(role))
            for role in problem.roles
        ]
        self._worth = [problem.grains(role.worth) for role in problem.roles]

    def pays(self, chosen: Chosen) -> bool:
        """Whether no part of a system could be exchanged for a cheaper one that is worth no less."""
        if (known := self._known.get(chosen)) is None:
            known = self._known[chosen] = not any(self._open(chosen))
        return known

    def spoilt(self, mains: IntArray, centre: IntArray) -> BoolArray:
        """Which of some pairs are known not to pay, whatever stands beside them."""
        found = np.zeros(len(mains), dtype=np.bool_)
        for at in np.intersect1d(np.unique(mains), list(self.rows)).tolist():
            here = mains == at
            found[here] = ~self.rows[at].pays[centre[here]]
        return found

    def _open(self, chosen: Chosen) -> Iterator[bool]:
        """Of each role whether something cheaper is worth no less, keeps what must be kept, and is to be had."""
        uses = (use[:, at] for use, at in zip(self._use, chosen, strict=True))
        spare = sum(uses, -self._least)
        voice = int(self.problem.voice_of(np.array([chosen[MAINS]]))[0])
        for role in range(CENTRE + 1, len(chosen)):
            worth = self._beside(role, voice)
            cheaper = self._cheaper(role, chosen[role])
            yield self._any(chosen, role, cheaper[worth[cheaper] >= worth[chosen[role]]], spare)
        mains, centre = chosen[MAINS], chosen[CENTRE]
        row = self._row(mains).worth
        cheaper = self._cheaper(CENTRE, centre)
        yield self._any(chosen, CENTRE, cheaper[row[cheaper] >= row[centre]], spare)
        cheaper = self._cheaper(MAINS, mains)
        gain = self._column(centre)[cheaper] - self._column(centre)[mains] + self._others(chosen, cheaper)
        yield self._any(chosen, MAINS, cheaper[gain >= 0], spare)

    def _any(self, chosen: Chosen, role: int, some: IntArray, spare: IntArray) -> bool:
        """Whether one of some candidates keeps what must be kept in a system, and is to be had."""
        if not len(some):
            return False
        use = self._use[role]
        kept = some[(use[:, some] - use[:, [chosen[role]]] + spare[:, None] >= 0).all(axis=0)]
        if self.had is None:
            return bool(len(kept))
        return any(self.had((*chosen[:role], at, *chosen[role + 1 :])) for at in kept.tolist())

    def _beside(self, role: int, voice: int) -> FloatArray:
        worth = self._worth[role]
        return worth if worth.ndim == 1 else np.asarray(worth[voice])

    def _cheaper(self, role: int, at: int) -> IntArray:
        cost = self.problem.roles[role].cost
        return np.flatnonzero(cost < cost[at])

    def _others(self, chosen: Chosen, mains: IntArray) -> FloatArray:
        """What the others are worth more beside other mains. [grains]."""
        total = np.zeros(len(mains))
        here, there = self.problem.voice_of(np.array([chosen[MAINS]])), self.problem.voice_of(mains)
        for worth, at in zip(self._worth[CENTRE + 1 :], chosen[CENTRE + 1 :], strict=True):
            if worth.ndim == 2:
                total += worth[there, at] - worth[here, at]
        return total

    def _row(self, mains: int) -> BesideMains:
        """The centres beside some mains."""
        if (known := self.rows.get(mains)) is None:
            together = self.problem.grains(self.problem.match_rows(np.array([mains])))[0]
            block = Block(together + self._worth[CENTRE], self.problem.centre.cost, self._use[CENTRE])
            hard = Need(self._least, np.full(len(self._least), np.inf))
            pays = np.zeros(len(block), dtype=np.bool_)
            pays[worthwhile(block, hard, None if self.free is None else self.free[CENTRE])] = True
            known = self.rows[mains] = BesideMains(block.worth, pays)
        return known

    def _column(self, centre: int) -> FloatArray:
        """What all mains are worth, and together with a centre. [grains]."""
        if (known := self._columns.get(centre)) is None:
            everyone = np.arange(len(self.problem.mains))
            together = self.problem.grains(self.problem.match_rows(everyone, np.array([centre])))[:, 0]
            known = self._columns[centre] = together + self._worth[MAINS]
        return known


@dataclass(frozen=True, slots=True)
class BesideMains:
    """What each centre is worth beside some mains, and to which no cheaper one is equal there. [grains]."""

    worth: FloatArray
    pays: BoolArray


@dataclass(frozen=True, slots=True)
class ThriftAmong:
    """The exchanges that are open to a part of a choice, in which candidates have other places."""

    whole: Thrift
    places: tuple[IntArray, ...]

    @classmethod
    def of(cls, whole: Thrift) -> Self:
        """All of it."""
        return cls(whole, tuple(np.arange(len(role)) for role in whole.problem.roles))

    def only(self, kept: Sequence[IntArray]) -> ThriftAmong:
        """Some of the candidates of each role."""
        return ThriftAmong(self.whole, tuple(place[items] for place, items in zip(self.places, kept, strict=True)))

    @property
    def learnt(self) -> int:
        """Beside how many mains it is known which centres pay."""
        return len(self.whole.rows)

    def admits(self, key: tuple[int, ...]) -> bool:
        """Whether every part of a combination, its pair first, is worth its price."""
        chosen = (*divmod(key[0], len(self.places[CENTRE])), *key[1:])
        return self.whole.pays(tuple(int(place[at]) for place, at in zip(self.places, chosen, strict=True)))

    def spoilt(self, pairs: IntArray) -> BoolArray:
        """Which of some pairs are known not to be, whatever stands beside them."""
        mains, centre = np.divmod(pairs, len(self.places[CENTRE]))
        return self.whole.spoilt(self.places[MAINS][mains], self.places[CENTRE][centre])

    def worthwhile(self, role: int, block: Block, need: Need) -> IntArray:
        """The items of a role that stands by itself, without those that something cheaper is as good as anywhere."""
        free = None if self.whole.free is None else self.whole.free[role][self.places[role]]
        return worthwhile(block, need, free)

    def by_need(self, whole: Part, need: Need) -> tuple[Part, ...]:
        """The combinations of the pair and the other roles without those that a cheaper set would fit as well."""
        free = self.whole.free
        # the pair is the first block, so the places of the other roles are one less
        may = [at - 1 for at in range(CENTRE + 1, len(self.places)) if free is None or free[at].all()]
        return parts_by_need(whole, need, may)


def worthwhile(block: Block, need: Need, free: BoolArray | None = None) -> IntArray:
    """The items of a block to which no cheaper one is equal or better, in worth and in every row that must be kept."""
    use = block.use[need.hard]
    # what only takes money is no worse for what is cheaper
    use = use[[bool((np.diff(row[np.argsort(block.cost, kind="stable")]) > 0).any()) for row in use]]
    kinds, kind = np.unique(use, axis=1, return_inverse=True)
    kind = kind.ravel()
    left = np.ones(len(block), dtype=np.bool_)
    for at in range(kinds.shape[1]) if kinds.shape[1] <= _KINDS else ():
        better = np.flatnonzero((kinds >= kinds[:, [at]]).all(axis=0))
        rivals = np.isin(kind, better) & (True if free is None else free)
        mine = np.flatnonzero(kind == at)
        left[mine] = _best_below(block.cost[rivals], block.worth[rivals], block.cost[mine]) < block.worth[mine]
    return np.flatnonzero(left)


_KINDS: Final = 200
"""With more ways of using the rows nothing is left out beforehand; each system is looked at all the same."""


def _best_below(cost: IntArray, worth: FloatArray, at: IntArray) -> FloatArray:
    """The most that something is worth that costs less."""
    order = np.argsort(cost, kind="stable")
    most = np.concatenate([[-np.inf], np.maximum.accumulate(worth[order])]) if len(order) else np.array([-np.inf])
    return np.asarray(most[np.searchsorted(cost[order], at, side="left")])


def parts_by_need(whole: Part, need: Need, may: Sequence[int]) -> tuple[Part, ...]:
    """The same combinations without those that a cheaper item would fit as well, of blocks worth the same throughout.

    What drives the loudspeakers is one: a dearer set is taken only where something asks for it, so each stands beside
    those parts in which something does. `may` are the blocks of which this may be asked.
    """
    parts: tuple[Part, ...] = (whole,)
    for at in may:
        block = whole.blocks[at]
        if 1 < len(block) <= _SETS and not np.ptp(block.worth):
            parts = tuple(part for one in parts for part in _by_need(one, at, need))
    return parts


_SETS: Final = 12
"""More are not taken apart beforehand."""


def _by_need(part: Part, at: int, need: Need) -> Iterator[Part]:
    block = part.blocks[at]
    hard = need.hard
    for item in np.argsort(block.cost, kind="stable").tolist():
        kept = [np.arange(len(one)) for one in part.blocks]
        kept[at] = np.array([item])
        cheaper = np.flatnonzero(block.cost < block.cost[item])
        if not len(cheaper):
            yield part.only(kept, part.start)
            continue
        use = block.use[np.ix_(hard, cheaper)]
        rival = cheaper[int((use[:, :, None] >= use[:, None, :]).all(axis=0).sum(axis=1).argmax())]
        rows = hard[block.use[hard, rival] < block.use[hard, item]]
        asked = [_who_asks(part, at, int(row)) for row in rows]
        if any(who is None for who in asked):
            yield part.only(kept, part.start)
            continue
        for row, who in zip(rows.tolist(), asked, strict=True):
            if who is None:
                continue
            rest = sum(int(one.use[row, 0]) for place, one in enumerate(part.blocks) if place not in (at, who))
            short = part.blocks[who].use[row] + rest + block.use[row, rival] < need.least[row]
            some, others = kept[who][short[kept[who]]], kept[who][~short[kept[who]]]
            if len(some):
                yield part.only([*kept[:who], some, *kept[who + 1 :]], part.start)
            kept[who] = others


def _who_asks(part: Part, at: int, row: int) -> int | None:
    """The one other block whose items differ in a row; None where several do."""
    found = [place for place, one in enumerate(part.blocks) if place != at and np.ptp(one.use[row])]
    if len(found) > 1:
        return None
    return found[0] if found else (at + 1) % len(part.blocks)
