"""A catalogue answers the same on SQLite and on PostgreSQL, to the last word and digit."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.databases import beside, on_server
from triptych.catalog.answers import Answers
from triptych.catalog.stock import desk
from triptych.recommender.api import Catalogue, open_catalogue

ROOMS = ("Mill House", "Sail Loft")
CENTRES = ("Bramble Thatch Trivet Stacked Centre", "Kettle Moss Bobbin Centre", "Cobble Mere Pestle Centre")
PLAN = """
currency = "EUR"
limit = 5000
tax_included = true
tax_rate = 20
[want]
mains = 2
centre = 1
surrounds = 2
sub = 1
"""


def filled(catalogue: Catalogue) -> Catalogue:
    catalogue.import_demo()
    for name in CENTRES[:2]:
        desk.receive(catalogue.engine, desk.Request(name, "shop", 2))
    return catalogue


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory, postgresql_url: str) -> Iterator[tuple[Catalogue, Catalogue]]:
    name = f"both_{uuid.uuid4().hex[:8]}"
    on_server(postgresql_url, f"CREATE DATABASE {name}")
    with (
        open_catalogue(tmp_path_factory.mktemp("both") / "catalogue.db") as file,
        open_catalogue(beside(postgresql_url, name)) as server,
    ):
        yield filled(file), filled(server)
    on_server(postgresql_url, f"DROP DATABASE {name} WITH (FORCE)")


def told(answer: object) -> str:
    return "".join(Answers().json(answer))


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("in_stock", [False, True])
def test_a_match(both: tuple[Catalogue, Catalogue], room: str, in_stock: bool) -> None:
    file, server = (told(catalogue.match(room, in_stock=in_stock)) for catalogue in both)
    assert file == server
    assert '"score"' in file


@pytest.mark.parametrize("room", ROOMS)
def test_an_account_and_a_comparison(both: tuple[Catalogue, Catalogue], room: str) -> None:
    for centre in CENTRES:
        file, server = (told(catalogue.explain(centre, room)) for catalogue in both)
        assert file == server
    file, server = (told(catalogue.compare(CENTRES, room)) for catalogue in both)
    assert file == server


@pytest.mark.plan
@pytest.mark.parametrize("in_stock", [False, True])
def test_a_plan(both: tuple[Catalogue, Catalogue], tmp_path: Path, in_stock: bool) -> None:
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    answers = [catalogue.plan(tmp_path / "plan.toml", "Mill House", in_stock=in_stock) for catalogue in both]
    assert repr(answers[0].systems) == repr(answers[1].systems)  # what a piece says nothing of is NaN, unlike itself
    assert answers[0].otherwise == answers[1].otherwise
