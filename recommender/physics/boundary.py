"""What large surfaces add against free air: around the baffle, behind the box, under it.

Inputs outside the range that a formula covers raise `OutOfRange`; NaN, the unknown, passes and gives NaN.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from triptych.recommender.physics import erb
from triptych.recommender.physics.checks import FloatArray, within
from triptych.recommender.physics.constants import SPEED_OF_SOUND
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.loudspeaker import rear_shading

__all__ = ["baffle_step", "filled", "furniture_gain", "image_in_bands", "in_step", "power_in_bands", "wall_image"]

STEP_PRODUCT = 115.0
"""Frequency of the half-way point of a baffle's step times its width [Hz m]: common practice, no source."""

FROM_ELSEWHERE = 1.0
"""Power that reaches a seat from all other surfaces, against the direct sound [1].

Both are alike at the critical distance, a metre or so in a furnished room (Kuttruff, from memory); seats are further
away than that, and more fills a notch further, so this leaves images the most they may do.
"""

LEAST_POWER = 1e-4
"""A notch is no deeper than this share of the direct sound's power: 40 dB [1]."""


def baffle_step(frequency: ArrayLike, width: ArrayLike) -> FloatArray:
    """Return the level of a source in a baffle of finite width, against a baffle without end [dB].

    frequency: [Hz]
    width: of the baffle; infinite for a wall [m]

    A shelf of first order from -6.02 dB at long waves to 0, 3 dB down at 115/width; the ripple that edges add on top is
    left out.
    Source: H. F. Olson, *J. Audio Eng. Soc.* 17 (1969), for the step (from memory); the 115 m/s of its middle is common
    practice, no source.
    """
    frequency = within("frequency", frequency, 1e-3, 1e6, "Hz")
    width = within("width", width, 1e-3, np.inf, "m")
    square = np.square(frequency * width / (np.sqrt(2.0) * STEP_PRODUCT))
    # of both fractions the one that stays finite as the baffle grows without end
    return np.asarray(10.0 * np.log10(1.0 - 0.75 / (1.0 + square)))


def furniture_gain(frequency: ArrayLike, box_width: ArrayLike, surround_width: ArrayLike) -> FloatArray:
    """Return what furniture or a wall around a flush box adds, against the same box in free air [dB].

    frequency: [Hz]
    box_width: [m]
    surround_width: of the front that the box stands flush with, never less than the box; infinite for a wall [m]

    `baffle_step` of the surround less that of the box: 0 at short waves; at long waves +6.02 in a wall, and back toward
    0 where the furniture itself is small against the wavelength. That the front of the furniture takes the part of a
    wider baffle is an approximation of our own.
    Source: H. F. Olson, *J. Audio Eng. Soc.* 17 (1969), for the step (from memory).
    """
    wide = np.maximum(np.asarray(surround_width, float), np.asarray(box_width, float))
    return baffle_step(frequency, wide) - baffle_step(frequency, box_width)


def image_in_bands(strength: ArrayLike, difference: ArrayLike) -> FloatArray:
    """Return direct sound and its image off a surface together, against the direct sound, in the ear's bands [dB].

    strength: pressure of the image re the direct sound, in all bands of `erb`, [..., B] [1]
    difference: way over the surface less the direct way, [...] [m]

    10 log10(1 + g^2 + 2 g m) with `in_step` for m. A late image only adds power, one without strength nothing.
    Source: image sources: H. Kuttruff, *Room Acoustics* (from memory).
    """
    strength = np.asarray(strength)
    power = 1.0 + strength * (strength + 2.0 * in_step(difference))
    return np.asarray(10.0 * np.log10(np.maximum(power, LEAST_POWER)), float)


def in_step(difference: ArrayLike) -> Single:
    """Return how far an image is in step with the direct sound, as the mean over each of the ear's bands, [..., B] [1].

    difference: way over the surface less the direct way, [...] [m]

    The mean of cos(2 pi f delta/c) from f1 to f2: the cosine at their middle times sin(x)/x, x = pi (f2 - f1) delta/c.
    Source: bands of B. R. Glasberg and B. C. J. Moore, *Hear. Res.* 47, 103-138 (1990); the mean is closed form.
    """
    middle, width = _bands()
    delay = (np.asarray(difference, float)[..., None] / SPEED_OF_SOUND).astype(np.float32)
    return np.asarray(np.cos(middle * delay) * _sinc(width * delay))


def _sinc(turns: Single) -> Single:
    """sin(x)/x, the limit 1 at 0."""
    turns = np.maximum(np.abs(turns), np.float32(1e-6))
    return np.asarray(np.sin(turns) / turns)


@lru_cache(maxsize=1)
def _bands() -> tuple[Single, Single]:
    """The middle of each of the ear's bands and half of its width, as angular frequencies [rad/s]."""
    number = erb.erb_number(erb.bands())
    low, high = erb.frequency_at(number - 0.5), erb.frequency_at(number + 0.5)
    return (np.pi * (low + high)).astype(np.float32), (np.pi * (high - low)).astype(np.float32)


def filled(power: ArrayLike, elsewhere: float = FROM_ELSEWHERE) -> Single:
    """Return what images make of the level at a seat where sound comes from elsewhere too, against none of them [dB].

    power: of the direct sound with its images, re the direct sound [1]
    elsewhere: power that comes from all other surfaces, re the direct sound; 0 in the open [1]

    10 log10((P + e)/(1 + e)): what comes late and from all sides fills a notch and is there under a peak.
    Source: addition of powers; H. Kuttruff, *Room Acoustics*, critical distance (from memory).
    """
    share = (np.asarray(power, np.float32) + np.float32(elsewhere)) / np.float32(1 + elsewhere)
    return np.asarray(np.float32(10) * np.log10(share))


def power_in_bands(strength: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Return the sound power of a source near a surface, against that in free air, in the ear's bands [dB].

    strength: pressure that the surface gives back of what is sent to it, in all bands of `erb`, [..., B] [1]
    distance: of the source from the surface, [...] [m]

    10 log10(1 + g sin(2 k d)/(2 k d)): 3 dB more at a rigid surface, 1 dB less half a wave and more away from it.
    Source: R. V. Waterhouse, *J. Acoust. Soc. Am.* 27, 247-258 (1955), and R. F. Allison, *J. Audio Eng. Soc.* 22,
    314-320 (1974), for a small source (from memory).
    """
    turns = 4.0 * np.pi / SPEED_OF_SOUND * erb.bands() * np.asarray(distance, float)[..., None]
    return np.asarray(10.0 * np.log10(1.0 + np.asarray(strength) * _sinc(turns.astype(np.float32))), float)


def wall_image(front_width: ArrayLike, difference: ArrayLike, direct: ArrayLike) -> FloatArray:
    """Return the pressure of a box's image behind the wall at its back, re the direct sound, in the ear's bands [1].

    front_width: narrower side of what the drivers sit in, box or furniture [m]
    difference: way over the wall less the direct way [m]
    direct: the direct way [m]

    What the box sends straight back (`rear_shading`) at the distance of its image. A rigid wall.
    Source: image sources: H. Kuttruff, *Room Acoustics* (from memory); the shade of a box is an approximation of our
    own.
    """
    wave_number = 2.0 * np.pi * erb.bands() / SPEED_OF_SOUND
    width, difference, direct = (np.asarray(part, float)[..., None] for part in (front_width, difference, direct))
    return np.asarray(rear_shading(wave_number, width, -1.0) * direct / (direct + difference))
