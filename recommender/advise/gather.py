"""Rows of the catalogue and the record of a room, turned into the arrays that gates and criteria take."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from triptych.catalog.errors import BadInput
from triptych.catalog.files.rooms import picture_size
from triptych.catalog.money import minor_digits
from triptych.catalog.records import Back, RoomRecord
from triptych.recommender.scene.aiming import NEAREST
from triptych.recommender.scene.arrays import (
    Basis,
    BoolArray,
    Boxes,
    CodeArray,
    Drive,
    FloatArray,
    IndexArray,
    Life,
    Loading,
    Mains,
    Picture,
    Port,
    Purse,
    Seats,
    Site,
    Sold,
)
from triptych.recommender.scene.levels import sensitivity_range

Columns = Mapping[str, Sequence[Any]]

STAND_MOUNT_HEIGHT: Final = 0.60
"""An upright main no taller than this is no tower: it may be a centre, also on its side [m]. Common practice."""

LIKELY_EAR: Final = 1.0
"""Ear above the floor until somebody measures it [m]. Assumed; what rests on it is marked unknown."""

NO_PEAK_SPACING: Final = 2.5
"""Mains' spacing where the room doesn't say [m]. Assumed."""

_PORT: Final = {
    "front": Port.FRONT,
    "rear": Port.REAR,
    "side": Port.SIDE,
    "top": Port.TOP,
    "bottom": Port.BOTTOM,
    "none": Port.NONE,
}
_BASIS: Final = {
    None: Basis.ANECHOIC,
    "anechoic": Basis.ANECHOIC,
    "half_space": Basis.HALF_SPACE,
    "in_room": Basis.IN_ROOM,
    "unknown": Basis.UNKNOWN,
}
_SOLD: Final = {None: Sold.UNKNOWN, "single": Sold.SINGLE, "either": Sold.SINGLE, "pair": Sold.PAIR}
_LIFE: Final = {"last_of_line": Life.LAST_OF_LINE, "discontinued": Life.DISCONTINUED}
_LOADING: Final = {
    "dome": Loading.DOME,
    "ring": Loading.DOME,
    "cone": Loading.DOME,
    "waveguide_dome": Loading.WAVEGUIDE,
    "horn": Loading.HORN,
    "ribbon": Loading.RIBBON,
    "folded_ribbon": Loading.RIBBON,
}


def floats(values: Sequence[Any]) -> FloatArray:
    """A column as floats; None becomes NaN."""
    return np.array(values, dtype=np.float64)


def _codes(values: Sequence[Any], table: Mapping[Any, int], default: int) -> CodeArray:
    return np.array([table.get(value, default) for value in values], dtype=np.int8)


def lying(columns: Columns) -> BoolArray:
    """Whether each loudspeaker is described lying; where that isn't stated, whether it is wider than high."""
    wide = np.nan_to_num(floats(columns["width"])) > np.nan_to_num(floats(columns["height"]))
    stated = np.array([value == "lying" for value in columns["orientation"]], dtype=np.bool_)
    silent = np.array([value is None for value in columns["orientation"]], dtype=np.bool_)
    return np.where(silent, wide, stated)


def _port(columns: Columns) -> CodeArray:
    def face(enclosure: str | None, location: str | None) -> Port:
        if enclosure == "sealed":
            return Port.NONE
        if enclosure == "open_back":
            return Port.REAR
        if location == "none" and enclosure is not None:
            return Port.UNKNOWN
        return _PORT.get(location or "", Port.UNKNOWN)

    pairs = list(zip(columns["enclosure"], columns["port_location"], strict=True))
    faces = {pair: int(face(*pair)) for pair in set(pairs)}
    return np.array([faces[pair] for pair in pairs], dtype=np.int8)


def price_of_one(columns: Columns) -> FloatArray:
    """The price of one loudspeaker [currency]: half of a pair's.

    Where nobody said what a price buys, it is taken to buy what the dealer sells.
    """
    units = {currency: 10.0 ** minor_digits(currency) for currency in set(columns["currency"])}
    amount = floats(columns["price_minor"]) / np.array([units[currency] for currency in columns["currency"]])
    terms = zip(columns["price_per"], columns["sold_as"], strict=True)
    of_pair = np.array([per == "pair" or (per is None and sold == "pair") for per, sold in terms], dtype=np.bool_)
    return np.asarray(np.where(of_pair, amount / 2, amount))


