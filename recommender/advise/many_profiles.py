"""Acoustic profiles of many loudspeakers, computed on every processor."""

from __future__ import annotations

from collections.abc import Generator
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from triptych.recommender.advise.processors import processors, shared_out
from triptych.recommender.physics import description
from triptych.recommender.physics.profile import RECORD, pack, profile
from triptych.recommender.scene.arrays import IndexArray

Computed: TypeAlias = Generator[tuple[IndexArray, list[bytes]], None, None]

COMPUTED_TOGETHER: Final = 500
"""So many are computed and packed at once: what they are made of takes several times as much as what is kept."""

SORTED: Final = 8_000
"""So many are put in order by their layouts: those that are laid out alike cost less together, and of those that come
first some of every layout are among the first that are computed."""


def computed(drivers: description.Columns, rows: IndexArray) -> Computed:
    """Yield some rows and their profiles as they are stored, as they get ready; closed early, no more is done."""
    shares = [
        some for first in range(0, len(rows), SORTED) for some in _alike_together(drivers, rows[first : first + SORTED])
    ]
    in_a_process = -(-len(rows) // processors())

    def packed(some: IndexArray) -> bytes:
        return b"".join(pack(profile(description.describe(drivers.take(some)), in_a_process)))

    size = RECORD.itemsize
    for at, joined in shared_out(packed, shares):
        yield shares[at], [joined[start : start + size] for start in range(0, len(joined), size)]


def _alike_together(drivers: description.Columns, rows: IndexArray) -> list[IndexArray]:
    """The rows in order of their layouts, so many as are computed at once in each."""
    some = drivers.take(rows)
    looks: list[NDArray[np.generic]] = [
        np.array([text or "" for text in column], dtype=str) for column in (some.layout, some.tweeter_type)
    ]
    looks += [some.woofer_count, some.midrange_count, some.lying]
    order = rows[np.lexsort(looks)]
    return [order[start : start + COMPUTED_TOGETHER] for start in range(0, len(order), COMPUTED_TOGETHER)]
