"""Work that is shared out among all processors, by processes: threads of one would wait for each other."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing, suppress
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias, TypeVar

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

Part = TypeVar("Part")

Done: TypeAlias = Generator[tuple[int, bytes], None, None]
"""Which part was done, and what became of it."""


def processors() -> int:
    """How many there are to work with: more at once than these take longer than one after the other."""
    return max(1, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1)


def may_fork() -> bool:
    """Whether a copy of this process is safe: on Linux, and where no other thread may hold what the copy waits for."""
    with suppress(OSError):
        return sys.platform == "linux" and len(list(Path("/proc/self/task").iterdir())) == 1
    return False


def shared_out(work: Callable[[Part], bytes], parts: Sequence[Part]) -> Done:
    """Yield which part was done and what became of it, as they get ready; closed early, no more is done.

    Copies of this process do the work, one a processor, with all that it has in memory; where that may not be, or one
    of them ends before its time, this process does.
    """
    left = dict.fromkeys(range(len(parts)))
    if len(parts) > 1 and processors() > 1 and may_fork():
        with closing(_by_copies(work, parts, min(len(parts), processors()))) as found:
            for at, made in found:
                del left[at]
                yield at, made
    for at in left:
        yield at, work(parts[at])


def in_order(work: Callable[[Part], bytes], parts: Sequence[Part]) -> Generator[bytes, None, None]:
    """Yield what became of each part, in their order; what gets ready before its turn waits for it."""
    early: dict[int, bytes] = {}
    turn = 0
    with closing(shared_out(work, parts)) as found:
        for at, made in found:
            early[at] = made
            while turn in early:
                yield early.pop(turn)
                turn += 1


def _by_copies(work: Callable[[Part], bytes], parts: Sequence[Part], count: int) -> Done:
    from multiprocessing import connection

    shares = [iter(range(first, len(parts), count)) for first in range(count)]
    copies: list[BaseProcess] = []
    reads: dict[Connection, Iterator[int]] = {}
    try:
        for first, share in enumerate(shares):
            copy, end = _copy(work, parts[first::count])
            copies.append(copy)
            reads[end] = share
        while reads:
            ready = connection.wait(list(reads))
            for end in [end for end in reads if end in ready]:
                try:
                    made = end.recv_bytes()
                except (EOFError, OSError):
                    del reads[end]
                    end.close()
                else:
                    yield next(reads[end]), made
    finally:
        for copy in copies:
            copy.kill()
            copy.join()


def _copy(work: Callable[[Part], bytes], share: Sequence[Part]) -> tuple[BaseProcess, Connection]:
    """Begin a copy of this process, and the end of the pipe from which its work is read."""
    from multiprocessing import get_context

    fork = get_context("fork")
    ours, theirs = fork.Pipe(duplex=False)
    copy = fork.Process(target=_do, args=(work, share, ours, theirs), daemon=True)
    collecting = gc.isenabled()
    gc.disable()  # in the copy too: what it let go of might say goodbye to a server in this process's name
    try:
        copy.start()
    finally:
        if collecting:
            gc.enable()
    theirs.close()
    return copy, ours


def _do(work: Callable[[Part], bytes], share: Sequence[Part], ours: Connection, theirs: Connection) -> None:
    """Do a share and end at once: nothing that the copy has of its parent's may be closed or written by it."""
    try:
        ours.close()
        for part in share:
            theirs.send_bytes(work(part))
    finally:
        # whatever happened, the parent does what is missing and is told by its own work what is wrong
        os._exit(0)
