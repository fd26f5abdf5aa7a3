"""Time of the polar model: nanoseconds a candidate, driver, frequency and direction, beside the plain form.

Run from the root: python -m tests.benchmarks.bench_polar [CANDIDATES]

The plain form is what a reader would write: complex double precision and scipy.special.j1, drivers one by one, in
chunks that suit it best. Every driver has a size of its own here, so no two share a pattern; a catalogue of nominal
sizes and the stored profile come after it.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np
import scipy
from numpy.typing import NDArray

from tests.recommender.physics.boxes import catalogue, columns, power
from triptych.recommender.physics import compiled, erb
from triptych.recommender.physics import profile as profiles
from triptych.recommender.physics.description import describe
from triptych.recommender.physics.loudspeaker import Sources, take

FREQUENCY = np.geomspace(200, 8000, 48)
AZIMUTH = np.array([0.0, 4.0, 9.0, 14.0, 19.0, 25.0, 32.0])


def one_of_each(layout: str, count: int, seed: int = 1) -> Sources:
    """Loudspeakers of one layout, every size at random."""
    draw = np.random.default_rng(seed)
    upper = draw.uniform(2000, 3500, count)
    return describe(
        columns(
            count,
            lying=True,
            layout=layout,
            tweeter_type="dome",
            tweeter_size=draw.uniform(0.019, 0.029, count),
            midrange_size=draw.uniform(0.08, 0.12, count),
            woofer_size=draw.uniform(0.11, 0.2, count),
            woofer_spacing=draw.uniform(0.3, 0.5, count),
            crossover=np.column_stack(
                [draw.uniform(250, 700, count), upper, np.full(count, np.nan)]
                if "W" in layout
                else [upper] + [np.full(count, np.nan)] * 2
            ),
            crossover_order=4,
        )
    )


def plain(sources: Sources) -> NDArray[np.float64]:
    """Power by the plain form, [N, D, F]."""
    sine = np.sin(np.radians(AZIMUTH))
    wave_number = 2 * np.pi * FREQUENCY / 343.2
    step = wave_number * sine[:, None]
    result = np.empty((len(sources), AZIMUTH.size, FREQUENCY.size))
    for start in range(0, len(sources), 64):
        part = slice(start, start + 64)
        corners = sources.crossover[part, :, None]
        low = 1 / (1 + (FREQUENCY / corners[:, 0]) ** 4)
        high = 1 / (1 + (FREQUENCY / corners[:, -1]) ** 4)
        two_way = [low, 1 - low]
        gains = np.stack([low, (1 - low) * high, (1 - low) * (1 - high)] if corners.shape[1] == 2 else two_way, axis=1)
        field = np.zeros((low.shape[0], AZIMUTH.size, FREQUENCY.size), dtype=complex)
        for k in range(sources.x.shape[1]):
            argument = sources.size_x[part, k, None, None] * step
            pattern = np.where(argument > 1e-9, 2 * scipy.special.j1(argument) / np.maximum(argument, 1e-12), 1.0)
            weight = gains[np.arange(len(low)), sources.band[part, k]] * sources.share[part, k, None]
            field += weight[:, None] * pattern * np.exp(1j * sources.x[part, k, None, None] * step)
        result[part] = np.abs(field) ** 2
    return result


def best(work: Callable[[], object], repeats: int = 9) -> float:
    """Shortest of a few runs, in time of the processor: others use the machine too [s]."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def compare(name: str, sources: Sources) -> None:
    terms = int(sources.mask.sum()) * FREQUENCY.size * AZIMUTH.size
    exact, fast = plain(sources), power(sources, FREQUENCY, AZIMUTH, 0.0)
    heard = exact > 10**-1.2
    error = np.abs(10 * np.log10(fast[heard] / exact[heard])).max()
    compiled.WORTH_LOADING = sys.maxsize
    slow_time, fast_time = best(lambda: plain(sources)), best(lambda: power(sources, FREQUENCY, AZIMUTH, 0.0))
    compiled.WORTH_LOADING = 1
    if compiled.pays(1):
        alike = np.abs(10 * np.log10(power(sources, FREQUENCY, AZIMUTH, 0.0)[heard] / fast[heard])).max()
        quick = best(lambda: power(sources, FREQUENCY, AZIMUTH, 0.0))
        print(f"{name:10} compiled: {slow_time / quick:.1f} times faster than plain, {alike:.5f} dB beside the kernel")
    print(
        f"{name:10} plain {slow_time / terms * 1e9:5.1f} ns, kernel {fast_time / terms * 1e9:5.2f} ns "
        f"a candidate x driver x frequency x direction: {slow_time / fast_time:.1f} times faster, "
        f"off by {error:.4f} dB at most down to -12 dB"
    )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    print(f"{count} candidates, {FREQUENCY.size} frequencies, {AZIMUTH.size} directions, every driver of its own size")
    for layout in ("W(T/M)W", "MTM", "WMTMW", "WMT"):
        compare(layout, one_of_each(layout, count))
    varied = describe(catalogue(count))
    for fewest in (sys.maxsize, 1):
        compiled.WORTH_LOADING = fewest
        seconds = best(lambda: profiles.profile(varied), 3)
        way = "compiled" if compiled.pays(count) else "plain"
        print(f"profiles of {count}, {way}: {seconds:.2f} s, {seconds / count * 1e6:.0f} us each")
    blobs = profiles.pack(profiles.profile(take(varied, slice(0, 200)))) * (count // 200)
    stored = profiles.unpack(blobs)
    print(f"unpack {len(stored)}: {best(lambda: profiles.unpack(blobs)) * 1e3:.1f} ms of {len(blobs[0])} bytes each")
    angles = np.linspace(-30, 30, 5)
    seats = best(lambda: [profiles.levels_at(stored.planes[:, 0], angles + 0.7 * place) for place in range(4)])
    print(f"levels at 4 places x 5 seats of {len(stored)} in {erb.BANDS} bands: {seats * 1e3:.1f} ms")


if __name__ == "__main__":
    main()
