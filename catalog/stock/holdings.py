"""Holdings: alike units at one location. Found or made, locked in one order, and what there is of each."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Grade, Holding, Job, Location, Loudspeaker, Movement, Reservation
from triptych.catalog.database.models.ledger_tables import INTO
from triptych.catalog.errors import NotFound, Refused
from triptych.catalog.records import SoldAs
from triptych.catalog.stock.lines import Line


@dataclass(frozen=True, slots=True)
class Level:
    """What there is of something: on hand, and reserved out of it."""

    on_hand: int
    reserved: int

    @property
    def available(self) -> int:
        """What may be promised."""
        return self.on_hand - self.reserved


@dataclass(frozen=True, slots=True)
class State:
    """A holding after its last line; `now` is the time that the next one may have."""

    sequence: int
    on_hand: int
    tracked: int
    reserved: int
    now: datetime

    @property
    def level(self) -> Level:
        """What there is."""
        return Level(self.on_hand, self.reserved)


@dataclass(frozen=True, slots=True)
class Spot:
    """What names a holding, but for its number; the pack as the model is sold where None."""

    loudspeaker_id: int
    location: str
    grade: Grade
    pack: int | None = None
    finish: str | None = None


def reserved_of(holding_id: sa.ColumnElement[int] | Any, now: Any) -> sa.ScalarSelect[int]:
    """Give the query of what is reserved of a holding at an instant: what lapsed doesn't count."""
    live = sa.and_(Reservation.holding_id == holding_id, Reservation.rest > 0, Reservation.until > now)
    return sa.select(sa.func.coalesce(sa.func.sum(Reservation.rest), 0)).where(live).scalar_subquery()


def spot_of(line: Line) -> Spot:
    """Give the spot that a line speaks of."""
    return Spot(line.loudspeaker_id, line.location, line.grade, line.pack, line.finish)


_SOLD_AS: Final = sa.select(Loudspeaker.__table__.c.sold_as).where(
    Loudspeaker.__table__.c.id == sa.bindparam("loudspeaker")
)


def pack_of(session: Session, loudspeaker_id: int) -> int:
    """Give how many loudspeakers a box of the trade holds: 2 of a model that is sold in pairs, else 1.

    Raises
    ------
    NotFound
        There is no such loudspeaker.
    """
    found = session.connection().execute(_SOLD_AS, {"loudspeaker": loudspeaker_id}).first()
    if found is None:
        raise NotFound(f"no loudspeaker has the number {loudspeaker_id}")
    return 2 if found[0] is SoldAs.PAIR else 1


def spot_values(spot: Spot) -> dict[str, Any]:
    """Give a spot as the values of `FIND`."""
    return {
        "loudspeaker": spot.loudspeaker_id,
        "location": rows.name_key(spot.location),
        "grade": spot.grade,
        "pack": spot.pack,
        "finish": rows.name_key(spot.finish),
    }


def find(session: Session, spot: Spot) -> int | None:
    """Give the number of a holding, None where the ledger has nothing like it."""
    found = session.connection().execute(FIND, spot_values(spot)).first()
    return None if found is None else int(found[0])


_PACK: Final = sa.func.coalesce(
    sa.bindparam("pack", type_=sa.Integer), sa.case((Loudspeaker.sold_as == SoldAs.PAIR, 2), else_=1)
)

FIND: Final = (
    sa.select(Holding.id)
    .join(Location, Location.id == Holding.location_id)
    .join(Loudspeaker, Loudspeaker.id == Holding.loudspeaker_id)
    .where(
        Holding.loudspeaker_id == sa.bindparam("loudspeaker"),
        Location.name_key == sa.bindparam("location"),
        Holding.grade == sa.bindparam("grade", type_=Holding.grade.type),
        Holding.pack == _PACK,
        Holding.finish_key == sa.bindparam("finish"),
    )
)
"""Built once: for a ledger that many write, putting a statement together costs as much as running it."""


def find_or_make(session: Session, spot: Spot) -> int:
    """Give the number of a holding, and make it, with its location, where there is none yet."""
    found = find(session, spot)
    if found is not None:
        return found
    values = {
        "loudspeaker_id": spot.loudspeaker_id,
        "location_id": location_id(session, spot.location),
        "grade": spot.grade,
        "pack": spot.pack or pack_of(session, spot.loudspeaker_id),
        "finish": spot.finish,
        "finish_key": rows.name_key(spot.finish),
    }
    _insert_once(session, Holding, values)
    made = find(session, spot)
    if made is None:
        raise AssertionError("a holding that was made is there")
    return made


