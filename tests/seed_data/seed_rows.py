"""The rows of the seed catalogue as they stand in the file, and how to read them."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from importlib.resources import files

Row = dict[str, str]

TEXT = (files("triptych.seed_data") / "loudspeakers.csv").read_text(encoding="utf-8")
ROWS: list[Row] = list(csv.DictReader(TEXT.splitlines()))

TOWER_HEIGHT = 700
"""An upright box that stands on the floor is taller than this [mm]; common practice, no source."""


def name(row: Row) -> str:
    return " ".join(row[column] for column in ("maker", "series", "model") if row[column])


def number(row: Row, column: str) -> float | None:
    return float(row[column]) if row[column] else None


def known(row: Row, *columns: str) -> tuple[float, ...] | None:
    """The figures of the columns, or None where one is missing."""
    values = tuple(float(row[column]) for column in columns if row[column])
    return values if len(values) == len(columns) else None


def roles(row: Row) -> set[str]:
    return set(row["roles"].split(";"))


def crossovers(row: Row) -> list[float]:
    return [float(part) for part in row["crossover"].split("/")] if row["crossover"] else []


def price_of_one(row: Row) -> float:
    """The price of one with tax, in its own currency."""
    price = float(row["price"]) / (2 if row["price_per"] == "pair" else 1)
    return price * (1 + float(row["tax_rate"] or 0) / 100) if row["tax"] == "excluded" else price


def is_tower(row: Row) -> bool:
    return row["orientation"] == "upright" and float(row["height"]) > TOWER_HEIGHT and float(row["depth"]) > 150


def sides(row: Row) -> tuple[float, float]:
    """The baffle along the layout and across it [mm]."""
    width, height = float(row["width"]), float(row["height"])
    return (width, height) if row["orientation"] == "lying" else (height, width)


def elements(layout: str) -> list[str]:
    """The places along the baffle: a letter, a stack `T/M`, or the letters of a coaxial driver."""
    return [group or letter for group, letter in re.findall(r"\(([TMW/]+)\)|([TMW])", layout)]


def offenders(rows: list[Row], holds: Callable[[Row], bool]) -> list[str]:
    return [name(row) for row in rows if not holds(row)]
