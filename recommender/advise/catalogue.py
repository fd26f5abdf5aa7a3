"""The catalogue's columns turned into the arrays that gates and criteria take; the one place that knows their names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from triptych.catalog.money import minor_digits
from triptych.catalog.records import Role
from triptych.recommender.physics import description
from triptych.recommender.scene.arrays import (
    BoolArray,
    Boxes,
    CodeArray,
    CountArray,
    FloatArray,
    IndexArray,
    Kin,
    Life,
    Loading,
    Port,
    SensitivityCode,
    Sold,
)

Columns = Mapping[str, Sequence[Any]]

STAND_MOUNT_HEIGHT: Final = 0.60
"""An upright main no taller than this is no tower: it may be a centre, also on its side [m]. Common practice."""

OFFERED_FOR: Final = tuple(role.value for role in Role)
"""What a loudspeaker may be offered for."""

NAMELESS: Final = frozenset({"unbranded", "no name", "noname", "no-name", "nameless", "generic", "vintage"})
"""What people write where they don't know the maker: it makes no two loudspeakers kin."""

_PORT: Final = {
    "front": Port.FRONT,
    "rear": Port.REAR,
    "side": Port.SIDE,
    "top": Port.TOP,
    "bottom": Port.BOTTOM,
    "none": Port.NONE,
}
_BASIS: Final = {
    None: SensitivityCode.TAKEN,
    "anechoic": SensitivityCode.ANECHOIC,
    "half_space": SensitivityCode.HALF_SPACE,
    "in_room": SensitivityCode.IN_ROOM,
    "unknown": SensitivityCode.UNKNOWN,
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


@dataclass(frozen=True, slots=True)
class AskingPrices:
    """What is asked for each of N loudspeakers, as it is on file; None where it isn't. [minor units, %]."""

    minor: Sequence[int | None]
    currency: Sequence[str | None]
    per: Sequence[str | None]
    tax: Sequence[str | None]
    tax_rate: Sequence[float | None]
    sold_as: Sequence[str | None]


@dataclass(frozen=True, slots=True)
class Loudspeakers:
    """N loudspeakers; entry k of every field belongs to the same one.

    `boxes` are as they were designed to stand, with the price of one; `drivers` are what the physics make a model of;
    `sealed` is 1 where a box is sealed; `offered` says by role who is offered for it; `available` is None where nobody
    counts. `currencies` numbers the currencies as `boxes.currency` does; `least_power` [W] is the least advised.
    """

    ids: Sequence[int]
    revisions: Sequence[int]
    names: Sequence[str]
    boxes: Boxes
    drivers: description.Columns
    kin: Kin
    sealed: FloatArray
    retired: BoolArray
    offered: Mapping[str, BoolArray]
    asked: AskingPrices
    available: Sequence[int | None]
    currencies: Mapping[str, int]
    least_power: FloatArray

    def __len__(self) -> int:
        """The number of loudspeakers."""
        return len(self.ids)

    def row(self, number: int) -> int:
        """The row of the loudspeaker of that number."""
        return self.ids.index(number)

    def currency(self, name: str | None) -> int:
        """The number of a currency, one that no price has where the catalogue doesn't know it; -1 for none."""
        return self.currencies.get(name, len(self.currencies)) if name else -1

    @property
    def small(self) -> BoolArray:
        """Which are upright and no towers."""
        height = np.nan_to_num(self.boxes.height, nan=np.inf)
        return np.asarray(~self.boxes.lying & (height <= STAND_MOUNT_HEIGHT))

    def centres(self, mains_row: int, role: str) -> IndexArray:
        """Which may be a centre: those offered for the role, stand-mounts made for mains, and the mains themselves."""
        chosen = (self.offered[role] | (self.offered["main"] & self.small)) & ~self.retired
        chosen[mains_row] = not self.retired[mains_row]
        return np.flatnonzero(chosen)


def loudspeakers_of(columns: Columns) -> Loudspeakers:
    """The arrays of a catalogue's columns."""
    offered = _offered(columns["roles"])
    currencies = {name: code for code, name in enumerate(sorted({name for name in columns["currency"] if name}))}
    drivers = _drivers(columns)
    return Loudspeakers(
        ids=columns["id"],
        revisions=columns["revision"],
        names=columns["name"],
        boxes=_boxes(columns, drivers, currencies, offered),
        drivers=drivers,
        kin=Kin(
            model=np.array(columns["id"], dtype=np.int64),
            family=_numbered(columns["family"]),
            maker=_numbered([None if maker.casefold() in NAMELESS else maker for maker in columns["maker"]]),
            loading=_codes(columns["tweeter_type"], _LOADING, Loading.UNKNOWN),
        ),
        sealed=np.array([value == "sealed" for value in columns["enclosure"]], dtype=np.float64),
        retired=np.array(columns["retired"], dtype=np.bool_),
        offered=offered,
        asked=AskingPrices(*(columns[name] for name in _ASKED)),
        available=columns["available"],
        currencies=currencies,
        least_power=floats(columns["amplifier_min"]),
    )


_ASKED: Final = ("price_minor", "currency", "price_per", "tax", "tax_rate", "sold_as")


def floats(values: Iterable[float | None]) -> FloatArray:
    """A column as floats; None becomes NaN."""
    return np.array(values, dtype=np.float64)


def _codes(values: Sequence[Any], table: Mapping[Any, int], default: int) -> CodeArray:
    return np.array([table.get(value, default) for value in values], dtype=np.int8)


def _numbered(values: Sequence[str | None]) -> CountArray:
    """The same number for the same word; -1 for none."""
    number = {value: code if value else -1 for code, value in enumerate(dict.fromkeys(values))}
    return np.array([number[value] for value in values], dtype=np.int64)


def _offered(roles: Sequence[str]) -> dict[str, BoolArray]:
    words = {text: text.split("|") for text in set(roles)}
    return {role: np.array([role in words[text] for text in roles], dtype=np.bool_) for role in OFFERED_FOR}


def _lying(columns: Columns, width: FloatArray, height: FloatArray) -> BoolArray:
    """Whether each loudspeaker is described lying; where that isn't stated, whether it is wider than high.

    Where no size is stated either, a centre that is no main lies, which makes less of its seats.
    """
    stated = np.array([value == "lying" for value in columns["orientation"]], dtype=np.bool_)
    silent = np.array([value is None for value in columns["orientation"]], dtype=np.bool_)
    centre = np.array(["centre" in roles and "main" not in roles for roles in columns["roles"]], dtype=np.bool_)
    wider = np.where(np.isnan(width) | np.isnan(height), centre, width > height)
    return np.where(silent, wider, stated)


def _drivers(columns: Columns) -> description.Columns:
    width, height = floats(columns["width"]), floats(columns["height"])
    return description.Columns(
        lying=_lying(columns, width, height),
        width=width,
        height=height,
        tweeter_type=columns["tweeter_type"],
        tweeter_size=floats(columns["tweeter_size"]),
        tweeter_coverage=np.column_stack([floats(columns[f"tweeter_coverage_{side}"]) for side in "hv"]),
        midrange_size=floats(columns["midrange_size"]),
        midrange_count=floats(columns["midrange_count"]),
        woofer_size=floats(columns["woofer_size"]),
        woofer_count=floats(columns["woofer_count"]),
        layout=columns["layout"],
        woofer_spacing=floats(columns["woofer_spacing"]),
        crossover=np.column_stack([floats(columns[f"crossover_{number}"]) for number in (1, 2, 3)]),
        crossover_order=floats(columns["crossover_order"]),
    )


def _boxes(
    columns: Columns, drivers: description.Columns, currencies: Mapping[str, int], offered: Mapping[str, BoolArray]
) -> Boxes:
    axis, on_side = floats(columns["axis_height"]), drivers.lying
    enclosure = np.array([value or "" for value in columns["enclosure"]])
    return Boxes(
        width=drivers.width,
        height=drivers.height,
        depth=floats(columns["depth"]),
        feet=floats(columns["feet"]),
        rear_allowance=floats(columns["rear_allowance"]),
        weight=floats(columns["weight"]),
        axis=np.where(np.isnan(axis) & on_side, drivers.height / 2, axis),
        axis_stated=~np.isnan(axis),
        lying=on_side,
        port=_port(columns),
        port_diameter=floats(columns["port_diameter"]),
        radiator=np.isin(enclosure, ["passive_radiator", "open_back"]),
        bung=np.array([value is True or value == 1 for value in columns["bung"]], dtype=np.bool_),
        sensitivity=floats(columns["sensitivity"]),
        basis=_codes(columns["sensitivity_basis"], _BASIS, SensitivityCode.UNKNOWN),
        impedance_nominal=floats(columns["impedance_nominal"]),
        impedance_minimum=floats(columns["impedance_minimum"]),
        power_handling=floats(columns["power_handling"]),
        low_limit=floats(columns["low_limit"]),
        low_limit_drop=floats(columns["low_limit_drop"]),
        price=_price_of_one(columns),
        price_taxed=_codes(columns["tax"], {"included": 1, "excluded": 0}, -1),
        tax_rate=floats(columns["tax_rate"]),
        currency=np.array([currencies.get(value or "", -1) for value in columns["currency"]], dtype=np.int16),
        sold=_codes(columns["sold_as"], _SOLD, Sold.UNKNOWN),
        usually_pairs=offered["main"] & ~offered["centre"],
        life=_codes(columns["status"], _LIFE, Life.CURRENT),
        available=floats(columns["available"]),
    )


def _port(columns: Columns) -> CodeArray:
    pairs = list(zip(columns["enclosure"], columns["port_location"], strict=True))
    faces = {pair: int(_face(*pair)) for pair in set(pairs)}
    return np.array([faces[pair] for pair in pairs], dtype=np.int8)


def _face(enclosure: str | None, location: str | None) -> Port:
    if enclosure == "sealed":
        return Port.NONE
    if enclosure == "open_back":
        return Port.REAR
    if location == "none" and enclosure is not None:
        return Port.UNKNOWN
    return _PORT.get(location or "", Port.UNKNOWN)


def _price_of_one(columns: Columns) -> FloatArray:
    """The price of one loudspeaker [currency]: half of a pair's.

    Where nobody said what a price buys, it is taken to buy what the dealer sells.
    """
    units = {currency: 10.0 ** minor_digits(currency) for currency in set(columns["currency"])}
    amount = floats(columns["price_minor"]) / np.array([units[currency] for currency in columns["currency"]])
    terms = zip(columns["price_per"], columns["sold_as"], strict=True)
    of_pair = np.array([per == "pair" or (per is None and sold == "pair") for per, sold in terms], dtype=np.bool_)
    return np.asarray(np.where(of_pair, amount / 2, amount))