def _insert_once(session: Session, table: type[Any], values: dict[str, Any]) -> None:
    insert: Callable[..., Any] = sqlite.insert if session.get_bind().dialect.name == "sqlite" else postgresql.insert
    session.execute(insert(table).values(**values).on_conflict_do_nothing())


def location_id(session: Session, name: str) -> int:
    """Give the number of a location, and make it in UTC where there is none yet."""
    return _number(session, Location, name, {"zone": "UTC"})


def job_id(session: Session, name: str) -> int:
    """Give the number of a job, and make it where there is none yet."""
    return _number(session, Job, name, {})


def _number(session: Session, table: type[Location] | type[Job], name: str, beside: dict[str, str]) -> int:
    key = rows.name_key(name)
    found = session.connection().scalar(_NUMBER[table], {"key": key})
    if found is None:
        _insert_once(session, table, {"name": " ".join(name.split()), "name_key": key, **beside})
        found = session.connection().scalar(_NUMBER[table], {"key": key})
    return int(found)


_NUMBER: Final[dict[Any, Any]] = {
    table: sa.select(table.id).where(table.name_key == sa.bindparam("key")) for table in (Location, Job)
}


def lock(session: Session, holdings: Iterable[int]) -> None:
    """Let one writer at a time change these holdings, always in one order; SQLite has one writer anyway."""
    if on_server(session):
        session.execute(_LOCK, {"numbers": sorted(set(holdings))})


_LOCK: Final = sa.text("SELECT lock_holdings(CAST(:numbers AS integer[]))")


def look(session: Session, spot: Spot, at: datetime | None = None) -> tuple[int, int, State] | None:
    """Give a holding's number, its pack, and what there is; None where the ledger has nothing like it.

    By the clock of the database; time never runs back in one holding.
    """
    server = at is None and on_server(session)
    values = spot_values(spot) | ({} if server else {"now": at or datetime.now(UTC)})
    found = session.connection().execute(_LOOK[server], values).first()
    if found is None:
        return None
    number, pack, now, reserved, sequence, on_hand, tracked, before = found
    if sequence is None:
        return number, pack, State(0, 0, 0, int(reserved), now)
    return number, pack, State(sequence, on_hand, tracked, int(reserved), max(now, before))


def on_server(session: Session) -> bool:
    """Say whether a server keeps the ledger: it has a clock of its own, and many writers."""
    return bool(session.get_bind().dialect.name != "sqlite")


def _look_query(*, server: bool) -> sa.Select[*tuple[Any, ...]]:
    instant = Movement.at.type
    now = sa.func.clock_timestamp(type_=instant) if server else sa.bindparam("now", type_=instant)
    newest = sa.select(sa.func.max(Movement.sequence)).where(Movement.holding_id == Holding.id)
    last = sa.and_(Movement.holding_id == Holding.id, Movement.sequence == newest.correlate(Holding).scalar_subquery())
    return FIND.with_only_columns(
        Holding.id,
        Holding.pack,
        now,
        reserved_of(Holding.id, now),
        Movement.sequence,
        Movement.on_hand,
        Movement.tracked,
        Movement.at,
    ).outerjoin(Movement, last)


_LOOK: Final = {server: _look_query(server=server) for server in (False, True)}


def holdings_of(loudspeaker_ids: Collection[int]) -> sa.Select[int]:
    """Give the query of all holdings of some loudspeakers."""
    return sa.select(Holding.id).where(Holding.loudspeaker_id.in_(loudspeaker_ids))


def available_of(session: Session, holding_id: int) -> int:
    """Give what may be promised of a holding."""
    last = sa.select(Movement.on_hand).where(Movement.holding_id == holding_id).order_by(Movement.sequence.desc())
    now = sa.func.clock_timestamp() if on_server(session) else datetime.now(UTC)
    reserved = session.scalars(sa.select(reserved_of(holding_id, now))).one()
    return (session.scalar(last.limit(1)) or 0) - int(reserved)


def level(session: Session, line: Line) -> Level:
    """Give what there is of the model, finish, grade and pack at the location that a line speaks of."""
    there = look(session, spot_of(line))
    return Level(0, 0) if there is None else there[2].level


def refuse_too_few(line: Line, there: State, free: int) -> None:
    """Refuse a line that takes or promises more than there is.

    Parameters
    ----------
    free : int
        What of the reserved the line itself may take.

    Raises
    ------
    Refused
        Says what there is.
    """
    wanted = -line.quantity if line.kind in INTO else line.quantity
    if wanted > there.on_hand - there.reserved + free:
        promised = f"{there.on_hand} on hand, {there.reserved} reserved"
        raise Refused(f"cannot {line.units} at {line.location!r}: {promised}; nothing was written")
