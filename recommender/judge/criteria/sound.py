"""How a centre sounds beside the mains: timbre, and the kinship that it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from enum import IntEnum
from typing import Final

import numpy as np

from triptych.recommender.judge.criteria.definitions import TIMBRE
from triptych.recommender.judge.criterion import LEAST_TOLD, CriterionValues, at_most_middle, criterion_values
from triptych.recommender.physics import timbre
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.loudspeaker import Assumed
from triptych.recommender.scene.arrays import (
    BoolArray,
    CodeArray,
    FloatArray,
    IndexArray,
    InRoom,
    Kin,
    Loading,
    Sound,
)
from triptych.recommender.scene.boundaries import EVERY_FLOOR, LAST_FLOORS

UNTOLD_TIMBRE: Final = (0.3, 3.3, 7.0)
"""Low, likely and high timbre difference where a model can't be made [dB]: what the usual layouts come to beside a
tower, at one seat or at seats up to 27 deg aside. Assumed."""

VOICING_DOUBT: Final = 0.35
"""The assumed voicing figures may be off by this share either way. Assumed."""


class Relation(IntEnum):
    """Kinship of a candidate with the mains, nearest first."""

    IDENTICAL = 0
    FAMILY = 1
    MAKER = 2
    UNRELATED = 3


RELATION_WORD: Final = {
    Relation.IDENTICAL: "identical",
    Relation.FAMILY: "family",
    Relation.MAKER: "maker",
    Relation.UNRELATED: "unrelated",
}


WORDS: Final = np.array([RELATION_WORD[relation] for relation in Relation])


def relations(mains: Kin, centres: Kin) -> CodeArray:
    """The kinship of every centre with every mains, as codes of `Relation`, mains x centres."""
    maker = (mains.maker[:, None] == centres.maker) & (mains.maker[:, None] >= 0)
    family = (mains.family[:, None] == centres.family) & (mains.family[:, None] >= 0)
    model = mains.model[:, None] == centres.model
    nearest = np.where(maker, np.int8(Relation.MAKER), np.int8(Relation.UNRELATED))
    nearest = np.where(family, np.int8(Relation.FAMILY), nearest)
    return np.where(model, np.int8(Relation.IDENTICAL), nearest)


def kinship(mains: Kin, others: Kin) -> FloatArray:
    """What kinship and tweeter loading say of how every one differs from every mains where no model compares them [dB].

    Assumed.
    """
    known = (mains.loading != Loading.UNKNOWN)[:, None] & (others.loading != Loading.UNKNOWN)
    otherwise = known & (mains.loading[:, None] != others.loading)
    figures = np.concatenate([timbre.voicing_difference(WORDS, other) for other in (False, True)])
    return np.asarray(figures.take(relations(mains, others) + np.int8(len(WORDS)) * otherwise))


def voicing(mains: Sound, centres: Sound) -> FloatArray:
    """The square of the assumed voicing difference of every centre from every mains, where models compare them [dB^2].

    By kinship, and by what the models see of both.
    """
    related = relations(mains.kin, centres.kin)
    seen = np.minimum(mains.stated[:, None], centres.stated)
    unseen, all_seen = (np.square(timbre.voicing_difference(WORDS, seen=end)).take(related) for end in (0.0, 1.0))
    return np.asarray(seen * all_seen + (1.0 - seen) * unseen)


def untold_loading(mains: Kin, centres: Kin) -> FloatArray:
    """The square of what the loading of a tweeter may add that no model sees, as its type is unknown [dB^2]."""
    untold = (mains.loading == Loading.UNKNOWN)[:, None] | (centres.loading == Loading.UNKNOWN)
    return np.where(untold & (relations(mains, centres) != Relation.IDENTICAL), timbre.LOADING**2, 0.0)


def voicing_left(direct: BoolArray, whole: BoolArray) -> FloatArray:
    """The share of the voicing term that remains where direct sound, and sound power too, were measured on both sides.

    The term stands for what the model can't tell of two parts that count alike, direct sound and sound power. Each part
    that was measured on both sides takes its half of the term's square away: one half leaves 0.71, both leave 0.
    """
    return np.sqrt(1.0 - (direct.astype(np.float64) + (direct & whole)) / 2)


@dataclass(frozen=True, slots=True)
class _Unlike:
    """How every centre differs from every mains, mains x centres: by responses, and by what they don't tell [dB^2].

    `direct` and `power` are over all floors alike, `unknown` comes from what the room or a datasheet doesn't say of
    where they stand, `loading` is the most that a tweeter of unknown type may add.
    """

    direct: FloatArray
    power: FloatArray
    unknown: FloatArray
    voicing: FloatArray
    loading: FloatArray
    usable: BoolArray

    @property
    def assumed(self) -> FloatArray:
        """The square of what is assumed [dB^2]; of an unknown loading the mean of nothing and all."""
        return np.where(self.usable, self.voicing + self.loading / 2, UNTOLD_TIMBRE[1] ** 2)

    @property
    def value(self) -> FloatArray:
        """The likely timbre difference [dB]; an unknown offset counts with the most of its square.

        Responses are those of the middle of all shapes, which is smoother than any of them.
        """
        return np.sqrt((self.direct + self.power) / 2 + self.unknown + self.assumed)


def _unlike(centres: Sound, mains: Sound) -> _Unlike:
    """Compare every centre with every mains at the regular seats, over all floors alike.

    What was measured takes the model's place, on each side for itself: the response on the axis, the way from there
    to the seat's angle, the sound power.
    """
    both, whole = mains.measured[:, None] & centres.measured, mains.whole[:, None] & centres.whole
    direct, power = (part.mean(axis=0) for part in _apart(centres.room, mains.room, EVERY_FLOOR, ((0, 0), (1, 1))))
    left = np.square(voicing_left(both, whole))
    return _Unlike(
        direct,
        power,
        mains.room.unknown[:, None] ** 2 + centres.room.unknown**2,
        voicing(mains, centres) * left,
        untold_loading(mains.kin, centres.kin) * left,
        (mains.usable | mains.whole)[:, None] & (centres.usable | centres.whole),
    )


def _apart(
    centres: InRoom, mains: InRoom, floors: tuple[int, int], pairs: tuple[tuple[int, int], ...]
) -> tuple[FloatArray, FloatArray]:
    """The products of differences over two floors, or one twice, in direct sound and in sound power [dB^2, dB^2]."""
    return (
        timbre.seat_products(_over(centres.direct, floors), _over(mains.direct, floors), pairs),
        timbre.seat_products(_over(centres.power, floors)[:, :, None], _over(mains.power, floors)[:, :, None], pairs),
    )


def _over(levels: Single, floors: tuple[int, int]) -> Single:
    """Levels over two of the floors; in free air there is but one."""
    return levels[:, floors[0] :: floors[1] - floors[0]][:, :2] if levels.shape[1] > 1 else levels.repeat(2, axis=1)


def timbre_difference(centres: Sound, mains: Sound) -> FloatArray:
    """The likely difference in timbre of every centre from every mains [dB], mains x centres."""
    unlike = _unlike(centres, mains)
    return _likely(unlike, _ends_of_drivers(unlike, centres, mains))


def _likely(unlike: _Unlike, ends: Mapping[str, FloatArray]) -> FloatArray:
    """The likely difference, at most in the middle of what either side's datasheet leaves open [dB]."""
    found = unlike.value
    for side in ("drivers", "mains"):
        middle = at_most_middle(TIMBRE, found, ends[f"{side}_low"], ends[f"{side}_high"])
        found = np.where(unlike.usable, middle, found)
    return found


