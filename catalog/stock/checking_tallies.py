"""What a check comes to: one finding an invariant."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

SHOWN: Final = 5
"""How many breaches of one invariant are told."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One invariant: whether it holds, over how many lines, and the first breaches."""

    invariant: str
    holds: bool
    checked: int
    breaches: tuple[str, ...]


@dataclass(slots=True)
class Tally:
    """Breaches of one invariant."""

    invariant: str
    checked: int = 0
    breaches: list[str] = field(default_factory=list)

    def see(self, holds: bool, breach: str) -> None:
        """Count one look at it."""
        self.checked += 1
        if not holds:
            self.breaches.append(breach)

    def finding(self) -> Finding:
        """Give what it comes to."""
        return Finding(self.invariant, not self.breaches, self.checked, tuple(self.breaches[:SHOWN]))
