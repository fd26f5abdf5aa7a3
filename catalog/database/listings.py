"""What lists show, and nothing more, in SQL that every engine reads; in a total order, as all reads are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from triptych.catalog.errors import BadInput
from triptych.catalog.names import name_key
from triptych.catalog.words import Enclosure, PortLocation, PricePer, Role, Status

if TYPE_CHECKING:
    from triptych.catalog.database.direct import Ask
    from triptych.catalog.records import LoudspeakerRecord


@dataclass(frozen=True, slots=True)
class LoudspeakerFilter:
    """What to list. A figure that is not known meets no limit. Prices are those of one; lengths in [m]."""

    role: Role | None = None
    maker: str | None = None
    text: str | None = None
    price_min: Decimal | None = None
    price_max: Decimal | None = None
    currency: str | None = None
    max_width: float | None = None
    max_height: float | None = None
    max_depth: float | None = None
    enclosure: Enclosure | None = None
    port: PortLocation | None = None
    status: Status | None = None
    in_stock: bool = False
    include_retired: bool = False
    page: int = 1
    page_size: int | None = None

    @property
    def needs_more(self) -> bool:
        """Whether what it asks for stands in more than the loudspeakers themselves: in the stock, or among prices."""
        return self.in_stock or self.price_min is not None or self.price_max is not None

    def refuse_pages(self) -> None:
        """Refuse a page that there cannot be; raises BadInput."""
        if self.page < 1 or (self.page_size is not None and self.page_size < 1):
            raise BadInput("pages and their sizes count from 1")


_CONDITIONS: Final = {
    "role": "loudspeaker.id IN (SELECT loudspeaker_id FROM loudspeaker_role WHERE role = :role)",
    "maker": "loudspeaker.maker_id IN (SELECT id FROM maker WHERE name_key = :maker)",
    "enclosure": "loudspeaker.enclosure = :enclosure",
    "port": "loudspeaker.port_location = :port",
    "status": "loudspeaker.status = :status",
    "max_width": "loudspeaker.width <= :max_width",
    "max_height": "loudspeaker.height <= :max_height",
    "max_depth": "loudspeaker.depth <= :max_depth",
}
_HOLDS: Final = "name_key LIKE '%' || CAST(:{0} AS TEXT) || '%' ESCAPE '/'"
_WORD: Final = f"(loudspeaker.{_HOLDS} OR loudspeaker.family_id IN (SELECT id FROM family WHERE {_HOLDS}))"


def conditions(wanted: LoudspeakerFilter) -> tuple[str, dict[str, Any]]:
    """Give the condition on loudspeakers and its values, but for what stands in the stock and among the prices."""
    given = {name: getattr(wanted, name) for name in _CONDITIONS}
    values = {name: getattr(value, "value", value) for name, value in given.items() if value is not None}
    if wanted.maker is not None:
        values["maker"] = name_key(wanted.maker)
    told = [_CONDITIONS[name] for name in values]
    for number, word in enumerate(name_key(wanted.text).split()):
        told.append(_WORD.format(f"word_{number}"))
        values[f"word_{number}"] = word.replace("/", "//").replace("%", "/%").replace("_", "/_")
    if not wanted.include_retired:
        told.append("NOT loudspeaker.retired")
    return " AND ".join(told) or "1 = 1", values


_SHOWN: Final = (
    *("model", "width", "height", "depth", "sensitivity", "impedance_nominal", "low_limit", "weight", "layout"),
    *("enclosure", "port_location"),
)
"""The figures of a loudspeaker that a table shows."""


def loudspeakers_shown(ask: Ask, wanted: LoudspeakerFilter) -> list[LoudspeakerRecord]:
    """Give one page of loudspeakers, in order of their names, with what a table shows of them and nothing else.

    Raises
    ------
    BadInput
        The page is not from 1.
    """
    from triptych.catalog.records import LoudspeakerRecord

    wanted.refuse_pages()
    condition, values = conditions(wanted)
    page = f"SELECT id FROM loudspeaker WHERE {condition} ORDER BY loudspeaker.name_key"
    if wanted.page_size is not None:
        page += f" LIMIT {wanted.page_size:d} OFFSET {(wanted.page - 1) * wanted.page_size:d}"
    listed = ask(
        f"SELECT loudspeaker.id, maker.name, series.name, {', '.join(f'loudspeaker.{name}' for name in _SHOWN)}"
        " FROM loudspeaker JOIN maker ON maker.id = loudspeaker.maker_id"
        " LEFT JOIN series ON series.id = loudspeaker.series_id"
        f" WHERE loudspeaker.id IN ({page}) ORDER BY loudspeaker.name_key",
        values,
    )
    roles, prices = _roles(ask, page, values), _prices(ask, page, values)
    return [
        LoudspeakerRecord(
            maker=maker,
            series=series,
            roles=roles.get(number, frozenset()),
            **_in_words(dict(zip(_SHOWN, shown, strict=True))),
            **prices.get(number, {}),
        )
        for number, maker, series, *shown in listed
    ]


def _in_words(figures: dict[str, Any]) -> dict[str, Any]:
    for name, words in (("enclosure", Enclosure), ("port_location", PortLocation)):
        figures[name] = None if figures[name] is None else words(figures[name])
    return figures


def _roles(ask: Ask, page: str, values: Mapping[str, Any]) -> dict[int, frozenset[Role]]:
    found: defaultdict[int, set[Role]] = defaultdict(set)
    for number, role in ask(
        f"SELECT loudspeaker_id, role FROM loudspeaker_role WHERE loudspeaker_id IN ({page})", values
    ):
        found[number].add(Role(role))
    return {number: frozenset(roles) for number, roles in found.items()}


def _prices(ask: Ask, page: str, values: Mapping[str, Any]) -> dict[int, dict[str, Any]]:
    from triptych.catalog.money import to_amount

    # the latest first, so that the oldest stays, as where whole records are read
    found = ask(
        f"SELECT loudspeaker_id, amount, currency, per FROM price WHERE loudspeaker_id IN ({page})"
        " AND valid_from <= :today AND (valid_to IS NULL OR valid_to > :today) ORDER BY id DESC",
        {**values, "today": datetime.now(UTC).date()},
    )
    return {
        number: {
            "price": None if amount is None else to_amount(amount, currency),
            "currency": currency,
            "price_per": None if per is None else PricePer(per),
        }
        for number, amount, currency, per in found
    }


def number_of_loudspeakers(ask: Ask, wanted: LoudspeakerFilter) -> int:
    """Count the loudspeakers on all pages."""
    condition, values = conditions(wanted)
    return int(ask(f"SELECT count(*) FROM loudspeaker WHERE {condition}", values)[0][0])


@dataclass(frozen=True, slots=True)
class RoomShown:
    """A room with how many seats and places it has."""

    name: str
    seats: int
    places: int


def rooms_shown(ask: Ask) -> list[RoomShown]:
    """Give the rooms in order of their names."""
    counts = ", ".join(f"(SELECT count(*) FROM {part} WHERE {part}.room_id = room.id)" for part in ("seat", "place"))
    return [RoomShown(*row) for row in ask(f"SELECT name, {counts} FROM room ORDER BY name_key", {})]


@dataclass(frozen=True, slots=True)
class Holds:
    """What there is of one model, finish and grade at one location, in pairs or single, and which have serials."""

    speaker: str
    finish: str | None
    grade: str
    location: str
    pack: int
    on_hand: int
    reserved: int
    available: int
    in_transit: int
    serials: tuple[str, ...]


MANY: Final = 1000
"""Of so many holdings at most the serials are asked for by their numbers."""

_COMING: Final = """
    SELECT sent.to_holding_id AS holding, sum(sent.quantity - coalesce(
        (SELECT sum(come.quantity) FROM movement AS come WHERE come.from_id = sent.id), 0)) AS units
    FROM movement AS sent WHERE sent.kind = 'transfer_out' AND sent.to_holding_id IS NOT NULL
    GROUP BY sent.to_holding_id
