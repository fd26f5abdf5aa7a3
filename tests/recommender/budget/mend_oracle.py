"""Mends by trying everything, from the words of the README: the lines of a file, the rules, what a dealer would move.

Shares no code with `recommender.money`: it reads the file, writes the rules out and chooses by itself, in whole
numbers and fractions.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor, lcm
from typing import Final

import numpy as np
from numpy.typing import NDArray

AROUND: Final = ("surrounds", "wides", "heights")
SOUND: Final = ("mains", "centre", *AROUND, "sub")
AUDIO: Final = (*SOUND, "electronics", "accessories", "calibration")
SMALL: Final = ("accessories", "calibration")

BOX, SUM = "a box", "all of it"
RULES: Final = {
    "film-first": (
        ("centre_at_least_one_main", "floor", ("centre",), BOX, "1", ("mains",)),
        ("centre_at_least_any_surround", "floor", ("centre",), BOX, "1", AROUND),
        ("sub_floor", "floor", ("sub",), SUM, "0.15", AUDIO),
        ("sub_cap", "cap", ("sub",), SUM, "0.35", AUDIO),
        ("contingency", "left", (), SUM, "0.05", ()),
    ),
    "music-first": (
        ("mains_floor", "floor", ("mains",), SUM, "0.4", SOUND),
        ("main_at_least_any_surround", "floor", ("mains",), BOX, "1", AROUND),
        ("centre_at_least_half_a_main", "floor", ("centre",), BOX, "0.5", ("mains",)),
        ("centre_at_least_any_surround", "floor", ("centre",), BOX, "1", AROUND),
        ("sub_cap", "cap", ("sub",), SUM, "0.3", AUDIO),
        ("contingency", "left", (), SUM, "0.05", ()),
    ),
    "small-room": (
        ("centre_at_least_one_main", "floor", ("centre",), BOX, "1", ("mains",)),
        ("centre_at_least_any_surround", "floor", ("centre",), BOX, "1", AROUND),
        ("mains_cap", "cap", ("mains",), SUM, "0.5", SOUND),
        ("sub_floor", "floor", ("sub",), SUM, "0.1", AUDIO),
        ("sub_cap", "cap", ("sub",), SUM, "0.25", AUDIO),
        ("contingency", "left", (), SUM, "0.05", ()),
    ),
}
"""The shoulds of the supplied sets: at least or at most so much of some roles; and what is left of the limit."""

NEEDED: Final = {
    "film-first": ("mains", "centre", "accessories"),
    "music-first": ("mains", "accessories"),
    "small-room": ("mains", "centre", "accessories"),
}
"""What no list goes without; a rule on what is missing is not judged."""

SPENDS: Final = {
    "film-first": "mains centre accessories electronics sub surrounds heights wides calibration display",
    "music-first": "mains electronics accessories sub centre surrounds heights wides calibration display",
    "small-room": "centre mains accessories electronics sub surrounds calibration heights wides display",
}

OUT_OF: Final = {**dict.fromkeys((*AROUND, "sub", "display"), 1), "electronics": 10, "mains": 10, "centre": 20,
                 **dict.fromkeys(SMALL, 40)}  # fmt: skip
"""A unit out of a line counts so much, one into it 1."""

Row = tuple[tuple[int, ...], int]
"""Whole numbers: these times the amounts come to at least that."""


@dataclass(frozen=True)
class Line:
    """A line of the file; `pieces` are boxes, `step` what its sum moves by so that each has a whole price."""

    role: str
    amount: int
    pieces: int
    step: int
    owned: bool
    moves: bool
    named: bool


@dataclass(frozen=True)
class Package:
    """A file, read."""

    limit: int
    lines: tuple[Line, ...]

    @classmethod
    def read(cls, text: str) -> Package:
        """The lines in minor units, tax rounded once on the whole of a line, halves up."""
        data = tomllib.loads(text, parse_float=Decimal)
        unit = {"EUR": 100, "JPY": 1}[data["currency"]]
        tax = 1 + Fraction(data.get("tax_rate", 0)) / 100
        lines = []
        for one in data["line"]:
            quantity, owned = one.get("quantity", 1), one.get("owned", False)
            whole = Fraction(one["price"]) * quantity * unit * (1 if one["tax_included"] else tax)
            amount = 0 if owned else floor(whole + Fraction(1, 2))
            pieces = quantity * (2 if one.get("per") == "pair" else 1)
            step = quantity if amount % quantity == 0 else 1
            moves = amount > 0 and not owned and not one.get("fixed", False)
            lines.append(Line(one["role"], amount, pieces, step, owned, moves, "item" in one))
        return cls(data["limit"] * unit, tuple(lines))

    def rows(self, name: str) -> dict[str, tuple[Row, ...]]:
        """Every should of a set that can be judged, as rows."""
        missing = {
            role
            for role in NEEDED[name]
            if not any(one.role == role and (one.owned or one.amount or one.named) for one in self.lines)
        }
        found = {}
        for rule, form, left, measure, factor, right in RULES[name]:
            if missing & set(left):
                continue
            rows = tuple(self._rows(form, left, measure, Fraction(factor), right))
            if rows:
                found[rule] = rows
        return found

    def _rows(
        self, form: str, left: Sequence[str], measure: str, factor: Fraction, right: Sequence[str]
    ) -> Iterator[Row]:
        numbered, count = list(enumerate(self.lines)), len(self.lines)
        if form == "left":
            # what is left is at least a part of the limit
            yield _whole([Fraction(-1)] * count, factor * self.limit - self.limit)
        elif measure == SUM:
            if any(one.owned for one in self.lines if one.role in left):
                return
            if any(one.owned for one in self.lines if one.role in right and one.role not in SMALL):
                return
            turn = 1 if form == "floor" else -1
            yield _whole(
                [turn * ((one.role in left) - factor * (one.role in right) * (not one.owned)) for one in self.lines], 0
            )
        else:
            bought = [(at, one) for at, one in numbered if not one.owned]
            for at, one in ((at, one) for at, one in bought if one.role in left):
                for place, other in ((at, one) for at, one in bought if one.role in right):
                    row = [Fraction(0)] * count
                    row[at] += Fraction(1, one.pieces)
                    row[place] -= factor / other.pieces
                    yield _whole(row, 0)

    def broken(self, name: str, amounts: Sequence[int]) -> set[str]:
        """The shoulds that do not hold at these amounts."""
        rows = self.rows(name)
        return {rule for rule, some in rows.items() if not all(_meets(row, amounts) for row in some)}


def _whole(row: Sequence[Fraction | int], least: Fraction | int) -> Row:
    parts = [Fraction(one) for one in (*row, least)]
    scale = lcm(*(one.denominator for one in parts))
    *whole, bound = (int(one * scale) for one in parts)
    return tuple(whole), bound


def _meets(row: Row, amounts: Sequence[int]) -> bool:
    return sum(a * x for a, x in zip(row[0], amounts, strict=True)) >= row[1]


Table = NDArray[np.int64]


def every(package: Package, name: str, half: bool) -> Table:
    """All amounts within the limit, each line with what it keeps: half of it, or a unit for each that is counted.

    Only what stands on the left of a floor of the set may take more.
    """
    asked = {role for _, form, left, *_ in RULES[name] if form == "floor" for role in left}
    table = np.zeros((1, 0), dtype=np.int64)
    for line in package.lines:
        values = np.array([line.amount])
        if line.moves:
            keeps = -(-line.amount // 2) if half else min(line.amount, line.step)
            down = (line.amount - keeps) // line.step
            most = package.limit if line.role in asked else line.amount
            values = np.arange(line.amount - down * line.step, most + 1, line.step)
        table = np.hstack([np.repeat(table, len(values), axis=0), np.tile(values, len(table))[:, None]])
        table = table[table.sum(axis=1) <= package.limit]
    return table


def _kept(table: Table, rows: Sequence[Row]) -> Table:
    for row, least in rows:
        table = table[table @ np.array(row, dtype=np.int64) >= least]
    return table


@dataclass(frozen=True)
class Best:
    """What a dealer's mend comes to: the shoulds that hold after it, its effort, and what touching lines counts."""

    held: frozenset[str]
    effort: int
    touched: Fraction


