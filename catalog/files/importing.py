"""A file of loudspeakers into the catalogue: read and checked while others write, then written at once."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Final

from triptych.catalog.errors import BadInput
from triptych.catalog.numerals import Mark
from triptych.catalog.records import LoudspeakerRecord

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from triptych.catalog.database.changes import Changes, Saved
    from triptych.catalog.files.loudspeakers import Reading


LOUDSPEAKER_FILE: Final = "loudspeakers"


def _nobody(words: str) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True)
class Import:
    """What to take from where, and how; `told` are the lines that were told already, by `tell_line`."""

    file: Path
    mapping: Mapping[str, str]
    mark: Mark | None
    clear: bool
    keep_good: bool
    dry_run: bool
    told: set[str] = field(default_factory=set)
    tell_line: Callable[[str], None] = _nobody

    def tell(self, lines: Iterable[object]) -> None:
        """Tell lines, each once however often the file is read."""
        for line in map(str, lines):
            if line not in self.told:
                self.tell_line(line)
                self.told.add(line)


def import_file(engine: Engine, wanted: Import, say: Callable[[str], None] = _nobody) -> Saved:
    """Take the loudspeakers of a file; what the catalogue refuses is told line by line.

    `say` is told what is being done.

    Raises
    ------
    BadInput
        A cell is bad, or would clear a figure that is known. Nothing was written.
    Overtaken
        Others change the same loudspeakers again and again.
    """
    from triptych.catalog.database.attempts import until_kept

    with _uncollected():
        return until_kept(lambda: _attempt(engine, wanted, say))


def _attempt(engine: Engine, wanted: Import, say: Callable[[str], None]) -> Saved:
    reading, changes = _worked_out(engine, wanted, say)
    return changes.saved if wanted.dry_run else _written(engine, wanted, reading, changes, say)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Keep Python from looking for circles among all records again and again: it takes a quarter of the time."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()


def _worked_out(engine: Engine, wanted: Import, say: Callable[[str], None]) -> tuple[Reading, Changes]:
    from triptych.catalog.database.changes import changes_of, checked
    from triptych.catalog.database.engine import reading as reading_catalogue
    from triptych.catalog.database.file_columns import kept_columns
    from triptych.catalog.files.loudspeakers import read_loudspeakers

    with reading_catalogue(engine) as session:
        kept = kept_columns(session, LOUDSPEAKER_FILE)
    reading = read_loudspeakers(
        wanted.file, wanted.mapping, wanted.mark, kept=kept, beside=engine, clear=wanted.clear, say=say
    )
    wanted.tell(f"warning: {remark}" for remark in reading.remarks)
    records = reading.good() if wanted.keep_good else _all_or_nothing(wanted, reading)
    if wanted.keep_good:
        wanted.tell(reading.problems)
    wanted.tell(reading.cleared)
    changes = changes_of(checked(records, agreed=True), reading.stored)
    _tell_doubts(engine, wanted, changes)
    return reading, changes


def _tell_doubts(engine: Engine, wanted: Import, changes: Changes) -> None:
    """Warn of makers, series and families that the file makes and that are nearly known ones."""
    from triptych.catalog.database.engine import reading
    from triptych.catalog.database.kinship import doubts

    with reading(engine) as session:
        found = doubts(session, [*changes.added, *(record for _, record, _ in changes.changed)])
    source = wanted.file.name
    wanted.tell(f"warning: {source}: {doubt}; if they are one: {doubt.merged}" for doubt in found)


def _all_or_nothing(wanted: Import, reading: Reading) -> tuple[LoudspeakerRecord, ...]:
    if not reading.problems:
        return reading.records
    wanted.tell(reading.problems)
    count, bad = len(reading.problems), len(reading.refused)
    rows = f"{bad} row{'s' * (bad != 1)} refused, " if bad else ""
    mend = "mend the file" + (" or take the good rows with --keep-good" if reading.records else "")
    raise BadInput(f"{reading.source}: {count} problem{'s' * (count != 1)}, {rows}nothing changed; {mend}")


def _written(engine: Engine, wanted: Import, reading: Reading, changes: Changes, say: Callable[[str], None]) -> Saved:
    from triptych.catalog.database.changes import refuse_overtaken
    from triptych.catalog.database.engine import writing
    from triptych.catalog.database.file_columns import keep_columns
    from triptych.catalog.database.writes import write_changes
    from triptych.catalog.files.loudspeakers import write_refused

    with writing(engine) as session:
        refuse_overtaken(session, changes)
        saved = write_changes(session, changes, say=say)
        keep_columns(session, LOUDSPEAKER_FILE, wanted.mapping)
        if reading.refused:
            # inside the transaction: if the file cannot be written, nothing is taken either
            wanted.tell_line(f"{len(reading.refused)} refused, written to {write_refused(wanted.file, reading)}")
    return saved
