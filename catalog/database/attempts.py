"""What is one transaction, done again: where others were faster, or the server was away before it had to keep it."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from functools import update_wrapper
from typing import Concatenate, Final, ParamSpec, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.engine import reading, writing
from triptych.catalog.errors import Overtaken, Unreached

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
    *,
    dry_run: bool = False,
) -> Plan:
    """Work a change out while others write, write it at once, and both again where others were faster.

    Raises
    ------
    Overtaken
        Others were faster each time.
    """

    def attempt() -> Plan:
        with reading(engine) as session:
            plan = work_out(session)
        if not dry_run:
            with writing(engine) as session:
                write(session, plan)
        return plan

    return until_kept(attempt)


def whole(do: Callable[Concatenate[Session, Asked], Result]) -> Callable[Concatenate[sa.Engine, Asked], Result]:
    """Make of what is done in a session what is done whole or refused whole: a write transaction of its own."""

    def asked(engine: sa.Engine, /, *arguments: Asked.args, **options: Asked.kwargs) -> Result:
        def attempt() -> Result:
            with writing(engine) as session:
                return do(session, *arguments, **options)

        return until_kept(attempt)

    return update_wrapper(asked, do)
