"""The front of a plan: centres in the room's places, and the pairing of every one with every mains."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from triptych.recommender.advise.evaluate import Option, options
from triptych.recommender.advise.planning.ground import NO_ROOM_WEIGHTS, Ground, Judged
from triptych.recommender.advise.planning.offers import LeftOut, Offer, beside_itself_only, told
from triptych.recommender.advise.planning.pairing import Pairing, Stood, base_log, fronts, in_the_window, stood
from triptych.recommender.advise.planning.worth import coverage_at
from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS
from triptych.recommender.judge.criteria.value import reach
from triptych.recommender.judge.verdicts import Verdict
from triptych.recommender.money.planner.relax import Barred
from triptych.recommender.scene.arrays import FloatArray
from triptych.recommender.scene.hearing import Voices


@dataclass(frozen=True, slots=True)
class Front:
    """Mains and centres that are left, and their pairing; `pairing` is None where the mains are not known."""

    mains: Judged | None
    centre: Offer | None
    places: tuple[Stood, ...]
    pairing: Pairing | None
    barred: tuple[Barred, ...]

    @property
    def alone(self) -> FloatArray:
        """The centres' scores from 0 to 1 without mains to match, each in its best place."""
        best = np.full(len(self.centre) if self.centre else 0, -np.inf)
        for one in self.places:
            best[one.index] = np.maximum(best[one.index], np.exp(one.base / one.weight))
        return best


def front(ground: Ground, mains: Judged | None) -> Front:
    """The front for mains that were judged already."""
    counts = ground.wanted.counts[0]
    if "centre" not in counts and "centre" not in ground.fixed_items:
        return Front(mains, None, (), None, ())
    offered = ground.offered("centre", 1)
    if not len(offered):
        return Front(mains, offered, (), None, ())
    offered, voices = ground.heard(offered)
    places, barred = _places(ground, offered, voices, mains)
    if not offered.fixed:
        offered, places = _only_placed(offered, places)
    centre_kin, rows = ground.kin.take(offered.rows), offered.rows
    if mains is None or not len(mains.offer) or not len(offered):
        return Front(mains, offered, places, None, barred)
    main_rows = mains.offer.rows
    same = ground.kin.model[main_rows][:, None] == ground.kin.model[rows]
    allowed = same | ~beside_itself_only(ground.columns, rows) | offered.fixed
    own = ground.own.take(main_rows)
    held = fronts(own, ground.book.of(main_rows), ground.kin.take(main_rows), ground.setting, mains.offer.one)
    trim = np.inf if offered.fixed else ground.setting.drive.trim_range
    weights = DEFAULT_WEIGHTS if ground.setting.seats else NO_ROOM_WEIGHTS
    pairing = Pairing(held, places, centre_kin, offered.one, allowed, ground.setting.seats, weights, trim)
    return Front(mains, offered, places, pairing, barred)


def _places(
    ground: Ground, offered: Offer, voices: Voices, mains: Judged | None
) -> tuple[tuple[Stood, ...], tuple[Barred, ...]]:
    if not len(offered):
        return (), ()
    seats = ground.setting.seats
    if seats is None:
        return (_anywhere(ground, offered, voices),), ()
    main_row = int(mains.offer.rows[0]) if mains is not None and len(mains.offer) else int(offered.rows[0])
    found = options(ground.scene(offered, main_row), keep_failed=offered.fixed)
    places = stood(found, voices, seats, DEFAULT_WEIGHTS, whatever=offered.fixed)
    if offered.fixed:
        _tell_owned(ground, found)
        return tuple(places), ()
    ground.left_out += _unplaced(ground, offered, found)
    return tuple(places), tuple(_barred(offered, found))


def _anywhere(ground: Ground, offered: Offer, voices: Voices) -> Stood:
    """All centres where no room is given: in the listening window, and no further."""
    own, count = ground.own.take(offered.rows), len(offered)
    nothing = np.full(count, np.nan)
    criteria = (coverage_at(voices, np.array([-30.0, 30.0])), reach(own, ground.sealed[offered.rows]))
    everyone = np.arange(count)
    base = base_log(criteria, NO_ROOM_WEIGHTS)
    weight = sum(NO_ROOM_WEIGHTS[one.criterion.name] for one in criteria)
    return Stood(
        "",
        "",
        everyone,
        base,
        weight,
        in_the_window(voices),
        nothing,
        nothing,
        nothing,
        nothing,
        nothing,
        criteria,
        everyone,
    )


def _only_placed(offered: Offer, places: tuple[Stood, ...]) -> tuple[Offer, tuple[Stood, ...]]:
    """Without the centres that no place takes; the places then count those that are left."""
    kept = np.unique(np.concatenate([one.index for one in places])) if places else np.zeros(0, dtype=np.intp)
    return offered.take(kept), tuple(replace(one, index=np.searchsorted(kept, one.index)) for one in places)


def _tell_owned(ground: Ground, found: list[Option]) -> None:
    if not any((option.verdict <= Verdict.CONDITIONAL).any() for option in found):
        gates = sorted({one.gate for option in found for one in option.gates if one.verdict[0] > Verdict.CONDITIONAL})
        ground.not_judged.append(f"the centre there is passes no place of the room whole (gates: {', '.join(gates)})")


def _unplaced(ground: Ground, offered: Offer, found: list[Option]) -> list[LeftOut]:
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
    silent = beside_itself_only(ground.columns, offered.rows)
    for at in sorted(set(range(len(offered))) - passing - set(np.flatnonzero(silent).tolist())):
        gates = ", ".join(sorted(failing[at], key=lambda gate: (-failing[at][gate], gate)))
        reason = questions.get(at) or f"no place of the room takes it (gates: {gates})"
        reasons.setdefault(reason, []).append(str(ground.columns["name"][offered.rows[at]]))
    return told("centre", reasons)


def _barred(offered: Offer, found: list[Option]) -> list[Barred]:
    """Centres that one gate alone keeps out of some place, and by how little at best."""
    least: dict[str, dict[int, float]] = {}
    passing: set[int] = set()
    for option in found:
        passing |= set(option.index[option.verdict <= Verdict.CONDITIONAL].tolist())
        verdicts = np.vstack([one.verdict for one in option.gates])
        alone = (verdicts > Verdict.CONDITIONAL).sum(axis=0) == 1
        for one in option.gates:
            for here in np.flatnonzero(alone & (one.verdict == Verdict.FAIL) & (one.margin < 0)):
                by = least.setdefault(f"{one.gate} [{one.unit}] at {option.place.name}", {})
                at = int(option.index[here])
                by[at] = min(by.get(at, np.inf), float(-one.margin[here]))
    out = {gate: {at: by for at, by in some.items() if at not in passing} for gate, some in least.items()}
    return [
        Barred(gate, "centre", offered.cost[list(some)], np.array(list(some.values())))
        for gate, some in out.items()
        if some
    ]
