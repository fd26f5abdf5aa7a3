"""The catalogue's columns turned into the arrays that gates and criteria take; the one place that knows their names."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from triptych.catalog.database.gathering import Words
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

Columns = Mapping[str, Any]

STAND_MOUNT_HEIGHT: Final = 0.60
"""An upright main no taller than this is no tower: it may be a centre, also on its side [m]. Common practice."""

UNJUDGED: Final = ("amplifier_max", "high_limit", "tweeter_material")
"""Figures of the catalogue that nothing here judges, and that needn't be read."""

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
    currency: Words
    per: Words
    tax: Words
    tax_rate: Words
    sold_as: Words

    def kinds(self, rows: IndexArray) -> tuple[IndexArray, IndexArray]:
        """Rows of which no two are priced in the same way, and which of them each of some rows is like."""
        words = (self.currency, self.per, self.tax, self.tax_rate, self.sold_as)
        known = [self.minor[row] is not None for row in rows.tolist()]
        number = np.array(known, dtype=np.intp)
        for one in words:
            number = number * len(one.words) + one.rows[rows]
        _, first, which = np.unique(number, return_index=True, return_inverse=True)
        return rows[first], which.ravel()


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
    def in_stock(self) -> BoolArray:
        """Of which one at least can be promised."""
        return np.array([bool(count) for count in self.available], dtype=np.bool_)

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
    currencies = {name: code for code, name in enumerate(sorted(filter(None, columns["currency"].words)))}
    drivers = _drivers(columns)
    return Loudspeakers(
        ids=columns["id"].tolist(),
        revisions=columns["revision"],
        names=columns["name"],
        boxes=_boxes(columns, drivers, currencies, offered),
        drivers=drivers,
        kin=Kin(
            model=columns["id"],
            family=_numbered(columns["family"]),
            maker=_numbered(columns["maker"], NAMELESS),
            loading=_codes(columns["tweeter_type"], _LOADING, Loading.UNKNOWN),
        ),
        sealed=_is(columns["enclosure"], "sealed").astype(np.float64),
        retired=columns["retired"],
        offered=offered,
        asked=AskingPrices(*(columns[name] for name in _ASKED)),
        available=columns["available"],
        currencies=currencies,
        least_power=columns["amplifier_min"],
    )


def described(columns: Columns) -> tuple[description.Columns, BoolArray]:
    """What the physics make a model of, of loudspeakers as `described_columns` gives them, and who may be heard.

    These are all but those that are retired, whose drivers nobody described, or that are offered as nothing but a sub.
    """
    drivers = _drivers(columns)
    heard = columns["roles"].each(lambda roles: roles != Role.SUB.value, np.bool_)
    return drivers, heard & drivers.laid_out & ~columns["retired"].each(bool, np.bool_)


_ASKED: Final = ("price_minor", "currency", "price_per", "tax", "tax_rate", "sold_as")


def floats(values: Iterable[float | None]) -> FloatArray:
    """A column as floats; None becomes NaN."""
    return np.array(values, dtype=np.float64)


def _codes(values: Words, table: Mapping[Any, int], default: int) -> CodeArray:
    return values.each(lambda value: int(table.get(value, default)), np.int8)


def _is(values: Words, *wanted: Any) -> BoolArray:
    return values.each(lambda value: value in wanted, np.bool_)


def _numbered(values: Words, none: Collection[str] = ()) -> CountArray:
    """The same number for the same word; -1 for no word, and for those that count as none."""
    numbers = [code if word and word.casefold() not in none else -1 for code, word in enumerate(values.words)]
    return np.array(numbers, dtype=np.int64)[values.rows]


def _offered(roles: Words) -> dict[str, BoolArray]:
    words = [text.split("|") for text in roles.words]
    return {role: np.array([role in one for one in words], dtype=np.bool_)[roles.rows] for role in OFFERED_FOR}


