"""The sum over pistons in step as one compiled loop, where numba is installed: `pip install '.[fast]'`.

The same numbers as `kernel` works out, by the same table of the Bessel function and in single precision; what numpy
does in a dozen passes over its working arrays is one pass here.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from math import pi
from typing import Any, Final

import numpy as np

WORTH_LOADING: int = 20_000
"""So many loudspeakers at least, one after the other, are worth the 0.8 s that it takes to load what was compiled: each
is done 20 to 70 us sooner, of 320 to 420."""

_TURN: Final = np.float32(1 / (2 * pi))
_HALF: Final = np.float32(0.5)
_ONE: Final = np.float32(1)
_TWO: Final = np.float32(2)


def _fitted(function: Callable[[Any], Any]) -> tuple[np.float32, ...]:
    """Factors of a polynomial in squares of turns, up to half a turn: five tell a sine to single precision."""
    fitted = np.polynomial.Chebyshev.interpolate(function, 4, (0, 0.25))
    return tuple(fitted.convert(kind=np.polynomial.Polynomial).coef.astype(np.float32))


_SINE: Final = _fitted(lambda square: np.sin(pi * np.sqrt(square)) / np.sqrt(square))
_COSINE: Final = _fitted(lambda square: np.cos(pi * np.sqrt(square)))
"""Of half an angle, the sine less one factor. As products and sums they are done for several frequencies at once, as
no call is; that half an angle tells the whole one saves a half of them."""


def pays(count: int) -> bool:
    """Whether so many loudspeakers are better worked out by what is compiled: they are many, and numba is there."""
    return count >= WORTH_LOADING and find_spec("numba") is not None


@cache
def power_of_pistons() -> Callable[..., None]:
    """Give the compiled loop; numba keeps it beside this module, or in the user's cache where it may not write here."""
    made: Callable[..., None] = import_module("numba").njit(cache=True, nogil=True, fastmath={"contract"})(_power)
    return made


def _power(
    power: Any,
    radius: Any,
    across: Any,
    upward: Any,
    style: Any,
    element_of: Any,
    share: Any,
    band: Any,
    nearness: Any,
    half_order: Any,
    wave_number: Any,
    frequency: Any,
    towards: Any,
    table: Any,
) -> None:
    """Write the power of N loudspeakers towards U directions at F frequencies, [U, N, F].

    radius: of each of E elements in steps of the table, [E, N]; across, upward: where it is, [E, N] [m]
    style: 0 in line, 1 a pair, 2 alone, [E]
    element_of: what each of K drivers belongs to, -1 where another one stands for it, [K]
    share, band: of each driver, [N, K]
    nearness: one over each of X crossovers, 0 where there is none, [N, X] [s]; half_order: half its order, [N]
    towards: right, up and sine of the angle off the axis of each direction, [3, U]
    """
    c0, c1, c2, c3, c4 = _COSINE
    s0, s1, s2, s3, s4 = _SINE
    elements, count = radius.shape
    corners, drivers = nearness.shape[1], element_of.size
    last = np.int32(table.size - 1)
    frequencies = wave_number.size
    real = np.empty(frequencies, np.float32)
    imaginary = np.empty(frequencies, np.float32)
    value = np.empty(frequencies, np.float32)
    entry = np.empty(frequencies, np.int32)
    gains = np.empty((corners + 1, frequencies), np.float32)
    weight = np.empty((elements, frequencies), np.float32)
    for n in range(count):
        gains[:] = _ONE
        for x in range(corners):
            near = nearness[n, x]
            for f in range(frequencies):
                ratio = frequency[f] * near
                value[f] = ratio * ratio
                real[f] = value[f]
            for _ in range(half_order[n] - 1):
                for f in range(frequencies):
                    real[f] *= value[f]
            for f in range(frequencies):
                real[f] = _ONE / (real[f] + _ONE)
            for f in range(frequencies):
                gains[x, f] *= real[f]
            for above in range(x + 1, corners + 1):
                for f in range(frequencies):
                    gains[above, f] *= _ONE - real[f]
        weight[:] = np.float32(0)
        for k in range(drivers):
            e = element_of[k]
            if e >= 0:
                part = share[n, k] * (_TWO if style[e] == 1 else _ONE)
                for f in range(frequencies):
                    weight[e, f] += gains[band[n, k], f] * part
        for u in range(power.shape[0]):
            right, up, sine = towards[0, u], towards[1, u], towards[2, u]
            for f in range(frequencies):
                real[f] = np.float32(0)
                imaginary[f] = np.float32(0)
            for e in range(elements):
                step = radius[e, n]
                for f in range(frequencies):
                    entry[f] = min(np.int32(sine * (step * wave_number[f]) + _HALF), last)
                # by itself: what is looked up cannot be done for several at once, what comes after can
                for f in range(frequencies):
                    value[f] = table[np.uint32(entry[f])]
                if style[e] == 0:
                    for f in range(frequencies):
                        real[f] += value[f] * weight[e, f]
                    continue
                shift = (right * across[e, n] + up * upward[e, n]) * _TURN
                if style[e] == 1:
                    for f in range(frequencies):
                        turn = shift * wave_number[f]
                        turn -= np.floor(turn + _HALF)
                        q = turn * turn
                        half = turn * (s0 + q * (s1 + q * (s2 + q * (s3 + q * s4))))
                        real[f] += value[f] * weight[e, f] * (_ONE - _TWO * half * half)
                    continue
                for f in range(frequencies):
                    turn = shift * wave_number[f]
                    turn -= np.floor(turn + _HALF)
                    q = turn * turn
                    half = turn * (s0 + q * (s1 + q * (s2 + q * (s3 + q * s4))))
                    other = c0 + q * (c1 + q * (c2 + q * (c3 + q * c4)))
                    value[f] *= weight[e, f]
                    real[f] += value[f] * (_ONE - _TWO * half * half)
                    imaginary[f] += value[f] * (_TWO * half * other)
            for f in range(frequencies):
                power[u, n, f] = real[f] * real[f] + imaginary[f] * imaginary[f]
