"""The score of every centre beside every mains, in the best place of the room: what `match` gives, for all pairs.

What does not depend on the mains (coverage, headroom, surroundings, reach, all gates but trim) is computed once for
each place. The difference in timbre is |a|² + |b|² − 2ab over responses with their mean removed, so for all pairs it is
a matrix product for the direct sound and one for the sound power.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.recommender.advise.evaluate import Option
from triptych.recommender.advise.planning.setting import Setting, mains_angles, mains_distances
from triptych.recommender.judge.criteria import definitions
from triptych.recommender.judge.criteria.placing import MAINS_AXIS
from triptych.recommender.judge.criteria.sound import RELATION_WORD, Relation, voicing_left
from triptych.recommender.judge.criterion import CriterionValues
from triptych.recommender.judge.gates.drive import TRIM_RANGE
from triptych.recommender.judge.gates.fit import ROUNDING
from triptych.recommender.judge.ranking import utility
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.money.planner.problem import IntArray
from triptych.recommender.physics import geometry, level, timbre
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.profile import decibels, level_at_each
from triptych.recommender.physics.sensitivity import REFERENCE_VOLTAGE
from triptych.recommender.scene.arrays import BoolArray, Boxes, CodeArray, FloatArray, IndexArray, Loading, Seats
from triptych.recommender.scene.hearing import Listening, Voices
from triptych.recommender.scene.levels import sensitivity_range
from triptych.recommender.scene.measured import HORIZONTAL, VERTICAL, Measured

PAIR_CRITERIA: Final = ("timbre", "aim", "balance")
"""The criteria that depend on which mains a centre stands beside."""

STEEP: Final = 60.0
"""The mains' response is looked up no further up or down than this [deg], as `match` does."""


@dataclass(frozen=True, slots=True)
class Kin:
    """Who made what: codes of maker, family (-1 for none) and model, and the loading of the tweeter."""

    maker: IntArray
    family: IntArray
    model: IntArray
    loading: CodeArray

    def take(self, rows: IndexArray) -> Kin:
        """Those of some loudspeakers."""
        return Kin(self.maker[rows], self.family[rows], self.model[rows], self.loading[rows])


def voicing(one: Kin, other: Kin) -> FloatArray:
    """The assumed voicing difference of every one with every other [dB], one x other."""
    code = np.full((len(one.maker), len(other.maker)), Relation.UNRELATED, dtype=np.intp)
    code[one.maker[:, None] == other.maker] = Relation.MAKER
    code[(one.family[:, None] == other.family) & (one.family[:, None] >= 0)] = Relation.FAMILY
    code[one.model[:, None] == other.model] = Relation.IDENTICAL
    base = np.array([timbre.VOICING[RELATION_WORD[relation]] for relation in Relation])[code]
    known = (one.loading[:, None] != Loading.UNKNOWN) & (other.loading != Loading.UNKNOWN)
    return np.asarray(np.hypot(base, timbre.LOADING * (known & (one.loading[:, None] != other.loading))))


@dataclass(frozen=True, slots=True)
class Sound:
    """What the primary seat hears of N loudspeakers: direct sound and sound power in bands [dB], NaN where not known.

    `measured` and `whole` say of which the direct sound, and the sound power too, were measured.
    """

    direct: FloatArray
    power: FloatArray
    measured: BoolArray
    whole: BoolArray

    @classmethod
    def of(cls, direct: FloatArray | Single, power: FloatArray | Single, voices: Measured) -> Sound:
        """Levels against the axis, with what was measured on it added."""
        axis = np.asarray(voices.axis, dtype=np.float64)
        return cls(np.asarray(direct + axis), np.asarray(power + axis), voices.direct, voices.whole)

    def take(self, rows: IntArray) -> Sound:
        """Some of them."""
        return Sound(self.direct[rows], self.power[rows], self.measured[rows], self.whole[rows])


@dataclass(frozen=True, slots=True)
class Fronts:
    """M mains, as a centre is held against them."""

    sound: Sound
    kin: Kin
    axis_height: FloatArray
    along: FloatArray
    level_low: FloatArray
    level_high: FloatArray
    price: FloatArray

    def take(self, rows: IntArray) -> Fronts:
        """Some of them."""
        arrays = (self.axis_height, self.along, self.level_low, self.level_high, self.price)
        return Fronts(self.sound.take(rows), self.kin.take(rows), *(array[rows] for array in arrays))


@dataclass(frozen=True, slots=True)
class Stood:
    """Centres in one place and pose that no gate forbids there, the mains apart: `index` are theirs in the offer."""

    place: str
    pose: str
    index: IndexArray
    base: FloatArray
    weight: float
    sound: Sound
    axis_height: FloatArray
    ear_distance: FloatArray
    residual: FloatArray
    level_low: FloatArray
    level_high: FloatArray
    criteria: tuple[CriterionValues, ...]
    kept: IndexArray


def apart(one: Sound, other: Sound) -> FloatArray:
    """The squared timbre difference of every one from every other, without voicing, one x other [dB²]."""
    return (_variance(one.direct, other.direct) + _variance(one.power, other.power)) / 2


