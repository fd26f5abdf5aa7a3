"""A finish that was forgotten or mistyped: asked about in place, as the commands ask at a terminal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from triptych.catalog.database.rows import name_key
from triptych.catalog.errors import CatalogError
from triptych.catalog.stock.shortfalls import OtherFinish
from triptych.recommender.page.asked import Pairs


@dataclass(frozen=True, slots=True)
class FinishMeant:
    """A finish that would do: what its button says, and the form with it."""

    words: str
    pairs: Pairs


def finishes_meant(problem: CatalogError, form: Pairs, lacks: Callable[[str], bool]) -> list[FinishMeant]:
    """The finishes that would do where that is what is refused; `lacks` says which fields of the form take it."""
    if not isinstance(problem, OtherFinish):
        return []
    rest = tuple((name, value) for name, value in form if not lacks(name))
    fields = dict.fromkeys(name for name, _ in form if lacks(name)) or {"finish": None}
    return [FinishMeant(one.words, (*rest, *((name, one.finish or "") for name in fields))) for one in problem.finishes]


def lines_lacking(problem: CatalogError, form: Pairs) -> Callable[[str], bool]:
    """Says of a field whether it is the finish of a line of a quote that is refused for it."""
    speaker = name_key(problem.speaker) if isinstance(problem, OtherFinish) else ""
    said = dict(form)
    lines = {
        name.removesuffix("model") for name, value in form if name.endswith(".model") and name_key(value) == speaker
    }
    # of a quote that is made, a finish that somebody named is never changed
    changed = {f"{line}finish" for line in lines if line.startswith("part.") or not said.get(f"{line}finish")}
    return lambda name: name in changed
