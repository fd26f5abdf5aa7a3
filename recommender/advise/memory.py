"""What was worked out for one question and serves the next, while the catalogue is what it was.

Of a catalogue its arrays and voices are kept; of a question, what was heard, whatever the weights were: a slider of a
weight needs nothing heard again, one of a cap or a level no catalogue read. Nothing of it outlives a change: what is
kept goes by the state of the database that a transaction reads, by the day, and by what of the stock is free right now.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from threading import Lock
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.candidates import candidate_columns, free_units
from triptych.catalog.database.engine import reading
from triptych.catalog.database.watch import Watch
from triptych.catalog.records import LoudspeakerRecord
from triptych.recommender.advise.catalogue import UNJUDGED, Loudspeakers, loudspeakers_of
from triptych.recommender.advise.heard_once import HeardOnce
from triptych.recommender.advise.voices import Known, VoiceBook

if TYPE_CHECKING:
    from triptych.recommender.advise.match import Question

CATALOGUES: Final = 3
"""Of so many mains the catalogue beside them is kept, which is read with them."""

LARGEST: Final = 50_000
"""A catalogue of more loudspeakers is read at each question: three of them would take a gigabyte."""

QUESTIONS: Final = 4
"""So many questions beside some mains are kept."""

HEARD: Final = 6_000
"""Of a question for which more candidates in places are heard nothing is kept."""


RECORDS: Final = 32
"""So many loudspeakers are kept as records: those that are drawn in rooms as they are typed."""


@dataclass(slots=True)
class Recalled:
    """A catalogue as it was read for some mains, its voices, and what was heard by question."""

    catalogue: Loudspeakers
    voices: Known | None = None
    _ears: OrderedDict[str, HeardOnce] = field(default_factory=OrderedDict)
    _lock: Any = field(default_factory=Lock)

    def ear(self, question: Question) -> HeardOnce:
        """What was heard of a question, which names no weights."""
        with self._lock:
            for asked in [asked for asked, ear in self._ears.items() if len(ear) > HEARD]:
                del self._ears[asked]
            found = self._ears.setdefault(repr(question), HeardOnce())
            self._ears.move_to_end(repr(question))
            while len(self._ears) > QUESTIONS:
                self._ears.popitem(last=False)
        return found

    def keep(self, book: VoiceBook) -> None:
        """Keep the voices of a book for the next question."""
        self.voices = book.known


def read_anew(session: Session, wanted: Sequence[int]) -> Recalled:
    """The catalogue as it is, with nothing known of it yet; `wanted` are those that must be in it."""
    return Recalled(loudspeakers_of(candidate_columns(session, also=wanted, without=UNJUDGED)))


class Memory:
    """What is kept of a catalogue that is open for long, bounded, by who the mains are."""

    def __init__(self, engine: Engine) -> None:
        self._engine, self._watch = engine, Watch(engine)
        self._known: OrderedDict[Hashable, Recalled] = OrderedDict()
        self._records: OrderedDict[Hashable, LoudspeakerRecord] = OrderedDict()
        self._lock = Lock()

    def loudspeaker(self, name: str) -> LoudspeakerRecord:
        """A loudspeaker of the catalogue, as `reads.loudspeaker` gives it."""
        if (found := self._record(self._watch.now(), name)) is not None:
            return found
        with reading(self._engine) as session:
            state = self._watch.state(session)
            found = self._record(state, name) or reads.loudspeaker(session, name)
        if state is not None:
            with self._lock:
                self._records[state, datetime.now(UTC).date(), name] = found
                while len(self._records) > RECORDS:
                    self._records.popitem(last=False)
        return found

    def _record(self, state: Hashable | None, name: str) -> LoudspeakerRecord | None:
        with self._lock:
            return None if state is None else self._records.get((state, datetime.now(UTC).date(), name))

    def recall(self, session: Session, wanted: Sequence[int]) -> Recalled:
        """The catalogue that this transaction reads, with what is known of it."""
        state, day = self._watch.state(session), datetime.now(UTC).date()
        if state is None:
            return read_anew(session, wanted)
        key = (state, day, tuple(wanted))
        with self._lock:
            found = self._known.get(key)
        # a reservation ends by the clock, which is no change of the database
        if found is not None and free_units(session, found.catalogue.ids, day) == found.catalogue.available:
            return found
        return self._keep(
            key, Recalled(loudspeakers_of(candidate_columns(session, also=wanted, day=day, without=UNJUDGED)))
        )

    def _keep(self, key: Hashable, found: Recalled) -> Recalled:
        with self._lock:
            self._known[key] = found
            while len(self._known) > CATALOGUES or (self._known and len(found.catalogue) > LARGEST):
                self._known.popitem(last=False)
        return found

    def close(self) -> None:
        """Forget all of it, and let go of the database."""
        with self._lock:
            self._known.clear()
            self._records.clear()
        self._watch.close()