@dataclass(frozen=True, slots=True)
class Currencies:
    """Currency codes as small numbers, so that columns of them compare fast."""

    number: Mapping[str, int]

    @classmethod
    def of(cls, columns: Columns, *others: str | None) -> Currencies:
        """The numbering of all currencies in a column and in `others`."""
        known = {value for value in (*columns["currency"], *others) if value}
        return cls({name: index for index, name in enumerate(sorted(known))})

    def code(self, name: str | None) -> int:
        """The number of a currency; -1 for none."""
        return self.number.get(name or "", -1)


def having(columns: Columns, role: str) -> BoolArray:
    """Whether each loudspeaker is offered for a role."""
    roles = columns["roles"]
    offered = {text: role in text.split("|") for text in set(roles)}
    return np.array([offered[text] for text in roles], dtype=np.bool_)


def boxes(columns: Columns, currencies: Currencies) -> Boxes:
    """The loudspeakers of `columns` as they were designed to stand."""
    on_side = lying(columns)
    axis = floats(columns["axis_height"])
    height = floats(columns["height"])
    enclosure = np.array([value or "" for value in columns["enclosure"]])
    return Boxes(
        width=floats(columns["width"]),
        height=height,
        depth=floats(columns["depth"]),
        feet=floats(columns["feet"]),
        rear_allowance=floats(columns["rear_allowance"]),
        weight=floats(columns["weight"]),
        axis=np.where(np.isnan(axis) & on_side, height / 2, axis),
        axis_stated=~np.isnan(axis),
        lying=on_side,
        port=_port(columns),
        port_diameter=floats(columns["port_diameter"]),
        radiator=np.isin(enclosure, ["passive_radiator", "open_back"]),
        bung=np.array([value is True or value == 1 for value in columns["bung"]], dtype=np.bool_),
        sensitivity=floats(columns["sensitivity"]),
        basis=_codes(columns["sensitivity_basis"], _BASIS, Basis.UNKNOWN),
        impedance_nominal=floats(columns["impedance_nominal"]),
        impedance_minimum=floats(columns["impedance_minimum"]),
        power_handling=floats(columns["power_handling"]),
        low_limit=floats(columns["low_limit"]),
        low_limit_drop=floats(columns["low_limit_drop"]),
        price=price_of_one(columns),
        price_taxed=_codes(columns["tax"], {"included": 1, "excluded": 0}, -1),
        tax_rate=floats(columns["tax_rate"]),
        currency=np.array([currencies.code(value) for value in columns["currency"]], dtype=np.int16),
        sold=_codes(columns["sold_as"], _SOLD, Sold.UNKNOWN),
        usually_pairs=having(columns, "main") & ~having(columns, "centre"),
        life=_codes(columns["status"], _LIFE, Life.CURRENT),
        available=floats(columns["available"]),
    )


def loading(columns: Columns) -> CodeArray:
    """The loading class of each tweeter."""
    return _codes(columns["tweeter_type"], _LOADING, Loading.UNKNOWN)


def sealed(columns: Columns) -> FloatArray:
    """1 where a box is sealed, else 0."""
    return np.array([value == "sealed" for value in columns["enclosure"]], dtype=np.float64)


def candidate_index(columns: Columns, mains_index: int, role: str) -> IndexArray:
    """Which rows may be a centre: those offered for the role, stand-mounts made for mains, and the mains themselves."""
    upright = ~lying(columns)
    small = np.nan_to_num(floats(columns["height"]), nan=np.inf) <= STAND_MOUNT_HEIGHT
    offered, main = having(columns, role), having(columns, "main")
    retired = np.array(columns["retired"], dtype=np.bool_)
    chosen = (offered | (main & upright & small)) & ~retired
    chosen[mains_index] = not retired[mains_index]
    return np.flatnonzero(chosen)


def seats(room: RoomRecord) -> Seats:
    """The seats of a room; an ear nobody measured is taken to be as high as the primary one, or at a likely height."""
    primary = next(index for index, seat in enumerate(room.seats) if seat.primary)
    usual = room.seats[primary].ear_height or LIKELY_EAR
    return Seats(
        name=tuple(seat.name for seat in room.seats),
        x=floats([seat.x for seat in room.seats]),
        distance=floats([seat.distance for seat in room.seats]),
        ear_height=floats([usual if seat.ear_height is None else seat.ear_height for seat in room.seats]),
        ear_stated=np.array([seat.ear_height is not None for seat in room.seats], dtype=np.bool_),
        regular=np.array([seat.regular or seat.primary for seat in room.seats], dtype=np.bool_),
        primary=primary,
    )


