"""Random equipment, and every system of loudspeakers with all of it tried: what a plan is held to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from functools import cache, partial
from itertools import product
from math import ceil, isnan
from typing import NamedTuple

import numpy as np
from sqlalchemy import Engine

from tests.recommender.advise.planning import shops
from tests.recommender.advise.planning.shops import HEAD, WANT
from triptych.catalog.database.engine import reading
from triptych.catalog.database.reads import loudspeaker
from triptych.catalog.equipment_record import EquipmentRecord
from triptych.catalog.records import LoudspeakerRecord, Role
from triptych.catalog.words import EquipmentKind, SaleUnit, Tax
from triptych.recommender.advise.equipping import asks_of, gives_of
from triptych.recommender.advise.planning.choose import choices
from triptych.recommender.advise.planning.ground import Ground
from triptych.recommender.advise.planning.judgement import Judgement
from triptych.recommender.money.budget.budget_lines import Budget, BudgetLine
from triptych.recommender.money.budget.check import check
from triptych.recommender.money.budget.rules import FILM_FIRST, Duty, Form, RuleSet, share
from triptych.recommender.money.planner.solve import solve

RULES = RuleSet(
    "some",
    (
        *(rule for rule in FILM_FIRST.rules if rule.form is not Form.PRESENCE),
        share(
            "accessories_floor", Form.FLOOR, Duty.SHOULD, "accessories", "0.08", "audio_total", "cables are forgotten"
        ),
        share(
            "electronics_cap", Form.CAP, Duty.SHOULD, "electronics", "0.20", "audio_total", "money is heard elsewhere"
        ),
    ),
)


def piece(kind: EquipmentKind, model: str, price: int, **known: object) -> EquipmentRecord:
    return EquipmentRecord("Tallow", model, kind, price=Decimal(price), currency="EUR", tax=Tax.INCLUDED,
                           **known)  # type: ignore[arg-type]  # fmt: skip


def rack(seed: int) -> tuple[EquipmentRecord, ...]:
    """Random equipment, coarse enough for ties."""
    draw = np.random.default_rng(seed)

    def one(*values: float) -> float:
        return float(draw.choice(values))

    def price(*values: int) -> int:
        return int(draw.choice(values))

    receivers = (
        piece(EquipmentKind.RECEIVER, f"R{at}", price(300, 500, 500, 900), channels=int(one(3, 5, 7)),
              processed_channels=7, preamplifier_outputs=int(one(0, 4)), sub_outputs=int(one(0, 1, 1)),
              power=one(95, 120), power_into=8.0, lowest_load=one(4, 6, 8))
        for at in range(4)
    )  # fmt: skip
    amplifiers = (
        piece(EquipmentKind.AMPLIFIER, f"A{at}", price(200, 400), channels=int(one(1, 2)), power=150.0, power_into=8.0,
              lowest_load=one(4, 6))
        for at in range(2)
    )  # fmt: skip
    bearing = (
        piece(kind, f"{kind.value} {at}", price(50, 90, 120), bears=one(6, 12, 30),
              price_per=[SaleUnit.EACH, SaleUnit.PAIR][int(draw.integers(2))],
              serves=[None, frozenset({Role.MAIN}), frozenset({Role.SURROUND})][int(draw.integers(3))])
        for kind in (EquipmentKind.STAND, EquipmentKind.MOUNT) for at in range(2)
    )  # fmt: skip
    cables = (
        piece(
            EquipmentKind.SPEAKER_CABLE, "thin", price(1, 2), conductor_area=one(0.75, 1.5), price_per=SaleUnit.METRE
        ),
        piece(EquipmentKind.SPEAKER_CABLE, "thick", price(3, 4), conductor_area=4.0, price_per=SaleUnit.METRE),
        piece(EquipmentKind.SPEAKER_CABLE, "ten", 12, conductor_area=4.0, length=10.0),
        piece(EquipmentKind.SUB_CABLE, "bass", price(10, 20), length=one(4, 6)),
    )
    return (*receivers, *amplifiers, *bearing, *cables)


class Whole(NamedTuple):
    """A system from trying everything; `worth` is before what shoulds cost, `parts` are its names by role. [1/1000]."""

    value: float
    cost: int
    names: frozenset[str]
    worth: int
    parts: tuple[str, ...]


def units(one: EquipmentRecord, quantity: float) -> int:
    """What so many of a piece, or so many metres, cost. [cents]."""
    count = ceil(quantity / 2) if one.price_per is SaleUnit.PAIR else ceil(quantity)
    return int(one.price or 0) * 100 * count


def racks_of(pieces: Sequence[EquipmentRecord]) -> Iterator[list[tuple[EquipmentRecord, int]]]:
    """Every receiver by itself, and with any number up to seven of every amplifier."""
    for receiver in (one for one in pieces if one.kind is EquipmentKind.RECEIVER):
        yield [(receiver, 1)]
        for amplifier in (one for one in pieces if one.kind is EquipmentKind.AMPLIFIER):
            yield from ([(receiver, 1), (amplifier, many)] for many in range(1, 8))


class Bare(NamedTuple):
    """A system without electronics: its worth, its names, and its lines with the cheapest extras."""

    value: float
    names: tuple[str, ...]
    lines: list[BudgetLine]


def bare_systems(engine: Engine, pieces: Sequence[EquipmentRecord]) -> list[Bare]:
    """Every system of loudspeakers that the plan without equipment finds, where something bears and feeds it."""
    question = shops.wanted(engine, HEAD.format(limit=10**6) + WANT + "electronics = 0\naccessories = 0\n")
    found = []
    with reading(engine) as session:
        ground = Ground.of(session, question, None, in_stock=False)
        plain, box = RuleSet("none", ()), cache(partial(loudspeaker, session))
        among = choices(ground, plain, Judgement.of(ground, plain))
        for choice, system in ((one, system) for one in among for system in solve(one.problem, 10_000).systems):
            names = {role: ground.catalogue.names[row] for role in choice.offers
                     if (row := choice.row(system, role)) is not None}  # fmt: skip
            lines = dressed({role: box(name) for role, name in names.items()}, pieces)
            if lines is not None:
                found.append(Bare(system.value, tuple(names.values()), lines))
    return found


def everything(systems: Sequence[Bare], pieces: Sequence[EquipmentRecord], limit: int) -> list[Whole]:
    """Every system of loudspeakers with every rack.

    What a system of loudspeakers is worth is held by test_plan; what fits, costs and breaks is worked out here.
    """
    found = []
    for system, parts in product(systems, racks_of(pieces)):
        lines = [*system.lines, *(
            BudgetLine("electronics", units(one, many), many, one.name, gives=gives_of(one)) for one, many in parts
        )]  # fmt: skip
        budget = Budget("EUR", limit * 100, True, tuple(lines))
        if budget.total > budget.limit or any(one.lowest_load is None for one, _ in parts):
            continue
        judged = check(budget, RULES)
        if judged.over or judged.broken or judged.misfits:
            continue
        paid = sum(ceil(25_000 * one.short / budget.limit) for one in judged.results)
        worth, names = round(system.value * 1000), frozenset({*system.names, *(one.name for one, _ in parts)})
        driven = " and ".join(f"{many} {one.name}" for one, many in parts)
        found.append(Whole((worth - paid) / 1000, budget.total, names, worth, (*system.names, driven)))
    return sorted(worth_their_price(found), key=lambda one: (-one.value, one.cost))


def worth_their_price(found: Sequence[Whole]) -> list[Whole]:
    """Those of which no single part could be exchanged for a cheaper one with which the whole is worth no less."""
    least: dict[tuple[int, tuple[str, ...]], list[Whole]] = {}
    for one in found:
        for at in range(len(one.parts)):
            least.setdefault((at, (*one.parts[:at], *one.parts[at + 1 :])), []).append(one)
    poorer = {
        one.parts for same in least.values() for one, other in product(same, same)
        if other.cost < one.cost and other.worth >= one.worth
    }  # fmt: skip
    return [one for one in found if one.parts not in poorer]


RUN = {"mains": 4.0, "centre": 2.0, "surrounds": 9.0, "sub": 5.0}
NEEDS = {"mains": (EquipmentKind.STAND,), "surrounds": (EquipmentKind.STAND, EquipmentKind.MOUNT)}
WORD = {"mains": Role.MAIN, "surrounds": Role.SURROUND}


def dressed(boxes: Mapping[str, LoudspeakerRecord], pieces: Sequence[EquipmentRecord]) -> list[BudgetLine] | None:
    """The lines of some loudspeakers with the cheapest that bears and feeds each; None where something is needed."""
    lines = []
    for role, box in boxes.items():
        many = 2 if role in ("mains", "surrounds") else 1
        price = int((box.price or 0) * 100) * (1 if box.price_per and box.price_per.value == "pair" else many)
        lines.append(BudgetLine(role, price, many, box.name, asks=asks_of(box), run=RUN[role]))
        there = [
            one for one in pieces if one.kind in NEEDS.get(role, ()) and (not one.serves or WORD[role] in one.serves)
        ]
        if there and (box.height or 9) <= 0.6:
            able = [one for one in there if (one.bears or 0) >= 2 * (box.weight or 1e9)]
            if not able:
                return None
            best = min(able, key=lambda one: units(one, many))
            count = many + many % 2 if best.price_per is SaleUnit.PAIR else many
            lines.append(
                BudgetLine("accessories", units(best, many), count, best.name, gives=gives_of(best), serves=role)
            )
        kind = EquipmentKind.SUB_CABLE if role == "sub" else EquipmentKind.SPEAKER_CABLE
        ohm = box.impedance_nominal or 8.0
        cables = [(one, gives_of(one)) for one in pieces if one.kind is kind]
        fitting = [one for one, gives in cables if (gives.by_metre or gives.length >= RUN[role])
                   and (isnan(gives.area) or 2 * 0.017241 * RUN[role] / gives.area <= 0.05 * ohm)]  # fmt: skip
        if not fitting:
            return None
        counts = {one.name: ceil(many * RUN[role]) if gives_of(one).by_metre else many for one in fitting}
        best = min(fitting, key=lambda one: units(one, counts[one.name]))
        cost = units(best, counts[best.name])
        lines.append(BudgetLine("accessories", cost, counts[best.name], best.name, gives=gives_of(best), serves=role))
    return lines
