"""What no datasheet says: loudspeakers of one description differ, and mostly by no more than the model allows."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.recommender.physics import boxes as made_up
from triptych.recommender.judge.criteria import evenness
from triptych.recommender.physics import description
from triptych.recommender.physics.kernel import Single
from triptych.recommender.physics.loudspeaker import Radiator, Sources
from triptych.recommender.physics.profile import decibels, levels_at, profile
from triptych.recommender.physics.timbre import seat_weights
from triptych.recommender.scene.arrays import FloatArray
from triptych.recommender.scene.model_doubt import Unsaid, free_air

CHANGES: dict[str, dict[str, float]] = {
    "larger cones": {"cone": 1.04},
    "smaller cones": {"cone": 0.96},
    "larger dome": {"dome": 1.15},
    "smaller dome": {"dome": 0.85},
    "higher crossovers": {"crossover": 1.1},
    "lower crossovers": {"crossover": 1 / 1.1},
    "gentler slopes": {"order": 3},
    "steeper slopes": {"order": 6},
    "gentlest slopes": {"order": 2},
    "steepest slopes": {"order": 8},
}
"""By what a loudspeaker may differ from its description: common practice, no source."""


def changed(model: Sources, cone: float = 1, dome: float = 1, crossover: float = 1, order: int = 0) -> Sources:
    """A description of fourth order with other sizes, crossovers or slopes."""
    high = model.band == model.band.max(axis=1, keepdims=True)
    factor = np.where(model.kind == Radiator.PISTON, np.where(high, dome, cone), 1.0)
    return replace(
        model,
        size_x=model.size_x * factor,
        size_y=model.size_y * factor,
        crossover=model.crossover * crossover,
        order=np.full_like(model.order, order or 4),
    )


LYING: dict[str, Any] = {
    "lying": True, "width": 0.55, "height": 0.2, "tweeter_type": "dome", "tweeter_size": 0.025, "woofer_size": 0.13,
    "woofer_spacing": 0.32, "crossover_order": 4,
    "layout": np.array(["MTM", "W(T/M)W", "W(TM)W", "TM", "WMTMW", "(TM)"], dtype=object),
}  # fmt: skip
"""Centres of the usual layouts."""


def described(**change: float) -> Sources:
    return changed(description.describe(made_up.columns(len(LYING["layout"]), **LYING)), **change)  # type: ignore[arg-type]  # an order is a whole number


@pytest.mark.whole
def test_two_of_one_description_mostly_differ_by_no_more_than_the_model_allows() -> None:
    angles = np.array([0.0, -25.0, -12.5, 12.5, 25.0])

    def at_seats(**change: float) -> tuple[Single, Single]:
        found = profile(described(**change))
        return levels_at(found.planes[:, 0], angles), decibels(found.sound_power)

    levels, power = at_seats()
    no = np.zeros(len(levels), np.bool_)
    allowed = free_air(levels, power, np.zeros_like(power), no, no, Unsaid(*np.zeros((3, len(power))))).spread
    inside = []
    for change in CHANGES.values():
        others, sent = at_seats(**change)
        shape = sent - power - (sent - power).mean(axis=-1, keepdims=True)
        apart = np.square(others - levels).mean(axis=-1) @ seat_weights(5) + np.square(shape).mean(axis=-1)
        inside.append(np.sqrt(apart / 2) <= allowed)
    assert np.mean(inside) > 5 / 6
    assert np.median(allowed) < 1.5


@pytest.mark.whole
def test_the_coverage_of_most_of_one_description_is_within_the_doubt_of_the_model() -> None:
    def loss(**change: float) -> FloatArray:
        return evenness.worst_seat(levels_at(profile(described(**change)).planes[:, 0], np.array([15.0]))).loss

    plain = loss()
    inside = [
        (loss(**change) <= evenness.MODEL_DOUBT * plain + 0.1) & (loss(**change) >= plain / evenness.MODEL_DOUBT - 0.1)
        for change in CHANGES.values()
    ]
    assert np.mean(inside) > 0.8