def _variance(one: FloatArray, other: FloatArray) -> FloatArray:
    """The variance over bands of every difference, one x other; a band that is NaN in either is not compared."""
    if not (np.isnan(one).any() or np.isnan(other).any()):
        return _whole_variance(one, other)
    there, there_too = (~np.isnan(levels) for levels in (one, other))
    first, second = np.nan_to_num(one), np.nan_to_num(other)
    one_known, other_known = there.astype(np.float64), there_too.astype(np.float64)
    count = one_known @ other_known.T
    total = first @ other_known.T - one_known @ second.T
    squares = first**2 @ other_known.T + one_known @ (second**2).T - 2 * (first @ second.T)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.maximum(squares / count - (total / count) ** 2, 0.0))


def _whole_variance(one: FloatArray, other: FloatArray) -> FloatArray:
    first, second = (levels - levels.mean(axis=1, keepdims=True) for levels in (one, other))
    squares = np.einsum("ib,ib->i", first, first)[:, None] + np.einsum("ib,ib->i", second, second)
    return np.asarray(np.maximum(squares - 2 * (first @ second.T), 0.0) / one.shape[1])


def fronts(boxes: Boxes, voices: Voices, kin: Kin, setting: Setting, price: FloatArray) -> Fronts:
    """The mains as they are heard at the primary seat; on their axis where no room is given."""
    seats = setting.seats
    if seats is None:
        nothing = np.full(len(boxes), np.nan)
        sound = in_the_window(voices)
        return Fronts(sound, kin, nothing, nothing, nothing, nothing, price)
    low, _, high = sensitivity_range(boxes.sensitivity, boxes.basis)
    silent = np.isnan(boxes.sensitivity)
    distances = mains_distances(setting, seats, boxes)[:, seats.primary]
    axis_height = setting.axis_height(boxes)
    rise = np.nan_to_num(axis_height - seats.ear_height[seats.primary])
    return Fronts(
        sound=Sound.of(_direct(boxes, voices, setting, seats), voices.power, voices.measured),
        kin=kin,
        axis_height=axis_height,
        along=np.sqrt(np.maximum(distances.mean(axis=1) ** 2 - rise**2, 0.0)),
        level_low=_level(np.where(silent, np.nan, low)[:, None], distances).mean(axis=1),
        level_high=_level(np.where(silent, np.nan, high)[:, None], distances).mean(axis=1),
        price=price,
    )


def in_the_window(voices: Voices) -> Sound:
    """What is heard where no seat is known: the listening window, and the sound power."""
    return Sound.of(decibels(voices.profile.listening_window), voices.power, voices.measured)


def _level(sensitivity: FloatArray, distance: FloatArray) -> FloatArray:
    return level.direct_level(sensitivity, REFERENCE_VOLTAGE, distance)


def _direct(boxes: Boxes, voices: Voices, setting: Setting, seats: Seats) -> FloatArray:
    """The level of the mains at the primary seat against their own axis [dB], as `hearing.mains_at_primary`."""
    angles = mains_angles(setting, seats, seats.primary, boxes)
    across = np.stack([_towards(voices, HORIZONTAL, angles[:, side]) for side in (0, 1)])
    mean = 10 * np.log10(np.mean(10 ** (across / 10), axis=0))
    along = seats.distance[seats.primary] - setting.from_wall(boxes)
    rise = -geometry.elevation(setting.axis_height(boxes), seats.ear_height[seats.primary], along)
    up = _towards(voices, VERTICAL, np.clip(np.nan_to_num(rise), -STEEP, STEEP))
    return np.asarray(np.where(np.isnan(rise)[:, None], mean, mean + up))


def _towards(voices: Voices, plane: int, angle: FloatArray) -> Single:
    """The level of each loudspeaker at an angle of its own [dB], measured where it was."""
    levels = level_at_each(voices.profile.planes[:, plane], angle)
    if voices.measured.any:
        voices.measured.overlay(levels, np.arange(len(levels)), plane, angle, voices.usable)
    return levels


def stood(
    found: Sequence[Option], voices: Voices, seats: Seats, weights: Mapping[str, float], whatever: bool
) -> list[Stood]:
    """The centres that pass every gate in each place and pose, or all of them where they are owned already."""
    listening = Listening(
        voices,
        {angle for option in found if not option.on_side for angle in option.azimuth.tolist()},
        {angle for option in found if option.on_side for angle in option.azimuth.tolist()},
    )
    return [one for option in found if len((one := _stood(option, listening, seats, weights, whatever)).index)]


