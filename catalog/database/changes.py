"""What records would change of what is stored, worked out by reading alone, so that writing it holds up nobody."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads, rows
from triptych.catalog.database.models import Loudspeaker, Maker, Series
from triptych.catalog.errors import BadInput, Overtaken
from triptych.catalog.records import Figure, LoudspeakerRecord
from triptych.catalog.stated_records import NAME_PARTS


@dataclass(frozen=True, slots=True)
class Saved:
    """What became of the records; `retired` of them are in the catalogue, but stay hidden.

    `fresh` are the keys of those that were added or changed.
    """

    added: int = 0
    changed: int = 0
    unchanged: int = 0
    retired: int = 0
    fresh: Collection[str] = field(default=(), compare=False, repr=False)


Change = tuple[reads.Stored, LoudspeakerRecord, dict[str, Figure]]
"""A stored loudspeaker, the record that takes its place, and where its figures come from then."""


@dataclass(frozen=True, slots=True)
class Changes:
    """What is to be added and changed; `known` is what was stored under `keys` when it was worked out."""

    keys: Sequence[str]
    known: Mapping[str, reads.Stored]
    added: Sequence[LoudspeakerRecord]
    changed: Sequence[Change]

    @property
    def saved(self) -> Saved:
        """What becomes of the records when it is written."""
        retired = sum(item.retired for item in self.known.values())
        there = {item.key for item, _, _ in self.changed}
        fresh = [key for key in self.keys if key in there or key not in self.known]
        return Saved(len(self.added), len(self.changed), len(self.known) - len(self.changed), retired, fresh)


def changes_of(by_key: Mapping[str, LoudspeakerRecord], stored: Mapping[str, reads.Stored]) -> Changes:
    """Work out what `checked` records change of what is stored.

    Raises
    ------
    BadInput
        One divides a stored name otherwise.
    """
    known = {key: stored[key] for key in by_key if key in stored}
    changed: list[Change] = []
    for key, item in known.items():
        if complaint := divided_otherwise(by_key[key], item.record):
            raise BadInput(f"{by_key[key].name!r} {complaint}")
        figures = _merged_figures(item.record, by_key[key])
        if not _same(item.record, by_key[key]) or figures != dict(item.record.figures):
            changed.append((item, by_key[key], figures))
    return Changes(list(by_key), known, [record for key, record in by_key.items() if key not in known], changed)


def refuse_overtaken(session: Session, changes: Changes) -> None:
    """Hold what the changes were worked out from until the transaction ends.

    Raises
    ------
    Overtaken
        Somebody has added or changed one of the loudspeakers since.
    """
    found: dict[str, tuple[int, int]] = {}
    # always in one order, so that two files with the same loudspeakers never wait for each other for ever
    query = sa.select(Loudspeaker.name_key, Loudspeaker.id, Loudspeaker.revision).order_by(Loudspeaker.name_key)
    for part in reads.chunks(sorted(changes.keys)):
        for key, number, revision in session.execute(query.where(Loudspeaker.name_key.in_(part)).with_for_update()):
            found[key] = number, revision
    if found != {key: (item.id, item.revision) for key, item in changes.known.items()}:
        raise Overtaken("somebody else has changed the same loudspeakers meanwhile; nothing was written, try again")


def namesakes(session: Session, named: Mapping[str, tuple[str, str]]) -> dict[str, str]:
    """Give, by the same keys, the name of a loudspeaker in a series that has that maker and model, if any."""
    makers = {rows.name_key(maker) for maker, _ in named.values()}
    found: dict[tuple[str, str], str] = {}
    query = sa.select(Maker.name, Series.name, Loudspeaker.model)
    query = query.select_from(Loudspeaker).join(Maker).join(Series, Series.id == Loudspeaker.series_id)
    for part in reads.chunks(makers):
        for maker, series, model in session.execute(query.where(Maker.name_key.in_(part)).order_by(Loudspeaker.id)):
            found.setdefault((rows.name_key(maker), rows.name_key(model)), f"{maker} {series} {model}")
    meant = {key: found.get((rows.name_key(maker), rows.name_key(model))) for key, (maker, model) in named.items()}
    return {key: name for key, name in meant.items() if name}


def divided_otherwise(new: LoudspeakerRecord, old: LoudspeakerRecord) -> str | None:
    """Say that two loudspeakers of one whole name are not the same, for their makers, series or models differ."""
    if [rows.name_key(getattr(new, part)) for part in NAME_PARTS] == [
        rows.name_key(getattr(old, part)) for part in NAME_PARTS
    ]:
        return None
    return (
        f"is {_divided(new)} here, and {_divided(old)} in the catalogue; divide the name as it is there, "
        "or give this loudspeaker another"
    )


def _divided(record: LoudspeakerRecord) -> str:
    return ", ".join(f"{part} {getattr(record, part)!r}" for part in NAME_PARTS if getattr(record, part))


def checked(records: Iterable[LoudspeakerRecord], *, agreed: bool = False) -> dict[str, LoudspeakerRecord]:
    """Return records by the keys of their names; figures that are `agreed` were held to each other as they were read.

    Raises
    ------
    BadInput
        One cannot be stored, or two have one name.
    """
    by_key: dict[str, LoudspeakerRecord] = {}
    for record in records:
        rows.refuse_hidden_in(record)
        if not agreed:
            _refuse_disagreeing(record)
        key = rows.name_key(record.name)
        if key in by_key:
            raise BadInput(f"{record.name!r} comes twice: leave one of the two")
        by_key[key] = record
    return by_key


def _refuse_disagreeing(record: LoudspeakerRecord) -> None:
    rows.refuse_impossible(record)
    try:
        rows.price_row(record)
    except BadInput as problem:
        raise BadInput(f"{record.name!r}: {problem}") from None


_SPELT: Final = ("maker", "series", "family")


def _same(old: LoudspeakerRecord, new: LoudspeakerRecord) -> bool:
    return _first_spelling(old) == _first_spelling(new)


def _first_spelling(record: LoudspeakerRecord) -> tuple[object, ...]:
    names = (rows.name_key(getattr(record, name)) for name in _SPELT)
    rest = (getattr(record, name) for name in _VALUES if name not in _SPELT)
    return (*names, *rest)


_VALUES: Final = tuple(name for name in LoudspeakerRecord.__slots__ if name != "figures")


def _merged_figures(old: LoudspeakerRecord, new: LoudspeakerRecord) -> dict[str, Figure]:
    """Give the provenance after a change: that of the old where neither value, evidence nor flags are new."""
    merged: dict[str, Figure] = {}
    for quantity in sorted(old.figures.keys() | new.figures.keys()):
        before, after = old.figures.get(quantity), new.figures.get(quantity)
        stands = getattr(old, quantity, None) == getattr(new, quantity, None)
        chosen = before if stands and before and (after is None or _alike(before, after)) else after
        if chosen is not None:
            merged[quantity] = chosen
    return merged


def _alike(one: Figure, other: Figure) -> bool:
    return (one.evidence, one.flags) == (other.evidence, other.flags)
