"""How loudspeakers sound apart from any place: stored profiles where they are current, computed where they aren't."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Final

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.writes import StoredProfile
from triptych.recommender.advise.catalogue import Loudspeakers
from triptych.recommender.advise.curve_arrays import CurveShelf, voiced
from triptych.recommender.physics import description
from triptych.recommender.physics.profile import MODEL_VERSION, Profile, decibels, pack, profile, unpack
from triptych.recommender.scene.arrays import FloatArray, IndexArray
from triptych.recommender.scene.hearing import Voices

Fresh = list[StoredProfile]
"""Acoustic profiles that were computed just now and belong into the catalogue."""

STORED: Final = ("id", "revision", "model_version", "data")
"""The columns of a stored profile."""

ALL_AT_ONCE: Final = 2_000
"""From this many on, all stored profiles are read in one statement rather than by their numbers."""


KEPT: Final = 2_000
"""So many voices at most are kept for the next time they are asked for: 17 MB."""


class VoiceBook:
    """The voices of a catalogue's loudspeakers; what had to be computed is told by `fresh`."""

    def __init__(self, session: Session, catalogue: Loudspeakers) -> None:
        self._session = session
        self._catalogue = catalogue
        self._curves = CurveShelf(session)
        self._kept: Voices | None = None
        self._where = np.full(len(catalogue), -1)
        self._computed: dict[int, bytes] = {}

    @property
    def fresh(self) -> Fresh:
        """What had to be computed so far."""
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

    def _profiles(self, rows: IndexArray) -> Profile:
        wanted = list(dict.fromkeys(rows.tolist()))
        known = dict(self._computed)
        if unread := [row for row in wanted if row not in known]:
            known |= self._read(unread)
        if missing := [row for row in wanted if row not in known]:
            model = profile(description.describe(self._catalogue.drivers.take(np.array(missing))))
            self._computed.update(zip(missing, pack(model), strict=True))
            known |= self._computed
        # what was computed is read back as it will be stored, so that the first answer is the second to the last digit
        return unpack(known[row] for row in rows.tolist())

    def _read(self, rows: Sequence[int]) -> dict[int, bytes]:
        """The profiles of some rows that are stored and current; none where the question's transaction is over."""
        if not self._session.in_transaction():
            return {}
        ids, revisions = self._catalogue.ids, self._catalogue.revisions
        keys = {(ids[row], revisions[row], MODEL_VERSION): row for row in rows}
        stored = reads.profiles(self._session, None if len(rows) > ALL_AT_ONCE else [ids[row] for row in rows])
        columns = zip(*(stored[name] for name in STORED), strict=True)
        return {row: data for *key, data in columns if (row := keys.get(tuple(key))) is not None}


def stated_share(found: Profile) -> FloatArray:
    """The share of each model's inputs that a datasheet gave rather than a table of typical values."""
    assumed = np.vstack([getattr(found.assumed, entry.name) for entry in fields(found.assumed)]).astype(np.float64)
    return np.where(found.usable, 1 - assumed.mean(axis=0), 0.0)
