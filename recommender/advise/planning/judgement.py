"""What a plan judges of the catalogue: all that is offered once, from which what the stock has is taken."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Self

import numpy as np

from triptych.recommender.advise.planning.fitted import possible_counts
from triptych.recommender.advise.planning.front import NOBODY, FrontStage, front
from triptych.recommender.advise.planning.ground import Ground, Judged
from triptych.recommender.advise.planning.offers import LeftOut, RoleOffer
from triptych.recommender.money.budget.rules import RuleSet
from triptych.recommender.money.planner.relax import Barred
from triptych.recommender.scene.arrays import IndexArray


@dataclass(frozen=True, slots=True)
class Judgement:
    """The front with its mains, and the other roles by how many boxes each takes."""

    ahead: FrontStage
    others: Mapping[tuple[str, int], Judged]

    @classmethod
    def of(cls, ground: Ground, rule_set: RuleSet) -> Self:
        """All that is offered."""
        wanted = ground.wanted
        with_sub = "sub" in wanted.roles or any(line.role == "sub" for line in wanted.fixed.lines)
        mains = None
        if "mains" in wanted.roles or "mains" in ground.fixed:
            mains = ground.judged("mains", 2, with_sub)
        ahead = front(ground, mains)
        asked = {one: None for counts in possible_counts(ground, rule_set) for one in counts.items()}
        others = [one for one in asked if one[0] not in ("mains", "centre")]
        return cls(ahead, {(role, pieces): ground.judged(role, pieces, with_sub) for role, pieces in others})

    def in_stock(self, ground: Ground) -> Judgement:
        """What the stock has of it, and what is left out as it has too few."""
        others = {key: _there(ground, one)[0] for key, one in self.others.items()}
        return Judgement(_front_there(ground, self.ahead), others)


def _there(ground: Ground, judged: Judged) -> tuple[Judged, IndexArray]:
    """What the stock has of a role, and where among all it was."""
    kept, names, out = _kept(ground, judged.offer)
    offered, worth = judged.offer.take(kept), judged.worth.take(kept)
    return Judged(offered, worth, _barred(judged.barred, names), (*out, *_left_out(judged.left_out, names))), kept


def _front_there(ground: Ground, ahead: FrontStage) -> FrontStage:
    mains, rows = (None, NOBODY) if ahead.mains is None else _there(ground, ahead.mains)
    centre = ahead.centre
    if centre is None:
        return replace(ahead, mains=mains)
    kept, names, out = _kept(ground, centre)
    places = tuple(place.among(kept) for place in ahead.places)
    places = tuple(place for place in places if len(place.index))
    pairs = ahead.pairs
    return replace(
        ahead,
        mains=mains,
        centre=centre.take(kept),
        places=places,
        pairs=pairs.among(rows, kept) if pairs is not None and len(rows) and len(kept) else None,
        barred=_barred(ahead.barred, names),
        left_out=(*out, *_left_out(ahead.left_out, names)),
        dead=None if ahead.dead is None else ahead.dead[kept],
    )


def _kept(ground: Ground, offered: RoleOffer) -> tuple[IndexArray, Collection[str], tuple[LeftOut, ...]]:
    """Which of an offer the stock has, the names of all that it has for the role, and what is left out of it."""
    if offered.fixed:
        return np.arange(len(offered)), [ground.catalogue.names[row] for row in offered.rows], ()
    there, out = ground.offered(offered.role, offered.pieces)
    names = {ground.catalogue.names[row] for row in there.rows}
    return np.flatnonzero(np.isin(offered.rows, there.rows)), names, out


def _left_out(found: Iterable[LeftOut], names: Collection[str]) -> tuple[LeftOut, ...]:
    some = (replace(one, speakers=tuple(name for name in one.speakers if name in names)) for one in found)
    return tuple(one for one in some if one.speakers)


def _barred(found: Iterable[Barred], names: Collection[str]) -> tuple[Barred, ...]:
    some = ((one, [at for at, name in enumerate(one.names) if name in names]) for one in found)
    return tuple(one.only(at) for one, at in some if at)
