"""Every public equation states its units and its source, and meets a number that our code did not give."""

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
    "kernel.chunks": "`loudspeaker.pressure` again in single precision, held to it by test",
    "kernel.unfolded": "picks rows",
    "layout.infer": "a table of usual layouts",
    "layout.place": "adds up sizes",
    "loudspeaker.outer_pair": "picks two positions",
    "loudspeaker.spread_out": "multiplies positions",
    "loudspeaker.take": "picks rows",
    "loudspeaker.turned": "swaps axes",
    "profile.decibels": "unpacks a number",
    "profile.level_at_each": "looks up",
    "profile.levels_at": "looks up",
    "profile.pack": "writes bytes",
    "profile.profile": "`kernel.chunks` on a fixed grid, held to the direct model by test",
    "profile.unpack": "reads bytes",
    "spherical.power_at": "`loudspeaker.pressure_at` again in single precision, held to it by test",
    "spherical.size_at": "the same, held to it by test",
    "standard.mean_square": "weighs what it is given: `listening_window` and `sound_power` are its numbers",
    "symmetry.alike": "sorts rows that are laid out alike",
}
"""Functions that only arrange what others compute, and why each holds no equation of its own."""


ASSUMED = {
    "cavity.cavity_excitation": "practice gives an order, not figures; held to that order by test",
    "timbre.voicing_difference": "the figures are the design's own; held to its order and to quadrature by test",
}
"""Functions whose figures are assumed: to repeat those as an expectation would be no evidence."""


UNITS = {"m", "m²", "m³", "Hz", "dB", "dB²", "deg", "rad", "rad/m", "ohm", "V", "W", "1", "text", "yes or no"}

MOST_LINES = 16


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


def functions_with_numbers() -> set[str]:
    named: set[str] = set()
    tests = Path(__file__).parents[2]
    for path in (*tests.glob("published/*.csv"), *tests.glob("closed_forms/*.csv")):
        if path.stem not in MODULES:
            continue
        with path.open(encoding="utf-8", newline="") as file:
            named |= {row["function"] for row in csv.DictReader(file)}
    return named


FUNCTIONS = public_functions()
EQUATIONS = [name for name in FUNCTIONS if name not in ARRANGERS]
NUMBERED = functions_with_numbers()


def doc_of(name: str) -> str:
    return inspect.getdoc(FUNCTIONS[name]) or ""


def described(doc: str) -> dict[str, str]:
    """Name → what a line such as `width, height: outside of the box [m]` says of it, in a paragraph of such lines."""
    entry = re.compile(r"((?:[a-z]\w*, )*[a-z]\w*): (.+)")
    paragraphs = ([entry.fullmatch(line) for line in part.split("\n")] for part in doc.split("\n\n"))
    found = [each for lines in paragraphs if all(lines) for each in lines if each]
    return {name: each[2] for each in found for name in each[1].split(", ")}


def has_unit(text: str) -> bool:
    """Whether it ends in a unit, such as [m], and not in a shape, such as [N, K]."""
    found = re.search(r"\[([^\[\]]+)\]\.?$", text)
    return found is not None and set(found[1].split(", ")) <= UNITS


def of(module: str, names: Iterable[str] = FUNCTIONS) -> list[str]:
    """Those names that are of one module."""
    return [name for name in names if name.partition(".")[0] == module]


each_module = pytest.mark.parametrize("module", sorted({name.partition(".")[0] for name in FUNCTIONS}))


@each_module
def test_every_parameter_is_described_with_its_unit_at_the_end(module: str) -> None:
    for name in of(module, EQUATIONS):
        own = described(doc_of(name))
        shared = described(inspect.getdoc(inspect.getmodule(FUNCTIONS[name])) or "")
        parameters = list(inspect.signature(FUNCTIONS[name]).parameters)
        assert set(own) <= set(parameters), name
        for parameter in parameters:
            text = (shared | own).get(parameter, "")
            assert has_unit(text), f"{name}, {parameter}: {text}"


@each_module
def test_the_first_line_says_it_with_the_unit_of_the_result_at_the_end(module: str) -> None:
    assert [name for name in of(module, EQUATIONS) if not has_unit(doc_of(name).split("\n")[0])] == []


@each_module
def test_no_docstring_says_more_than_it_must(module: str) -> None:
    for name in of(module):
        assert len(doc_of(name).split("\n")) <= MOST_LINES, name
        assert "----" not in doc_of(name), name


@each_module
def test_every_equation_meets_a_number_that_our_code_did_not_give(module: str) -> None:
    missing = [name for name in of(module, EQUATIONS) if name not in NUMBERED | ASSUMED.keys()]
    assert missing == [], "add a row to tests/published or tests/closed_forms for each"


def test_an_arranger_holds_no_equation() -> None:
    assert [name for name in ARRANGERS if "Source:" in doc_of(name)] == []


@each_module
def test_every_function_names_its_source(module: str) -> None:
    assert [name for name in of(module, EQUATIONS) if not re.search(r"^Source: \S", doc_of(name), re.M)] == []


@each_module
def test_every_function_is_annotated(module: str) -> None:
    for name in of(module):
        signature = inspect.signature(FUNCTIONS[name])
        assert signature.return_annotation is not inspect.Signature.empty, name
        assert all(each.annotation is not inspect.Parameter.empty for each in signature.parameters.values()), name
