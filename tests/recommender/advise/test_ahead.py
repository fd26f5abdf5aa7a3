"""Profiles computed at an import are those that answers would have kept, and are in nobody's way."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa
from typer.testing import CliRunner

from triptych.catalog.cli import speaker
from triptych.catalog.database.address import as_url
from triptych.catalog.database.candidates import candidate_columns, described_columns
from triptych.catalog.database.edits import edit_loudspeaker
from triptych.catalog.database.engine import open_engine, reading, writing
from triptych.catalog.database.models import AcousticProfile, Loudspeaker
from triptych.catalog.database.profiles import StoredProfile
from triptych.catalog.database.reads import stored_by_key
from triptych.catalog.database.writes import save_loudspeakers
from triptych.recommender.advise import ahead, many_profiles
from triptych.recommender.advise.catalogue import described, loudspeakers_of
from triptych.recommender.cli import app
from triptych.recommender.physics.profile import MODEL_VERSION

Kept = dict[str, tuple[int, int, bytes]]


def kept(engine: sa.Engine) -> Kept:
    """Revision, version of the model and bytes of each profile that is stored, by the key of its loudspeaker."""
    query = sa.select(
        Loudspeaker.name_key, AcousticProfile.revision, AcousticProfile.model_version, AcousticProfile.data
    ).join_from(Loudspeaker, AcousticProfile)
    with reading(engine) as session:
        return {key: (revision, version, data) for key, revision, version, data in session.execute(query)}


@pytest.fixture
def as_answers_keep(seeded_template: Path) -> Iterator[Kept]:
    engine = open_engine(as_url(str(seeded_template)))
    yield kept(engine)
    engine.dispose()


@pytest.fixture
def bare(seeded_template: Path, tmp_path: Path) -> Iterator[sa.Engine]:
    """The seed's loudspeakers without a profile."""
    engine = open_engine(as_url(str(shutil.copy(seeded_template, tmp_path / "bare.db"))))
    with writing(engine) as session:
        session.execute(sa.delete(AcousticProfile))
    yield engine
    engine.dispose()


def names(engine: sa.Engine) -> list[str]:
    with reading(engine) as session:
        return list(session.scalars(sa.select(Loudspeaker.name_key)))


