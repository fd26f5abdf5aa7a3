"""The doors of a firm's week tried with what nobody means, in a shop where there is something behind each of them."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Final

import pytest

from tests.doors import WORDS, complaint, doors, knock, within
from tests.test_doors import ONE_AFTER_THE_OTHER, limited
from triptych.recommender.api import open_catalogue

pytestmark = pytest.mark.whole

CENTRE: Final = "Bramble Thatch Trivet Wide Centre"
PAIR: Final = "Bramble Thatch Trivet Slim Tower"
KNOWN: Final = {
    "model": CENTRE,
    "items": CENTRE,
    "name": "Mill House",
    "new": "The Mill House",
    "into": "Mill House",
    "job": "Mill House",
    "location": "shop",
    "at": "shop",
    "to": "van",
    "out": "out.html",
    "file": "note.csv",
    "number": "1",
    "delivery": "4711",
    "serials": "S1",
    "supplier": "Harbour",
    "quantity": "1",
    "serial": "S1",
}
TRIED: Final = frozenset(
    [
        *(("stock", one) for one in ("labels", "deliver", "lend", "bring-back", "join", "value", "margin", "loans")),
        *(("stock", one) for one in ("available", "price", "transfer")),
        *(("job", one) for one in ("list", "show", "rename", "merge")),
        *(("supplier", one) for one in ("reorder", "article")),
        *(("quote", one) for one in ("print", "sell", "make")),
    ]
)
ALWAYS: Final = ("9" * 5000, "", " ", "a\nb\ttab")
SETTING_UP: Final = (
    ("stock", "receive", CENTRE, "-l", "shop", "--serial", "S1", "--serial", "S2"),
    ("stock", "receive", PAIR, "-l", "shop", "-n", "4"),
    ("stock", "reserve", CENTRE, "-l", "shop", "--serial", "S2", "--job", "Mill House"),
    ("supplier", "add", "Harbour"),
    ("quote", "make", CENTRE, "--job", "Mill House"),
    ("stock", "split", PAIR, "-l", "shop", "--serial", "P1", "--serial", "P2"),
)

HEADER: Final = "speaker,quantity,serial,cost,location,finish,note\n"
NOTES: Final[dict[str, bytes]] = {
    "digits": f"{HEADER}{CENTRE},{'9' * 5000},,,shop,,\n".encode(),
    "exponent": f"{HEADER}{CENTRE},1e999999999,,,shop,,\n".encode(),
    "half": f"{HEADER}{CENTRE},½,,,shop,,\n".encode(),
    "dear": f"{HEADER}{CENTRE},1,,{'9' * 5000} EUR,shop,,\n".encode(),
    "serials": f'{HEADER}{CENTRE},,"{";".join(["x" * 600] * 3)}",,shop,,\n'.encode(),
    "same serials": f'{HEADER}{CENTRE},,"S9,S9",,shop,,\n'.encode(),
    "no name": f"{HEADER},1,,,shop,,\n".encode(),
    "no place": f"{HEADER}{CENTRE},1,,, ,,\n".encode(),
    "latin": f"{HEADER}Caf\xe9,1,,,shop,,\n".encode("latin-1"),
    "utf16": f"{HEADER}{CENTRE},1,,,sh\xf6p,,\n".encode("utf-16")[:-1],
    "nul": f"{HEADER}{CENTRE},1,a\0b,,shop,,\n".encode(),
    "hidden": f"{HEADER}{CENTRE},1,a\u202eb,,sh\u200bop,,\n".encode(),
    "long": f"{HEADER}{CENTRE},1,,,{'s' * 9000},,\n".encode(),
    "quoted": f'{HEADER}"{CENTRE},1,,,shop,,\n'.encode() * 200,
    "two of one head": b"speaker,quantity,quantity\nx,1,1\n",
    "nothing": b"",
    "binary": bytes(range(256)) * 20,
}
"""Delivery notes that nobody can take."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("week")
    with open_catalogue(str(folder / "shop.db"), quiet=True) as opened:
        opened.import_demo()
    with pytest.MonkeyPatch.context() as patch, within(folder):
        patch.setenv("TRIPTYCH_DB", str(folder / "shop.db"))
        for words in SETTING_UP:
            done = knock(words)
            assert done.exit_code == 0, done.output
    (folder / "note.csv").write_text(f"{HEADER}{CENTRE},1,,,shop,,\n")
    for name, content in NOTES.items():
        (folder / f"{name}.csv").write_bytes(content)
    return folder


def test_every_door_of_the_week_refuses_what_nobody_means(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRIPTYCH_DB", str(shop / "shop.db"))
    chance, bad = random.Random(23), []
    tried = [door for door in doors(KNOWN) if door.command in TRIED]
    assert {door.command for door in tried} == TRIED
    with within(shop):
        for door in tried:
            for word in (*ALWAYS, *chance.sample(WORDS, 3)):
                if why := complaint(knock((*door.command, *door.words, word))):
                    bad.append(f"{' '.join(door.command)}, {door.name} = {word[:40]!r}: {why}")
        sound = knock(("stock", "check"))
    assert bad == []
    assert sound.exit_code == 0, sound.output


@pytest.mark.parametrize("name", NOTES)
def test_a_delivery_note_that_nobody_can_take_writes_nothing(
    shop: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setenv("TRIPTYCH_DB", str(shop / "shop.db"))
    before = knock(("stock", "ledger", "--format", "json")).stdout
    answer = knock(("stock", "deliver", str(shop / f"{name}.csv"), "--delivery", f"no {name}"))
    assert complaint(answer) == ""
    assert answer.exit_code == 1
    assert len(answer.stderr) < 4000
    assert knock(("stock", "ledger", "--format", "json")).stdout == before


@pytest.mark.processes
def test_words_that_are_no_utf8_are_refused_by_each_of_them(shop: Path) -> None:
    strange = "Caf\udce9"
    calls = [
        ["stock", "labels", "--job", strange, "--out", "x.html"],
        ["stock", "deliver", "note.csv", "--delivery", strange],
        ["stock", "lend", CENTRE, "-l", "shop", "--job", strange],
        ["stock", "join", strange, "-l", "shop", "--serial", "a", "--serial", "b"],
        ["job", "show", strange],
        ["job", "rename", "Mill House", strange],
        ["supplier", "reorder", strange, "--least", "1"],
        ["supplier", "article", CENTRE, strange],
        ["stock", "price", strange, "--grade", "demo", "--price", "1 EUR"],
        ["stock", "available", strange],
        ["quote", "print", "1", "--out", f"{strange}.html"],
    ]
    escaped = json.dumps(calls)
    done = limited([escaped], shop, program=ONE_AFTER_THE_OTHER)
    assert done.stdout.decode() == "\0".join(["(2)"] * len(calls))
    assert b"Traceback" not in done.stderr
    assert done.stderr.count(b"is not text in UTF-8") == len(calls)
