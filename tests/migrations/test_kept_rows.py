"""What older tables held is there in the newer ones: lines, quotes, figures and rooms, as they were."""

from __future__ import annotations

from dataclasses import replace

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config

from tests.catalog.stock_shop import CENTRE, LATER, open_shop
from tests.catalog.unguarded import unguarded
from tests.migrations.test_migrations import LINDEN
from triptych.catalog import stock
from triptych.catalog.database import reads, writes
from triptych.catalog.database.engine import (
    reading,
    writing,
)
from triptych.catalog.database.models import MovementKind
from triptych.catalog.records import (
    Evidence,
    Figure,
    Floor,
    Orientation,
    SensitivityBasis,
)
from triptych.catalog.stock import desk
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.quotes import Item
from triptych.catalog.stock.undoing import undo
from triptych.migrations import BASE

pytestmark = pytest.mark.migration


def _forget_deeds(config: Config) -> None:
    """Go to before lines said of which deed they are, and back: no older line says it."""
    command.downgrade(config, "0024")
    command.upgrade(config, "head")


def test_lines_from_before_the_digests_are_sealed_as_they_are(migrate: tuple[sa.Engine, Config]) -> None:
    engine, config = migrate
    command.upgrade(config, "head")
    with writing(engine) as session:
        shop = open_shop(session, towers=2, centres=5)
        stock.record_movement(session, shop.line(MovementKind.RESERVE, 2, job="Mill House", until=LATER, note='"½"'))
    _forget_deeds(config)
    query = sa.text("SELECT digest FROM movement ORDER BY id")
    with engine.connect() as connection:
        before = connection.execute(query).scalars().all()
    command.downgrade(config, BASE)
    command.upgrade(config, "head")
    with engine.connect() as connection:
        assert connection.execute(query).scalars().all() == before
    with writing(engine) as session:
        stock.record_movement(session, shop.line(MovementKind.SELL, 3))
        assert all(finding.holds for finding in check(session))
    with writing(engine) as session, pytest.raises(sa.exc.IntegrityError, match="only added to"):
        session.execute(sa.text("UPDATE movement SET quantity = 1"))


def test_what_notes_said_was_undone_is_said_by_the_column_and_the_ledger_still_proves(
    migrate: tuple[sa.Engine, Config],
) -> None:
    engine, config = migrate
    command.upgrade(config, "head")
    with writing(engine) as session:
        shop = open_shop(session, centres=5)
        stock.record_movement(session, shop.line(MovementKind.SELL, 3))
        undo(session, 2, "mistyped")
        stock.record_movement(session, shop.line(MovementKind.COUNT, 1, note="undo of a line that I forgot"))
    _forget_deeds(config)
    query = sa.text("SELECT id, undoes_id, digest FROM movement ORDER BY id")
    with engine.connect() as connection:
        before = connection.execute(query).all()
    assert {row[1] for row in before} == {None, 2}
    command.downgrade(config, "0014")
    command.upgrade(config, "head")
    with engine.connect() as connection:
        assert connection.execute(query).all() == before
    with writing(engine) as session:
        stock.record_movement(session, shop.line(MovementKind.SELL, 1))
        assert all(finding.holds for finding in check(session))
    with writing(engine) as session, pytest.raises(sa.exc.IntegrityError, match="only added to"):
        session.execute(sa.text("UPDATE movement SET quantity = 1"))


def test_quotes_from_before_they_were_signed_are_signed_as_they_are(migrate: tuple[sa.Engine, Config]) -> None:
    engine, config = migrate
    command.upgrade(config, "head")
    with writing(engine) as session:
        open_shop(session, centres=5)
    items = [Item(CENTRE.name, 2, amount=40000, currency="EUR"), Item(CENTRE.name, 1, discount=0.1)]
    desk.make_quote(engine, "Mill House", items, note='"½" \\', who="anna")
    desk.accept_quote(engine, desk.make_quote(engine, "Barn", items[1:]).offer.number)
    command.downgrade(config, "0019")
    command.upgrade(config, "head")
    with reading(engine) as session:
        signed = session.execute(
            sa.text(
                "SELECT subject, number FROM signature WHERE subject IN ('quote_terms', 'quote_line') AND said <> '{}'"
            )
        )
        assert sorted(signed) == [*[("quote_line", 1)] * 2, ("quote_line", 2), ("quote_terms", 1), ("quote_terms", 2)]
        assert all(finding.holds for finding in check(session)), check(session)
    desk.sell_quote(engine, 2)
    desk.lapse_quote(engine, 1)
    with unguarded(engine) as connection:
        connection.execute("UPDATE quote_line SET amount = 1 WHERE quote_id = 1 AND ordinal = 2")
    with reading(engine) as session:
        told = [breach for finding in check(session) for breach in finding.breaches]
    assert [line.split(":")[0] for line in told] == ["quote line 1 2"] * 2


