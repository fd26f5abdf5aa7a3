"""What is wrong in a file, and where."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from triptych.catalog import names
from triptych.catalog.errors import BadInput


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that cannot be taken; `complaint` says what stands there and what would be right."""

    file: str
    where: str
    column: str
    complaint: str

    def __str__(self) -> str:
        """The problem in one line, place first."""
        place = ", ".join(part for part in (self.file, self.where, self.column) if part)
        return f"{place}: {self.complaint}"


def refuse(problems: Iterable[Problem]) -> None:
    """Raise BadInput with every problem on a line of its own, if there is any."""
    lines = [str(problem) for problem in problems]
    if lines:
        raise BadInput("\n".join(lines))


def nearest(name: str, known: Iterable[str]) -> str:
    """Return a hint that names the nearest known name, or all of them where none is near."""
    known_names = list(known)
    near = names.nearest(name, known_names)
    return f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known_names)}"
