"""A state of a catalogue is told by whoever reads it, and changes with each write, on both engines."""

from __future__ import annotations

import sqlalchemy as sa

from triptych.catalog.database.engine import open_engine, reading, writing
from triptych.catalog.database.watch import Watch
from triptych.catalog.stock import suppliers


def names(engine: sa.Engine, watch: Watch) -> tuple[object, list[str]]:
    with reading(engine) as session:
        state = watch.state(session)
        return state, [one.name for one in suppliers.suppliers(session)]


def test_a_state_is_that_of_what_is_read(engine: sa.Engine) -> None:
    watch = Watch(engine)
    seen = [names(engine, watch), names(engine, watch)]
    assert seen[0] == seen[1]
    assert seen[0][0] is not None
    with writing(engine) as session:
        suppliers.save_supplier(session, "Harbour Trading")
    seen.append(names(engine, watch))
    other = open_engine(engine.url.render_as_string(hide_password=False))
    with writing(other) as session:
        suppliers.save_supplier(session, "Quay Imports")
    other.dispose()
    seen.append(names(engine, watch))
    assert len({state for state, _ in seen}) == 3
    assert [len(found) for _, found in seen] == [0, 0, 1, 2]
    watch.close()


def test_a_write_amid_a_reading_is_not_that_readings(engine: sa.Engine) -> None:
    """Who began to read before somebody wrote reads what was, and under the state of that."""
    watch = Watch(engine)
    with reading(engine) as session:
        before = watch.state(session)
        with writing(engine) as other:
            suppliers.save_supplier(other, "Harbour Trading")
        assert suppliers.suppliers(session) == []
    after, found = names(engine, watch)
    assert (after != before, found) == (True, ["Harbour Trading"])
    watch.close()


def test_of_a_catalogue_in_memory_no_state_is_told() -> None:
    engine = open_engine("sqlite://")
    with reading(engine) as session:
        assert Watch(engine).state(session) is None
    engine.dispose()
