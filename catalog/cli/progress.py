"""Words about work that takes a while, on stderr, and only where somebody watches."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from triptych.catalog.cli.options import console


@contextmanager
def working(words: str = "reading the catalogue") -> Iterator[Callable[[str], None]]:
    """Give a function that is told what is being done; it shows that with a spinner on a terminal, else nothing."""
    if not sys.stderr.isatty():
        yield lambda now: None
        return
    with console(stderr=True).status(words) as status:
        yield lambda now: status.update(now)
