"""What was done, kept for the page that is shown next: by a token that nobody guesses, and shown once."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Sequence
from threading import Lock
from typing import Final

REMEMBERED_TELLINGS: Final = 64
"""So many are kept; the oldest that nobody has looked at goes first."""


class Tellings:
    """What was done, by its token."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, tuple[str, ...]] = OrderedDict()
        self._lock = Lock()

    def keep(self, told: Sequence[str]) -> str:
        """Keep what was done, and give its token."""
        token = secrets.token_urlsafe(16)
        with self._lock:
            self._kept[token] = tuple(told)
            while len(self._kept) > REMEMBERED_TELLINGS:
                self._kept.popitem(last=False)
        return token

    def take(self, token: str) -> tuple[str, ...]:
        """What was done, the first time that it is asked; nothing after that, or where the token is unknown."""
        with self._lock:
            return self._kept.pop(token, ())
