"""What a bounce off a surface in front of the baffle does to the response.

Heights are above the surface. An ear at or below it gets no bounce: the response is that of the direct sound alone.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics.checks import FloatArray, within
from triptych.recommender.physics.constants import SPEED_OF_SOUND
from triptych.recommender.physics.erb import smooth
from triptych.recommender.physics.reflection import path_difference, reflected_level, reflection_point, setting

__all__ = ["bounce_response", "bounce_ripple", "fresnel_share"]


class Ripple(NamedTuple):
    """What a bounce does to the response [dB]."""

    rms: FloatArray
    largest: FloatArray


def fresnel_share(
    frequency: ArrayLike,
    source_height: ArrayLike,
    ear_height: ArrayLike,
    distance: ArrayLike,
    setback: ArrayLike,
) -> FloatArray:
    r"""Return the part of the bounce's pressure that a surface with a front edge gives back.

    Parameters
    ----------
    frequency : array_like
        Frequency. [Hz]
    source_height : array_like
        Acoustic axis above the surface. [m]
    ear_height : array_like
        Ear above the surface. [m]
    distance : array_like
        Horizontal distance from baffle to ear. [m]
    setback : array_like
        Baffle behind the surface's front edge; infinite for a floor. [m]

    Returns
    -------
    ndarray
        0 where the reflection point lies beyond the edge, 1 where the whole first zone lies on the surface; NaN where
        a length is unknown, 0 where the ear is not above the surface. [1]

    Notes
    -----
    With the point a distance :math:`(s - x) \sin\gamma` inside the edge as the ray sees it, :math:`d_1` and
    :math:`d_2` the two legs of the ray, and the radius of the first zone from [1]_,

    .. math:: \mathrm{share} = \mathrm{clip}\left(\frac{(s - x) \sin\gamma}{\sqrt{\lambda d_1 d_2 / (d_1 + d_2)}},
              0, 1\right)

    The linear rise is an approximation of our own, in place of the edge's diffraction integral: it keeps the rule that
    there is no bounce while the point is off the surface, has no step at the edge, and lets a surface that is small
    against the wavelength reflect little.

    References
    ----------
    .. [1] E. Hecht, *Optics*, Fresnel diffraction: radius of the first zone (from memory).
    """
    frequency = within("frequency", frequency, 1e-3, 1e6, "Hz")
    source, ear, distance = setting(source_height, ear_height, distance)
    ray = np.hypot(distance, source + ear)
    inside = (np.asarray(setback, float) - reflection_point(source_height, ear_height, distance)) * (source + ear) / ray
    near, far = source / (source + ear), ear / (source + ear)
    radius = np.sqrt(SPEED_OF_SOUND / frequency * near * far * ray)
    with np.errstate(divide="ignore"):
        share = np.clip(inside / np.maximum(radius, 1e-12), 0.0, 1.0)
    return np.where(np.asarray(ear_height, float) <= 0.0, 0.0, share)


def bounce_response(
    frequency: ArrayLike,
    source_height: ArrayLike,
    ear_height: ArrayLike,
    distance: ArrayLike,
    directivity: ArrayLike = 0.0,
    setback: ArrayLike = np.inf,
) -> FloatArray:
    r"""Return direct sound and bounce together, against the direct sound.

    Parameters
    ----------
    frequency : array_like
        Frequency. [Hz]
    source_height : array_like
        Acoustic axis above the surface. [m]
    ear_height : array_like
        Ear above the surface. [m]
    distance : array_like
        Horizontal distance from baffle to ear. [m]
    directivity : array_like
        What the loudspeaker sends toward the reflection point less what it sends toward the ear; 0 for a source that
        sends equally everywhere. [dB]
    setback : array_like
        Baffle behind the surface's front edge; infinite for a floor. [m]

    Returns
    -------
    ndarray
        Level against the direct sound, 0 where there is no bounce. [dB]

    Notes
    -----
    .. math:: 20 \log_{10} \left|1 + \sigma\, 10^{D/20}\, \frac{r_1}{r_2}\, e^{-j k \Delta}\right|

    with the share :math:`\sigma` of `fresnel_share`. Rigid surface (a shelf or a floor of wood or stone); its other
    edges and the box's own front are left out. All arguments broadcast; give candidates a last axis of one.

    References
    ----------
    .. [1] H. Kuttruff, *Room Acoustics*, image sources (from memory).
    """
    frequency = within("frequency", frequency, 1e-3, 1e6, "Hz")
    share = fresnel_share(frequency, source_height, ear_height, distance, setback)
    strength = reflected_level(source_height, ear_height, distance) + np.asarray(directivity, float)
    phase = 2.0 * np.pi * frequency * path_difference(source_height, ear_height, distance) / SPEED_OF_SOUND
    bounce = share * 10.0 ** (strength / 20.0) * np.exp(-1j * phase)
    with np.errstate(divide="ignore"):
        level = 20.0 * np.log10(np.abs(1.0 + bounce))
    return np.where(np.asarray(ear_height, float) <= 0.0, 0.0, level)


def bounce_ripple(frequency: ArrayLike, response: ArrayLike) -> Ripple:
    r"""Return how uneven a bounce makes the response, as the ear's bands see it.

    Parameters
    ----------
    frequency : array_like
        Rising frequencies that reach from 175 Hz to 8.05 kHz at least. [Hz]
    response : array_like
        Level against the direct sound, frequency last. [dB]

    Returns
    -------
    Ripple
        Root mean square and largest departure from the mean level over the ear's bands from 200 Hz to 8 kHz. [dB]

    Notes
    -----
    .. math:: L_b - \overline{L_b}

    with the band levels of `erb.smooth`. The mean over the bands is taken away: what a bounce adds at all frequencies
    alike is level, not colour.

    References
    ----------
    .. [1] B. R. Glasberg and B. C. J. Moore, *Hear. Res.* 47, 103-138 (1990): ERB = 24.7 (4.37 F + 1).
    """
    power = 10.0 ** (np.asarray(response, float) / 10.0)
    smoothed = 10.0 * np.log10(smooth(frequency, power))
    departure = smoothed - smoothed.mean(axis=-1, keepdims=True)
    return Ripple(np.sqrt(np.mean(departure**2, axis=-1)), np.max(np.abs(departure), axis=-1))
