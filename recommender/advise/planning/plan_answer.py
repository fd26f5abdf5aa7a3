"""A plan's answer as plain values, detached from the catalogue."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, Final, TypeAlias

from triptych.catalog.ways_told import Minor, Perhaps, Told
from triptych.recommender.advise.advice import Figure, Points
from triptych.recommender.advise.planning.offers import LeftOut
from triptych.recommender.advise.planning.outfit import OutfitPiece
from triptych.recommender.money.budget.check import Check

Worth: TypeAlias = Annotated[float, Told(digits=2)]
"""Points of a plan's value."""


@dataclass(frozen=True, slots=True)
class Pick:
    """What a system has in one role.

    Parameters
    ----------
    role, speaker : str
        The role of the budget, the name in the catalogue.
    pieces : int
        How many boxes.
    cost : int
        What it takes from the limit; nothing where it stands on a line of the plan. [minor units]
    fixed : bool
        Whether it was not chosen.
    worth, most : float
        What it adds to the value, and what its role could add.
    place, pose : str
        Where a centre goes; empty for others.
    score : float or None
        A centre's score beside the mains, as `match` gives it.
    seat_lost : bool
        Whether a regular seat loses its speech with it.
    quantities : mapping of str to float or None
        What its worth is made of.
    why : tuple of str
        The same in words.
    """

    role: str
    speaker: str
    pieces: Annotated[int, Told(key="quantity")]
    cost: Minor
    fixed: bool
    worth: Worth
    most: Annotated[float, Told(key="worth_at_most")]
    place: Perhaps = ""
    pose: Perhaps = ""
    score: Points | None = None
    seat_lost: bool = False
    quantities: dict[str, Figure | None] = field(default_factory=dict)
    why: tuple[str, ...] = ()

    @property
    def named(self) -> str:
        """Its name, with the number of boxes if it is more than one."""
        return many(self.speaker, self.pieces)


def many(name: str, pieces: int) -> str:
    """A name with the number of pieces if it is more than one."""
    return name if pieces == 1 else f"{pieces} × {name}"


@dataclass(frozen=True, slots=True)
class WholeSystem:
    """One whole system, with what it takes and how it stands beside the best. [minor units].

    `value` is what its picks are worth, less what the `shoulds` cost that it breaks, by their names.
    """

    rank: int
    value: Worth
    total: Minor
    left: Minor
    costs_more: Minor
    loses: Worth
    instead: tuple[str, ...]
    picks: Annotated[tuple[Pick, ...], Told(key="roles")]
    equipment: tuple[OutfitPiece, ...]
    shoulds: Annotated[dict[str, float], Told(digits=2, key="shoulds_cost")]
    check: Check


SEAT_LOST: Final = "a regular seat loses its speech"
"""What is told of a centre wherever it is named."""


@dataclass(frozen=True, slots=True)
class Exchange:
    """One role in which a better system differs; `seat_lost` says of a centre that a regular seat loses its speech."""

    role: str
    before: Annotated[str, Told(key="from")]
    after: Annotated[str, Told(key="to")]
    seat_lost: bool = False

    @property
    def words(self) -> str:
        """The exchange in a line."""
        lost = f" ({SEAT_LOST})" if self.seat_lost else ""
        return f"{self.role}: {self.after}{lost} instead of {self.before}"


@dataclass(frozen=True, slots=True)
class NextMoney:
    """What more or less money would change; with less, `gain` and `costs` are below zero. [minor units]."""

    limit: Minor
    gain: Worth
    costs: Annotated[int, Told(minor=True, key="costs_more")]
    proven: bool
    exchanges: Annotated[tuple[Exchange, ...], Told(key="changes")]


@dataclass(frozen=True, slots=True)
class Buy:
    """One purchase in order.

    `step` counts from 1; None if there are no steps or they do not bring enough. `plays` is the layout that plays from
    then on, such as 3.1; empty where nothing does yet.
    """

    role: str
    item: str
    cost: Minor
    together: Minor
    step: int | None
    plays: str = ""


