"""Every told quantity of the seed rooms, from the formula and the listed inputs alone, apart from our code."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from importlib.resources import files
from math import asin, asinh, atan2, ceil, copysign, cos, degrees, hypot, inf, log10, pi, radians, sin, sqrt, tan
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy.orm import Session

from triptych.catalog.database.address import as_url
from triptych.catalog.database.engine import open_engine, reading
from triptych.catalog.files.loudspeakers import read_loudspeakers
from triptych.catalog.files.rooms import read_room
from triptych.catalog.records import Role
from triptych.recommender.advise.advice import Standing
from triptych.recommender.advise.match import Question, ask, explain

pytestmark = pytest.mark.whole

C = 343.2
Inputs = Mapping[str, float]
SEED = Path(str(files("triptych.seed_data")))
ROOMS = {"mill_house": 0.0, "sail_loft": 0.0, "mill_house set back": 0.33}
"""The seed rooms, and how far the baffles are set back in them [m]."""


def tilt_needed(of: Inputs) -> float:
    """By halving an interval."""
    high, deep, axis, ear = of["height_m"], of["depth_m"], of["axis_above_surface_m"], of["ear_above_surface_m"]
    low, top = radians(-89.0), radians(89.0)
    for _ in range(100):
        t = (low + top) / 2
        up = (deep * sin(t) if t >= 0 else 0.0) + axis * cos(t)
        back = (axis if t >= 0 else high - axis) * sin(abs(t))
        wanted = atan2(ear - up, hypot(of["ahead_m"] + back, of["aside_m"]))
        low, top = (t, top) if wanted > t else (low, t)
    return degrees(low)


def left(of: Inputs) -> float:
    """From the axis of the box as it is tilted to the ear, less the tilt; nothing where it is tilted all the way."""
    t, high, axis = radians(of["tilt_used_deg"]), of["height_m"], of["axis_above_surface_m"]
    up = (of["depth_m"] * sin(t) if t >= 0 else 0.0) + axis * cos(t)
    back = (axis if t >= 0 else high - axis) * sin(abs(t))
    rises = degrees(atan2(of["ear_above_surface_m"] - up, hypot(of["ahead_m"] + back, of["aside_m"])))
    return 0.0 if of["tilt_used_deg"] == of["tilt_needed_deg"] else rises - of["tilt_used_deg"]


def tilt_fits(of: Inputs) -> float:
    """By small steps, up to the first tilt that no longer fits."""
    high, deep = of["height_m"], of["depth_m"]
    over, behind = of.get("opening_height_m", inf), of.get("opening_depth_m", inf)

    def fits(hundredth: int) -> bool:
        t = radians(hundredth / 100)
        tall, long = high * cos(t) + deep * sin(t), deep * cos(t) + high * sin(t)
        return tall <= over + 1e-9 and long <= behind + 1e-9

    most = next((step - 1 for step in range(3001) if not fits(step)), 3000)
    return max(most, 0) / 100 * (1 if of["tilt_needed_deg"] >= 0 else -1)


def notch(of: Inputs) -> float:
    d, h, ear = of["distance_m"], of["axis_above_surface_m"], of["ear_above_surface_m"]
    return C / (2 * (hypot(d, ear + h) - hypot(d, ear - h)))


def cavity(of: Inputs) -> float:
    """By halving an interval between nothing and a quarter wave."""
    opening = of["place_width_m"] * of["place_height_m"]
    volume = (of["place_depth_m"] - of["setback_m"] - of["depth_m"]) * opening
    gap = opening - of["width_m"] * of["height_m"]
    a = of["place_width_m"] + 2 * of["height_m"]
    b = gap / a
    end = (a * a * b * asinh(b / a) + a * b * b * asinh(a / b) + (a**3 + b**3) / 3 - hypot(a, b) ** 3 / 3) / (
        pi * a * b
    )
    length = of["depth_m"] + 2 * end
    low, top = 1e-9, pi / 2 / length
    for _ in range(100):
        k = (low + top) / 2
        low, top = (k, top) if 1 / tan(k * length) > k * volume / gap else (low, k)
    return low * C / (2 * pi)


def peak(of: Inputs) -> float:
    share = min(1.0, of["impedance_ohm"] / of["lowest_load_ohm"])
    voltage = sqrt(of["power_w"] * of["into_ohm"]) * share ** of["yielding"]
    if "power_rating_w" in of:
        voltage = min(voltage, sqrt(of["power_rating_w"] * of["impedance_ohm"]))
    return of["sensitivity_db"] + 20 * log10(voltage / 2.83) - 20 * log10(of["farthest_m"]) + of["room_gain_db"]


def trim(of: Inputs) -> float:
    mains = of["mains_sensitivity_db"] - 10 * log10(of["left_slant_m"]) - 10 * log10(of["right_slant_m"])
    return mains - (of["sensitivity_db"] - 20 * log10(of["slant_m"]))


def envelope(first: str, second: str) -> Callable[[Inputs], float]:
    def formula(of: Inputs) -> float:
        t = radians(abs(of["tilt_used_deg"]))
        return 1e3 * (of[first] * cos(t) + of[second] * sin(t))

    return formula


FORMULAS: dict[str, Callable[[Inputs], float]] = {
    "elevation_deg": lambda of: degrees(atan2(of["axis_m"] - of["ear_m"], of["distance_m"])),
    "tilt_needed_deg": tilt_needed,
    "tilt_fits_deg": tilt_fits,
    "tilt_used_deg": lambda of: copysign(
        min(abs(of["tilt_needed_deg"]), abs(of["tilt_fits_deg"])), of["tilt_needed_deg"]
    ),
    "residual_deg": left,
    "lift_mm": lambda of: 1e3 * of["depth_m"] * sin(radians(abs(of["tilt_used_deg"]))),
    "envelope_height_mm": envelope("height_m", "depth_m"),
    "envelope_depth_mm": envelope("depth_m", "height_m"),
    "rear_clearance_mm": lambda of: 1e3 * (of["free_depth_m"] - of["setback_m"] - of["envelope_depth_m"]),
    "setback_mm": lambda of: 1e3 * of["setback_m"],
    "setback_max_mm": lambda of: 1e3 * of["from_edge_m"] * of["axis_above_surface_m"] / of["ear_above_surface_m"],
    "bounce_notch_hz": notch,
    "cavity_resonance_hz": cavity,
    "peak_level_db": peak,
    "trim_db": trim,
    "timbre_rms_db": lambda of: sqrt(
        (of["direct_db"] ** 2 + of["power_db"] ** 2) / 2
        + sum(of[f"{name}_db"] ** 2 for name in ("unknown", "voicing", "open"))
    ),
    "crossover_hz": lambda of: 10.0 * ceil(max(80.0, 1.3 * of["f3_hz"]) / 10 - 1e-9),
}
ROUGHLY = {"tilt_fits_deg": 0.011, "tilt_needed_deg": 0.01, "cavity_resonance_hz": 0.05}
"""What is told to one decimal, and found here by steps or there by a rule for the same integral."""


@pytest.fixture(scope="module")
def standings(seeded_template: Path) -> dict[str, list[Standing]]:
    """What `explain` says of every centre of the seed data in both rooms."""
    centres = [one.name for one in read_loudspeakers(SEED / "loudspeakers.csv").records if Role.CENTRE in one.roles]
    found = {}
    engine = open_engine(as_url(str(seeded_template)))
    with reading(engine) as session:
        for name, setback in ROOMS.items():
            room = read_room(SEED / f"{name.partition(' ')[0]}.toml")
            room = replace(room, places=tuple(replace(place, setback=setback) for place in room.places))
            found[name] = together(session, Question(str(room.mains.speaker), room), centres)
    engine.dispose()
    return found


def together(session: Session, question: Question, centres: list[str]) -> list[Standing]:
    """What `explain` says of these centres at every place, asked at once; held to it at the last one."""
    account = ask(session, question, centres)
    ways = [
        (int(candidate), number) for number, option in enumerate(account.found) for candidate in option.index.tolist()
    ]
    stood = account.stood([candidate for candidate, _ in ways], [number for _, number in ways])
    entries = [account.derived(entry, *way) for entry, way in zip(stood, ways, strict=True)]
    alone = explain(session, question, centres[-1])[0]
    assert not len(alone.pending)
    assert not len(alone.excluded)
    beside = {(entry.place, entry.pose): entry for entry in entries if entry.speaker == centres[-1]}
    assert len(alone.ranked) == len(beside)
    for entry in alone.ranked:
        other = beside[entry.place, entry.pose]
        figures, same = (np.array([*one.quantities.values()], dtype=float) for one in (entry, other))
        np.testing.assert_allclose(figures, same, rtol=1e-6)
        assert len(entry.derivations) == len(other.derivations)
        assert len(entry.seat_derivations) == len(other.seat_derivations)
    return entries


def told(entry: Standing) -> Iterator[tuple[str, float, Inputs]]:
    """Each quantity that is told, with the inputs that are listed for it."""
    ways = {one.quantity: one for one in entry.derivations}
    for name, value in entry.quantities.items():
        if value is not None:
            yield name, value, {key: given for key, given in ways[name].inputs.items() if given is not None}


@pytest.mark.parametrize("quantity", FORMULAS)
def test_a_quantity_is_what_its_formula_makes_of_its_inputs(
    standings: dict[str, list[Standing]], quantity: str
) -> None:
    entries = (entry for room in standings.values() for entry in room)
    rows = [row for entry in entries for row in told(entry) if row[0] == quantity]
    assert rows
    for _, value, inputs in rows:
        assert FORMULAS[quantity](inputs) == pytest.approx(value, rel=1e-6, abs=ROUGHLY.get(quantity, 1e-6)), inputs


@pytest.mark.parametrize("room", ROOMS)
def test_every_quantity_has_its_way(standings: dict[str, list[Standing]], room: str) -> None:
    for entry in standings[room]:
        ways = {one.quantity: one for one in entry.derivations}
        assert set(FORMULAS) == set(entry.quantities)
        assert set(FORMULAS) == set(ways)


@pytest.mark.parametrize("room", ROOMS)
def test_the_angle_across_is_what_its_inputs_make(standings: dict[str, list[Standing]], room: str) -> None:
    for entry in standings[room]:
        ways = {one.quantity: one for one in entry.seat_derivations}
        for seat in entry.seats:
            of = ways[seat.seat].inputs
            x, y, z = (of[f"{axis}_m"] or 0.0 for axis in "xyz")
            assert seat.across_deg == pytest.approx(degrees(asin(x / sqrt(x * x + y * y + z * z))), abs=1e-6)
