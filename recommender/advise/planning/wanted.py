"""What a plan asks for: how many of what, beside which lines, in which room, from money that comes in which steps."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import product
from typing import Annotated, Final

from triptych.catalog.inputs import shown
from triptych.recommender.money.budget.budget_lines import (
    ALSO_CALLED,
    SPEAKERS_AND_SUB,
    Budget,
    Head,
    MoneyBasis,
    read_headed,
    read_role,
)
from triptych.recommender.money.budget.errors import BadBudget
from triptych.recommender.money.budget.figures import amount, minor, number, run_of_cable
from triptych.recommender.money.budget.toml_records import Read, Table, as_it_is
from triptych.recommender.money.planner.linear_rules import SHOULD_COSTS

ROLE_WEIGHTS: Final[Mapping[str, float]] = {
    "front": 40.0,
    "mains": 25.0,
    "sub": 15.0,
    "surrounds": 12.0,
    "heights": 5.0,
    "wides": 3.0,
}
"""What each role can be worth at most; `front` is the centre and its match with the mains. Assumed, no source: the
centre counts most because most of the dialogue comes from it. A plan states others under [weights]."""

INDIFFERENCE: Final = 0.5
"""So much of worth nobody is taken to hear [points]. Assumed, no source: about what one point of a score makes between
centres, where most intervals are wider by far; a plan states another as `indifference`."""

MOST_POINTS: Final = Decimal(1000)
"""More points for a role, or for a rule, are taken for a slip of the pen."""

MOST_BOXES: Final = 24
"""More boxes in one role are taken for a slip of the pen."""

MOST_WAYS: Final = 12
"""How many combinations of numbers of boxes are tried at most."""

OUTFIT: Final = ("electronics", "accessories")
"""The roles that are chosen to fit the loudspeakers."""

_COUNT: Final = re.compile(r"^(\d+)\s*(pairs?)?$")


@dataclass(frozen=True, slots=True)
class Wanted:
    """A plan's question, read.

    Parameters
    ----------
    fixed : Budget
        The limit, and the lines that stand: owned, bought, or set aside.
    basis : MoneyBasis
        The currency and tax basis of the limit, for the prices of the catalogue.
    counts : tuple of mapping
        The numbers of boxes by role; several where the plan may choose between numbers.
    room : str
        A room of the catalogue or a file; empty without one.
    steps : tuple of int
        Money as it comes in; empty if it is there at once. [minor units]
    weights : mapping
        What each role can be worth at most.
    should_costs : float
        What a should costs that is short by as much as the limit. [points]
    indifference : float
        What difference in worth is taken for none. [points]
    runs : mapping of str to float
        How long the cable to one box of a role is, where that is told. [m]
    outfit : mapping of str to bool
        Whether electronics and accessories are chosen, where that is said; else they are where no line has them.
    """

    fixed: Budget
    basis: MoneyBasis
    counts: tuple[Mapping[str, int], ...]
    room: str
    steps: tuple[int, ...]
    weights: Mapping[str, float]
    should_costs: float = SHOULD_COSTS
    indifference: float = INDIFFERENCE
    runs: Mapping[str, float] = field(default_factory=dict)
    outfit: Mapping[str, bool] = field(default_factory=dict)

    def chooses(self, role: str) -> bool:
        """Whether electronics, or accessories, are chosen from the catalogue."""
        return self.outfit.get(role, not any(line.role == role for line in self.fixed.lines))

    @property
    def roles(self) -> tuple[str, ...]:
        """The roles that are to be chosen."""
        return tuple(self.counts[0])


def _room(value: object, where: str) -> str:
    if not isinstance(value, str):
        raise BadBudget(f"{where} is {shown(value)}; write the name of a room of the catalogue, or of a room file")
    return value


def _steps(value: object, where: str) -> list[object]:
    if not isinstance(value, list):
        raise BadBudget(f"{where}: write the sums in which money comes in, such as [1500, 1000]")
    return value


def _weights(value: object, where: str) -> Mapping[str, float]:
    if not isinstance(value, Mapping):
        raise BadBudget(f"{where}: write a [weights] table such as front = 40, mains = 25")
    given = dict(ROLE_WEIGHTS)
    for role, weight in value.items():
        if role not in ROLE_WEIGHTS:
            raise BadBudget(f"{where}: '{role}' is not known; there are {', '.join(ROLE_WEIGHTS)}")
        given[role] = _points(weight, f"{where}: {role}")
    return given


def _points(value: object, where: str) -> float:
    return float(number(value, where, Decimal(0), MOST_POINTS))


def _runs(value: object, where: str) -> Mapping[str, float]:
    if not isinstance(value, Mapping):
        raise BadBudget(f"{where}: write a [runs] table such as mains = '5 m', the cable to one box")
    found: dict[str, float] = {}
    for word, length in value.items():
        role = read_role(word, where)
        if role not in SPEAKERS_AND_SUB:
            raise BadBudget(f"{where}: {role} have no cable of their own; name {', '.join(SPEAKERS_AND_SUB)}")
        if role in found:
            raise BadBudget(f"{where}: {role} stands twice")
        found[role] = run_of_cable(length, f"{where}: {role}")
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanHead(Head):
    """What stands above the lines of a plan: the head of a budget, and what is wanted beside them."""

    want: Annotated[object, Read(as_it_is)] = None
    room: Annotated[str, Read(_room)] = ""
    steps: Annotated[Sequence[object], Read(_steps)] = ()
    weights: Annotated[Mapping[str, float], Read(_weights)] = field(default_factory=lambda: ROLE_WEIGHTS)
    should_costs: Annotated[float, Read(_points)] = SHOULD_COSTS
    indifference: Annotated[float, Read(_points)] = INDIFFERENCE
    runs: Annotated[Mapping[str, float], Read(_runs)] = field(default_factory=dict)


def read_wanted(data: Table, notes: tuple[str, ...] = ()) -> Wanted:
    """A plan's question from TOML already loaded, its prices filled in.

    Raises
    ------
    BadBudget
        A key or a value cannot be taken, or nothing is wanted.
    """
    head, budget = read_headed(PlanHead, data)
    cautions = [*notes, *budget.cautions]
    outfit = _outfit(head.want)
    counts = _counts(head.want, cautions)
    fixed = replace(budget, cautions=tuple(cautions))
    _refuse_twice(counts[0], fixed)
    steps = _sums(head.steps, fixed.currency)
    return Wanted(
        fixed, head, counts, head.room, steps, head.weights, head.should_costs, head.indifference, head.runs, outfit
    )


def _outfit(want: object) -> dict[str, bool]:
    """What is said of electronics and accessories: 1 to choose them, 0 to leave them out."""
    found = {}
    for word, value in want.items() if isinstance(want, Mapping) else ():
        role = ALSO_CALLED.get(str(word).strip().lower(), str(word).strip().lower())
        if role in OUTFIT:
            if isinstance(value, bool) or value not in (0, 1):
                raise BadBudget(f"want: {role} = {shown(value)}; write 1 to have them chosen, or 0")
            if role in found:
                raise BadBudget(f"want: {role} stands twice")
            found[role] = bool(value)
    return found


def _counts(want: object, cautions: list[str]) -> tuple[dict[str, int], ...]:
    if not isinstance(want, Mapping) or not want:
        raise BadBudget("want: write a [want] table of roles and numbers, such as mains = 2, centre = 1, surrounds = 2")
    ways: dict[str, tuple[int, ...]] = {}
    for word, value in want.items():
        role = read_role(word, "want")
        if role in OUTFIT:
            continue
        if role not in SPEAKERS_AND_SUB:
            raise BadBudget(f"want: {role} are not chosen from the catalogue; give them as a [[line]] with a price")
        if role in ways:
            raise BadBudget(f"want: {role} stands twice")
        ways[role] = _role_counts(role, value, cautions)
    some = {role: numbers for role, numbers in ways.items() if numbers != (0,)}
    combinations = [dict(zip(some, numbers, strict=True)) for numbers in product(*some.values())]
    if not some:
        raise BadBudget("want: nothing is wanted; write, for instance, centre = 1")
    if len(combinations) > MOST_WAYS:
        raise BadBudget(f"want: {len(combinations)} combinations of numbers; leave at most {MOST_WAYS}")
    return tuple(combinations)


def _role_counts(role: str, value: object, cautions: list[str]) -> tuple[int, ...]:
    parts = value if isinstance(value, list) else re.split(r"\s+or\s+", value) if isinstance(value, str) else [value]
    numbers = tuple(sorted({_one_count(role, part, value) for part in parts}))
    if role == "mains" and numbers == (1,):
        cautions.append("want: mains = 1 is taken as one pair")
        return (2,)
    expected = {"mains": ((0,), (2,)), "centre": ((0,), (1,))}.get(role)
    if expected and numbers not in expected:
        raise BadBudget(f"want: {role} = {shown(value)}; write {'mains = 2' if role == 'mains' else 'centre = 1'}")
    if not numbers or (0 in numbers and len(numbers) > 1):
        raise BadBudget(f"want: {role} = {shown(value)}; write a number, or numbers from 1 such as [1, 2]")
    return numbers


def _one_count(role: str, part: object, value: object) -> int:
    found = _COUNT.match(str(part).strip()) if not isinstance(part, bool) else None
    boxes = int(found[1]) * (2 if found[2] else 1) if found else -1
    if not 0 <= boxes <= MOST_BOXES:
        raise BadBudget(f"want: {role} = {shown(value)}; write a number such as 2, '1 pair', '1 or 2' or [1, 2]")
    return boxes


def _refuse_twice(counts: Mapping[str, int], fixed: Budget) -> None:
    for role in ("mains", "centre"):
        if role in counts and any(line.role == role for line in fixed.lines):
            raise BadBudget(f"{role} are both wanted and on a line; leave one of the two out")


def _sums(steps: Sequence[object], currency: str) -> tuple[int, ...]:
    sums = []
    for at, step in enumerate(steps, start=1):
        value, mark = amount(step, f"steps: {at}", currency)
        if mark not in (None, currency) or value <= 0:
            raise BadBudget(f"steps: {at} is {shown(step)}; write a sum above zero in {currency}")
        sums.append(minor(value, currency, f"steps: {at}"))
    return tuple(sums)
