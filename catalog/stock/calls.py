"""What is asked of an engine for a movement of the usual kinds, and what it answers."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

from triptych.catalog.database.models import MovementKind


class MovedAtOnce(NamedTuple):
    """What was written, and what is there then."""

    units: int
    lines: list[int]
    on_hand: int
    reserved: int
    speaker: str
    zone: str


class Call(NamedTuple):
    """What is asked; names as people write them."""

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
