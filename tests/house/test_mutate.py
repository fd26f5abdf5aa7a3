"""The lines that are broken by hand stand where the table says: one that moved would end the whole run."""

from __future__ import annotations

from tests.house.mutate import HOUSE, breaks


def test_each_line_that_is_broken_stands_once_where_the_table_says() -> None:
    moved = [
        f"{one.module}: {one.line}"
        for one in breaks()
        if (HOUSE / "recommender" / one.module).read_text(encoding="utf-8").count(one.line) != 1
    ]
    assert not moved
    assert not [one.seen for one in breaks() if not (HOUSE / "tests" / "recommender" / one.seen).is_file()]
