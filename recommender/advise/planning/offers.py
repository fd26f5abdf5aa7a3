"""What the catalogue offers for each role at what price, and what is left out for which reason."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

import numpy as np

from triptych.catalog.money import MOST_MONEY, minor_digits
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


def offered_as(role: str) -> tuple[str, ...]:
    """The roles of the catalogue from which a role of a budget may be filled."""
    return (OFFERED_AS[role], "main") if role == "centre" else (OFFERED_AS[role],)


def eligible(catalogue: Loudspeakers, role: str) -> IndexArray:
    """The rows that may fill a role; as a centre also small mains, and any mains beside two of their own."""
    offered = np.logical_or.reduce([catalogue.offered[one] for one in offered_as(role)])
    return np.flatnonzero(offered & ~catalogue.retired)


def beside_itself_only(catalogue: Loudspeakers, rows: IndexArray) -> BoolArray:
    """Which centres are mains that can only be a third one beside two of themselves, as `match` has it."""
    return np.asarray(~catalogue.offered["centre"][rows] & ~catalogue.small[rows])


def offer(
    catalogue: Loudspeakers, role: str, pieces: int, basis: MoneyBasis, in_stock: bool
) -> tuple[RoleOffer, tuple[LeftOut, ...]]:
    """What the catalogue offers for a role at a price that is known, and what is left out."""
    could, asked = eligible(catalogue, role), catalogue.asked
    kinds, like = asked.kinds(could)
    priced = np.array([not why_no_price(asked, row, basis) for row in kinds.tolist()], dtype=np.bool_)[like]
    few = ~(catalogue.boxes.available[could] >= pieces)
    in_pairs, gone = catalogue.boxes.sold[could] == Sold.PAIR, catalogue.boxes.life[could] == Life.DISCONTINUED
    had = ~((few & (in_stock | gone)) | (in_pairs & (pieces % 2 == 1)))
    kept = had & priced
    reasons: dict[str, list[str]] = {}
    told_of = ~kept & ~(beside_itself_only(catalogue, could) & (role == "centre"))
    flags = zip(*(part[told_of].tolist() for part in (could, few, in_pairs, gone)), strict=True)
    for row, short, paired, last in flags:
        reason = _supply(short, paired, last, pieces, in_stock) or why_no_price(asked, row, basis)
        reasons.setdefault(reason, []).append(catalogue.names[row])
    rows = could[kept]
    costs, most = _costs(asked, rows, pieces, basis), int(MOST_MONEY) * 10 ** minor_digits(basis.currency)
    if too_dear := [row for row, cost in zip(rows.tolist(), costs, strict=True) if cost > most]:
        reasons["its price is out of range"] = [catalogue.names[row] for row in too_dear]
        rows = rows[[cost <= most for cost in costs]]
    cost = np.array([one for one in costs if one <= most], dtype=np.int64)
    return RoleOffer(role, rows, pieces, cost, cost / pieces), told(role, reasons)


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


def _costs(asked: AskingPrices, rows: IndexArray, pieces: int, basis: MoneyBasis) -> list[int]:
    """What so many boxes of each take from the limit: exact, rounded once, as a line of a budget is. [minor units]."""
    kinds, like = asked.kinds(rows)
    each = [_factor(asked, row, pieces, basis).as_integer_ratio() for row in kinds.tolist()]
    # round_half_up, without a fraction for every price
    minor = (asked.minor[row] or 0 for row in rows.tolist())
    ratios = (each[kind] for kind in like.tolist())
    return [(2 * one * over + under) // (2 * under) for one, (over, under) in zip(minor, ratios, strict=True)]


def _factor(asked: AskingPrices, row: int, pieces: int, basis: MoneyBasis) -> Fraction:
    """By how much a price on file is multiplied for so many boxes."""
    boxes = Fraction(pieces, 2) if asked.per[row] == "pair" else Fraction(pieces)
    return boxes * in_the_plan(asked.currency[row], asked.tax[row], asked.tax_rate[row], basis)


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
