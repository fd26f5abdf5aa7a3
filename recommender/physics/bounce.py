"""What a bounce off a surface in front of the baffle does to the response.

An ear at or below the surface gets no bounce: the response is that of the direct sound alone. Inputs outside the range
that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN. All arguments broadcast.

frequency: [Hz]
source_height, ear_height: acoustic axis and ear above the surface [m]
distance: horizontal, from baffle to ear [m]
setback: baffle behind the surface's front edge; infinite for a floor [m]
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
    """Return the part of the bounce's pressure that a surface with a front edge gives back [1].

    0 where the reflection point lies beyond the edge, 1 where the whole first zone lies on the surface: between them
    the point's distance inside the edge, as the ray sees it, over the zone's radius sqrt(lambda d1 d2 / (d1 + d2)) with
    d1 and d2 the legs of the ray. 0 where the ear is not above the surface.

    The linear rise is an approximation of our own, in place of the edge's diffraction integral: it keeps the rule that
    there is no bounce while the point is off the surface, has no step at the edge, and lets a surface that is small
    against the wavelength reflect little.
    Source: E. Hecht, *Optics*, Fresnel diffraction: radius of the first zone (from memory).
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
    """Return direct sound and bounce together, against the direct sound; 0 where there is no bounce [dB].

    directivity: what the loudspeaker sends toward the reflection point less what it sends toward the ear [dB]

    20 log10 |1 + share 10^(D/20) (r1/r2) e^(-jk delta)| with `fresnel_share`. Rigid surface (a shelf or a floor of wood
    or stone); its other edges and the box's own front are left out. Give candidates a last axis of one.
    Source: H. Kuttruff, *Room Acoustics*, image sources (from memory).
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
    """Return how uneven a bounce makes the response, as the ear's bands from 200 Hz to 8 kHz see it [dB].

    frequency: rising, from 175 Hz to 8.05 kHz at least [Hz]
    response: level against the direct sound, frequency last [dB]

    Departure of the band levels of `erb.smooth` from their mean: what a bounce adds at all frequencies alike is level,
    not colour.
    Source: own definition on the bands of B. R. Glasberg and B. C. J. Moore, *Hear. Res.* 47, 103-138 (1990).
    """
    power = 10.0 ** (np.asarray(response, float) / 10.0)
    smoothed = 10.0 * np.log10(smooth(frequency, power))
    departure = smoothed - smoothed.mean(axis=-1, keepdims=True)
    return Ripple(np.sqrt(np.mean(departure**2, axis=-1)), np.max(np.abs(departure), axis=-1))
