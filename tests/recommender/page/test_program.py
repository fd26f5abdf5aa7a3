"""The program itself: it tells its address on stderr, serves until Ctrl-C, and leaves nothing behind."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.recommender.page.served import Visitor

PROGRAM = "from triptych.recommender.cli import main; main()"


def hear_interrupts() -> None:
    """What runs in the background of a shell is told to ignore them, and hands that on."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.processes
def test_it_serves_this_machine_until_it_is_ended(seeded_template: Path, tmp_path: Path) -> None:
    path = shutil.copy(seeded_template, tmp_path / "c.db")
    environment = os.environ | {"PYTHONPATH": str(Path(".package").resolve())}
    command = [sys.executable, "-c", PROGRAM, "page", "--no-open", "--db", str(path)]
    with subprocess.Popen(
        command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, preexec_fn=hear_interrupts
    ) as run:
        assert run.stderr is not None
        told = re.fullmatch(r"the page: http://127\.0\.0\.1:(\d+)/enter\?key=(\S+)\n", run.stderr.readline())
        assert told
        assert run.stderr.readline() == "it opens once, in one browser, and serves this machine alone; Ctrl-C ends it\n"
        visitor = Visitor(int(told[1]))
        assert visitor.enter(told[2]).status == 303
        assert "Bramble Thatch Trivet Tower" in visitor.get("/mains", {"q": "trivet"}).words
        run.send_signal(signal.SIGINT)
        assert run.wait(60) == 130
        assert run.stderr.read() == ""
        assert run.stdout is not None
        assert run.stdout.read() == ""
