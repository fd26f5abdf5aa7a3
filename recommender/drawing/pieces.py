"""Pieces of a drawing that are kept: what a sheet is given of equal values is drawn once, and then only laid on it.

A form draws its room at each key that is pressed, and most of what it draws is what it was.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import Any, Concatenate, Final, ParamSpec, TypeVar

from triptych.recommender.drawing.canvas import Box, Canvas

Values = ParamSpec("Values")
Given = TypeVar("Given")

MOST_PIECES: Final = 256
"""So many of each kind are kept, a kilobyte each: those of some rooms that are typed in at once."""


class _Blank(Canvas):
    """The sheet of one piece: what stands on the others can't be asked there."""

    def __init__(self, kind: str, width: float) -> None:
        super().__init__(kind, width, "", "")

    def free(self, box: Box) -> bool:
        raise AssertionError("a piece that looks for room on its sheet is another on each sheet: it can't be kept")


def kept(draw: Callable[Concatenate[Canvas, Values], Given]) -> Callable[Concatenate[Canvas, Values], Given]:
    """Keep what a function draws by its values, which are hashable, and by the kind and width of the sheet."""

    @lru_cache(maxsize=MOST_PIECES)
    def drawn(kind: str, width: float, *values: Any) -> tuple[Canvas, Given]:
        sheet = _Blank(kind, width)
        return sheet, draw(sheet, *values)  # type: ignore[call-arg]

    @wraps(draw)
    def laid(canvas: Canvas, /, *values: Values.args, **named: Values.kwargs) -> Given:
        if named:
            raise TypeError("a piece is drawn from values in their order")
        sheet, given = drawn(canvas.kind, canvas.width, *values)
        canvas.lay(sheet)
        return given

    return laid
