"""What a ranking is worth when figures are missing: draws of every score, and who comes first in how many.

Everything here is arrays of K leading candidates; it knows no database and no terminal.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from statistics import NormalDist
from typing import Final

import numpy as np

from triptych.recommender.judge.criteria.definitions import COVERAGE, HEADROOM
from triptych.recommender.judge.criterion import CriterionValues, utility
from triptych.recommender.judge.gates.speech import DEAD_DIP
from triptych.recommender.scene.arrays import BoolArray, FloatArray

DRAWS: Final = 2_000
"""How often every score is drawn."""

SEED: Final = 1_959
"""The draws are the same each time, so an answer can be repeated."""

INTERVAL: Final = (15.0, 85.0)
"""The percentiles of drawn scores between which at least nine true scores in ten lie where a datasheet leaves nothing
out: draws go to the ends of what is plausible for everything at once, and truths seldom do. `bench_calibration`."""

OPEN_INTERVAL: Final = (9.0, 91.0)
"""The same where half of what a model needs of the drivers is left out: what is taken for the rest hangs on that too,
so that truths go nearer to the ends, and intervals of timbre or coverage alone held 88 in 100. `bench_calibration`."""

HALF_OPEN: Final = 0.499
"""From this share of its drivers on a datasheet leaves half of them out."""

STRATA: Final = 400
"""How many draws an interval is taken from: strata of equal chance, so that few do."""

LOST: Final = 1_000.0
"""What a draw in which a regular seat loses its speech takes off a score: it comes after all others [points]."""


@dataclass(frozen=True, slots=True)
class Cause:
    """One number nobody stated: the criteria it enters, and whether all candidates share it (it is the mains').

    Of the criteria in `ends` an interval reaches to the ends however little of it is unknown.
    """

    name: str
    criteria: tuple[str, ...]
    shared: bool = False
    ends: tuple[str, ...] = ()


CAUSES: Final = (
    Cause("voicing", ("timbre",)),
    Cause("drivers", ("coverage", "timbre"), ends=("coverage", "timbre")),
    Cause("mains' drivers", ("timbre",), shared=True, ends=("timbre",)),
    Cause("floor", ("timbre",), shared=True),
    Cause("furniture", ("surroundings",), shared=True),
    Cause("picture", ("surroundings",), shared=True),
    Cause("sensitivity", ("headroom",)),
    Cause("room gain", ("headroom",), shared=True),
    Cause("drive", ("headroom",), shared=True),
    Cause("load", ("headroom",), shared=True),
    Cause("axis", ("aim", "timbre")),
    Cause("ear", ("aim", "coverage", "timbre"), shared=True, ends=("aim",)),
    Cause("mains' axis", ("aim", "timbre"), shared=True),
    Cause("feet", ("aim",)),
    Cause("mains' feet", ("aim",), shared=True),
    Cause("mains' wall", ("timbre",), shared=True),
    Cause("outside", ("aim", "timbre", "coverage"), ends=("aim", "timbre", "coverage")),
    Cause("port", ("surroundings", "reach"), ends=("surroundings", "reach")),
    Cause("price", ("balance",)),
    Cause("mains' price", ("balance",), shared=True),
    Cause("low limit", ("reach",)),
)
"""Every unknown that enters a criterion. One that enters two moves both the same way."""

OWN_DRIVERS: Final = next(place for place, cause in enumerate(CAUSES) if cause.name == "drivers")
"""Where among the causes the drivers of a candidate stand."""

CERTAIN: Final = frozenset({"voicing", "floor", "furniture"})
"""What no file says of any loudspeaker, so that no interval has to reach to its ends."""


@dataclass(frozen=True, slots=True)
class Risk:
    """A condition of one gate that may turn out to rule a candidate out: how likely, for each of K candidates [1].

    Candidates of one `group` share the answer, as it is about the room or one of its places; those of -1 don't.
    """

    gate: str
    chance: FloatArray
    group: FloatArray


@dataclass(frozen=True, slots=True)
class Draws:
    """Scores drawn for K candidates, with the standard normal that each cause had in each draw.

    `out` says in which draws a gate rules a candidate out, `lost` in which it comes after all others, as a regular seat
    loses its speech or it stands far too high; `gates` are the chances that decided on each risk.
    """

    scores: FloatArray
    causes: FloatArray
    unknown: FloatArray
    out: BoolArray
    lost: BoolArray
    gates: FloatArray

    @property
    def order(self) -> FloatArray:
        """What sorts the candidates in each draw: the score, after all others where a seat is lost, -inf where out."""
        return np.where(self.out, -np.inf, self.scores - LOST * self.lost)

    @property
    def worth(self) -> FloatArray:
        """What choosing each candidate brings in each draw: its score, nothing where it is ruled out."""
        return np.where(self.out, 0.0, self.scores)


def normal_distribution(value: FloatArray) -> FloatArray:
    """The distribution function of the standard normal. Abramowitz & Stegun 26.2.17, to 7.5e-8."""
    size = np.abs(value)
    t = 1 / (1 + 0.2316419 * size)
    tail = 1.330274429 * t
    # in place, as there are many: most of the time would go into getting memory
    for part in (-1.821255978, 1.781477937, -0.356563782, 0.319381530):
        tail += part
        tail *= t
    density = np.exp(np.multiply(np.square(size, out=size), -0.5, out=size), out=size)
    density /= np.sqrt(2 * np.pi)
    tail *= density
    return np.asarray(np.subtract(1, tail, out=tail, where=~(value < 0)))


def triangular(chance: FloatArray, low: FloatArray, likely: FloatArray, high: FloatArray) -> FloatArray:
    """The value that a triangular distribution reaches with a chance; the likely value where it has no width."""
    width = high - low
    at_likely = np.divide(likely - low, width, out=np.zeros_like(likely), where=width > 0)
    rising = chance < at_likely
    square = np.where(rising, chance, 1 - chance)
    square *= width
    square *= np.where(rising, likely - low, high - likely)
    drawn = np.sqrt(np.maximum(square, 0, out=square), out=square)
    np.negative(drawn, out=drawn, where=~rising)
    drawn += np.where(rising, low, high)
    return drawn if (width > 0).all() else np.where(width > 0, drawn, likely)


def draw(
    criteria: Sequence[CriterionValues],
    weights: Mapping[str, float],
    unknown: Mapping[str, FloatArray],
    risks: Sequence[Risk] = (),
    draws: int = DRAWS,
) -> Draws:
    """Draw the scores of K candidates from the ranges of their criteria, and what their conditions come to.

    Parameters
    ----------
    criteria : sequence of CriterionValues
        The criteria, each for K candidates.
    weights : mapping
        Weight of each criterion. [1]
    unknown : mapping of str to array
        For each cause, how much of it is unknown for each candidate: 0 for a stated figure, [K]. [1]
    risks : sequence of Risk
        The conditions that may turn out to rule candidates out.
    draws : int
        How often. [1]

    Notes
    -----
    Each criterion follows a triangular distribution over its low, likely and high value. Its chance comes from the
    normals of its causes, weighted so that it stays a standard normal (a Gaussian copula): a cause that enters two
    criteria moves both, and one that is the mains' moves all candidates alike. Where headroom is drawn below nothing
    the gate of level fails, and where coverage is drawn so large that its dip would be beyond the limit a seat is lost.
    """
    count = len(criteria[0].value)
    shares = _shares(unknown, count)
    causes = np.zeros((len(CAUSES), draws, count))
    for place, cause in enumerate(CAUSES):
        # what is known everywhere needs no draws
        if shares[place].any():
            causes[place] = _normals(cause.name, draws, 1 if cause.shared else count)
    values = {
        one.criterion.name: _drawn(
            one, causes, shares, partial(_normals, OF_CRITERION + one.criterion.name, draws, count)
        )
        for one in criteria
    }
    chances = np.zeros((len(risks), draws, count))
    out = np.zeros((draws, count), dtype=np.bool_)
    if any(one.criterion is HEADROOM for one in criteria):
        out |= values[HEADROOM.name] < 0
    for row, risk in enumerate(risks):
        own = normal_distribution(_normals(OF_GATE + risk.gate, draws, 2 * count))
        shared = np.maximum(risk.group, 0).astype(np.intp)
        chances[row] = np.where(risk.group < 0, own[:, :count], own[:, count:][:, np.minimum(shared, count - 1)])
        out |= chances[row] < risk.chance
    scores = np.broadcast_to(_scores(criteria, weights, values), (draws, count))
    lost = _lost(criteria, values)
    return Draws(scores, causes, shares, out, lost, chances)


def interval(
    criteria: Sequence[CriterionValues], weights: Mapping[str, float], unknown: Mapping[str, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Between which scores each of N candidates lies, whichever door is asked [0 to 100].

    At least nine in ten true scores are within, and so is what any one unknown alone could make of the likely score.
    """
    count = len(criteria[0].value)
    shares = _shares(unknown, count)
    streams = np.stack([_stratified(cause.name) for cause in CAUSES])
    causes = np.broadcast_to(streams[:, :, None], (len(CAUSES), STRATA, count))
    values = {one.criterion.name: _drawn_alike(one, causes, shares) for one in criteria}
    scores = np.broadcast_to(_scores(criteria, weights, values), (STRATA, count))
    ends = list(np.percentile(scores, INTERVAL, axis=0))
    open_ = np.flatnonzero(shares[OWN_DRIVERS] >= HALF_OPEN)
    if len(open_):
        for end, wider in zip(ends, np.percentile(scores[:, open_], OPEN_INTERVAL, axis=0), strict=True):
            end[open_] = wider
    likely = {one.criterion.name: one.value[None] for one in criteria}
    ends.append(_scores(criteria, weights, likely)[0])
    for place, cause in enumerate(CAUSES):
        if cause.name in CERTAIN or not shares[place].any():
            continue
        least = {name: 0.0 if name in cause.ends else MOSTLY_UNKNOWN for name in cause.criteria}
        for end in ("poorest", "finest"):
            moved = {
                one.criterion.name: np.where(
                    (shares[place] > 0) & (shares[place] >= least[one.criterion.name]), _end(one, cause, end), one.value
                )[None]
                for one in criteria
                if one.criterion.name in least
            }
            ends.append(_scores(criteria, weights, likely | moved)[0])
    return np.min(ends, axis=0), np.max(ends, axis=0)


def _end(values: CriterionValues, cause: Cause, end: str) -> FloatArray:
    """The worse or the better end of what a cause alone may make of a criterion."""
    whose = OF_DRIVERS.get(cause.name)
    name = f"{whose}_{'high' if end == 'poorest' else 'low'}"
    return values.numbers[name] if name in values.numbers else np.asarray(getattr(values, end))


OF_DRIVERS: Final = {"drivers": "drivers", "mains' drivers": "mains"}
"""What the numbers of a criterion call the ends that a cause about drivers may reach."""


MOSTLY_UNKNOWN: Final = 0.5
"""From this share on an interval reaches to the ends of what an unknown enters; of what is less, the draws hold."""


@lru_cache(maxsize=64)
def _stratified(stream: str) -> FloatArray:
    """Standard normals of equal chance, shuffled; each stream its own way, and the same each time."""
    normal = NormalDist()
    quantiles = [normal.inv_cdf((place + 0.5) / STRATA) for place in range(STRATA)]
    return _generator(stream).permutation(quantiles)


def _column(stream: str) -> FloatArray:
    """The same as a column, for all candidates alike."""
    return _stratified(stream)[:, None]


def _shares(unknown: Mapping[str, FloatArray], count: int) -> FloatArray:
    return np.vstack([np.broadcast_to(unknown.get(cause.name, np.zeros(count)), count) for cause in CAUSES])


def _drawn(
    values: CriterionValues, causes: FloatArray, shares: FloatArray, noise: Callable[[], FloatArray]
) -> FloatArray:
    """The drawn values of one criterion, draws x candidates; one row where nothing of it is in doubt."""
    if not (values.high > values.low).any():
        return values.value[None]
    mixed = _mixed(values.criterion.name, causes, shares, noise)
    return triangular(normal_distribution(mixed), values.low, values.value, values.high)


def _drawn_alike(values: CriterionValues, causes: FloatArray, shares: FloatArray) -> FloatArray:
    """The same where all candidates share the draws: those of whom as much is unknown of each cause, their chances."""
    if not (values.high > values.low).any():
        return values.value[None]
    name = values.criterion.name
    own = shares[[name in cause.criteria for cause in CAUSES]]
    _, first, which = np.unique(own, axis=1, return_index=True, return_inverse=True)
    mixed = _mixed(name, causes[:, :, first], shares[:, first], partial(_column, OF_CRITERION + name))
    chance = normal_distribution(mixed).take(which.ravel(), axis=1)
    return triangular(chance, values.low, values.value, values.high)


def _scores(
    criteria: Sequence[CriterionValues], weights: Mapping[str, float], values: Mapping[str, FloatArray]
) -> FloatArray:
    """Scores from 0 to 100 of drawn values, draws x candidates."""
    total = sum(weights[one.criterion.name] for one in criteria)
    logs = sum(
        weights[one.criterion.name] / total * np.log(utility(one.criterion, values[one.criterion.name]))
        for one in criteria
    )
    return np.asarray(100 * np.exp(logs))


UNTOLD_DIP: Final = 1.4
"""The deepest dip against coverage, which is half of it and half of the rms, where nothing is modelled [1]. Assumed."""


def _lost(criteria: Sequence[CriterionValues], values: Mapping[str, FloatArray]) -> BoolArray:
    """In which draws the dip that comes with the coverage is beyond what a regular seat bears."""
    found = next((one for one in criteria if one.criterion is COVERAGE and "dip" in one.numbers), None)
    if found is None:
        return np.zeros((1, len(criteria[0].value)), dtype=np.bool_)
    dip = np.abs(found.numbers["dip"])
    part = np.divide(dip, found.value, out=np.full_like(dip, UNTOLD_DIP), where=np.isfinite(dip) & (found.value > 0))
    return np.asarray(values[COVERAGE.name] * part > DEAD_DIP)


def _normals(stream: str, draws: int, count: int) -> FloatArray:
    """Standard normals; each stream is its own, and the same each time."""
    return _generator(stream).standard_normal((draws, count))


OF_CRITERION: Final = "of "
"""Before the name of a criterion whose range no cause accounts for."""

OF_GATE: Final = "gate "
"""Before the name of a gate."""


def _generator(stream: str) -> np.random.Generator:
    """What a stream is drawn by: named, so that a new unknown changes none of the others."""
    return np.random.default_rng((SEED, zlib.crc32(stream.encode())))


def _mixed(criterion: str, causes: FloatArray, shares: FloatArray, noise: Callable[[], FloatArray]) -> FloatArray:
    """The standard normal of one criterion, from its causes; its own noise where none of them is unknown."""
    own = [place for place, cause in enumerate(CAUSES) if criterion in cause.criteria]
    share = shares[own]
    total = share.sum(axis=0)
    weight = np.sqrt(np.divide(share, total, out=np.zeros_like(share), where=total > 0))
    mixed = np.zeros(causes.shape[1:])
    for place, part in zip(own, weight, strict=True):
        if part.any():
            mixed += part * causes[place]
    return mixed if (total > 0).all() else np.where(total > 0, mixed, noise())


@dataclass(frozen=True, slots=True)
class DrawnPlaces:
    """For each of K candidates the chances that it is first, in the first three, and that no gate rules it out."""

    first: FloatArray
    top_three: FloatArray
    stands: FloatArray


def places(drawn: Draws) -> DrawnPlaces:
    """The chances of K candidates. A draw that rules all of them out has no first."""
    order = np.argsort(-drawn.order, axis=1, kind="stable")
    place = np.argsort(order, axis=1, kind="stable")
    stands = ~np.broadcast_to(drawn.out, drawn.order.shape)
    return DrawnPlaces(((place == 0) & stands).mean(axis=0), ((place < 3) & stands).mean(axis=0), stands.mean(axis=0))
