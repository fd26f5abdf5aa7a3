"""The stock: what is on hand, what may be promised, and movements that cannot take more than there is."""

from triptych.catalog.database.models.ledger_tables import INTO, OUT_OF
from triptych.catalog.stock.availability import alike_query, available, available_query, ids_in_stock
from triptych.catalog.stock.holdings import Level, level
from triptych.catalog.stock.lines import LARGEST, Line
from triptych.catalog.stock.movements import record_movement, record_movements
from triptych.catalog.stock.posting import post, post_transfer

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
    "post",
    "post_transfer",
    "record_movement",
    "record_movements",
]
