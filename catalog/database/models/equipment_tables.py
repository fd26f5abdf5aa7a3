"""What a system needs beside its loudspeakers."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from triptych.catalog.database.models import base as b
from triptych.catalog.equipment_record import EQUIPMENT

_OWN = [column for name, column in EQUIPMENT.items() if name != "serves"]


class Equipment(b.Base):
    """A receiver, an amplifier, a source, a stand, a mount or a cable, with its price today."""

    __tablename__ = "equipment"
    __table_args__ = (
        sa.UniqueConstraint("name_key"),
        sa.CheckConstraint("name_key <> ''", name="named"),
        *b.checks(_OWN),
        *b.not_negative("price"),
        sa.CheckConstraint("price IS NULL OR currency IS NOT NULL", name="price_in_a_currency"),
        sa.CheckConstraint("length(currency) = 3 AND currency = upper(currency)", name="currency_code"),
        sa.CheckConstraint("(power IS NULL) = (power_into IS NULL)", name="power_into_a_load"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    name_key: Mapped[b.NameKey]
    serves: Mapped[str | None] = mapped_column(info={"means": EQUIPMENT["serves"].about.meaning})


b.add_columns(Equipment, _OWN)
