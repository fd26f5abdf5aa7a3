"""How loudspeakers sound apart from any place: stored profiles where they are current, computed where they aren't."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import fields
from typing import Any, Final

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.writes import Profile as StoredProfile
from triptych.recommender.advise.curve_arrays import CurveShelf, voiced
from triptych.recommender.advise.gather import Columns, family_keys, floats, loading, lying
from triptych.recommender.judge.criteria.sound import Relation
from triptych.recommender.physics import description, loudspeaker
from triptych.recommender.physics.profile import MODEL_VERSION, Profile, decibels, pack, profile, unpack
from triptych.recommender.scene.arrays import CodeArray, FloatArray, IndexArray
from triptych.recommender.scene.hearing import Voices


def pick(columns: Columns, rows: IndexArray) -> dict[str, list[Any]]:
    """The columns cut down to `rows`, in that order."""
    order = rows.tolist()
    return {name: [values[row] for row in order] for name, values in columns.items()}


def sources(columns: Columns) -> loudspeaker.Sources:
    """The drivers of every loudspeaker in `columns`."""
    return description.describe(
        description.Columns(
            lying=lying(columns),
            width=floats(columns["width"]),
            height=floats(columns["height"]),
            tweeter_type=columns["tweeter_type"],
            tweeter_size=floats(columns["tweeter_size"]),
            tweeter_coverage=np.column_stack([floats(columns[f"tweeter_coverage_{side}"]) for side in "hv"]),
            midrange_size=floats(columns["midrange_size"]),
            midrange_count=floats(columns["midrange_count"]),
            woofer_size=floats(columns["woofer_size"]),
            woofer_count=floats(columns["woofer_count"]),
            layout=columns["layout"],
            woofer_spacing=floats(columns["woofer_spacing"]),
            crossover=np.column_stack([floats(columns[f"crossover_{number}"]) for number in (1, 2, 3)]),
            crossover_order=floats(columns["crossover_order"]),
        )
    )


class VoiceBook:
    """The voices of a catalogue's loudspeakers: profiles are read when asked for, computed where none is current."""

    def __init__(self, session: Session, columns: Columns, relation: CodeArray) -> None:
        self._session = session
        self._columns = columns
        self._relation = relation
        self._loading = loading(columns)
        self._curves = CurveShelf(session)
        self.fresh: list[StoredProfile] = []

    def of(self, rows: IndexArray) -> Voices:
        """The voices of the loudspeakers at `rows`."""
        found = self._profiles(rows)
        numbers = self._columns["id"]
        measured = self._curves.measured([numbers[row] for row in rows.tolist()], found)
        return Voices(
            profile=found,
            power=voiced(decibels(found.sound_power), measured, found.usable),
            loading=self._loading[rows],
            relation=self._relation[rows],
            stated=stated_share(found),
            drivers=stated_share(found, but=("spacing",)),
            usable=found.usable,
            measured=measured,
        )

    def _profiles(self, rows: IndexArray) -> Profile:
        numbers, revisions = self._columns["id"], self._columns["revision"]
        keys = [(numbers[row], revisions[row]) for row in rows.tolist()]
        many = len(keys) > ALL_AT_ONCE
        stored = reads.profiles(self._session, None if many else [number for number, _ in keys])
        columns = zip(*(stored[name] for name in STORED), strict=True)
        known = {(number, revision): data for number, revision, version, data in columns if version == MODEL_VERSION}
        missing = [place for place, key in enumerate(keys) if key not in known]
        if missing:
            made = pack(profile(sources(pick(self._columns, rows[np.array(missing)]))))
            for place, data in zip(missing, made, strict=True):
                known[keys[place]] = data
                self.fresh.append(StoredProfile(*keys[place], MODEL_VERSION, data))
        return unpack(known[key] for key in keys)


STORED: Final = ("id", "revision", "model_version", "data")
"""The columns of a stored profile."""

ALL_AT_ONCE: Final = 2_000
"""From this many on, all stored profiles are read in one statement rather than by their numbers."""


def relations(columns: Columns, mains_row: int) -> CodeArray:
    """The kinship of every loudspeaker with the one in `mains_row`."""
    families, makers, numbers = family_keys(columns), columns["maker"], columns["id"]
    family, maker, number = families[mains_row], makers[mains_row], numbers[mains_row]
    kin = np.full(len(makers), Relation.UNRELATED, dtype=np.int8)
    kin[np.array([other == maker for other in makers], dtype=np.bool_)] = Relation.MAKER
    kin[np.array([bool(family) and other == family for other in families], dtype=np.bool_)] = Relation.FAMILY
    kin[np.array([other == number for other in numbers], dtype=np.bool_)] = Relation.IDENTICAL
    return kin


def stated_share(found: Profile, but: Collection[str] = ()) -> FloatArray:
    """The share of each model's inputs, `but` some, that a datasheet gave rather than a table of typical values."""
    names = [entry.name for entry in fields(found.assumed) if entry.name not in but]
    assumed = np.vstack([getattr(found.assumed, name) for name in names]).astype(np.float64)
    return np.where(found.usable, 1 - assumed.mean(axis=0), 0.0)
