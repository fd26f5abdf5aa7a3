"""Which units a quote takes: from where they are promised, and which of those that have serials go out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Grade, Holding, Location, Movement, MovementKind, QuoteLine, Reservation
from triptych.catalog.database.stock_levels import clock, is_last_line, reserved_of
from triptych.catalog.errors import BadInput, Refused
from triptych.catalog.stock import looking
from triptych.catalog.stock.articles import model_of, models, pack_of_line
from triptych.catalog.stock.availability import Asked, promised
from triptych.catalog.stock.movement_lines import MovementLine
from triptych.catalog.stock.reading import serials_at

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


@dataclass(frozen=True, slots=True)
class Kept:
    """A live reservation of a quote: what is left of it, of which holding, and what its units are."""

    number: int
    holding: int
    location: str
    key: Key
    finish: str | None
    job: str
    rest: int
    serial: str | None
    until: datetime

    def line(self, kind: MovementKind, quantity: int, serial: str | None) -> MovementLine:
        """Give a movement of its units, which does not end it yet."""
        speaker, grade, _, pack = self.key
        return MovementLine(
            speaker, kind, quantity, self.location, grade, self.finish, self.job, serial=serial, pack=pack
        )

    def end(self, kind: MovementKind, quantity: int, serial: str | None) -> MovementLine:
        """Give the movement that ends so much of it."""
        return replace(self.line(kind, quantity, serial), reservation_id=self.number)


@dataclass(slots=True)
class Sale:
    """Units that go out at the price of a line of the quote; of another serial than was kept where `instead`."""

    quoted: QuoteLine
    kept: Kept
    quantity: int
    serial: str | None
    instead: bool = False

    def release(self) -> MovementLine | None:
        """Give what is to be released before, where there is any."""
        return self.kept.end(MovementKind.RELEASE, self.quantity, self.kept.serial) if self.instead else None

    def line(self) -> MovementLine:
        """Give the movement that sells them."""
        make = self.kept.line if self.instead else self.kept.end
        return make(MovementKind.SELL, self.quantity, self.serial)


def _keys(session: Session, lines: Sequence[QuoteLine]) -> list[Key]:
    """Give what the units of each line are."""
    packs = {number: model.pack for number, model in models(session, [line.loudspeaker_id for line in lines]).items()}
    return [
        (
            line.loudspeaker_id,
            line.grade,
            rows.name_key(line.finish),
            pack_of_line(line.quantity, packs[line.loudspeaker_id]),
        )
        for line in lines
    ]


@dataclass(frozen=True, slots=True)
class QuotedShelves:
    """Lines of a quote, what the units of each are, and the holdings at a location that they may come from."""

    lines: Sequence[QuoteLine]
    keys: Sequence[Key]
    holdings: dict[Key, list[int]]
    location: str | None

    def wanted(self) -> Counter[Key]:
        """Count what is quoted by what the units are."""
        wanted: Counter[Key] = Counter()
        for line, key in zip(self.lines, self.keys, strict=True):
            wanted[key] += line.quantity
        return wanted

    def all_holdings(self) -> list[int]:
        """Give the holdings of all lines."""
        return [number for numbers in self.holdings.values() for number in numbers]


def shelves_of(session: Session, lines: Sequence[QuoteLine], location: str | None) -> QuotedShelves:
    """Find all holdings that the units of some lines may come from, and lock them."""
    keys = _keys(session, lines)
    found = QuotedShelves(lines, keys, _holdings(session, keys, location), location)
    looking.lock(session, found.all_holdings())
    return found


def allocate(
    session: Session, shelves: QuotedShelves, serials: Sequence[str] = (), first: Collection[int] = ()
) -> list[MovementLine]:
    """Give reservations for all that is quoted, line by line: from one location where one has them all.

    Which of those that have serials is said by `serials`; else plain ones go first, and then the oldest received.
    Of holdings that have enough, those of `first` come first.

    Raises
    ------
    BadInput
        A serial is named that is not free among what is quoted.
    Refused
        There is too little.
    """
    lines, keys = shelves.lines, shelves.keys
    there = _units(session, shelves.all_holdings())
    units = {key: [there[number] for number in numbers] for key, numbers in shelves.holdings.items()}
    wanted = [line.quantity for line in lines]
    parts: list[list[MovementLine]] = [[] for _ in lines]
    for serial in _named_once(serials):
        place, one = _meant(serial, keys, wanted, units)
        parts[place].append(_reserve(lines[place], one, *one.name(serial)))
        wanted[place] -= one.pack
    for place, line in enumerate(lines):
        for one in sorted(units[keys[place]], key=lambda one: (one.free < wanted[place], one.holding not in first)):
            taken = one.take(wanted[place])
            parts[place] += [_reserve(line, one, *part) for part in taken]
            wanted[place] -= sum(quantity for quantity, _ in taken)
        if wanted[place]:
            raise _too_few(session, line, keys[place], wanted[place], shelves.location)
    return [part for of_line in parts for part in of_line]


def _reserve(line: QuoteLine, there: Units, quantity: int, serial: str | None) -> MovementLine:
    speaker, kind = line.loudspeaker_id, MovementKind.RESERVE
    return MovementLine(
        speaker, kind, quantity, there.location, line.grade, line.finish, serial=serial, pack=there.pack
    )


def _named_once(serials: Sequence[str]) -> list[str]:
    """Give serials as the ledger keeps them; refuse those that are blank, or named twice."""
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
    raise BadInput(f"serial {serial!r} is not free among what is quoted: {_known(known)}; nothing was written")


def _known(serials: Collection[str], shown: int = 12) -> str:
    """Say which serials are free."""
    if not serials:
        return "nothing free there has a serial"
    more = f" and {len(serials) - shown} more" if len(serials) > shown else ""
    return f"free are {', '.join(map(repr, list(serials)[:shown]))}{more}"


def _too_few(session: Session, line: QuoteLine, key: Key, missing: int, location: str | None) -> Refused:
    name = ", ".join(filter(None, (model_of(session, line.loudspeaker_id).name, line.finish)))
    told = f"{name}: {line.quantity - missing} of {line.quantity} available"
    if location is not None:
        told += f" at {location!r}"
    asked = Asked(line.quantity, (line.grade,), line.finish, any_finish=False, single=key[3] == 1)
    promise = promised(session, [line.loudspeaker_id], asked)[line.loudspeaker_id]
    held = promise.why.removeprefix(promise.beside).removeprefix("; ")
    others = [one.words for one in promise.others]
    mend = "make a quote with that finish" if promise.finishes else ""
    return Refused("; ".join(filter(None, (told, promise.beside, mend, held, *others, "nothing was written"))))


def _holdings(session: Session, keys: Iterable[Key], location: str | None) -> dict[Key, list[int]]:
    """Give the holdings of some units by what they are, in order of their locations; one statement for all."""
    found: dict[Key, list[int]] = {key: [] for key in keys}
    alike = (Holding.loudspeaker_id, Holding.grade, Holding.finish_key, Holding.pack)
    query = sa.select(Holding.id, *alike).join(Location, Location.id == Holding.location_id)
    # by the loudspeakers first: SQLite finds no index for several values at once
    query = query.where(Holding.loudspeaker_id.in_({key[0] for key in found}))
    query = query.where(sa.tuple_(*alike).in_(list(found)), Location.loan_job_id.is_(None)).order_by(Location.name_key)
    if location is not None:
        query = query.where(Location.name_key == rows.name_key(location))
    for number, speaker, grade, finish, pack in session.execute(query):
        found[speaker, grade, finish, pack].append(number)
    return found


def _units(session: Session, holdings: Collection[int]) -> dict[int, Units]:
    """Give what may be promised at each of some locked holdings."""
    now = clock(session)
    on_hand, tracked = (sa.func.coalesce(column, 0) for column in (Movement.on_hand, Movement.tracked))
    query = (
        sa.select(Holding.id, Location.name, Holding.pack, on_hand, tracked, reserved_of(Holding.id, now))
        .join(Location, Location.id == Holding.location_id)
        .outerjoin(Movement, is_last_line())
        .where(Holding.id.in_(holdings))
    )
    live = (Reservation.holding_id.in_(holdings), Reservation.rest > 0, Reservation.until > now)
    kept = sa.select(Reservation.holding_id, Reservation.serial).where(*live, Reservation.serial.is_not(None))
    rows_there = session.execute(query).all()
    # most have no serial at all, and finding them takes long
    tracked_there = [row[0] for row in rows_there if row[4]]
    promised_serials = {tuple(row) for row in session.execute(kept)} if tracked_there else set()
    serials = list(serials_at(session, tracked_there)) if tracked_there else []
    found = {}
    for number, location, pack, units, named, reserved in rows_there:
        free = [serial for there, serial in serials if there == number and (there, serial) not in promised_serials]
        reserved_plain = int(reserved) - pack * sum(there == number for there, _ in promised_serials)
        loose = units - named
        plain = max(0, loose - reserved_plain)
        found[number] = Units(number, location, pack, units - int(reserved), plain, loose, free)
    return found


def settle(
    session: Session,
    number: int,
    lines: Sequence[tuple[QuoteLine, int]],
    kept: Sequence[Kept],
    serials: Sequence[str],
    *,
    all_of_it: bool = True,
) -> list[Sale]:
    """Give the sales that a quote comes to, of each line so many, those of its first lines first.

    `all_of_it` says that nothing of what is kept for it is left then.

    Raises
    ------
    BadInput
        A serial is named that is neither reserved for the quote nor free beside what is.
    Refused
        Less is kept than was quoted.
    """
    sales = _priced(session, number, lines, kept, all_of_it=all_of_it)
    units = _units(session, {sale.kept.holding for sale in sales})
    named = _named_once(serials)
    for serial in named:
        if all(sale.serial != serial for sale in sales):
            _name(serial, sales, units, named)
    return [part for sale in sales for part in _by_serial(sale, units[sale.kept.holding])]


def _priced(
    session: Session, number: int, lines: Sequence[tuple[QuoteLine, int]], kept: Sequence[Kept], *, all_of_it: bool
) -> list[Sale]:
    """Give each line of the quote its units, in the order in which they were reserved."""
    left = [one.rest for one in kept]
    sales: list[Sale] = []
    for (quoted, wanted_of_it), key in zip(lines, _keys(session, [line for line, _ in lines]), strict=True):
        missing = wanted_of_it
        alike = [place for place, one in enumerate(kept) if one.key[:3] == key[:3]]
        # a model that is sold otherwise than when it was reserved still is what was reserved
        for place in sorted(alike, key=lambda place: kept[place].key != key):
            part = min(left[place], missing)
            if part:
                sales.append(Sale(quoted, kept[place], part, kept[place].serial))
                left[place] -= part
                missing -= part
    wanted, held = sum(units for _, units in lines), sum(sale.quantity for sale in sales)
    if wanted != held or (all_of_it and any(left)):
        raise Refused(
            f"quote {number}: {held} of {wanted} are still reserved, the rest lapsed or was released: lapse it and"
            " make a new one; nothing was written"
        )
    return sales


def _name(serial: str, sales: list[Sale], units: dict[int, Units], named: Sequence[str]) -> None:
    """Let the unit of a serial go out: for one that was reserved without a serial, else in place of another."""
    there = [place for place, sale in enumerate(sales) if serial in units[sale.kept.holding].serials]
    free = [place for place in there if sales[place].serial not in named]
    if not free:
        known = dict.fromkeys(sale.serial for sale in sales if sale.serial)
        known |= dict.fromkeys(name for one in units.values() for name in one.serials)
        said = "more serials are named than are quoted of it" if there else _known([*filter(None, known)])
        raise BadInput(f"serial {serial!r} is not among what is kept for the quote: {said}; nothing was written")
    place = min(free, key=lambda place: (sales[place].serial is not None, place))
    sale = sales[place]
    held = units[sale.kept.holding]
    held.serials.remove(serial)
    sales.insert(place, Sale(sale.quoted, sale.kept, held.pack, serial, instead=sale.serial is not None))
    sale.quantity -= held.pack
    if not sale.quantity:
        del sales[place + 1]


def _by_serial(sale: Sale, units: Units) -> Iterator[Sale]:
    """Give a sale in parts: those that no serial names, and then the oldest received of those that have one."""
    if sale.serial is not None:
        yield sale
        return
    loose = min(sale.quantity, units.loose)
    units.loose -= loose
    if loose:
        yield replace(sale, quantity=loose)
    for _ in range(loose, sale.quantity, units.pack):
        # without one the ledger says what is wrong
        serial = units.serials.pop(0) if units.serials else None
        yield replace(sale, quantity=units.pack, serial=serial)
