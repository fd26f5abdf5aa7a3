"""Free text of a datasheet to figures with status, flags and raw text. No database, no terminal."""

from triptych.catalog.datasheet.reader import read_cell, read_datasheet
from triptych.catalog.datasheet.result import Fate, Field, Number, Sheet, SheetRecord, Status

__all__ = ["Fate", "Field", "Number", "Sheet", "SheetRecord", "Status", "read_cell", "read_datasheet"]
