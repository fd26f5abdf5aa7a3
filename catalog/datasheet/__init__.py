"""Free text of a datasheet to figures with status, flags and raw text. No database, no terminal."""

from triptych.catalog.datasheet.one_cell import read_cell
from triptych.catalog.datasheet.reader import read_datasheet
from triptych.catalog.datasheet.result import Fate, ReadField, ReadSheet, ReadStatus, SheetNumber, SheetRecord

__all__ = ["Fate", "ReadField", "ReadSheet", "ReadStatus", "SheetNumber", "SheetRecord", "read_cell", "read_datasheet"]
