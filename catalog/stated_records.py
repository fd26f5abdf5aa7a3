"""What is said of one loudspeaker made a record: of values, of texts, and beside what is known of it already."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from operator import attrgetter
from types import MappingProxyType
from typing import Any, Final

from triptych.catalog.cell_readings import CellReader, Stated
from triptych.catalog.consistency import UNKNOWN, Fault, Values, broken, faults
from triptych.catalog.fields import COLUMNS, REQUIRED
from triptych.catalog.names import name_key
from triptych.catalog.numerals import Mark
from triptych.catalog.records import Figure, LoudspeakerRecord

NOTHING: Final[Mapping[str, Any]] = MappingProxyType({})
"""What stands where nothing is given."""

NAME_PARTS: Final = ("maker", "series", "model")
"""The columns that name a loudspeaker."""

SOURCED: Final = frozenset(COLUMNS) - {*NAME_PARTS, "family", "note", "status"}
"""The columns of which it is kept where a value comes from: figures and words; a name's source is the loudspeaker's."""

_BESIDE: Final[Mapping[str, tuple[str, ...]]] = {"low_limit_drop": ("low_limit",)}
_of_columns: Final[Callable[[LoudspeakerRecord], tuple[Any, ...]]] = attrgetter(*COLUMNS)


def values_of(record: LoudspeakerRecord) -> dict[str, Any]:
    """Return what a record holds, by column."""
    return dict(zip(COLUMNS, _of_columns(record), strict=True))


def record_of(
    values: Values, unread: Collection[str] = (), figures: Mapping[str, Figure] = NOTHING
) -> tuple[LoudspeakerRecord | None, list[Fault]]:
    """Return the record that values make with the default that the format states, or None and every fault.

    Parameters
    ----------
    values : mapping
        By column.
    unread : collection of str
        Columns whose texts could not be read: no reason to call another one wrong.
    figures : mapping
        Where the values come from.
    """
    missing = [(name, "is empty or unknown; it is required") for name in REQUIRED if not values.get(name)]
    told = [fault for fault in missing if fault[0] not in unread]
    if missing:
        return None, told
    whole = {**UNKNOWN, **values}
    whole["family"] = family_of(whole["family"], whole["maker"], whole["series"])
    found = broken(whole)
    told = [(name, why) for name, why in found if not {name, *_BESIDE.get(name, ())} & set(unread)]
    return (None if told or unread else LoudspeakerRecord(**whole, figures=figures)), told


def record_from_texts(
    texts: Mapping[str, str],
    source: str,
    beside: Values = NOTHING,
    marks: Mapping[str, Mark | None] = NOTHING,
    reader: CellReader | None = None,
) -> tuple[LoudspeakerRecord | None, list[Fault]]:
    """Return the record that texts by column state, or None, and every fault by column.

    Parameters
    ----------
    texts : mapping of str to str
        Columns that are left out are as in `beside`, or unknown.
    source : str
        Where the figures come from.
    beside : mapping
        Values that stand where no text does.
    marks : mapping of str to str
        The decimal marks of columns, for numbers that could be read two ways.
    reader : CellReader, optional
        What reads the texts of many loudspeakers, by marks of its own.
    """
    reader = reader or CellReader(marks)
    told, known, unread = reader.values(texts, SOURCED)
    values = {**beside, **told}
    if values.get("price") is not None and (price := texts.get("price")):
        currency, complaint = reader.currency(price, values.get("currency"))
        if complaint:
            unread.append(("price", complaint))
        else:
            values["currency"] = currency
    record, found = record_of(values, {name for name, _ in unread}, Stated(known, source))
    return record, unread + found


def record_beside(
    old: LoudspeakerRecord,
    texts: Mapping[str, str],
    source: str,
    marks: Mapping[str, Mark | None] = NOTHING,
    reader: CellReader | None = None,
) -> tuple[LoudspeakerRecord | None, list[Fault]]:
    """Return what texts by column make of a known loudspeaker, or None, and every fault by column.

    What no text says stays as it is known. A figure that stays keeps where it came from.
    """
    # a name is said as a whole or not at all
    known = values_of(old) | (dict.fromkeys(NAME_PARTS) if "model" in texts else {})
    record, faults = record_from_texts(texts, source, known, marks, reader)
    if record is None:
        return None, faults
    stays = {name for name in COLUMNS if getattr(record, name) == getattr(old, name)}
    kept = {name: figure for name, figure in old.figures.items() if name in stays or name not in COLUMNS}
    told = {name: figure for name, figure in record.figures.items() if name not in stays}
    return replace(record, figures=MappingProxyType(kept | told)), faults


def cleared(old: LoudspeakerRecord, new: LoudspeakerRecord, texts: Mapping[str, str]) -> dict[str, str]:
    """Return the figures of a known loudspeaker that vanish because their texts are empty, as they are known."""
    empty = [name for name, text in texts.items() if COLUMNS[name].says_nothing(text)]
    lost = [name for name in empty if not _stands(getattr(old, name), getattr(new, name))]
    # a currency may stand in the price
    return {name: COLUMNS[name].shown(getattr(old, name)) for name in lost if name != "currency" or not new.currency}


def renamed(record: LoudspeakerRecord, **parts: str | None) -> LoudspeakerRecord:
    """Return a record under another maker, series or model; a family that is maker and series goes along."""
    new = replace(record, **parts)  # type: ignore[arg-type]  # of the names alone
    derived = name_key(record.family) == name_key(record.maker, record.series)
    if not derived and record.family is not None:
        return new
    return replace(new, family=None if new.series is None else f"{new.maker} {new.series}")


_TOGETHER: Final[Mapping[str, tuple[str, ...]]] = {
    "sensitivity": ("sensitivity_basis",),
    "low_limit": ("low_limit_drop",),
    "price": ("currency", "price_per", "tax", "tax_rate"),
}
"""What a figure holds under: taken over with it, or not at all."""

_OF_A_POSE: Final = ("orientation", "width", "height", "axis_height")


def filled(record: LoudspeakerRecord, other: LoudspeakerRecord) -> LoudspeakerRecord:
    """Return a record with what only another one of the same loudspeaker knows, with its sources.

    Where the two would contradict each other, nothing is taken over.
    """
    unknown = [name for name in COLUMNS if getattr(record, name) is None and getattr(other, name) is not None]
    unknown = [name for name in unknown if name not in ("series", "family")]
    for head, theirs in _TOGETHER.items():
        if head not in unknown:
            unknown = [name for name in unknown if name not in theirs]
    if record.orientation != other.orientation and any(getattr(record, name) is not None for name in _OF_A_POSE):
        unknown = [name for name in unknown if name not in _OF_A_POSE]
    beside = [name for head, theirs in _TOGETHER.items() if head in unknown for name in theirs]
    taken = {name: getattr(other, name) for name in (*unknown, *beside)}
    figures = {name: figure for name, figure in other.figures.items() if name in taken}
    new = replace(record, **taken, figures=MappingProxyType({**record.figures, **figures}))
    return record if faults(values_of(new)) else new


def _stands(known: Any, now: Any) -> bool:
    """Whether a value is there still; a name in another case is the same."""
    return known is None or known == now or (isinstance(known, str) and known.casefold() == str(now).casefold())


def family_of(family: str | None, maker: str, series: str | None) -> str | None:
    """Return the family that the format states where none is: maker and series.

    It is the one default: the field of a sensitivity is anechoic where nobody says, but stays unsaid, as what is judged
    then is no statement.
    """
    return family if family is not None or series is None else f"{maker} {series}"
