"""`triptych explain` on files of loudspeakers and rooms that nobody drew before, held to a second oracle.

Drivers are of sizes for which no table of cones is needed (0.8 of the nominal size works), so that every number follows
from the contract alone. Places of all six kinds, boxes upright and lying, seats anywhere, tilts both ways.
"""

from __future__ import annotations

import csv
import json
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from math import atan2, ceil, copysign, degrees, dist, hypot, log10, radians, sin
from pathlib import Path
from random import Random
from typing import Any

import pytest
from typer.testing import CliRunner

from tests.recommender import oracle_of_contract as oracle
from triptych.recommender.cli import app

pytestmark = pytest.mark.whole

KINDS = ("cavity", "open_shelf", "top", "stand", "wall", "behind_screen")
TOWER = {
    "maker": "Gorse Pail", "model": "Tower", "roles": "main", "orientation": "upright", "width": 200, "height": 1000,
    "depth": 300, "feet": 15, "enclosure": "sealed", "sensitivity": 88, "impedance_nominal": 8, "low_limit": 45,
    "low_limit_drop": 3, "tweeter_type": "dome", "tweeter_size": 25, "axis_height": 905, "woofer_size": 165,
    "woofer_count": 1, "layout": "TM", "crossover": 2200, "price": 1500, "currency": "EUR", "price_per": "pair",
    "tax": "included", "sold_as": "pair",
}  # fmt: skip


@dataclass(frozen=True)
class Case:
    """One centre in one room: cells of its file, and what they are to the oracle."""

    cells: dict[str, Any]
    seats: tuple[oracle.Point, ...]
    regular: tuple[bool, ...]
    places: tuple[oracle.Opening, ...]
    spacing: float
    from_wall: float
    amplifier: tuple[float, float, float | None]
    gain: float

    @property
    def box(self) -> oracle.Box:
        cells: dict[str, Any] = {key: one / 1e3 if isinstance(one, int) else one for key, one in self.cells.items()}
        apart, half = cells["woofer_spacing"] / 2, 0.4
        upright = cells["orientation"] == "upright"
        outer = [
            oracle.Driver(0.0 if upright else d, d if upright else 0.0, half * cells["woofer_size"], 0)
            for d in (-apart, apart)
        ]
        inner = [oracle.Driver(0.0, 0.0, half * cells["midrange_size"], 1)] if cells["midrange_size"] else []
        corners = tuple(float(one) for one in cells["crossover"].split("/"))
        feet = cells["feet"] or 0.0
        return oracle.Box(
            width=cells["width"],
            height=cells["height"] + feet,
            depth=cells["depth"],
            axis=cells["axis_height"] + feet,
            rear=0.040 if cells["rear_allowance"] is None else cells["rear_allowance"],
            drivers=(*outer, *inner, oracle.Driver(0.0, 0.0, half * cells["tweeter_size"], len(corners))),
            crossovers=corners,
            order=int(cells["crossover_order"] or "4"),
            sensitivity=float(cells["sensitivity"]),
            impedance=float(cells["impedance_nominal"]),
            rating=float(cells["power_handling"]) if cells["power_handling"] else None,
        )


def drawn(seed: int) -> Case:
    """A plausible centre and room."""
    of = Random(seed)
    three = of.random() < 0.5
    woofer, middle, tweeter = of.choice((60, 70)), of.choice((40, 50)) if three else None, of.choice((20, 30))
    spacing = woofer + (middle or tweeter) + of.randint(30, 160)
    long, short = spacing + woofer + of.randint(20, 90), woofer + of.randint(20, 70)
    upright = of.random() < 0.3
    width, height = (short, long) if upright else (long, short)
    axis = height // 2 if upright else of.randint(int(0.4 * height), int(0.7 * height))
    cells = {
        "maker": "Gorse Pail", "model": f"Centre {seed}", "roles": "centre",
        "orientation": "upright" if upright else "lying", "width": width, "height": height,
        "depth": of.randint(120, 380), "feet": of.choice((None, 4, 20)), "rear_allowance": of.choice((None, 0, 65)),
        "weight": "6 kg", "enclosure": "sealed", "port_location": "none", "sensitivity": f"{of.uniform(83, 91):.1f}",
        "impedance_nominal": of.choice(("4", "6", "8")), "low_limit": f"{of.randint(50, 130)}.0", "low_limit_drop": "3",
        "tweeter_type": "cone", "tweeter_size": tweeter, "axis_height": axis, "midrange_size": middle,
        "midrange_count": "1" if three else None, "woofer_size": woofer, "woofer_count": "2",
        "layout": "W(TM)W" if three else "MTM", "woofer_spacing": spacing,
        "crossover": f"{of.randint(400, 900)}/{of.randint(2200, 4200)}" if three else f"{of.randint(1600, 3400)}",
        "crossover_order": of.choice((None, "2", "4", "8")), "power_handling": of.choice((None, "40", "120")),
        "price": "400", "currency": "EUR", "price_per": "each", "tax": "included", "sold_as": "single",
    }  # fmt: skip
    near = of.uniform(1.7, 4.0)
    seats = [(round(of.uniform(-1.8, 1.8), 3), round(near + of.uniform(0, 1.5), 3), round(of.uniform(0.7, 1.4), 3))
             for _ in range(of.randint(1, 4))]  # fmt: skip
    seats[0] = (seats[0][0] if of.random() < 0.4 else 0.0, *seats[0][1:])
    return Case(
        cells,
        tuple(seats),
        (True, *(of.random() < 0.6 for _ in seats[1:])),
        tuple(_place(of, kind) for kind in of.sample(KINDS, 3)),
        spacing=round(of.uniform(1.8, 3.4), 3),
        from_wall=round(of.uniform(0.3, 1.1), 3),
        amplifier=(of.choice((50.0, 95.0)), of.choice((8.0, 6.0)), of.choice((None, 4.0, 6.0, 8.0))),
        gain=of.choice((0.0, 2.5)),
    )


