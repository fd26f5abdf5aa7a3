"""Locations and jobs: listed, told apart from mistyped ones, and what is known of them changed."""

from __future__ import annotations

import shlex
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Job, Location, Movement, Quote, QuoteState, Reservation, SupplyOrder
from triptych.catalog.database.order_levels import come_of_order
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.names import NearNames, mistaken_for
from triptych.catalog.problems import nearest
from triptych.catalog.stock.ledger_rows import location_id
from triptych.catalog.stock.movement_lines import LONGEST
from triptych.catalog.stock.timing import zone_of


@dataclass(frozen=True, slots=True)
class StockLocation:
    """A location and the time zone in which its days end."""

    name: str
    zone: str


def locations(session: Session) -> list[StockLocation]:
    """Give the locations in order of their names."""
    query = sa.select(Location.name, Location.zone).order_by(Location.name_key)
    return [StockLocation(name, zone) for name, zone in session.execute(query)]


def zone_at(session: Session, location: str) -> str:
    """Give the time zone of a location; UTC of one that isn't known yet."""
    query = sa.select(Location.zone).where(Location.name_key == rows.name_key(location))
    return session.scalar(query) or "UTC"


def common_zone(session: Session) -> str:
    """Give the time zone that all locations share; UTC where they don't, or there are none."""
    zones = session.connection().execute(_ZONES).scalars().all()
    return zones[0] if len(zones) == 1 else "UTC"


_ZONES: Final = sa.select(Location.zone).distinct().limit(2)


def known_name(session: Session, name: str) -> str:
    """Give the name of a location as it is kept.

    Raises
    ------
    NotFound
        None has that name; the nearest is told.
    """
    known = {rows.name_key(one.name): one.name for one in locations(session)}
    if rows.name_key(name) not in known:
        raise NotFound(f"no location is named {name!r}; {_hint(name, list(known.values()))}")
    return known[rows.name_key(name)]


def _hint(name: str, known: list[str]) -> str:
    if not known:
        return "there is none yet"
    hint = nearest(name, known)
    many = len(known) > FEW and hint.startswith("known are")
    return f"{len(known)} are known: triptych stock location lists them" if many else hint


FEW: Final = 12
"""How many locations a message names, when it names all."""


class KnownLocations:
    """Names of locations, which refuse a new one that is nearly one of them."""

    def __init__(self, known: Iterable[str]) -> None:
        self._keys: set[str] = set()
        self._near = NearNames()
        for name in known:
            self.add(name)

    def add(self, name: str) -> None:
        """Take in a location that is made."""
        self._keys.add(rows.name_key(name))
        self._near.add(name)

    def is_new(self, name: str) -> bool:
        """Tell whether a location is new.

        Raises
        ------
        NotFound
            It is new and nearly another: names that, and how a new one is made on purpose.
        """
        if rows.name_key(name) in self._keys:
            return False
        near = self._near.meant(name)
        if near is not None:
            made = f"triptych stock location {shlex.quote(' '.join(name.split()))}"
            raise NotFound(
                f"no location is named {name!r}; did you mean {near!r}? If it is a new one, make it first: {made};"
                " nothing was written"
            )
        return True


def save_location(session: Session, name: str, zone: str) -> None:
    """Add a location, or change its time zone.

    Raises
    ------
    BadInput
        The name is blank or too long, or the zone isn't known.
    """
    if not rows.name_key(name) or len(name) > LONGEST:
        raise BadInput(f"location: give a name of up to {LONGEST} characters")
    rows.refuse_unstorable("location", name)
    zone_of(zone)
    number = location_id(session, name)
    session.execute(sa.update(Location).where(Location.id == number).values(zone=zone))


def refuse_mistyped_job(session: Session, name: str | None) -> None:
    """Refuse a new job whose name is nearly that of an open one, for which something is reserved, quoted or ordered.

    Raises
    ------
    NotFound
        Names the near one, and how a new one is made on purpose.
    """
    if name is None or session.scalar(sa.select(Job.id).where(Job.name_key == rows.name_key(name))) is not None:
        return
    live = sa.and_(Reservation.rest > 0, Reservation.until > datetime.now(UTC))
    reserved = sa.select(Movement.job_id).join(Reservation, Reservation.movement_id == Movement.id).where(live)
    quoted = sa.select(Quote.job_id).where(Quote.state.in_((QuoteState.OPEN, QuoteState.ACCEPTED)))
    coming = sa.and_(SupplyOrder.cancelled_at.is_(None), SupplyOrder.quantity > come_of_order())
    ordered = sa.select(SupplyOrder.job_id).where(coming, SupplyOrder.job_id.is_not(None))
    busy = sa.or_(*(Job.id.in_(query) for query in (reserved, quoted, ordered)))
    # somebody else may have made the very job meanwhile, which is then no other
    others = sa.select(Job.name).where(busy, Job.name_key != rows.name_key(name)).order_by(Job.name_key)
    near = mistaken_for(name, session.scalars(others))
    if near is not None and session.scalar(sa.select(Job.id).where(Job.name_key == rows.name_key(name))) is None:
        made = f"triptych job new {shlex.quote(' '.join(name.split()))}"
        raise NotFound(
            f"no job is named {name!r}; did you mean {near!r}? If it is a new one, make it first: {made};"
            " nothing was written"
        )