def _range(unlike: _Unlike, centres: Sound, mains: Sound) -> tuple[FloatArray, FloatArray]:
    """The least and the largest difference in timbre [dB], mains x centres.

    Over all floors, with voicing off by `VOICING_DOUBT` either way, with places and axes wherever they may be, and with
    what two loudspeakers of one description differ by, which counts nothing between two of one model.
    """
    least, most = _over_all_floors(centres.room, mains.room)
    alike = relations(mains.kin, centres.kin) == Relation.IDENTICAL
    unsaid = _unsaid(centres, mains)
    spread = np.where(alike, 0.0, np.hypot(mains.room.spread[:, None], centres.room.spread))
    spread = np.square(spread) + np.square(unsaid)
    off = mains.room.unknown[:, None] + centres.room.unknown
    gentle = unlike.voicing * (1 - VOICING_DOUBT) ** 2
    harsh = unlike.voicing * (1 + VOICING_DOUBT) ** 2 + unlike.loading
    low, high = (
        np.sqrt(np.maximum(responses**2 + moved, 0.0) + np.where(unlike.usable, assumed, untold**2))
        for responses, moved, assumed, untold in (
            (np.maximum(least - off, 0.0), -spread, gentle, UNTOLD_TIMBRE[0]),
            (most + off, spread, harsh, UNTOLD_TIMBRE[2]),
        )
    )
    # a model that can't be made says nothing of what may be alike
    return np.where(unlike.usable, np.minimum(low, unlike.value), UNTOLD_TIMBRE[0]), np.maximum(high, unlike.value)


