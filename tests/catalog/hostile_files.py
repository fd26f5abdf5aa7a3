"""Files that nobody means well with, and what an import of one does: a dump of the catalogue before and after."""

from __future__ import annotations

import io
import random
import sqlite3
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing
from functools import cache, partial
from pathlib import Path

import sqlalchemy as sa

from triptych.catalog.errors import CatalogError
from triptych.catalog.files.importing import Import, import_file
from triptych.catalog.files.loudspeakers import csv_of, write_loudspeakers
from triptych.catalog.records import LoudspeakerRecord, Role

HEADER = "maker,series,model,roles,width,note,layout,crossover,price,currency\n"
NAMED = "Oatfell,,Robin,centre,"
RECORDS = [
    LoudspeakerRecord("Oatfell", f"Wren {number}", roles=frozenset({Role.CENTRE}), width=0.5, note='=1+1, "x"\ny')
    for number in range(6)
]
PART = "xl/worksheets/sheet1.xml"


def dump(path: Path) -> str:
    """All that a SQLite catalogue holds."""
    with closing(sqlite3.connect(path)) as connection:
        return "\n".join(connection.iterdump())


def outcome(engine: sa.Engine, file: Path) -> str:
    """What an import says; anything but a refusal of ours is an error of this program."""
    try:
        saved = import_file(engine, Import(file, {}, None, clear=False, keep_good=False, dry_run=False))
    except CatalogError as refusal:
        return f"refused: {refusal}"
    return f"taken: {saved}"


def sheet(change: Callable[[bytes], bytes]) -> bytes:
    """A workbook whose first sheet is changed."""
    from triptych.catalog.files.workbooks import workbook

    rows = [["maker", "model", "roles", "width"], ["Oatfell", "Robin", "centre", "178"]]
    made = io.BytesIO()
    good = io.BytesIO(workbook(rows, [False, False, False, True]))
    with zipfile.ZipFile(good) as source, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as target:
        for name in source.namelist():
            content = source.read(name)
            target.writestr(name, change(content) if name == PART else content)
    return made.getvalue()


def row(text: str) -> Callable[[bytes], bytes]:
    """One row more at the end of a sheet."""
    return lambda content: content.replace(b"</sheetData>", text.encode() + b"</sheetData>")


def cell(place: str, text: str = "x") -> str:
    """A row of a sheet with one cell of text."""
    number = "".join(filter(str.isdigit, place))
    return f'<row r="{number}"><c r="{place}" t="inlineStr"><is><t>{text}</t></is></c></row>'


ENTITIES = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + "".join(
    f'<!ENTITY {new} "{f"&{old};" * 10}">' for old, new in zip("abcdefgh", "bcdefghi", strict=True)
)

