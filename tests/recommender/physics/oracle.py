"""What the contract promises of a seat, worked out again from the contract alone: 3-D points and rotation matrices.

Nothing here comes from the product. Drivers are points on the baffle with their own pistons, the box is turned by
matrices about its rear or front bottom edge, every way is the length of a vector, bands are summed on a fine grid.
Lengths in m, angles in deg, levels in dB.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import scipy
from numpy.typing import NDArray

C = 343.2
Vector = NDArray[np.float64]


@dataclass(frozen=True)
class Driver:
    """A cone or dome: where on the front, from its middle to the right and above the base, and what it plays."""

    right: float
    above: float
    radius: float
    low: float | None
    high: float | None
    share: float = 1.0


@dataclass(frozen=True)
class Box:
    """A box with its drivers; `axis` above what it stands on."""

    height: float
    depth: float
    axis: float
    drivers: tuple[Driver, ...]
    order: int = 4


def about_x(angle: float) -> Vector:
    """The matrix that raises what is ahead (y, toward the listeners) by an angle."""
    turn = np.radians(angle)
    return np.array([[1, 0, 0], [0, np.cos(turn), -np.sin(turn)], [0, np.sin(turn), np.cos(turn)]])


def about_z(angle: float) -> Vector:
    """The matrix that turns what is ahead to the right, as the listener sees it."""
    turn = np.radians(angle)
    return np.array([[np.cos(turn), np.sin(turn), 0], [-np.sin(turn), np.cos(turn), 0], [0, 0, 1]])


@dataclass(frozen=True)
class Stood:
    """A box where it stands: a point of its own frame (right, out of the front, above its base) to one of the room."""

    box: Box
    matrix: Vector
    shift: Vector = field(default_factory=lambda: np.zeros(3))

    def at(self, right: float, out: float, above: float) -> Vector:
        return np.asarray(self.matrix @ np.array([right, out, above]) + self.shift)

    @property
    def axis(self) -> Vector:
        return self.at(0.0, 0.0, self.box.axis)


def stand(box: Box, front: float, floor: float, tilt: float) -> Stood:
    """Tilt a box whose lowest corner stays on the floor and whose foremost corner stays where its front was."""
    matrix = about_x(tilt)
    corners = [(0.0, -deep, up) for deep in (0.0, box.depth) for up in (0.0, box.height)]
    turned = np.array([matrix @ np.array(corner) for corner in corners])
    return Stood(box, matrix, np.array([0.0, front - turned[:, 1].max(), floor - turned[:, 2].min()]))


def aimed(box: Box, front: float, floor: float, ear: Vector) -> float:
    """The tilt at which the axis of the box as it then stands rises to the ear, by halving an interval."""
    low, high = -80.0, 80.0
    for _ in range(60):
        tilt = (low + high) / 2
        to_ear = ear - stand(box, front, floor, tilt).axis
        rises = np.degrees(np.arctan2(to_ear[2], np.hypot(to_ear[0], to_ear[1])))
        low, high = (tilt, high) if rises > tilt else (low, tilt)
    return low


def pressure(stood: Stood, point: Vector, frequency: Vector) -> NDArray[np.complex128]:
    """Pressure times distance, of drivers that sum to one on the axis far away."""
    box, axis = stood.box, stood.axis
    distance = np.linalg.norm(point - axis)
    out = stood.matrix @ np.array([0.0, 1.0, 0.0])
    weights = np.array([driver.share * crossover(driver, frequency, box.order) for driver in box.drivers])
    weights = weights / weights.sum(axis=0)
    total = np.zeros(frequency.size, dtype=complex)
    for driver, weight in zip(box.drivers, weights, strict=True):
        way = point - stood.at(driver.right, 0.0, driver.above)
        length = np.linalg.norm(way)
        sine = np.sqrt(max(0.0, 1.0 - (way @ out / length) ** 2))
        x = 2 * np.pi * frequency / C * driver.radius * sine
        piston = np.where(x > 1e-6, 2 * scipy.special.j1(x) / np.maximum(x, 1e-6), 1.0)
        total += weight * piston * distance / length * np.exp(-2j * np.pi * frequency / C * (length - distance))
    return total


def crossover(driver: Driver, frequency: Vector, order: int) -> NDArray[np.float64]:
    """A Linkwitz–Riley low-pass and high-pass of an even order; both are in phase."""
    low = 1.0 if driver.low is None else 1 - 1 / (1 + (frequency / driver.low) ** order)
    high = 1.0 if driver.high is None else 1 / (1 + (frequency / driver.high) ** order)
    return np.asarray(low * high * np.ones(frequency.size))


def bands() -> tuple[Vector, Vector]:
    """Centres of the ear's bands from 200 Hz, one bandwidth apart, and 200 frequencies within each."""

    def frequency(number: Vector) -> Vector:
        return np.asarray((10 ** (number / 21.4) - 1) / 0.00437)

    first = 21.4 * np.log10(1 + 0.00437 * 200.0)
    numbers = first + np.arange(28.0)
    inside = (np.arange(200) + 0.5) / 200 - 0.5
    return frequency(numbers), frequency(numbers[:, None] + inside)


def band_levels(stood: Stood, point: Vector) -> Vector:
    """Levels in the ear's bands re the axis far away."""
    _, inside = bands()
    power = np.abs(pressure(stood, point, inside.ravel())) ** 2
    return np.asarray(10 * np.log10(power.reshape(inside.shape).mean(axis=1)))


def coverage(levels: Vector) -> float:
    """Half of the rms and half of the deepest dip up to 6 kHz."""
    judged = levels[bands()[0] <= 6000.0]
    return float((np.sqrt(np.mean(judged**2)) + abs(judged.min())) / 2)


def null(stood: Stood, first: Driver, second: Driver, point: Vector) -> float:
    """Where both ways differ by half a wave."""
    ways = [np.linalg.norm(point - stood.at(one.right, 0.0, one.above)) for one in (first, second)]
    return float(C / (2 * abs(ways[0] - ways[1])))
