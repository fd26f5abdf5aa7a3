"""The record of a surveyed room turned into the arrays that gates and criteria take."""

from __future__ import annotations

import shlex
from dataclasses import dataclass, replace
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from triptych.catalog.errors import BadInput
from triptych.catalog.files.rooms import picture_size
from triptych.catalog.records import Back, Place, RoomRecord
from triptych.recommender.advise.catalogue import STAND_MOUNT_HEIGHT, floats
from triptych.recommender.scene.aiming import NEAREST
from triptych.recommender.scene.arrays import (
    Boxes,
    Drive,
    FloatArray,
    Mains,
    Picture,
    PlaceFigures,
    Seats,
    Stands,
)
from triptych.recommender.scene.boundaries import mains_images
from triptych.recommender.scene.hearing import Voices, mains_downward, mains_sound
from triptych.recommender.scene.levels import sensitivity_range

LIKELY_EAR: Final = 1.0
"""Ear above the floor until somebody measures it [m]. Assumed; what rests on it is marked unknown."""

NO_PEAK_SPACING: Final = 2.5
"""Mains' spacing where the room doesn't say [m]. Assumed."""


FEET_OF_TOWERS: Final = 0.03
"""Feet or spikes under mains that a datasheet doesn't mention, at most [m]. Common practice, no source."""

USUAL_DEPTH: Final = 0.35
"""Depth of mains where no datasheet says [m]. Assumed."""


def refuse_placeless(room: RoomRecord) -> None:
    """Refuse a room in which a centre has nowhere to stand.

    Raises
    ------
    BadInput
        No place is described; says how one comes into its file, or into the stored room.
    """
    if not room.places:
        raise BadInput(
            f"{room.name} has no place for a centre: add at least one [[place]] to its file, or, if it is stored,"
            f" triptych room edit {shlex.quote(room.name)} --add place.shelf --set place.shelf.kind=top"
        )


@dataclass(frozen=True, slots=True)
class Setting:
    """A surveyed room, read into arrays."""

    room: RoomRecord
    seats: Seats
    places: tuple[PlaceFigures, ...]
    picture: Picture
    drive: Drive

    @classmethod
    def of(cls, room: RoomRecord) -> Self:
        """The setting of a room."""
        return cls(room, _seats(room), _places(room), _picture(room), _drive(room))

    @property
    def spacing(self) -> float:
        """The mains' spacing [m]."""
        stated = self.room.mains.spacing
        return NO_PEAK_SPACING if stated is None else stated

    def stands(self, boxes: Boxes) -> Stands:
        """Where mains stand: as surveyed, else with their backs at the wall, and a tower's axis at its own height."""
        position = self.room.mains
        own = np.where(boxes.height > STAND_MOUNT_HEIGHT, boxes.axis + np.nan_to_num(boxes.feet), np.nan)
        axis = own if position.axis_height is None else np.full(len(boxes), float(position.axis_height))
        at_wall = np.where(np.isnan(boxes.depth), USUAL_DEPTH, boxes.depth)
        return Stands(
            spacing=self.spacing,
            toe_in=position.toe_in or 0.0,
            from_wall=at_wall if position.from_wall is None else np.full(len(boxes), position.from_wall),
            axis_height=axis,
            axis_stated=~np.isnan(axis),
            front=boxes.narrower,
            feet=np.where(np.isnan(boxes.feet) & (position.axis_height is None), FEET_OF_TOWERS, 0.0),
            wall_stated=position.from_wall is not None,
            floor=position.floor.value if position.floor else "unknown",
        )

    def mains(
        self, boxes: Boxes, voices: Voices, price: FloatArray, currency: NDArray[np.int16], surround: float
    ) -> Mains:
        """Mains as they stand and sound in this room, at a price of one each, beside surrounds at another."""
        stands = self.stands(boxes)
        low, likely, high = sensitivity_range(boxes)
        told = np.where(np.isnan(boxes.sensitivity), np.nan, likely)
        free = mains_sound(voices, stands, self.seats)
        images = mains_images(stands, self.seats, mains_downward(voices, stands, self.seats))
        sound, beside = replace(free, room=images.around(free.room)), np.full(len(boxes), surround)
        return Mains(stands, sound, low, told, high, price, currency, beside)

    def refuse_behind(self, mains: Boxes) -> None:
        """Refuse a room whose primary seat isn't in front of the mains and of every place.

        Raises
        ------
        BadInput
            Both distances are told.
        """
        room = self.room
        fronts = {
            "the mains' baffles": float(self.stands(mains).from_wall[0]),
            **{place.name: _foremost(place) for place in room.places},
        }
        for name, front in fronts.items():
            if front is not None and room.primary.distance < front + NEAREST:
                raise BadInput(
                    f"{room.name}: the seat {room.primary.name!r} is {room.primary.distance * 1e3:.0f} mm from the "
                    f"front wall, and {name} {front * 1e3:.0f} mm: measure both from the front wall"
                )