def test_where_figures_come_from_is_kept_as_it_was_with_a_row_a_figure(migrate: tuple[sa.Engine, Config]) -> None:
    engine, config = migrate
    command.upgrade(config, "head")
    told = {
        "width": Figure("19⅝ in", "sheet.csv, line 2"),
        "sensitivity": Figure('88 "dB"', "bench", Evidence.MEASURED, ("read twice", "half a metre")),
        "low_limit": Figure("41 Hz", "sheet.csv, line 2", flags=("assumed",)),
    }
    known = replace(
        LINDEN, figures=told, width=0.498, sensitivity=88.0, low_limit=41.0, low_limit_drop=6.0,
        sensitivity_basis=SensitivityBasis.ANECHOIC, orientation=Orientation.LYING,
    )  # fmt: skip
    silent = replace(LINDEN, model="Silent")
    with writing(engine) as session:
        writes.save_loudspeakers(session, [known, silent])
    command.downgrade(config, "0021")
    figures = sa.text(
        "SELECT quantity, raw, name, basis, evidence FROM figure JOIN source ON source.id = source_id ORDER BY quantity"
    )
    with engine.connect() as connection:
        assert connection.execute(figures).all() == [
            ("low_limit", "41 Hz", "sheet.csv, line 2", "-6 dB", "stated"),
            ("sensitivity", '88 "dB"', "bench", "anechoic", "measured"),
            ("width", "19⅝ in", "sheet.csv, line 2", "lying", "stated"),
        ]
    command.upgrade(config, "head")
    with reading(engine) as session:
        found = reads.loudspeaker(session, known.name)
        assert (found, dict(found.figures)) == (known, told)
        assert reads.loudspeaker(session, silent.name).figures == {}
        assert session.scalar(sa.text("SELECT count(*) FROM source")) == 0


def test_a_room_surveyed_before_its_floor_had_a_column_is_kept_and_says_nothing_of_it(
    migrate: tuple[sa.Engine, Config],
) -> None:
    engine, config = migrate
    command.upgrade(config, BASE)
    no, yes = ("0", "1") if engine.dialect.name == "sqlite" else ("FALSE", "TRUE")
    columns = "name, name_key, amplifier, listening_needs_real_centre, mains_spacing"
    with engine.connect().execution_options(write=True) as connection:
        connection.exec_driver_sql(f"INSERT INTO room ({columns}) VALUES ('Loft', 'loft', {no}, {no}, 2.4)")
        connection.exec_driver_sql(
            'INSERT INTO seat (room_id, ordinal, name, name_key, distance, x, "primary", regular) '
            f"SELECT id, 1, 'sofa', 'sofa', 3.1, 0, {yes}, {yes} FROM room"
        )
        connection.commit()
    command.upgrade(config, "head")
    with reading(engine) as session:
        found = reads.room(session, "Loft")
    assert (found.mains.spacing, found.mains.floor, len(found.seats)) == (2.4, None, 1)
    with writing(engine) as session:
        writes.save_room(session, replace(found, mains=replace(found.mains, floor=Floor.CARPET)))
    with reading(engine) as session:
        assert reads.room(session, "Loft").mains.floor is Floor.CARPET
    with writing(engine) as session, pytest.raises(sa.exc.IntegrityError, match="ck_room_floor"):
        session.execute(sa.text("UPDATE room SET mains_floor = 'grass'"))
    command.downgrade(config, BASE)
    assert "mains_floor" not in {column["name"] for column in sa.inspect(engine).get_columns("room")}
