"""What each seat hears of the few loudspeakers that are shown, modelled directly and without smoothing."""

from __future__ import annotations

import numpy as np

from recommender.advise.advice import SeatAnswer
from recommender.advise.evaluate import Option
from recommender.advise.gather import Columns
from recommender.advise.voices import pick, sources
from recommender.hearing import seat_elevation
from recommender.physics import coverage, loudspeaker
from recommender.scene import IndexArray, Seats


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def seat_answers(
    columns: Columns, rows: IndexArray, candidates: IndexArray, option: Option, seats: Seats
) -> list[tuple[SeatAnswer, ...]]:
    """For each of some `candidates`, standing as in `option`: its angle, deepest dip and null at every seat.

    `rows` are the candidates' rows in the catalogue's `columns`.
    """
    model = sources(pick(columns, rows))
    if option.pose == "on_side":
        model = loudspeaker.turned(model)
    here = np.searchsorted(option.index, candidates)
    azimuth = option.azimuth
    aim = option.aim.take(here)
    elevation = [np.nan_to_num(seat_elevation(aim, seats, seat)) for seat in range(len(seats.name))]
    spacing = loudspeaker.outer_spacing(model)
    dips = [coverage.seat_dip(model, float(angle), elevation[seat]) for seat, angle in enumerate(azimuth)]
    nulls = [coverage.first_null(spacing, np.abs(angle)) for angle in azimuth]
    return [
        tuple(
            SeatAnswer(
                seat=name,
                angle_deg=float(azimuth[seat]),
                dip_db=_known(dips[seat].level[row]) if model.usable[row] else None,
                dip_hz=_known(dips[seat].frequency[row]) if model.usable[row] else None,
                null_hz=_known(nulls[seat][row]) if model.usable[row] else None,
            )
            for seat, name in enumerate(seats.name)
        )
        for row in range(len(rows))
    ]
