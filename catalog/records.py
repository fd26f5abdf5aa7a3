"""Records of loudspeakers, rooms and curves: each attribute with all that there is to say of it, once.

`catalog/fields.py` makes columns, keys, options, JSON, tables and documentation of what is written here. SI units;
unknown is None.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated

from triptych.catalog.quantities import TAX_RATE, About, Kind
from triptych.catalog.words import (
    Back,
    CurveKind,
    Enclosure,
    Evidence,
    Floor,
    Hot,
    Orientation,
    PlaceKind,
    PortLocation,
    PricePer,
    Role,
    SensitivityBasis,
    SoldAs,
    Status,
    Tax,
    TweeterType,
    WallKind,
)

__all__ = [
    "Amplifier", "Back", "CurveKind", "CurveRecord", "Enclosure", "Evidence", "Figure", "Floor", "Hot",
    "Listening", "LoudspeakerRecord", "MainsPosition", "Money", "Orientation", "Place", "PlaceKind", "PortLocation",
    "PricePer", "Role", "RoomRecord", "Screen", "Seat", "SensitivityBasis", "SoldAs", "Status", "Tax", "TweeterType",
    "WallKind",
]  # fmt: skip

LENGTH, MASS, LEVEL, FREQUENCY, RESISTANCE, POWER, ANGLE, COUNT = (
    kind for kind in Kind if kind not in (Kind.PERCENT, Kind.AREA)
)


@dataclass(frozen=True, slots=True)
class Figure:
    """The provenance of one stated figure."""

    raw: str
    source: str
    evidence: Evidence = Evidence.STATED
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LoudspeakerRecord:
    """One generic loudspeaker; each line says all that there is to say of a figure. [m, kg, dB, Hz, ohm, W, deg]."""

    maker: Annotated[str, About("Who makes it; required", stored="maker.name")]
    model: Annotated[str, About("The model; required")]
    series: Annotated[str | None, About("The maker's series, part of the name", stored="series.name")] = None
    family: Annotated[
        str | None, About("What it is voiced together with; maker and series if empty", stored="family.name")
    ] = None
    roles: Annotated[
        frozenset[Role],
        About("What it is offered for, several with ';'; required", required=True, mark=";", stored="role.role"),
    ] = frozenset()
    orientation: Annotated[Orientation | None, About("The pose that width and height describe")] = None
    width: Annotated[float | None, About("outside width, grille on", LENGTH, 0.04, 2.0)] = None
    height: Annotated[float | None, About("outside height without feet, grille on", LENGTH, 0.04, 2.5)] = None
    depth: Annotated[float | None, About("outside depth without plugs, grille on", LENGTH, 0.03, 1.5)] = None
    feet: Annotated[float | None, About("height that the feet add", LENGTH, 0.0, 0.15)] = None
    rear_allowance: Annotated[
        float | None, About("room for terminals, plug and cable bend", LENGTH, 0.0, 0.3, note="; 40 if empty")
    ] = None
    weight: Annotated[float | None, About("net weight of one", MASS, 0.2, 150.0, digits=1)] = None
    enclosure: Annotated[Enclosure | None, About("How the rear of the woofers is loaded")] = None
    port_location: Annotated[PortLocation | None, About("Where the port or passive radiator is")] = None
    port_diameter: Annotated[
        float | None, About("diameter of the port, or of the circle of its area", LENGTH, 0.01, 0.4)
    ] = None
    bung: Annotated[bool | None, About("Whether a bung comes with it")] = None
    sensitivity: Annotated[
        float | None, About("level on the axis at 1 m for 2.83 V", LEVEL, 70.0, 112.0, note=", anechoic", digits=1)
    ] = None
    sensitivity_basis: Annotated[
        SensitivityBasis | None, About("The field in which the sensitivity was stated; anechoic if empty")
    ] = None
    impedance_nominal: Annotated[float | None, About("nominal impedance", RESISTANCE, 2.0, 32.0)] = None
    impedance_minimum: Annotated[float | None, About("lowest impedance in the audio band", RESISTANCE, 1.0, 32.0)] = (
        None
    )
    low_limit: Annotated[float | None, About("lower end of the response", FREQUENCY, 10.0, 500.0)] = None
    low_limit_drop: Annotated[
        float | None, About("drop at the lower end", LEVEL, 3.0, 10.0, note=": 3, 6 or 10", choices=(3.0, 6.0, 10.0))
    ] = None
    high_limit: Annotated[float | None, About("upper end of the response", FREQUENCY, 80.0, 120_000.0)] = None
    tweeter_type: Annotated[TweeterType | None, About("How the tweeter is loaded", stored="tweeter.type")] = None
    tweeter_size: Annotated[float | None, About(
        "nominal diameter of the tweeter, or the longer side of a ribbon", LENGTH, 0.008, 0.4, stored="tweeter.size",
    )] = None  # fmt: skip
    tweeter_material: Annotated[str | None, About("What the tweeter is made of", stored="tweeter.material")] = None
    tweeter_coverage: Annotated[tuple[float, float] | None, About(
        "full angle between the -6 dB points", ANGLE, 5.0, 360.0, most=360, mark=" x ", stored="tweeter.coverage",
        header="Horizontal x vertical angle between the -6 dB points, such as '90 x 60'",
    )] = None  # fmt: skip
    axis_height: Annotated[float | None, About("acoustic axis above the base of the box", LENGTH, 0.0, 2.2)] = None
    midrange_size: Annotated[
        float | None, About("nominal diameter of one midrange driver", LENGTH, 0.02, 0.4, stored="midrange.size")
    ] = None
    midrange_count: Annotated[
        int | None, About("number of midrange drivers", COUNT, 0, 12, most=1000, stored="midrange.count")
    ] = None
    woofer_size: Annotated[
        float | None, About("nominal diameter of one woofer", LENGTH, 0.04, 0.7, stored="woofer.size")
    ] = None
    woofer_count: Annotated[int | None, About("number of woofers", COUNT, 0, 24, most=1000, stored="woofer.count")] = (
        None
    )
    layout: Annotated[str | None, About("Drivers along the long side, such as TM, MTM, W(T/M)W", form="layout")] = None
    woofer_spacing: Annotated[float | None, About("outermost woofers, centre to centre", LENGTH, 0.04, 2.0)] = None
    crossover: Annotated[tuple[float, ...] | None, About(
        "hand-over between two drivers", FREQUENCY, 40.0, 20_000.0, mark="/", stored="crossover.frequency",
        header="Hand-overs, lowest first, such as '350 / 2.8 kHz'",
    )] = None  # fmt: skip
    crossover_order: Annotated[
        int | None,
        About("acoustic order of the hand-over", COUNT, 1, 8, most=8, note="; 4 if empty", stored="crossover.order"),
    ] = None
    amplifier_min: Annotated[float | None, About("smallest advised amplifier", POWER, 1.0, 5_000.0)] = None
    amplifier_max: Annotated[float | None, About("largest advised amplifier", POWER, 1.0, 10_000.0)] = None
    power_handling: Annotated[float | None, About("continuous power handling", POWER, 1.0, 10_000.0)] = None
    price: Annotated[
        Decimal | None, About("A number; the currency has its own column", form="price", stored="price.amount")
    ] = None
    currency: Annotated[
        str | None, About("Three letters; required with a price", form="currency", stored="price.currency")
    ] = None
    price_per: Annotated[PricePer | None, About("What the price buys", stored="price.per")] = None
    tax: Annotated[Tax | None, About("Whether tax is in the price", stored="price.tax")] = None
    tax_rate: Annotated[float | None, TAX_RATE] = None
    sold_as: Annotated[SoldAs | None, About("The smallest quantity a dealer sells")] = None
    status: Annotated[Status | None, About("Where the model stands in its life")] = None
    note: Annotated[str | None, About("Anything worth knowing", form="note")] = None
    figures: Mapping[str, Figure] = field(default_factory=lambda: MappingProxyType({}), compare=False)

    @property
    def name(self) -> str:
        """The name that people use: maker, series, model."""
        return " ".join(filter(None, (self.maker, self.series, self.model)))


@dataclass(frozen=True, slots=True)
class Screen:
    """The picture [m]; `diagonal` and `aspect` give its width and height where they are not stated."""

    width: Annotated[
        float | None, About("width of the picture", LENGTH, 0.2, 20.0, ask="Width of the picture, if you measured it")
    ] = None
    height: Annotated[
        float | None,
        About("height of the picture", LENGTH, 0.1, 12.0, ask="Height of the picture, if you measured it"),
    ] = None
    diagonal: Annotated[float | None, About(
        "diagonal of the picture", LENGTH, 0.2, 20.0,
        ask="Diagonal of the picture itself, corner to corner, without the frame",
    )] = None  # fmt: skip
    aspect: Annotated[str | None, About("its shape", form="aspect", ask="Shape of the picture: 16:9, 2.39:1 ...")] = (
        None
    )
    bottom: Annotated[float | None, About(
        "lower edge of the picture above the floor", LENGTH, 0.0, 6.0,
        ask="Lower edge of the picture above the floor",
    )] = None  # fmt: skip
    transparent: Annotated[bool, About(
        "whether sound passes through it",
        ask="Can sound pass through the screen (woven or perforated)? yes or no; empty = no",
    )] = False  # fmt: skip


@dataclass(frozen=True, slots=True)
class MainsPosition:
    """How the mains stand. [m, deg]."""

    speaker: Annotated[str | None, About(
        "the left and right loudspeakers",
        ask="Left and right loudspeakers: maker, series and model as in the catalogue",
    )] = None  # fmt: skip
    spacing: Annotated[
        float | None, About("tweeter to tweeter", LENGTH, 0.3, 20.0, ask="Distance between them, tweeter to tweeter")
    ] = None
    from_wall: Annotated[float | None, About(
        "baffle of the mains to the front wall", LENGTH, 0.0, 10.0,
        ask="From the front wall to their front panel (baffle)",
    )] = None  # fmt: skip
    toe_in: Annotated[float | None, About(
        "how far the mains turn in", ANGLE, -10.0, 60.0,
        ask="How far they turn towards the seats, in degrees; 0 = straight ahead",
    )] = None  # fmt: skip
    axis_height: Annotated[float | None, About(
        "acoustic axis of the mains above the floor", LENGTH, 0.05, 4.0, check=">= 0",
        ask="Height of their tweeters above the floor; empty = as the catalogue says",
    )] = None  # fmt: skip
    floor: Annotated[Floor | None, About(
        "what covers the floor between the front loudspeakers and the seats",
        ask="The floor between them and the seats: hard (boards, tiles, stone), carpet, or unknown",
    )] = None  # fmt: skip


@dataclass(frozen=True, slots=True)
class Seat:
    """A listening position: x to the right, distance from the front wall. [m]."""

    name: Annotated[str, About("what you call it")]
    distance: Annotated[
        float, About("seat to the front wall", LENGTH, 0.3, 30.0, ask="From the front wall to the head")
    ]
    x: Annotated[float, About(
        "seat to the right of the picture's middle", LENGTH, -15.0, 15.0,
        ask="Sideways from the middle of the picture to the head, right is +, left is -; empty = 0",
    )] = 0.0  # fmt: skip
    ear_height: Annotated[
        float | None,
        About("ear above the floor", LENGTH, 0.3, 6.0, ask="Height of the ears above the floor when sitting"),
    ] = None
    primary: Annotated[bool, About("whether it counts most; exactly one does")] = False
    regular: Annotated[
        bool,
        About("whether it is judged", ask="Is it used regularly? yes or no (no: shown, but not judged); empty = yes"),
    ] = True


@dataclass(frozen=True, slots=True)
class Place:
    """Somewhere a centre could stand, as surveyed. [m, kg]."""

    name: Annotated[str, About("what you call it")]
    kind: Annotated[PlaceKind, About("what it is", ask="What is it:")]
    width: Annotated[
        float | None, About("clear width", LENGTH, 0.05, 20.0, ask="Clear width, at the narrowest point")
    ] = None
    height: Annotated[float | None, About(
        "clear height", LENGTH, 0.03, 8.0,
        ask="Clear height, at the lowest point; for a top, up to the picture or whatever is above",
    )] = None  # fmt: skip
    depth: Annotated[
        float | None, About("clear depth", LENGTH, 0.03, 8.0, ask="Clear depth, from the front edge to the back")
    ] = None
    base: Annotated[float | None, About(
        "its floor above the room's floor", LENGTH, 0.0, 6.0,
        ask="Height of its floor (what the box stands on) above the room's floor",
    )] = None  # fmt: skip
    front: Annotated[
        float | None,
        About("its front edge from the front wall", LENGTH, 0.0, 10.0, ask="From the front wall to its front edge"),
    ] = None
    back: Annotated[Back | None, About("its back panel", ask="Is its back open or closed?")] = None
    load: Annotated[
        float | None, About("what it may still bear", MASS, 0.0, 1_000.0, ask="Weight that it may still bear, in kg")
    ] = None
    hot: Annotated[Hot, About(
        "whether it gets hot",
        ask="Does it get hot (above a fire, beside a stove)? yes, no or unknown; empty = no",
    )] = Hot.NO  # fmt: skip
    wall: Annotated[
        WallKind | None,
        About("the wall behind a mount", ask="What the wall is made of: masonry, stud, plasterboard or unknown"),
    ] = None
    gap: Annotated[
        float | None,
        About("box to fabric", LENGTH, 0.0, 3.0, ask="Between the front of the box and the fabric of the screen"),
    ] = None
    setback: Annotated[float | None, About("baffle behind the front edge", LENGTH, -0.3, 3.0)] = None
    tilt_limit: Annotated[
        float | None, About("the most a box may be tilted there; as far as fits if left out", ANGLE, 0.0, 30.0)
    ] = None


@dataclass(frozen=True, slots=True)
class Amplifier:
    """What drives the front three. [W, ohm, dB]."""

    power: Annotated[float | None, About(
        "rated power per channel", POWER, 1.0, 5_000.0, ask="Rated power of one channel, in W, as the manual says",
    )] = None  # fmt: skip
    into: Annotated[float | None, About(
        "load at which the power is rated", RESISTANCE, 2.0, 32.0,
        ask="Load for which that power is stated, in ohm",
    )] = None  # fmt: skip
    lowest_load: Annotated[float | None, About(
        "lowest load it is rated for", RESISTANCE, 1.0, 32.0,
        ask="Lowest load that the amplifier is rated for, in ohm",
    )] = None  # fmt: skip
    trim_range: Annotated[
        float | None,
        About("level trim either way", LEVEL, 0.0, 40.0, ask="Range of its level trim either way, in dB"),
    ] = None


@dataclass(frozen=True, slots=True)
class Listening:
    """What the listeners ask for. [dB]."""

    target_peak: Annotated[float | None, About(
        "peak level wanted at the farthest seat", LEVEL, 60.0, 130.0, check="",
        ask="Peak level wanted at the farthest regular seat, in dB (105 is the cinema's reference)",
    )] = None  # fmt: skip
    room_gain: Annotated[float | None, About(
        "what the room adds to the direct sound", LEVEL, -6.0, 12.0,
        ask="What the room adds to the direct sound, in dB",
    )] = None  # fmt: skip
    needs_real_centre: Annotated[bool, About(
        "whether a phantom centre will not do",
        ask="Does anyone need a real centre (hard of hearing, seats off to the side)? empty = no",
    )] = False  # fmt: skip


@dataclass(frozen=True, slots=True)
class Money:
    """What the centre may cost."""

    centre: Annotated[
        Decimal | None,
        About("what the centre may cost", form="amount", check=">= 0", ask="What the centre may cost; a number"),
    ] = None
    currency: Annotated[str | None, About("its currency", form="currency", ask="Currency, three letters")] = None
    tax_included: Annotated[bool, About("whether tax is in it", ask="Is tax included? yes or no; empty = yes")] = True


@dataclass(frozen=True, slots=True)
class RoomRecord:
    """A surveyed room. Exactly one seat is primary."""

    name: Annotated[str, About("what you call the room", ask="Name of the room")]
    seats: tuple[Seat, ...]
    places: tuple[Place, ...]
    screen: Screen | None = None
    mains: MainsPosition = MainsPosition()
    amplifier: Amplifier | None = None
    listening: Listening = Listening()
    money: Money | None = None

    @property
    def primary(self) -> Seat:
        """The primary seat."""
        return next(seat for seat in self.seats if seat.primary)


@dataclass(frozen=True, slots=True)
class CurveRecord:
    """One measured response as its file gives it, frequencies rising. [Hz, dB, deg].

    `angle` is to the right or up; `smoothing` is n of 1/n octave where the file or the user states it.
    """

    kind: CurveKind
    frequency: tuple[float, ...]
    level: tuple[float, ...]
    source: str
    angle: float | None = None
    phase: tuple[float, ...] | None = None
    smoothing: int | None = None
    measured_on: date | None = None
    evidence: Evidence = Evidence.MEASURED
