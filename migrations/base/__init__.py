"""The tables of the base, as they were when it was written: what the models say later changes nothing here."""

from triptych.migrations.base import catalogue, trade
from triptych.migrations.base.kinds import TABLES

__all__ = ["TABLES", "catalogue", "trade"]
