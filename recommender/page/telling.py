"""What was done, kept for the page shown next, by a token that nobody guesses; and what is refused, in its words."""

from __future__ import annotations

import re
import secrets
from collections import OrderedDict
from collections.abc import Sequence
from threading import Lock
from typing import Final

REMEMBERED_TELLINGS: Final = 64
"""So many are kept; the oldest that nobody has looked at goes first."""


_COMMANDS: Final = (
    (
        re.compile(r"make it first: triptych job new .+(?=; nothing was written)"),
        "make it first in the books, under Jobs",
    ),
    (re.compile(r"with triptych job merge"), "in the books, under Jobs"),
    (re.compile(r"see triptych supplier orders"), "see the books, under Ordered"),
    (re.compile(r"see triptych stock find .+"), "find it by its serial at the counter"),
    (re.compile(r"keep it with triptych supplier article"), "keep it in the books, under Article numbers"),
)
"""What refusals tell to be done by a command, and where the page does it."""


def on_page(words: str) -> str:
    """What is refused, with the mend where it is on the page instead of the command that does it."""
    for command, place in _COMMANDS:
        words = command.sub(place, words)
    return words


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
