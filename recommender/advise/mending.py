"""Loudspeakers of the catalogue that a mend's money would buy."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.database.candidates import candidate_columns
from triptych.catalog.database.rows import name_key
from triptych.catalog.money import money
from triptych.recommender.advise.catalogue import Loudspeakers, loudspeakers_of
from triptych.recommender.advise.planning.offers import OFFERED_AS, offer
from triptych.recommender.advise.pricing import named
from triptych.recommender.money.budget.budget_lines import Budget, MoneyBasis
from triptych.recommender.money.budget.check import check
from triptych.recommender.money.budget.mend import Mend, Product, with_amounts
from triptych.recommender.money.budget.rules import RuleSet

NEAREST_TRIED: Final = 100
"""So many of the nearest in price are tried for a line."""


def with_products(session: Session, budget: Budget, basis: MoneyBasis, rule_set: RuleSet, mended: Mend) -> Mend:
    """The mend with the loudspeaker that comes nearest to each changed line and keeps what the mend keeps.

    Each is judged by the same code as the budget, in place of the line's money and beside those found before.
    """
    mended = _by_another_model(session, budget, mended)
    changed = [
        at for at, (line, new) in enumerate(zip(budget.lines, mended.amounts, strict=True))
        if new != line.amount and line.role in OFFERED_AS
    ]  # fmt: skip
    if not changed:
        return mended
    catalogue = loudspeakers_of(candidate_columns(session))
    amounts, found = list(mended.amounts), list[Product]()
    for at in changed:
        product = _nearest(catalogue, budget, basis, rule_set, mended, amounts, at)
        if product is not None:
            amounts[at] = product.cost
            found.append(product)
    return replace(mended, products=tuple(found))


def _by_another_model(session: Session, budget: Budget, mended: Mend) -> Mend:
    """The mend, saying where a line holds a loudspeaker of the catalogue that no change of its price is for sale."""
    known = named(session, ({"item": line.item} for line in budget.lines))
    told = []
    for change in mended.changes:
        items = [budget.lines[at].item for at in (change.source, change.target) if at is not None]
        models = [item for item in items if item is not None and name_key(item) in known]
        cost = "cost what they cost" if len(models) > 1 else "costs what it costs"
        meant = f": another model, as {' and '.join(models)} {cost}" if models else ""
        told.append(replace(change, words=change.words + meant))
    return replace(mended, changes=tuple(told))


def _nearest(
    catalogue: Loudspeakers,
    budget: Budget,
    basis: MoneyBasis,
    rule_set: RuleSet,
    mended: Mend,
    amounts: list[int],
    at: int,
) -> Product | None:
    line = budget.lines[at]
    offered, _ = offer(catalogue, line.role, line.pieces, basis, in_stock=False)
    for place in np.argsort(np.abs(offered.cost - amounts[at]), kind="stable")[:NEAREST_TRIED].tolist():
        cost = int(offered.cost[place])
        after = check(with_amounts(budget, [*amounts[:at], cost, *amounts[at + 1 :]]), rule_set)
        broken = {result.rule.name for result in after.results if not result.holds}
        if not after.over and not after.broken and broken <= set(mended.stays):
            name = catalogue.names[offered.rows[place]]
            boxes = f"{line.pieces} × " if line.pieces > 1 else ""
            words = f"{line.label}: {boxes}{name} at {money(cost, budget.currency)}"
            return Product(at, line.role, name, cost, words)
    return None
