"""What a plan chooses beside the loudspeakers: what drives them, what bears them, and the cables between.

Of what fits, the cheapest is taken: no point of worth and no rule about shares makes a stand or a cable dearer. What
drives the loudspeakers hangs on all of them, so it is a role of the choice; of two sets that can do as much only the
cheaper is one. A stand, a mount and a cable hang on one loudspeaker, so they are bought with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import inf, isnan
from typing import Final, Self

import numpy as np

from triptych.catalog.database.gathering import Words
from triptych.catalog.equipment_record import EquipmentRecord
from triptych.catalog.money import round_half_up, to_minor
from triptych.catalog.ways_told import Minor, Perhaps
from triptych.catalog.words import EquipmentKind, SaleUnit, Status
from triptych.recommender.advise.catalogue import STAND_MOUNT_HEIGHT, AskingPrices, Loudspeakers
from triptych.recommender.advise.equipping import SERVED, gives_of
from triptych.recommender.advise.planning.offers import LeftOut, RoleOffer, in_the_plan, told, why_no_price
from triptych.recommender.money.budget.budget_lines import Budget, MoneyBasis
from triptych.recommender.money.budget.fitting import PASSIVE, RATED_FOR, Asks, Gives
from triptych.recommender.money.planner.problem import IntArray
from triptych.recommender.physics.wire import area_needed
from triptych.recommender.scene.arrays import BoolArray, Boxes, Drive, FloatArray
from triptych.recommender.scene.levels import MINIMUM_TO_NOMINAL

ELECTRONICS: Final = "electronics"
ACCESSORIES: Final = "accessories"

BORNE_BY: Final[Mapping[str, tuple[str, ...]]] = {
    "mains": ("stand",),
    "surrounds": ("stand", "mount"),
    "wides": ("stand", "mount"),
    "heights": ("mount",),
}
"""What bears loudspeakers of each role that are no towers. A centre stands where the room has a place for it."""

GRAINS: Final = 1000
"""So many parts of an ohm, and of a squared volt, are told apart."""


@dataclass(frozen=True, slots=True)
class OutfitPiece:
    """Something that a system has beside its loudspeakers.

    Parameters
    ----------
    role, item : str
        The role of the budget, and the name in the catalogue.
    quantity : int
        How many; of what is sold by the metre, how many metres.
    unit : str
        `each` or `metre`.
    serves : str
        The loudspeakers that it bears or joins; empty for what drives them all.
    cost : int
        What it takes from the limit. [minor units]
    gives : Gives
        What it does, as rules on what fits take it.
    """

    role: str
    item: str
    quantity: int
    unit: str
    serves: Perhaps
    cost: Minor
    gives: Gives

    @property
    def named(self) -> str:
        """Its name, with how many there are of it."""
        if self.unit == "metre":
            return f"{self.quantity} m of {self.item}"
        return self.item if self.quantity == 1 else f"{self.quantity} × {self.item}"


@dataclass(frozen=True, slots=True)
class Article:
    """Equipment of the catalogue with what one unit of sale costs in the plan. [minor units]."""

    record: EquipmentRecord
    gives: Gives
    price: Fraction

    def cost(self, quantity: int) -> int:
        """What so many take, or so many metres: exact, rounded once, as a line of a budget is. [minor units]."""
        units = -(-quantity // 2) if self.record.price_per is SaleUnit.PAIR else quantity
        return round_half_up(self.price * units)

    def piece(self, role: str, quantity: int, serves: str = "") -> OutfitPiece:
        """So many of it as what a system has; what is sold in pairs is bought in pairs."""
        pair = self.record.price_per is SaleUnit.PAIR
        bought = quantity + quantity % 2 if pair else quantity
        unit = "metre" if self.gives.by_metre else "each"
        return OutfitPiece(role, self.record.name, bought, unit, serves, self.cost(quantity), self.gives)

    def for_role(self, role: str) -> bool:
        """Whether it may serve a role."""
        return not self.record.serves or SERVED[role] in self.record.serves


def articles_of(
    records: Iterable[EquipmentRecord], basis: MoneyBasis
) -> tuple[tuple[Article, ...], tuple[LeftOut, ...]]:
    """The equipment that can be bought at a price that is known in the plan, and what is left out."""
    found: list[Article] = []
    reasons: dict[str, dict[str, list[str]]] = {ELECTRONICS: {}, ACCESSORIES: {}}
    for record in records:
        if record.kind is EquipmentKind.SOURCE:
            continue
        minor = None if record.price is None else to_minor(record.price, record.currency)
        tax = record.tax.value if record.tax else None
        asked = AskingPrices([minor], *map(Words.alone, (record.currency, None, tax, record.tax_rate, None)))
        reason = "discontinued" if record.status is Status.DISCONTINUED else why_no_price(asked, 0, basis)
        role = ELECTRONICS if gives_of(record).drives else ACCESSORIES
        if reason:
            reasons[role].setdefault(reason, []).append(record.name)
            continue
        factor = in_the_plan(record.currency, tax, record.tax_rate, basis)
        found.append(Article(record, gives_of(record), (minor or 0) * factor))
    left_out = (one for role, why in reasons.items() for one in told(role, why))
    return tuple(found), tuple(left_out)


@dataclass(frozen=True, slots=True)
class DriveSet:
    """A receiver, or one with an amplifier beside it: what it costs, the lowest load it takes, its squared volts."""

    articles: tuple[tuple[Article, int], ...]
    cost: int
    load: float
    voltage_squared: float

    @property
    def role(self) -> str:
        """The role of the budget that it is bought in."""
        return ELECTRONICS

    @property
    def pieces(self) -> tuple[OutfitPiece, ...]:
        """What is bought."""
        return tuple(article.piece(ELECTRONICS, many) for article, many in self.articles)

    @property
    def named(self) -> str:
        """All of it in one name."""
        return " and ".join(piece.named for piece in self.pieces)


@dataclass(frozen=True, slots=True)
class DriveDemand:
    """What has to be driven: passive loudspeakers, subwoofers, sources, and at least what a room's amplifier gives."""

    boxes: int
    subs: int
    sources: int
    drive: Drive
    asks: tuple[Asks, ...] = ()

    def met_by(self, load: float, voltage_squared: float) -> bool:
        """Whether so low a load and so many squared volts are enough for what is known already."""
        wanted = self.drive.power * self.drive.into
        if not (isnan(wanted) or voltage_squared >= wanted) or load > self.drive.lowest_load:
            return False
        return not any(load > one.load for one in self.asks)


