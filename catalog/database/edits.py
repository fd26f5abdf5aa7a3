"""Figures of one loudspeaker changed by texts, as a person writes them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy.orm import Session

from triptych.catalog.database.reads import stored
from triptych.catalog.database.writes import Saved, save_loudspeakers
from triptych.catalog.errors import BadInput, Overtaken
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stated_records import cleared, record_beside


@dataclass(frozen=True, slots=True)
class Edited:
    """A loudspeaker as it is now, what was written, and which known figures empty texts cleared."""

    record: LoudspeakerRecord
    saved: Saved
    cleared: Mapping[str, str]


def edit_loudspeaker(session: Session, name: str, changes: Mapping[str, str], revision: int | None = None) -> Edited:
    """Change figures of the loudspeaker of that name; what others change of it meanwhile stays.

    Parameters
    ----------
    changes : mapping of str to str
        Texts by column, those of its name left out; an empty one is unknown.
    revision : int or None
        The revision that somebody saw.

    Raises
    ------
    NotFound
        None has that name; the nearest names are told.
    Overtaken
        It has another revision by now. Nothing was written.
    BadInput
        A text can't be taken, or contradicts what is known. Nothing was written.
    """
    item = stored(session, name, hold=True)
    if revision not in (None, item.revision):
        raise Overtaken(
            f"{item.record.name!r} has revision {item.revision} now, and you saw {revision}: somebody has changed it"
            " since; nothing was written. Look again with triptych speaker show"
        )
    record, faults = record_beside(item.record, changes, "speaker edit")
    if record is None:
        raise BadInput("\n".join(f"column {column}: {complaint}" for column, complaint in faults))
    saved = save_loudspeakers(session, [record])
    return Edited(record, saved, cleared(item.record, record, changes))
