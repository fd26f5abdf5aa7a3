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
    "headroom",
    "level_from_power",
    "load_limited_voltage",
    "required_power",
    "required_voltage",
    "sum_coherent",
    "sum_incoherent",
    "trim",
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


def required_voltage(
    target: ArrayLike, sensitivity: ArrayLike, distance: ArrayLike, room_gain: ArrayLike = 0.0
) -> FloatArray:
    r"""Return the voltage that a level at a seat takes.

    Parameters
    ----------
    target : array_like
        Level wanted at the seat. [dB]
    sensitivity : array_like
        Level at 1 m, 2.83 V, free field. [dB]
    distance : array_like
        Loudspeaker to ear. [m]
    room_gain : array_like
        What the room adds. [dB]

    Returns
    -------
    ndarray
        Voltage, root mean square. [V]

    Notes
    -----
    .. math:: V = 2.83 \cdot 10^{(T - S + 20 \log_{10} r - G) / 20}

    `direct_level` solved for the voltage.

    References
    ----------
    .. [1] Spherical spreading; L. E. Kinsler et al., *Fundamentals of Acoustics*, 4th ed., ch. 5 (from memory).
    """
    excess = np.asarray(target, float) - np.asarray(sensitivity, float) - np.asarray(room_gain, float)
    return np.asarray(REFERENCE_VOLTAGE * 10.0 ** ((excess + distance_loss(distance)) / 20.0))


def level_from_power(sensitivity: ArrayLike, power: ArrayLike, distance: ArrayLike) -> FloatArray:
    r"""Return the level at a seat from a sensitivity for one watt.

    Parameters
    ----------
    sensitivity : array_like
        Level at 1 m, 1 W, free field. [dB]
    power : array_like
        Power taken. [W]
    distance : array_like
        Loudspeaker to ear. [m]

    Returns
    -------
    ndarray
        Level. [dB]

    Notes
    -----
    .. math:: L = S + 10 \log_{10} P - 20 \log_{10} r

    Far field.

    References
    ----------
    .. [1] Spherical spreading; L. E. Kinsler et al., *Fundamentals of Acoustics*, 4th ed., ch. 5 (from memory).
    """
    gain = 10.0 * np.log10(within("power", power, 1e-9, 1e6, "W"))
    return np.asarray(sensitivity, float) + gain - distance_loss(distance)


def required_power(target: ArrayLike, sensitivity: ArrayLike, distance: ArrayLike) -> FloatArray:
    r"""Return the power that a level at a seat takes.

    Parameters
    ----------
    target : array_like
        Level wanted at the seat. [dB]
    sensitivity : array_like
        Level at 1 m, 1 W, free field. [dB]
    distance : array_like
        Loudspeaker to ear. [m]

    Returns
    -------
    ndarray
        Power. [W]

    Notes
    -----
    .. math:: P = 10^{(T - S + 20 \log_{10} r) / 10}

    `level_from_power` solved for the power.

    References
    ----------
    .. [1] Spherical spreading; L. E. Kinsler et al., *Fundamentals of Acoustics*, 4th ed., ch. 5 (from memory).
    """
    excess = np.asarray(target, float) - np.asarray(sensitivity, float)
    return np.asarray(10.0 ** ((excess + distance_loss(distance)) / 10.0))


def headroom(level: ArrayLike, target: ArrayLike) -> FloatArray:
    r"""Return how far the level that can be reached lies above the target.

    Parameters
    ----------
    level : array_like
        Level that can be reached at the seat. [dB]
    target : array_like
        Level wanted there. [dB]

    Returns
    -------
    ndarray
        Headroom, negative where it falls short. [dB]

    Notes
    -----
    .. math:: L - T

    References
    ----------
    .. [1] By definition of a level difference.
    """
    return np.asarray(np.asarray(level, float) - np.asarray(target, float))


def trim(level_mains: ArrayLike, level_centre: ArrayLike) -> FloatArray:
    r"""Return the trim that makes a centre as loud as a main.

    Parameters
    ----------
    level_mains : array_like
        Level of one main at the seat for a given voltage. [dB]
    level_centre : array_like
        Level of the centre there for the same voltage. [dB]

    Returns
    -------
    ndarray
        Trim of the centre, positive = raise it. [dB]

    Notes
    -----
    .. math:: L_{main} - L_{centre}

    References
    ----------
    .. [1] By definition of a level difference.
    """
    return np.asarray(np.asarray(level_mains, float) - np.asarray(level_centre, float))


def sum_incoherent(levels: ArrayLike) -> FloatArray:
    r"""Return the level of several sounds that have nothing in common.

    Parameters
    ----------
    levels : array_like
        Their levels, along the last axis. [dB]

    Returns
    -------
    ndarray
        Level of all of them. [dB]

    Notes
    -----
    .. math:: 10 \log_{10} \sum 10^{L_i / 10}

    References
    ----------
    .. [1] Addition of mean squared pressures.
    """
    return np.asarray(10.0 * np.log10(np.sum(10.0 ** (np.asarray(levels, float) / 10.0), axis=-1)))


def sum_coherent(levels: ArrayLike) -> FloatArray:
    r"""Return the level of the same sound arriving several times in phase.

    Parameters
    ----------
    levels : array_like
        Its levels, along the last axis. [dB]

    Returns
    -------
    ndarray
        Level of all of them. [dB]

    Notes
    -----
    .. math:: 20 \log_{10} \sum 10^{L_i / 20}

    References
    ----------
    .. [1] Addition of pressures in phase.
    """
    return np.asarray(20.0 * np.log10(np.sum(10.0 ** (np.asarray(levels, float) / 20.0), axis=-1)))


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
