"""Plain records of loudspeakers and rooms, as they come from files and go to them. SI units; unknown is None."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import Enum
from types import MappingProxyType


class Role(Enum):
    """What a loudspeaker is offered for."""

    MAIN = "main"
    CENTRE = "centre"
    SURROUND = "surround"
    HEIGHT = "height"
    SUB = "sub"


class Orientation(Enum):
    """The pose that width, height and axis height describe."""

    UPRIGHT = "upright"
    LYING = "lying"


class Enclosure(Enum):
    """How the rear of the bass drivers is loaded."""

    SEALED = "sealed"
    PORTED = "ported"
    PASSIVE_RADIATOR = "passive_radiator"
    TRANSMISSION_LINE = "transmission_line"
    OPEN_BACK = "open_back"


class PortLocation(Enum):
    """The face of the box that a port or a passive radiator is on."""

    FRONT = "front"
    REAR = "rear"
    SIDE = "side"
    TOP = "top"
    BOTTOM = "bottom"
    NONE = "none"


class SensitivityBasis(Enum):
    """The field in which a sensitivity was stated."""

    ANECHOIC = "anechoic"
    IN_ROOM = "in_room"
    HALF_SPACE = "half_space"
    UNKNOWN = "unknown"


class TweeterType(Enum):
    """How a tweeter is loaded; its material is another matter."""

    DOME = "dome"
    WAVEGUIDE_DOME = "waveguide_dome"
    HORN = "horn"
    RIBBON = "ribbon"
    FOLDED_RIBBON = "folded_ribbon"
    RING = "ring"
    CONE = "cone"


class PricePer(Enum):
    """What a price buys."""

    EACH = "each"
    PAIR = "pair"


class Tax(Enum):
    """Whether tax is in a price."""

    INCLUDED = "included"
    EXCLUDED = "excluded"


class SoldAs(Enum):
    """The smallest quantity a dealer sells."""

    SINGLE = "single"
    PAIR = "pair"
    EITHER = "either"


class Status(Enum):
    """Where a model stands in its life."""

    CURRENT = "current"
    LAST_OF_LINE = "last_of_line"
    DISCONTINUED = "discontinued"


class Evidence(Enum):
    """Where a number comes from."""

    MEASURED = "measured"
    STATED = "stated"
    MODELLED = "modelled"
    ASSUMED = "assumed"


@dataclass(frozen=True, slots=True)
class Figure:
    """The provenance of one stated figure."""

    raw: str
    source: str
    evidence: Evidence = Evidence.STATED
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LoudspeakerRecord:
    """One generic loudspeaker; fields are named as the columns of the exchange format. [m, kg, dB, Hz, ohm, W, deg]."""

    maker: str
    model: str
    series: str | None = None
    family: str | None = None
    roles: frozenset[Role] = frozenset()
    orientation: Orientation | None = None
    width: float | None = None
    height: float | None = None
    depth: float | None = None
    feet: float | None = None
    rear_allowance: float | None = None
    weight: float | None = None
    enclosure: Enclosure | None = None
    port_location: PortLocation | None = None
    port_diameter: float | None = None
    bung: bool | None = None
    sensitivity: float | None = None
    sensitivity_basis: SensitivityBasis | None = None
    impedance_nominal: float | None = None
    impedance_minimum: float | None = None
    low_limit: float | None = None
    low_limit_drop: float | None = None
    high_limit: float | None = None
    tweeter_type: TweeterType | None = None
    tweeter_size: float | None = None
    tweeter_material: str | None = None
    tweeter_coverage: tuple[float, float] | None = None
    axis_height: float | None = None
    midrange_size: float | None = None
    midrange_count: int | None = None
    woofer_size: float | None = None
    woofer_count: int | None = None
    layout: str | None = None
    woofer_spacing: float | None = None
    crossover: tuple[float, ...] | None = None
    crossover_order: int | None = None
    amplifier_min: float | None = None
    amplifier_max: float | None = None
    power_handling: float | None = None
    price: Decimal | None = None
    currency: str | None = None
    price_per: PricePer | None = None
    tax: Tax | None = None
    tax_rate: float | None = None
    sold_as: SoldAs | None = None
    status: Status | None = None
    note: str | None = None
    figures: Mapping[str, Figure] = field(default_factory=lambda: MappingProxyType({}), compare=False)

    @property
    def name(self) -> str:
        """The name that people use: maker, series, model."""
        return " ".join(part for part in (self.maker, self.series, self.model) if part)


class PlaceKind(Enum):
    """Somewhere a centre could stand."""

    CAVITY = "cavity"
    OPEN_SHELF = "open_shelf"
    TOP = "top"
    STAND = "stand"
    WALL = "wall"
    BEHIND_SCREEN = "behind_screen"


class Back(Enum):
    """Whether a piece of furniture has a back panel."""

    CLOSED = "closed"
    OPEN = "open"


class Hot(Enum):
    """Whether a place gets hot: above a fire, beside a stove."""

    NO = "no"
    YES = "yes"
    UNKNOWN = "unknown"


class WallKind(Enum):
    """What the wall behind a mount is made of."""

    MASONRY = "masonry"
    STUD = "stud"
    PLASTERBOARD = "plasterboard"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Screen:
    """The picture [m]; `diagonal` and `aspect` give its width and height where they are not stated."""

    width: float | None = None
    height: float | None = None
    diagonal: float | None = None
    aspect: str | None = None
    bottom: float | None = None
    transparent: bool = False


@dataclass(frozen=True, slots=True)
class MainsPosition:
    """How the mains stand. [m, deg]."""

    speaker: str | None = None
    spacing: float | None = None
    from_wall: float | None = None
    toe_in: float | None = None
    axis_height: float | None = None


@dataclass(frozen=True, slots=True)
class Seat:
    """A listening position: x to the right, distance from the front wall. [m]."""

    name: str
    distance: float
    x: float = 0.0
    ear_height: float | None = None
    primary: bool = False
    regular: bool = True


@dataclass(frozen=True, slots=True)
class Place:
    """Somewhere a centre could stand, as surveyed. [m, kg]."""

    name: str
    kind: PlaceKind
    width: float | None = None
    height: float | None = None
    depth: float | None = None
    base: float | None = None
    front: float | None = None
    back: Back | None = None
    load: float | None = None
    hot: Hot = Hot.NO
    wall: WallKind | None = None
    gap: float | None = None
    setback: float | None = None


@dataclass(frozen=True, slots=True)
class Amplifier:
    """What drives the front three. [W, ohm, dB]."""

    power: float | None = None
    into: float | None = None
    lowest_load: float | None = None
    trim_range: float | None = None


@dataclass(frozen=True, slots=True)
class Listening:
    """What the listeners ask for. [dB]."""

    target_peak: float | None = None
    room_gain: float | None = None
    needs_real_centre: bool = False


@dataclass(frozen=True, slots=True)
class Money:
    """What the centre may cost."""

    centre: Decimal | None = None
    currency: str | None = None
    tax_included: bool = True


@dataclass(frozen=True, slots=True)
class RoomRecord:
    """A surveyed room. Exactly one seat is primary."""

    name: str
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


class CurveKind(Enum):
    """Where a response curve was taken; those of an orbit have an angle."""

    ON_AXIS = "on_axis"
    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"
    LISTENING_WINDOW = "listening_window"
    IN_ROOM = "in_room"

    @property
    def orbit(self) -> bool:
        """Whether a curve of this kind has an angle."""
        return self in (CurveKind.HORIZONTAL, CurveKind.VERTICAL)


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
