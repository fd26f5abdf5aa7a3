"""Every public equation states its units and its source, and meets a number from outside."""

import csv
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import triptych.recommender.physics

ARRANGERS = {
    "description.describe": "columns to drivers; its estimates are those of `piston` and `layout`",
    "kernel.chunks": "`loudspeaker.pressure` again in single precision, held to it by test",
    "kernel.unfolded": "picks rows",
    "layout.infer": "a table of usual layouts",
    "layout.place": "adds up sizes",
    "loudspeaker.outer_spacing": "picks two positions",
    "loudspeaker.take": "picks rows",
    "loudspeaker.turned": "swaps axes",
    "profile.decibels": "unpacks a number",
    "profile.level_at": "looks up",
    "profile.level_at_each": "looks up",
    "profile.levels_at": "looks up",
    "profile.pack": "writes bytes",
    "profile.profile": "`kernel.chunks` on a fixed grid, held to the direct model by test",
    "profile.unpack": "reads bytes",
    "symmetry.alike": "sorts rows that are laid out alike",
}
"""Functions that only arrange what others compute, and why each holds no equation of its own."""


MODULES = {module.name for module in pkgutil.iter_modules(triptych.recommender.physics.__path__)}


def public_functions() -> dict[str, Callable[..., Any]]:
    found: dict[str, Callable[..., Any]] = {}
    for module_info in pkgutil.iter_modules(triptych.recommender.physics.__path__):
        module = importlib.import_module(f"triptych.recommender.physics.{module_info.name}")
        for name in getattr(module, "__all__", []):
            thing = getattr(module, name)
            if inspect.isfunction(thing) and module_info.name != "checks":
                found[f"{module_info.name}.{name}"] = thing
    return found


def functions_with_published_values() -> set[str]:
    named: set[str] = set()
    for path in (Path(__file__).parents[2] / "published").glob("*.csv"):
        if path.stem not in MODULES:
            continue
        with path.open(encoding="utf-8", newline="") as file:
            named |= {row["function"] for row in csv.DictReader(file)}
    return named


FUNCTIONS = public_functions()
EQUATIONS = [name for name in FUNCTIONS if name not in ARRANGERS]
PUBLISHED = functions_with_published_values()


def section(function: Callable[..., Any], title: str) -> str:
    """The text under a heading of a docstring; empty if there is none."""
    doc = inspect.getdoc(function) or ""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", doc, re.M | re.S)
    return found[1].strip("\n") if found else ""


def described(text: str) -> dict[str, str]:
    """Name → description of each entry of a section."""
    entries = re.split(r"^(?=\S)", text, flags=re.M)
    heads = [entry.split("\n", 1) for entry in entries if entry.strip()]
    return {
        name.strip(): " ".join(head[1].split()) if len(head) > 1 else ""
        for head in heads
        for name in head[0].split(" : ")[0].split(",")
    }


@pytest.mark.parametrize("name", EQUATIONS)
def test_every_parameter_is_described_with_its_unit_at_the_end(name: str) -> None:
    parameters = described(section(FUNCTIONS[name], "Parameters"))
    assert list(parameters) == list(inspect.signature(FUNCTIONS[name]).parameters)
    for parameter, text in parameters.items():
        assert re.search(r"\S \[[^\]]+\]$", text), f"{parameter}: {text}"


@pytest.mark.parametrize("name", EQUATIONS)
def test_every_result_has_a_unit(name: str) -> None:
    for text in described(section(FUNCTIONS[name], "Returns")).values():
        assert re.search(r"\[[^\]]+\]$", text), text


@pytest.mark.parametrize("name", EQUATIONS)
def test_every_equation_meets_a_number_from_outside(name: str) -> None:
    assert name in PUBLISHED, f"add a row to tests/published for {name}"


@pytest.mark.parametrize("name", ARRANGERS)
def test_an_arranger_holds_no_equation(name: str) -> None:
    assert ".. math::" not in (inspect.getdoc(FUNCTIONS[name]) or "")


@pytest.mark.parametrize("name", EQUATIONS)
def test_every_function_names_its_source(name: str) -> None:
    assert section(FUNCTIONS[name], "References").startswith(".. [1] ")


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_function_is_annotated(name: str) -> None:
    signature = inspect.signature(FUNCTIONS[name])
    assert signature.return_annotation is not inspect.Signature.empty
    assert all(each.annotation is not inspect.Parameter.empty for each in signature.parameters.values())