def _lying(columns: Columns, width: FloatArray, height: FloatArray) -> BoolArray:
    """Whether each loudspeaker is described lying; where that isn't stated, whether it is wider than high.

    Where no size is stated either, a centre that is no main lies, which makes less of its seats.
    """
    stated, silent = _is(columns["orientation"], "lying"), _is(columns["orientation"], None)
    centre = columns["roles"].each(lambda roles: "centre" in roles and "main" not in roles, np.bool_)
    wider = np.where(np.isnan(width) | np.isnan(height), centre, width > height)
    return np.where(silent, wider, stated)


def _drivers(columns: Columns) -> description.Columns:
    width, height = columns["width"], columns["height"]
    return description.Columns(
        lying=_lying(columns, width, height),
        width=width,
        height=height,
        tweeter_type=columns["tweeter_type"].each(lambda kind: kind, object),
        tweeter_size=columns["tweeter_size"],
        tweeter_coverage=np.column_stack([columns[f"tweeter_coverage_{side}"] for side in "hv"]),
        midrange_size=columns["midrange_size"],
        midrange_count=columns["midrange_count"],
        woofer_size=columns["woofer_size"],
        woofer_count=columns["woofer_count"],
        layout=columns["layout"].each(lambda text: text, object),
        woofer_spacing=columns["woofer_spacing"],
        crossover=np.column_stack([columns[f"crossover_{number}"] for number in (1, 2, 3)]),
        crossover_order=columns["crossover_order"],
    )


def _boxes(
    columns: Columns,
    drivers: description.Columns,
    currencies: Mapping[str, int],
    offered: Mapping[str, BoolArray],
) -> Boxes:
    axis, on_side = columns["axis_height"], drivers.lying
    return Boxes(
        width=drivers.width,
        height=drivers.height,
        depth=columns["depth"],
        feet=columns["feet"],
        rear_allowance=columns["rear_allowance"],
        weight=columns["weight"],
        axis=np.where(np.isnan(axis) & on_side, drivers.height / 2, axis),
        axis_stated=~np.isnan(axis),
        lying=on_side,
        port=_port(columns),
        port_diameter=columns["port_diameter"],
        radiator=_is(columns["enclosure"], "passive_radiator", "open_back"),
        bung=_is(columns["bung"], True),
        bung_unknown=_is(columns["bung"], None),
        sensitivity=columns["sensitivity"],
        basis=_codes(columns["sensitivity_basis"], _BASIS, SensitivityCode.UNKNOWN),
        impedance_nominal=columns["impedance_nominal"],
        impedance_minimum=columns["impedance_minimum"],
        power_handling=columns["power_handling"],
        low_limit=columns["low_limit"],
        low_limit_drop=columns["low_limit_drop"],
        price=_price_of_one(columns),
        price_taxed=_codes(columns["tax"], {"included": 1, "excluded": 0}, -1),
        tax_rate=columns["tax_rate"].each(lambda rate: rate, np.float64),
        currency=columns["currency"].each(lambda value: currencies.get(value, -1), np.int16),
        sold=_codes(columns["sold_as"], _SOLD, Sold.UNKNOWN),
        usually_pairs=offered["main"] & ~offered["centre"],
        life=_codes(columns["status"], _LIFE, Life.CURRENT),
        available=floats(columns["available"]),
    )


def _port(columns: Columns) -> CodeArray:
    """Where each box breathes; a location of none says nothing of a box that is known not to be sealed."""
    enclosure, location = columns["enclosure"], columns["port_location"]
    untold = _is(location, "none") & ~_is(enclosure, None)
    cases = [_is(enclosure, "sealed"), _is(enclosure, "open_back"), untold]
    return np.select(cases, [Port.NONE, Port.REAR, Port.UNKNOWN], _codes(location, _PORT, Port.UNKNOWN)).astype(np.int8)


def _price_of_one(columns: Columns) -> FloatArray:
    """The price of one loudspeaker [currency]: half of a pair's.

    It is not known of one that is sold in pairs where nobody said whether it is the price of each or of a pair.
    """
    units = columns["currency"].each(lambda currency: 10.0 ** minor_digits(currency), np.float64)
    amount, per = floats(columns["price_minor"]) / units, columns["price_per"]
    untold = _is(per, None) & _is(columns["sold_as"], "pair")
    return np.asarray(np.where(untold, np.nan, np.where(_is(per, "pair"), amount / 2, amount)))
