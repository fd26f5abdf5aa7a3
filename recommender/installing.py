"""The check after installing, from what was measured to what is judged; commands and page call this."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from triptych.catalog.errors import BadInput, NotFound

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from triptych.catalog.database.as_built import AsBuiltRecord, MeasuredSeat
    from triptych.catalog.records import CurveRecord, RoomRecord
    from triptych.recommender.advise.advice import Standing
    from triptych.recommender.advise.match import Question
    from triptych.recommender.advise.picturing import Dossier
    from triptych.recommender.advise.voices import Fresh
    from triptych.recommender.api import Catalogue
    from triptych.recommender.verify.verification import Verification


def seat_names(room: RoomRecord, names: Sequence[str], measured: int) -> list[str]:
    """Return the seats of so many measurements as the room spells them; the primary where none is named.

    Raises
    ------
    BadInput
        Not as many are named, or one twice.
    NotFound
        The room has no such seat.
    """
    wanted = list(names) or [room.primary.name]
    if len(wanted) != measured:
        raise BadInput(f"{measured} files a loudspeaker and {len(wanted)} seats: name one --seat for each three files")
    known = {seat.name.casefold(): seat.name for seat in room.seats}
    for name in wanted:
        if name.casefold() not in known:
            told = ", ".join(repr(seat.name) for seat in room.seats)
            raise NotFound(f"{room.name} has no seat named {name!r}; it has {told}")
    seats = [known[name.casefold()] for name in wanted]
    if len(set(seats)) < len(seats):
        raise BadInput("a seat is named twice: measure each once")
    return seats


def measured_seats(seats: Sequence[str], *threes: Sequence[CurveRecord]) -> tuple[MeasuredSeat, ...]:
    """Return what was measured of left, centre and right, seat by seat."""
    from triptych.catalog.database.as_built import MeasuredSeat

    return tuple(MeasuredSeat(name, *three) for name, *three in zip(seats, *threes, strict=True))


def promised(opened: Catalogue, room: RoomRecord, mains: str | None, speaker: str, place: str) -> Standing:
    """Return what the answer says of the centre that was installed, where it stands or does best."""
    from triptych.recommender.advise.picturing import fitting

    question = opened.question(room, mains or "")

    def ask(session: Session) -> tuple[Standing, Fresh]:
        found, fresh = fitting(session, question, speaker, place or None)
        return found.shown[0].standing, fresh

    return opened.answer(ask)


def built_record(
    seats: tuple[MeasuredSeat, ...], standing: Standing | None, mains: str | None, place: str, trim_set: float
) -> AsBuiltRecord:
    """Return what stands in the room, with what was measured of it."""
    from triptych.catalog.database.as_built import AsBuiltRecord

    where = standing.place if standing else place or None
    return AsBuiltRecord(seats, standing.speaker if standing else None, where, mains, trim_set)


def newest_check(
    opened: Catalogue, question: Question, tell: Callable[[str], None]
) -> tuple[AsBuiltRecord, Verification] | None:
    """Return the newest check that is stored with the room, judged; None where there is none."""
    from triptych.catalog.database import as_built as stored
    from triptych.catalog.database.engine import reading
    from triptych.recommender.advise import as_built_check
    from triptych.recommender.advise.picturing import fitting

    try:
        with reading(opened.engine) as session:
            found = stored.checks(session, question.room.name)
    except NotFound:
        return None
    if not found:
        return None
    record = found[0]
    if record.speaker is None:
        return record, as_built_check.check(record, None)
    name = record.speaker

    def ask(session: Session) -> tuple[Dossier, Fresh]:
        return fitting(session, question, name, record.place)

    try:
        standing = opened.answer(ask).shown[0].standing
    except NotFound as problem:
        tell(f"as built: {problem}; what was promised is left out")
        standing = None
    return record, as_built_check.check(record, standing)
