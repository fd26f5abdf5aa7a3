"""Who is answered now and who waits: as many at once as there are processors, the others one after the other."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import Final, TypeVar

import anyio
import anyio.to_thread

from triptych.catalog.errors import CatalogError

Given = TypeVar("Given")

MOST_WAITING: Final = 32
"""More than so many in a line are sent away: they would wait for minutes."""

TURN_PATIENCE: Final = 45.0
"""Who waited so long for a turn is told so, rather than nothing. [s]."""


class Busy(CatalogError):
    """Too many ask at once; nothing was done."""


@dataclass(slots=True)
class Turns:
    """A line: the first to come is the first to be answered."""

    at_once: int
    most_waiting: int = MOST_WAITING
    patience: float = TURN_PATIENCE
    _line: anyio.CapacityLimiter | None = field(default=None, init=False)
    _threads: anyio.CapacityLimiter | None = field(default=None, init=False)

    async def take(self, work: Callable[[], Given], wanted: Callable[[], Awaitable[bool]]) -> Given | None:
        """What comes of some work in its turn; None where nobody wants it any more when its turn comes.

        Raises
        ------
        Busy
            The line is too long, or it didn't come to its turn in time.
        """
        line = self._line = self._line or anyio.CapacityLimiter(self.at_once)
        threads = self._threads = self._threads or anyio.CapacityLimiter(self.at_once)
        if (before := line.statistics().tasks_waiting) >= self.most_waiting:
            raise Busy(f"{before} others wait for an answer already; nothing was done. Ask again in a minute")
        with anyio.move_on_after(self.patience) as waiting:
            await line.acquire()
        if waiting.cancelled_caught:
            raise Busy(
                f"others were answered for {self.patience:.0f} s before you, and your turn didn't come; nothing was"
                " done. Ask again"
            )
        try:
            return await anyio.to_thread.run_sync(work, limiter=threads) if await wanted() else None
        finally:
            line.release()
