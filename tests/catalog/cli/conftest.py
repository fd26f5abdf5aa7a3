"""The stock's commands on a small catalogue, run as a person or a program runs them."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
import typer
from typer.testing import CliRunner

from tests.catalog.filling import filled
from tests.catalog.stock_shop import CENTRE, EVIL, LAST, TOWER
from triptych.catalog.cli import backup, job, options, quote, speaker, stock, supplier
from triptych.catalog.database.address import as_url
from triptych.catalog.database.engine import open_engine, writing
from triptych.catalog.database.writes import save_loudspeakers

Run = Callable[..., Any]


@functools.cache
def application() -> typer.Typer:
    app = options.application("The stock's groups, as the whole program mounts them.")
    groups = {"stock": stock.app, "quote": quote.app, "job": job.app, "supplier": supplier.app, "speaker": speaker.app}
    for name, group in groups.items():
        app.add_typer(group, name=name)
    app.command("backup")(backup.backup)
    app.command("restore")(backup.restore)
    return app


def open_shop(engine: sa.Engine) -> None:
    with writing(engine) as session:
        save_loudspeakers(session, [TOWER, CENTRE, LAST, replace(CENTRE, model=EVIL)])


@pytest.fixture
def run(sqlite_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("TRIPTYCH_DB", str(sqlite_path))
    monkeypatch.setenv("TRIPTYCH_USER", "anna")
    monkeypatch.setenv("COLUMNS", "200")
    filled(open_engine(as_url(str(sqlite_path))), open_shop).dispose()
    app = application()

    def invoke(*arguments: str, code: int = 0) -> Any:
        result = CliRunner().invoke(app, list(arguments))
        assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
        assert result.exit_code == code, result.output
        return result

    return invoke
