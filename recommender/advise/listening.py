"""What each seat hears of the few loudspeakers that are shown, modelled directly and without smoothing."""

from __future__ import annotations

import numpy as np

from triptych.recommender.advise.advice import SeatAnswer
from triptych.recommender.advise.evaluate import Option
from triptych.recommender.advise.gather import Columns
from triptych.recommender.advise.voices import pick, sources
from triptych.recommender.physics import coverage, loudspeaker
from triptych.recommender.scene.arrays import IndexArray, Seats
from triptych.recommender.scene.hearing import own_azimuth, seat_elevation


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
    aim = option.aim.take(here)
    azimuth = [own_azimuth(aim, seats, seat) for seat in range(len(seats.name))]
    elevation = [np.nan_to_num(seat_elevation(aim, seats, seat)) for seat in range(len(seats.name))]
    spacing = loudspeaker.outer_spacing(model)
    dips = [coverage.seat_dip(model, angle, elevation[seat]) for seat, angle in enumerate(azimuth)]
    # the wider apart two drivers are, the lower they cancel
    spacings = (spacing, spacing * model.spacing_high, spacing * model.spacing_low)
    nulls = [[coverage.first_null(apart, np.abs(angle)) for apart in spacings] for angle in azimuth]
    return [
        tuple(
            SeatAnswer(
                seat=name,
                angle_deg=float(azimuth[seat][row]),
                dip_db=_known(dips[seat].level[row]) if model.usable[row] else None,
                dip_hz=_known(dips[seat].frequency[row]) if model.usable[row] else None,
                **{
                    name: _known(null[row]) if model.usable[row] else None
                    for name, null in zip(("null_hz", "null_low_hz", "null_high_hz"), nulls[seat], strict=True)
                },
            )
            for seat, name in enumerate(seats.name)
        )
        for row in range(len(rows))
    ]
