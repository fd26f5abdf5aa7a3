"""The best whole systems for a limit, proven.

Mains and centre are bound together by `match`, all other roles stand by themselves beside a voice group. So a system
is one pair and one item of each other role: a multiple choice, with the limit and the rules as rows of whole numbers.

1. Multipliers from a sample of pairs: any will do, good ones leave less to search. Where the most that a centre can be
   worth is known, the search begins among the few that could be worth most, to have something to beat.
2. All pairs are bounded once under them (pairs.py); the highest are kept.
3. By voice group, best bound first: branch and bound over the kept pairs and the other roles (search.py).
4. If the worst of the best few does not beat the highest bound that was not kept, the mains are halved and each half
   is gone through the same way with what is known by now. With few enough pairs all are kept, so this ends.

Nothing is dropped but by a bound that no system in it can beat, so what is found is the best, and so are the next few.
"""

from __future__ import annotations

from dataclasses import dataclass
from time import monotonic

import numpy as np

from triptych.recommender.money.planner.blocks import Block, Need, items_that_can_be_taken, rows_that_can_bind
from triptych.recommender.money.planner.multipliers import Dual, tightest
from triptych.recommender.money.planner.pairs import Pairs, best_pairs
from triptych.recommender.money.planner.problem import (
    Candidates,
    FloatArray,
    IntArray,
    Outcome,
    Plan,
    PlanProblem,
    System,
)
from triptych.recommender.money.planner.search import BestFew, Part, search
from triptych.recommender.money.planner.thrift import ThriftAmong

KEEP = 150_000
_SAMPLE = 300
_SMALL_SAMPLE = 60
_LIKELIEST = 30
# So long it is searched there for some system at least, even where the time is up, unless one is known. [s]
_GRACE = 0.2


def solve(
    problem: PlanProblem,
    systems: int = 5,
    time_limit: float = 60.0,
    tolerance: float = 0.0,
    least: float = -np.inf,
    thrift: ThriftAmong | None = None,
) -> Plan:
    """The best systems for a problem; between equals the cheaper.

    Parameters
    ----------
    problem : PlanProblem
        The choice.
    systems : int
        How many systems to find; each differs from the others in at least one role.
    time_limit : float
        After this the best found so far is given, with its gap. [s]
    tolerance : float
        How much better a system may be and still be passed over; it stands in the plan's bound. [points]
    least : float
        What a system must be worth to be looked for. [points]
    thrift : ThriftAmong or None
        What could be exchanged for something cheaper: systems in which something could are passed over. Where it is
        not given nothing is asked of them.
    """
    start = monotonic()
    per_grain = problem.grain or 1.0
    # worth what is asked for, less than a grain of it goes to the cost
    above = float(problem.grains(np.array(least))) - 1.0 if np.isfinite(least) and problem.grain else least
    best = BestFew(systems, start + time_limit, tolerance / per_grain, tie_of(problem), above)
    kept = possible(problem)
    if all(len(items) for items in kept):
        some = thrift.only(kept) if thrift else None
        work = Work.of(problem.only(kept), some)
        if some:
            best.only = some
        first = work.first_multipliers()
        if problem.most is not None:
            first = _look_at_the_likeliest(work, first, best)
        _explore(work, np.arange(len(kept[0])), first, best)
    return _plan(problem, kept, best, monotonic() - start)


def possible(problem: PlanProblem) -> tuple[IntArray, ...]:
    """For each role the candidates that some system with the rules kept might hold; none at all if rules cannot be."""
    work = Work.of(problem)
    blocks = [work.block(at, work.best_worth(at)) for at in range(len(problem.roles))]
    nobody = tuple(np.zeros(0, dtype=np.int64) for _ in blocks)
    if not all(len(role) for role in problem.roles):
        return nobody
    kept = items_that_can_be_taken(blocks, work.need)
    if not all(len(items) for items in kept):
        return nobody
    if len(work.need.hard) <= 1:
        # with one row to keep, what is within reach of it is in a system that keeps it
        return kept
    left = [block.only(items) for block, items in zip(blocks, kept, strict=True)]
    return kept if tightest(left, work.need).bound > -np.inf else nobody


