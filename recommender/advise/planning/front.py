"""The front of a plan: centres in the room's places, and the pairing of every one with every mains."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from triptych.catalog.money import minor_digits
from triptych.recommender.advise.beside import AllPairs
from triptych.recommender.advise.evaluate import kept_somewhere, placings
from triptych.recommender.advise.everybody import everybody_heard
from triptych.recommender.advise.placed import Centres, Placed, Scene
from triptych.recommender.advise.planning.ground import NO_TIME, Ground, Judged
from triptych.recommender.advise.planning.offers import LeftOut, RoleOffer, beside_itself_only, sifted, told
from triptych.recommender.advise.planning.worth import AROUND, NO_ROOM_ANGLE, coverage_at
from triptych.recommender.advise.setting import Setting, refuse_placeless
from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS
from triptych.recommender.judge.criteria.value import reach
from triptych.recommender.judge.ranking import log_utility, score_of
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.money.planner.relax import Bar, Barred
from triptych.recommender.scene.arrays import BoolArray, Boxes, FloatArray, Mains, Purse, Stands
from triptych.recommender.scene.hearing import Voices, window_sound

NO_ROOM_WEIGHTS: Final = {name: DEFAULT_WEIGHTS[name] for name in ("timbre", "coverage", "balance", "reach")}
"""The criteria of a centre that need no room, with their weights of the design."""

NOBODY: Final = np.zeros(0, dtype=np.int64)
"""The rows of no loudspeaker."""


@dataclass(frozen=True, slots=True)
class FrontStage:
    """Mains and centres that are left, and their pairing; `pairs` is None where the mains are not known.

    `dead` says which centres come after all others wherever they stand, for a regular seat that loses its speech or for
    their height; None where no room is given.
    """

    mains: Judged | None
    centre: RoleOffer | None = None
    places: tuple[Centres, ...] = ()
    pairs: AllPairs | None = None
    barred: tuple[Barred, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    not_judged: tuple[str, ...] = ()
    dead: BoolArray | None = None

    def alone(self, weights: Mapping[str, float]) -> FloatArray:
        """The centres' scores from 0 to 100 without mains to match, each in its best place."""
        best = np.full(len(self.centre) if self.centre else 0, -np.inf)
        for one in self.places:
            total = sum(weights[own.criterion.name] for own in one.own)
            best[one.index] = np.maximum(best[one.index], score_of(one.logs, total))
        return best


def front(ground: Ground, mains: Judged | None) -> FrontStage:
    """The front for mains that were judged already."""
    if "centre" not in ground.wanted.counts[0] and "centre" not in ground.fixed:
        return FrontStage(mains)
    offered, left_out = ground.offered("centre", 1)
    if not len(offered):
        return FrontStage(mains, offered, left_out=left_out)
    offered, undescribed = ground.described(offered)
    left_out += undescribed
    stage = FrontStage(mains, offered, left_out=left_out)
    if not len(offered):
        return stage
    beside = _mains(ground, mains)
    if ground.setting is None:
        ready, late = ground.in_time(offered, np.arange(len(offered)))
        offered = offered.take(ready)
        anywhere = _anywhere(ground, offered, ground.book.of(offered.rows))
        return _paired(ground, replace(stage, centre=offered, places=(anywhere,), left_out=left_out + late), beside)
    scene = _scene(ground, ground.setting, offered, beside)
    in_time, late = _in_time(ground, offered, placings(scene, keep_failed=offered.fixed))
    left_out += late
    found = everybody_heard(scene, in_time, np.inf if offered.fixed else ground.judged_by("centre"))
    placed = [one for one, _ in found]
    there, heard = (np.isin(np.arange(len(offered)), kept_somewhere(some)) for some in (in_time, placed))
    left_out += sifted(ground.catalogue, offered, heard | ~there, NO_TIME)
    places, dead = _standing(found, offered)
    stage = replace(stage, dead=dead)
    if offered.fixed:
        return _paired(ground, replace(stage, places=places, not_judged=_owned(placed)), beside)
    left_out += _unplaced(ground, offered, placed)
    stage = replace(stage, barred=tuple(_barred(offered, placed, ground.catalogue.names)), left_out=left_out)
    return _paired(ground, _only_placed(stage, offered, places), beside)


