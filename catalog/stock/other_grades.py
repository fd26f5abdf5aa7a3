"""What there is of another grade than is asked for, such as a demo unit: told beside a promise, never in its place."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from triptych.catalog.database.models import Grade
from triptych.catalog.stock.grade_prices import Tag, at_price, grade_words


@dataclass(frozen=True, slots=True)
class OtherGrade:
    """Units of a grade that was not asked for: free now at a location, or reserved and free from a day on."""

    grade: Grade
    units: int
    finish: str | None
    pack: int
    location: str | None
    tag: Tag | None
    free_on: date | None = None

    @property
    def words(self) -> str:
        """As people read it: how many of which grade, where or when, at what price."""
        finish = f" in {self.finish!r}" if self.finish else ""
        pairs = " in pairs" if self.pack == 2 else ""
        what = f"{self.units} {grade_words(self.grade)}{finish}{pairs}"
        if self.free_on is not None:
            return f"{what} reserved, free on {self.free_on} if nobody takes it{at_price(self.tag)}"
        return f"{what} free at {self.location!r}{at_price(self.tag)}"
