"""All gates and criteria for M pairs of mains, N centres and every place: arrays in, arrays out. No database, no words.

What no mains change is found once for each place and pose. What depends on the mains (trim, timbre, aim, balance)
takes them as a leading axis: `match` has one pair of them, a plan all there are, in runs.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final, TypeVar

import numpy as np

from triptych.recommender.advise.catalogue import STAND_MOUNT_HEIGHT
from triptych.recommender.advise.placed import Centres, Placed, Scene, StoodBoxes
from triptych.recommender.judge.criteria.evenness import coverage_of
from triptych.recommender.judge.criteria.placing import bounce_elevation, bounces, surroundings
from triptych.recommender.judge.criteria.value import headroom, reach
from triptych.recommender.judge.criterion import CriterionValues
from triptych.recommender.judge.gates import drive as drive_gates
from triptych.recommender.judge.gates import fit, pointing, speech, terms
from triptych.recommender.judge.ranking import log_utility
from triptych.recommender.judge.verdicts import GateVerdicts, Verdict, worst
from triptych.recommender.physics.kernel import Single
from triptych.recommender.scene.aiming import Aim, aim
from triptych.recommender.scene.arrays import (
    BoolArray,
    Boxes,
    FloatArray,
    IndexArray,
    PlaceFigures,
)
from triptych.recommender.scene.boundaries import centre_images, floor_elevation
from triptych.recommender.scene.hearing import Heard, Voices, at_seats, downward
from triptych.recommender.scene.levels import SensitivityRange, levels, sensitivity_range
from triptych.recommender.scene.structures import joined

PORT: Final = 2
"""Where the gate of ports stands among those of a place."""

UPRIGHT_PLACES: Final = frozenset({"stand", "wall", "behind_screen"})
"""Kinds of place where a box made to lie may be stood on end."""

ON_END: Final = "on_end"
"""How it is called then."""


def placings(scene: Scene, keep_failed: bool = False, only: Collection[str] | None = None) -> list[Placed]:
    """Every place, or `only` those named, and pose with the gates that no mains change and that need not listen."""
    places = [place for place in scene.places if only is None or place.name in only]
    posed = list(_poses(scene, [place.kind in UPRIGHT_PLACES for place in places]))
    return [
        _placed(scene, place, one, keep_failed)
        for place in places
        for one in posed
        if one.pose != ON_END or place.kind in UPRIGHT_PLACES
    ]


@dataclass(frozen=True, slots=True)
class _Posed:
    """The candidates at `index` in one pose, with what no place changes."""

    pose: str
    index: IndexArray
    boxes: Boxes
    anywhere: tuple[GateVerdicts, ...]
    sensitivity: SensitivityRange

    def turned(self, pose: str, index: IndexArray) -> _Posed:
        """Those at `index` of all, turned over."""
        low, likely, high = self.sensitivity
        anywhere = tuple(one.take(index) for one in self.anywhere)
        boxes = self.boxes.take(index).on_side()
        return _Posed(pose, index, boxes, anywhere, (low[index], likely[index], high[index]))


@dataclass(frozen=True, slots=True)
class Voiced:
    """The voices of the candidates at `rows`, which rise."""

    rows: IndexArray
    voices: Voices

    def at(self, candidates: IndexArray) -> IndexArray:
        """Where the voices of some of the candidates are."""
        return np.searchsorted(self.rows, candidates)


def voiced(scene: Scene, placed: Sequence[Placed]) -> Voiced:
    """The voices of all that are `kept` somewhere."""
    left = kept_somewhere(placed)
    return Voiced(left, scene.voices_of(left))


def kept_somewhere(placed: Sequence[Placed]) -> IndexArray:
    """The candidates that are `kept` somewhere."""
    return np.unique(np.concatenate([np.zeros(0, dtype=np.intp), *(one.index[one.kept] for one in placed)]))


HEARD_TOGETHER: Final = 2_000
"""So many candidates at most are heard together, of places that are heard in one pose: more would only need memory."""


def together(counts: Sequence[int]) -> list[list[int]]:
    """The numbers of parts of so many rows each, those together that are `HEARD_TOGETHER` at most."""
    found: list[list[int]] = []
    rows = 0
    for number, count in enumerate(counts):
        if not found or rows + count > HEARD_TOGETHER:
            found.append([])
            rows = 0
        found[-1].append(number)
        rows += count
    return found


def slices(counts: Sequence[int]) -> list[slice]:
    """Where parts of so many rows each are in what they are joined to."""
    ends = np.cumsum([0, *counts]).tolist()
    return [slice(first, last) for first, last in pairwise(ends)]


@dataclass(frozen=True, slots=True)
class Free:
    """What the seats hear of candidates before any room, what they lose, and whether one of them loses its speech."""

    heard: Heard
    coverage: CriterionValues
    dead: BoolArray

    def take(self, index: IndexArray | slice) -> Free:
        """Those at `index`, in that order."""
        return Free(self.heard.take(index), self.coverage.take(index), self.dead[index])

    @classmethod
    def joined(cls, parts: Sequence[Free]) -> Free:
        """The same of several places, one after the other."""
        return cls(
            Heard.joined([part.heard for part in parts]),
            joined([part.coverage for part in parts]),
            np.concatenate([part.dead for part in parts]),
        )


def listened(scene: Scene, placed: Sequence[Placed], known: Voiced) -> list[Free]:
    """Those that are `kept` in places and poses, before any room; `known` are their voices."""

    def of(some: Sequence[int]) -> list[Free]:
        here = [placed[number] for number in some]
        free = _listened(scene, here, known)
        return [free.take(part) for part in slices([len(one.kept) for one in here])]

    found = in_each_pose(placed, range(len(placed)), of)
    return [found[number] for number in range(len(placed))]


def heard(
    scene: Scene, placed: Sequence[Placed], known: Voiced | None = None, told: Sequence[Free] | None = None
) -> list[tuple[Placed, Centres]]:
    """Places and poses with those that are `kept` there as they are heard.

    Their voices, and what the seats hear of them before any room, need not be found again where they are given.
    """
    voices = known or voiced(scene, placed)

    def of(some: Sequence[int]) -> list[tuple[Placed, Centres]]:
        here = [placed[number] for number in some]
        free = Free.joined([told[number] for number in some]) if told else _listened(scene, here, voices)
        return _heard(scene, here, voices, free)

    empty = [number for number, one in enumerate(placed) if not len(one.kept)]
    # where nobody is heard in any place, the first of them is as good as any
    found = in_each_pose(placed, sorted(set(range(len(placed))) - set(empty)) or empty[:1], of)
    if missing := [number for number in empty if number not in found]:
        like, silence = next(iter(found.values()))[1], _listened(scene, [placed[missing[0]]], voices)
        found |= {number: _nobody(scene, placed[number], like, silence.heard) for number in missing}
    return [found[number] for number in range(len(placed))]


def _nobody(scene: Scene, placed: Placed, like: Centres, silence: Heard) -> tuple[Placed, Centres]:
    """A place and pose in which nobody is heard; `like` are centres elsewhere."""
    gates = (*placed.gates, speech.seats(silence, placed.kept, len(placed.boxes), scene.seats))
    centres = replace(like.take(placed.kept), place=placed.place.name, pose=placed.pose)
    return replace(placed, gates=gates, verdict=np.maximum(placed.verdict, gates[-1].verdict)), centres


Made = TypeVar("Made")


def in_each_pose(
    placed: Sequence[Placed], numbers: Sequence[int], make: Callable[[Sequence[int]], list[Made]]
) -> dict[int, Made]:
    """What is made of the places and poses with these numbers, of some in one pose at a time."""
    found: dict[int, Made] = {}
    for on_side in (False, True):
        which = [number for number in numbers if placed[number].on_side == on_side]
        for batch in together([len(placed[number].kept) for number in which]):
            some = [which[number] for number in batch]
            found.update(zip(some, make(some), strict=True))
    return found


def _listened(scene: Scene, placed: Sequence[Placed], known: Voiced) -> Free:
    """The same of places in one pose, one place after the other."""
    there = known.at(np.concatenate([one.index[one.kept] for one in placed]))
    stood = joined([one.aim.take(one.kept) for one in placed])
    free = at_seats(known.voices, there, stood, scene.seats, placed[0].on_side)
    everyone = np.arange(len(there))
    dead = speech.dead_seat(speech.seats(free, everyone, len(there), scene.seats))
    return Free(free, coverage_of(free, scene.seats), dead)


def _poses(scene: Scene, upright: Sequence[bool]) -> Iterator[_Posed]:
    """Every pose that places have, of which some may be `upright`, with those that may stand so."""
    boxes = scene.boxes
    designed = _Posed("as_designed", np.arange(len(boxes)), boxes, _anywhere(scene), sensitivity_range(boxes))
    yield designed
    small = np.fmax(boxes.height, boxes.width) <= STAND_MOUNT_HEIGHT
    for pose, some in (("on_side", small & ~boxes.lying), (ON_END, small & boxes.lying & any(upright))):
        if some.any():
            yield designed.turned(pose, np.flatnonzero(some))


def _anywhere(scene: Scene) -> tuple[GateVerdicts, ...]:
    """The gates that no place changes."""
    return (
        drive_gates.amplifier(scene.boxes, scene.drive),
        terms.money(scene.boxes, scene.purse),
        terms.supply(scene.boxes, scene.in_stock),
    )


def _placed(scene: Scene, place: PlaceFigures, posed: _Posed, keep_failed: bool) -> Placed:
    boxes, index = posed.boxes, posed.index
    base = None if scene.bases is None else scene.bases[index]
    stood = aim(boxes, place, scene.seats, base, scene.picture)
    loud = levels(boxes, stood, scene.seats, scene.drive, posed.sensitivity)
    amplifier, money, supply = posed.anywhere
    gates = (
        fit.envelope(boxes, place),
        pointing.tilt(boxes, stood, hung=place.kind == "wall"),
        fit.port(boxes, place, stood),
        fit.sight(boxes, place, stood, scene.picture, base),
        fit.load(boxes, place, base),
        amplifier,
        drive_gates.level(boxes, scene.drive, loud.peaks),
        pointing.height(boxes, stood),
        money,
        supply,
        terms.hazard(boxes, place),
    )
    verdict = worst(gates)
    kept = np.arange(len(boxes)) if keep_failed else np.flatnonzero(verdict < Verdict.FAIL)
    return Placed(place, posed.pose, index, boxes, stood, loud, gates, verdict, kept)


def _heard(scene: Scene, placed: Sequence[Placed], known: Voiced, free: Free) -> list[tuple[Placed, Centres]]:
    """Places in one pose as they are heard; what no place changes is found at once for all of them."""
    stood = [one.standing for one in placed]
    everyone, voices = joined(stood), known.voices
    there = known.at(everyone.index)
    below = downward(voices, there, floor_elevation(everyone.aim), everyone.aim, scene.seats, placed[0].on_side)
    plugged = [fit.plugged(one.boxes, one.gates[PORT])[one.kept] for one in placed]
    anywhere = (
        headroom(everyone.boxes, scene.drive, everyone.levels.peaks),
        reach(everyone.boxes, scene.sealed[everyone.index], np.concatenate(plugged)),
    )
    return [
        _heard_there(scene, one, here, known, free.take(part), below[part], [values.take(part) for values in anywhere])
        for one, here, part in zip(placed, stood, slices([len(one.index) for one in stood]), strict=True)
    ]


def _heard_there(
    scene: Scene,
    placed: Placed,
    stood: StoodBoxes,
    known: Voiced,
    free: Free,
    below: Single,
    anywhere: Sequence[CriterionValues],
) -> tuple[Placed, Centres]:
    """One place and pose with what the place makes of those that are `kept`; `anywhere` is judged of them already."""
    boxes, place, mains = stood.boxes, placed.place, scene.mains
    sent = _sent_down(scene, placed, known.at(stood.index), known.voices, stood.aim)
    images = centre_images(boxes, place, scene.places, stood.aim, scene.seats, below, mains.stands.floor)
    around = surroundings(boxes, place, stood.aim, scene.picture, mains.stands.spacing, sent, scene.places)
    loud, low = anywhere
    own = (free.coverage, loud, around, low)
    gates = (*placed.gates, speech.seats(free.heard, placed.kept, len(placed.boxes), scene.seats))
    centres = Centres(
        place=place.name,
        pose=placed.pose,
        index=stood.index,
        price=terms.comparable_price(boxes, scene.purse),
        currency=boxes.currency.astype(np.intp),
        open_tax=terms.open_tax(boxes, scene.purse),
        sound=replace(free.heard.sound, room=images.around(free.heard.sound.room)),
        aim=stood.aim,
        levels=stood.levels,
        own=own,
        logs=log_utility([(one.criterion, one.value) for one in own], scene.weights),
        dead=free.dead,
    )
    return replace(placed, gates=gates, verdict=np.maximum(placed.verdict, gates[-1].verdict)), centres


def _sent_down(scene: Scene, placed: Placed, rows: IndexArray, voices: Voices, stood: Aim) -> FloatArray:
    """What each box sends towards the surface in front of it, where there is one [dB]; boxes x bands."""
    if not bounces(placed.place):
        return np.zeros((len(rows), 0))
    elevation = bounce_elevation(stood)
    return downward(voices, rows, elevation, stood, scene.seats, placed.on_side).astype(np.float64)