def drive_sets(articles: Sequence[Article], demand: DriveDemand) -> tuple[DriveSet, ...]:
    """What could drive it all, the cheapest first; of two that can do as much, the cheaper alone."""
    receivers = [one for one in articles if one.gives.kind == "receiver" and _receives(one.gives, demand)]
    amplifiers = [one for one in articles if one.gives.kind == "amplifier" and one.gives.channels >= 1]
    found = []
    for receiver in receivers:
        more = demand.boxes - int(receiver.gives.channels)
        if more <= 0:
            found.append(_set_of((receiver, 1)))
        elif receiver.gives.outputs >= more:
            found += [_set_of((receiver, 1), (one, -(-more // int(one.gives.channels)))) for one in amplifiers]
    able = [one for one in found if not isnan(one.load) and demand.met_by(one.load, one.voltage_squared)]
    able.sort(key=lambda one: (one.cost, one.load, -one.voltage_squared, one.named))
    kept: list[DriveSet] = []
    for one in able:
        if not any(other.load <= one.load and other.voltage_squared >= one.voltage_squared for other in kept):
            kept.append(one)
    return tuple(kept)


def _receives(gives: Gives, demand: DriveDemand) -> bool:
    """Whether a receiver decodes for so many, and has the outputs and inputs; what is not stated is not there."""
    enough = gives.channels >= 1 and gives.decodes >= demand.boxes
    outputs = not demand.subs or gives.sub_outputs >= 1
    return enough and outputs and (not demand.sources or gives.inputs >= demand.sources)


def _set_of(*articles: tuple[Article, int]) -> DriveSet:
    """Some equipment together; whoever drives the hardest loudspeaker, all of it has to be able to."""
    loads = [article.gives.lowest_load for article, _ in articles]
    squared = [article.gives.voltage_squared for article, _ in articles]
    load = float("nan") if any(map(isnan, loads)) else max(loads)
    voltage = 0.0 if any(map(isnan, squared)) else min(squared)
    return DriveSet(articles, sum(article.cost(many) for article, many in articles), load, voltage)


@dataclass(frozen=True, slots=True)
class Extras:
    """What each candidate of a role is bought with: which article bears it and which feeds it, -1 for none.

    `misfit` marks those that nothing bears or feeds.
    """

    role: str
    pieces: int
    run: float | None
    articles: tuple[Article, ...]
    bearing: IntArray
    cable: IntArray
    cost: IntArray
    misfit: BoolArray

    def take(self, items: IntArray) -> Self:
        """Those of some candidates."""
        return replace(
            self,
            bearing=self.bearing[items],
            cable=self.cable[items],
            cost=self.cost[items],
            misfit=self.misfit[items],
        )

    def bought(self, at: int) -> tuple[OutfitPiece, ...]:
        """What a candidate is bought with."""
        found = []
        if self.bearing[at] >= 0:
            found.append(self.articles[self.bearing[at]].piece(ACCESSORIES, self.pieces, self.role))
        if self.cable[at] >= 0:
            article = self.articles[self.cable[at]]
            found.append(article.piece(ACCESSORIES, _length_bought(article, self.pieces, self.run), self.role))
        return tuple(found)


def _length_bought(article: Article, pieces: int, run: float | None) -> int:
    """How many pieces, or whole metres, of a cable so many runs take."""
    if not article.gives.by_metre:
        return pieces
    return -int(-(Fraction(str(run or 0)) * pieces) // 1)


def extras_of(
    catalogue: Loudspeakers, offered: RoleOffer, articles: Sequence[Article], run: float | None, *, must: Sequence[str]
) -> tuple[Extras, tuple[LeftOut, ...]]:
    """What the candidates of a role are bought with, the cheapest that fits each; and those that nothing fits.

    `must`: what has to fit, `bearing` and `cables`; what need not is left away where nothing fits.
    """
    role, rows, count = offered.role, offered.rows, len(offered)
    boxes = catalogue.boxes.take(rows)
    bears = [at for at, one in enumerate(articles) if one.gives.kind in BORNE_BY.get(role, ()) and one.for_role(role)]
    kind = "sub_cable" if role == "sub" else "speaker_cable"
    joins = [at for at, one in enumerate(articles) if one.gives.kind == kind and run is not None]
    needs = catalogue.small[rows] | (role in ("surrounds", "wides", "heights") and ~_stands_alone(boxes))
    free = np.zeros(count, dtype=np.bool_) if offered.fixed else np.ones(count, dtype=np.bool_)
    bearing, its_cost = _cheapest(articles, bears, offered.pieces, boxes, free & needs, None)
    cable, cable_cost = _cheapest(articles, joins, offered.pieces, boxes, free, run)
    reasons = {
        "no stand or mount of the catalogue is known to bear it": (
            bool(bears) and "bearing" in must, free & needs & (bearing < 0)
        ),
        "no cable of the catalogue is known to be long and thick enough": (
            bool(joins) and "cables" in must, free & (cable < 0)
        ),
    }  # fmt: skip
    misfit = np.zeros(count, dtype=np.bool_)
    left_out: dict[str, list[str]] = {}
    for reason, (holds, which) in reasons.items():
        if holds and which.any():
            misfit |= which
            left_out[reason] = [catalogue.names[row] for row in rows[which]]
    extras = Extras(role, offered.pieces, run, tuple(articles), bearing, cable, its_cost + cable_cost, misfit)
    return extras, told(role, left_out)


def _stands_alone(boxes: Boxes) -> BoolArray:
    """Which are upright towers, that stand on the floor wherever they are."""
    return np.asarray(~boxes.lying & (boxes.height > STAND_MOUNT_HEIGHT))


def _cheapest(
    articles: Sequence[Article], some: Sequence[int], pieces: int, boxes: Boxes, wanted: BoolArray, run: float | None
) -> tuple[IntArray, IntArray]:
    """For each box the cheapest article that fits it, by its place, -1 for none; and what it costs."""
    chosen = np.full(len(boxes), -1, dtype=np.int64)
    cost = np.zeros(len(boxes), dtype=np.int64)
    costs = {at: articles[at].cost(_length_bought(articles[at], pieces, run)) for at in some}
    for at in sorted(some, key=lambda one: (costs[one], articles[one].record.key)):
        fits = wanted & (chosen < 0) & _fits(articles[at].gives, boxes, run)
        chosen[fits], cost[fits] = at, costs[at]
    return chosen, cost


def _fits(gives: Gives, boxes: Boxes, run: float | None) -> BoolArray:
    """Which boxes a stand or a mount is known to hold, or a cable of this length to join."""
    if run is None:
        held = gives.bears >= RATED_FOR * boxes.weight
        return np.asarray(held & ~(boxes.width > gives.width) & ~(boxes.depth > gives.depth))
    long = gives.by_metre or gives.length >= run
    if gives.kind == "sub_cable":
        return np.full(len(boxes), long, dtype=np.bool_)
    # a cable whose copper nobody stated is not known to be thick enough
    nominal = _nominal(boxes)
    return np.asarray(
        long & (np.isnan(nominal) | (gives.area * nominal >= area_needed(run, 1.0))) & (not isnan(gives.area))
    )


def _nominal(boxes: Boxes) -> FloatArray:
    """The nominal impedance, or what the lowest one is usually of [ohm]."""
    from_minimum = boxes.impedance_minimum / MINIMUM_TO_NOMINAL
    return np.where(np.isnan(boxes.impedance_nominal), from_minimum, boxes.impedance_nominal)


def loads(boxes: Boxes) -> FloatArray:
    """The highest load that what drives each may be rated down to [ohm]; NaN where no impedance is stated."""
    return np.fmin(boxes.impedance_nominal, boxes.impedance_minimum / MINIMUM_TO_NOMINAL)


def asks_of_row(catalogue: Loudspeakers, row: int) -> Asks:
    """What one loudspeaker asks."""
    boxes = catalogue.boxes.take(np.array([row]))
    return Asks(
        load=float(loads(boxes)[0]),
        minimum=float(boxes.impedance_minimum[0]),
        nominal=float(boxes.impedance_nominal[0]),
        least_power=float(catalogue.least_power[row]),
        weight=float(boxes.weight[0]),
        width=float(boxes.width[0]),
        depth=float(boxes.depth[0]),
    )


def grains(values: FloatArray | Sequence[float]) -> IntArray:
    """Ohms or squared volts as whole numbers, unknown and endless ones as the least and the most there is."""
    array = np.nan_to_num(np.asarray(values, dtype=np.float64) * GRAINS, nan=0.0, posinf=1e12)
    return np.floor(array + 1e-6).astype(np.int64)


@dataclass(frozen=True, slots=True)
class Outfit:
    """What a choice has beside its loudspeakers: the sets that could drive it, and what each is bought with."""

    sets: tuple[DriveSet, ...] = ()
    extras: Mapping[str, Extras] = field(default_factory=dict)
    left_out: tuple[LeftOut, ...] = ()

    def of(self, kept: Mapping[str, IntArray]) -> Self:
        """The same for some of the candidates of each role."""
        sets = tuple(self.sets[at] for at in kept[ELECTRONICS].tolist()) if self.sets else ()
        return type(self)(sets, {role: one.take(kept[role]) for role, one in self.extras.items()}, self.left_out)

    def driven_by(self, chosen: Mapping[str, int]) -> tuple[DriveSet, ...]:
        """What drives a system, where that is chosen."""
        return (self.sets[chosen[ELECTRONICS]],) if self.sets else ()

    def bought(self, chosen: Mapping[str, int]) -> tuple[OutfitPiece, ...]:
        """What a system has beside its loudspeakers."""
        driven = (piece for one in self.driven_by(chosen) for piece in one.pieces)
        return (*driven, *(piece for role, one in self.extras.items() for piece in one.bought(chosen[role])))


def demand_of(counts: Mapping[str, int], fixed: Budget, drive: Drive) -> DriveDemand:
    """What has to be driven: what is wanted and what stands on lines."""
    standing = [line for line in fixed.lines if line.role in PASSIVE]
    boxes = sum(line.pieces for line in standing) + sum(many for role, many in counts.items() if role in PASSIVE)
    subs = counts.get("sub", 0) + sum(line.pieces for line in fixed.lines if line.role == "sub")
    sources = sum(line.pieces for line in fixed.lines if line.gives is not None and line.gives.kind == "source")
    asks = tuple(line.asks for line in standing if line.asks is not None)
    lowest = drive.lowest_load if not isnan(drive.lowest_load) else inf
    return DriveDemand(boxes, subs, sources, replace(drive, lowest_load=lowest), asks)