def tie_of(problem: PlanProblem) -> float:
    """What a minor unit of cost takes off a worth in grains: less than one for all that may be spent; 0 without grains.

    A power of two, so that worth and cost in one number are exact as long as both have no more than 53 bits together.
    """
    return float(2.0 ** -max(1, problem.limit.bit_length())) if problem.grain else 0.0


def _plan(problem: PlanProblem, kept: tuple[IntArray, ...], best: BestFew, seconds: float) -> Plan:
    found = tuple(_system(problem, kept, worth, key) for (worth, _), key in best.found)
    tolerance = best.tolerance * (problem.grain or 1.0)
    left_open = problem.points(best.left_open + (1.0 if best.tie else 0.0))
    bound = max(left_open, *(system.value + tolerance for system in found[:1]), -np.inf)
    outcome = Outcome.BEST if found else Outcome.IMPOSSIBLE
    if best.left_open > -np.inf and best.beaten_by(best.left_open):
        outcome = Outcome.OUT_OF_TIME
    pairs = len(problem.mains) * len(problem.centre)
    return Plan(outcome, found, bound, best.nodes, best.combinations, pairs, seconds)


def _system(problem: PlanProblem, kept: tuple[IntArray, ...], worth: float, key: tuple[int, ...]) -> System:
    pair, *rest = key
    places = (*divmod(pair, len(kept[1])), *rest)
    chosen = [int(items[place]) for items, place in zip(kept, places, strict=True)]
    cost = sum(int(role.cost[at]) for role, at in zip(problem.roles, chosen, strict=True))
    return System({role.role: at for role, at in zip(problem.roles, chosen, strict=True)}, problem.points(worth), cost)


