"""A finish that was forgotten or mistyped: asked about where somebody is there, else told with those that there are."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

import typer

from triptych.catalog.cli.options import harmless, tell

if TYPE_CHECKING:
    from triptych.catalog.stock.shortfalls import FinishThere, OtherFinish

Result = TypeVar("Result")
Asked = TypeVar("Asked")

MOST_ASKED = 20
"""So often a finish is asked about in one command; a quote has so many lines at most that lack one."""


def with_finish(
    do: Callable[[Asked], Result], asked: Asked, meant: Callable[[Asked, str, str | None], Asked]
) -> Result:
    """Do what is asked; where it is refused for its finish, again with the one that somebody says is meant.

    `meant` gives what is asked, of a loudspeaker where several are, with another finish.

    Raises
    ------
    OtherFinish
        Nobody can be asked, or none is meant.
    """
    from triptych.catalog.stock.shortfalls import OtherFinish

    for _ in range(MOST_ASKED):
        try:
            return do(asked)
        except OtherFinish as problem:
            if not problem.finishes or not _somebody_there():
                raise
            asked = meant(asked, problem.speaker, _chosen(problem).finish)
    return do(asked)


def _somebody_there() -> bool:
    """Whether somebody sits at the terminal who can be asked."""
    from triptych.catalog.cli import makers

    return makers.somebody_there()


def _chosen(problem: OtherFinish) -> FinishThere:
    from triptych.catalog.database.rows import name_key

    tell(str(problem).removesuffix("; nothing was written"))
    choices = {str(number): one for number, one in enumerate(problem.finishes, start=1)}
    named = {name_key(one.finish): one for one in problem.finishes if one.finish is not None}
    shown = ", ".join(f"{number} = {one.words}" for number, one in choices.items())
    while text := _answer(f"Which is meant: {shown}; empty = none"):
        found = choices.get(text) or named.get(name_key(text))
        if found is not None:
            return found
        tell(f"  {text!r} is none of them")
    raise problem


def _answer(question: str) -> str:
    from triptych.catalog.inputs import read_line

    typer.echo(f"{harmless(question)}: ", nl=False, err=True)
    return " ".join(read_line(sys.stdin).split())
