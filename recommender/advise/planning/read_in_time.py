"""When a plan's time is up, and as much of a catalogue as there is time to read."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from time import monotonic
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from triptych.catalog.database.candidates import candidate_columns, free_units, offered_for
from triptych.catalog.database.gathering import Columns
from triptych.catalog.records import Role
from triptych.recommender.advise.catalogue import UNJUDGED

READING: Final = 0.35
"""The part of the time there is when reading begins that may go into it."""

JUDGING: Final = 0.75
"""The part of the time that is for judging, once the catalogue is read; the rest is for the search."""

FOR_TELLING: Final = 0.1
"""The part of the time that is for telling what was found, and for keeping the profiles that were computed."""

LONGEST_TELLING: Final = 0.3
"""No more is kept for telling [s]."""

READ_WHOLE: Final = 2_000
"""So many of a role are read whatever the time: about as long as the modules take to load."""

READ_AT_LEAST: Final = 100
"""So many of each role are read even where there is no time."""

READ_SINGLY: Final = 20_000
"""No more are read by their numbers, as engines take no more of these in one question."""

WHOLE_FOR_NUMBERS: Final = 20.0
"""So much longer than the numbers and roles of all loudspeakers all of their figures take to read. Measured."""

SINGLY: Final = 2.5
"""So much longer one of some takes to read than one of all. Measured."""


@dataclass(frozen=True, slots=True)
class Clock:
    """When a plan began, how long it may take, and when there was something to judge. [s]."""

    began: float | None = None
    time_limit: float = np.inf
    read: float = 0.0

    @property
    def deadline(self) -> float:
        """When all is to be done but for telling it."""
        if self.began is None:
            return np.inf
        return self.began + self.time_limit - min(self.time_limit * FOR_TELLING, LONGEST_TELLING)

    def start(self, now: float) -> float:
        """When the plan began; now where nobody says."""
        return now if self.began is None else self.began

    def judged_by(self, place: int, of: int) -> float:
        """When so many of all roles, in the order in which they are judged, are to be done; early ones leave more."""
        return np.inf if self.began is None else self.read + JUDGING * (self.deadline - self.read) * place / of


NO_HURRY: Final = Clock()


@dataclass(frozen=True, slots=True)
class InTime:
    """What was read of a catalogue, and how many loudspeakers of each role were not."""

    columns: Columns
    unread: Mapping[Role, int] = field(default_factory=dict)
    of: int = 0

    @classmethod
    def of_roles(
        cls, session: Session, roles: Collection[Role], also: Collection[int], clock: Clock, stock_first: bool
    ) -> Self:
        """All where there is time for it, else some of each role; those that are `also` wanted are among them.

        Those that are in stock come first where that is said; else chance decides, and always in the same way.
        """
        before = monotonic()
        if clock.began is None:
            return cls(_read(session, also))
        offered = offered_for(session, roles)
        everyone = sum(map(len, offered.values()))
        now = monotonic()
        whole, left = WHOLE_FOR_NUMBERS * (now - before), READING * (clock.deadline - now)
        if whole <= left or all(len(some) <= READ_WHOLE for some in offered.values()):
            return cls(_read(session, also))
        many = min(int(everyone * left / (SINGLY * whole)), READ_SINGLY) // len(offered)
        stock = _in_stock(session, offered) if stock_first else np.zeros(0, dtype=np.int64)
        chosen = {role: _some(numbers, max(many, READ_AT_LEAST), stock) for role, numbers in offered.items()}
        read = np.unique(np.concatenate([np.array([*also], dtype=np.int64), *chosen.values()]))
        unread = {role: len(numbers) - int(np.isin(numbers, read).sum()) for role, numbers in offered.items()}
        columns = _read(session, also, read.tolist())
        return cls(columns, {role: count for role, count in unread.items() if count}, everyone)

    @property
    def words(self) -> str:
        """What is told of those that were not read; empty where all were."""
        missing = sum(self.unread.values())
        if not missing:
            return ""
        return (
            f"there was time to read {self.of - missing} of {self.of} loudspeakers on file for these roles, some of "
            "each: what the others would be worth is counted as the most their roles can be; more of them with "
            "--time-limit"
        )


def _read(session: Session, also: Collection[int], among: Collection[int] | None = None) -> Columns:
    return candidate_columns(session, also=also, without=UNJUDGED, among=among)


def _some(numbers: NDArray[np.int64], many: int, stock: NDArray[np.int64]) -> NDArray[np.int64]:
    order = np.random.default_rng(0).permutation(numbers)
    return order[np.argsort(~np.isin(order, stock), kind="stable")][:many]


def _in_stock(session: Session, offered: Mapping[Role, NDArray[np.int64]]) -> NDArray[np.int64]:
    numbers = np.unique(np.concatenate(list(offered.values())))
    free = free_units(session, numbers.tolist(), datetime.now(UTC).date())
    return numbers[np.array([bool(count) for count in free], dtype=np.bool_)]
