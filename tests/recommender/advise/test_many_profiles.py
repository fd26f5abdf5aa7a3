"""Many profiles are computed by as many processes as there are processors, and are those of one."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np
import pytest

from tests.recommender.physics.boxes import catalogue
from triptych.recommender.advise import many_profiles
from triptych.recommender.advise.processors import shared_out
from triptych.recommender.physics.description import describe
from triptych.recommender.physics.profile import pack, profile


@pytest.mark.whole
def test_each_is_what_it_is_whoever_is_computed_with_it(monkeypatch: pytest.MonkeyPatch) -> None:
    drivers, rows = catalogue(60), np.random.default_rng(3).permutation(60)[:45]
    monkeypatch.setattr(many_profiles, "COMPUTED_TOGETHER", 7)
    monkeypatch.setattr(many_profiles, "SORTED", 20)
    found = {
        row: packed
        for some, blobs in many_profiles.computed(drivers, rows)
        for row, packed in zip(some.tolist(), blobs, strict=True)
    }
    assert sorted(found) == sorted(rows.tolist())
    alone = pack(profile(describe(drivers.take(np.sort(rows)))))
    assert [found[row] for row in sorted(found)] == alone


def test_none_are_computed_of_none() -> None:
    assert list(many_profiles.computed(catalogue(3), np.arange(0))) == []


SHARED = """
import itertools, os, time
import numpy as np
from tests.recommender.physics.boxes import catalogue
from triptych.recommender.advise import many_profiles, processors

processors.processors = lambda: 3
assert processors.may_fork()

def pid(part):
    return str(os.getpid()).encode()

at_work = {int(made) for _, made in processors.shared_out(pid, range(7))}
assert len(at_work) == 3 and os.getpid() not in at_work

def squared(part):
    if part == 4:
        os.kill(os.getpid(), 9) if os.getpid() != parent else None
    return str(part * part).encode()

parent = os.getpid()
assert dict(processors.shared_out(squared, range(9))) == {part: str(part * part).encode() for part in range(9)}

def late(part):
    time.sleep(0.2 if part % 3 == 0 else 0)
    return squared(part)

assert list(processors.in_order(late, range(9))) == [str(part * part).encode() for part in range(9)]

def refused(part):
    raise ValueError("part " + str(part))

try:
    list(processors.shared_out(refused, range(4)))
except ValueError as error:
    assert str(error) == "part 0"
else:
    raise AssertionError

def slow(part):
    time.sleep(0 if part < 3 else 600)
    return b"x" * 1_000_000

found = processors.shared_out(slow, range(9))
assert len(list(itertools.islice(found, 3))) == 3
start = time.monotonic()
found.close()
assert time.monotonic() - start < 60
try:
    os.waitpid(-1, os.WNOHANG)
except ChildProcessError:
    pass
else:
    raise AssertionError("a process is left")

many_profiles.COMPUTED_TOGETHER = 10
drivers = catalogue(60)
shared = {tuple(some.tolist()): blobs for some, blobs in many_profiles.computed(drivers, np.arange(60))}
processors.may_fork = lambda: False
assert {tuple(some.tolist()): blobs for some, blobs in many_profiles.computed(drivers, np.arange(60))} == shared
"""


@pytest.mark.processes
@pytest.mark.skipif(sys.platform != "linux", reason="only Linux copies a process safely")
def test_processes_share_the_work_make_up_for_one_that_is_gone_and_leave_none_behind() -> None:
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    run = subprocess.run([sys.executable, "-c", SHARED], env=environment, capture_output=True, text=True, timeout=120)
    assert (run.returncode, run.stdout, run.stderr) == (0, "", "")


def test_where_other_threads_are_this_process_does_the_work_and_no_more_than_is_looked_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("triptych.recommender.advise.processors.may_fork", lambda: False)
    done: list[tuple[int, int]] = []

    def noted(part: int) -> bytes:
        done.append((part, os.getpid()))
        return str(part).encode()

    found = shared_out(noted, [5, 6, 7])
    assert [next(found), next(found)] == [(0, b"5"), (1, b"6")]
    found.close()
    assert done == [(5, os.getpid()), (6, os.getpid())]
