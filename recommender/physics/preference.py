"""A loudspeaker's preference figure from a full measured set; it says nothing on how two loudspeakers match."""

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, OutOfRange, within
from triptych.recommender.physics.standard import Curves

__all__ = ["low_frequency_extension", "narrow_band_deviation", "preference", "preference_figure", "smoothness"]


class NotMeasured(OutOfRange):
    """A preference figure was asked of data that were not measured, or not in full."""


def _axis(frequency: ArrayLike, low: float, high: float) -> FloatArray:
    frequency = np.asarray(frequency, float)
    if frequency.ndim != 1 or np.any(np.diff(frequency) <= 0.0):
        raise OutOfRange("frequency must be one rising axis")
    within("lowest frequency", frequency[0], 0.0, low, "Hz")
    within("highest frequency", frequency[-1], high, np.inf, "Hz")
    return frequency


def narrow_band_deviation(frequency: ArrayLike, level: ArrayLike) -> FloatArray:
    """Return the mean narrow-band deviation of a curve [dB].

    frequency: rising, from 100 Hz or less to 12 kHz or more, at least two in each half octave [Hz]
    level: frequency last [dB]

    Mean over the half-octave bands from 100 Hz up, the last cut off at 12 kHz, of the mean distance from the band's
    mean; within a band the means are of the samples, so they should be spaced evenly on a logarithmic axis.
    Source: S. E. Olive, "A multiple regression model for predicting loudspeaker preference using objective
    measurements: part II", AES convention paper 6190 (2004) (formula from memory).
    """
    frequency, level = _axis(frequency, 100.0, 12000.0), np.asarray(level, float)
    # a sample on the upper limit belongs to the last band
    band = np.floor(2.0 * np.log2(frequency / 100.0) + 1e-9)
    inside = (frequency >= 100.0 * (1.0 - 1e-9)) & (frequency <= 12000.0 * (1.0 + 1e-9))
    parts = [level[..., inside & (band == n)] for n in range(14)]
    if min(part.shape[-1] for part in parts) < 2:
        raise OutOfRange("frequency must hold at least two values in each half octave from 100 Hz to 12 kHz")
    means = [np.mean(np.abs(part - part.mean(axis=-1, keepdims=True)), axis=-1) for part in parts]
    return np.asarray(np.mean(means, axis=0))


def smoothness(frequency: ArrayLike, level: ArrayLike) -> FloatArray:
    """Return how well a straight line on a logarithmic axis describes a curve: 1 for a perfectly flat one [1].

    frequency: rising; those from 100 Hz to 16 kHz count [Hz]
    level: frequency last [dB]

    Square of the correlation of level and logarithm of frequency. For a curve without any variation that is 0/0; it is
    taken as 1, since a flat curve lies on its line without any remainder, and a loudspeaker must not lose by being
    perfect. A nearly flat curve with a little noise has no trend to explain and comes out near 0: a known weakness of
    the measure, not mended here.
    Source: S. E. Olive, AES convention paper 6190 (2004) (formula from memory); the value for a flat curve is our own.
    """
    frequency, level = np.asarray(frequency, float), np.asarray(level, float)
    counted = (frequency >= 100.0 * (1.0 - 1e-9)) & (frequency <= 16000.0 * (1.0 + 1e-9))
    within("frequencies from 100 Hz to 16 kHz", counted.sum(), 3, np.inf, "(a count)")
    x, y = np.log(frequency[counted]), level[..., counted]
    x, y = x - x.mean(), y - y.mean(axis=-1, keepdims=True)
    spread = np.sum(x**2) * np.sum(y**2, axis=-1)
    flat = spread <= np.sum(x**2) * y.shape[-1] * 1e-24
    return np.where(flat, 1.0, np.sum(x * y, axis=-1) ** 2 / np.where(flat, 1.0, spread))


def low_frequency_extension(frequency: ArrayLike, sound_power: ArrayLike, listening_window: ArrayLike) -> FloatArray:
    """Return how far down a loudspeaker reaches: log10 of the frequency in Hz; NaN where the data end before it [1].

    frequency: rising, to 10 kHz or more [Hz]
    sound_power, listening_window: levels, frequency last [dB]

    The first frequency going down from 300 Hz where the sound power lies 6 dB under the mean level of the listening
    window from 300 Hz to 10 kHz, between two samples by a straight line over log f.
    Source: S. E. Olive, AES convention paper 6190 (2004) (formula from memory).
    """
    frequency = _axis(frequency, 300.0, 10000.0)
    counted = (frequency >= 300.0) & (frequency <= 10000.0)
    limit = np.asarray(listening_window, float)[..., counted].mean(axis=-1, keepdims=True) - 6.0
    low = frequency <= 300.0
    excess = (np.asarray(sound_power, float)[..., low] - limit)[..., ::-1]
    steps = np.log10(frequency[low])[::-1]
    below = excess <= 0.0
    first = np.argmax(below, axis=-1)
    after, before = (np.take_along_axis(excess, i[..., None], -1)[..., 0] for i in (first, np.maximum(first - 1, 0)))
    share = np.where(first == 0, 0.0, before / np.where(before == after, 1.0, before - after))
    found = steps[np.maximum(first - 1, 0)] + share * (steps[first] - steps[np.maximum(first - 1, 0)])
    return np.where(below.any(axis=-1), found, np.nan)


def preference_figure(
    nbd_on_axis: ArrayLike, nbd_in_room: ArrayLike, low_extension: ArrayLike, smoothness: ArrayLike
) -> FloatArray:
    """Return the preference figure of the published regression; 10 for a perfect loudspeaker down to 14.5 Hz [1].

    nbd_on_axis, nbd_in_room: narrow-band deviation on the axis and of the estimated in-room response [dB]
    low_extension: log10 of the lowest frequency in Hz [1]
    smoothness: of the estimated in-room response [1]

    12.69 - 2.49 NBD_ON - 2.99 NBD_PIR - 4.31 LFX + 2.32 SM_PIR.
    Source: S. E. Olive, AES convention papers 6113 and 6190 (2004) (coefficients from memory).
    """
    deviations = 2.49 * within("on-axis deviation", nbd_on_axis, 0.0, np.inf, "dB")
    deviations = deviations + 2.99 * within("in-room deviation", nbd_in_room, 0.0, np.inf, "dB")
    straight = 2.32 * within("smoothness", smoothness, 0.0, 1.0, "")
    return np.asarray(12.69 - deviations - 4.31 * np.asarray(low_extension, float) + straight)


def preference(curves: Curves, evidence: str) -> FloatArray:
    """Return the preference figure of a full measured set [1].

    curves: the standard's [dB]
    evidence: where they come from: only `measured` will do [text]

    Raises `NotMeasured` where the data are modelled, stated or assumed, or the set lacks curves.
    Source: S. E. Olive, AES convention papers 6113 and 6190 (2004) (coefficients from memory).
    """
    if evidence != "measured":
        raise NotMeasured(f"a preference figure needs measured data; these are {evidence}")
    on_axis, in_room, power, window = (
        curves.on_axis,
        curves.in_room_response,
        curves.sound_power,
        curves.listening_window,
    )
    if on_axis is None or in_room is None or power is None or window is None:
        raise NotMeasured("a preference figure needs the full set of 70 curves, 10 deg apart on two orbits")
    return preference_figure(
        narrow_band_deviation(curves.frequency, on_axis),
        narrow_band_deviation(curves.frequency, in_room),
        low_frequency_extension(curves.frequency, power, window),
        smoothness(curves.frequency, in_room),
    )
