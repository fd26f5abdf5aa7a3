"""One name a thing: no module, class or constant shares its name with another, and prose keeps to one word."""

from __future__ import annotations

import ast
import io
import re
import tokenize
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Final, NamedTuple

import pytest

ROOT: Final = Path(__file__).parents[2]
HOUSES: Final = ("catalog", "recommender")

MODULES: Final = {
    "curve": "a command's module is named after the command; the physics of a curve is the other",
    "errors": "one a package: what can go wrong in it",
}
CLASSES: Final[Mapping[str, str]] = {}
CONSTANTS: Final = {
    "MOST_DRIVERS": "the catalogue refuses a layout as it comes in, the physics as it is read; neither knows the other",
}
"""Names that may stand twice, and why. A constant must have one value even so."""

TABLES: Final = "catalog/database/models/"
"""A table may share its name with the one record that it is read into."""


class Named(NamedTuple):
    """Something with a name: where it stands, and a constant's value."""

    name: str
    file: str
    value: str = ""


class Prose(NamedTuple):
    """Words for people, and where they stand."""

    where: str
    words: str


@cache
def sources() -> Mapping[str, str]:
    files = sorted(file for house in HOUSES for file in (ROOT / house).rglob("*.py"))
    return {file.relative_to(ROOT).as_posix(): file.read_text(encoding="utf-8") for file in files}


@cache
def parsed(text: str) -> ast.Module:
    return ast.parse(text)


@pytest.fixture(scope="module", autouse=True)
def _let_go() -> Iterator[None]:
    yield
    parsed.cache_clear()  # the trees of a whole house, of which nobody else asks


def modules(files: Mapping[str, str]) -> Iterator[Named]:
    for file in files:
        if not file.endswith("__init__.py"):
            yield Named(Path(file).stem, file)


def classes(files: Mapping[str, str]) -> Iterator[Named]:
    for file, text in files.items():
        for node in parsed(text).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                yield Named(node.name, file)


def constants(files: Mapping[str, str]) -> Iterator[Named]:
    for file, text in files.items():
        for node in parsed(text).body:
            targets = node.targets if isinstance(node, ast.Assign) else []
            targets = [node.target] if isinstance(node, ast.AnnAssign) else targets
            for each in (one for target in targets for one in ast.walk(target)):
                if isinstance(each, ast.Name) and each.id.isupper() and not each.id.startswith("_"):
                    value = getattr(node, "value", None)
                    yield Named(each.id, file, ast.unparse(value) if value else "")


def twice(found: Iterator[Named]) -> dict[str, list[Named]]:
    by_name: dict[str, list[Named]] = defaultdict(list)
    for one in found:
        by_name[one.name].append(one)
    return {name: there for name, there in by_name.items() if len(there) > 1}


def table_and_record(there: Sequence[Named]) -> bool:
    return len(there) == 2 and sum(one.file.startswith(TABLES) for one in there) == 1


def clashes(found: Iterator[Named], allowed: Mapping[str, str]) -> list[str]:
    """What has one name twice, but for what is allowed; an exception that is none any more is told too."""
    doubled = twice(found)
    told = [f"{name}: {', '.join(one.file for one in there)}" for name, there in doubled.items() if name not in allowed]
    differing = [name for name in allowed if len({one.value for one in doubled.get(name, ())}) > 1]
    gone = [f"{name}: stands once, so strike the exception" for name in allowed if name not in doubled]
    return told + gone + [f"{name}: has two values" for name in differing]


@pytest.mark.whole
def test_a_module_has_a_name_of_its_own() -> None:
    assert clashes(modules(sources()), MODULES) == []


@pytest.mark.whole
def test_a_class_has_a_name_of_its_own() -> None:
    shared = {name for name, there in twice(classes(sources())).items() if table_and_record(there)}
    assert clashes((one for one in classes(sources()) if one.name not in shared), CLASSES) == []


@pytest.mark.whole
def test_a_constant_has_a_name_and_a_value_of_its_own() -> None:
    assert clashes(constants(sources()), CONSTANTS) == []


def test_what_stands_twice_is_found() -> None:
    files = {
        "a/lines.py": "class Row: ...\nclass _Row: ...\nONE: int = 1\n_TWO = 2",
        "b/lines.py": "class Row: ...\nclass _Row: ...\nONE, THREE = 2, 3\n_TWO = 3",
        "a/__init__.py": "",
        "b/__init__.py": "",
    }
    for kind, name in ((modules, "lines"), (classes, "Row"), (constants, "ONE")):
        assert clashes(kind(files), {}) == [f"{name}: a/lines.py, b/lines.py"]
    assert clashes(constants(files), {"ONE": "a reason"}) == ["ONE: has two values"]
    assert clashes(classes(files), {"Row": "", "Gone": ""}) == ["Gone: stands once, so strike the exception"]