def _unsaid(centres: Sound, mains: Sound) -> FloatArray:
    """By how much responses may differ for what datasheets leave out, mains x centres [dB rms]."""
    alike = relations(mains.kin, centres.kin) == Relation.IDENTICAL
    return np.where(alike, 0.0, np.hypot(mains.room.unsaid[:, None], centres.room.unsaid))


def _over_all_floors(centres: InRoom, mains: InRoom) -> tuple[FloatArray, FloatArray]:
    """The least and the largest difference in responses [dB] over any floor between none and a rigid one.

    A difference in level is nearly a straight line in what the floor gives back, so its square is a parabola: largest
    at an end, least at the foot from nothing to the line between the ends.
    """
    parts = _apart(centres, mains, LAST_FLOORS, ((0, 0), (1, 1), (0, 1)))
    none, rigid, both = np.mean(parts, axis=0)
    along = np.maximum(none + rigid - 2 * both, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        foot = np.clip(np.where(along > 0, (none - both) / along, 0.0), 0.0, 1.0)
    nearest = np.maximum(none - 2 * foot * (none - both) + foot**2 * along, 0.0)
    return np.sqrt(nearest), np.sqrt(np.maximum(none, rigid))


def timbre_of(centres: Sound, mains: Sound) -> CriterionValues:
    """The difference in timbre between every centre and every mains at the regular seats [dB]."""
    unlike = _unlike(centres, mains)
    direct, whole = mains.measured[:, None] & centres.measured, mains.whole[:, None] & centres.whole
    stated = np.minimum(mains.stated[:, None], centres.stated)
    modelled = np.where(unlike.usable, stated / 2, 0.0)
    known = (np.where(direct, 1.0, modelled) + np.where(direct & whole, 1.0, modelled)) / 2
    ends = _ends_of_drivers(unlike, centres, mains)
    value = _likely(unlike, ends)
    added = np.sqrt(np.maximum(np.square(value) - np.square(unlike.value), 0.0))
    low, high = _range(unlike, centres, mains)
    low, high = np.minimum(low, value), np.maximum(high, value)
    for side in ("drivers", "mains"):
        ends[f"{side}_low"] = np.where(unlike.usable, ends[f"{side}_low"], low)
        # once one thing is said the others are as open as they are now
        ends[f"{side}_high"] = np.where(unlike.usable, ends[f"{side}_high"] * value / unlike.value, high)
    return replace(
        criterion_values(
            TIMBRE,
            value,
            np.minimum(low, np.minimum(ends["drivers_low"], ends["mains_low"])),
            np.maximum(high, np.maximum(ends["drivers_high"], ends["mains_high"])),
            np.where(relations(mains.kin, centres.kin) == Relation.IDENTICAL, 1.0, known),
            "modelled",
            "",
            direct=np.where(unlike.usable, np.sqrt(unlike.direct), np.nan),
            power=np.where(unlike.usable, np.sqrt(unlike.power), np.nan),
            unknown=np.sqrt(unlike.unknown),
            voicing=np.sqrt(unlike.assumed),
            voicing_share=unlike.assumed / np.square(value),
            open=added,
            **ends,
        ),
        measured=direct & unlike.usable,
        # a model of stated figures is half of what is stated already
        counts=1.0,
        remark=np.where(
            unlike.usable, _compared(centres, mains, whole) + len(COMPARED) * (added >= LEAST_TOLD), 2 * len(COMPARED)
        ).astype(np.intp),
        remarks=(*(_APART + how for how in COMPARED), *(_APART + _OPEN + how for how in COMPARED), NOT_MODELLED),
    )


def _ends_of_drivers(unlike: _Unlike, centres: Sound, mains: Sound) -> dict[str, FloatArray]:
    """What any one input that the datasheet of a centre, or of the mains, leaves out makes of timbre at each end [dB].

    Where a model is made.
    """
    alike = relations(mains.kin, centres.kin) == Relation.IDENTICAL
    responses = (unlike.direct + unlike.power) / 2
    rest = np.square(unlike.value) - responses
    left = np.square(voicing_left(mains.measured[:, None] & centres.measured, mains.whole[:, None] & centres.whole))

    def end(kept: FloatArray, kin: Kin, sign: int, seen: FloatArray) -> FloatArray:
        untyped = np.broadcast_to(kin.loading == Loading.UNKNOWN, alike.shape)
        loaded = sign * np.where(untyped, unlike.loading / 2, 0.0)
        assumed = np.where(alike, 0.0, seen * left - unlike.voicing)
        moved = responses * np.where(alike, 1.0, kept ** np.clip(responses / MUCH_UNLIKE, 1.0, 2.0))
        return np.asarray(np.sqrt(np.maximum(rest + loaded + assumed + moved, 0.0)))

    def said_more(one: Sound) -> Sound:
        return replace(one, stated=np.minimum(one.stated + ONE_INPUT, 1.0))

    theirs = replace(mains.kin, loading=mains.kin.loading[:, None])
    of_centre, of_mains = voicing(mains, said_more(centres)), voicing(said_more(mains), centres)
    as_it_is = voicing(mains, centres)
    return {
        "drivers_low": end(centres.room.least_left, centres.kin, -1, of_centre),
        "drivers_high": end(centres.room.most_left, centres.kin, 1, as_it_is),
        "mains_low": end(mains.room.least_left[:, None], theirs, -1, of_mains),
        "mains_high": end(mains.room.most_left[:, None], theirs, 1, as_it_is),
    }


MUCH_UNLIKE: Final = 8.0
"""Beyond this mean square a difference in responses is mostly one deep null, which one input moves out of speech: from
twice as much on what is left of it at least is squared [dB^2]. Our own figure."""

ONE_INPUT: Final = 1.0 / len(fields(Assumed))
"""What one input that is said adds to the share that is stated, and so takes from the voicing that is assumed [1]."""


_APART: Final = (
    "direct sound {direct:.1f} dB, sound power {power:.1f} dB apart; {voicing:.1f} dB are assumed for "
    "what no datasheet tells, {voicing_share:.0%} of the whole"
)

_OPEN: Final = "; {open:.1f} dB added for what datasheets don't say of the drivers"

NOT_MODELLED: Final = "its drivers or the mains' aren't described, so nothing was modelled; a range is assumed"

COMPARED: Final = (
    "",
    "; measured direct sound of the centre against the model of the mains",
    "; model of the centre against the measured direct sound of the mains",
    "; direct sound measured on both sides, off the axis by the model; sound power modelled",
    "; direct sound measured on both sides, sound power modelled",
    "; sound power measured on both sides, direct sound too, but off the axis by the model",
    "; direct sound and sound power measured on both sides, so nothing more is assumed",
)
"""What was compared with what, where anything was measured."""


def _compared(centres: Sound, mains: Sound, whole: BoolArray) -> IndexArray:
    measured = mains.measured[:, None]
    both, aside = measured & centres.measured, mains.aside[:, None] & centres.aside
    one = np.broadcast_to(centres.measured, both.shape)
    found = np.select([both & whole & aside, both & whole, both & aside, both, one], [6, 5, 4, 3, 1], 0)
    return np.where(~centres.measured & measured, 2, found).astype(np.intp)
