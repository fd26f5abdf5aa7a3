"""Which units a quote takes: from where, and which of those that have serials."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from triptych.catalog.database import reads, rows
from triptych.catalog.database.models import Grade, Holding, Location, Movement, MovementKind, QuoteLine, Reservation
from triptych.catalog.errors import BadInput, Refused
from triptych.catalog.stock import holdings
from triptych.catalog.stock.availability import Asked, promised
from triptych.catalog.stock.lines import Line
from triptych.catalog.stock.quote_lines import pack_of_line

Key = tuple[int, Grade, str, int]
"""Loudspeaker, grade, finish and pack: units of one key are alike."""


@dataclass(slots=True)
class Units:
    """What of a holding may be promised: so many, of them `plain` ones and those of the serials, oldest first.

    `loose` is how many are there, promised or not, that no serial names.
    """

    holding: int
    location: str
    pack: int
    free: int
    plain: int
    loose: int
    serials: list[str]

    def take(self, quantity: int) -> list[tuple[int, str | None]]:
        """Take up to so many, plain ones first, and give them as parts: how many, and of which serial."""
        plain = min(quantity, self.plain, self.free)
        parts: list[tuple[int, str | None]] = [(plain, None)] if plain else []
        self.plain -= plain
        self.free -= plain
        for serial in list(self.serials):
            if quantity - plain < self.pack or self.free < self.pack:
                break
            parts.append(self.name(serial))
            quantity -= self.pack
        return parts

    def name(self, serial: str) -> tuple[int, str | None]:
        """Take the one of a serial."""
        self.serials.remove(serial)
        self.free -= self.pack
        return self.pack, serial


def key_of_line(session: Session, line: QuoteLine) -> Key:
    """Give what the units of a line are."""
    pack = pack_of_line(line.quantity, holdings.pack_of(session, line.loudspeaker_id))
    return line.loudspeaker_id, line.grade, rows.name_key(line.finish), pack


def allocate(
    session: Session, lines: Sequence[QuoteLine], location: str | None, serials: Sequence[str] = ()
) -> list[Line]:
    """Give reservations for all that is quoted, line by line: from one location where one has them all.

    Which of those that have serials is said by `serials`; else plain ones go first, and then the oldest received.

    Raises
    ------
    BadInput
        A serial is named that is not free among what is quoted.
    Refused
        There is too little.
    """
    keys = [key_of_line(session, line) for line in lines]
    spots = {key: _spots(session, key, location) for key in keys}
    found = [holding for spot in spots.values() for holding, _ in spot]
    holdings.lock(session, found)
    units = {key: units_of(session, spot, key[3]) for key, spot in spots.items()}
    wanted = [line.quantity for line in lines]
    parts: list[list[Line]] = [[] for _ in lines]
    for serial in named_once(serials):
        place, there = _meant(serial, keys, wanted, units)
        parts[place].append(_reserve(lines[place], there, *there.name(serial)))
        wanted[place] -= there.pack
    for place, line in enumerate(lines):
        for there in sorted(units[keys[place]], key=lambda there: there.free < wanted[place]):
            taken = there.take(wanted[place])
            parts[place] += [_reserve(line, there, *part) for part in taken]
            wanted[place] -= sum(quantity for quantity, _ in taken)
        if wanted[place]:
            raise _too_few(session, line, wanted[place], location)
    return [part for of_line in parts for part in of_line]


def _reserve(line: QuoteLine, there: Units, quantity: int, serial: str | None) -> Line:
    made = Line(line.loudspeaker_id, MovementKind.RESERVE, quantity, there.location, line.grade, line.finish)
    return replace(made, serial=serial, pack=there.pack)


def named_once(serials: Sequence[str]) -> list[str]:
    """Give serials as the ledger keeps them.

    Raises
    ------
    BadInput
        One is blank, or named twice.
    """
    named = [" ".join(serial.split()) for serial in serials]
    for serial in named:
        if not serial:
            raise BadInput("a serial is blank: name one, or leave it out")
        if named.count(serial) > 1:
            raise BadInput(f"serial {serial!r} is named twice")
    return named


def _meant(serial: str, keys: Sequence[Key], wanted: Sequence[int], units: dict[Key, list[Units]]) -> tuple[int, Units]:
    """Give the line that a serial is for, and where it is."""
    known: dict[str, None] = {}
    for place, key in enumerate(keys):
        for there in units[key]:
            if serial in there.serials and wanted[place] >= there.pack and there.free >= there.pack:
                return place, there
            known |= dict.fromkeys(there.serials)
    if serial in known:
        raise BadInput(f"serial {serial!r}: more serials are named than are quoted of it, or the rest is promised")
    raise BadInput(f"serial {serial!r} is not free among what is quoted: {known_serials(known)}; nothing was written")


def known_serials(serials: Collection[str], shown: int = 12) -> str:
    """Say which serials are free."""
    if not serials:
        return "nothing free there has a serial"
    more = f" and {len(serials) - shown} more" if len(serials) > shown else ""
    return f"free are {', '.join(map(repr, list(serials)[:shown]))}{more}"


def _too_few(session: Session, line: QuoteLine, missing: int, location: str | None) -> Refused:
    name = reads.name_of(session, line.loudspeaker_id)
    told = f"{line.quantity - missing} of {line.quantity} available"
    if location is not None:
        return Refused(f"{name}: {told} at {location!r}; nothing was written")
    single = key_of_line(session, line)[3] == 1
    asked = Asked(line.quantity, (line.grade,), line.finish, any_finish=False, single=single)
    beside = promised(session, [line.loudspeaker_id], asked)[line.loudspeaker_id].beside
    return Refused(f"{name}: {told}{f'; {beside}' if beside else ''}; nothing was written")


def _spots(session: Session, key: Key, location: str | None) -> list[tuple[int, str]]:
    query = (
        sa.select(Holding.id, Location.name)
        .join(Location, Location.id == Holding.location_id)
        .where(
            Holding.loudspeaker_id == key[0],
            Holding.grade == key[1],
            Holding.finish_key == key[2],
            Holding.pack == key[3],
        )
        .order_by(Location.name_key)
    )
    if location is not None:
        query = query.where(Location.name_key == rows.name_key(location))
    return [(row[0], row[1]) for row in session.execute(query)]


def units_of(session: Session, spots: Iterable[tuple[int, str]], pack: int) -> list[Units]:
    """Give what may be promised at each of some locked holdings."""
    return [_units(session, holding, location, pack) for holding, location in spots]


def _units(session: Session, holding: int, location: str, pack: int) -> Units:
    last = sa.select(Movement.on_hand, Movement.tracked).where(Movement.holding_id == holding)
    row = session.execute(last.order_by(Movement.sequence.desc()).limit(1)).first()
    on_hand, tracked = (0, 0) if row is None else (int(row[0]), int(row[1]))
    promised_serials = _promised_serials(session, holding)
    free = holdings.available_of(session, holding)
    reserved_plain = on_hand - free - pack * len(promised_serials)
    loose = on_hand - tracked
    plain = max(0, loose - reserved_plain)
    serials = [serial for serial in _serials_at(session, holding) if serial not in promised_serials] if tracked else []
    return Units(holding, location, pack, free, plain, loose, serials)


def _promised_serials(session: Session, holding: int) -> set[str]:
    now = sa.func.clock_timestamp() if holdings.on_server(session) else datetime.now(UTC)
    live = sa.and_(Reservation.holding_id == holding, Reservation.rest > 0, Reservation.until > now)
    query = sa.select(Reservation.serial).where(live, Reservation.serial.is_not(None))
    return {serial for serial in session.scalars(query) if serial is not None}


def _serials_at(session: Session, holding: int) -> list[str]:
    """Give the serials whose last line that moved them brought them here, oldest received first."""
    first, later = aliased(Movement), aliased(Movement)
    same = sa.and_(later.loudspeaker_id == Movement.loudspeaker_id, later.serial == Movement.serial)
    moved_on = sa.exists().where(same, later.effect != 0, later.serial_sequence > Movement.serial_sequence)
    born = (
        sa.select(sa.func.min(first.id))
        .where(first.loudspeaker_id == Movement.loudspeaker_id, first.serial == Movement.serial)
        .correlate(Movement)
        .scalar_subquery()
    )
    query = sa.select(Movement.serial).where(
        Movement.holding_id == holding, Movement.serial.is_not(None), Movement.effect > 0, ~moved_on
    )
    return [serial for serial in session.scalars(query.order_by(born)) if serial is not None]