HOSTILE: dict[str, Callable[[], bytes]] = {
    "nothing": lambda: b"",
    "blank lines": lambda: b"\n" * 200_000,
    "a long line": lambda: (HEADER + NAMED + "1" * 200_000 + "\n").encode(),
    "a long header": lambda: ("maker" * 50_000 + "," + HEADER).encode(),
    "a cell of megabytes": lambda: (HEADER + NAMED + '"' + "a\n" * 2_000_000 + '"\n').encode(),
    "a quote that never ends": lambda: (HEADER + NAMED + '"' + "1,2\n" * 100_000).encode(),
    "a million columns": lambda: ("a," * 1_000_000 + HEADER).encode(),
    "a million columns in lines": lambda: (HEADER + '"' + ("a," * 1000 + "\n") * 1000 + '"\n').encode(),
    "many columns": lambda: ("a," * 60_000 + HEADER).encode(),
    "many empty columns": lambda: (HEADER.strip() + "," * 60_000 + "\n" + NAMED + "," * 60_000 + "\n").encode(),
    "many rows": lambda: (HEADER + "x\n" * 300_000).encode(),
    "many unknown headers": lambda: ("maker,model,roles," + ",".join(f"c{n}" for n in range(900)) + "\n").encode(),
    "brackets by the thousand": lambda: (HEADER + NAMED + f",,{'(' * 60_000 + 'T' + ')' * 60_000}\n").encode(),
    "numbers by the thousand": lambda: (HEADER + NAMED + f",,,{'/'.join(['350'] * 30_000)}\n").encode(),
    "accents by the thousand": lambda: (HEADER + "Oatf" + "\u0301\u0327" * 60_000 + "l,,Robin,centre\n").encode(),
    "roles by the thousand": lambda: (HEADER + f"Oatfell,,Robin,{'main;' * 20_000}x\n").encode(),
    "digits by the thousand": lambda: (HEADER + NAMED + "9" * 100_000 + ",,,,\n").encode(),
    "a huge exponent": lambda: (HEADER + NAMED + "1e999999999,,,,1e999999999,EUR\n").encode(),
    "control characters": lambda: (HEADER + "Oat\x1b[31mfell,,Rob\x07in,centre,,a\x08b\n").encode(),
    "half a character": lambda: (HEADER + NAMED).encode("utf-16")[:-1],
    "only a mark": lambda: b"\xff\xfe",
    "a program": lambda: bytes(range(256)) * 4000,
    "an archive cut short": lambda: sheet(lambda content: content)[:-400],
    "a stray cell far down": lambda: sheet(row(cell("A1048576"))),
    "a stray cell far right": lambda: sheet(row(cell("XFD5"))),
    "a stray cell far off": lambda: sheet(row(cell("XFD1048576"))),
    "a row beyond all rows": lambda: sheet(row(cell("A2000000000"))),
    "a column beyond all columns": lambda: sheet(row(cell("ZZZZZZ5"))),
    "rows out of order": lambda: sheet(row(cell("A9") + cell("A7"))),
    "cells out of order": lambda: sheet(row('<row r="5"><c r="D5"><v>1</v></c><c r="A5"><v>2</v></c></row>')),
    "a cell twice": lambda: sheet(row('<row r="5"><c r="D5"><v>1</v></c><c r="D5"><v>2</v></c></row>')),
    "a bomb of one cell": lambda: sheet(row(cell("A5", "A" * (200 * 2**20)))),
    "a bomb of cells": lambda: sheet(row('<row r="5">' + "<c/>" * 2_000_000 + "</row>")),
    "a bomb of entities": lambda: sheet(lambda content: f"{ENTITIES}]>".encode() + content.replace(b"178", b"&i;")),
    "sheets without end": lambda: sheet(lambda content: b"<a>" * 200_000),
    "a number of no size": lambda: sheet(row('<row r="5"><c r="D5"><v>1e999999</v></c></row>')),
    "a string that is not there": lambda: sheet(row('<row r="5"><c r="D5" t="s"><v>99999999</v></c></row>')),
}
"""How each file is made."""


@cache
def hostile(name: str) -> bytes:
    """What a file holds."""
    return HOSTILE[name]()


def mutants(count: int, folder: Path, seed: int = 0) -> Iterator[bytes]:
    """Good files with some of their bytes changed, doubled, cut out or put elsewhere."""
    dice = random.Random(seed)
    write_loudspeakers(folder / "good.xlsx", RECORDS)
    good = [csv_of(RECORDS).encode(), (folder / "good.xlsx").read_bytes(), sheet(lambda content: content)]
    for _ in range(count):
        content = bytearray(dice.choice(good))
        for _ in range(dice.randint(1, 6)):
            place, length = dice.randrange(len(content)), dice.randint(1, 40)
            piece = content[place : place + length]
            change = dice.randrange(4)
            if change == 0:
                content[place] = dice.randrange(256)
            elif change == 1:
                del content[place : place + length]
            elif change == 2:
                content[place:place] = piece * dice.randint(1, 50)
            else:
                content[place:place] = dice.choice(
                    [b"\0", b'"', b",,", b"\r", b"unknown", b"\xff\xfe", b"1e9", b"=1+1"]
                )
        yield bytes(content)
        # what is in a workbook is hidden from a change of its bytes
        yield sheet(partial(_changed, dice))


def _changed(dice: random.Random, part: bytes) -> bytes:
    place, length = dice.randrange(len(part)), dice.randint(1, 12)
    return (
        part[:place] + dice.choice([b"", b"9", b"<c/>", b"&#9;", part[place : place + length] * 3]) + part[place + 1 :]
    )
