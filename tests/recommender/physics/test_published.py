"""Every row of tests/published and tests/closed_forms, at its printed precision, against the function it names.

The first holds numbers from outside, the second what a formula in closed form gives, worked out apart from our code.

Columns: `function` (module.name under recommender.physics), `inputs` (JSON keywords; null is NaN; an object with a
`setup` key is made by the builder of that name below), `field` (optional: an attribute or index of the result),
`expected` (JSON; null is NaN), `rtol` (half a unit of the last digit printed, or rounding alone where the number is
exact; the absolute tolerance is always 0), `sure`, `source`.

`sure` says how well the source is known: R read in the source itself; R2 read second-hand; M from memory; P common
practice, no source; C closed form: the number needs no source, which then only says where the formula is found.
"""

import csv
import importlib
import json
import pkgutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.recommender.physics.boxes import both_orbits, far_away
from triptych.recommender import physics
from triptych.recommender.physics.loudspeaker import Assumed, Sources
from triptych.recommender.physics.polar_set import ORBIT, PolarSet, polar_set
from triptych.recommender.physics.standard import Curves

PHYSICS = {module.name for module in pkgutil.iter_modules(physics.__path__)}
FOLDERS = [Path(__file__).parents[2] / name for name in ("published", "closed_forms")]
FILES = sorted(path for folder in FOLDERS for path in folder.glob("*.csv") if path.stem in PHYSICS)
COLUMNS = {"function", "inputs", "field", "expected", "rtol", "sure", "source"}
Row = dict[str, str]


def rows_of(path: Path) -> list[Row]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


ROWS = [row | {"file": path.name} for path in FILES for row in rows_of(path) if "." in row.get("function", "")]


def omnidirectional(level: float, frequency: list[float]) -> PolarSet:
    """A set in which every curve is the same."""
    levels = np.full((len(ORBIT), len(frequency)), level)
    return polar_set(frequency, ORBIT, levels, ORBIT, levels)


def piston(ka: float) -> PolarSet:
    """The full set of a circular piston in a large baffle: nothing behind it, half a ring at 90 deg."""
    from scipy.special import j1

    angle = np.array(ORBIT)
    x = ka * np.sin(np.radians(np.abs(angle)))
    inside = np.where(x > 1e-9, x, 1.0)
    pressure = np.where(x > 1e-9, 2.0 * j1(inside) / inside, 1.0)
    pressure = np.where(np.abs(angle) > 90, 0.0, np.where(np.abs(angle) == 90, np.sqrt(0.5), 1.0) * pressure)
    return both_orbits([1000.0], pressure[:, None])


def step(angle: int, level: float) -> PolarSet:
    """Level 0 dB but at one horizontal angle."""
    levels = np.zeros((len(ORBIT), 1))
    raised = levels.copy()
    raised[ORBIT.index(angle)] = level
    return polar_set([1000.0], ORBIT, raised, ORBIT, levels)


def flat_curves(low: float) -> Curves:
    """A perfect loudspeaker: flat everywhere, cut off sharply below `low` [Hz]."""
    frequency = np.unique(np.concatenate([np.geomspace(10.0, 20000.0, 400), low * np.array([1 - 1e-9, 1.0])]))
    flat = np.zeros(frequency.size)
    power = np.where(frequency < low, -100.0, 0.0)
    return Curves(frequency, flat, flat, flat, power, flat, {})


def half_octaves(per_band: int) -> Any:
    """Frequencies evenly in each of the 14 half octaves from 100 Hz to under 12 kHz, and one beyond each end."""
    inside = 100.0 * 2.0 ** ((np.arange(14)[:, None] + np.linspace(0.05, 0.75, per_band)) / 2.0)
    return np.concatenate([[90.0], inside.ravel(), [13000.0]])


def repeated(pattern: list[float], times: int) -> Any:
    """The same samples in each band, and one uncounted sample at each end."""
    return np.pad(np.tile(np.asarray(pattern, float), times), 1)


