"""The measure of the house counts what is there, and what runs."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.house.size import HERE, Tracer, parts, trace


def lines_of(folder: Path) -> int:
    return sum(path.read_text(encoding="utf-8").count("\n") for path in folder.rglob("*.py"))


@pytest.mark.slow
def test_every_line_of_the_product_is_counted_once() -> None:
    *found, product = parts(HERE)
    assert sum(part.lines for part in found if part.name != "tests") == product.lines
    assert sum(part.lines for part in found if part.name.startswith("catalog/")) == lines_of(HERE / "catalog")


def test_a_tracer_counts_calls_of_the_product_alone() -> None:
    tracer = Tracer(HERE)
    assert tracer.own(lines_of.__code__) is None
    from triptych.recommender.physics.geometry import elevation

    assert tracer.own(elevation.__code__) == ("recommender/physics/geometry.py", "elevation")


@pytest.mark.processes
def test_every_job_is_walked_through() -> None:
    for walk in trace(HERE):
        assert walk.calls >= walk.functions > walk.modules > 1
        assert walk.statements > 0
        assert 0 < walk.crossing < walk.edges