def _in_time(ground: Ground, offered: RoleOffer, placed: Sequence[Placed]) -> tuple[list[Placed], tuple[LeftOut, ...]]:
    """The places with those that can be heard in the time there is, and those that cannot."""
    left = np.unique(np.concatenate([NOBODY, *(one.index[one.kept] for one in placed)]))
    ready, late = ground.in_time(offered, left)
    there = np.zeros(len(offered), dtype=np.bool_)
    there[left[ready]] = True
    return [replace(one, kept=one.kept[there[one.index[one.kept]]]) for one in placed], late


def _mains(ground: Ground, judged: Judged | None) -> Mains:
    """The mains that a centre may stand between; none where none are offered."""
    offered = judged.offer if judged else RoleOffer("mains", NOBODY, 2, NOBODY, np.zeros(0))
    boxes, voices, surround = _in_the_plan(ground, offered), ground.book.of(offered.rows), _one_surround(ground)
    if ground.setting is not None:
        return ground.setting.mains(boxes, voices, boxes.price, boxes.currency, surround)
    unknown = np.full(len(boxes), np.nan)
    stands = Stands(
        np.nan,
        np.nan,
        unknown,
        unknown,
        np.zeros(len(boxes), dtype=np.bool_),
        unknown,
        np.zeros(len(boxes)),
        wall_stated=False,
    )
    beside = np.full(len(boxes), surround)
    return Mains(stands, window_sound(voices), unknown, unknown, unknown, boxes.price, boxes.currency, beside)


def _one_surround(ground: Ground) -> float:
    """What the dearest surround costs that stands on a line of the plan; NaN where none does."""
    fixed = ground.wanted.fixed
    prices = [float(line.one) for line in fixed.lines if line.role in AROUND and line.one is not None]
    return float(max(prices, default=np.nan) / 10 ** minor_digits(fixed.currency))


def _in_the_plan(ground: Ground, offered: RoleOffer) -> Boxes:
    """The boxes of an offer at what one costs in the plan: in its currency, on its tax basis."""
    fixed, boxes = ground.wanted.fixed, ground.catalogue.boxes.take(offered.rows)
    return replace(
        boxes,
        price=offered.one / 10 ** minor_digits(fixed.currency),
        price_taxed=np.full(len(boxes), int(fixed.tax_included), dtype=np.int8),
        currency=np.zeros(len(boxes), dtype=np.int16),
    )


def _scene(ground: Ground, setting: Setting, offered: RoleOffer, mains: Mains) -> Scene:
    """The room's question about some centres beside some mains."""
    refuse_placeless(setting.room)
    return Scene(
        boxes=_in_the_plan(ground, offered),
        kin=ground.catalogue.kin.take(offered.rows),
        voices_of=lambda places: ground.book.of(offered.rows[places]),
        drivers_of=lambda places: ground.book.drivers(offered.rows[places]),
        sealed=ground.catalogue.sealed[offered.rows],
        mains=mains,
        seats=setting.seats,
        places=setting.places,
        picture=setting.picture,
        drive=setting.drive,
        purse=Purse(np.nan, -1, ground.wanted.fixed.tax_included, np.nan),
        in_stock=ground.in_stock and not offered.fixed,
        weights=DEFAULT_WEIGHTS,
    )


def _standing(found: Sequence[tuple[Placed, Centres]], offered: RoleOffer) -> tuple[tuple[Centres, ...], BoolArray]:
    """The centres where they pass every gate, or all of them where they are owned, and which come last."""
    standing = [
        centres.take(np.flatnonzero((placed.verdict[placed.kept] <= Verdict.CONDITIONAL) | offered.fixed))
        for placed, centres in found
    ]
    alive = np.zeros(len(offered), dtype=np.bool_)
    for centres in standing:
        alive[centres.index[~centres.dead]] = True
    return tuple(one for one in standing if len(one.index)), ~alive


def _anywhere(ground: Ground, offered: RoleOffer, voices: Voices) -> Centres:
    """All centres where no room is given: in the listening window, and no further."""
    boxes = _in_the_plan(ground, offered)
    own = (
        coverage_at(voices, np.array([-NO_ROOM_ANGLE, NO_ROOM_ANGLE])),
        reach(boxes, ground.catalogue.sealed[offered.rows]),
    )
    return Centres(
        place="",
        pose="",
        index=np.arange(len(offered)),
        price=boxes.price,
        currency=boxes.currency.astype(np.intp),
        open_tax=np.zeros(len(offered)),
        sound=window_sound(voices),
        aim=None,
        levels=None,
        own=own,
        logs=log_utility([(one.criterion, one.value) for one in own], NO_ROOM_WEIGHTS),
        dead=np.zeros(len(offered), dtype=np.bool_),
    )