def test_only_a_table_shares_with_its_record() -> None:
    table = Named("Seat", f"{TABLES}room_tables.py")
    record = Named("Seat", "catalog/records.py")
    assert table_and_record([table, record])
    assert not table_and_record([record, record])
    assert not table_and_record([table, record, record])


NAME: Final = re.compile(
    r"""`[^`\n]+` | --speaker\b | \btriptych\ speaker\b | \bspeaker\ (?:add|edit|export|import|list|retire|show)\b
    | \b[Cc]olumns?:?\ speaker\b | =speaker\b | \bspeaker\ under\ \[ | \bspeaker\ <>
    | \bmains\.speaker\b | (?m:^\ *(?:\w+,\ )*speaker(?:,\ \w+)*\ :\ \w)""",
    re.VERBOSE,
)
"""*speaker* as a name: of a command, an option, a column, a key or a parameter."""

STRAY: Final = re.compile(r"(?<![\w-])speakers?\b", re.IGNORECASE)
OTHER_WORDS: Final = {
    r"\bspots?\b": "place",
    r"\b(?:on|at) site\b": "the place, in the room",
    r"\bjudgements?\b": "verdict",
}
"""Words that the house has another for."""


def is_prose(text: str) -> bool:
    """Whether a string is for people: one word is a name that code looks up, and a pattern reads what others wrote."""
    return " " in text.strip() and not re.search(r"\(\?:|\w\|\w|\\b", text)


def literals(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Strings, an f-string as a whole: what is put in is one letter."""
    inside: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            inside |= {id(part) for part in node.values}
            parts = (part.value if isinstance(part, ast.Constant) else "x" for part in node.values)
            yield node.lineno, "".join(map(str, parts))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in inside:
            yield node.lineno, node.value


def prose(files: Mapping[str, str]) -> Iterator[Prose]:
    """Docstrings, helps, messages and comments."""
    for file, text in files.items():
        yield from (Prose(f"{file}:{line}", words) for line, words in literals(parsed(text)) if is_prose(words))
        for token in tokenize.generate_tokens(io.StringIO(text).readline):
            if token.type == tokenize.COMMENT:
                yield Prose(f"{file}:{token.start[0]}", token.string)


def paragraphs(file: str) -> Prose:
    """A page without what is typed or answered there."""
    text = (ROOT / file).read_text(encoding="utf-8")
    return Prose(file, re.sub(r"^```.*?^```", "", text, flags=re.DOTALL | re.MULTILINE))


def strays(one: Prose) -> list[str]:
    left = NAME.sub(" ", one.words)
    return [f"{one.where}: {found.group()!r} in {one.words[:80]!r}" for found in STRAY.finditer(left)]


PAGES: Final = ("README.md",)


@cache
def all_prose() -> tuple[Prose, ...]:
    return (*prose(sources()), *map(paragraphs, PAGES))


@pytest.mark.whole
def test_prose_says_loudspeaker() -> None:
    assert [told for one in all_prose() for told in strays(one)] == []


@pytest.mark.whole
@pytest.mark.parametrize(("pattern", "word"), OTHER_WORDS.items())
def test_prose_keeps_to_one_word(pattern: str, word: str) -> None:
    found = [one for one in all_prose() if re.search(pattern, one.words)]
    assert [f"{one.where}: say {word} in {one.words[:80]!r}" for one in found] == []


def heads(tree: ast.AST) -> Iterator[str]:
    """Heads of the tables that a terminal shows: what is handed to `table` or `print_table` by itself."""
    for node in ast.walk(tree):
        called = node.func if isinstance(node, ast.Call) else None
        name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
        if isinstance(node, ast.Call) and name in ("table", "print_table"):
            constants = (one for part in node.args for one in ast.walk(part) if isinstance(one, ast.Constant))
            yield from (one.value for one in constants if isinstance(one.value, str))


@pytest.mark.whole
def test_heads_of_tables_say_loudspeaker() -> None:
    assert [file for file, text in sources().items() if {"speaker", "speakers"} & set(heads(parsed(text)))] == []


def test_a_stray_word_is_found_and_a_name_is_none() -> None:
    said = 'def f(name):\n    """Show a speaker."""\n    return f"{name} speakers", "speaker"  # our speaker'
    assert [one for each in prose({"a.py": said}) for one in strays(each)] == [
        "a.py:2: 'speaker' in 'Show a speaker.'",
        "a.py:3: 'speakers' in 'x speakers'",
        "a.py:3: 'speaker' in '# our speaker'",
    ]
    for name in ("`speaker` there", "triptych speaker list", "with --speaker NAME", "speaker edit", "two loudspeakers"):
        assert strays(Prose("", name)) == []
    assert list(heads(ast.parse('table("role", "speaker")\nother("speaker")'))) == ["role", "speaker"]
