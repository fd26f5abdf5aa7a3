"""Every door of the command line tried with what nobody means: refused at once, in a line, with no traceback."""

from __future__ import annotations

import json
import os
import random
import resource
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.doors import FILES, WORDS, complaint, doors, knock, within
from tests.quick_ones import quick_of
from triptych.recommender.api import open_catalogue

CENTRE = "Bramble Thatch Trivet Stacked Centre"
KNOWN = dict.fromkeys(("speaker", "centre", "model"), CENTRE) | {"room": "Mill House", "name": "Mill House"}
PROGRAM = "from triptych.recommender.cli import main; main()"
ONE_AFTER_THE_OTHER = """
import json, sys
from triptych.recommender.cli import main
for number, words in enumerate(json.loads(sys.argv[1])):
    print(end="\\0" if number else "", flush=True)
    sys.argv[1:] = words
    try:
        main()
    except SystemExit as end:
        print(end=f"({end.code})" if end.code else "", flush=True)
    sys.stderr.flush()
"""


@pytest.fixture(scope="module")
def tried_shop(shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shop with a catalogue that may be changed by what is tried."""
    return Path(shutil.copytree(shop, tmp_path_factory.mktemp("tried"), dirs_exist_ok=True))


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("doors")
    with open_catalogue(str(folder / "shop.db"), quiet=True) as opened:
        opened.import_demo()
    for name, content in FILES.items():
        (folder / f"{name}.toml").write_bytes(content)
    return folder


@pytest.mark.whole
def test_every_door_refuses_what_nobody_means(tried_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRIPTYCH_DB", str(tried_shop / "shop.db"))
    chance, bad = random.Random(19), []
    tried = [door for door in doors(KNOWN) if door.command not in (("demo",), ("page",))]
    assert len(tried) > 300
    with within(tried_shop):
        for door in tried:
            for word in (*chance.sample(WORDS, 2), f"{chance.choice(sorted(FILES))}.toml"):
                if why := complaint(knock((*door.command, *door.words, word))):
                    bad.append(f"{' '.join(door.command)}, {door.name} = {word[:40]!r}: {why}")
    assert bad == []


HEAVY = ("dotted", "keys", "large", "table")
"""What takes a while to be read."""


@pytest.mark.parametrize("content", quick_of(sorted(FILES), FILES.keys() - set(HEAVY)))
@pytest.mark.parametrize(
    "words",
    [
        ("room", "import"),
        ("match", "--mains", "Bramble Thatch Tower", "--room"),
        ("match", "--room", "Mill House", "--weights"),
        ("budget", "check"),
        ("budget", "plan"),
        ("budget", "rules", "import"),
        ("curve", "import", CENTRE, "--kind", "on_axis"),
        ("stock", "import", "--reason", "counted"),
        ("stock", "deliver", "--delivery", "4711", "-l", "shop"),
    ],
    ids=" ".join,
)
def test_every_file_that_is_none_is_refused_within_a_second_or_two(
    shop: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], content: str
) -> None:
    monkeypatch.setenv("TRIPTYCH_DB", str(shop / "shop.db"))
    began = time.process_time()
    answer = knock((*words, str(shop / f"{content}.toml")))
    assert complaint(answer) == ""
    assert answer.exit_code == 1
    assert len(answer.stderr) < 4000
    assert time.process_time() - began < 4


def limited(
    words: list[str], folder: Path, stdin: bytes = b"", program: str = PROGRAM
) -> subprocess.CompletedProcess[bytes]:
    """Run the program with a gigabyte of memory and twenty seconds."""

    def bound() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (2**31, 2**31))
        resource.setrlimit(resource.RLIMIT_CPU, (20, 20))

    environment = os.environ | {"TRIPTYCH_DB": str(folder / "shop.db"), "OPENBLAS_NUM_THREADS": "1"}
    command = [os.fsencode(one) for one in (sys.executable, "-c", program, *words)]
    return subprocess.run(command, input=stdin, capture_output=True, preexec_fn=bound, env=environment, cwd=folder)


@pytest.mark.processes
@pytest.mark.parametrize("path", ["hundred.toml", "/dev/zero"])
def test_a_file_of_100_mb_and_one_without_end_cost_nothing(shop: Path, path: str) -> None:
    with (shop / "hundred.toml").open("wb") as stream:
        stream.truncate(100_000_000)
    calls = [[*words, path] for words in (["room", "import"], ["budget", "check"], ["budget", "plan"])]
    done = limited([json.dumps([*calls, ["match", "--room", path]])], shop, program=ONE_AFTER_THE_OTHER)
    assert (done.returncode, done.stdout.decode()) == (0, "\0".join(["(1)"] * 4))
    assert b"Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) == 4


@pytest.mark.processes
def test_what_is_no_utf8_is_refused_as_argument_prompt_and_variable(shop: Path) -> None:
    done = limited(["speaker", "show", "Caf\udce9"], shop)
    assert (done.returncode, done.stdout) == (2, b"")
    assert done.stderr.startswith(b"error: 'Caf\\udce9' is not text in UTF-8")
    done = limited(["room", "new"], shop, b"Caf\xe9\n")
    assert done.returncode == 1
    assert b"the answer is not text in UTF-8; nothing was written" in done.stderr
    assert b"Traceback" not in done.stderr
    done = limited(["room", "new"], shop, b"x" * 1_000_000)
    assert (done.returncode, b"more than" in done.stderr) == (1, True)
    done = limited(["room", "list", "--db", "Caf\udce9.db"], shop)
    assert (done.returncode, b"Traceback" in done.stderr) == (2, False)


@pytest.mark.processes
@pytest.mark.parametrize(("value", "coloured"), [("1", False), ("0", False), ("", True), (None, True)])
def test_no_color_means_none(shop: Path, value: str | None, coloured: bool) -> None:
    environment = os.environ | {"FORCE_COLOR": "1", "COLORTERM": "truecolor", "TERM": "xterm-256color"}
    environment |= {"TRIPTYCH_DB": str(shop / "shop.db")} | ({} if value is None else {"NO_COLOR": value})
    if value is None:
        environment.pop("NO_COLOR", None)
    words = [["speaker", "list"]]
    if value in ("1", None):
        words += [["match", "--room", "Mill House"], ["explain", CENTRE, "--room", "Mill House"]]
    command = [sys.executable, "-c", ONE_AFTER_THE_OTHER, json.dumps(words)]
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=True)
    said = done.stdout.split("\0")
    assert len(said) == len(words)
    assert ["\x1b" in one for one in said] == [coloured] * len(words)
    assert coloured or "\x1b" not in done.stderr
