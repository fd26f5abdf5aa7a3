"""Locations and jobs: listed, and what is known of them changed."""

from __future__ import annotations

from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from catalog import rows
from catalog.errors import BadInput, NotFound
from catalog.models import Job, Location
from catalog.stock.holdings import location_id
from catalog.stock.lines import LONGEST
from catalog.stock.timing import zone_of


@dataclass(frozen=True, slots=True)
class PlaceOfStock:
    """A location and the time zone in which its days end."""

    name: str
    zone: str


def locations(session: Session) -> list[PlaceOfStock]:
    """Give the locations in order of their names."""
    query = sa.select(Location.name, Location.zone).order_by(Location.name_key)
    return [PlaceOfStock(name, zone) for name, zone in session.execute(query)]


def zone_at(session: Session, location: str) -> str:
    """Give the time zone of a location; UTC of one that isn't known yet."""
    query = sa.select(Location.zone).where(Location.name_key == rows.name_key(location))
    return session.scalar(query) or "UTC"


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


def job_named(session: Session, name: str) -> int:
    """Give the number of a job.

    Raises
    ------
    NotFound
        None has that name.
    """
    found = session.scalar(sa.select(Job.id).where(Job.name_key == rows.name_key(name)))
    if found is None:
        raise NotFound(f"no job is named {name!r}")
    return found
