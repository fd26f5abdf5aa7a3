"""What is asked of an engine for a movement of the usual kinds, and what it answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from triptych.catalog.database.models import MovementKind


class MovedAtOnce(NamedTuple):
    """What was written, and what is there then."""

    units: int
    lines: list[int]
    on_hand: int
    reserved: int
    speaker: str
    zone: str
    apart: Sequence[Apart] | None = None


Apart = tuple[int, str, str | None, bool, str]
"""Units that stay reserved for a job elsewhere, or of another sort: place, finish, whether single ones, and grade."""


@dataclass(frozen=True, slots=True)
class ShortAtOnce:
    """Why there is too little, for which nothing was written: what there is, and what there is instead.

    `promised` is how many of the units are reserved for the job; `instead` has the rows of who holds them, of all sorts
    of the loudspeaker, and of what its grades are sold for.
    """

    units: int
    on_hand: int
    reserved: int
    zone: str
    speaker: int
    pack: int
    promised: int
    instead: tuple[Sequence[Sequence[Any]], Sequence[Sequence[Any]], Sequence[Sequence[Any]]]


class ArrivedAtOnce(NamedTuple):
    """What of a transfer arrived by one line, where, and what is there then."""

    units: int
    line: int
    on_hand: int
    reserved: int
    speaker: str
    zone: str
    place: str
    grade: str
    finish: str | None


class Call(NamedTuple):
    """What is asked; names as people write them. What is `sent` does not arrive yet."""

    kind: MovementKind
    model: str
    location: str
    quantity: int | None
    grade: str
    finish: str | None
    single: bool
    job: str | None
    until: datetime | None
    note: str | None
    amount: int | None
    currency: str | None
    to: str | None = None
    who: str | None = None
    sent: bool = False

    @property
    def may_replace(self) -> bool:
        """Whether it may be in place of what came back, which then says its price."""
        return self.kind is MovementKind.SELL and self.job is not None and self.amount is None
