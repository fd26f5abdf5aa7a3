"""The vocabulary of quantities: name, kind, meaning and plausible range. Standard library only."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Final


class Kind(Enum):
    """What a quantity measures, by the unit inside the program."""

    LENGTH = "m"
    MASS = "kg"
    LEVEL = "dB"
    FREQUENCY = "Hz"
    RESISTANCE = "ohm"
    POWER = "W"
    ANGLE = "deg"
    PERCENT = "%"
    COUNT = "1"


@dataclass(frozen=True, slots=True)
class Quantity:
    """One number that a loudspeaker or a room has; `low` and `high` are in the unit of its kind."""

    name: str
    kind: Kind
    meaning: str
    low: float
    high: float
    bare_unit: str

    @property
    def unit(self) -> str:
        """The unit inside the program."""
        return self.kind.value


def _length(name: str, meaning: str, low: float, high: float) -> Quantity:
    return Quantity(name, Kind.LENGTH, meaning, low, high, "mm")


LOUDSPEAKER: Final[dict[str, Quantity]] = {
    quantity.name: quantity
    for quantity in (
        _length("width", "outside width, grille on", 0.04, 2.0),
        _length("height", "outside height without feet, grille on", 0.04, 2.5),
        _length("depth", "outside depth without plugs, grille on", 0.03, 1.5),
        _length("feet", "height that the feet add", 0.0, 0.15),
        _length("rear_allowance", "room for terminals, plug and cable bend", 0.0, 0.3),
        Quantity("weight", Kind.MASS, "net weight of one", 0.2, 150.0, "kg"),
        _length("port_diameter", "diameter of the port, or of the circle of its area", 0.01, 0.4),
        Quantity("sensitivity", Kind.LEVEL, "level on the axis at 1 m for 2.83 V", 70.0, 112.0, "dB"),
        Quantity("impedance_nominal", Kind.RESISTANCE, "nominal impedance", 2.0, 32.0, "ohm"),
        Quantity("impedance_minimum", Kind.RESISTANCE, "lowest impedance in the audio band", 1.0, 32.0, "ohm"),
        Quantity("low_limit", Kind.FREQUENCY, "lower end of the response", 10.0, 500.0, "Hz"),
        Quantity("low_limit_drop", Kind.LEVEL, "drop at the lower end", 3.0, 10.0, "dB"),
        Quantity("high_limit", Kind.FREQUENCY, "upper end of the response", 80.0, 120_000.0, "Hz"),
        _length("tweeter_size", "nominal diameter of the tweeter, or the longer side of a ribbon", 0.008, 0.4),
        _length("axis_height", "acoustic axis above the base of the box", 0.0, 2.2),
        _length("midrange_size", "nominal diameter of one midrange driver", 0.02, 0.4),
        Quantity("midrange_count", Kind.COUNT, "number of midrange drivers", 0, 12, "1"),
        _length("woofer_size", "nominal diameter of one woofer", 0.04, 0.7),
        Quantity("woofer_count", Kind.COUNT, "number of woofers", 0, 24, "1"),
        _length("woofer_spacing", "outermost woofers, centre to centre", 0.04, 2.0),
        Quantity("crossover", Kind.FREQUENCY, "hand-over between two drivers", 40.0, 20_000.0, "Hz"),
        Quantity("crossover_order", Kind.COUNT, "acoustic order of the hand-over", 1, 8, "1"),
        Quantity("amplifier_min", Kind.POWER, "smallest advised amplifier", 1.0, 5_000.0, "W"),
        Quantity("amplifier_max", Kind.POWER, "largest advised amplifier", 1.0, 10_000.0, "W"),
        Quantity("power_handling", Kind.POWER, "continuous power handling", 1.0, 10_000.0, "W"),
        Quantity("tweeter_coverage", Kind.ANGLE, "full angle between the -6 dB points", 5.0, 360.0, "deg"),
        Quantity("tax_rate", Kind.PERCENT, "rate of tax", 0.0, 60.0, "%"),
    )
}
"""Loudspeaker figures by column name; plausible ranges are common practice, no source."""

ROOM: Final[dict[str, Quantity]] = {
    quantity.name: quantity
    for quantity in (
        _length("screen.diagonal", "diagonal of the picture", 0.2, 20.0),
        _length("screen.width", "width of the picture", 0.2, 20.0),
        _length("screen.height", "height of the picture", 0.1, 12.0),
        _length("screen.bottom", "lower edge of the picture above the floor", 0.0, 6.0),
        _length("mains.spacing", "tweeter to tweeter", 0.3, 20.0),
        _length("mains.from_wall", "baffle of the mains to the front wall", 0.0, 10.0),
        Quantity("mains.toe_in", Kind.ANGLE, "how far the mains turn in", -10.0, 60.0, "deg"),
        _length("mains.axis_height", "acoustic axis of the mains above the floor", 0.05, 4.0),
        _length("seat.x", "seat to the right of the picture's middle", -15.0, 15.0),
        _length("seat.distance", "seat to the front wall", 0.3, 30.0),
        _length("seat.ear_height", "ear above the floor", 0.3, 6.0),
        _length("place.width", "clear width", 0.05, 20.0),
        _length("place.height", "clear height", 0.03, 8.0),
        _length("place.depth", "clear depth", 0.03, 8.0),
        _length("place.base", "its floor above the room's floor", 0.0, 6.0),
        _length("place.front", "its front edge from the front wall", 0.0, 10.0),
        Quantity("place.load", Kind.MASS, "what it may still bear", 0.0, 1_000.0, "kg"),
        _length("place.gap", "box to fabric", 0.0, 3.0),
        _length("place.setback", "baffle behind the front edge", -0.3, 3.0),
        Quantity("amplifier.power", Kind.POWER, "rated power per channel", 1.0, 5_000.0, "W"),
        Quantity("amplifier.into", Kind.RESISTANCE, "load at which the power is rated", 2.0, 32.0, "ohm"),
        Quantity("amplifier.lowest_load", Kind.RESISTANCE, "lowest load it is rated for", 1.0, 32.0, "ohm"),
        Quantity("amplifier.trim_range", Kind.LEVEL, "level trim either way", 0.0, 40.0, "dB"),
        Quantity("listening.target_peak", Kind.LEVEL, "peak level wanted at the farthest seat", 60.0, 130.0, "dB"),
        Quantity("listening.room_gain", Kind.LEVEL, "what the room adds to the direct sound", -6.0, 12.0, "dB"),
    )
}
"""Room figures by section and key; plausible ranges are common practice, no source."""