def _place(of: Random, kind: str) -> oracle.Opening:
    base = {"stand": (0.2, 0.9), "wall": (0.7, 2.1)}.get(kind, (0.05, 1.0))
    place = oracle.Opening(
        kind,
        None if kind not in ("cavity", "open_shelf") and of.random() < 0.3 else round(of.uniform(0.15, 0.7), 3),
        round(of.uniform(0.7, 1.6), 3),
        round(of.uniform(0.3, 0.7), 3),
        round(of.uniform(*base), 3),
        round(of.uniform(0.3, 1.1), 3),
        of.choice(("closed", "open")) if kind in ("cavity", "open_shelf") else None,
        of.choice((0.0, 0.0, round(of.uniform(0.01, 0.3), 3))),
    )
    if kind not in oracle.SURFACES or of.random() < 0.5:
        return place
    # low and deep, as a bounce wants it; where the lid is low too, the box can't be tilted out of it
    lid, low, back = of.choice((0.14, 0.2, 0.6)), of.uniform(0.05, 0.3), of.uniform(0.2, 0.4)
    return replace(place, height=lid, base=round(low, 3), setback=round(back, 3), depth=0.9, front=1.05)


def room_file(case: Case, length: Callable[[float], str], mirrored: int = 1) -> str:
    lines = ['name = "Room"', "[mains]", 'speaker = "Gorse Pail Tower"', f"spacing = {length(case.spacing)}"]
    lines += [f"from_wall = {length(case.from_wall)}", "toe_in = 14"]
    for number, (right, away, up) in enumerate(case.seats):
        lines += [
            "[[seat]]",
            f'name = "seat {number}"',
            f"x = {length(mirrored * right)}",
            f"distance = {length(away)}",
        ]
        lines += [f"ear_height = {length(up)}", f"primary = {str(number == 0).lower()}"]
        lines += [f"regular = {str(case.regular[number]).lower()}"]
    for place in case.places:
        lines += ["[[place]]", f'name = "{place.kind}"', f'kind = "{place.kind}"']
        sizes = {key: getattr(place, key) for key in ("width", "height", "depth", "base", "front", "setback")}
        lines += [f"{key} = {length(value)}" for key, value in sizes.items() if value is not None]
        lines += [f'back = "{place.back}"'] if place.back else []
        lines += ['wall = "masonry"'] if place.kind == "wall" else []
    power, into, lowest = case.amplifier
    lines += ["[amplifier]", f"power = {power}", f"into = {into}", "trim_range = 12"]
    lines += [f"lowest_load = {lowest}"] if lowest else []
    return "\n".join([*lines, "[listening]", "target_peak = 95", f"room_gain = {case.gain}"])


def metres(value: float) -> str:
    return f'"{value} m"'


def inches(value: float) -> str:
    return f'"{value / 0.0254:.9f} in"'


def answered(folder: Path, case: Case, room: str) -> dict[str, Any]:
    """What the commands say of a case."""
    with (folder / "loudspeakers.csv").open("w", newline="", encoding="utf-8") as file:
        rows = csv.DictWriter(file, list(dict.fromkeys([*case.cells, *TOWER])))
        rows.writeheader()
        rows.writerows([TOWER, case.cells])
    (folder / "room.toml").write_text(room, encoding="utf-8")
    database = ("--db", str(folder / "catalogue.db"))
    run("speaker", "import", str(folder / "loudspeakers.csv"), *database)
    name = f"{case.cells['maker']} {case.cells['model']}"
    told: dict[str, Any] = json.loads(
        run("explain", name, "--room", str(folder / "room.toml"), "--format", "json", *database)
    )
    return told


