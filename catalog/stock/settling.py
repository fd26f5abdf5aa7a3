"""What is kept for a quote, as sales: each line of the quote at its own price, each unit by its own serial."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import MovementKind, QuoteLine
from triptych.catalog.errors import BadInput, Refused
from triptych.catalog.stock.allocation import Key, Units, key_of_line, known_serials, named_once, units_of
from triptych.catalog.stock.lines import Line


@dataclass(frozen=True, slots=True)
class Kept:
    """A live reservation of a quote, as the line that would end all of it, and its holding."""

    holding: int
    line: Line


@dataclass(frozen=True, slots=True)
class Sale:
    """Units that go out at the price of a line of the quote; `release` is to be written before, where there is one."""

    quoted: QuoteLine
    holding: int
    line: Line
    release: Line | None = None


def settle(
    session: Session, number: int, lines: Sequence[QuoteLine], kept: Sequence[Kept], serials: Sequence[str]
) -> list[Sale]:
    """Give the sales that a quote comes to, those of its first lines first.

    Raises
    ------
    BadInput
        A serial is named that is neither reserved for the quote nor free beside what is.
    Refused
        Less is kept than was quoted.
    """
    sales = _priced(session, number, lines, kept)
    units = _units(session, sales)
    named = named_once(serials)
    for serial in named:
        if all(sale.line.serial != serial for sale in sales):
            sales = _with(serial, sales, units, named)
    return [part for sale in sales for part in _by_serial(sale, units[sale.holding])]


def _priced(session: Session, number: int, lines: Sequence[QuoteLine], kept: Sequence[Kept]) -> list[Sale]:
    """Give each line of the quote its units, in the order in which they were reserved."""
    left = [one.line.quantity for one in kept]
    keys = [_key(one.line) for one in kept]
    sales: list[Sale] = []
    for quoted in lines:
        missing, key = quoted.quantity, key_of_line(session, quoted)
        alike = [place for place in range(len(kept)) if keys[place][:3] == key[:3]]
        # a model that is sold otherwise than when it was reserved still is what was reserved
        for place in sorted(alike, key=lambda place: keys[place] != key):
            part = min(left[place], missing)
            if part:
                sales.append(Sale(quoted, kept[place].holding, replace(kept[place].line, quantity=part)))
                left[place] -= part
                missing -= part
    wanted, held = sum(line.quantity for line in lines), sum(sale.line.quantity for sale in sales)
    if wanted != held or any(left):
        raise Refused(
            f"quote {number}: {held} of {wanted} are still reserved, the rest lapsed or was released: lapse it and"
            " make a new one; nothing was written"
        )
    return sales


def _key(line: Line) -> Key:
    return line.loudspeaker_id, line.grade, rows.name_key(line.finish), line.pack or 1


def _units(session: Session, sales: Sequence[Sale]) -> dict[int, Units]:
    packs = {sale.holding: (sale.line.location, sale.line.pack or 1) for sale in sales}
    return {holding: units_of(session, [(holding, location)], pack)[0] for holding, (location, pack) in packs.items()}


def _with(serial: str, sales: list[Sale], units: dict[int, Units], named: Sequence[str]) -> list[Sale]:
    """Let the unit of a serial go out: for one that was reserved without a serial, else in place of another."""
    there = [place for place, sale in enumerate(sales) if serial in units[sale.holding].serials]
    free = [place for place in there if sales[place].line.serial not in named]
    if not free:
        known = dict.fromkeys(sale.line.serial for sale in sales if sale.line.serial)
        known |= dict.fromkeys(name for one in units.values() for name in one.serials)
        said = "more serials are named than are quoted of it" if there else known_serials([*filter(None, known)])
        raise BadInput(f"serial {serial!r} is not among what is kept for the quote: {said}; nothing was written")
    place = min(free, key=lambda place: (sales[place].line.serial is not None, place))
    sale, pack = sales[place], units[sales[place].holding].pack
    units[sale.holding].serials.remove(serial)
    rest = replace(sale, line=replace(sale.line, quantity=sale.line.quantity - pack))
    made = replace(sale, line=replace(sale.line, quantity=pack, serial=serial))
    if sale.line.serial is not None:
        release = replace(sale.line, kind=MovementKind.RELEASE, quantity=pack)
        made = replace(made, line=replace(made.line, reservation_id=None), release=release)
    return [*sales[:place], made, *([rest] if rest.line.quantity else []), *sales[place + 1 :]]


def _by_serial(sale: Sale, units: Units) -> list[Sale]:
    """Give a sale in parts: those that no serial names, and then the oldest received of those that have one."""
    if sale.line.serial is not None:
        return [sale]
    loose = min(sale.line.quantity, units.loose)
    units.loose -= loose
    parts = [replace(sale, line=replace(sale.line, quantity=loose))] if loose else []
    for _ in range(loose, sale.line.quantity, units.pack):
        # without one the ledger says what is wrong
        serial = units.serials.pop(0) if units.serials else None
        parts.append(replace(sale, line=replace(sale.line, quantity=units.pack, serial=serial)))
    return parts
