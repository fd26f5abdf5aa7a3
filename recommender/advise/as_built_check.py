"""The check after installing: stored measurements to arrays, and the answer's figures to what was predicted."""

from __future__ import annotations

import numpy as np

from triptych.catalog.database.as_built import AsBuiltRecord
from triptych.catalog.errors import BadInput
from triptych.catalog.records import CurveRecord
from triptych.recommender.advise.advice import Standing
from triptych.recommender.physics.checks import OutOfRange
from triptych.recommender.verify.trio import SeatCurve, Trio, trio
from triptych.recommender.verify.verification import Predicted, Verification, verify


def check(record: AsBuiltRecord, standing: Standing | None) -> Verification:
    """Judge what was measured, beside what was said of the centre where it stands if that is known.

    Raises
    ------
    BadInput
        The curves don't cover the speech band together, or hold nothing but dips.
    """
    try:
        trios = [_trio(seat.seat, seat.left, seat.centre, seat.right) for seat in record.seats]
        return verify(trios, predicted(standing) if standing else None, record.trim_set)
    except OutOfRange as problem:
        raise BadInput(str(problem)) from None


def predicted(standing: Standing) -> Predicted:
    """What the answer said of a centre in its place that a measurement can show."""
    numbers = standing.quantities
    return Predicted(
        trim=numbers["trim_db"],
        timbre=numbers["timbre_rms_db"],
        timbre_high=standing.criterion_named("timbre").high,
        bounce=standing.criterion_named("surroundings").inputs["notch"],
        bay=numbers["cavity_resonance_hz"],
    )


def _trio(seat: str, *three: CurveRecord) -> Trio:
    return trio(seat, *(SeatCurve(np.array(one.frequency), np.array(one.level)) for one in three))