def run(*words: str) -> str:
    done = CliRunner().invoke(app, list(words))
    assert done.exit_code == 0, done.output
    return done.stdout


def stood(told: Mapping[str, Any], case: Case) -> Iterator[tuple[dict[str, Any], oracle.Opening]]:
    for entry in told["ranked"]:
        if entry["pose"] == "as_designed":
            yield entry, next(place for place in case.places if place.kind == entry["place"])


def near(told: float | None, found: float | None, by: float = 0.0, part: float = 0.0) -> None:
    if found is None:
        assert told is None
    else:
        assert told == pytest.approx(found, abs=by, rel=part)


def held(case: Case, entry: Mapping[str, Any], place: oracle.Opening) -> Counter[str]:
    """Hold what is told of a case in one place to the oracle, and count what was in it."""
    box, ear, numbers = case.box, case.seats[0], entry["quantities"]
    upright, needed, fits = (
        oracle.axis_of(box, place, 0.0),
        oracle.tilt_needed(box, place, ear),
        oracle.tilt_fits(box, place),
    )
    used = min(abs(needed), fits) * (1 if needed >= 0 else -1)
    axis, (high, deep) = oracle.axis_of(box, place, used), oracle.extent(box, used)
    near(numbers["elevation_deg"], -oracle.rise(upright, ear), 0.1)
    near(numbers["tilt_needed_deg"], needed, 0.1)
    near(abs(numbers["tilt_fits_deg"]), fits, 0.1)
    near(numbers["tilt_used_deg"], used, 0.1)
    near(numbers["residual_deg"], oracle.rise(axis, ear) - used, 0.1)
    near(numbers["lift_mm"], 1e3 * box.depth * abs(sin(radians(used))), 1.0)
    near(numbers["envelope_height_mm"], 1e3 * high, 1.0)
    near(numbers["envelope_depth_mm"], 1e3 * deep, 1.0)
    near(numbers["rear_clearance_mm"], 1e3 * (oracle.free_depth(place) - place.setback - deep), 1.0)
    near(numbers["setback_mm"], 1e3 * place.setback, 1.0)
    largest = oracle.largest_setback(box, place, ear)
    near(numbers["setback_max_mm"], None if largest is None else 1e3 * largest, 1.0)
    flat, heard = oracle.bounce(place, upright, ear), oracle.bounce(place, axis, ear)
    near(numbers["bounce_notch_hz"], flat, part=0.01)
    criteria = {one["criterion"]: one for one in entry["criteria"]}
    near(criteria["surroundings"]["inputs"]["notch"], heard, part=0.01)
    assert (criteria["surroundings"]["inputs"]["ripple"] > 1e-3) <= (heard is not None)
    near(numbers["cavity_resonance_hz"], oracle.bay(box, place), part=0.01)
    farthest = max(dist(axis, seat) for seat, judged in zip(case.seats, case.regular, strict=True) if judged)
    near(numbers["peak_level_db"], oracle.peak(box, *case.amplifier, farthest, case.gain), 0.1)
    over, (_, into, lowest) = oracle.peak(box, *case.amplifier, farthest, case.gain) - 95, case.amplifier
    if lowest is None and box.impedance < into:
        # what a load that nobody rated costs is a range, and what is likely of it is worth no more than its middle
        assert over - 20 * log10(into / box.impedance) / 2 - 0.1 <= criteria["headroom"]["value"] <= over + 0.1
    else:
        near(criteria["headroom"]["value"], over, 0.1)
    mains = [(side * case.spacing / 2, case.from_wall, 0.92) for side in (-1, 1)]
    beside = sum(88 - 20 * log10(dist(one, ear)) for one in mains) / 2
    near(numbers["trim_db"], beside - (box.sensitivity - 20 * log10(dist(axis, ear))), 0.1)
    apart = abs(oracle.rise(axis, ear) - sum(oracle.rise(one, ear) for one in mains) / 2)
    near(criteria["aim"]["inputs"]["apart"], apart, 0.1)
    # feet that nobody stated take from the tilt what feet up to 15 mm take, as far as they go in: half of it counts
    feet = 0.0 if case.cells["feet"] is not None else min(0.015, max(0.0, (place.height or 9.0) - 0.010 - box.height))
    raised = min(abs(used), oracle.tilt_fits(replace(box, height=box.height + feet), place))
    left = [abs(oracle.rise(oracle.axis_of(box, place, tilt), ear) - tilt) for tilt in (used, copysign(raised, needed))]
    # no tilt cures where voices come from: four times what an elevation has beyond 15 deg, where that is more
    high = 4.0 * max(0.0, abs(oracle.rise(upright, ear)) - 15.0)
    near(criteria["aim"]["value"], hypot(max(apart, high), sum(left) / 2), 0.4 if high else 0.1)
    low = float(case.cells["low_limit"])
    near(criteria["reach"]["value"], max(80.0, 1.3 * low), 0.1)
    near(numbers["crossover_hz"], 10.0 * ceil(max(80.0, 1.3 * low) / 10 - 1e-9), 0.1)
    counted = Counter(up=used > 0, down=used < 0, left=abs(needed - used) > 0.1, flat=flat is not None)
    counted.update(heard=heard is not None, moved=flat is not None and heard is None)
    return counted + _heard(case, entry, criteria, upright, axis, used)


