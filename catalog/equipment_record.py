"""What a system needs beside its loudspeakers: each figure of a piece of equipment with all that there is to say of it.

As in `records.py`: columns, options, JSON, the table and the documentation are made of these lines. SI units; unknown
is None.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Any, Final

from triptych.catalog.cell_readings import CellReader
from triptych.catalog.fields import Field, fields_of
from triptych.catalog.money import dearest, finer_than_money, minor_digits, too_dear
from triptych.catalog.names import name_key
from triptych.catalog.number_texts import plain
from triptych.catalog.quantities import TAX_RATE, About, Kind
from triptych.catalog.words import EquipmentKind, Role, SaleUnit, Status, Tax

Fault = tuple[str, str]
"""A column, and what is wrong in it."""


@dataclass(frozen=True, slots=True)
class EquipmentRecord:
    """One piece of equipment. [m, kg, W, ohm, mm2]."""

    maker: Annotated[str, About("Who makes it; required")]
    model: Annotated[str, About("The model; required")]
    kind: Annotated[EquipmentKind, About("What it is; required")]
    channels: Annotated[int | None, About("loudspeakers that it drives by itself", Kind.COUNT, 1, 32)] = None
    processed_channels: Annotated[
        int | None, About("loudspeakers, heights among them, that it decodes for", Kind.COUNT, 1, 64)
    ] = None
    preamplifier_outputs: Annotated[
        int | None, About("outputs for amplifiers of their own, without those for subwoofers", Kind.COUNT, 0, 64)
    ] = None
    sub_outputs: Annotated[int | None, About("outputs for subwoofers", Kind.COUNT, 0, 8)] = None
    inputs: Annotated[int | None, About("inputs for sources", Kind.COUNT, 0, 32)] = None
    power: Annotated[float | None, About("rated power of one channel", Kind.POWER, 1.0, 5_000.0)] = None
    power_into: Annotated[float | None, About("load at which the power is rated", Kind.RESISTANCE, 2.0, 32.0)] = None
    lowest_load: Annotated[float | None, About("lowest load it is rated for", Kind.RESISTANCE, 1.0, 32.0)] = None
    bears: Annotated[float | None, About("what one of it may bear", Kind.MASS, 0.2, 500.0, digits=1)] = None
    height: Annotated[float | None, About("height of a stand to its top plate", Kind.LENGTH, 0.05, 2.0)] = None
    box_width: Annotated[float | None, About("widest box that it holds", Kind.LENGTH, 0.05, 2.0)] = None
    box_depth: Annotated[float | None, About("deepest box that it holds", Kind.LENGTH, 0.03, 1.5)] = None
    serves: Annotated[frozenset[Role] | None, About("What it is for, several with ';'; any if empty", mark=";")] = None
    length: Annotated[float | None, About("length of a cable that is sold in one piece", Kind.LENGTH, 0.1, 100.0)] = (
        None
    )
    conductor_area: Annotated[float | None, About("cross-section of one conductor", Kind.AREA, 0.2, 25.0, digits=1)] = (
        None
    )
    price: Annotated[Decimal | None, About("A number; the currency has its own column", form="price")] = None
    currency: Annotated[str | None, About("Three letters; required with a price", form="currency")] = None
    price_per: Annotated[SaleUnit | None, About("What the price buys, and the least that is sold; each if empty")] = (
        None
    )
    tax: Annotated[Tax | None, About("Whether tax is in the price")] = None
    tax_rate: Annotated[float | None, TAX_RATE] = None
    status: Annotated[Status | None, About("Where the model stands in its life")] = None
    note: Annotated[str | None, About("Anything worth knowing", form="note")] = None

    @property
    def name(self) -> str:
        """The name that people use: maker and model."""
        return f"{self.maker} {self.model}"

    @property
    def key(self) -> str:
        """The name as names are compared."""
        return name_key(self.name)

    def has(self, column: str) -> bool:
        """Whether a piece of its kind can have a figure."""
        return column not in _OF_SOME or column in _OWN[self.kind]


CAUTION: Final = (
    "Stands tip and mounts tear out: keep to the maker's rating and manual, let a qualified person judge the wall, and "
    "keep children off. What works on the voltage of a wall socket is for an electrician, by the local code."
)
"""What is told beside what bears loudspeakers or drives them."""

EQUIPMENT: Final[Mapping[str, Field]] = fields_of(EquipmentRecord)
"""Every column of the file of equipment by name, in the order of an export."""

EQUIPMENT_UNITS: Final[Mapping[str, str]] = {name: column.unit for name, column in EQUIPMENT.items() if column.unit}
"""The unit of a bare number, by column."""

DEMANDED: Final = tuple(name for name, column in EQUIPMENT.items() if column.required)
"""The columns that a file must fill."""

NAMED_BY: Final = ("maker", "model")
"""The columns that name a piece of equipment."""

_DRIVES: Final = frozenset({"channels", "power", "power_into", "lowest_load"})
_BEARS: Final = frozenset({"bears", "box_width", "box_depth", "serves"})
_OWN: Final[Mapping[EquipmentKind, frozenset[str]]] = {
    EquipmentKind.RECEIVER: _DRIVES | {"processed_channels", "preamplifier_outputs", "sub_outputs", "inputs"},
    EquipmentKind.AMPLIFIER: _DRIVES,
    EquipmentKind.SOURCE: frozenset(),
    EquipmentKind.STAND: _BEARS | {"height"},
    EquipmentKind.MOUNT: _BEARS,
    EquipmentKind.SPEAKER_CABLE: frozenset({"length", "conductor_area"}),
    EquipmentKind.SUB_CABLE: frozenset({"length"}),
}
"""The figures that each kind has, beside its name, its price and a note."""

_OF_SOME: Final = frozenset().union(*_OWN.values())
_CABLES: Final = (EquipmentKind.SPEAKER_CABLE, EquipmentKind.SUB_CABLE)


def equipment_faults(values: Mapping[str, Any]) -> list[Fault]:
    """Return every contradiction between the figures of one piece; what is unknown contradicts nothing."""
    return [*_strangers(values), *_amplified(values), *_priced(values)]


def _strangers(values: Mapping[str, Any]) -> Iterator[Fault]:
    kind = values["kind"]
    for name in EQUIPMENT:
        if name in _OF_SOME - _OWN[kind] and values.get(name) is not None:
            yield name, f"stands beside the kind {kind.value!r}, which has none; leave it empty or mend the kind"


def _amplified(values: Mapping[str, Any]) -> Iterator[Fault]:
    power, into, lowest = (values.get(name) for name in ("power", "power_into", "lowest_load"))
    if (power is None) != (into is None):
        name, other = ("power_into", "power") if into is None else ("power", "power_into")
        yield name, f"is empty beside {other}; a power holds for one load, so give both"
    if into is not None and lowest is not None and lowest > into:
        yield "lowest_load", f"{lowest:g} ohm is above power_into, {into:g} ohm; are the two exchanged?"
    channels, processed = values.get("channels"), values.get("processed_channels")
    if channels is not None and processed is not None and channels > processed:
        yield "channels", f"{channels} are more than processed_channels, {processed}; are the two exchanged?"


def _priced(values: Mapping[str, Any]) -> Iterator[Fault]:
    price, currency, per = (values.get(name) for name in ("price", "currency", "price_per"))
    if price is not None and currency is None:
        yield "currency", "is empty beside a price; write three letters, such as EUR"
    elif price is not None and finer_than_money(price, currency):
        told = f"{plain(price)} has more than the {minor_digits(currency)} decimals that {currency} has; round it"
        yield "price", told
    elif price is not None and too_dear(price, currency):
        yield "price", f"{plain(price)} {currency} {dearest(currency)}"
    if per is SaleUnit.METRE and values["kind"] not in _CABLES:
        yield "price_per", "only cables are sold by the metre; write each or pair"
    if per is SaleUnit.METRE and values.get("length") is not None:
        yield "length", "stands beside a price of one metre; leave it empty, or write what the price of one piece is"


def equipment_of(
    texts: Mapping[str, str], reader: CellReader, old: EquipmentRecord | None = None
) -> tuple[EquipmentRecord | None, list[Fault]]:
    """Return the record that texts by column make, or None, and every fault by column.

    What no text says is as in `old`, or unknown.
    """
    values: dict[str, Any] = {name: getattr(old, name, None) for name in EQUIPMENT}
    found: list[Fault] = []
    for name, text in texts.items():
        values[name], complaint = reader.read(name, text) if text else (None, "")
        if complaint:
            found.append((name, complaint))
    if values["price"] is not None and (price := texts.get("price")):
        values["currency"], complaint = reader.currency(price, values["currency"])
        if complaint:
            found.append(("price", complaint))
    unread = {name for name, _ in found}
    empty = [name for name in DEMANDED if not values[name]]
    found += [(name, "is empty or unknown; it is required") for name in empty if name not in unread]
    if not empty:
        found += [fault for fault in equipment_faults(values) if fault[0] not in unread]
    return (None, found) if found else (EquipmentRecord(**values), [])


def equipment_texts(record: EquipmentRecord) -> dict[str, str]:
    """Return the text of every column, in the order of an export; it reads back to the identical record."""
    return {name: column.text(getattr(record, name)) for name, column in EQUIPMENT.items()}


def equipment_values(record: EquipmentRecord) -> dict[str, Any]:
    """Return a piece as JSON's values by column, numbers in `EQUIPMENT_UNITS`, unknown as None."""
    return {"name": record.name} | {name: column.plain(getattr(record, name)) for name, column in EQUIPMENT.items()}
