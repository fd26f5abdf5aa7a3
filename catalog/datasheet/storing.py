"""A loudspeaker that was read, and what a person adds to it, to the record that the catalogue stores."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from triptych.catalog.datasheet.result import GIVEN, Field, SheetRecord, Status
from triptych.catalog.errors import BadInput
from triptych.catalog.files.loudspeaker_columns import COLUMNS, REQUIRED
from triptych.catalog.files.loudspeakers import record_from_texts
from triptych.catalog.files.problems import nearest
from triptych.catalog.records import Figure, LoudspeakerRecord

INFERRED: Final = "inferred"
"""The flag of a figure that does not stand in the sheet as such."""


def record_of(found: SheetRecord, source: str, given: Mapping[str, str]) -> LoudspeakerRecord:
    """Return the record of one loudspeaker of a sheet, each figure with its raw text, source and flags.

    Parameters
    ----------
    found : SheetRecord
        As it was read; what was refused stays unknown.
    source : str
        Where the text comes from.
    given : mapping of str to str
        Columns that a person says, in the words of the loudspeaker file; they stand above what was read.

    Raises
    ------
    BadInput
        Maker, model or roles are not known, or figures contradict each other; with how to say what is missing.
    """
    for name in given:
        if name not in COLUMNS:
            raise BadInput(f"{name!r} is no column; {nearest(name, COLUMNS)}")
    texts = {name: COLUMNS[name].text(value) for name, value in found.values.items()} | dict(given)
    if "currency" not in texts:
        texts.pop("price", None)
    if not texts.get("low_limit"):
        texts.pop("low_limit_drop", None)
    maker, model = texts.get("maker", ""), texts.get("model", "")
    if "model" not in given and maker and model.casefold().startswith(f"{maker.casefold()} "):
        # a heading names maker and model together
        texts["model"] = model[len(maker) :].strip()
    record, faults = record_from_texts(texts, source)
    if record is None:
        raise BadInput("\n".join(_complaint(name, why, texts) for name, why in faults))
    read = {name: _figure(field, source) for name, field in found.fields.items() if name in record.figures}
    figures = dict(record.figures) | {name: figure for name, figure in read.items() if name not in given}
    figures |= {name: Figure(text, GIVEN) for name, text in given.items() if name in record.figures}
    return replace(record, figures=MappingProxyType(figures))


def _figure(field: Field, source: str) -> Figure:
    flags = field.flags if field.status is Status.READ else (INFERRED, *field.flags)
    return Figure(field.raw, source, flags=flags)


def _complaint(name: str, why: str, texts: Mapping[str, str]) -> str:
    if name in REQUIRED and not texts.get(name):
        return f"{name}: not in the sheet; say it with --{name}, or add a line '{name}: ...'"
    return f"{name}: {why}; say what is right with --set {name}=..."