def _known(value: float | None) -> float:
    return np.nan if value is None else float(value)


def sites(room: RoomRecord) -> list[Site]:
    """The places of a room. The back of an open shelf that nobody mentioned is open; that of a bay is unknown."""
    return [
        Site(
            name=place.name,
            kind=place.kind.value,
            width=_known(place.width),
            height=_known(place.height),
            depth=_known(place.depth),
            base=_known(place.base),
            front=_known(place.front),
            back=_back(place.kind.value, place.back),
            load=_known(place.load),
            hot=place.hot.value,
            wall=place.wall.value if place.wall else "",
            gap=_known(place.gap),
            setback=place.setback or 0.0,
        )
        for place in room.places
    ]


def _back(kind: str, back: Back | None) -> str:
    if back is not None:
        return back.value
    return "unknown" if kind == "cavity" else "open"


def picture(room: RoomRecord) -> Picture:
    """The picture's edges; sizes that aren't stated come from the others and the aspect."""
    screen = room.screen
    if screen is None:
        return Picture(False, np.nan, np.nan, np.nan, transparent=False)
    width, height = picture_size(screen)
    bottom = _known(screen.bottom)
    return Picture(True, bottom, bottom + _known(height), _known(width), screen.transparent)


def drive(room: RoomRecord) -> Drive:
    """The amplifier and the target; no room gain is claimed where none is stated."""
    amplifier, listening = room.amplifier, room.listening
    return Drive(
        power=_known(amplifier.power) if amplifier else np.nan,
        into=_known(amplifier.into) if amplifier else np.nan,
        lowest_load=_known(amplifier.lowest_load) if amplifier else np.nan,
        trim_range=_known(amplifier.trim_range) if amplifier else np.nan,
        target_peak=_known(listening.target_peak),
        room_gain=listening.room_gain or 0.0,
    )


def purse(room: RoomRecord, currencies: Currencies, budget: float | None, currency: str | None) -> Purse:
    """The cap on the centre: `budget` in `currency` where it is given, else the room's.

    A cap whose currency nobody named is in that of the mains.
    """
    money = room.money
    cap = budget if budget is not None else (float(money.centre) if money and money.centre is not None else np.nan)
    return Purse(cap, currencies.code(currency), money.tax_included if money else True, np.nan)


def in_front(room: RoomRecord, boxes: Boxes, mains_row: int) -> None:
    """Refuse a room whose primary seat isn't in front of the mains and of every place.

    Raises
    ------
    BadInput
        Both distances are told.
    """
    mains_front = room.mains.from_wall if room.mains.from_wall is not None else boxes.depth[mains_row]
    fronts = {"the mains' baffles": mains_front, **{place.name: place.front for place in room.places}}
    for name, front in fronts.items():
        if front is not None and room.primary.distance < front + NEAREST:
            raise BadInput(
                f"{room.name}: the seat {room.primary.name!r} is {room.primary.distance * 1e3:.0f} mm from the front "
                f"wall, and {name} {front * 1e3:.0f} mm: measure both from the front wall"
            )


def mains(columns: Columns, index: int, own: Boxes, room: RoomRecord) -> Mains:
    """The mains as they stand in the room; a tower's axis is its own above the floor, other heights must be stated."""
    position = room.mains
    stated = position.axis_height is not None
    on_floor = own.height[index] > STAND_MOUNT_HEIGHT
    axis = own.axis[index] + np.nan_to_num(own.feet[index]) if on_floor else np.nan
    low, likely, high = sensitivity_range(own.sensitivity[[index]], own.basis[[index]])
    return Mains(
        name=str(columns["name"][index]),
        spacing=NO_PEAK_SPACING if position.spacing is None else position.spacing,
        from_wall=_known(position.from_wall) if position.from_wall is not None else float(own.depth[index]),
        toe_in=position.toe_in or 0.0,
        axis_height=float(position.axis_height) if position.axis_height is not None else float(axis),
        axis_stated=bool(stated or not np.isnan(axis)),
        sensitivity=np.nan if np.isnan(own.sensitivity[index]) else float(likely[0]),
        sensitivity_range=(float(low[0]), float(high[0])),
        price=float(own.price[index]),
        loading=int(loading(columns)[index]),
    )


def family_keys(columns: Columns) -> list[str]:
    """The family of each loudspeaker, as the catalogue gives it; empty where there is none."""
    return [family or "" for family in columns["family"]]