"""
_ON_HAND: Final = """
    SELECT movement.on_hand FROM movement WHERE movement.holding_id = holding.id
    ORDER BY movement.sequence DESC LIMIT 1
"""
_RESERVED: Final = """
    SELECT coalesce(sum(reservation.rest), 0) FROM reservation
    WHERE reservation.holding_id = holding.id AND reservation.rest > 0 AND reservation.until > :now
"""
_HELD: Final = f"""
    SELECT holding.id, maker.name || ' ' || coalesce(series.name || ' ', '') || loudspeaker.model, holding.finish,
        holding.grade, location.name, holding.pack, coalesce(({_ON_HAND}), 0), ({_RESERVED}), coalesce(coming.units, 0)
    FROM holding JOIN loudspeaker ON loudspeaker.id = holding.loudspeaker_id
        JOIN maker ON maker.id = loudspeaker.maker_id LEFT JOIN series ON series.id = loudspeaker.series_id
        JOIN location ON location.id = holding.location_id
        LEFT JOIN ({_COMING}) AS coming ON coming.holding = holding.id
    WHERE {{condition}}
    ORDER BY loudspeaker.name_key, location.name_key, holding.grade, holding.finish_key, holding.pack DESC
"""


def holdings_shown(
    ask: Ask,
    loudspeaker_id: int | None = None,
    location: str | None = None,
    *,
    include_empty: bool = False,
    now: datetime | None = None,
) -> list[Holds]:
    """Give what there is, of all or of one loudspeaker or location, in order of name, location, grade and finish.

    What was sent and has not arrived stands as `in_transit` where it goes to.
    """
    asked: dict[str, Any] = {"now": now or datetime.now(UTC)}
    told = ["1 = 1"]
    if loudspeaker_id is not None:
        asked["loudspeaker"] = loudspeaker_id
        told.append("holding.loudspeaker_id = :loudspeaker")
    if location is not None:
        asked["location"] = name_key(location)
        told.append("location.name_key = :location")
    rows = ask(_HELD.format(condition=" AND ".join(told)), asked)
    shown = [row for row in rows if include_empty or row[6] or row[8]]
    there = [int(row[0]) for row in shown if row[6]]
    serials: defaultdict[int, list[str]] = defaultdict(list)
    # a statement takes only so many numbers
    for number, serial in serials_held(ask, there if len(there) <= MANY else None):
        serials[number].append(serial)
    return [_holds(*row[1:], serials=tuple(serials[row[0]])) for row in shown]


def _holds(*told: Any, serials: tuple[str, ...]) -> Holds:
    speaker, finish, grade, location, pack, units, held, way = told
    # what waits for its grade cannot be promised
    free = 0 if grade == "quarantine" else int(units) - int(held)
    return Holds(speaker, finish, grade, location, pack, int(units), int(held), free, int(way), serials)


_SERIALS: Final = """
    SELECT movement.holding_id, movement.serial FROM movement
    WHERE movement.serial IS NOT NULL AND movement.effect > 0 AND {condition} AND NOT EXISTS (
        SELECT 1 FROM movement AS later
        WHERE later.loudspeaker_id = movement.loudspeaker_id AND later.serial = movement.serial
            AND later.effect <> 0 AND later.serial_sequence > movement.serial_sequence)
    ORDER BY (SELECT min(first.id) FROM movement AS first
        WHERE first.loudspeaker_id = movement.loudspeaker_id AND first.serial = movement.serial)
"""


def serials_held(ask: Ask, holdings: list[int] | None) -> list[tuple[int, str]]:
    """Give the serials whose last line that moved them brought them to a holding, oldest received first."""
    if holdings is not None and not holdings:
        return []
    numbers = None if holdings is None else ", ".join(f"{number:d}" for number in holdings)
    condition = "1 = 1" if numbers is None else f"movement.holding_id IN ({numbers})"
    return [(number, serial) for number, serial in ask(_SERIALS.format(condition=condition), {})]
