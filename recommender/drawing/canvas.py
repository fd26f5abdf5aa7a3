"""A sheet that is drawn on in millimetres of paper and becomes SVG text; same drawing, same bytes.

x to the right, y down. It remembers where its texts stand, so that no two overlap and none leaves the page.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator
from functools import lru_cache
from math import cos, radians, sin
from typing import Final, NamedTuple
from xml.sax.saxutils import escape, quoteattr

from triptych.recommender.drawing import style, text

TEXT: Final = 3.0
"""Size of a label [mm]."""

TITLE: Final = 4.0
"""Size of the title [mm]."""

LINE_PITCH: Final = 1.45
"""Line pitch over size."""

ASCENT: Final = 0.95
DESCENT: Final = 0.28
"""A line of text above and below its base line over its size, accents included."""

TICK: Final = 1.4
"""Length of the stroke at the end of a dimension line [mm]."""

_SERIAL: Final = "\x01"
"""Stands for the drawing's own number until all of it is known; no cleaned text holds it."""


_BEFORE: Final = {"start": 0.0, "middle": 0.5, "end": 1.0}
"""How much of a text stands before the place that it is anchored at."""


class Point(NamedTuple):
    """A place on the paper [mm]."""

    x: float
    y: float


class Box(NamedTuple):
    """An upright rectangle on the paper [mm]."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Whether the two share any area."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom

    def within(self, other: Box) -> bool:
        """Whether it lies inside the other."""
        across = self.left >= other.left and self.right <= other.right
        return across and self.top >= other.top and self.bottom <= other.bottom

    def grown(self, by: float) -> Box:
        """The rectangle with so much more at each side."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)


@lru_cache(maxsize=4096)  # margins, rows and edges come again and again
def number(value: float) -> str:
    """Return a coordinate to a thousandth of a millimetre, as short as it goes."""
    short = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if short in ("-0", "") else short


def text_box(x: float, y: float, width: float, size: float, anchor: str) -> Box:
    """Return the rectangle of a text of this width, anchored at `x` on the base line `y`."""
    left = x - width * _BEFORE[anchor]
    return Box(left, y - ASCENT * size, left + width, y + DESCENT * size)


