"""What a plan asks for: how many of what, beside which lines, in which room, from money that comes in which steps."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Final

from triptych.recommender.money.budget.errors import BadBudget
from triptych.recommender.money.budget.figures import amount, minor, number
from triptych.recommender.money.budget.lines import SPEAKERS_AND_SUB, Basis, Budget, read_basis, read_budget, read_role

ALSO: Final = frozenset({"want", "room", "steps", "weights"})
"""The keys of a plan's head that a budget's has not."""

WEIGHTS: Final[Mapping[str, float]] = {
    "front": 40.0,
    "mains": 25.0,
    "sub": 15.0,
    "surrounds": 12.0,
    "heights": 5.0,
    "wides": 3.0,
}
"""What each role can be worth at most; `front` is the centre and its match with the mains. Assumed, no source: the
centre counts most because most of the dialogue comes from it. A plan states others under [weights]."""

MOST_BOXES: Final = 24
"""More boxes in one role are taken for a slip of the pen."""

MOST_WAYS: Final = 12
"""How many combinations of numbers of boxes are tried at most."""

_COUNT: Final = re.compile(r"^(\d+)\s*(pairs?)?$")


@dataclass(frozen=True, slots=True)
class Wanted:
    """A plan's question, read.

    Parameters
    ----------
    fixed : Budget
        The limit, and the lines that stand: owned, bought, or set aside.
    basis : Basis
        The currency and tax basis of the limit, for the prices of the catalogue.
    counts : tuple of mapping
        The numbers of boxes by role; several where the plan may choose between numbers.
    room : str
        A room of the catalogue or a file; empty without one.
    steps : tuple of int
        Money as it comes in; empty if it is there at once. [minor units]
    weights : mapping
        What each role can be worth at most.
    """

    fixed: Budget
    basis: Basis
    counts: tuple[Mapping[str, int], ...]
    room: str
    steps: tuple[int, ...]
    weights: Mapping[str, float]

    @property
    def roles(self) -> tuple[str, ...]:
        """The roles that are to be chosen."""
        return tuple(self.counts[0])


def read_wanted(data: Mapping[str, Any], notes: tuple[str, ...] = ()) -> Wanted:
    """A plan's question from TOML already loaded, its prices filled in.

    Raises
    ------
    BadBudget
        A key or a value cannot be taken, or nothing is wanted.
    """
    budget = read_budget(data, ALSO)
    cautions = list(notes) + list(budget.cautions)
    counts = _counts(data.get("want"), cautions)
    fixed = replace(budget, cautions=tuple(cautions))
    _refuse_twice(counts[0], fixed)
    room = data.get("room", "")
    if not isinstance(room, str):
        raise BadBudget(f"room is {room!r}; write the name of a room of the catalogue, or of a room file")
    return Wanted(
        fixed,
        read_basis(data, []),
        counts,
        room,
        _steps(data.get("steps", []), fixed.currency),
        _weights(data.get("weights", {})),
    )


def _counts(want: object, cautions: list[str]) -> tuple[dict[str, int], ...]:
    if not isinstance(want, Mapping) or not want:
        raise BadBudget("want: write a [want] table of roles and numbers, such as mains = 2, centre = 1, surrounds = 2")
    ways: dict[str, tuple[int, ...]] = {}
    for word, value in want.items():
        role = read_role(word, "want")
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
        raise BadBudget(f"want: {role} = {value!r}; write {'mains = 2' if role == 'mains' else 'centre = 1'}")
    if not numbers or (0 in numbers and len(numbers) > 1):
        raise BadBudget(f"want: {role} = {value!r}; write a number, or numbers from 1 such as [1, 2]")
    return numbers


def _one_count(role: str, part: object, value: object) -> int:
    found = _COUNT.match(str(part).strip()) if not isinstance(part, bool) else None
    boxes = int(found[1]) * (2 if found[2] else 1) if found else -1
    if not 0 <= boxes <= MOST_BOXES:
        raise BadBudget(f"want: {role} = {value!r}; write a number such as 2, '1 pair', '1 or 2' or [1, 2]")
    return boxes


def _refuse_twice(counts: Mapping[str, int], fixed: Budget) -> None:
    for role in ("mains", "centre"):
        if role in counts and any(line.role == role for line in fixed.lines):
            raise BadBudget(f"{role} are both wanted and on a line; leave one of the two out")


def _steps(value: object, currency: str) -> tuple[int, ...]:
    if not isinstance(value, list):
        raise BadBudget("steps: write the sums in which money comes in, such as [1500, 1000]")
    steps = []
    for at, step in enumerate(value, start=1):
        sum_, mark = amount(step, f"steps: {at}", currency)
        if mark not in (None, currency) or sum_ <= 0:
            raise BadBudget(f"steps: {at} is {step!r}; write a sum above zero in {currency}")
        steps.append(minor(sum_, currency, f"steps: {at}"))
    return tuple(steps)


def _weights(value: object) -> Mapping[str, float]:
    if not isinstance(value, Mapping):
        raise BadBudget("weights: write a [weights] table such as front = 40, mains = 25")
    given = dict(WEIGHTS)
    for role, weight in value.items():
        if role not in WEIGHTS:
            raise BadBudget(f"weights: '{role}' is not known; there are {', '.join(WEIGHTS)}")
        share = number(weight, f"weights: {role}")
        if not 0 <= share <= 1000:
            raise BadBudget(f"weights: {role} is {weight!r}; write a number from 0 to 1000")
        given[role] = float(share)
    return given