@pytest.mark.whole
def test_an_import_keeps_what_answers_would_have_kept_but_of_those_that_none_asks_for(
    sqlite_path: Path, as_answers_keep: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(speaker, "PROFILED", 30)
    asked = ["speaker", "import", str(files("triptych.seed_data") / "loudspeakers.csv"), "--db", str(sqlite_path)]
    result = CliRunner().invoke(app, asked)
    assert result.exit_code == 0
    engine = open_engine(as_url(str(sqlite_path)))
    found = kept(engine)
    assert result.stderr.endswith(f"acoustic profiles computed: {len(found)}\n")
    with reading(engine) as session:
        seen = loudspeakers_of(candidate_columns(session))
    engine.dispose()
    anything_but_sub = seen.offered["main"] | seen.offered["centre"] | seen.offered["surround"] | seen.offered["height"]
    rows = np.flatnonzero(anything_but_sub & seen.drivers.laid_out)
    wanted = {seen.names[row].casefold() for row in rows.tolist()}
    assert 30 < len(wanted) < len(seen)
    assert found == {name: as_answers_keep[name] for name in wanted}


@pytest.mark.parametrize(("most", "options"), [(1000, []), (1, ["--no-profiles"]), (1, ["--dry-run"])])
def test_a_small_file_and_one_without_profiles_keep_none(
    most: int, options: list[str], sqlite_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(speaker, "PROFILED", most)
    asked = ["speaker", "import", str(files("triptych.seed_data") / "loudspeakers.csv"), "--db", str(sqlite_path)]
    result = CliRunner().invoke(app, [*asked, *options])
    assert result.exit_code == 0
    assert "profiles" not in result.output
    engine = open_engine(as_url(str(sqlite_path)))
    assert kept(engine) == {}
    engine.dispose()


@pytest.mark.whole
def test_what_was_computed_before_somebody_interrupts_is_kept_and_the_rest_comes_after(
    bare: sa.Engine, as_answers_keep: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(many_profiles, "COMPUTED_TOGETHER", 20)
    told: list[str] = []

    def say(words: str) -> None:
        told.append(words)
        if len(told) == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        ahead.profiles(bare, names(bare), say)
    before = kept(bare)
    assert len(before) == 40
    assert told[-1].startswith("computed 40 of ")
    made = ahead.profiles(bare, names(bare))
    after = kept(bare)
    assert len(after) == 40 + made
    assert after == {name: as_answers_keep[name] for name in after}
    assert ahead.profiles(bare, names(bare)) == 0


def test_who_is_edited_has_another_profile_and_who_is_not_named_or_retired_none(bare: sa.Engine) -> None:
    first, second, retired = (f"bramble thatch trivet {model}" for model in ("tower", "wide centre", "stand"))
    ahead.profiles(bare, [first, second])
    before = kept(bare)
    assert set(before) == {first, second}
    with writing(bare) as session:
        edit_loudspeaker(session, first, {"tweeter_size": "19 mm"}, None)
        session.execute(sa.update(Loudspeaker).where(Loudspeaker.name_key == retired).values(retired=True))
    assert ahead.profiles(bare, [first, second, retired]) == 1
    after = kept(bare)
    assert after[second] == before[second]
    assert after[first][0] == before[first][0] + 1
    assert after[first][2] != before[first][2]
    assert retired not in after


def test_a_centre_of_no_stated_size_that_is_offered_as_a_main_too_stands_and_has_another_profile(
    bare: sa.Engine,
) -> None:
    name = "bramble thatch trivet wide centre"
    unstated = {"orientation": "", "width": "", "height": ""}
    with writing(bare) as session:
        edit_loudspeaker(session, name, unstated, None)
    assert ahead.profiles(bare, [name]) == 1
    lying = kept(bare)[name]
    with writing(bare) as session:
        edit_loudspeaker(session, name, {"roles": "main; centre"}, None)
    assert ahead.profiles(bare, [name]) == 1
    assert kept(bare)[name][2] != lying[2]


def test_a_list_of_new_prices_computes_no_profile(bare: sa.Engine) -> None:
    everybody = names(bare)
    assert ahead.profiles(bare, everybody) > 30
    before = kept(bare)
    with writing(bare) as session:
        records = [item.record for item in stored_by_key(session, everybody).values()]
        dearer = [replace(one, price=one.price + 1) for one in records if one.price is not None]
        assert save_loudspeakers(session, dearer).changed == len(dearer) > 30
    assert ahead.profiles(bare, everybody) == 0
    after = kept(bare)
    assert {key: data for key, (_, _, data) in after.items()} == {key: data for key, (_, _, data) in before.items()}


def test_nothing_is_read_for_profiles_that_does_not_decide_whether_they_stay(bare: sa.Engine) -> None:
    class Noted(dict[str, Any]):
        def __getitem__(self, name: str) -> Any:
            read.add(name)
            return super().__getitem__(name)

    read: set[str] = set()
    with reading(bare) as session:
        described(Noted(described_columns(session, names(bare))))
    # drivers and hand-overs decide whole; who is retired is not computed, and keeps what there is
    own = {name for name in read if not re.match("tweeter_|midrange_|woofer_(?!spacing)|crossover_", name)}
    assert own == {"roles", "orientation", "width", "height", "layout", "woofer_spacing", "retired"}


def test_what_has_changed_gone_or_given_its_number_to_another_since_is_let_go(bare: sa.Engine) -> None:
    with reading(bare) as session:
        numbers = {row.id: row.name_key for row in session.scalars(sa.select(Loudspeaker))}
    kept_one, changed, other, gone = *list(numbers)[:3], max(numbers) + 1
    fresh = [StoredProfile(number, 1, MODEL_VERSION, b"p") for number in (kept_one, other, gone)]
    fresh.append(StoredProfile(changed, 2, MODEL_VERSION, b"p"))
    assert ahead.keep(bare, fresh, numbers | {other: "another name", gone: "gone"})
    assert kept(bare) == {numbers[kept_one]: (1, MODEL_VERSION, b"p")}


@pytest.mark.whole
def test_where_nobody_may_write_nothing_is_kept_and_nothing_fails(bare: sa.Engine, tmp_path: Path) -> None:
    wanted = names(bare)
    bare.dispose()
    closed = open_engine(f"sqlite:///file:{tmp_path / 'bare.db'}?mode=ro&uri=true")
    assert ahead.profiles(closed, wanted) == 0
    closed.dispose()
