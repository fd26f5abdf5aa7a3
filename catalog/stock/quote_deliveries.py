"""What of a quote was delivered: its sales that were not taken back by an undo, line by line."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Grade, Holding, Movement, MovementKind, QuoteLine
from triptych.catalog.database.stock_levels import is_undone
from triptych.catalog.stock.costs import net_each, whole

Delivered = Counter[tuple[int, Grade, str, int | None]]
"""Units that went out, by loudspeaker, grade, key of the finish, and price of one without tax."""

NONE_DELIVERED: Final[Delivered] = Counter()


def delivered(session: Session, number: int | None = None) -> dict[int, Delivered]:
    """Give what was delivered of each quote, or of one."""
    query = (
        sa.select(Movement.quote_id, Movement.loudspeaker_id, Holding.grade, Holding.finish_key, Movement.amount)
        .add_columns(sa.func.sum(Movement.quantity))
        .join(Holding, Holding.id == Movement.holding_id)
        .where(Movement.kind == MovementKind.SELL, ~is_undone())
        .where(Movement.quote_id.is_not(None) if number is None else Movement.quote_id == number)
        .group_by(Movement.quote_id, Movement.loudspeaker_id, Holding.grade, Holding.finish_key, Movement.amount)
    )
    found: defaultdict[int, Delivered] = defaultdict(Counter)
    for quote, speaker, grade, finish, amount, units in session.execute(query):
        found[quote or 0][speaker, grade, finish, amount] += int(units)
    return found


def by_line(lines: Iterable[QuoteLine], gone: Delivered) -> Sequence[int]:
    """Give how many of each line of a quote were delivered; of lines that are alike the first goes first."""
    left, found = gone.copy(), []
    for line in lines:
        sort = (line.loudspeaker_id, line.grade, rows.name_key(line.finish), net_of(line))
        units = min(left[sort], line.quantity)
        left[sort] -= units
        found.append(units)
    return found


def net_of(line: QuoteLine) -> int | None:
    """Give the price of one without tax, None where nobody says what of it is tax. [minor unit]."""
    net = net_each(line.amount, line.per, line.tax, line.tax_rate)
    return None if net is None else whole(net)
