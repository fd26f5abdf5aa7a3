"""The check after installing as programs read it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from triptych.catalog.database.as_built import AsBuiltRecord
from triptych.catalog.ways_told import Told, Views, key
from triptych.recommender.verify.dips import Dip, Sign
from triptych.recommender.verify.filters import Filter, Fit, Shape
from triptych.recommender.verify.verification import Closeness, PromisedFigure, SeatCloseness, Verification

DECIBELS: Final = Told(digits=2)
HERTZ: Final = Told(digits=0)
ROUGH: Final = Told(digits=1)
"""What is found by its place in a curve, or was only predicted."""


@dataclass(frozen=True, slots=True)
class Verified:
    """A check of what stands in a room, with what came of it."""

    room: str
    record: AsBuiltRecord
    found: Verification


VERIFIED: Final[Views] = {
    Verified: (
        key("room"),
        key("mains", "record.mains"),
        key("speaker", "record.speaker"),
        key("place", "record.place"),
        key("trim_set_db", "record.trim_set", DECIBELS),
        key("trim_db", "found.trim", DECIBELS),
        key("timbre_rms_db", "found.timbre", DECIBELS),
        key("seats", "found.seats"),
        key("correction", "found.correction"),
        key("not_correctable", "found.dips"),
        key("placement", "found.signs"),
        key("promises", "found.promises"),
    ),
    SeatCloseness: (key("seat"), key("trim_db", "trim", DECIBELS), key("bands")),
    Closeness: (
        key("band"),
        key("low_hz", "low", HERTZ),
        key("high_hz", "high", HERTZ),
        key("rms_db", "rms", DECIBELS),
        key("mean_db", "mean", DECIBELS),
        key("worst_db", "worst", DECIBELS),
        key("worst_hz", "at", HERTZ),
        key("verdict"),
    ),
    Fit: (
        key("filters"),
        key("trim_db", "level", DECIBELS),
        key("rms_before_db", "rms_before", DECIBELS),
        key("rms_after_db", "rms_after", DECIBELS),
    ),
    Filter: (
        key("kind", lambda one: one.kind.value.replace(" ", "_")),
        key("frequency_hz", "frequency", HERTZ),
        key("gain_db", "gain", DECIBELS),
        key("quality", lambda one: one.quality if one.kind is Shape.BELL else None, Told(digits=2)),
    ),
    Dip: (
        key("seat"),
        key("frequency_hz", "frequency", HERTZ),
        key("depth_db", "depth", ROUGH),
        key("width_octave", "width", Told(digits=2)),
        key("moves_with_seat", "moves"),
        key("absent_at", "elsewhere"),
    ),
    Sign: (
        key("what"),
        key("predicted_hz", "predicted", ROUGH),
        key("shows"),
        key("found_hz", "found", ROUGH),
        key("size_db", "size", ROUGH),
        key("mains_too"),
    ),
    PromisedFigure: (
        key("what"),
        key("predicted_db", "predicted", DECIBELS),
        key("low_db", "low", DECIBELS),
        key("high_db", "high", DECIBELS),
        key("measured_db", "measured", DECIBELS),
        key("met"),
    ),
}
"""Each quantity's name ends with its unit."""
