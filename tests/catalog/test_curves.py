"""Curves in the database, on either engine."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
import sqlalchemy as sa

from triptych.catalog.database import measured_curves, reads, writes
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.measured_curves import Prepared, SavedCurves
from triptych.catalog.database.models import Curve
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.records import CurveKind, CurveRecord, LoudspeakerRecord, Role

LINDEN = LoudspeakerRecord(maker="Oatfell", model="Centre", roles=frozenset({Role.CENTRE}))
ON_AXIS = CurveRecord(
    CurveKind.ON_AXIS, (20.5, 1000.0, 19_999.9), (80.123456789, 85.0, -3.25), "axis.txt",
    phase=(10.0, -179.5, 0.1), smoothing=24, measured_on=date(2026, 5, 31),
)  # fmt: skip


def prepared(record: CurveRecord, version: int = 1) -> Prepared:
    return Prepared(record, version, 48, -272, b"\x00\x01\x02\x03", b"\x04" * 112)


def across(angle: float, level: float = 80.0) -> Prepared:
    return prepared(CurveRecord(CurveKind.HORIZONTAL, (20.0, 20_000.0), (level, level), "h.csv", angle=angle))


@pytest.fixture
def filled(engine: sa.Engine) -> sa.Engine:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [LINDEN])
    return engine


def saved(engine: sa.Engine, *found: Prepared) -> SavedCurves:
    with writing(engine) as session:
        return measured_curves.save_curves(session, "oatfell centre", found)


def revision(engine: sa.Engine) -> int:
    with reading(engine) as session:
        return reads.stored(session, LINDEN.name).revision


def test_a_curve_comes_back_exactly(filled: sa.Engine) -> None:
    assert saved(filled, prepared(ON_AXIS)) == SavedCurves(added=1)
    with reading(filled) as session:
        (found,) = measured_curves.curves(session, LINDEN.name)
    assert found.record == ON_AXIS
    assert (found.version, found.per_octave, found.grid_first) == (1, 48, -272)
    assert (found.grid, found.bands) == (b"\x00\x01\x02\x03", b"\x04" * 112)
    assert found.added_at.tzinfo is not None


def test_the_same_again_changes_nothing_another_replaces_and_each_change_is_a_revision(filled: sa.Engine) -> None:
    assert saved(filled, across(0), across(30)) == SavedCurves(added=2)
    assert revision(filled) == 2
    assert saved(filled, across(0), across(30)) == SavedCurves(unchanged=2)
    assert revision(filled) == 2
    assert saved(filled, across(0), across(30, 81.0), across(-30)) == SavedCurves(added=1, changed=1, unchanged=1)
    assert revision(filled) == 3
    with reading(filled) as session:
        assert [(one.record.angle, one.record.level[0]) for one in measured_curves.curves(session, LINDEN.name)] == [
            (-30.0, 80.0),
            (0.0, 80.0),
            (30.0, 81.0),
        ]


def test_a_curve_of_an_older_version_is_prepared_anew(filled: sa.Engine) -> None:
    saved(filled, prepared(ON_AXIS, version=1))
    assert saved(filled, prepared(ON_AXIS, version=2)) == SavedCurves(changed=1)


def test_two_curves_of_one_place_are_refused_whole(filled: sa.Engine) -> None:
    with pytest.raises(BadInput, match=r"h\.csv and h\.csv: both are horizontal 30 deg"):
        saved(filled, across(0), across(30), across(30, 81.0))
    assert revision(filled) == 1


def test_some_are_removed_and_what_is_not_there_is_told(filled: sa.Engine) -> None:
    saved(filled, across(0), across(30), prepared(ON_AXIS))
    with writing(filled) as session:
        assert measured_curves.remove_curves(session, LINDEN.name, CurveKind.HORIZONTAL, 30.0) == 1
        with pytest.raises(NotFound, match="no curve of horizontal 30 deg"):
            measured_curves.remove_curves(session, LINDEN.name, CurveKind.HORIZONTAL, 30.0)
        assert measured_curves.remove_curves(session, LINDEN.name) == 2
        with pytest.raises(NotFound, match="no curve"):
            measured_curves.remove_curves(session, LINDEN.name)


def test_bands_are_read_by_loudspeaker_or_all(filled: sa.Engine) -> None:
    saved(filled, across(30), across(0), prepared(ON_AXIS))
    with reading(filled) as session:
        number = reads.stored(session, LINDEN.name).id
        for found in (measured_curves.bands(session), measured_curves.bands(session, [number, number + 1])):
            assert found["id"] == [number] * 3
            assert found["kind"] == ["horizontal", "horizontal", "on_axis"]
            assert found["angle"] == [0.0, 30.0, None]
            assert {bytes(one) for one in found["bands"]} == {b"\x04" * 112}
        assert measured_curves.bands(session, [number + 1])["id"] == []


def test_the_database_itself_holds_kind_and_angle_together(filled: sa.Engine) -> None:
    wrong = [
        replace(ON_AXIS, angle=10.0),
        replace(across(0).record, angle=None),
        replace(across(0).record, angle=-180.0),
    ]
    for record in wrong:
        with pytest.raises(sa.exc.IntegrityError):
            saved(filled, prepared(record))
    saved(filled, prepared(ON_AXIS))
    copy = "INSERT INTO curve SELECT id + 1, {} FROM curve".format(
        ", ".join(column.name for column in Curve.__table__.columns if column.name != "id")
    )
    with pytest.raises(sa.exc.IntegrityError), writing(filled) as session:
        session.execute(sa.text(copy))


def test_curves_go_with_their_loudspeaker(filled: sa.Engine) -> None:
    saved(filled, across(0))
    with writing(filled) as session:
        session.execute(sa.text("DELETE FROM loudspeaker"))
        assert session.scalar(sa.select(sa.func.count()).select_from(Curve)) == 0
