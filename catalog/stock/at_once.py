"""A movement of the usual kinds by the shortest way of its engine; where that says nothing, nothing was written."""

from __future__ import annotations

import sqlalchemy as sa

from triptych.catalog.money import LARGEST_AMOUNT
from triptych.catalog.stock.call_file import arrival_in_file, call_file
from triptych.catalog.stock.call_server import arrival_at_server, call_server
from triptych.catalog.stock.calls import ArrivedAtOnce, Call, MovedAtOnce, ShortAtOnce
from triptych.catalog.stock.movement_lines import LONGEST


def at_once(engine: sa.Engine, asked: Call) -> MovedAtOnce | ShortAtOnce | None:
    """Do it at once, or say why there is too little; None where the long way has to say more.

    Raises
    ------
    DatabaseProblem
        The server went away while it was asked to keep it, or another wrote the file for all of the time.
    """
    texts = (asked.model, asked.location, asked.finish, asked.job, asked.note, asked.to, asked.who)
    if not _is_usual(asked) or not all(text is None or _plain(text) for text in texts):
        return None
    return (call_file if engine.dialect.name == "sqlite" else call_server)(engine, asked)


def arrived_at_once(engine: sa.Engine, number: int, who: str | None) -> ArrivedAtOnce | None:
    """Take all that is still on its way of what was sent into stock at once; None where the long way has to say more.

    Raises
    ------
    DatabaseProblem
        The server went away while it was asked to keep it, or another wrote the file for all of the time.
    """
    if not 1 <= number < 2**31 or not (who is None or _plain(who)):
        return None
    if engine.dialect.name == "sqlite":
        return arrival_in_file(engine, number, who)
    return arrival_at_server(engine, number)


def _plain(text: str) -> bool:
    """Whether a text needs no look at what it holds."""
    return text.isprintable() and len(text.strip()) > 0 and len(text) <= LONGEST


def _is_usual(asked: Call) -> bool:
    """Whether its numbers are such as a ledger holds."""
    amount, quantity = asked.amount, asked.quantity
    return (amount is None or (type(amount) is int and 0 <= amount <= LARGEST_AMOUNT)) and (
        quantity is None or type(quantity) is int
    )