class Canvas:
    """One drawing in the making."""

    def __init__(self, kind: str, width: float, title: str, description: str) -> None:
        self.kind, self.width = kind, width
        self._title, self._description = text.clean(title), text.clean(description)
        self._parts: list[str] = []
        self._taken: list[Box] = []
        self._hatchings: set[str] = set()

    def lay(self, other: Canvas) -> None:
        """Lay what was drawn on another sheet of the same kind over this one."""
        self._parts += other._parts
        self._taken += other._taken
        self._hatchings |= other._hatchings

    def _add(self, tag: str, name: str, part: str | None, drawn: str, hatching: str | None = None) -> None:
        look, fill = style.written(name), ""
        if hatching is not None:
            self._hatchings.add(hatching)
            look, fill = style.written(name, but="fill"), f' fill="url(#{self.kind}-{_SERIAL}-{hatching})"'
        self._parts.append(f'<{tag} class="{name}"{look}{drawn}{fill}{_named(part) if part else ""}/>')

    def line(self, start: Point, end: Point, name: str, part: str | None = None) -> None:
        """Draw a straight line."""
        (x1, y1), (x2, y2) = start, end
        drawn = f' x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"'
        self._add("line", name, part, drawn)

    def polyline(self, points: Iterable[Point], name: str, part: str | None = None) -> None:
        """Draw an open line through points."""
        self._add("polyline", name, part, f' points="{_points(points)}"')

    def polygon(self, points: Iterable[Point], name: str, part: str | None = None, hatching: str | None = None) -> None:
        """Draw a closed figure, hatched on request."""
        self._add("polygon", name, part, f' points="{_points(points)}"', hatching)

    def rectangle(self, box: Box, name: str, part: str | None = None, hatching: str | None = None) -> None:
        """Draw an upright rectangle, hatched on request."""
        at = f' x="{number(box.left)}" y="{number(box.top)}"'
        size = f' width="{number(box.right - box.left)}" height="{number(box.bottom - box.top)}"'
        self._add("rect", name, part, at + size, hatching)

    def circle(self, middle: Point, radius: float, name: str, part: str | None = None) -> None:
        """Draw a circle."""
        drawn = f' cx="{number(middle.x)}" cy="{number(middle.y)}" r="{number(radius)}"'
        self._add("circle", name, part, drawn)

    def arc(self, middle: Point, radius: float, start: float, end: float, name: str, part: str | None = None) -> None:
        """Draw an arc between two directions, in degrees from the right, clockwise on the paper."""
        first, last = (along(middle, direction, radius) for direction in sorted((start, end)))
        large = int(abs(end - start) > 180.0)
        r = number(radius)
        self._add("path", name, part, f' d="M{_pair(first)}A{r} {r} 0 {large} 1 {_pair(last)}"')

    def ticked(self, start: Point, end: Point, part: str | None = None) -> None:
        """Draw a dimension line with a slanting stroke at each end."""
        self.line(start, end, "dimension", part)
        half = TICK / 2
        for x, y in (start, end):
            self.line(Point(x - half, y + half), Point(x + half, y - half), "dimension")

    def text(
        self,
        x: float,
        y: float,
        words: str,
        name: str = "text",
        anchor: str = "start",
        size: float = TEXT,
        full: str | None = None,
    ) -> Box:
        """Write words on the base line `y` and return the rectangle they take; `full` is told where they are cut."""
        box = self.text_box(x, y, words, name, anchor, size)
        self._taken.append(box)
        anchored = "" if anchor == "start" else f' text-anchor="{anchor}"'
        drawn = f'{style.written(name)} x="{number(x)}" y="{number(y)}" font-size="{number(size)}"{anchored}'
        told = f"<title>{escape(full)}</title>" if full is not None and full != words else ""
        self._parts.append(f'<text class="{name}"{drawn}>{told}{escape(words)}</text>')
        return box

    @staticmethod
    def text_box(x: float, y: float, words: str, name: str = "text", anchor: str = "start", size: float = TEXT) -> Box:
        """Return the rectangle that words would take."""
        return text_box(x, y, text.width(words, size, "font-weight" in style.STYLES[name]), size, anchor)

    def reserve(self, box: Box) -> None:
        """Keep a rectangle free of words that are set later."""
        self._taken.append(box)

    def free(self, box: Box) -> bool:
        """Whether no words stand there yet."""
        return not any(box.meets(taken) for taken in self._taken)

    def place(
        self, near: Point, words: str, bounds: Box, name: str = "text", away: float = 2.5, size: float = TEXT
    ) -> bool:
        """Write words as near to a point as they find room within `bounds`, and say whether they did."""
        for x, y in around(near, away):
            anchor = "start" if x > near.x + 0.1 else "end" if x < near.x - 0.1 else "middle"
            box = self.text_box(x, y + 0.35 * size, words, name, anchor, size)
            if box.within(bounds) and self.free(box):
                self.text(x, y + 0.35 * size, words, name, anchor, size)
                return True
        return False

    def svg(self, height: float) -> str:
        """Return the drawing as a document of its own, cut at `height`."""
        parts = "".join(self._definitions()) + "".join(self._parts)
        serial = f"{zlib.crc32(parts.encode()):08x}"
        w, h = number(self.width), number(height)
        ids = f"{self.kind}-{serial}"
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="triptych" width="{w}mm" height="{h}mm" '
            f'viewBox="0 0 {w} {h}" role="img" aria-labelledby="{ids}-title {ids}-desc" '
            f"font-family='{style.FONT}'>"
            f'<title id="{ids}-title">{escape(self._title)}</title>'
            f'<desc id="{ids}-desc">{escape(self._description)}</desc>'
            f"<style>{style.colours()}</style>"
            f'<rect class="page" width="{w}" height="{h}" fill="{style.PAPER["paper"]}"/>'
            f"{parts.replace(_SERIAL, serial)}</svg>\n"
        )

    def _definitions(self) -> Iterator[str]:
        if not self._hatchings:
            return
        yield "<defs>"
        for name in sorted(self._hatchings):
            colour, strokes = style.HATCHINGS[name]
            yield (
                f'<pattern id="{self.kind}-{_SERIAL}-{name}" width="{style.TILE}" height="{style.TILE}" '
                f'patternUnits="userSpaceOnUse"><rect class="paper" width="{style.TILE}" height="{style.TILE}" '
                f'fill="{style.PAPER["paper"]}"/><path class="hatch-{name}" d="{strokes}" fill="none" '
                f'stroke="{style.PAPER[colour]}" stroke-width=".22" stroke-opacity=".75"/></pattern>'
            )
        yield "</defs>"


def along(start: Point, direction: float, distance: float) -> Point:
    """Return the point at a distance in a direction, in degrees from the right, clockwise on the paper."""
    angle = radians(direction)
    return Point(start.x + distance * cos(angle), start.y + distance * sin(angle))


def around(near: Point, away: float) -> Iterator[Point]:
    """The point itself, then places around it, the nearest first."""
    yield near
    for ring in range(1, 16):
        for direction in (0, 180, -90, 90, -35, 35, -145, 145):
            yield along(near, direction, away * (0.5 + ring / 2))


@lru_cache(maxsize=512)
def _named(part: str) -> str:
    return f" data-part={quoteattr(part)}"


def _pair(point: Point) -> str:
    return f"{number(point.x)} {number(point.y)}"


def _points(points: Iterable[Point]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)
