"""A loudspeaker that was read, and what a person adds to it, to the record that the catalogue stores."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final

from triptych.catalog.datasheet.name_parts import GUESSED
from triptych.catalog.datasheet.result import GIVEN, ReadField, ReadStatus, SheetRecord
from triptych.catalog.datasheet.titles import PLACED
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS, REQUIRED
from triptych.catalog.names import name_key
from triptych.catalog.problems import nearest
from triptych.catalog.records import Figure, LoudspeakerRecord
from triptych.catalog.stated_records import NAME_PARTS, record_from_texts, values_of

INFERRED: Final = "inferred"
"""The flag of a figure that does not stand in the sheet as such."""
BY_PAIR: Final = "--set {column}=..."
"""How a figure is said where columns are given as pairs."""
BY_OPTION: Final = "--{option} ..."
"""How a figure is said where each column has an option."""
_NAMES: Final = (*NAME_PARTS, "family")
"""Columns that name a loudspeaker, whose source is the loudspeaker's own."""


def record_of(
    found: SheetRecord,
    source: str,
    given: Mapping[str, str],
    old: LoudspeakerRecord | None = None,
    *,
    say: str = BY_PAIR,
) -> LoudspeakerRecord:
    """Return the record of one loudspeaker of a sheet, each figure with its raw text, source and flags.

    Parameters
    ----------
    found : SheetRecord
        As it was read; what was refused stays unknown.
    source : str
        Where the text comes from.
    given : mapping of str to str
        Columns that a person says, in the words of the loudspeaker file; they stand above what was read.
    old : LoudspeakerRecord, optional
        What is known of the loudspeaker already; what neither sheet nor person says stays as it is there.
    say : str
        How a person says a figure, such as `BY_OPTION`.

    Raises
    ------
    BadInput
        Maker, model or roles are not known, or figures contradict each other; with how to say what is missing.
    """
    for name in given:
        if name not in COLUMNS:
            raise BadInput(f"{name!r} is no column; {nearest(name, COLUMNS)}")
    read = _read(found, given)
    if old is not None and not {"series", "model"} & set(given) and _same_maker(read, old):
        # found by its whole name, however the rest of it is divided
        read |= {"series": old.series, "model": old.model}
    unsure = {} if old is not None else {name: read[name] for name in only_placed(found, given) if name in read}
    if unsure:
        raise BadInput(
            "\n".join(
                f"{name}: is it {value!r}? {PLACED}; say --{name} {value!r} if it is" for name, value in unsure.items()
            )
        )
    known = {} if old is None else values_of(old) | dict.fromkeys(NAME_PARTS)
    record, faults = record_from_texts(given, source, known | read)
    if record is None:
        raise BadInput("\n".join(_complaint(name, why, {**known, **read, **given}, say) for name, why in faults))
    figures = {name: _figure(found.fields[name], source) for name in read if name not in (*_NAMES, *given)}
    typed = {name: Figure(text, GIVEN) for name, text in given.items() if name not in _NAMES}
    by_hand = {name: figure for name, figure in typed.items() if getattr(record, name) is not None}
    return replace(record, figures=MappingProxyType(figures | dict(record.figures) | by_hand))


def only_placed(found: SheetRecord, given: Mapping[str, str]) -> list[str]:
    """Return the columns of the name that nothing but its place tells, and nobody said."""
    return [
        name for name in NAME_PARTS if name not in given and name in found.fields and PLACED in found.fields[name].flags
    ]


def name_of(found: SheetRecord, given: Mapping[str, str]) -> str:
    """Return the name of a loudspeaker of a sheet, as far as sheet and person say it."""
    read = _read(found, given)
    try:
        parts = [COLUMNS[part].read(given[part]) if part in given else read.get(part) for part in NAME_PARTS]
    except BadInput:
        return ""
    return " ".join(part for part in parts if part)


def _same_maker(read: Mapping[str, Any], old: LoudspeakerRecord) -> bool:
    return name_key(read.get("maker") or old.maker) == name_key(old.maker)


def _read(found: SheetRecord, given: Mapping[str, str]) -> dict[str, Any]:
    """What the sheet says and what a person says leaves standing, by column."""
    read = found.values
    if not (given.get("currency") or read.get("currency")):
        read.pop("price", None)
    if not given.get("low_limit", read.get("low_limit")):
        read.pop("low_limit_drop", None)
    guess = found.fields.get("maker")
    if guess is not None and GUESSED in guess.flags and read.get("model"):
        # a guess is shown, not stored: who says the maker's name says where it ends
        read["model"] = f"{read.pop('maker')} {read['model']}"
    maker, model = given.get("maker") or read.get("maker") or "", read.get("model") or ""
    if maker and model.casefold().startswith(f"{maker.casefold()} "):
        # a heading names maker and model together
        read["model"] = model[len(maker) :].strip()
    series, model = given.get("series", read.get("series")) or "", read.get("model") or ""
    if series and "model" not in given and model.casefold().startswith(f"{series.casefold()} "):
        # a sheet calls it by both together: the whole name stays as it is, and its series is known
        read["model"] = model[len(series) :].strip()
    elif "series" not in given and given.get("model", "").casefold().startswith(f"{series.casefold()} "):
        read.pop("series", None)
    return read


def _figure(field: ReadField, source: str) -> Figure:
    flags = field.flags if field.status is ReadStatus.READ else (INFERRED, *field.flags)
    return Figure(field.raw, source, flags=flags)


def _complaint(name: str, why: str, told: Mapping[str, Any], say: str) -> str:
    if name in REQUIRED and not told.get(name):
        return f"{name}: not in the sheet; say it with --{name}, or add a line '{name}: ...'"
    return f"{name}: {why}; say what is right with {say.format(column=name, option=name.replace('_', '-'))}"