@dataclass(frozen=True, slots=True)
class WayOut:
    """One thing to relax where there is no system at all. `by` is in the currency or in the gate's own unit."""

    obstacle: str
    names: tuple[str, ...]
    by: tuple[Figure, ...]
    unit: str
    words: str


@dataclass(frozen=True, slots=True)
class RoleOtherwise:
    """What a role would have had if all could be ordered, and when it could be had.

    Parameters
    ----------
    pick : Pick
        What would have been chosen.
    instead_of : str
        What was chosen from stock; empty if nothing could be.
    missing : int
        How many of its boxes are not there, after what the other roles take of the same model.
    when : date or None
        When all its boxes could be had; None if nobody knows, or never.
    why : str
        How that is known.
    """

    pick: Pick
    instead_of: str
    missing: int
    when: date | None
    why: str


@dataclass(frozen=True, slots=True)
class PlanOtherwise:
    """What would have been chosen if all could be ordered, beside the best from stock.

    Parameters
    ----------
    outcome, statement : str
        How far it is proven, as for the plan itself.
    value, total, left
        As of a whole system. [total and left in minor units]
    costs_more : int or None
        Than the best from stock; None if there is none. [minor units]
    gains : float or None
        How much more it is worth than the best from stock; None if there is none.
    keeps : tuple of str
        The rules that it keeps and no system from stock does.
    when : date or None
        When all of it could be had; None if nobody knows of some part.
    roles : tuple of RoleOtherwise
        The roles that differ; all that were to be chosen if nothing was chosen from stock.
    """

    outcome: str
    statement: str
    value: Worth
    total: Minor
    left: Minor
    costs_more: Minor | None
    gains: Worth | None
    keeps: tuple[str, ...]
    when: date | None
    roles: tuple[RoleOtherwise, ...]


@dataclass(frozen=True, slots=True)
class PlanAnswer:
    """The whole answer to `budget plan`.

    Parameters
    ----------
    outcome : str
        `optimal`, `stopped_early` or `impossible`.
    statement : str
        How far the answer is proven, in a sentence.
    optimal : bool
        Whether it is proven that no system is better.
    gap : float or None
        By how much a better system could still be better, with what there was no time to judge; 0 where it is proven,
        None where none was found.
    room : str
        Its name; empty without one.
    rule_set, currency, limit, tax_included, fixed
        As the plan was asked. [minor units]
    lacks : tuple of str
        What no system of the plan plays without; to be told first.
    systems : tuple of WholeSystem
        Best first.
    unlike_match : str
        Why the best's centre is not the one that `match` puts first beside its mains; empty where it is.
    indifference : float
        What difference in worth is taken for none.
    cheaper : WholeSystem or None
        The cheapest system that is worth no less than that; None where the best is.
    next_money : NextMoney or None
        For the next tenth of the limit.
    less_money : NextMoney or None
        For a tenth less; None if no system is possible then.
    order : tuple of Buy
        In which to buy the best.
    ways_out : tuple of WayOut
        Where there is none.
    left_out : tuple of LeftOut
        What could not be considered, and why.
    not_judged, cautions : tuple of str
        What the answer does not rest on, and what had to be supposed.
    otherwise : PlanOtherwise or None
        From stock, what would have been chosen if all could be ordered; None where that is the same.
    """

    outcome: str
    statement: str
    optimal: bool
    gap: Annotated[float | None, Told(digits=4)]
    rule_set: str
    room: Perhaps
    currency: str
    tax_included: bool
    limit: Minor
    fixed: Minor
    weights: dict[str, float]
    lacks: tuple[str, ...]
    systems: tuple[WholeSystem, ...]
    unlike_match: Perhaps
    indifference: Worth
    cheaper: WholeSystem | None
    next_money: NextMoney | None
    less_money: NextMoney | None
    order: tuple[Buy, ...]
    ways_out: Annotated[tuple[WayOut, ...], Told(key="relax")]
    left_out: tuple[LeftOut, ...]
    not_judged: tuple[str, ...]
    cautions: tuple[str, ...]
    otherwise: Annotated[PlanOtherwise | None, Told(where_any=True)] = None
