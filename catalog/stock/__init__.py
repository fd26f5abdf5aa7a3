"""The stock: what is on hand, what may be promised, and movements that cannot take more than there is."""

from triptych.catalog.database.availability import alike_query, available, available_query, ids_in_stock
from triptych.catalog.database.models.ledger_tables import INTO, OUT_OF
from triptych.catalog.stock.ledger import Level, level, record_movement
from triptych.catalog.stock.lines import LARGEST, Line

__all__ = [
    "INTO",
    "LARGEST",
    "OUT_OF",
    "Level",
    "Line",
    "alike_query",
    "available",
    "available_query",
    "ids_in_stock",
    "level",
    "record_movement",
]
