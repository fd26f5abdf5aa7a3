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
    r"""Return the voltage at which an amplifier is rated.

    Parameters
    ----------
    power : array_like
        Rated power of one channel. [W]
    into : array_like
        Resistance that it is rated into. [ohm]

    Returns
    -------
    ndarray
        Voltage, root mean square. [V]

    Notes
    -----
    .. math:: V = \sqrt{P R}

    References
    ----------
    .. [1] Ohm's law.
    """
    return np.sqrt(within("power", power, 0.0, 1e5, "W") * within("into", into, 0.1, 1e3, "ohm"))


def load_limited_voltage(
    power: ArrayLike, into: ArrayLike, lowest_load: ArrayLike, impedance: ArrayLike, power_handling: ArrayLike
) -> FloatArray:
    r"""Return the largest voltage that amplifier and loudspeaker allow together.

    Parameters
    ----------
    power : array_like
        Rated power of one channel. [W]
    into : array_like
        Resistance that it is rated into. [ohm]
    lowest_load : array_like
        Lowest load that the amplifier is rated for. [ohm]
    impedance : array_like
        Nominal impedance of the loudspeaker. [ohm]
    power_handling : array_like
        Power that the loudspeaker is rated for; NaN where none is stated, which is no limit. [W]

    Returns
    -------
    ndarray
        Voltage, root mean square. [V]

    Notes
    -----
    .. math:: V = \min\left(\sqrt{P R} \min(1, Z / Z_{lowest}),\ \sqrt{P_{box} Z}\right)

    Full rated voltage down to the lowest load; below it the current of that load is the limit. The rating of the box
    limits the power that the voltage puts into its nominal impedance. Supply sag with several channels driven is left
    out: give the power that the amplifier has with all of them driven.

    References
    ----------
    .. [1] Ohm's law.
    """
    load = within("impedance", impedance, 0.1, 1e3, "ohm")
    current_limit = np.minimum(1.0, load / within("lowest load", lowest_load, 0.1, 1e3, "ohm"))
    rating = np.sqrt(within("power handling", power_handling, 0.0, 1e5, "W") * load)
    voltage = amplifier_voltage(power, into) * current_limit
    return np.where(np.isnan(power_handling), voltage, np.minimum(voltage, rating))


def direct_level(
    sensitivity: ArrayLike, voltage: ArrayLike, distance: ArrayLike, room_gain: ArrayLike = 0.0
) -> FloatArray:
    r"""Return the level at a seat.

    Parameters
    ----------
    sensitivity : array_like
        Level at 1 m, 2.83 V, free field. [dB]
    voltage : array_like
        At the terminals, root mean square. [V]
    distance : array_like
        Loudspeaker to ear. [m]
    room_gain : array_like
        What the room adds. [dB]

    Returns
    -------
    ndarray
        Level. [dB]

    Notes
    -----
    .. math:: L = S + 20 \log_{10}\frac{V}{2.83} - 20 \log_{10} r + G

    Far field: from about three times the loudspeaker's largest side on.

    References
    ----------
    .. [1] Spherical spreading; L. E. Kinsler et al., *Fundamentals of Acoustics*, 4th ed., ch. 5 (from memory).
    """
    gain = 20.0 * np.log10(within("voltage", voltage, 1e-6, 1e4, "V") / REFERENCE_VOLTAGE)
    return np.asarray(np.asarray(sensitivity, float) + gain - distance_loss(distance) + np.asarray(room_gain, float))


def distance_loss(distance: ArrayLike, reference: ArrayLike = 1.0) -> FloatArray:
    r"""Return what distance costs in a free field.

    Parameters
    ----------
    distance : array_like
        Loudspeaker to ear. [m]
    reference : array_like
        Distance at which the level is known. [m]

    Returns
    -------
    ndarray
        Loss, negative nearer than the reference. [dB]

    Notes
    -----
    .. math:: 20 \log_{10}\frac{r}{r_0}

    Far field; 6.02 dB for twice the distance.

    References
    ----------
    .. [1] Spherical spreading; L. E. Kinsler et al., *Fundamentals of Acoustics*, 4th ed., ch. 5 (from memory).
    """
    distance = within("distance", distance, 0.01, 1e4, "m")
    return 20.0 * np.log10(distance / within("reference", reference, 0.01, 1e4, "m"))
