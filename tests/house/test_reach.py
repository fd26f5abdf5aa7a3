"""Nothing of the product lies where no command, no stated interface and no migration reaches it."""

from __future__ import annotations

import pytest

from tests.house.reach import House, house

NEXT = "used by the seats' own frame, next"
LEDGER = "the ledger's second way in: only tests call it, and it goes with that piece of work"
EXCEPTIONS = {
    "catalog.database.models.room_tables.Brief": "a table that the schema holds: it goes with the step that drops it",
    "catalog.driver": LEDGER,
    "catalog.stock.checking.on_hand_by_replay": LEDGER,
    "catalog.stock.lines.key_of": LEDGER,
    "catalog.stock.movements.record_movements": LEDGER,
    "catalog.stock.movements.refuse_if_hopeless": LEDGER,
    "catalog.stock.posting": LEDGER,
    "catalog.stock.posting_server": LEDGER,
    "catalog.stock.posting_sqlite": LEDGER,
    "recommender.physics.direction.Angles": NEXT,
    "recommender.physics.direction.direction_in_box": NEXT,
    "recommender.physics.direction.plane_angles": NEXT,
    "recommender.physics.loudspeaker.pressure_at": NEXT,
}
"""What may lie there, a name or a whole module, and why. Whatever is reached again leaves this list."""


@pytest.fixture(scope="module")
def found() -> list[str]:
    return [one.title for one in house().unreached()]


def covers(exception: str, title: str) -> bool:
    return title == exception or title.startswith(f"{exception}.")


def test_nothing_is_unreached(found: list[str]) -> None:
    left = [title for title in found if not any(covers(name, title) for name in EXCEPTIONS)]
    assert not left, f"nothing but tests speaks of {', '.join(left)}: take it away, or move it under tests/"


@pytest.mark.parametrize("exception", EXCEPTIONS)
def test_every_exception_is_still_one(found: list[str], exception: str) -> None:
    assert any(covers(exception, title) for title in found), f"{exception} is reached or gone: strike it from the list"


def test_what_nobody_calls_is_found() -> None:
    """Of a house with one root, everything that the root doesn't speak of is unreached: the tool isn't blind."""
    small = House(roots=(("triptych.recommender.physics.checks", "within"),))
    titles = {one.title for one in small.unreached()}
    assert "recommender.physics.checks.ComplexArray" in titles
    assert "recommender.cli.main" in titles
    assert not titles & {"recommender.physics.checks.within", "recommender.physics.checks.OutOfRange"}
