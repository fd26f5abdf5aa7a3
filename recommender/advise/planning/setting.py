"""Where each role stands in the room: distances and angles to the seats. What a survey does not say is supposed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from triptych.catalog.records import RoomRecord
from triptych.recommender.advise import gather
from triptych.recommender.physics import geometry
from triptych.recommender.scene.arrays import Boxes, Drive, FloatArray, Picture, Place, Seats
from triptych.recommender.scene.hearing import WIDEST

AROUND: Final = ("surrounds", "wides", "heights")

LEVEL_BELOW_FRONT: Final = 3.0
"""How far the peaks of one loudspeaker around the listener may stay below those of the front [dB]. Cinema practice:
surrounds are set to 82 dB(C) where the front has 85 (SMPTE RP 200, from memory)."""

LOW_EFFECTS_ABOVE: Final = 10.0
"""How far low effects go above the front's peaks [dB]. In-band gain of the low-effects channel, ITU-R BS.775."""

NO_ROOM_ANGLE: Final = 30.0
"""The seats' angle from the axis where no room is given [deg]. The listening window of ANSI/CTA-2034-A."""

UNKNOWN_DRIVE: Final = Drive(np.nan, np.nan, np.nan, np.nan, np.nan, 0.0)


@dataclass(frozen=True, slots=True)
class Setting:
    """A surveyed room as far as the plan needs it; `seats` is None without one."""

    room: RoomRecord | None
    seats: Seats | None
    places: tuple[Place, ...]
    picture: Picture
    drive: Drive

    @classmethod
    def of(cls, room: RoomRecord | None) -> Setting:
        """The setting of a room, or of none."""
        if room is None:
            return cls(None, None, (), Picture(False, np.nan, np.nan, np.nan, transparent=False), UNKNOWN_DRIVE)
        return cls(room, gather.seats(room), tuple(gather.places(room)), gather.picture(room), gather.drive(room))

    @property
    def spacing(self) -> float:
        """The mains' spacing [m]."""
        stated = self.room.mains.spacing if self.room else None
        return gather.NO_PEAK_SPACING if stated is None else stated

    @property
    def toe_in(self) -> float:
        """The mains' toe-in [deg]."""
        return (self.room.mains.toe_in if self.room else None) or 0.0

    def from_wall(self, boxes: Boxes) -> FloatArray:
        """From the front wall to each main's baffle [m]: as surveyed, else with its back at the wall."""
        stated = self.room.mains.from_wall if self.room else None
        return np.full(len(boxes), stated) if stated is not None else boxes.depth.copy()

    def axis_height(self, boxes: Boxes) -> FloatArray:
        """The height of each main's axis [m]: as surveyed, else a tower's own; NaN for what stands on something."""
        stated = self.room.mains.axis_height if self.room else None
        own = boxes.axis + np.nan_to_num(boxes.feet)
        if stated is not None:
            return np.full(len(boxes), float(stated))
        return np.where(boxes.height > gather.STAND_MOUNT_HEIGHT, own, np.nan)


def mains_distances(setting: Setting, seats: Seats, boxes: Boxes) -> FloatArray:
    """From the left and the right of each mains to every ear [m], mains x seats x 2; an unknown height is left out."""
    across = seats.x[:, None] + np.array([0.5, -0.5]) * setting.spacing
    along = seats.distance[None, :] - setting.from_wall(boxes)[:, None]
    rise = np.nan_to_num(setting.axis_height(boxes)[:, None] - seats.ear_height[None, :])
    return np.asarray(np.sqrt(across[None] ** 2 + (along**2 + rise**2)[:, :, None]))


def mains_angles(setting: Setting, seats: Seats, seat: int, boxes: Boxes) -> FloatArray:
    """The angle of a seat from the axis of the left and the right of each mains [deg], mains x 2."""
    position = np.array([-0.5, 0.5]) * setting.spacing
    along = seats.distance[seat] - setting.from_wall(boxes)
    bearing = geometry.azimuth(seats.x[seat] - position[None, :], along[:, None])
    return np.clip(bearing - np.array([1.0, -1.0]) * setting.toe_in, -WIDEST, WIDEST)


def farthest(setting: Setting, role: str, boxes: Boxes) -> FloatArray:
    """From a role's loudspeakers to the farthest regular ear [m].

    What stands around the listener is taken to be as far from the primary seat as the mains are, all on one circle
    (ITU-R BS.775), and on the far side of the farthest regular seat.
    """
    seats = setting.seats
    if seats is None:
        return np.full(len(boxes), np.nan)
    if role == "mains":
        return np.asarray(mains_distances(setting, seats, boxes)[:, seats.regular].max(axis=(1, 2)))
    return np.full(len(boxes), _radius(setting, seats) + _spread(seats))


def _radius(setting: Setting, seats: Seats) -> float:
    """From the primary seat to the circle on which all loudspeakers stand [m]."""
    stated = setting.room.mains.from_wall if setting.room else None
    along = seats.distance[seats.primary] - (stated or 0.0)
    return float(np.hypot(setting.spacing / 2, max(along, 0.5)))


def _spread(seats: Seats) -> float:
    """From the primary seat to the regular seat farthest from it [m]."""
    apart = np.hypot(seats.x - seats.x[seats.primary], seats.distance - seats.distance[seats.primary])
    return float(apart[seats.regular].max())


def seat_angles(setting: Setting, role: str, boxes: Boxes) -> FloatArray:
    """The angles from a role's axis within which the regular seats lie [deg], one list for all of the role."""
    seats = setting.seats
    if seats is None:
        return np.array([-NO_ROOM_ANGLE, NO_ROOM_ANGLE])
    if role == "mains":
        middle = boxes.take(np.argsort(np.nan_to_num(setting.from_wall(boxes)))[[len(boxes) // 2]])
        told = [mains_angles(setting, seats, seat, middle)[0] for seat in np.flatnonzero(seats.regular).tolist()]
        return np.unique(np.concatenate(told).round(6))
    half = np.degrees(np.arctan2(_spread(seats), _radius(setting, seats)))
    return np.unique(np.clip([-half, half], -WIDEST, WIDEST))
