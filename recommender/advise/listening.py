"""What each seat hears of the few loudspeakers that are shown, modelled directly and without smoothing."""

from __future__ import annotations

import numpy as np

from triptych.recommender.advise.advice import SeatAnswer, known
from triptych.recommender.advise.options import Option
from triptych.recommender.physics import coverage, description, loudspeaker
from triptych.recommender.scene.arrays import IndexArray, Seats
from triptych.recommender.scene.hearing import own_azimuth, seat_elevation


def seat_answers(
    drivers: description.Columns, candidates: IndexArray, option: Option, seats: Seats
) -> list[tuple[SeatAnswer, ...]]:
    """For each of some `candidates`, standing as in `option`: its angle, deepest dip and null at every seat.

    `drivers` are the candidates'.
    """
    model = description.describe(drivers)
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
                dip_db=known(dips[seat].level[row]) if model.usable[row] else None,
                dip_hz=known(dips[seat].frequency[row]) if model.usable[row] else None,
                **{
                    name: known(null[row]) if model.usable[row] else None
                    for name, null in zip(("null_hz", "null_low_hz", "null_high_hz"), nulls[seat], strict=True)
                },
            )
            for seat, name in enumerate(seats.name)
        )
        for row in range(len(candidates))
    ]
