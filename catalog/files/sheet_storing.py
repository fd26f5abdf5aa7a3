"""A datasheet that was looked through into the catalogue: what would be stored is worked out first, then written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import Engine

from triptych.catalog.database.changes import Changes, Saved, changes_of, checked, refuse_overtaken
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.kinship import Doubt, doubts
from triptych.catalog.database.reads import Stored, stored_by_key
from triptych.catalog.database.rows import name_key
from triptych.catalog.database.writes import write_changes
from triptych.catalog.datasheet.result import SheetRecord
from triptych.catalog.datasheet.review import SheetReview
from triptych.catalog.datasheet.storing import BY_PAIR, name_of, record_of
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stated_records import cleared


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """What storing a review does, worked out by reading alone.

    `kept` tells what was refused and stays as the catalogue has it, `cleared` which known figures an empty answer
    clears, and `doubts` new names that are nearly known ones.
    """

    records: tuple[LoudspeakerRecord, ...]
    changes: Changes
    kept: tuple[str, ...]
    cleared: tuple[str, ...]
    doubts: tuple[Doubt, ...]

    @property
    def names(self) -> str:
        """The loudspeakers' names, with commas between."""
        return ", ".join(record.name for record in self.records)


def plan_sheet(engine: Engine, review: SheetReview) -> SheetPlan:
    """Work out what storing a review does.

    Raises
    ------
    BadInput
        A loudspeaker is short of maker, model or roles, or contradicts itself.
    """
    each = list(zip(review.sheet.records, review.said, strict=True))
    with reading(engine) as session:
        stored = stored_by_key(session, {name_key(name_of(record, given)) for record, given in each})
    records = sheet_records(review, stored)
    planned = changes_of(checked(records), stored)
    answers = [given for record, given in each if record.fields]
    by_name = {record.name: given for record, given in zip(records, answers, strict=True)}
    with reading(engine) as session:
        unsure = doubts(session, records)
    return SheetPlan(
        tuple(records), planned, tuple(_kept(each, stored)), tuple(_cleared(planned, by_name)), tuple(unsure)
    )


def store_sheet(engine: Engine, plan: SheetPlan, *, clear: bool = False) -> Saved:
    """Store what was planned; the doubts are the caller's to settle first.

    Raises
    ------
    BadInput
        Known figures would be cleared, and `clear` does not say so.
    Overtaken
        Somebody has changed one of the loudspeakers since.
    """
    refuse_clearing(plan, clear=clear)
    with writing(engine) as session:
        refuse_overtaken(session, plan.changes)
        return write_changes(session, plan.changes)


def refuse_clearing(plan: SheetPlan, *, clear: bool) -> None:
    """Refuse a plan that clears known figures, unless that is wanted."""
    if plan.cleared and not clear:
        raise BadInput("nothing stored; give the figures, leave their --set out, or add --clear")


def sheet_records(
    review: SheetReview, stored: Mapping[str, Stored] | None = None, *, say: str = BY_PAIR
) -> list[LoudspeakerRecord]:
    """Return the record of every loudspeaker of a review, or say what each is short of.

    What neither sheet nor person says stays as the catalogue has it in `stored`, by key; `say` is how a person says a
    figure where they are asked.

    Raises
    ------
    BadInput
        One is short of maker, model or roles, contradicts itself, or one name is given for several.
    """
    found = [(record, given) for record, given in zip(review.sheet.records, review.said, strict=True) if record.fields]
    if len(found) > 1 and len({given["model"] for _, given in found if "model" in given}) == 1:
        raise BadInput(
            f"{review.name}: holds {len(found)} loudspeakers, and --model names one; take it alone with --models, say "
            "with --one that it is one, or put 'Model: ...' into the text"
        )
    source = "stdin" if review.name == "-" else review.name.replace("\\", "/").rpartition("/")[2]
    records, complaints = [], []
    for number, (one, given) in enumerate(found, 1):
        try:
            known = (stored or {}).get(name_key(name_of(one, given)))
            records.append(record_of(one, source, given, known.record if known else None, say=say))
        except BadInput as problem:
            complaints.append(f"{review.name}, loudspeaker {number}: nothing stored; {problem}")
    if complaints:
        raise BadInput("\n".join(complaints))
    return records


def _kept(each: Sequence[tuple[SheetRecord, Mapping[str, str]]], stored: Mapping[str, Stored]) -> Iterator[str]:
    """Tell what is known and stays, because the sheet's own word for it could not be read."""
    for one, given in each:
        known = stored.get(name_key(name_of(one, given)))
        for name, field in one.fields.items() if known else ():
            value = known and getattr(known.record, name)
            if field.value is None and value is not None and name not in given:
                yield f"{name}: not read; {COLUMNS[name].shown(value)!r} of {known and known.record.name!r} stays"


def _cleared(planned: Changes, answers: Mapping[str, Mapping[str, str]]) -> Iterator[str]:
    """Tell which figures empty answers clear, by the loudspeaker's name."""
    for item, record, _ in planned.changed:
        for name, value in cleared(item.record, record, answers.get(record.name, {})).items():
            yield f"--set {name}= clears {value!r} of {item.record.name!r}"
