"""What a question is made of, as arrays: boxes, a place, the seats and the chain that drives them.

SI units and degrees; NaN is unknown. This module knows no database: `recommender.advise` fills it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Self

import numpy as np
from numpy.typing import NDArray

from triptych.recommender.physics.description import short_side
from triptych.recommender.physics.kernel import Single
from triptych.recommender.scene.structures import Arrays

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
CodeArray = NDArray[np.int8]
IndexArray = NDArray[np.intp]
CountArray = NDArray[np.int64]


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


class SensitivityCode(IntEnum):
    """The field a sensitivity was stated in; `TAKEN` for an anechoic one by contract, as nobody said."""

    UNKNOWN = -1
    ANECHOIC = 0
    HALF_SPACE = 1
    IN_ROOM = 2
    TAKEN = 3


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
class Boxes(Arrays):
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
    bung_unknown: BoolArray
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

    @property
    def narrower(self) -> FloatArray:
        """The narrower side of each front [m]; NaN where it isn't known."""
        return short_side(self.width, self.height, self.lying)

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

    def only(self, seat: int) -> Seats:
        """One of them alone, as if nobody sat elsewhere."""
        here = slice(seat, seat + 1)
        places = self.x[here], self.distance[here], self.ear_height[here], self.ear_stated[here]
        return Seats(self.name[here], *places, np.ones(1, dtype=np.bool_), 0)

    @property
    def judged(self) -> IndexArray:
        """The regular seats, the primary one first."""
        others = self.regular.copy()
        others[self.primary] = False
        return np.concatenate([[self.primary], np.flatnonzero(others)]).astype(np.intp)


@dataclass(frozen=True, slots=True)
class PlaceFigures:
    """One place for a centre; NaN where a figure is not known or the place sets no limit. [m, kg, deg]."""

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
    tilt_limit: float = np.nan

    @property
    def closed_bay(self) -> bool:
        """Whether air behind a box here has no way out but past the box."""
        return self.kind == "cavity" and self.back == "closed"

    @property
    def maybe_backed(self) -> bool:
        """Whether this is a shelf that may have a back, as nobody said."""
        return self.kind == "open_shelf" and self.back == "unknown"

    @property
    def unplaced(self) -> bool:
        """Whether nobody said how far it is from the wall, which is what is behind a box here."""
        furniture = self.kind in ("cavity", "open_shelf", "top", "stand")
        return furniture and self.back != "closed" and bool(np.isnan(self.front))


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

    @property
    def untold(self) -> tuple[str, ...]:
        """What is missing for the level to be judged, in words with the room's keys."""
        told = {
            "the amplifier's power ([amplifier] power)": self.power,
            "the load its power is stated for ([amplifier] into)": self.into,
            "the level wanted at the farthest seat ([listening] target_peak)": self.target_peak,
        }
        return tuple(words for words, value in told.items() if np.isnan(value))


@dataclass(frozen=True, slots=True)
class Purse:
    """What the centre may cost; NaN without a cap. `currency` is the number of the cap's, -1 if none is named."""

    cap: float
    currency: int
    tax_included: bool
    tax_rate: float


@dataclass(frozen=True, slots=True)
class Kin(Arrays):
    """Who made N loudspeakers, as codes that compare; a family of -1 is none. `loading` is that of the tweeter."""

    model: CountArray
    family: CountArray
    maker: CountArray
    loading: CodeArray


@dataclass(frozen=True, slots=True)
class InRoom(Arrays):
    """What the regular seats hear of N loudspeakers, the primary seat first, over each of some floors, or one.

    `direct` is the direct sound with its images in floor and wall [N, F, S, B], `power` the sound power so near to both
    [N, F, B], as levels [dB]. `unknown` is how far that may be off because the room or a datasheet doesn't say where
    something stands, `spread` because two loudspeakers of the same description are not the same, `unsaid` because a
    datasheet leaves drivers out that are then taken as usual [dB rms]. `least_left` and `most_left` are what any one
    thing left out leaves of the square of a difference [1].
    """

    direct: Single
    power: Single
    unknown: FloatArray
    spread: FloatArray
    unsaid: FloatArray
    least_left: FloatArray
    most_left: FloatArray


@dataclass(frozen=True, slots=True)
class Sound(Arrays):
    """What the primary seat hears of N loudspeakers, and what that rests on.

    `direct` and `power` are the direct sound and the sound power in bands [dB], NaN where a measured curve ends;
    `stated` is the share of the model's inputs that a datasheet gave. `measured` and `whole` say of which the direct
    sound, and the sound power too, were measured; `aside` of which the direct sound takes no model off the axis. `room`
    is what all regular seats hear, with what the room adds where that is known.
    """

    direct: Single
    power: Single
    kin: Kin
    stated: FloatArray
    usable: BoolArray
    measured: BoolArray
    whole: BoolArray
    aside: BoolArray
    room: InRoom


@dataclass(frozen=True, slots=True)
class Stands(Arrays):
    """Where M pairs of mains stand in one room, which says how far apart and how far turned in. [m, deg].

    `front` is the narrower side of each; `feet` is by how much higher an axis may be as nobody stated the feet under
    it; `wall_stated` says whether the room told how far they are from the wall, and `floor` what covers the floor
    before all three.
    """

    spacing: float
    toe_in: float
    from_wall: FloatArray
    axis_height: FloatArray
    axis_stated: BoolArray
    front: FloatArray
    feet: FloatArray
    wall_stated: bool
    floor: str = "unknown"


@dataclass(frozen=True, slots=True)
class Mains(Arrays):
    """M pairs of left and right loudspeakers that a centre may stand between. [dB]; price of one.

    `sensitivity` is NaN where it isn't stated, its low and high then are what is plausible. `currency` is the number of
    the price's, -1 if none is named. `surround` is what one surround beside them costs, in that currency; NaN where
    nobody said.
    """

    stands: Stands
    sound: Sound
    sensitivity_low: FloatArray
    sensitivity: FloatArray
    sensitivity_high: FloatArray
    price: FloatArray
    currency: NDArray[np.int16]
    surround: FloatArray

    def __len__(self) -> int:
        """How many pairs there are."""
        return len(self.price)
