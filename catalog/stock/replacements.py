"""What came back of a job and is owed again: the ledger's sales and returns replayed, by loudspeaker and finish."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field, replace
from typing import Final, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Grade, Holding, Movement, MovementKind
from triptych.catalog.database.stock_levels import is_undone
from triptych.catalog.errors import Refused
from triptych.catalog.money import money
from triptych.catalog.stock.job_names import JOB, with_job
from triptych.catalog.stock.movement_lines import REFUNDED, MovementLine


@dataclass(frozen=True, slots=True)
class _Lot:
    """Units that were sold alike: of which quote, in which grade, under which serial, for what each."""

    quote: int | None
    grade: Grade
    serial: str | None
    units: int
    amount: int | None
    currency: str | None


@dataclass(slots=True)
class JobStanding:
    """What of one loudspeaker in one finish a job has, and what is owed to it in place of what came back."""

    job: str
    loudspeaker_id: int
    finish: str | None
    there: list[_Lot] = field(default_factory=list)
    owed: list[_Lot] = field(default_factory=list)
    refunded: list[_Lot] = field(default_factory=list)

    @property
    def installed(self) -> int:
        """Sold and not come back. [units]."""
        return sum(lot.units for lot in self.there)

    @property
    def returned(self) -> int:
        """Came back to be replaced, and nothing was sold in its place yet. [units]."""
        return sum(lot.units for lot in self.owed)

    @property
    def returned_new(self) -> int:
        """What of that was sold as new. [units]."""
        return sum(lot.units for lot in self.owed if lot.grade is Grade.NEW)

    def sell(self, sold: _Lot) -> None:
        """Add what was sold; what is of no quote goes first in place of what came back, the earliest first."""
        rest = sold.units
        while sold.quote is None and rest and self.owed:
            due = self.owed[0]
            part = min(rest, due.units)
            self.owed[:1] = [replace(due, units=due.units - part)] if part < due.units else []
            self.there.append(replace(sold, quote=due.quote, units=part))
            rest -= part
        if rest:
            self.there.append(replace(sold, units=rest))

    def take_back(self, units: int, serial: str | None, *, refunded: bool) -> None:
        """Take off what came back: the one of its serial, else what was sold last; none of what was never sold."""
        latest = sorted(range(len(self.there)), key=lambda place: (self.there[place].serial == serial, place))
        for place in reversed(latest):
            lot = self.there[place]
            part = min(units, lot.units)
            self.there[place] = replace(lot, units=lot.units - part)
            if part:
                (self.refunded if refunded else self.owed).append(replace(lot, units=part))
            units -= part
        self.there = [lot for lot in self.there if lot.units]


def standings(session: Session, job: int | None = None) -> list[JobStanding]:
    """Give what each job has and what is owed to it again, or those of the one of that number."""
    query = with_job(
        sa.select(JOB.name, Movement.loudspeaker_id, Holding.finish, Holding.grade, Movement.kind, Movement.quantity)
        .add_columns(Movement.note, Movement.serial, Movement.quote_id, Movement.amount, Movement.currency)
        .join(Holding, Holding.id == Movement.holding_id)
        .where(Movement.kind.in_((MovementKind.SELL, MovementKind.RETURN)))
        .where(Movement.undoes_id.is_(None), ~is_undone())
        .order_by(Movement.id),
        Movement.job_id,
    )
    if job is not None:
        query = query.where(JOB.id == job)
    found: dict[tuple[str, int, str], JobStanding] = {}
    for whose, speaker, finish, grade, kind, units, note, serial, quote, *price in session.execute(query):
        one = found.setdefault((whose, speaker, rows.name_key(finish)), JobStanding(whose, speaker, finish))
        if kind is MovementKind.SELL:
            one.sell(_Lot(quote, grade, serial, units, *price))
        else:
            one.take_back(units, serial, refunded=(note or "").startswith(REFUNDED))
    return list(found.values())


def at_owed_price(session: Session, line: MovementLine, job: int | None) -> tuple[MovementLine, list[str]]:
    """Give a sale at the price of what it is in place of, where it says none, and what to tell of that.

    `job` is the number of its job, None where that is new.

    Raises
    ------
    Refused
        Its units would be at several prices, or some at none.
    """
    if job is None or line.amount is not None or line.quantity < 1:
        return line, []
    sort, rest = (line.loudspeaker_id, rows.name_key(line.finish)), line.quantity
    prices: Counter[tuple[int | None, str | None]] = Counter()
    for one in standings(session, job):
        for lot in one.owed if (one.loudspeaker_id, rows.name_key(one.finish)) == sort else ():
            part = min(rest, lot.units)
            prices[lot.amount, lot.currency] += part
            rest -= part
    prices[None, None] += rest
    ((amount, code), _), *others = (+prices).items()
    if others:
        told = ", ".join(f"{units} × {_price(*price)}" for price, units in (+prices).items())
        raise Refused(
            f"cannot {line.units} at one price: what came back of {line.job}, and this is in place of, was sold at"
            f" {told}: say --price, or sell each by itself; nothing was written"
        )
    if amount is None:
        return line, []
    said = f"in place of what came back, so at its price: {_price(amount, code)}; if it is another, undo this and say"
    return replace(line, amount=amount, currency=code), [f"{said} --price"]


def _price(amount: int | None, currency: str | None) -> str:
    return "no price" if amount is None or currency is None else f"{money(amount, currency)} without tax"


Owed = dict[tuple[int, str], int]
"""Units that came back, by loudspeaker and key of the finish."""


class CameBack(NamedTuple):
    """What of a quote came back: to be replaced, or for its money."""

    owed: Owed
    refunded: Owed


NONE_BACK: Final = CameBack({}, {})


def back_of_quotes(session: Session, job: int | None = None) -> dict[int, CameBack]:
    """Give what came back of each quote; a return of what no quote sold is of none."""
    found: defaultdict[int, CameBack] = defaultdict(lambda: CameBack({}, {}))
    for one in standings(session, job):
        sort = (one.loudspeaker_id, rows.name_key(one.finish))
        for place, lots in enumerate((one.owed, one.refunded)):
            for lot in lots:
                if lot.quote is not None:
                    units = found[lot.quote][place]
                    units[sort] = units.get(sort, 0) + lot.units
    return found
