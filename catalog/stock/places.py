"""Locations and jobs: listed, told apart from mistyped ones, and what is known of them changed."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Job, Location, Movement, Quote, QuoteState, Reservation, SupplyOrder
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.problems import nearest
from triptych.catalog.stock.holdings import location_id
from triptych.catalog.stock.lines import LONGEST
from triptych.catalog.stock.timing import zone_of


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


def common_zone(session: Session) -> str:
    """Give the time zone that all locations share; UTC where they don't, or there are none."""
    zones = list(session.scalars(sa.select(Location.zone).distinct().limit(2)))
    return zones[0] if len(zones) == 1 else "UTC"


def known_name(session: Session, name: str) -> str:
    """Give the name of a location as it is kept.

    Raises
    ------
    NotFound
        None has that name; the nearest is told.
    """
    known = {rows.name_key(place.name): place.name for place in locations(session)}
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


def refuse_mistyped(name: str, known: Iterable[str]) -> bool:
    """Refuse a new location whose name is nearly that of one that is known; tell whether it is new.

    Raises
    ------
    NotFound
        Names the near one, and how a new one is made on purpose.
    """
    names = list(known)
    if rows.name_key(name) in map(rows.name_key, names):
        return False
    near = mistaken_for(name, names)
    if near is not None:
        made = f"triptych stock location {shlex.quote(' '.join(name.split()))}"
        raise NotFound(
            f"no location is named {name!r}; did you mean {near!r}? If it is a new one, make it first: {made};"
            " nothing was written"
        )
    return True


def mistaken_for(name: str, known: Iterable[str]) -> str | None:
    """Give the known name that another was nearly certainly meant to be; None where it is a name of its own.

    Word by word an edit or two apart; what numbers or letters tell apart, such as shop 1 and shop 2, is not near.

    >>> mistaken_for("shpo", ["van", "shop"])
    'shop'
    >>> mistaken_for("shop 2", ["shop 1"])
    """
    near = [(apart, other) for other in known if (apart := _apart(name, other)) is not None]
    return min(near)[1] if near else None


_PARTS: Final = re.compile(r"[^\W\d_]+|\d+")
_HUMP: Final = re.compile(r"(?<=[a-z])(?=[A-Z])")
"""Where a capital begins a word without a blank: shopA."""

_LABEL: Final = re.compile(r"\d+|.|[ivx]+")
"""What tells places of one name apart: a number, also a Roman one, or a letter."""


def _parts(name: str) -> tuple[list[str], list[str]]:
    """Give the words of a name and its labels."""
    parts = _PARTS.findall(rows.name_key(_HUMP.sub(" ", name)))
    words = [part for part in parts if not _LABEL.fullmatch(part)]
    return words, [part.lstrip("0") for part in parts if _LABEL.fullmatch(part)]


def _apart(one: str, other: str) -> int | None:
    """Count the edits between two names that could be one mistyped; None where they are different names."""
    (words, labels), (other_words, other_labels) = _parts(one), _parts(other)
    if labels != other_labels or not words or not other_words:
        return None
    if len(words) != len(other_words):
        words, other_words = ["".join(words)], ["".join(other_words)]
    edits = [_edits(word, known) for word, known in zip(words, other_words, strict=True)]
    found = [count for count in edits if count is not None]
    return sum(found) if len(found) == len(edits) and sum(found) <= MOST_EDITS else None


MOST_EDITS: Final = 2
"""How many slips of the fingers a mistyped name has at most; common practice, no source."""


_SERIES: Final = frozenset("abcdefghxyz")
"""Letters that count places through where nothing parts them from the word: halla, hallb."""


def _edits(word: str, known: str) -> int | None:
    """Count inserted, left out, wrong and swapped letters; None where that makes it another word."""
    from rapidfuzz.distance import OSA

    if word[:-1] == known[:-1] and {word[-1], known[-1]} <= _SERIES and word != known:
        return None
    found = OSA.distance(word, known)
    shorter = min(len(word), len(known))
    # two edits leave little of a short word, and with the first letter gone they are rather north and south
    allowed = 0 if shorter < 3 else 2 if shorter > 5 and word[0] == known[0] else 1
    return found if found <= allowed else None


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


def near_job(session: Session, name: str) -> str | None:
    """Give the open job that a new job's name was nearly certainly meant to be; None where it is known, or its own.

    Open is a job for which something is reserved, quoted or ordered.
    """
    known = sa.select(Job.id).where(Job.name_key == rows.name_key(name))
    if session.scalar(known) is not None:
        return None
    live = sa.and_(Reservation.rest > 0, Reservation.until > datetime.now(UTC))
    reserved = sa.select(Movement.job_id).join(Reservation, Reservation.movement_id == Movement.id).where(live)
    quoted = sa.select(Quote.job_id).where(Quote.state.in_((QuoteState.OPEN, QuoteState.ACCEPTED)))
    come = sa.select(sa.func.coalesce(sa.func.sum(Movement.quantity), 0)).where(Movement.order_id == SupplyOrder.id)
    coming = sa.and_(SupplyOrder.cancelled_at.is_(None), SupplyOrder.quantity > come.scalar_subquery())
    ordered = sa.select(SupplyOrder.job_id).where(coming, SupplyOrder.job_id.is_not(None))
    busy = sa.or_(*(Job.id.in_(query) for query in (reserved, quoted, ordered)))
    return mistaken_for(name, session.scalars(sa.select(Job.name).where(busy).order_by(Job.name_key)))
