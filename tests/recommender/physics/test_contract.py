"""Every public equation states its units and its source, and meets a number from outside."""

import csv
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

import triptych.recommender.physics

ARRANGERS = {
    "description.describe": "columns to drivers; its estimates are those of `piston` and `layout`",
    "kernel.power": "`loudspeaker.pressure` again in single precision, held to it by test",
    "layout.infer": "a table of usual layouts",
    "layout.place": "adds up sizes",
    "loudspeaker.mirrored": "swaps signs",
    "loudspeaker.outer_spacing": "picks two positions",
    "loudspeaker.spread": "scales positions",
    "loudspeaker.take": "picks rows",
    "loudspeaker.turned": "swaps axes",
    "profile.decibels": "unpacks a number",
    "profile.level_at": "looks up",
    "profile.level_at_each": "looks up",
    "profile.levels_at": "looks up",
    "profile.pack": "writes bytes",
    "profile.profile": "`kernel.power` on a fixed grid, held to the direct model by test",
    "profile.turned": "swaps axes",
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


def of(module: str, names: Iterable[str] = FUNCTIONS) -> list[str]:
    """Those names that are of one module."""
    return [name for name in names if name.partition(".")[0] == module]


each_module = pytest.mark.parametrize("module", sorted({name.partition(".")[0] for name in FUNCTIONS}))


@each_module
def test_every_parameter_is_described_with_its_unit_at_the_end(module: str) -> None:
    for name in of(module, EQUATIONS):
        parameters = described(section(FUNCTIONS[name], "Parameters"))
        assert list(parameters) == list(inspect.signature(FUNCTIONS[name]).parameters), name
        for parameter, text in parameters.items():
            assert re.search(r"\S \[[^\]]+\]$", text), f"{name}, {parameter}: {text}"


@each_module
def test_every_result_has_a_unit(module: str) -> None:
    for name in of(module, EQUATIONS):
        for text in described(section(FUNCTIONS[name], "Returns")).values():
            assert re.search(r"\[[^\]]+\]$", text), f"{name}: {text}"


@each_module
def test_every_equation_meets_a_number_from_outside(module: str) -> None:
    missing = [name for name in of(module, EQUATIONS) if name not in PUBLISHED]
    assert missing == [], "add a row to tests/published for each"


def test_an_arranger_holds_no_equation() -> None:
    assert [name for name in ARRANGERS if ".. math::" in (inspect.getdoc(FUNCTIONS[name]) or "")] == []


@each_module
def test_every_function_names_its_source(module: str) -> None:
    named = {name: section(FUNCTIONS[name], "References").startswith(".. [1] ") for name in of(module, EQUATIONS)}
    assert all(named.values()), named


@each_module
def test_every_function_is_annotated(module: str) -> None:
    for name in of(module):
        signature = inspect.signature(FUNCTIONS[name])
        assert signature.return_annotation is not inspect.Signature.empty, name
        assert all(each.annotation is not inspect.Parameter.empty for each in signature.parameters.values()), name