def _foremost(place: Place) -> float | None:
    """How far from the front wall a place reaches, or a baffle that stands out before its edge [m]."""
    return None if place.front is None else place.front + max(0.0, -(place.setback or 0.0))


def _seats(room: RoomRecord) -> Seats:
    """The seats of a room; an ear nobody measured is taken to be as high as the primary one, or at a likely height."""
    primary = next(index for index, seat in enumerate(room.seats) if seat.primary)
    usual = room.seats[primary].ear_height or LIKELY_EAR
    return Seats(
        name=tuple(seat.name for seat in room.seats),
        x=floats([seat.x for seat in room.seats]),
        distance=floats([seat.distance for seat in room.seats]),
        ear_height=floats([usual if seat.ear_height is None else seat.ear_height for seat in room.seats]),
        ear_stated=np.array([seat.ear_height is not None for seat in room.seats], dtype=np.bool_),
        regular=np.array([seat.regular or seat.primary for seat in room.seats], dtype=np.bool_),
        primary=primary,
    )


def _known(value: float | None) -> float:
    return np.nan if value is None else float(value)


def _places(room: RoomRecord) -> tuple[PlaceFigures, ...]:
    """The places of a room. Whether a bay or a shelf of which nobody says so has a back is unknown."""
    return tuple(
        PlaceFigures(
            name=place.name,
            kind=place.kind.value,
            width=_known(place.width),
            height=_known(place.height),
            depth=_known(place.depth),
            base=_known(place.base),
            front=_known(place.front),
            back=_back(place.kind.value, place.back),
            load=_known(place.load),
            hot=place.hot.value,
            wall=place.wall.value if place.wall else "",
            gap=_known(place.gap),
            setback=place.setback or 0.0,
            tilt_limit=_known(place.tilt_limit),
        )
        for place in room.places
    )


def _back(kind: str, back: Back | None) -> str:
    if back is not None:
        return back.value
    return "unknown" if kind in ("cavity", "open_shelf") else "open"


def _picture(room: RoomRecord) -> Picture:
    """The picture's edges; sizes that aren't stated come from the others and the aspect."""
    screen = room.screen
    if screen is None:
        return Picture(False, np.nan, np.nan, np.nan, transparent=False)
    width, height = picture_size(screen)
    bottom = _known(screen.bottom)
    return Picture(True, bottom, bottom + _known(height), _known(width), screen.transparent)


def _drive(room: RoomRecord) -> Drive:
    """The amplifier and the target."""
    amplifier, listening = room.amplifier, room.listening
    return Drive(
        power=_known(amplifier.power) if amplifier else np.nan,
        into=_known(amplifier.into) if amplifier else np.nan,
        lowest_load=_known(amplifier.lowest_load) if amplifier else np.nan,
        trim_range=_known(amplifier.trim_range) if amplifier else np.nan,
        target_peak=_known(listening.target_peak),
        room_gain=_known(listening.room_gain),
    )
