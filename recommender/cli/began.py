"""When the command of this process began, for what bounds all of it."""

from __future__ import annotations

from contextvars import ContextVar
from time import monotonic, process_time
from typing import Final

BEGAN: Final[ContextVar[float | None]] = ContextVar("began", default=None)
"""By the monotonic clock; None where the command is not what the process was started for. [s]"""


def now() -> None:
    """Take what the process has worked so far, which is nearly all the time there was, for the start of the command."""
    BEGAN.set(monotonic() - process_time())
