"""A datasheet of one line: a column's name and a text."""

from __future__ import annotations

from triptych.catalog.datasheet import ReadField, ReadStatus, read_datasheet


def read_one(column: str, text: str) -> ReadField | None:
    """What the line says of the column; None where that is nothing, or more than the column holds."""
    records = read_datasheet(f"{column}: {' '.join(text.split())}").records
    if len(records) != 1 or records[0].unread:
        return None
    fields = records[0].fields
    # a sheet that does not state its field is told so, which is no second figure
    others = {name for name in fields if name != column} - {"sensitivity_basis"}
    stated = fields.get("sensitivity_basis")
    return None if others or (stated and stated.status is ReadStatus.READ) else fields.get(column)