def _stood(option: Option, listening: Listening, seats: Seats, weights: Mapping[str, float], whatever: bool) -> Stood:
    passes = np.flatnonzero(whatever | (option.verdict[option.kept] <= Verdict.CONDITIONAL))
    here = option.kept[passes]
    aim, loud = option.aim.take(here), option.levels.take(here)
    heard = listening.at_seats(option.index[here], option.azimuth, aim, seats, option.on_side)
    rise = np.nan_to_num(aim.axis_height - seats.ear_height[seats.primary])
    distance = np.hypot(aim.ear_distance, rise)
    return Stood(
        place=option.place.name,
        pose=option.pose,
        index=option.index[here],
        base=base_log(option.criteria, weights)[passes],
        weight=sum(weights[one.criterion.name] for one in option.criteria if one.criterion.name not in PAIR_CRITERIA),
        sound=Sound(
            np.asarray(heard.levels[:, seats.primary] + heard.axis, dtype=np.float64),
            np.asarray(heard.power + heard.axis, dtype=np.float64),
            heard.direct,
            heard.whole,
        ),
        axis_height=aim.axis_height,
        ear_distance=aim.ear_distance,
        residual=np.abs(aim.residual),
        level_low=_level(loud.sensitivity[0], distance),
        level_high=_level(loud.sensitivity[2], distance),
        criteria=option.criteria,
        kept=passes,
    )


def base_log(criteria: Sequence[CriterionValues], weights: Mapping[str, float]) -> FloatArray:
    """The part of the logarithm of a score that does not depend on the mains."""
    own = [one for one in criteria if one.criterion.name not in PAIR_CRITERIA]
    return np.asarray(sum(weights[one.criterion.name] * np.log(utility(one.criterion, one.value)) for one in own))


def pair_scores(
    front: Fronts,
    centre: Stood,
    kin: Kin,
    price: FloatArray,
    seats: Seats | None,
    weights: Mapping[str, float],
    trim_range: float,
) -> FloatArray:
    """Scores from 0 to 1 in one place, mains x centres there; -inf where the trim is out of the processor's range."""
    total = sum(weights.values())
    logs = np.tile(centre.base, (len(front.price), 1))
    direct = front.sound.measured[:, None] & centre.sound.measured
    own = voicing(front.kin, kin) * voicing_left(direct, front.sound.whole[:, None] & centre.sound.whole)
    unlike = np.sqrt(apart(front.sound, centre.sound) + own**2)
    logs += weights["timbre"] * np.log(utility(definitions.TIMBRE, unlike))
    ratio = price / front.price[:, None]
    logs += weights["balance"] * np.log(utility(definitions.BALANCE, np.where(np.isnan(ratio), 0.75, ratio)))
    if seats is not None:
        logs += weights["aim"] * np.log(
            utility(definitions.AIM, np.hypot(centre.residual, _heights_apart(front, centre, seats)))
        )
    return np.where(_trim_fails(front, centre, trim_range), -np.inf, np.exp(logs / total))


def _heights_apart(front: Fronts, centre: Stood, seats: Seats) -> FloatArray:
    height = np.where(np.isnan(front.axis_height), MAINS_AXIS[1], front.axis_height)
    ear = float(seats.ear_height[seats.primary])
    return np.abs(
        geometry.height_difference_angle(
            centre.axis_height, centre.ear_distance, height[:, None], front.along[:, None], ear
        )
    )


def _trim_fails(front: Fronts, centre: Stood, trim_range: float) -> BoolArray:
    limit = TRIM_RANGE if np.isnan(trim_range) else trim_range
    low = front.level_low[:, None] - centre.level_high
    high = front.level_high[:, None] - centre.level_low
    least = np.where(low * high < 0, 0.0, np.minimum(np.abs(low), np.abs(high)))
    return np.asarray(least > limit + ROUNDING)


BLOCK: Final = 500_000
"""So many pairs are scored at once; more would leave the processor's cache for nothing."""


@dataclass(frozen=True, slots=True)
class Pairing:
    """Every mains beside every centre: `allowed` says which pairs there may be, mains x centres."""

    front: Fronts
    places: tuple[Stood, ...]
    kin: Kin
    price: FloatArray
    allowed: BoolArray
    seats: Seats | None
    weights: Mapping[str, float]
    trim_range: float

    def rows(self, mains: IntArray) -> FloatArray:
        """Scores from 0 to 1 of some mains beside every centre in its best place; -inf where there is none."""
        step = max(1, BLOCK // max(1, len(self.price)))
        parts = [self._block(mains[start : start + step]) for start in range(0, len(mains), step)]
        return np.concatenate(parts) if parts else np.zeros((0, len(self.price)))

    def _block(self, mains: IntArray) -> FloatArray:
        best = np.full((len(mains), len(self.price)), -np.inf)
        for one in self.places:
            best[:, one.index] = np.maximum(best[:, one.index], self._in(one, mains))
        return np.where(self.allowed[mains], best, -np.inf)

    def _in(self, one: Stood, mains: IntArray) -> FloatArray:
        kin, price = self.kin.take(one.index), self.price[one.index]
        return pair_scores(self.front.take(mains), one, kin, price, self.seats, self.weights, self.trim_range)

    def best_place(self, mains: int, centre: int) -> tuple[Stood, int, float] | None:
        """The place in which a centre scores best beside some mains, where in that place's lists it is, the score."""
        found = []
        for one in self.places:
            at = int(np.searchsorted(one.index, centre))
            if at < len(one.index) and one.index[at] == centre:
                found.append((one, at, float(self._in(one, np.array([mains]))[0, at])))
        return max(found, key=lambda entry: entry[2], default=None)
