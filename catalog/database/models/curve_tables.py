"""Measured response curves of loudspeakers: as they came, and what the physics makes of them."""

from __future__ import annotations

from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from triptych.catalog.database.models import base as b
from triptych.catalog.records import CurveKind, Evidence


class Curve(b.Base):
    """One measured curve.

    `raw` holds frequency, level and phase (NaN where there is none) of each point as little-endian doubles; `grid` and
    `bands` are levels as little-endian floats that the physics computed for `version`: on a logarithmic grid of
    `per_octave` points whose first is `grid_first` steps from 1 kHz, and in the ear's bands.
    """

    __tablename__ = "curve"
    __table_args__ = (
        sa.CheckConstraint("(kind IN ('horizontal', 'vertical')) = (angle IS NOT NULL)", name="angle_of_an_orbit"),
        sa.CheckConstraint("angle > -180 AND angle <= 180", name="angle_range"),
        sa.CheckConstraint("smoothing BETWEEN 1 AND 96", name="smoothing_range"),
        sa.CheckConstraint("per_octave > 0", name="per_octave_positive"),
        sa.UniqueConstraint("loudspeaker_id", "kind", "angle"),
        b.of_some("uq_curve_without_angle", "loudspeaker_id", "kind", where="angle IS NULL", unique=True),
        b.STRICT,
    )

    id: Mapped[b.Key]
    loudspeaker_id: Mapped[int] = mapped_column(sa.ForeignKey("loudspeaker.id", ondelete="CASCADE"))
    kind: Mapped[CurveKind]
    angle: Mapped[b.Degrees | None]
    source_id: Mapped[int] = mapped_column(sa.ForeignKey("source.id"))
    evidence: Mapped[Evidence]
    smoothing: Mapped[b.Count | None]
    measured_on: Mapped[date | None]
    added_at: Mapped[b.Instant]
    raw: Mapped[bytes] = mapped_column(sa.LargeBinary)
    version: Mapped[b.Count]
    per_octave: Mapped[b.Count]
    grid_first: Mapped[int] = mapped_column(info={"unit": "1"})
    grid: Mapped[bytes] = mapped_column(sa.LargeBinary)
    bands: Mapped[bytes] = mapped_column(sa.LargeBinary)
