"""Nothing disappears in a narrow terminal without saying so: each table at 80 and 60 columns, beside a wide one."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

import pytest

from tests.catalog.cli.conftest import Run
from tests.catalog.stock_shop import CENTRE, TOWER

pytestmark = pytest.mark.whole

WEEK: Final[tuple[tuple[str, ...], ...]] = (
    ("stock", "location", "shop", "--zone", "Europe/Lisbon"),
    ("supplier", "add", "Harbour Trading", "--lead-time", "9"),
    ("supplier", "article", CENTRE.name, "HT-20", "--supplier", "Harbour Trading", "--finish", "oak"),
    ("stock", "receive", CENTRE.name, "-l", "shop", "-n", "6", "--finish", "oak", "--cost", "310 EUR"),
    ("stock", "receive", CENTRE.name, "-l", "shop", "--serial", "A1", "--grade", "demo", "--new-finish"),
    ("stock", "receive", TOWER.name, "-l", "shop", "-n", "4", "--cost", "500 EUR", "--per", "each"),
    ("stock", "price", CENTRE.name, "--grade", "demo", "--price", "400 EUR"),
    ("stock", "reserve", CENTRE.name, "-l", "shop", "--finish", "oak", "--job", "Mill House", "--until", "2030-01-31"),
    (
        "stock",
        "lend",
        CENTRE.name,
        "-l",
        "shop",
        "--grade",
        "demo",
        "--serial",
        "A1",
        "--job",
        "Barn",
        "--until",
        "2030-01-31",
    ),
    ("stock", "transfer", TOWER.name, "-l", "shop", "--to", "van", "-n", "2", "--note", "for the fitting"),
    ("stock", "sell", CENTRE.name, "-l", "shop", "--finish", "oak", "--job", "Barn", "--price", "400 EUR"),
    ("supplier", "order", CENTRE.name, "-n", "3", "--supplier", "Harbour Trading", "--job", "Barn", "--finish", "oak"),
    ("supplier", "reorder", TOWER.name, "--least", "6", "--up-to", "8"),
    ("quote", "make", f"3 x {CENTRE.name}, oak", f"2 x {TOWER.name}", "--job", "Mill House", "--discount", "10"),
    ("quote", "accept", "1"),
    ("quote", "sell", "1", f"1 x {CENTRE.name}"),
)

TABLES: Final[tuple[tuple[str, ...], ...]] = (
    ("speaker", "list"),
    ("stock", "list"),
    ("stock", "ledger"),
    ("stock", "ledger", CENTRE.name),
    ("stock", "reservations"),
    ("stock", "available", CENTRE.name),
    ("stock", "loans"),
    ("stock", "value"),
    ("stock", "margin", "--by", "job"),
    ("stock", "price"),
    ("stock", "location"),
    ("stock", "find", "A1"),
    ("job", "list"),
    ("job", "show", "Mill House"),
    ("quote", "list"),
    ("quote", "show", "1"),
    ("supplier", "list"),
    ("supplier", "orders"),
    ("supplier", "reorder"),
    ("supplier", "article"),
)


def test_every_word_of_a_table_is_there_or_its_column_is_told(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    for words in WEEK:
        run(*words)
    assert lost_in_narrow(run, TABLES, monkeypatch) == []


def test_no_word_is_broken_where_there_is_room_for_it(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    for words in WEEK:
        run(*words)
    monkeypatch.setenv("COLUMNS", "60")
    for words in TABLES:
        shown = run(*words).stdout.split()
        # the whole name, or each word of it on a line of its own
        assert not {"loudspeake", "Oatfel", "Linde", "Centr", "Harbou", "reserv", "outstandin"} & set(shown), words


def lost_in_narrow(run: Run, tables: Sequence[Sequence[str]], monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """Give of each table at 80 and 60 columns the words of the wide one that are neither there nor told."""
    lost: list[object] = []
    for words in tables:
        monkeypatch.setenv("COLUMNS", "400")
        wide = run(*words).stdout
        assert wide.strip(), words
        for columns in (80, 60):
            monkeypatch.setenv("COLUMNS", str(columns))
            narrow = run(*words)
            assert max(map(len, narrow.stdout.splitlines())) <= columns, (words, columns)
            # a cell that is broken stands on several lines, and a long word in several pieces
            shown = re.sub(r"[\s─]", "", narrow.stdout)
            missing = [word for word in _words(wide) if word not in shown and not _in_pieces(word, narrow.stdout)]
            if missing and "left out for want of room" not in narrow.stderr:
                lost.append((" ".join(words), columns, missing))
    return lost


def _words(table: str) -> list[str]:
    """Give the words of a table's rows; its heads are broken otherwise."""
    # to the minute is enough
    rows = re.sub(r"(\d\d:\d\d):\d\dZ", r"\1Z", table.split("─\n", 1)[-1])
    words = {word.strip(",;") for word in rows.split() if any(map(str.isalnum, word))}
    # that a promise has not lapsed goes without saying
    return sorted(words - {"no"})


def _in_pieces(word: str, text: str) -> bool:
    """Say whether a word stands in a text in two pieces."""
    # what is longer than its column is broken anywhere
    return len(word) > 3 and any(word[:place] in text and word[place:] in text for place in range(1, len(word)))
