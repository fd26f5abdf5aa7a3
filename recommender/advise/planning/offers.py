"""What the catalogue offers for each role at what price, and what is left out for which reason."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Final

import numpy as np

from triptych.catalog.money import to_amount
from triptych.recommender.advise.gather import STAND_MOUNT_HEIGHT, Columns, floats, lying
from triptych.recommender.money.budget.lines import Basis, read_line
from triptych.recommender.money.planner.problem import IntArray
from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray

OFFERED_AS: Final = {
    "mains": "main",
    "centre": "centre",
    "surrounds": "surround",
    "wides": "surround",
    "heights": "height",
    "sub": "sub",
}
"""The role of the catalogue from which each role of a budget is filled."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Loudspeakers that could not be considered for a role, and why."""

    role: str
    reason: str
    speakers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Offer:
    """Loudspeakers that could fill a role.

    Parameters
    ----------
    role : str
        The role of the budget.
    rows : array of int, (N,)
        Their rows in the catalogue's columns.
    pieces : int
        How many boxes the role takes.
    cost : array of int, (N,)
        What all boxes together take from the limit; nothing for a fixed line. [minor units]
    one : array of float, (N,)
        What one box costs, or is worth where it is owned; NaN if that is not known. [minor units]
    fixed : bool
        Whether the role is not chosen but stands on a line of the plan.
    """

    role: str
    rows: IndexArray
    pieces: int
    cost: IntArray
    one: FloatArray
    fixed: bool = False

    def __len__(self) -> int:
        return len(self.rows)

    def take(self, kept: IndexArray | BoolArray) -> Offer:
        """Some of them."""
        return replace(self, rows=self.rows[kept], cost=self.cost[kept], one=self.one[kept])


def eligible(columns: Columns, role: str) -> IndexArray:
    """The rows that may fill a role; as a centre also small mains, and any mains beside two of their own."""
    roles = [text.split("|") for text in columns["roles"]]
    offered = np.array([OFFERED_AS[role] in words for words in roles], dtype=np.bool_)
    if role == "centre":
        offered |= np.array(["main" in words for words in roles], dtype=np.bool_)
    return np.flatnonzero(offered & ~np.array(columns["retired"], dtype=np.bool_))


def beside_itself_only(columns: Columns, rows: IndexArray) -> BoolArray:
    """Which centres are mains that can only be a third one beside two of themselves, as `match` has it."""
    upright = ~lying(columns)[rows]
    small = np.nan_to_num(floats(columns["height"])[rows], nan=np.inf) <= STAND_MOUNT_HEIGHT
    centre = np.array(["centre" in columns["roles"][row].split("|") for row in rows], dtype=np.bool_)
    return np.asarray(~centre & ~(upright & small))


def offer(columns: Columns, role: str, pieces: int, basis: Basis, in_stock: bool, left_out: list[LeftOut]) -> Offer:
    """What the catalogue offers for a role at a price that is known; what is left out is added to `left_out`."""
    reasons: dict[str, list[str]] = {}
    rows: list[int] = []
    costs: list[int] = []
    could = eligible(columns, role)
    silent = beside_itself_only(columns, could) & (role == "centre")
    for row, quiet in zip(could.tolist(), silent.tolist(), strict=True):
        reason = _supply(columns, row, pieces, in_stock) or _price(columns, row, basis)
        if reason and quiet:
            continue
        if reason:
            reasons.setdefault(reason, []).append(str(columns["name"][row]))
        else:
            rows.append(row)
            costs.append(_cost(columns, row, role, pieces, basis))
    left_out += told(role, reasons)
    cost = np.array(costs, dtype=np.int64)
    return Offer(role, np.array(rows, dtype=np.intp), pieces, cost, cost / pieces)


def told(role: str, reasons: Mapping[str, Iterable[str]]) -> list[LeftOut]:
    """What is left out of a role, by reason."""
    return [LeftOut(role, reason, tuple(names)) for reason, names in reasons.items()]


def _supply(columns: Columns, row: int, pieces: int, in_stock: bool) -> str:
    available = columns["available"][row]
    if in_stock and (available is None or available < pieces):
        return "too few in stock that could be promised now"
    if columns["sold_as"][row] == "pair" and pieces % 2:
        return f"sold in pairs only, and {pieces} {'is' if pieces == 1 else 'are'} wanted"
    if columns["status"][row] == "discontinued" and (available is None or available < pieces):
        return "discontinued, and too few in stock"
    return ""


def _price(columns: Columns, row: int, basis: Basis) -> str:
    currency, tax, rate = (columns[name][row] for name in ("currency", "tax", "tax_rate"))
    if columns["price_minor"][row] is None:
        return "no price is on file"
    if currency is None:
        return "the currency of its price is not told"
    if currency != basis.currency and currency not in basis.rates:
        return f"its price is in {currency}, and there is no rate for it under [rates]"
    if tax is None:
        return "whether tax is in its price is not told"
    if (tax == "included") != basis.tax_included and rate is None and basis.tax_rate is None:
        return "the rate of tax for its price is not known; state tax_rate in the head"
    return ""


def _cost(columns: Columns, row: int, role: str, pieces: int, basis: Basis) -> int:
    pair = columns["price_per"][row] == "pair"
    price = to_amount(columns["price_minor"][row], columns["currency"][row])
    line: dict[str, Any] = {
        "role": role,
        "price": price / 2 if pair and pieces % 2 else price,
        "per": "pair" if pair and not pieces % 2 else "each",
        "quantity": pieces // 2 if pair and not pieces % 2 else pieces,
        "currency": columns["currency"][row],
        "tax_included": columns["tax"][row] == "included",
    }
    rate = columns["tax_rate"][row]
    if rate is not None:
        line["tax_rate"] = Decimal(str(rate))
    return read_line(line, str(columns["name"][row]), basis, []).amount


def sift(columns: Columns, offered: Offer, keep: BoolArray, reason: str, left_out: list[LeftOut]) -> BoolArray:
    """Tell what is not kept; the mask comes back, so that calls can be chained."""
    if not offered.fixed:
        names = [str(columns["name"][row]) for row in offered.rows[~keep]]
        left_out += [LeftOut(offered.role, reason, tuple(names))] if names else []
    return keep
