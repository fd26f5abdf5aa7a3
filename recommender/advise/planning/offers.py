"""What the catalogue offers for each role at what price, and what is left out for which reason."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

import numpy as np

from triptych.catalog.money import MOST_MONEY, minor_digits, round_half_up
from triptych.recommender.advise.catalogue import AskingPrices, Loudspeakers
from triptych.recommender.money.budget.budget_lines import MoneyBasis
from triptych.recommender.money.planner.problem import IntArray
from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray, Life, Sold
from triptych.recommender.scene.structures import Arrays

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
class RoleOffer(Arrays):
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


def eligible(catalogue: Loudspeakers, role: str) -> IndexArray:
    """The rows that may fill a role; as a centre also small mains, and any mains beside two of their own."""
    offered = catalogue.offered[OFFERED_AS[role]]
    if role == "centre":
        offered = offered | catalogue.offered["main"]
    return np.flatnonzero(offered & ~catalogue.retired)


def beside_itself_only(catalogue: Loudspeakers, rows: IndexArray) -> BoolArray:
    """Which centres are mains that can only be a third one beside two of themselves, as `match` has it."""
    return np.asarray(~catalogue.offered["centre"][rows] & ~catalogue.small[rows])


def offer(
    catalogue: Loudspeakers, role: str, pieces: int, basis: MoneyBasis, in_stock: bool
) -> tuple[RoleOffer, tuple[LeftOut, ...]]:
    """What the catalogue offers for a role at a price that is known, and what is left out."""
    reasons: dict[str, list[str]] = {}
    rows: list[int] = []
    could = eligible(catalogue, role)
    silent = beside_itself_only(catalogue, could) & (role == "centre")
    in_pairs, gone = catalogue.boxes.sold == Sold.PAIR, catalogue.boxes.life == Life.DISCONTINUED
    flags = zip(*(part.tolist() for part in (could, silent, in_pairs[could], gone[could])), strict=True)
    for row, quiet, paired, last in flags:
        few = catalogue.available[row] is None or (catalogue.available[row] or 0) < pieces
        reason = _supply(few, paired, last, pieces, in_stock) or why_no_price(catalogue.asked, row, basis)
        if reason and quiet:
            continue
        if reason:
            reasons.setdefault(reason, []).append(catalogue.names[row])
        else:
            rows.append(row)
    costs, most = _costs(catalogue.asked, rows, pieces, basis), int(MOST_MONEY) * 10 ** minor_digits(basis.currency)
    if too_dear := [row for row, cost in zip(rows, costs, strict=True) if cost > most]:
        reasons["its price is out of range"] = [catalogue.names[row] for row in too_dear]
        rows = [row for row, one in zip(rows, costs, strict=True) if one <= most]
    cost = np.array([one for one in costs if one <= most], dtype=np.int64)
    return RoleOffer(role, np.array(rows, dtype=np.intp), pieces, cost, cost / pieces), told(role, reasons)


def told(role: str, reasons: Mapping[str, Iterable[str]]) -> tuple[LeftOut, ...]:
    """What is left out of a role, by reason."""
    return tuple(LeftOut(role, reason, tuple(names)) for reason, names in reasons.items())


def _supply(few: bool, in_pairs: bool, gone: bool, pieces: int, in_stock: bool) -> str:
    """Why so many can't be bought; `few` says that fewer can be promised, or that nobody knows."""
    if in_stock and few:
        return "too few in stock that could be promised now"
    if in_pairs and pieces % 2:
        return f"sold in pairs only, and {pieces} {'is' if pieces == 1 else 'are'} wanted"
    return "discontinued, and too few in stock" if gone and few else ""


def why_no_price(asked: AskingPrices, row: int, basis: MoneyBasis) -> str:
    """Why a price on file is none in the plan; empty where it is one."""
    currency, tax, rate = asked.currency[row], asked.tax[row], asked.tax_rate[row]
    if asked.minor[row] is None:
        return "no price is on file"
    if asked.per[row] is None and asked.sold_as[row] == "pair":
        return "sold in pairs, and whether its price is of each or of a pair is not told"
    if currency is None:
        return "the currency of its price is not told"
    if currency != basis.currency and currency not in basis.rates:
        return f"its price is in {currency}, and there is no rate for it under [rates]"
    if tax is None:
        return "whether tax is in its price is not told"
    if (tax == "included") != basis.tax_included and rate is None and basis.tax_rate is None:
        return "the rate of tax for its price is not known; state tax_rate in the head"
    return ""


def _costs(asked: AskingPrices, rows: list[int], pieces: int, basis: MoneyBasis) -> list[int]:
    """What so many boxes of each take from the limit: exact, rounded once, as a line of a budget is. [minor units]."""
    factors: dict[tuple[str | None, str | None, float | None], Fraction] = {}
    costs = []
    for row in rows:
        key = asked.currency[row], asked.tax[row], asked.tax_rate[row]
        if key not in factors:
            factors[key] = in_the_plan(*key, basis)
        boxes = Fraction(pieces, 2) if asked.per[row] == "pair" else pieces
        costs.append(round_half_up((asked.minor[row] or 0) * boxes * factors[key]))
    return costs


def in_the_plan(currency: str | None, tax: str | None, rate: float | None, basis: MoneyBasis) -> Fraction:
    """What a minor unit on file is in minor units of the limit, in its currency and on its tax basis."""
    code = currency or basis.currency
    exchange = Fraction(1) if code == basis.currency else basis.rates[code]
    exchange *= Fraction(10) ** (minor_digits(basis.currency) - minor_digits(code))
    if (tax == "included") == basis.tax_included:
        return exchange
    share = basis.tax_rate if rate is None else Fraction(Decimal(str(rate))) / 100
    assert share is not None
    return exchange / (1 + share) if tax == "included" else exchange * (1 + share)


def sifted(catalogue: Loudspeakers, offered: RoleOffer, keep: BoolArray, reason: str) -> tuple[LeftOut, ...]:
    """What is not kept of an offer; nothing where it stands on a line of the plan."""
    names = () if offered.fixed else tuple(catalogue.names[row] for row in offered.rows[~keep])
    return (LeftOut(offered.role, reason, names),) if names else ()
