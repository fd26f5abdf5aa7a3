"""Nothing of the product lies where no command, no stated interface and no migration reaches it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.house.names import Definition
from tests.house.reach import House, house

EXCEPTIONS = {
    "catalog.cli.as_given": "typer asks it what a parameter is, in the place of what converts one",
    "catalog.database.models.__getattr__": "Python asks it for a table that nobody has asked for yet",
    "catalog.database.models.room_tables.Brief": "a table that the schema holds: it goes with the step that drops it",
    "recommender.advise.account.Account.standings": "handed on uncalled, and a field of another class has its name",
    "recommender.advise.advice.Columned.by_columns": "the writer of answers asks it of what tells itself by columns",
    "recommender.advise.advice.TOLD_AT_ONCE": "how many of those at once",
    "recommender.advise.processors.in_order": "what that asks",
    "recommender.asking.SurroundPrice.surround_currency": "handed on by its name, with the price beside it",
    "recommender.money.planner.thrift": "handed to the search, which lies below it and knows only what it asks",
    "recommender.physics.loudspeaker.pressure": "the plain form that the kernel of profiles is held to by test",
}
"""What may lie there, a name or a whole module, and why. Whatever is reached again leaves this list."""


@pytest.fixture(scope="module")
def found() -> list[str]:
    return [one.title for one in house().unreached()]


def covers(exception: str, title: str) -> bool:
    return title == exception or title.startswith(f"{exception}.")


@pytest.mark.slow
def test_nothing_is_unreached(found: list[str]) -> None:
    left = [title for title in found if not any(covers(name, title) for name in EXCEPTIONS)]
    assert not left, f"nothing but tests speaks of {', '.join(left)}: take it away, or move it under tests/"


@pytest.mark.slow
def test_every_exception_is_still_one(found: list[str]) -> None:
    struck = [name for name in EXCEPTIONS if not any(covers(name, title) for title in found)]
    assert not struck, f"reached or gone, so strike from the list: {', '.join(struck)}"


TOY = {
    "used.py": """
class Kind:
    size: int
    spare: int
    def called(self): return self.size
    def read_only(self): return LEFT
    @property
    def shown(self): return 1
    @property
    def counted(self): return 1
LEFT = 1
def again(): return again()
def helper(kind): return kind.called(), kind.shown, kind.counted()
""",
    "main.py": """
from triptych.toy.used import Kind, helper
__all__ = ["helper", "lonely"]
def main():
    from triptych.toy.late import lonely as late
    helper = 1
    return Kind(1, 2), late
def lonely(): return helper
""",
    "late.py": "def lonely(): return None",
}


def test_what_nobody_speaks_of_is_found_and_nothing_else(tmp_path: Path) -> None:
    """What `__all__` names, a name hidden by a local one, recursion and a property that is called reach nothing."""
    (tmp_path / "toy").mkdir()
    for name, text in TOY.items():
        (tmp_path / "toy" / name).write_text(text)

    def unreached(*roots: str) -> set[str]:
        return {
            one.title
            for one in Toy(tmp_path, ("toy",), tuple(("triptych.toy.main", root) for root in roots)).unreached()
        }

    beside = {"toy.used.LEFT", "toy.used.again", "toy.used.Kind.spare", "toy.used.Kind.read_only"}
    assert unreached("main", "lonely") == beside | {"toy.used.Kind.counted"}
    members = {"toy.used.Kind.called", "toy.used.Kind.shown", "toy.used.Kind.counted", "toy.used.Kind.size"}
    assert unreached("main") == beside | members | {"toy.used.helper", "toy.main.lonely"}


class Toy(House):
    """A house that can't be imported: its classes have no bases."""

    def _inherited(self, owner: Definition) -> set[str]:
        return set()
