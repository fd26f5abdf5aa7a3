"""The README's tables of columns, of equipment and of room keys are those of the catalogue's fields.

`python -m tests.test_readme_fields` writes them anew.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Final

from triptych.catalog.equipment_record import EQUIPMENT
from triptych.catalog.fields import COLUMNS, ROOM_NAME, SECTIONS, Field
from triptych.catalog.number_texts import plausible

README = Path(__file__).parents[1] / "README.md"


def columns(fields: Iterable[Field] = COLUMNS.values()) -> str:
    rows = (f"| `{field.name}` | {_meaning(field)} | {_range(field)} |" for field in fields)
    return "\n".join(["| column | what it is | bare number, range |", "| --- | --- | --- |", *rows, ""])


def keys() -> str:
    rows = (f"| {where} | `{field.name}` | {_key(field)} | {_range(field)} |" for where, field in _keys())
    return "\n".join(["| section | key | what it is | bare number, range |", "| --- | --- | --- | --- |", *rows, ""])


def _keys() -> Iterator[tuple[str, Field]]:
    yield "", ROOM_NAME
    for section in SECTIONS.values():
        head = f"`[[{section.name}]]`" if section.repeated else f"`[{section.name}]`"
        yield from ((head, field) for field in section.keys.values())


def _meaning(field: Field) -> str:
    return field.help.removesuffix(f" [{field.unit}]")


def _key(field: Field) -> str:
    """In TOML yes and no are true and false."""
    said = re.sub(r"\b(?:yes|no)\b", lambda word: TOML[word[0]], _meaning(field))
    return said + (" (required)" if field.required else "")


def _range(field: Field) -> str:
    return "" if field.quantity is None else plausible(field.quantity)


TOML: Final = {"yes": "true", "no": "false"}
TABLES: Final[Mapping[str, Callable[[], str]]] = {
    "columns": columns,
    "equipment": lambda: columns(EQUIPMENT.values()),
    "keys": keys,
}


def _pattern(name: str) -> re.Pattern[str]:
    return re.compile(rf"(?<=<!-- {name} -->\n).*?(?=<!-- end -->)", re.DOTALL)


def test_the_readme_names_every_column_and_key() -> None:
    text = README.read_text(encoding="utf-8")
    assert {name: _pattern(name).findall(text) for name in TABLES} == {name: [make()] for name, make in TABLES.items()}


def rewrite() -> None:
    text = README.read_text(encoding="utf-8")
    for name, make in TABLES.items():
        before, after = text.split(f"<!-- {name} -->\n")
        text = f"{before}<!-- {name} -->\n{make()}{after[after.index('<!-- end -->') :]}"
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    rewrite()