def _only_placed(stage: FrontStage, offered: RoleOffer, places: tuple[Centres, ...]) -> FrontStage:
    """Without the centres that no place takes; the places then count those that are left."""
    kept = np.unique(np.concatenate([one.index for one in places])) if places else np.zeros(0, dtype=np.intp)
    counted = tuple(one.among(kept) for one in places)
    dead = None if stage.dead is None else stage.dead[kept]
    return replace(stage, centre=offered.take(kept), places=counted, dead=dead)


def _paired(ground: Ground, stage: FrontStage, mains: Mains) -> FrontStage:
    """With the pairing, where there are mains and centres."""
    centre = stage.centre
    if centre is None or not len(mains) or not len(centre):
        return stage
    setting, models = ground.setting, ground.catalogue.kin.model[centre.rows]
    third_only = beside_itself_only(ground.catalogue, centre.rows) & (not centre.fixed)
    # what is owned already is not forbidden for its trim
    drive = replace(ground.drive, trim_range=np.inf) if centre.fixed else ground.drive
    weights, seats = (DEFAULT_WEIGHTS, setting.seats) if setting else (NO_ROOM_WEIGHTS, None)
    return replace(stage, pairs=AllPairs(mains, stage.places, models, third_only, seats, drive, weights))


def _owned(found: Sequence[Placed]) -> tuple[str, ...]:
    """What is to be told of a centre that is there, where no place takes it."""
    if any((one.verdict <= Verdict.CONDITIONAL).any() for one in found):
        return ()
    gates = sorted({gate.gate for one in found for gate in one.gates if gate.verdict[0] > Verdict.CONDITIONAL})
    return (f"the centre there is passes no place of the room whole (gates: {', '.join(gates)})",)


def _unplaced(ground: Ground, offered: RoleOffer, found: Sequence[Placed]) -> tuple[LeftOut, ...]:
    """The centres that pass nowhere: by the question that could let them in, or by the gates that forbid it."""
    passing: set[int] = set()
    questions: dict[int, str] = {}
    failing = {at: Counter[str]() for at in range(len(offered))}
    for option in found:
        passing |= set(option.index[option.verdict <= Verdict.CONDITIONAL].tolist())
        for one in option.gates:
            for here in np.flatnonzero(one.verdict == Verdict.FAIL):
                failing[int(option.index[here])][one.gate] += 1
            asked = np.flatnonzero((one.verdict == Verdict.UNKNOWN) & (option.verdict == Verdict.UNKNOWN))
            for here in asked:
                questions.setdefault(int(option.index[here]), f"the {one.gate} gate waits: {one.question(int(here))}")
    reasons: dict[str, list[str]] = {}
    silent = beside_itself_only(ground.catalogue, offered.rows)
    for at in sorted(set(range(len(offered))) - passing - set(np.flatnonzero(silent).tolist())):
        gates = ", ".join(sorted(failing[at], key=lambda gate: (-failing[at][gate], gate)))
        reason = questions.get(at) or f"no place of the room takes it (gates: {gates})"
        reasons.setdefault(reason, []).append(ground.catalogue.names[offered.rows[at]])
    return told("centre", reasons)


def _barred(offered: RoleOffer, found: Sequence[Placed], names: Sequence[str]) -> list[Barred]:
    """Centres that one gate alone keeps out of some place, and by how little at best."""
    least: dict[Bar, dict[int, float]] = {}
    passing: set[int] = set()
    for option in found:
        passing |= set(option.index[option.verdict <= Verdict.CONDITIONAL].tolist())
        verdicts = np.vstack([one.verdict for one in option.gates])
        alone = (verdicts > Verdict.CONDITIONAL).sum(axis=0) == 1
        for one in option.gates:
            for here in np.flatnonzero(alone & (one.verdict == Verdict.FAIL) & (one.margin < 0)):
                by = least.setdefault(Bar(one.gate, one.unit, option.place.name), {})
                at = int(option.index[here])
                by[at] = min(by.get(at, np.inf), float(-one.margin[here]))
    out = {bar: {at: by for at, by in some.items() if at not in passing} for bar, some in least.items()}
    return [
        Barred(
            bar,
            "centre",
            offered.cost[list(some)],
            np.array(list(some.values())),
            names=[names[row] for row in offered.rows[list(some)]],
        )
        for bar, some in out.items()
        if some
    ]
