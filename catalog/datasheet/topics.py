"""Which reader reads which topic, and what a line of one topic tells of another."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

from triptych.catalog.datasheet import (
    band,
    crossovers,
    dimensions,
    drivers,
    enclosure,
    impedance,
    naming,
    power,
    price,
    ranges,
    sensitivities,
    tweeters,
    weight,
)
from triptych.catalog.datasheet.amounts import amounts
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.entries import OWN_COLUMN, SheetEntry, running
from triptych.catalog.datasheet.owner import HOLDS, misplaced
from triptych.catalog.datasheet.readings import resolve
from triptych.catalog.datasheet.sheet_words import topic_of
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind

Read = Callable[[SheetEntry, Draft], bool]


def read_entry(entry: SheetEntry, draft: Draft) -> bool:
    """Give an entry to the reader of its topic."""
    topic = entry.topic
    if topic is None:
        return False
    if topic in HOLDS and (other := misplaced(topic, entry.value)):
        return read_entry(replace(entry, topic=other), draft)
    if topic.startswith(OWN_COLUMN):
        return _read_own(topic.removeprefix(OWN_COLUMN), entry, draft)
    if topic in ("response", "low", "high") and ranges.is_of_drivers(entry):
        return True
    reader = _READERS.get(_driver_topic(entry) or topic)
    return reader is not None and reader(replace(entry, topic=_driver_topic(entry) or topic), draft)


def read_value(entry: SheetEntry, draft: Draft) -> bool:
    """Read a value on its own, where its key does not tell: 'Tapered cabinet: height 300 mm front'."""
    if entry.topic != "enclosure" or not entry.key:
        return False
    parts = [part for part in running(entry.said, entry.raw) if part.topic not in (None, entry.topic)]
    return sum(read_entry(part, draft) for part in parts) > 0


def _driver_topic(entry: SheetEntry) -> str | None:
    """The driver that 'low frequency' or 'high frequency' is, where a size stands instead of hertz."""
    if entry.topic not in ("low", "high", "response"):
        return None
    kinds = {amount.kind for amount in amounts(entry.value)}
    if Kind.LENGTH not in kinds or Kind.FREQUENCY in kinds:
        return None
    sides = (("high", "tweeter"), ("mid", "midrange"), ("low", "woofer"))
    return next((driver for word, driver in sides if word in entry.key), None)


def _read_own(column: str, entry: SheetEntry, draft: Draft) -> bool:
    """Read a line that uses a column's own name: the file's words first where they are exact, else as any line."""
    topic = _OWN.get(column)
    if topic is None and (column not in _ELSE or naming.is_exact(column, entry.said)):
        return naming.read_column(entry, draft, column)
    plain = column.replace("_", " ")
    topic = topic or _ELSE[column]
    return read_entry(SheetEntry(topic, plain, entry.value, entry.said, entry.raw), draft)


def _plain_reader(column: str) -> Read:
    """Return a reader of a single quantity."""

    def read(entry: SheetEntry, draft: Draft) -> bool:
        quantity = LOUDSPEAKER[column]
        bare = None if entry.key else quantity.kind
        found = [amount for amount in amounts(entry.value) if amount.kind in (quantity.kind, bare)]
        found = [amount for amount in found if not re.match(r" ?(?:pcs?|x|st|stk|szt)\b", entry.value[amount.end :])]
        before = f"{entry.key} "
        found = [one for one in found if one.unit or not re.search(r"\bx ?$", before + entry.value[: one.start])]
        for amount in found[:1]:
            draft.take(column, resolve(amount, quantity, raw=entry.raw), entry.raw)
        return bool(found)

    return read


def _read_role(entry: SheetEntry, draft: Draft) -> bool:
    """'Type: 2-way bass reflex centre' is about the enclosure and the role."""
    told = (
        naming.infer_roles(entry.value, entry.raw, draft) if topic_of(entry.value) else naming.read_role(entry, draft)
    )
    # a type may tell the pose and the drivers' letters too
    told |= naming.read_orientation(entry, draft) | tweeters.read_layout(entry, draft)
    return enclosure.read_enclosure(entry, draft) or told


def _read_layout(entry: SheetEntry, draft: Draft) -> bool:
    if naming.is_exact("layout", entry.said):
        return naming.read_column(entry, draft, "layout")
    # 'Configuration: 2-way, rear ported' is about the box
    told = tweeters.read_layout(entry, draft)
    return enclosure.read_enclosure(entry, draft) or told or naming.read_column(entry, draft, "layout")


def _read_crossover(entry: SheetEntry, draft: Draft) -> bool:
    """'A 26 mm dome and a 17 cm woofer hand over at 2.4 kHz' is about drivers too."""
    told = not entry.key and any(amount.kind is Kind.LENGTH for amount in amounts(entry.value))
    drivers_read = told and drivers.read_drivers(replace(entry, topic="drivers"), draft)
    return crossovers.read_crossover(entry, draft) or drivers_read


def _read_slope(entry: SheetEntry, draft: Draft) -> bool:
    """'Crossed at 2.3 kHz with 24 dB per octave slopes' tells the hand-over too."""
    told = any(amount.kind is Kind.FREQUENCY for amount in amounts(entry.value))
    return (crossovers.read_crossover if told else crossovers.read_slope)(entry, draft)


_READERS: Final[Mapping[str, Read]] = {
    "maker": naming.read_name,
    "model": naming.read_name,
    "series": naming.read_name,
    "family": naming.read_name,
    "status": lambda entry, draft: naming.read_column(entry, draft, "status"),
    "role": _read_role,
    "orientation": naming.read_orientation,
    "layout": _read_layout,
    "size": dimensions.read_size,
    "width": dimensions.read_side,
    "height": dimensions.read_side,
    "depth": dimensions.read_side,
    "feet": _plain_reader("feet"),
    "weight": weight.read_weight,
    "axis_height": _plain_reader("axis_height"),
    "spacing": _plain_reader("woofer_spacing"),
    "rear_allowance": _plain_reader("rear_allowance"),
    "enclosure": enclosure.read_enclosure,
    "bung": enclosure.read_enclosure,
    "port_size": enclosure.read_port_size,
    "sensitivity": sensitivities.read_sensitivity,
    "max_level": sensitivities.read_max_level,
    "impedance": impedance.read_impedance,
    "minimum": impedance.read_impedance,
    "load": impedance.read_impedance,
    "response": band.read_response,
    "low": band.read_response,
    "high": band.read_response,
    "crossover": _read_crossover,
    "slope": _read_slope,
    "drivers": drivers.read_drivers,
    "tweeter": drivers.read_driver,
    "midrange": drivers.read_driver,
    "woofer": drivers.read_driver,
    "coverage": tweeters.read_coverage,
    "amplifier": power.read_amplifier,
    "power": power.read_power,
    "handling": power.read_power,
    "price": price.read_price,
    "sold": price.read_sold,
}
_OWN: Final[Mapping[str, str]] = {
    **{side: side for side in ("width", "height", "depth", "weight", "sensitivity", "crossover", "enclosure", "feet")},
    "impedance_nominal": "impedance",
    "impedance_minimum": "minimum",
    "low_limit": "low",
    "high_limit": "high",
    "power_handling": "power",
    "price": "price",
    "axis_height": "axis_height",
    "woofer_spacing": "spacing",
    "rear_allowance": "rear_allowance",
    "port_diameter": "port_size",
    "tweeter_size": "tweeter",
    "midrange_size": "midrange",
    "woofer_size": "woofer",
}
"""Columns whose values are read as on any sheet; the others read in the words of the file."""


_ELSE: Final[Mapping[str, str]] = {
    "amplifier_min": "amplifier",
    "amplifier_max": "amplifier",
    "tweeter_type": "tweeter",
    "tweeter_material": "tweeter",
    "woofer_count": "woofer",
    "midrange_count": "midrange",
}
"""Columns that are read as on any sheet where their value isn't in the words of the file, such as '25-150 W'."""
