"""Counts of units that are there, written by the shortest way as the differences to what the ledger says then."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any, Final, NamedTuple

import sqlalchemy as sa

from triptych.catalog.database.models import MovementKind
from triptych.catalog.stock import call_server, in_file
from triptych.catalog.stock.in_file import Ending

MOST_COUNTED: Final = 200
"""How many are written so: a server reads what it is told anew for each of them; no source."""


class CountedUnits(NamedTuple):
    """How many there are of a holding, and the loudspeaker that it is of."""

    holding: int
    units: int
    loudspeaker: int
    name: str


def counted_at_once(
    engine: sa.Engine, counted: Sequence[CountedUnits], reason: str, who: str | None
) -> list[int] | None:
    """Write the differences, and give how many of each there were by the ledger.

    None where the long way has to say more, or they are too many to be told in one call.

    Raises
    ------
    DatabaseProblem
        The server went away while it was asked to keep it, or another wrote the file for all of the time.
    """
    if len(counted) > MOST_COUNTED:
        return None
    if engine.dialect.name == "sqlite":
        return in_file.past_statements(engine, lambda driver: _in_file(driver, counted, reason, who))
    found = call_server.asked_once(engine, _COUNT, (json.dumps(counted), reason), writes=True)
    return None if found is None else found[0]


_COUNT: Final = "SELECT stock_counted(%s::json, %s)"


def _in_file(driver: Any, counted: Sequence[CountedUnits], reason: str, who: str | None) -> list[int] | None:
    now = datetime.now(UTC)
    writer, before = in_file.Writer(driver, who, reason, now), []
    for one in counted:
        row = driver.execute(_SEEN, {"holding": one.holding, "now": in_file.stored(now)}).fetchone()
        *ending, loudspeaker, name = row
        end = Ending(*ending)
        if (loudspeaker, name) != one[2:] or not _usual(one.units, end.on_hand, end.reserved, end.tracked):
            return None
        before.append(end.on_hand)
        difference = one.units - end.on_hand
        if difference:
            writer.write(end, loudspeaker, MovementKind.COUNT.value, difference, difference)
    return before


def _usual(units: int, on_hand: int, reserved: int, tracked: int) -> bool:
    """Whether a count is neither short of what is promised or has serials, nor of what rather is in another finish."""
    return units >= max(reserved, tracked) and (on_hand > 0 or units == 0)


_SEEN: Final = f"""
SELECT {in_file.ENDING}, h.loudspeaker_id, m.name || ' ' || COALESCE(s.name || ' ', '') || l.model
  FROM holding h JOIN location p ON p.id = h.location_id JOIN loudspeaker l ON l.id = h.loudspeaker_id
    JOIN maker m ON m.id = l.maker_id LEFT JOIN series s ON s.id = l.series_id {in_file.LAST_LINE}
  WHERE h.id = :holding
"""
