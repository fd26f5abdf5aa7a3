"""Work that takes a while: begun by one request, looked at by others, and stopped."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Event, Lock, Thread
from time import monotonic
from typing import Final, Generic, TypeVar

from triptych.catalog.errors import CatalogError, NotFound, Refused

Result = TypeVar("Result")

MOST_AT_WORK: Final = 2
"""So many are worked on at once."""

REMEMBERED_JOBS: Final = 16


class Stopped(CatalogError):
    """Somebody stopped the work; nothing was written."""


@dataclass(slots=True)
class Job(Generic[Result]):
    """One piece of work: what it does now, and what came of it."""

    about: str
    doing: str = "beginning"
    result: Result | None = None
    problem: str = ""
    began: float = field(default_factory=monotonic)
    halt: Event = field(default_factory=Event)
    over: Event = field(default_factory=Event)

    @property
    def seconds(self) -> int:
        """How long it has been at work."""
        return int(monotonic() - self.began)

    def say(self, words: str) -> None:
        """Told by the work what it does; ends it where somebody wants it stopped."""
        self.doing = words
        if self.halt.is_set():
            raise Stopped("stopped; nothing was written")


class Jobs(Generic[Result]):
    """The work that was begun, by the name that its address has."""

    def __init__(self) -> None:
        self._known: OrderedDict[str, Job[Result]] = OrderedDict()
        self._lock = Lock()

    def begin(self, about: str, work: Callable[[Callable[[str], None]], Result]) -> str:
        """Begin a piece of work that tells what it does, and give its name.

        Raises
        ------
        Refused
            Enough is at work.
        """
        job, name = Job[Result](about), secrets.token_urlsafe(12)
        with self._lock:
            if sum(not one.over.is_set() for one in self._known.values()) >= MOST_AT_WORK:
                raise Refused(f"{MOST_AT_WORK} plans are at work already: wait for one, or stop it")
            self._known[name] = job
            while len(self._known) > REMEMBERED_JOBS:
                self._known.popitem(last=False)
        Thread(target=_work, args=(job, work), daemon=True).start()
        return name

    def named(self, name: str) -> Job[Result]:
        """The work of that name.

        Raises
        ------
        NotFound
            There is none, or it is long over.
        """
        with self._lock:
            if name not in self._known:
                raise NotFound("that plan isn't known any more: ask for it again")
            return self._known[name]


def _work(job: Job[Result], work: Callable[[Callable[[str], None]], Result]) -> None:
    try:
        job.result = work(job.say)
    except CatalogError as problem:
        job.problem = str(problem)
    except Exception:  # a fault of ours, which the one who waits for it must be told of too
        job.problem = "the work broke off by a fault of the program; its traceback is in the terminal"
        raise
    finally:
        job.over.set()
