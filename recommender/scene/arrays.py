"""What a question is made of, as arrays: boxes, a place, the seats and the chain that drives them.

SI units and degrees; NaN is unknown. This module knows no database: `recommender.advise` fills it.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from enum import IntEnum
from typing import Self

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
CodeArray = NDArray[np.int8]
IndexArray = NDArray[np.intp]


class Port(IntEnum):
    """Where a box breathes: `NONE` for a sealed box, `UNKNOWN` for one that breathes somewhere or may."""

    UNKNOWN = -1
    NONE = 0
    FRONT = 1
    REAR = 2
    SIDE = 3
    TOP = 4
    BOTTOM = 5


class Loading(IntEnum):
    """Tweeters that load the air alike."""

    UNKNOWN = -1
    DOME = 0
    WAVEGUIDE = 1
    HORN = 2
    RIBBON = 3


class Basis(IntEnum):
    """The field a sensitivity was stated in."""

    UNKNOWN = -1
    ANECHOIC = 0
    HALF_SPACE = 1
    IN_ROOM = 2


class Sold(IntEnum):
    """How a dealer sells a model."""

    UNKNOWN = -1
    SINGLE = 0
    PAIR = 1


class Life(IntEnum):
    """Where a model stands in its life."""

    CURRENT = 0
    LAST_OF_LINE = 1
    DISCONTINUED = 2


@dataclass(frozen=True, slots=True)
class Boxes:
    """N loudspeakers in one pose; every field is an array of length N. [m, kg, dB, ohm, W, Hz]."""

    width: FloatArray
    height: FloatArray
    depth: FloatArray
    feet: FloatArray
    rear_allowance: FloatArray
    weight: FloatArray
    axis: FloatArray
    axis_stated: BoolArray
    lying: BoolArray
    port: CodeArray
    port_diameter: FloatArray
    radiator: BoolArray
    bung: BoolArray
    sensitivity: FloatArray
    basis: CodeArray
    impedance_nominal: FloatArray
    impedance_minimum: FloatArray
    power_handling: FloatArray
    low_limit: FloatArray
    low_limit_drop: FloatArray
    price: FloatArray
    price_taxed: CodeArray
    tax_rate: FloatArray
    currency: NDArray[np.int16]
    sold: CodeArray
    usually_pairs: BoolArray
    life: CodeArray
    available: FloatArray

    def __len__(self) -> int:
        """The number of boxes."""
        return len(self.width)

    def take(self, index: IndexArray | BoolArray) -> Self:
        """The boxes at `index`, in that order."""
        return type(self)(**{entry.name: getattr(self, entry.name)[index] for entry in fields(self)})

    def on_side(self) -> Self:
        """The same boxes turned on their side: width and height change places, and so do the faces.

        Across the box the axis is taken to be in the middle, because no datasheet says otherwise.
        """
        return replace(
            self,
            width=self.height,
            height=self.width,
            axis=self.width / 2,
            axis_stated=np.zeros(len(self), dtype=np.bool_),
            lying=~self.lying,
            port=TURNED_PORT[self.port.astype(np.intp) + 1],
            feet=np.zeros(len(self)),
        )


TURNED_PORT: CodeArray = np.array(
    [Port.UNKNOWN, Port.NONE, Port.FRONT, Port.REAR, Port.TOP, Port.SIDE, Port.SIDE], dtype=np.int8
)


@dataclass(frozen=True, slots=True)
class Seats:
    """The listening positions [m]; an ear nobody measured is at a likely height, and `ear_stated` is False."""

    name: tuple[str, ...]
    x: FloatArray
    distance: FloatArray
    ear_height: FloatArray
    ear_stated: BoolArray
    regular: BoolArray
    primary: int


@dataclass(frozen=True, slots=True)
class Site:
    """One place for a centre; NaN where a figure is not known or the place sets no limit. [m, kg]."""

    name: str
    kind: str
    width: float
    height: float
    depth: float
    base: float
    front: float
    back: str
    load: float
    hot: str
    wall: str
    gap: float
    setback: float

    @property
    def closed_bay(self) -> bool:
        """Whether air behind a box here has no way out but past the box."""
        return self.kind == "cavity" and self.back == "closed"


@dataclass(frozen=True, slots=True)
class Picture:
    """The picture's edges above the floor, its width [m], and whether sound passes; `stated` if there is a picture."""

    stated: bool
    bottom: float
    top: float
    width: float
    transparent: bool


@dataclass(frozen=True, slots=True)
class Drive:
    """The amplifier and what is asked of it. [W, ohm, dB]."""

    power: float
    into: float
    lowest_load: float
    trim_range: float
    target_peak: float
    room_gain: float


@dataclass(frozen=True, slots=True)
class Purse:
    """What the centre may cost; NaN without a cap. `currency` is the number of the cap's, -1 if none is named."""

    cap: float
    currency: int
    tax_included: bool
    tax_rate: float


@dataclass(frozen=True, slots=True)
class Mains:
    """The chosen left and right loudspeakers, as they stand. [m, deg, dB, Hz]; price of one."""

    name: str
    spacing: float
    from_wall: float
    toe_in: float
    axis_height: float
    axis_stated: bool
    sensitivity: float
    sensitivity_range: tuple[float, float]
    price: float
    loading: int
