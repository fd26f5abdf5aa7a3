"""What is one transaction, done again: where others were faster, or the server was away before it had to keep it."""

from __future__ import annotations

import random
import sqlite3
import time
from collections.abc import Callable
from functools import update_wrapper
from typing import Concatenate, Final, ParamSpec, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.engine import reading, writing
from triptych.catalog.errors import CatalogError, Overtaken, Unreached

ATTEMPTS: Final = 6
"""How often a change is worked out anew where others change the same things meanwhile; no source."""

PATIENCE: Final = 20.0
"""How long a server that went away is waited for: it starts again within seconds. [s]; no source."""

_PAUSE: Final = 0.02
_PAUSE_AWAY: Final = 0.25
"""How long to pause at most before another attempt: at random, so that not all come at once. [s]."""

Asked = ParamSpec("Asked")
Result = TypeVar("Result")
Plan = TypeVar("Plan")


def until_kept(attempt: Callable[[], Result]) -> Result:
    """Do it, and again where that is known to have written nothing and may do better.

    Raises
    ------
    Overtaken
        Others were faster each time.
    Unreached
        The server did not come back.
    """
    overtaken, end = 0, None
    while True:
        try:
            return attempt()
        except Overtaken:
            overtaken += 1
            if overtaken == ATTEMPTS:
                raise
            time.sleep(random.uniform(0, _PAUSE * overtaken))
        except Unreached:
            end = time.monotonic() + PATIENCE if end is None else end
            if time.monotonic() >= end:
                raise
            time.sleep(random.uniform(0, _PAUSE_AWAY))


def planned(
    engine: sa.Engine,
    work_out: Callable[[Session], Plan],
    write: Callable[[Session, Plan], None],
    hold: Callable[[Session, Plan], object],
    *,
    dry_run: bool = False,
    at_once: Callable[[Plan], Plan | None] = lambda _: None,
) -> Plan:
    """Work a change out while others write, and write it at once; where others were faster, let them wait for both.

    `hold` keeps others from what the plan before speaks of, else who changes much would come last for ever. `at_once`
    writes the first plan by a shorter way, and gives what came of it; None where it wrote nothing.

    Raises
    ------
    Overtaken
        Others were faster each time.
    """
    found: list[Plan] = []

    def attempt() -> Plan:
        if found:
            return attempt_held(found[-1])
        with reading(engine) as session:
            found.append(work_out(session))
        if dry_run:
            return found[-1]
        if (done := at_once(found[-1])) is not None:
            return done
        with writing(engine) as session:
            write(session, found[-1])
        return found[-1]

    def attempt_held(before: Plan) -> Plan:
        with writing(engine) as session:
            hold(session, before)
            found.append(work_out(session))
            write(session, found[-1])
        return found[-1]

    return until_kept(attempt)


def looked_up_first(
    engine: sa.Engine, work_out: Callable[[Session], Plan], write: Callable[[Session, Plan], Result]
) -> Result:
    """Work out what is to be written while others write, write it at once, and give what the writing gives.

    Raises
    ------
    Overtaken
        Others were faster each time.
    """

    def attempt() -> Result:
        with reading(engine) as session:
            plan = work_out(session)
        with writing(engine) as session:
            return write(session, plan)

    return until_kept(attempt)


def whole(do: Callable[Concatenate[Session, Asked], Result]) -> Callable[Concatenate[sa.Engine, Asked], Result]:
    """Make of what is done in a session what is done whole or refused whole: a write transaction of its own."""

    def asked(engine: sa.Engine, /, *arguments: Asked.args, **options: Asked.kwargs) -> Result:
        def attempt() -> Result:
            with writing(engine) as session:
                return do(session, *arguments, **options)

        return until_kept(attempt)

    return update_wrapper(asked, do)


def whole_unless_refused(
    do: Callable[Concatenate[Session, Asked], Result],
) -> Callable[Concatenate[sa.Engine, Asked], Result]:
    """Make of it what `whole` does; but what is refused is found out by reading alone, which holds up nobody."""

    def asked(engine: sa.Engine, /, *arguments: Asked.args, **options: Asked.kwargs) -> Result:
        def attempt() -> Result:
            refused: CatalogError | None = None
            with reading(engine) as session:
                try:
                    return do(session, *arguments, **options)
                except CatalogError as problem:
                    refused = problem
                except sa.exc.DBAPIError as problem:
                    if not _is_of_writing(problem):
                        raise
                    session.rollback()
            if refused is not None:
                raise refused
            with writing(engine) as session:
                return do(session, *arguments, **options)

        return until_kept(attempt)

    return update_wrapper(asked, do)


def _is_of_writing(problem: sa.exc.DBAPIError) -> bool:
    """Whether nothing was wrong so far but that something was to be written."""
    if getattr(problem.orig, "sqlstate", None) == _READ_ONLY:
        return True
    return getattr(problem.orig, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_READONLY


_READ_ONLY: Final = "25006"
"""The state in which a server refuses to write in a transaction that only reads."""
