"""How large a house is: `python -m tests.house.size [FOLDER]`, this one unless another checkout is named.

First what lies there: files, lines, functions and classes of each package, and the median length of a function's body.
Then what three jobs walk through, traced while the command runs on the seed data: functions of the product that were
called, modules they live in, SQL statements, calls, and of all pairs of caller and callee how many are of two modules.
Comprehensions and the bodies of modules and classes aren't counted. Older checkouts have no name `triptych` around the
packages; both kinds are understood.
"""

from __future__ import annotations

import ast
import contextlib
import io
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from pathlib import Path
from statistics import median
from types import CodeType, FrameType
from typing import Any, Final, NamedTuple

HERE: Final = Path(__file__).resolve().parents[2]
PACKAGES: Final = ("catalog", "recommender", "migrations", "seed_data", "tests")
PRODUCT: Final = PACKAGES[:-1]
LOOSE: Final = "*.py"
TRACED: Final = "Traced"
TOWER: Final = "Bramble Thatch Trivet Tower"
CENTRE: Final = "Bramble Thatch Trivet Wide Centre"
OPTIMISED: Final = 0x1
"""Flag of the code of a function, which that of a module or a class body lacks."""

SHEET: Final = """Oatfell Wren Centre
Type: two-way centre speaker, bass reflex, rear port
Dimensions (W x H x D): 520 x 170 x 300 mm
Weight: 11.5 kg
Frequency response: 55 Hz - 22 kHz (-3 dB)
Sensitivity: 88 dB (2.83 V / 1 m)
Impedance: 8 ohms (minimum 5.2 ohms)
Crossover frequency: 2.4 kHz
Tweeter: 25 mm dome
Woofers: 2 x 130 mm
Price: 640 EUR each
"""


class Part(NamedTuple):
    """What lies in one package."""

    name: str
    files: int
    lines: int
    functions: int
    classes: int
    body: float


class Walk(NamedTuple):
    """What one job walked through."""

    name: str
    functions: int
    modules: int
    statements: int
    calls: int
    edges: int
    crossing: int


def parts(folder: Path) -> Iterator[Part]:
    """The packages of a house, those of `catalog` and `recommender` one level down."""
    for package in PACKAGES:
        top = folder / package
        yield _part(package if package not in ("catalog", "recommender") else f"{package}/{LOOSE}", _files(top))
        if package in ("catalog", "recommender"):
            for inner in sorted(path for path in top.iterdir() if path.is_dir() and any(path.rglob("*.py"))):
                yield _part(f"{package}/{inner.name}", sorted(inner.rglob("*.py")))
    yield _part("product", [path for package in PRODUCT for path in (folder / package).rglob("*.py")])


def _files(top: Path) -> list[Path]:
    return sorted(top.glob("*.py") if top.name in ("catalog", "recommender") else top.rglob("*.py"))


def _part(name: str, files: list[Path]) -> Part:
    counted = [_counted(path) for path in files]
    bodies = [body for one in counted for body in one.bodies]
    lines, classes = sum(one.lines for one in counted), sum(one.classes for one in counted)
    return Part(name, len(files), lines, len(bodies), classes, median(bodies) if bodies else 0)


class Counted(NamedTuple):
    """What a file holds: its lines, the lines of each function's body, and its classes."""

    lines: int
    bodies: list[int]
    classes: int


