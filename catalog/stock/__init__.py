"""The stock: what is on hand, what may be promised, and movements that cannot take more than there is."""

from triptych.catalog.database.models.ledger_tables import INTO, OUT_OF
from triptych.catalog.database.stock_levels import available, available_query
from triptych.catalog.stock.ledger import record_movement
from triptych.catalog.stock.looking import Level, level
from triptych.catalog.stock.movement_lines import MovementLine

__all__ = ["INTO", "OUT_OF", "Level", "MovementLine", "available", "available_query", "level", "record_movement"]
