"""Break physics, gates and criteria one line at a time, and say which breaks the quick tests do not see.

Run from the root, by hand: python -m tests.house.mutate [WORD ...]. It works in a copy of the house, takes some minutes
and ends with 1 where something survives. Each break names the tests that should see it first; where they do not, all
quick tests of the recommender are asked. With words, only those breaks are tried whose text holds one of them.
"""

from __future__ import annotations

import csv
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

HOUSE = Path(__file__).parents[2]
COPIED = ("catalog", "recommender", "migrations", "seed_data", "tests", ".package", "pyproject.toml")


class Break(NamedTuple):
    """A line of a module under `recommender`, what takes its place, and the tests that should see it first."""

    module: str
    line: str
    broken: str
    seen: str


def breaks() -> list[Break]:
    """Those of the table beside this module."""
    with (Path(__file__).parent / "breaks.csv").open(encoding="utf-8", newline="") as file:
        return [Break(**row) for row in csv.DictReader(file)]


def survives(folder: Path, tried: Break) -> bool:
    """Whether the quick tests pass with a line broken."""
    path = folder / "recommender" / tried.module
    whole = path.read_text(encoding="utf-8")
    if whole.count(tried.line) != 1:
        raise SystemExit(f"{tried.module} holds {whole.count(tried.line)} times: {tried.line!r}")
    path.write_text(whole.replace(tried.line, tried.broken), encoding="utf-8")
    try:
        return all(passes(folder, tests) for tests in (tried.seen, ""))
    finally:
        path.write_text(whole, encoding="utf-8")


def passes(folder: Path, tests: str) -> bool:
    """Whether some tests of the recommender pass in a copy of the house."""
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", "-m", "not slow or whole"]
    paths = os.pathsep.join([str(folder / ".package"), str(folder)])
    environment = {**os.environ, "PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [*command, f"tests/recommender/{tests}"], cwd=folder, env=environment, capture_output=True, check=False
    )
    if done.returncode not in (0, 1):
        raise SystemExit(done.stdout.decode() + done.stderr.decode())
    return done.returncode == 0


def main() -> None:
    words = sys.argv[1:]
    chosen = [tried for tried in breaks() if not words or any(word in " ".join(tried) for word in words)]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for part in COPIED:
            whole = HOUSE / part
            if whole.is_dir():
                shutil.copytree(whole, folder / part, symlinks=True)
            else:
                shutil.copy2(whole, folder / part)
        left = []
        for number, tried in enumerate(chosen, start=1):
            lives = survives(folder, tried)
            left += [tried] if lives else []
            print(f"{number:3} {'SURVIVES' if lives else 'seen':8} {tried.module}: {tried.line.strip()!r}", flush=True)
    print(f"{len(left)} of {len(chosen)} breaks survive the quick tests")
    sys.exit(1 if left else 0)


if __name__ == "__main__":
    main()