@cache
def _counted(path: Path) -> Counted:
    text = path.read_text(encoding="utf-8")
    nodes = list(ast.walk(ast.parse(text)))
    functions = [node for node in nodes if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    classes = sum(isinstance(node, ast.ClassDef) for node in nodes)
    return Counted(text.count("\n"), list(map(_body, functions)), classes)


def _body(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function under its docstring."""
    body = node.body[1:] if ast.get_docstring(node) is not None and len(node.body) > 1 else node.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1


@dataclass
class Tracer:
    """Counts what runs in the product's own files."""

    folder: Path
    functions: set[tuple[str, str]] = field(default_factory=set)
    pairs: set[tuple[tuple[str, str], tuple[str, str]]] = field(default_factory=set)
    calls: int = 0
    statements: int = 0
    names: dict[CodeType, tuple[str, str] | None] = field(default_factory=dict)

    def own(self, code: CodeType) -> tuple[str, str] | None:
        """File and name of a function of the product; None for anybody else's."""
        if code not in self.names:
            path = os.path.realpath(code.co_filename)
            inside = any(path.startswith(f"{self.folder / package}{os.sep}") for package in PRODUCT)
            whole = inside and code.co_flags & OPTIMISED and not code.co_name.startswith("<")
            self.names[code] = (os.path.relpath(path, self.folder), code.co_qualname) if whole else None
        return self.names[code]

    def __call__(self, frame: FrameType, event: str, _: Any) -> None:
        """What `sys.setprofile` wants."""
        if event != "call" or (here := self.own(frame.f_code)) is None:
            return
        self.calls += 1
        self.functions.add(here)
        caller = frame.f_back
        while caller is not None and self.own(caller.f_code) is None:
            caller = caller.f_back
        if caller is not None and (before := self.own(caller.f_code)) is not None:
            self.pairs.add((before, here))

    def count(self, *_: Any) -> None:
        """What SQLAlchemy calls before each statement."""
        self.statements += 1

    def walked(self, name: str) -> Walk:
        """The sum of it."""
        modules = {file for file, _ in self.functions}
        crossing = sum(one[0] != other[0] for one, other in self.pairs)
        return Walk(name, len(self.functions), len(modules), self.statements, self.calls, len(self.pairs), crossing)


def command_line(folder: Path) -> Any:
    """The commands of a house, as typer builds them."""
    import typer

    name = "triptych.recommender.cli" if (folder / ".package").is_dir() else "recommender.cli"
    return typer.main.get_command(import_module(name).app)


def run(command: Any, words: list[str]) -> None:
    """Run one command, its output kept to itself."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        try:
            code = command.main(args=words, prog_name="triptych", standalone_mode=False)
        except SystemExit as end:
            code = end.code
    if code:
        raise SystemExit(f"triptych {' '.join(words)} ended with {code}: {said.getvalue()}")


def traced(folder: Path, command: Any, name: str, *calls: list[str]) -> Walk:
    """Run some commands with everything counted."""
    import sqlalchemy as sa

    tracer = Tracer(folder)
    sa.event.listen(sa.Engine, "before_cursor_execute", tracer.count)
    sys.setprofile(tracer)
    try:
        for words in calls:
            run(command, words)
    finally:
        sys.setprofile(None)
        sa.event.remove(sa.Engine, "before_cursor_execute", tracer.count)
    return tracer.walked(name)


def walks(folder: Path) -> list[Walk]:
    """The three jobs, on the seed data of that house in a catalogue of their own."""
    with tempfile.TemporaryDirectory() as scratch:
        db = ["--db", f"{scratch}/house.db"]
        command, seed = command_line(folder), folder / "seed_data"
        row, sheet = Path(scratch, "row.csv"), Path(scratch, "sheet.txt")
        head, first, *_ = (seed / "loudspeakers.csv").read_text(encoding="utf-8").splitlines()
        maker, _, rest = first.split(",", 2)
        row.write_text(f"{head}\n{maker},{TRACED},{rest}\n", encoding="utf-8")
        sheet.write_text(SHEET, encoding="utf-8")
        room = ["match", "--room", "Mill House", "--mains", TOWER, *db]
        stock = [CENTRE, "--location", "shop", *db]
        for words in (
            ["speaker", "import", str(seed / "loudspeakers.csv"), *db],
            ["room", "import", str(seed / "mill_house.toml"), *db],
            ["stock", "receive", *stock, "--quantity", "3"],
            room,
        ):
            run(command, words)
        save = ["--save", "--yes", "--maker", "Oatfell", "--model", "Wren", "--roles", "centre"]
        hold = ["--job", "Mill House", "--until", "2999-12-31"]
        return [
            traced(folder, command, "A1 CSV row -> stored", ["speaker", "import", str(row), *db]),
            traced(folder, command, "A2 stored -> ranked table", room),
            traced(folder, command, "B datasheet -> stored figure", ["datasheet", "read", str(sheet), *save, *db]),
            traced(folder, command, "C reservation -> ledger", ["stock", "reserve", *stock, *hold]),
        ]


def trace(folder: Path) -> list[Walk]:
    """The walks of a house, traced in a process that imports that house and no other."""
    packages = folder / ".package" if (folder / ".package").is_dir() else folder
    run_there = [sys.executable, str(Path(__file__).resolve()), "--trace", str(folder)]
    home = {"PYTHONPATH": str(packages), "PYTHONWARNINGS": "ignore"}
    done = subprocess.run(run_there, env=os.environ | home, cwd=folder, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(done.stderr)
    return [Walk(*each) for each in json.loads(done.stdout)]


def print_table(head: tuple[str, ...], rows: Iterable[tuple[Any, ...]]) -> None:
    """Print a table of Markdown."""
    for line in (head, ("---",) * len(head), *rows):
        print("|", " | ".join(f"{cell:,}" if isinstance(cell, int) else str(cell) for cell in line), "|")


def main(folder: Path) -> None:
    """Print both tables."""
    print_table(("package", "files", "lines", "functions", "classes", "median body"), parts(folder))
    print()
    heads = ("walk", "functions", "modules", "SQL statements", "calls", "call pairs", "across modules")
    print_table(heads, trace(folder))


if __name__ == "__main__":
    if sys.argv[1:2] == ["--trace"]:
        print(json.dumps(walks(Path(sys.argv[2]))))
    else:
        main(Path(sys.argv[1]).resolve() if len(sys.argv) > 1 else HERE)