def best(package: Package, name: str) -> Best | None:
    """The mend that hurts least; None where the limit cannot be kept."""
    rows, old = package.rows(name), [line.amount for line in package.lines]
    broken = package.broken(name, old)
    before = [rule for rule in rows if rule not in broken]
    table = every(package, name, half=True)
    if not len(_kept(table, [row for rule in before for row in rows[rule]])):
        table = every(package, name, half=False)
    if not len(table):
        return None
    held: list[str] = []
    # all that held together or one by one, then what was broken in the same way
    for some in (before, *([one] for one in before), list(rows), *([one] for one in rows)):
        left = _kept(table, [row for rule in some for row in rows[rule]])
        if len(left):
            table, held = left, [*held, *some]
    steps = table - np.array(old)
    weights = np.array([OUT_OF[line.role] for line in package.lines])
    efforts = np.where(steps > 0, steps, -steps * weights).sum(axis=1)
    cheapest = table[efforts == efforts.min()]
    touched = min(touching(package, name, row.tolist()) for row in cheapest)
    return Best(frozenset(rows) - package.broken(name, cheapest[0].tolist()), int(efforts.min()), touched)


def touching(package: Package, name: str, amounts: Sequence[int]) -> Fraction:
    """Lines that are touched, and of as many rather those on which the set spends last."""
    order = SPENDS[name].split()
    changed = [line.role for line, new in zip(package.lines, amounts, strict=True) if new != line.amount]
    return sum((1 + Fraction(len(order) - order.index(role), 100) for role in changed), Fraction(0))
