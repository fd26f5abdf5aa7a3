"""Words about work that takes a while, on stderr, and only where somebody watches."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from triptych.catalog.cli.options import console


@contextmanager
def working(words: str = "reading the catalogue") -> Iterator[Callable[[str], None]]:
    """Give a function that is told what is being done; it shows that in one line on a terminal, else nothing.

    Nothing moves in that line: a thread that moved it would forbid the work to share itself out among processes.
    """
    if not sys.stderr.isatty():
        yield lambda now: None
        return
    from rich.live import Live

    with Live(words, console=console(stderr=True), auto_refresh=False, transient=True) as line:
        yield lambda now: line.update(now, refresh=True)