def sine(amplitude: float, per_band: int, times: int) -> Any:
    """One whole period in each band."""
    period = np.sin(2.0 * np.pi * (np.arange(per_band) + 0.5) / per_band)
    return repeated((amplitude * period).tolist(), times)


def bands_apart(per_band: int) -> Any:
    """Frequencies evenly on the ERB-number scale (Glasberg and Moore, 1990), a band beyond 200 Hz and 7.6 kHz."""
    number = 21.4 * np.log10(1.0 + 0.00437 * 200.0) + np.linspace(-1.0, 28.0, 29 * per_band + 1)
    return (10.0 ** (number / 21.4) - 1.0) / 0.00437


def band_tilt(slope: float, per_band: int) -> Any:
    """A level that rises by `slope` [dB] from one of the ear's bands to the next."""
    return slope * np.linspace(-1.0, 28.0, 29 * per_band + 1)


def drivers(
    x: list[float],
    radius: float = 1e-4,
    band: list[int] | None = None,
    crossover: float = np.nan,
    order: int = 4,
) -> Sources:
    """Circular pistons side by side on a wide baffle; those of one band share its pressure."""
    bands = np.array([band or [0] * len(x)], dtype=np.int8)
    no, whole = np.array([False]), np.array([1.0])
    across, none = np.array([x], float), np.full(bands.shape, np.nan)
    share = np.array([[1.0 / np.count_nonzero(bands == own) for own in bands[0]]])
    size, still = np.full(bands.shape, radius), np.zeros(bands.shape)
    return Sources(
        x=across, y=still, kind=np.zeros_like(bands), size_x=size, size_y=size, coverage_x=none, coverage_y=none,
        band=bands, share=share, roll_off=none, crossover=np.array([[crossover]]), order=np.array([order], np.int8),
        baffle=whole, usable=~no, assumed=Assumed(no, no, no, no, no, no), spacing_low=whole, spacing_high=whole,
    )  # fmt: skip


SETUPS: dict[str, Callable[..., Any]] = {
    function.__name__: function
    for function in (
        omnidirectional,
        piston,
        step,
        flat_curves,
        half_octaves,
        repeated,
        sine,
        bands_apart,
        band_tilt,
        far_away,
        drivers,
    )
}


def built(value: Any) -> Any:
    """Make what an input describes."""
    if value is None:
        return np.nan
    if isinstance(value, dict) and "setup" in value:
        rest = {name: built(part) for name, part in value.items() if name != "setup"}
        return SETUPS[value["setup"]](**rest)
    return value


def function_named(name: str) -> Callable[..., Any]:
    module, _, function = name.rpartition(".")
    found: Callable[..., Any] = getattr(importlib.import_module(f"triptych.recommender.physics.{module}"), function)
    return found


def part_of(result: Any, field: str) -> Any:
    for step_ in filter(None, field.split(".")):
        result = result[int(step_)] if step_.lstrip("-").isdigit() else getattr(result, step_)
    return result


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['function']} {row['inputs']} {row.get('field') or ''}")
def test_published_value(row: Row) -> None:
    function = function_named(row["function"])
    inputs = {name: built(value) for name, value in json.loads(row["inputs"]).items()}
    result = part_of(function(**inputs), row.get("field") or "")
    expected = json.loads(row["expected"], parse_constant=float)
    if isinstance(expected, bool | str):
        assert result == expected
        return
    np.testing.assert_allclose(
        np.asarray(result, float), np.asarray(expected, float), rtol=float(row["rtol"]), atol=0, err_msg=row["source"]
    )


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_every_row_is_whole_and_says_where_it_comes_from(path: Path) -> None:
    rows = rows_of(path)
    assert rows
    for number, row in enumerate(rows, start=2):
        assert set(row) <= COLUMNS, f"{path.name}:{number}"
        assert row["sure"] in ({"C"} if path.parent.name == "closed_forms" else {"R", "R2", "M", "P"}), (
            f"{path}:{number}"
        )
        assert row["source"].strip(), f"{path.name}:{number}"
        assert 0 <= float(row["rtol"]) < 0.1, f"{path.name}:{number}"
