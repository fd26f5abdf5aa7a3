"""Reads a drawing back: its parts and its words, as numbers."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, degrees, hypot
from typing import NamedTuple
from xml.etree import ElementTree

from triptych.recommender.drawing.canvas import Box, Point, text_box
from triptych.recommender.drawing.text import width

SVG = "{http://www.w3.org/2000/svg}"


class Words(NamedTuple):
    text: str
    box: Box


@dataclass(frozen=True)
class Drawn:
    """One drawing."""

    source: str
    root: ElementTree.Element

    @property
    def page(self) -> Box:
        left, top, right, bottom = map(float, self.root.attrib["viewBox"].split())
        return Box(left, top, right, bottom)

    def parts(self, name: str) -> list[ElementTree.Element]:
        return [element for element in self.root.iter() if element.get("data-part") == name]

    def part(self, name: str) -> ElementTree.Element:
        (only,) = self.parts(name)
        return only

    def box(self, name: str) -> Box:
        part = self.part(name)
        if part.tag == f"{SVG}rect":
            x, y, w, h = (float(part.attrib[key]) for key in ("x", "y", "width", "height"))
            return Box(x, y, x + w, y + h)
        points = self.points(name)
        xs, ys = [point.x for point in points], [point.y for point in points]
        return Box(min(xs), min(ys), max(xs), max(ys))

    def points(self, name: str) -> list[Point]:
        pairs = self.part(name).attrib["points"].split()
        return [Point(*map(float, pair.split(","))) for pair in pairs]

    def ends(self, name: str) -> tuple[Point, Point]:
        line = self.part(name).attrib
        return Point(float(line["x1"]), float(line["y1"])), Point(float(line["x2"]), float(line["y2"]))

    def middle(self, name: str) -> Point:
        circle = self.part(name).attrib
        return Point(float(circle["cx"]), float(circle["cy"]))

    @property
    def words(self) -> list[Words]:
        return [_words(element) for element in self.root.iter(f"{SVG}text")]

    def says(self, words: str) -> bool:
        return any(words in item.text.replace("\u00a0", " ") for item in self.words)


def read(svg: str) -> Drawn:
    return Drawn(svg, ElementTree.fromstring(svg))


def _words(element: ElementTree.Element) -> Words:
    title = element.find(f"{SVG}title")
    shown = (element.text or "") + ((title.tail or "") if title is not None else "")
    size = float(element.attrib["font-size"])
    wide = width(shown, size, "font-weight" in element.attrib)
    anchor = element.get("text-anchor", "start")
    return Words(shown, text_box(float(element.attrib["x"]), float(element.attrib["y"]), wide, size, anchor))


def slope(start: Point, end: Point) -> float:
    """The direction from one point to another, in degrees above the horizontal of the paper."""
    return degrees(atan2(start.y - end.y, end.x - start.x))


def apart(one: Point, other: Point) -> float:
    return hypot(one.x - other.x, one.y - other.y)