def _heard(
    case: Case, entry: Mapping[str, Any], criteria: Mapping[str, Any], upright: oracle.Point, axis: oracle.Point,
    tilt: float,
) -> Counter[str]:  # fmt: skip
    losses: list[float] = []
    counted: Counter[str] = Counter()
    for seat, regular, told in zip(case.seats, case.regular, entry["quantities"]["seats"], strict=True):
        at = oracle.seen(tilt, axis, seat)
        near(told["angle_deg"], degrees(atan2(seat[0], seat[1] - upright[1])), 0.1)
        near(told["across_deg"], oracle.across(at), 0.1)
        near(told["null_hz"], oracle.null(case.box, at), part=0.01)
        lowest = oracle.dip(case.box, at)
        if lowest > -40:
            near(told["dip_db"], lowest, 0.1)
        counted.update(dips=lowest < -3, deep=-40 < lowest < -15)
        if regular:
            spread, deepest = oracle.ears(case.box, at)
            losses.append((spread + abs(deepest)) / 2)
    inputs = criteria["coverage"]["inputs"]
    near((inputs["spread"] + abs(inputs["dip"])) / 2, max(losses), 0.1)
    return counted


@pytest.mark.parametrize("seed", [3, 9])
def test_a_few_placements_are_what_the_contract_says(tmp_path: Path, seed: int) -> None:
    case = drawn(seed)
    told = answered(tmp_path, case, room_file(case, metres))
    assert sum(1 for entry, place in stood(told, case) if held(case, entry, place)) == 3


def test_many_placements_are_what_the_contract_says(tmp_path: Path) -> None:
    counted: Counter[str] = Counter()
    for seed in range(100, 124):
        folder = tmp_path / str(seed)
        folder.mkdir()
        case = drawn(seed)
        for entry, place in stood(answered(folder, case, room_file(case, metres)), case):
            counted += held(case, entry, place)
    # none of these goes untried
    assert min(counted[key] for key in ("up", "down", "left", "flat", "heard", "dips", "deep")) > 0, counted


def same(entry: Mapping[str, Any], other: Mapping[str, Any], mirrored: bool = False) -> None:
    """Hold two answers to be the same, but for angles to the other side where one is mirrored."""
    for key in ("place", "pose", "verdict"):
        assert other[key] == entry[key]
    for key in ("score", "score_low", "score_high"):
        assert other[key] == pytest.approx(entry[key], abs=0.11)
    figures, others = (dict(one["quantities"]) for one in (entry, other))
    for seat, there in zip(figures.pop("seats"), others.pop("seats"), strict=True):
        assert there.pop("seat") == seat.pop("seat")
        for key in seat:
            side = -1 if mirrored and key in ("angle_deg", "across_deg") else 1
            near(there[key], None if seat[key] is None else side * seat[key], 2e-3, 1e-5)
    for key, value in figures.items():
        near(others[key], value, 2e-3, 1e-5)


@pytest.mark.parametrize("seed", [201, 202, 203])
def test_a_mirrored_room_has_the_mirrored_answer(tmp_path: Path, seed: int) -> None:
    case = drawn(seed)
    one, other = (answered(tmp_path, case, room_file(case, metres, side)) for side in (1, -1))
    for entry, mirrored in zip(one["ranked"], other["ranked"], strict=True):
        same(entry, mirrored, mirrored=True)


@pytest.mark.parametrize("seed", [301, 302])
def test_a_room_in_inches_is_the_same_room(tmp_path: Path, seed: int) -> None:
    case = drawn(seed)
    one, other = (answered(tmp_path, case, room_file(case, unit)) for unit in (metres, inches))
    for entry, there in zip(one["ranked"], other["ranked"], strict=True):
        assert [gate["verdict"] for gate in there["gates"]] == [gate["verdict"] for gate in entry["gates"]]
        same(entry, there)