@dataclass(frozen=True, slots=True)
class Work:
    """A problem with its rules as rows: what every candidate uses of each, and what each row needs."""

    problem: PlanProblem
    need: Need
    use: tuple[IntArray, ...]
    thrift: ThriftAmong | None = None

    @classmethod
    def of(cls, problem: PlanProblem, thrift: ThriftAmong | None = None) -> Work:
        """Rows of a problem; those that cannot be missed are left out."""
        rules = problem.all_rules
        least = np.array([rule.least - rule.limit * problem.limit for rule in rules], dtype=np.int64)
        price = np.array([rule.price_of_row / (problem.grain or 1.0) for rule in rules])
        need = Need(least, price, whole=bool(problem.grain))
        use = tuple(_use(problem, role) for role in problem.roles)
        if not all(len(role) for role in problem.roles):
            return cls(problem, need, use, thrift)
        rows = rows_that_can_bind(use, need)
        return cls(problem, need.only(rows), tuple(part[rows] for part in use), thrift)

    @property
    def others(self) -> range:
        """Places of the other roles."""
        return range(2, len(self.problem.roles))

    def block(self, at: int, worth: FloatArray) -> Block:
        """A role as items."""
        return Block(self.problem.grains(worth), self.problem.roles[at].cost, self.use[at], tie_of(self.problem))

    def best_worth(self, at: int) -> FloatArray:
        """What each candidate of a role is worth beside the mains that suit it best."""
        worth = self.problem.roles[at].worth
        return np.asarray(worth if worth.ndim == 1 else worth.max(axis=0))

    def pair_block(self, mains: IntArray, centre: IntArray, together: FloatArray) -> Block:
        """Pairs as items, by what they are worth together. [grains]."""
        grains, one, other = self.problem.grains, self.problem.mains, self.problem.centre
        worth = together + grains(one.worth)[mains] + grains(other.worth)[centre]
        use = self.use[0][:, mains] + self.use[1][:, centre]
        return Block(worth, one.cost[mains] + other.cost[centre], use, tie_of(self.problem))

    def other_blocks(self, voice: int) -> tuple[Block, ...]:
        """The other roles as items, beside mains of one voice group."""
        return tuple(self.block(at, self.problem.roles[at].worth_beside(voice)) for at in self.others)

    def best_others(self) -> tuple[Block, ...]:
        """The other roles as items, beside the best of all voice groups."""
        return tuple(self.block(at, self.best_worth(at)) for at in self.others)

    def first_multipliers(self) -> Dual:
        """Multipliers from some of the pairs, beside the best of all voice groups."""
        problem = self.problem
        size = _SAMPLE if problem.most is None else _SMALL_SAMPLE
        mains, centres = _sample(problem.mains, size), _sample(problem.centre, size)
        together = problem.grains(problem.match_rows(mains, centres))
        row, column = np.nonzero(np.isfinite(together))
        if not len(row):
            return Dual(np.zeros(len(self.need)), np.inf)
        pairs = self.pair_block(mains[row], centres[column], together[row, column])
        return tightest((pairs, *self.best_others()), self.need)

    def others_add(self, multipliers: FloatArray) -> FloatArray:
        """The most that the other roles can add, by voice group."""
        groups = max((len(role.worth) for role in self.problem.others if role.worth.ndim == 2), default=0)
        groups = max(groups, 1 if self.problem.voice is None else int(self.problem.voice.max()) + 1)
        total = np.zeros(groups)
        for at in self.others:
            role = self.problem.roles[at]
            priced = multipliers @ self.use[at] - tie_of(self.problem) * role.cost
            total += np.max(self.problem.grains(role.worth) + priced, axis=-1)
        return total

    def added(self, multipliers: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What is added to what a pair is worth together, for its mains and for its centre, to bound its systems."""
        problem = self.problem
        beside = self.others_add(multipliers)[problem.voice_of(np.arange(len(problem.mains)))]
        own, theirs = (
            problem.grains(role.worth) - tie_of(problem) * role.cost + multipliers @ use
            for role, use in zip((problem.mains, problem.centre), self.use, strict=False)
        )
        return own + beside - multipliers @ self.need.least, theirs

    def bounded(self, mains: IntArray, multipliers: FloatArray, floor: float, deadline: float = np.inf) -> Pairs:
        """The pairs of some mains with the highest bounds under these multipliers."""
        return best_pairs(self.problem, mains, *self.added(multipliers), floor, KEEP, deadline)


def _use(problem: PlanProblem, role: Candidates) -> IntArray:
    return np.stack([np.asarray(rule.use(role), dtype=np.int64) for rule in problem.all_rules])


def _sample(role: Candidates, size: int) -> IntArray:
    """Some candidates spread evenly over what they cost, cheapest and dearest among them."""
    by_cost = np.argsort(role.cost, kind="stable")
    return by_cost[np.unique(np.linspace(0, len(role) - 1, min(len(role), size)).astype(np.int64))]


def _look_at_the_likeliest(work: Work, dual: Dual, best: BestFew) -> Dual:
    """Search among the pairs that could be worth most, and take the multipliers of what was found there."""
    problem = work.problem
    assert problem.most is not None
    mains_add, centre_add = work.added(dual.multipliers)
    mains = np.argsort(-mains_add, kind="stable")[:_LIKELIEST]
    kin = np.zeros(len(mains), dtype=np.int64) if problem.kin is None else problem.kin[mains]
    most = (problem.grains(problem.most[np.unique(kin)]) + centre_add).max(axis=0)
    centres = np.argsort(-most, kind="stable")[: 4 * _LIKELIEST]
    together = problem.grains(problem.match_rows(mains, centres))
    bounds = together + mains_add[mains][:, None] + centre_add[centres]
    row, column = np.nonzero(np.isfinite(bounds))
    if not len(row):
        return dual
    pairs = Pairs(mains[row], centres[column], together[row, column], bounds[row, column], -np.inf)
    deadline = best.deadline
    best.deadline = deadline if best.least > -np.inf else max(deadline, monotonic() + _GRACE)
    _search_by_voice(work, pairs, best)
    best.deadline = deadline
    return _multipliers_of(work, _worthwhile(work, pairs)) or dual


def _explore(work: Work, mains: IntArray, dual: Dual, best: BestFew) -> None:
    """Look at every system with these mains that could be among the best few."""
    # what only equals the bar is worth a look as long as its bound may be off by rounding
    pairs = work.bounded(mains, dual.multipliers, best.bar - 2 * best.margin(best.bar), best.deadline)
    _search_by_voice(work, pairs, best)
    if not best.beaten_by(pairs.dropped):
        return
    if best.out_of_time:
        best.leave_open(pairs.dropped)
        return
    better = _multipliers_of(work, _worthwhile(work, pairs)) or dual
    if len(mains) == 1:
        _search_by_voice(work, _all_pairs_of(work, mains, better), best)
        return
    for half in np.array_split(mains, 2):
        _explore(work, half, better, best)


def _worthwhile(work: Work, pairs: Pairs) -> Pairs:
    """Those of some pairs that are not known to be worth less than they cost."""
    if work.thrift is None:
        return pairs
    left = ~work.thrift.spoilt(pairs.mains * len(work.problem.centre) + pairs.centre)
    return Pairs(pairs.mains[left], pairs.centre[left], pairs.together[left], pairs.bound[left], pairs.dropped)


def _multipliers_of(work: Work, pairs: Pairs) -> Dual | None:
    """Multipliers from the pairs that were kept; none where there are none."""
    if not len(pairs.mains):
        return None
    block = work.pair_block(pairs.mains, pairs.centre, pairs.together)
    return tightest((block, *work.best_others()), work.need)


def _all_pairs_of(work: Work, mains: IntArray, dual: Dual) -> Pairs:
    """Every allowed pair of one of the mains, however many there are."""
    centre = np.arange(len(work.problem.centre))
    together = work.problem.grains(work.problem.match_rows(mains)[0])
    centre = centre[np.isfinite(together)]
    repeated = np.repeat(mains, len(centre))
    return Pairs(repeated, centre, together[centre], np.full(len(centre), dual.bound), -np.inf)


def _search_by_voice(work: Work, pairs: Pairs, best: BestFew) -> None:
    """Search the voice groups, the one with the highest bound first."""
    voice = work.problem.voice_of(pairs.mains)
    groups, place = np.unique(voice, return_inverse=True)
    highest = np.full(len(groups), -np.inf)
    np.maximum.at(highest, place, pairs.bound)
    for group in np.argsort(-highest, kind="stable"):
        if not best.beaten_by(highest[group]):
            return
        if best.out_of_time:
            best.leave_open(float(highest[group]))
            return
        _search_group(work, pairs, np.flatnonzero(place == group), int(groups[group]), best)


def _search_group(work: Work, pairs: Pairs, chosen: IntArray, voice: int, best: BestFew) -> None:
    chosen = chosen[pairs.bound[chosen] > best.bar - 2 * best.margin(best.bar)]
    mains, centre = pairs.mains[chosen], pairs.centre[chosen]
    others = work.other_blocks(voice)
    names = [np.arange(len(block)) for block in others]
    if work.thrift is not None:
        names = [work.thrift.worthwhile(at, block, work.need) for at, block in zip(work.others, others, strict=True)]
    pair = work.pair_block(mains, centre, pairs.together[chosen])
    blocks = (pair, *(block.only(items) for block, items in zip(others, names, strict=True)))
    whole = Part(blocks, (mains * len(work.problem.centre) + centre, *names), None)
    search(work.thrift.by_need(whole, work.need) if work.thrift is not None else (whole,), work.need, best)
