"""What stands in the drawings, as plain numbers: the picture, a place, a box. Lengths in m, angles in deg."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin
from typing import Final

BOARD: Final = 0.018
"""Thickness at which a board of the furniture is drawn; nobody surveys it [m]."""


@dataclass(frozen=True, slots=True)
class DrawnPicture:
    """The picture.

    Parameters
    ----------
    bottom, width, height : float
        `scene.Picture.bottom`, `.width` and `.top - .bottom`, or `RoomRecord.screen` through `picture_size`. [m]
    transparent : bool
        `RoomRecord.screen.transparent`.
    """

    bottom: float
    width: float
    height: float
    transparent: bool = False


@dataclass(frozen=True, slots=True)
class Opening:
    """A place for a centre; None where it sets no limit or the figure is not known.

    Parameters
    ----------
    name, kind : str
        `scene.Place.name` (= `Standing.place`) and `scene.Place.kind`.
    base : float
        `scene.Place.base`. [m]
    width, height, depth : float or None
        `scene.Place.width`, `.height`, `.depth`. [m]
    closed : bool
        `scene.Place.back == "closed"`.
    """

    name: str
    kind: str
    base: float
    width: float | None = None
    height: float | None = None
    depth: float | None = None
    closed: bool = False

    @property
    def framed(self) -> bool:
        """Whether boards stand around it."""
        return self.kind == "cavity"


@dataclass(frozen=True, slots=True)
class Cabinet:
    """A box in the pose it stands in.

    Parameters
    ----------
    width, height, depth : float
        `Boxes.width`, `.height`, `.depth` in the pose shown, without feet. [m]
    feet : float
        `Boxes.feet`, 0 where unknown. [m]
    axis : float or None
        `Boxes.axis`: acoustic axis above the base of the box, feet not counted; None where unknown. [m]
    """

    width: float
    height: float
    depth: float
    feet: float = 0.0
    axis: float | None = None

    @property
    def stood(self) -> float:
        """Height on its feet [m]."""
        return self.height + self.feet


@dataclass(frozen=True, slots=True)
class DrawnDriver:
    """A driver on the centre's front.

    Parameters
    ----------
    x, up : float
        From the middle of the front, to the right as the listeners see it, and up. [m]
    size : float
        Diameter. [m]
    tweeter : bool
        Whether it is one.
    """

    x: float
    up: float
    size: float
    tweeter: bool = False


@dataclass(frozen=True, slots=True)
class Tilted:
    """A box turned about the edge that stays down, foremost point at 0, floor of the place at 0. [m].

    Positive tilts look up: the rear bottom edge stays down and the front is lifted.
    """

    cabinet: Cabinet
    tilt: float

    def point(self, back: float, up: float) -> tuple[float, float]:
        """Where a point of the upright box comes to lie, `back` behind its front and `up` above its feet.

        Returns
        -------
        tuple of float
            How far in front of the foremost point of the box (negative: behind it), and how high. [m]
        """
        turn = radians(self.tilt)
        depth, height = self.cabinet.depth, self.cabinet.stood
        if self.tilt >= 0:
            ahead, high = depth - back, up
            foremost, along = depth * cos(turn), ahead * cos(turn) - high * sin(turn)
            return along - foremost, ahead * sin(turn) + high * cos(turn)
        along = -back * cos(turn) - up * sin(turn)
        return along + height * sin(turn), -back * sin(turn) + up * cos(turn)

    @property
    def corners(self) -> list[tuple[float, float]]:
        """Front bottom, front top, rear top, rear bottom."""
        depth, height = self.cabinet.depth, self.cabinet.stood
        return [self.point(0, 0), self.point(0, height), self.point(depth, height), self.point(depth, 0)]

    @property
    def height(self) -> float:
        """Of the upright rectangle around it [m]."""
        return max(up for _, up in self.corners)

    @property
    def depth(self) -> float:
        """Of the upright rectangle around it [m]."""
        return -min(ahead for ahead, _ in self.corners)

    @property
    def lift(self) -> float:
        """How far the edge that is lifted comes up [m]."""
        return self.cabinet.depth * sin(radians(abs(self.tilt)))

    @property
    def axis(self) -> tuple[float, float] | None:
        """Where the acoustic axis leaves the front, or None where it is not known."""
        known = self.cabinet.axis
        return None if known is None else self.point(0, self.cabinet.feet + known)
