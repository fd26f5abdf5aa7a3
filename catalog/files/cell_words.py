"""Cells that say more than a figure, such as '16 kg (pair)': read as a datasheet is, whole or not at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from triptych.catalog.cell_readings import CellReader
from triptych.catalog.fields import COLUMNS
from triptych.catalog.records import Figure, LoudspeakerRecord


@dataclass(frozen=True, slots=True)
class WordyCell:
    """A figure that a cell says beside other things: the cell as it stands, and what is to be told of the figure."""

    raw: str
    flags: tuple[str, ...]
    told: str


def as_on_a_sheet(texts: Mapping[str, str], reader: CellReader) -> tuple[Mapping[str, str], dict[str, WordyCell]]:
    """Return the texts of a row, with those that are no value in the words of the file read as a datasheet's.

    What such a cell says of another column, such as the slope of a crossover, stands where that has no cell of its own.
    """
    wordy = [name for name, text in texts.items() if text and reader.read(name, text)[1]]
    if not wordy:
        return texts, {}
    # what reads datasheets is not quick to import
    from triptych.catalog.datasheet import ReadStatus, read_cell

    plain: dict[str, str] = {}
    said: dict[str, WordyCell] = {}
    for name in wordy:
        text = texts[name]
        for other, found in (read_cell(name, text) or {}).items():
            if other != name and (texts.get(other, "").strip() or other in said):
                continue
            plain[other] = COLUMNS[other].text(found.value)
            status = () if found.status is ReadStatus.READ else (found.status.value,)
            flags = (*status, *found.flags)
            told = f"{text!r} is read as {COLUMNS[other].shown(found.value)}" + (
                f": {'; '.join(found.flags)}" if found.flags else ""
            )
            said[other] = WordyCell(text, flags, told)
    return {**texts, **plain}, said


def with_words(record: LoudspeakerRecord, said: Mapping[str, WordyCell], source: str) -> LoudspeakerRecord:
    """Return a record whose figures from wordy cells are told as they stand there."""
    figures = {
        name: Figure(cell.raw, source, flags=cell.flags)
        for name, cell in said.items()
        if getattr(record, name) is not None
    }
    return replace(record, figures=MappingProxyType({**record.figures, **figures}))
