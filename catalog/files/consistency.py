"""What the cells of one loudspeaker must agree on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from triptych.catalog.money import finer_than_money, minor_digits
from triptych.catalog.numbers import plain
from triptych.catalog.records import Enclosure, LoudspeakerRecord, PortLocation

Fault = tuple[str, str]
"""A column, and what is wrong in it."""

_NO_PORT: Final = (Enclosure.SEALED, Enclosure.OPEN_BACK)
_HAS_PORT: Final = (Enclosure.PORTED, Enclosure.PASSIVE_RADIATOR)


def faults(record: LoudspeakerRecord) -> list[Fault]:
    """Return every contradiction between the figures of one loudspeaker; what is unknown contradicts nothing."""
    return [fault for check in _CHECKS for fault in check(record)]


def _band(record: LoudspeakerRecord) -> Iterator[Fault]:
    low, high = record.low_limit, record.high_limit
    if low is not None and high is not None and low >= high:
        yield "low_limit", f"{low:g} Hz is not under high_limit, {high:g} Hz; the lower end goes here"
    if record.low_limit_drop is not None and low is None:
        yield "low_limit_drop", "stands without low_limit; give that too, or leave this empty"


def _enclosure(record: LoudspeakerRecord) -> Iterator[Fault]:
    enclosure, location = record.enclosure, record.port_location
    if enclosure in _NO_PORT:
        word = enclosure.value if enclosure else ""
        if location not in (None, PortLocation.NONE):
            yield (
                "port_location",
                f"{location.value!r}, but the enclosure is {word}; write 'none' or mend the enclosure",
            )
        if record.port_diameter is not None:
            yield "port_diameter", f"a {word} enclosure has no port; leave it empty or mend the enclosure"
        if record.bung:
            yield "bung", f"a {word} enclosure has no port to stop; write 'no' or mend the enclosure"
    if enclosure in _HAS_PORT and location is PortLocation.NONE:
        word = enclosure.value if enclosure else ""
        yield "port_location", f"'none', but the enclosure is {word}; say where it is, or leave it empty if unknown"


def _impedance(record: LoudspeakerRecord) -> Iterator[Fault]:
    nominal, minimum = record.impedance_nominal, record.impedance_minimum
    if nominal is not None and minimum is not None and minimum > nominal:
        yield "impedance_minimum", f"{minimum:g} ohm is above the nominal {nominal:g} ohm; are the two exchanged?"


def _power(record: LoudspeakerRecord) -> Iterator[Fault]:
    low, high = record.amplifier_min, record.amplifier_max
    if low is not None and high is not None and low > high:
        yield "amplifier_min", f"{low:g} W is above amplifier_max, {high:g} W; are the two exchanged?"


def _money(record: LoudspeakerRecord) -> Iterator[Fault]:
    if record.price is not None and record.currency is None:
        yield "currency", "is empty beside a price; write three letters, such as EUR"
    elif record.price is not None and finer_than_money(record.price, record.currency):
        digits = minor_digits(record.currency)
        yield "price", f"{plain(record.price)} has more than the {digits} decimals that {record.currency} has; round it"


def _box(record: LoudspeakerRecord) -> Iterator[Fault]:
    height, axis = record.height, record.axis_height
    if height is not None and axis is not None and axis > height:
        yield "axis_height", f"{_mm(axis)} above the base of a box {_mm(height)} high; measure from the base of the box"
    spacing = record.woofer_spacing
    if spacing is None:
        return
    if record.woofer_count in (0, 1):
        yield "woofer_spacing", f"woofer_count is {record.woofer_count}, so there is no spacing; leave it empty"
    if record.width is not None and height is not None and spacing > max(record.width, height):
        side = _mm(max(record.width, height))
        yield "woofer_spacing", f"{_mm(spacing)} is more than the box's longer side, {side}; measure centre to centre"


def _mm(length: float) -> str:
    return f"{length * 1000:g} mm"


_CHECKS: Final[tuple[Callable[[LoudspeakerRecord], Iterator[Fault]], ...]] = (
    _band,
    _enclosure,
    _impedance,
    _power,
    _money,
    _box,
)
