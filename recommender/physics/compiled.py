"""The sum over pistons in step as one compiled loop, where numba is installed: `pip install '.[fast]'`.

The same numbers as `kernel` works out, by the same table of the Bessel function and in single precision; what numpy
does in a dozen passes over its working arrays is one pass here.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from math import factorial, pi
from typing import Any, Final

import numpy as np

WORTH_LOADING: int = 1000
"""So many loudspeakers at least are worth the time that it takes to load what was compiled."""

_TURN: Final = np.float32(1 / (2 * pi))
_HALF: Final = np.float32(0.5)
_COSINE: Final = tuple(np.float32((-1) ** n * (2 * pi) ** (2 * n) / factorial(2 * n)) for n in range(9))
_SINE: Final = tuple(np.float32((-1) ** n * (2 * pi) ** (2 * n + 1) / factorial(2 * n + 1)) for n in range(9))
"""The power series of cosine and sine in squares of turns, the sine less one factor: what is left out is below single
precision up to half a turn. As products and sums they are done for several frequencies at once, as no call is."""


def pays(count: int) -> bool:
    """Whether so many loudspeakers are better worked out by what is compiled: they are many, and numba is there."""
    return count >= WORTH_LOADING and find_spec("numba") is not None


@cache
def power_of_pistons() -> Callable[..., None]:
    """Give the compiled loop; numba keeps it beside this module, or in the user's cache where it may not write here."""
    made: Callable[..., None] = import_module("numba").njit(cache=True, fastmath={"contract"})(_power)
    return made


def _power(
    power: Any,
    radius: Any,
    across: Any,
    upward: Any,
    style: Any,
    weight: Any,
    wave_number: Any,
    towards: Any,
    table: Any,
) -> None:
    """Write the power of N loudspeakers towards U directions at F frequencies, [U, N, F].

    radius: of each of E elements in steps of the table, [E, N]; across, upward: where it is, [E, N] [m]
    style: 0 in line, 1 a pair, 2 alone, [E]; weight: [E, N, F]
    towards: right, up and sine of the angle off the axis of each direction, [3, U]
    """
    c0, c1, c2, c3, c4, c5, c6, c7, c8 = _COSINE
    s0, s1, s2, s3, s4, s5, s6, s7, s8 = _SINE
    elements, count = radius.shape
    last = np.int32(table.size - 1)
    frequencies = wave_number.size
    real = np.empty(frequencies, np.float32)
    imaginary = np.empty(frequencies, np.float32)
    value = np.empty(frequencies, np.float32)
    entry = np.empty(frequencies, np.int32)
    for u in range(power.shape[0]):
        right, up, sine = towards[0, u], towards[1, u], towards[2, u]
        for n in range(count):
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
                        real[f] += value[f] * weight[e, n, f]
                    continue
                shift = (right * across[e, n] + up * upward[e, n]) * _TURN
                for f in range(frequencies):
                    turn = shift * wave_number[f]
                    turn -= np.floor(turn + _HALF)
                    q = turn * turn
                    cosine = c0 + q * (c1 + q * (c2 + q * (c3 + q * (c4 + q * (c5 + q * (c6 + q * (c7 + q * c8)))))))
                    real[f] += value[f] * weight[e, n, f] * cosine
                if style[e] == 1:
                    continue
                for f in range(frequencies):
                    turn = shift * wave_number[f]
                    turn -= np.floor(turn + _HALF)
                    q = turn * turn
                    odd = s0 + q * (s1 + q * (s2 + q * (s3 + q * (s4 + q * (s5 + q * (s6 + q * (s7 + q * s8)))))))
                    imaginary[f] += value[f] * weight[e, n, f] * (turn * odd)
            for f in range(frequencies):
                power[u, n, f] = real[f] * real[f] + imaginary[f] * imaginary[f]
