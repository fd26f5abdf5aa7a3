"""Acoustic profiles computed before anybody asks, and kept for whoever asks next."""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection, Iterable, Mapping
from contextlib import closing
from typing import TYPE_CHECKING

import numpy as np
import sqlalchemy as sa
from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.candidates import described_columns
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.models import Loudspeaker
from triptych.catalog.database.profiles import StoredProfile, save_profiles
from triptych.catalog.errors import DatabaseProblem
from triptych.recommender.advise.catalogue import Columns, described
from triptych.recommender.advise.many_profiles import computed
from triptych.recommender.physics.profile import MODEL_VERSION
from triptych.recommender.scene.arrays import BoolArray

if TYPE_CHECKING:
    from triptych.recommender.advise.voices import Fresh

log = logging.getLogger("triptych")


def profiles(engine: Engine, keys: Collection[str], say: Callable[[str], None] = lambda words: None) -> int:
    """Compute the profiles of the loudspeakers of some keys that an answer may want, and keep them; tell how many.

    They are kept as they get ready: whoever interrupts it loses none, and the next answer computes what it lacks. `say`
    is told how far it is.
    """
    with reading(engine) as session:
        columns = described_columns(session, keys)
        drivers, wanted = described(columns)
        wanted &= ~_there(session, columns)
    rows, made = np.flatnonzero(wanted), 0
    names = dict(zip(columns["id"], columns["name_key"], strict=True))
    say(f"computing {len(rows):,} acoustic profiles")
    with closing(computed(drivers, rows)) as found:
        for some, packed in found:
            if not keep(engine, _stored(columns, dict(zip(some.tolist(), packed, strict=True))), names):
                break
            made += len(packed)
            say(f"computed {made:,} of {len(rows):,} acoustic profiles")
    return made


def _there(session: Session, columns: Columns) -> BoolArray:
    """Which have a profile that is current."""
    stored = reads.profiles(session, columns["id"], ("id", "revision", "model_version"))
    there = set(zip(*stored.values(), strict=True))
    each = zip(columns["id"], columns["revision"], strict=True)
    return np.array([(*one, MODEL_VERSION) in there for one in each], dtype=np.bool_)


def _stored(columns: Columns, packed: dict[int, bytes]) -> Fresh:
    ids, revisions = columns["id"], columns["revision"]
    return [StoredProfile(ids[row], revisions[row], MODEL_VERSION, data) for row, data in packed.items()]


def keep(engine: Engine, fresh: Fresh, keys: Mapping[int, str] | None = None) -> bool:
    """Keep profiles where the user may write, and tell whether he may; those of what has changed since are let go.

    `keys` are those of the loudspeakers by their numbers: where one is gone, another may have its number.
    """
    try:
        with writing(engine) as session:
            now = _now(session, [one.loudspeaker_id for one in fresh])
            unchanged = [one for one in fresh if now.get(one.loudspeaker_id, (0,))[0] == one.revision]
            if keys is not None:
                unchanged = [one for one in unchanged if now[one.loudspeaker_id][1] == keys[one.loudspeaker_id]]
            save_profiles(session, unchanged)
    except (DBAPIError, DatabaseProblem) as problem:
        log.info("acoustic profiles were computed but not kept: %s", problem)
        return False
    return True


def _now(session: Session, numbers: Iterable[int]) -> dict[int, tuple[int, str]]:
    """The revision and the key of loudspeakers by their numbers."""
    found: dict[int, tuple[int, str]] = {}
    for part in reads.chunks(numbers):
        query = sa.select(Loudspeaker.id, Loudspeaker.revision, Loudspeaker.name_key).where(Loudspeaker.id.in_(part))
        found |= {number: (revision, key) for number, revision, key in session.execute(query)}
    return found
