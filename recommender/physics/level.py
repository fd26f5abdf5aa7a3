"""How loud: volts, watts and distance.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within
from triptych.recommender.physics.sensitivity import REFERENCE_VOLTAGE

__all__ = [
    "amplifier_voltage",
    "direct_level",
    "distance_loss",
    "load_limited_voltage",
]


def amplifier_voltage(power: ArrayLike, into: ArrayLike) -> FloatArray:
    """Return the voltage at which an amplifier is rated, root mean square: sqrt(P R) [V].

    power: rated, of one channel [W]
    into: resistance that it is rated into [ohm]

    Source: Ohm's law.
    """
    return np.sqrt(within("power", power, 0.0, 1e5, "W") * within("into", into, 0.1, 1e3, "ohm"))


def load_limited_voltage(
    power: ArrayLike,
    into: ArrayLike,
    lowest_load: ArrayLike,
    impedance: ArrayLike,
    power_handling: ArrayLike,
    yielding: ArrayLike = 1.0,
) -> FloatArray:
    """Return the largest voltage that amplifier and loudspeaker allow together, root mean square [V].

    power: rated, of one channel [W]
    into: resistance that it is rated into [ohm]
    lowest_load: that the amplifier is rated for [ohm]
    impedance: nominal, of the loudspeaker [ohm]
    power_handling: that the loudspeaker is rated for; NaN where none is stated, which is no limit [W]
    yielding: how the voltage falls with a load below the lowest: 1 with it, 0.5 with its root, 0 not at all [1]

    Full rated voltage down to the lowest load; below it the current of that load is the limit, or its power, where
    `yielding` is 0.5. The rating of the box
    limits the power that the voltage puts into its nominal impedance. Supply sag with several channels driven is left
    out: give the power that the amplifier has with all of them driven.
    Source: Ohm's law.
    """
    load = within("impedance", impedance, 0.1, 1e3, "ohm")
    share = np.minimum(1.0, load / within("lowest load", lowest_load, 0.1, 1e3, "ohm"))
    limit = share ** within("yielding", yielding, 0.0, 1.0, "1")
    rating = np.sqrt(within("power handling", power_handling, 0.0, 1e5, "W") * load)
    voltage = amplifier_voltage(power, into) * limit
    return np.where(np.isnan(power_handling), voltage, np.minimum(voltage, rating))


def direct_level(
    sensitivity: ArrayLike, voltage: ArrayLike, distance: ArrayLike, room_gain: ArrayLike = 0.0
) -> FloatArray:
    """Return the level at a seat: S + 20 log10(V/2.83) - 20 log10 r + G [dB].

    sensitivity: level at 1 m, 2.83 V, free field [dB]
    voltage: at the terminals, root mean square [V]
    distance: loudspeaker to ear [m]
    room_gain: what the room adds [dB]

    Far field: from about three times the loudspeaker's largest side on.
    Source: spherical spreading; L. E. Kinsler et al., *Fundamentals of Acoustics*, 4th ed., ch. 5 (from memory).
    """
    gain = 20.0 * np.log10(within("voltage", voltage, 1e-6, 1e4, "V") / REFERENCE_VOLTAGE)
    return np.asarray(np.asarray(sensitivity, float) + gain - distance_loss(distance) + np.asarray(room_gain, float))


def distance_loss(distance: ArrayLike, reference: ArrayLike = 1.0) -> FloatArray:
    """Return what distance costs in a free field, negative nearer than the reference: 20 log10(r/r0) [dB].

    distance, reference: loudspeaker to ear, and where the level is known; far field [m]

    Source: spherical spreading; L. E. Kinsler et al., *Fundamentals of Acoustics*, 4th ed., ch. 5 (from memory).
    """
    distance = within("distance", distance, 0.01, 1e4, "m")
    return 20.0 * np.log10(distance / within("reference", reference, 0.01, 1e4, "m"))
