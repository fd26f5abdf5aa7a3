"""Measured curves in the main job, on either engine. All curves are synthetic."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa

from tests.recommender.advise.scenarios import TOP, WIDE, ask, criterion, fill, record, standing
from triptych.catalog.database import measured_curves as stored_curves
from triptych.catalog.database.engine import writing
from triptych.catalog.database.measured_curves import StoredCurve
from triptych.catalog.database.models import Curve
from triptych.catalog.records import CurveKind, CurveRecord, Evidence
from triptych.recommender.advise.curve_account import account_of
from triptych.recommender.advise.curve_arrays import gridded, prepare
from triptych.recommender.physics import curve

pytestmark = pytest.mark.whole

FREQUENCY = tuple(np.geomspace(30.0, 20_000.0, 120).tolist())
TOWER_NAME, WIDE_NAME = "Alder Croft Flint Tower", "Alder Croft Flint Wide"


def measured(tilt: float, kind: CurveKind = CurveKind.ON_AXIS, angle: float | None = None) -> CurveRecord:
    """A straight tilt in dB an octave."""
    level = tuple((86.0 + tilt * np.log2(np.array(FREQUENCY) / 1000.0)).tolist())
    return CurveRecord(kind, FREQUENCY, level, "synthetic", angle=angle)


def store(engine: sa.Engine, name: str, *records: CurveRecord) -> None:
    with writing(engine) as session:
        stored_curves.save_curves(session, name, [prepare(one) for one in records])


def timbre(engine: sa.Engine) -> Any:
    return criterion(standing(ask(engine, TOP), "Wide"), "timbre")


def test_curves_change_evidence_and_value_on_either_engine(engine: sa.Engine) -> None:
    fill(engine, record(WIDE))
    before = timbre(engine)
    store(engine, WIDE_NAME, measured(2.0))
    store(engine, TOWER_NAME, measured(2.0))
    alike = timbre(engine)
    store(engine, WIDE_NAME, measured(-2.0))
    apart = timbre(engine)
    assert (before.evidence, alike.evidence, apart.evidence) == ("modelled", "measured", "measured")
    assert alike.value < before.value < apart.value


def test_a_listening_window_stands_in_for_a_curve_on_the_axis(engine: sa.Engine) -> None:
    fill(engine, record(WIDE))
    for name in (WIDE_NAME, TOWER_NAME):
        store(engine, name, measured(0.0, CurveKind.LISTENING_WINDOW))
    assert timbre(engine).evidence == "measured"


def test_curves_of_an_older_version_are_prepared_anew_from_their_points(engine: sa.Engine) -> None:
    fill(engine, record(WIDE))
    store(engine, WIDE_NAME, measured(2.0))
    store(engine, TOWER_NAME, measured(-1.0))
    before = timbre(engine)
    with writing(engine) as session:
        session.execute(sa.update(Curve).values(version=0, bands=b""))
    assert timbre(engine).value == pytest.approx(before.value)


def test_the_grid_of_a_stored_curve_is_that_of_its_levels() -> None:
    prepared = prepare(measured(3.0))
    frequency, level = gridded(prepared)
    np.testing.assert_allclose(frequency, curve.log_grid(FREQUENCY[0], FREQUENCY[-1]), rtol=1e-12)
    np.testing.assert_allclose(level[1:-1], 86.0 + 3.0 * np.log2(frequency[1:-1] / 1000.0), atol=1e-3)


def full_set(evidence: Evidence, rolls_off_at: float) -> list[StoredCurve]:
    """A loudspeaker that is alike in all directions, with a Butterworth high-pass of order 4."""
    level = 86.0 - 10.0 * np.log10(1.0 + (rolls_off_at / np.array(FREQUENCY)) ** 8)
    made = []
    for kind in (CurveKind.HORIZONTAL, CurveKind.VERTICAL):
        for angle in range(-170, 181, 10):
            one = replace(measured(0.0, kind, float(angle)), level=tuple(level.tolist()), evidence=evidence)
            prepared = prepare(one)
            parts = {entry.name: getattr(prepared, entry.name) for entry in fields(prepared)}
            made.append(StoredCurve(**parts, added_at=datetime.now(UTC)))
    return made


def test_a_preference_figure_needs_measured_data_and_the_loudspeakers_reach() -> None:
    # flat and alike in all directions, so the reach decides: 12.69 - 4.31 lg f6 + 2.32 SM (AES 6190, from memory),
    # f6 where the Butterworth high-pass has fallen by 6 dB, SM from 0 to 1
    figure = account_of(full_set(Evidence.MEASURED, 60.0)).preference
    six_down = 60.0 * (10**0.6 - 1) ** (-1 / 8)
    least = 12.69 - 4.31 * np.log10(six_down)
    assert figure.value is not None
    assert least - 0.3 < figure.value < least + 2.32
    assert account_of(full_set(Evidence.STATED, 60.0)).preference.value is None
    assert "stated" in account_of(full_set(Evidence.STATED, 60.0)).preference.why
    assert "reach is unknown" in account_of(full_set(Evidence.MEASURED, 1.0)).preference.why
    assert account_of(full_set(Evidence.MEASURED, 60.0)[1:]).preference.value is None
    assert account_of([]).preference.value is None
