"""How loudspeakers sound apart from any place: stored profiles where they are current, computed where they aren't."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, fields
from time import monotonic
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.recommender.advise.catalogue import Loudspeakers
from triptych.recommender.advise.curve_arrays import Curves, CurveShelf, voiced
from triptych.recommender.advise.many_profiles import computed
from triptych.recommender.physics import description
from triptych.recommender.physics.loudspeaker import Sources
from triptych.recommender.physics.profile import MODEL_VERSION, Profile, decibels, unpack
from triptych.recommender.scene.arrays import BoolArray, FloatArray, IndexArray
from triptych.recommender.scene.hearing import Voices

if TYPE_CHECKING:
    from triptych.catalog.database.profiles import StoredProfile

Fresh: TypeAlias = "list[StoredProfile]"
"""Acoustic profiles that were computed just now and belong into the catalogue."""

STORED: Final = ("id", "revision", "model_version", "data")
"""The columns of a stored profile."""

FIRST_COMPUTED: Final = 100
"""So many are computed even where there is no time, before the time is looked at."""

KEPT: Final = 2_000
"""So many voices at most are kept for the next time they are asked for: 17 MB."""


@dataclass(frozen=True, slots=True)
class Known:
    """The voices of some loudspeakers of a catalogue, and where among them each is, -1 for none; its curves if read."""

    voices: Voices | None
    where: IndexArray
    curves: Curves | None = None


class VoiceBook:
    """The voices of a catalogue's loudspeakers; what had to be computed is told by `fresh`.

    `known` are those of the same catalogue in the same state, from a question before.
    """

    def __init__(self, session: Session, catalogue: Loudspeakers, known: Known | None = None) -> None:
        self._session = session
        self._catalogue = catalogue
        self._curves = CurveShelf(session, known.curves if known else None)
        self._kept = known.voices if known else None
        self._where = known.where.copy() if known else np.full(len(catalogue), -1)
        self._computed: dict[int, bytes] = {}

    @property
    def known(self) -> Known:
        """What it has by now, for a book of the next question."""
        return Known(self._kept, self._where.copy(), self._curves.found)

    @property
    def fresh(self) -> Fresh:
        """What had to be computed so far."""
        if not self._computed:
            return []
        from triptych.catalog.database.profiles import StoredProfile

        ids, revisions = self._catalogue.ids, self._catalogue.revisions
        return [StoredProfile(ids[row], revisions[row], MODEL_VERSION, data) for row, data in self._computed.items()]

    def of(self, rows: IndexArray) -> Voices:
        """The voices of the loudspeakers at `rows`."""
        new = np.unique(rows[self._where[rows] < 0])
        known = 0 if self._kept is None else len(self._kept)
        if known + len(new) > KEPT:
            return self._made(rows)
        if len(new) or self._kept is None:
            made = self._made(new)
            self._kept = made if self._kept is None else self._kept.beside(made)
            self._where[new] = known + np.arange(len(new))
        return self._kept.take(self._where[rows])

    def _made(self, rows: IndexArray) -> Voices:
        found = self._profiles(rows)
        measured = self._curves.measured([self._catalogue.ids[row] for row in rows.tolist()], found)
        return Voices(
            profile=found,
            sources=description.describe(self._catalogue.drivers.take(rows)),
            power=voiced(decibels(found.sound_power), measured, found.usable),
            kin=self._catalogue.kin.take(rows),
            stated=stated_share(found),
            usable=found.usable,
            measured=measured,
        )

    def drivers(self, rows: IndexArray) -> tuple[Sources, BoolArray]:
        """The drivers of the loudspeakers at `rows`, and of which of them nothing is measured."""
        measured = self._curves.has([self._catalogue.ids[row] for row in rows.tolist()])
        return description.describe(self._catalogue.drivers.take(rows)), ~measured

    def audible(self, rows: IndexArray) -> BoolArray:
        """Of which of the loudspeakers at `rows` anything is known to hear them by: their drivers, or a full set."""
        found = self._catalogue.drivers.take(rows).laid_out
        ids = [self._catalogue.ids[row] for row in rows.tolist()]
        if len(rest := np.flatnonzero(~found & self._curves.has(ids))):
            found[rest] = self.of(rows[rest]).measured.whole
        return found

    def ready(self, rows: IndexArray, deadline: float, first: BoolArray | None = None) -> BoolArray:
        """Of which of the loudspeakers at `rows` there is a profile by then; those that lack one are computed.

        Where some are to be `first`, they are.
        """
        known = {*np.flatnonzero(self._where >= 0).tolist(), *self._computed}
        known |= self._stored([row for row in rows.tolist() if row not in known])
        missing = np.array([row for row in rows.tolist() if row not in known], dtype=np.intp)
        if not len(missing):
            return np.ones(len(rows), dtype=np.bool_)
        # some of all that there are, where there is no time for all
        order = np.random.default_rng(0).permutation(missing)
        if first is not None:
            order = order[np.argsort(~np.isin(order, rows[first]), kind="stable")]
        left = dict.fromkeys(order[FIRST_COMPUTED:].tolist())
        self._compute(order[:FIRST_COMPUTED])
        if left and monotonic() < deadline:
            with closing(computed(self._catalogue.drivers, order[FIRST_COMPUTED:])) as found:
                for rows_done, packed in found:
                    self._computed.update(zip(rows_done.tolist(), packed, strict=True))
                    for row in rows_done.tolist():
                        del left[row]
                    if monotonic() >= deadline:
                        break
        return np.array([row not in left for row in rows.tolist()], dtype=np.bool_)

    def _profiles(self, rows: IndexArray) -> Profile:
        wanted = list(dict.fromkeys(rows.tolist()))
        known = dict(self._computed)
        if unread := [row for row in wanted if row not in known]:
            known |= self._read(unread)
        if missing := [row for row in wanted if row not in known]:
            self._compute(np.array(missing))
            known |= self._computed
        # what was computed is read back as it will be stored, so that the first answer is the second to the last digit
        return unpack(known[row] for row in rows.tolist())

    def _compute(self, rows: IndexArray) -> None:
        for some, packed in computed(self._catalogue.drivers, rows):
            self._computed.update(zip(some.tolist(), packed, strict=True))

    def _stored(self, rows: Sequence[int]) -> set[int]:
        """Of which rows a profile is stored and current."""
        if not self._session.in_transaction():
            return set()
        keys = self._keys(rows)
        stored = reads.profiles(self._session, [key[0] for key in keys], STORED[:-1])
        return {keys[key] for key in zip(*stored.values(), strict=True) if key in keys}

    def _keys(self, rows: Sequence[int]) -> dict[tuple[int, int, int], int]:
        ids, revisions = self._catalogue.ids, self._catalogue.revisions
        return {(ids[row], revisions[row], MODEL_VERSION): row for row in rows}

    def _read(self, rows: Sequence[int]) -> dict[int, bytes]:
        """The profiles of some rows that are stored and current; none where the question's transaction is over."""
        if not self._session.in_transaction():
            return {}
        keys = self._keys(rows)
        stored = reads.profiles(self._session, [key[0] for key in keys])
        columns = zip(*(stored[name] for name in STORED), strict=True)
        return {row: data for *key, data in columns if (row := keys.get(tuple(key))) is not None}


def stated_share(found: Profile) -> FloatArray:
    """The share of each model's inputs that a datasheet gave rather than a table of typical values."""
    assumed = np.vstack([getattr(found.assumed, entry.name) for entry in fields(found.assumed)]).astype(np.float64)
    return np.where(found.usable, 1 - assumed.mean(axis=0), 0.0)
