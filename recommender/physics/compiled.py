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

_WHOLE: Final = np.float32(1.5 * 2**23)
"""Whatever is added to it and taken away again comes back as a whole number."""

_RUN: Final = 512
"""So many numbers at most are one run over memory: with what they need they fit a core's first cache."""


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
    numba = import_module("numba")
    for loop in _LOOPS:
        import_module("numba.extending").register_jitable(error_model="numpy", fastmath={"contract"})(loop)
    made: Callable[..., None] = numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})(_power)
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
    """Write the power of N loudspeakers towards U directions at F frequencies, [N, U F].

    radius: of each of E elements in steps of the table, [E, N]; across, upward: where it is, [E, N] [m]
    style: 0 in line, 1 a pair, 2 alone, [E]
    element_of: what each of K drivers belongs to, -1 where another one stands for it, [K]
    share, band: of each driver, [N, K]
    nearness: one over each of X crossovers, 0 where there is none, [N, X] [s]; half_order: half its order, [N]
    towards: right, up and sine of the angle off the axis of each direction, [3, U]
    """
    elements, count = radius.shape
    corners, drivers = nearness.shape[1], element_of.size
    last = np.int32(table.size - 1)
    directions, frequencies = towards.shape[1], wave_number.size
    # every frequency in some directions is one run over memory
    together = min(directions, max(1, _RUN // frequencies))
    waves, rights = np.empty(directions * frequencies, np.float32), np.empty(directions * frequencies, np.float32)
    ups, sines = np.empty_like(waves), np.empty_like(waves)
    for u in range(directions):
        there = slice(u * frequencies, (u + 1) * frequencies)
        waves[there] = wave_number
        rights[there], ups[there], sines[there] = towards[0, u], towards[1, u], towards[2, u]
    size = together * frequencies
    real, imaginary, value = np.empty(size, np.float32), np.empty(size, np.float32), np.empty(size, np.float32)
    entry = np.empty(size, np.int32)
    gains = np.empty((corners + 1, frequencies), np.float32)
    weight = np.empty((elements, together, frequencies), np.float32)
    run = weight.reshape(elements, size)
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
        weight[:, 0] = np.float32(0)
        for k in range(drivers):
            e = element_of[k]
            if e >= 0:
                part = share[n, k] * (_TWO if style[e] == 1 else _ONE)
                for f in range(frequencies):
                    weight[e, 0, f] += gains[band[n, k], f] * part
        for e in range(elements):
            for u in range(1, together):
                for f in range(frequencies):
                    weight[e, u, f] = weight[e, 0, f]
        for start in range(0, directions * frequencies, size):
            here = slice(start, start + size)
            wave, right, up, sine, found = waves[here], rights[here], ups[here], sines[here], power[n, here]
            real[:] = np.float32(0)
            imaginary[:] = np.float32(0)
            for e in range(elements):
                part_of = run[e]
                _find(entry, sine, wave, radius[e, n], last)
                _look_up(value, entry, table)
                if style[e] == 0:
                    _add(real, value, part_of)
                elif style[e] == 1:
                    _add_pair(real, value, part_of, right, up, wave, across[e, n] * _TURN, upward[e, n] * _TURN)
                else:
                    _add_one(
                        real, imaginary, value, part_of, right, up, wave, across[e, n] * _TURN, upward[e, n] * _TURN
                    )
            _square(found, real, imaginary)


def _find(entry: Any, sine: Any, wave: Any, radius: Any, last: Any) -> None:
    """Find which entries of the table tell what a piston gives."""
    for f in range(wave.size):
        entry[f] = min(np.int32(sine[f] * (radius * wave[f]) + _HALF), last)


def _look_up(value: Any, entry: Any, table: Any) -> None:
    """Look them up."""
    for f in range(value.size):
        value[f] = table[np.uint32(entry[f])]


def _add(real: Any, value: Any, weight: Any) -> None:
    """Add what is in line with the axis."""
    for f in range(real.size):
        real[f] += value[f] * weight[f]


def _add_pair(real: Any, value: Any, weight: Any, right: Any, up: Any, wave: Any, aside: Any, above: Any) -> None:
    """Add a pair, one on each side of the axis."""
    s0, s1, s2, s3, s4 = _SINE
    for f in range(wave.size):
        turn = (right[f] * aside + up[f] * above) * wave[f]
        turn -= (turn + _WHOLE) - _WHOLE
        q = turn * turn
        half = turn * (s0 + q * (s1 + q * (s2 + q * (s3 + q * s4))))
        real[f] += value[f] * weight[f] * (_ONE - _TWO * half * half)


def _add_one(
    real: Any, imaginary: Any, value: Any, weight: Any, right: Any, up: Any, wave: Any, aside: Any, above: Any
) -> None:
    """Add one that is off the axis."""
    c0, c1, c2, c3, c4 = _COSINE
    s0, s1, s2, s3, s4 = _SINE
    for f in range(wave.size):
        turn = (right[f] * aside + up[f] * above) * wave[f]
        turn -= (turn + _WHOLE) - _WHOLE
        q = turn * turn
        half = turn * (s0 + q * (s1 + q * (s2 + q * (s3 + q * s4))))
        other = c0 + q * (c1 + q * (c2 + q * (c3 + q * c4)))
        given = value[f] * weight[f]
        real[f] += given * (_ONE - _TWO * half * half)
        imaginary[f] += given * (_TWO * half * other)


def _square(power: Any, real: Any, imaginary: Any) -> None:
    """Write the power of a sum."""
    for f in range(power.size):
        power[f] = real[f] * real[f] + imaginary[f] * imaginary[f]


_LOOPS: Final = (_find, _look_up, _add, _add_pair, _add_one, _square)
"""The innermost loops: what each does alone is done for several frequencies at once."""
