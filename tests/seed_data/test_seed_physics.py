"""The figures of the seed catalogue can exist together: box, cone, load and hand-over."""

from __future__ import annotations

import math

import pytest

from tests.seed_data.seed_rows import ROWS, Row, crossovers, name, offenders

AIR_DENSITY = 1.2


def air_inside(row: Row) -> float:
    """The air inside [m³]; common practice, no source.

    Walls of 12 or 18 mm, 10 mm of grille, an eighth for braces and drivers.
    """
    outside = [float(row[column]) for column in ("width", "height", "depth")]
    wall = 12 if math.prod(outside) < 8e6 else 18
    width, height, depth = (side - 2 * wall for side in outside)
    return 0.88e-9 * width * height * (depth - 10)


def f3(row: Row) -> float:
    """The frequency 3 dB down: Butterworth of order 2 (sealed) or 4 (others), closed form [Hz]."""
    order = 2.0 if row["enclosure"] in {"sealed", "open_back"} else 4.0
    drop = float(row["low_limit_drop"])
    return float(row["low_limit"]) * math.pow(math.pow(10, drop / 10) - 1, 1 / (2 * order))


def test_f3_is_the_stated_limit_where_the_drop_is_three_decibels() -> None:
    row = next(row for row in ROWS if row["low_limit_drop"] == "3")
    assert f3(row) == pytest.approx(float(row["low_limit"]), rel=2e-3)


def anechoic(row: Row) -> float:
    """The sensitivity less the 3 dB that a room or half space lends; common practice, no source."""
    return float(row["sensitivity"]) - (3 if row["sensitivity_basis"] in {"in_room", "half_space"} else 0)


def most_sensitivity(row: Row) -> float:
    """The most that the box allows at 2.83 V.

    Small 1972, JAES 20: eta0 = (4 pi^2/c^3) k f3^3 V, with V the air inside. (4 pi^2/c^3) k is at most 2.0e-6 s^3/m^3
    for a sealed box, and 3.9e-6 for a ported one (Small 1973, JAES 21). One acoustic watt into half space is 112.1 dB
    at 1 m. All from memory.
    """
    constant = 2.0e-6 if row["enclosure"] == "sealed" else 3.9e-6
    efficiency = constant * f3(row) ** 3 * air_inside(row)
    load = float(row["impedance_minimum"] or 0.8 * float(row["impedance_nominal"] or 8))
    return 112.1 + 10 * math.log10(efficiency) + 10 * math.log10(8 / load)


def test_no_box_is_small_and_deep_and_loud_at_once() -> None:
    judged = [row for row in ROWS if row["sensitivity"] and row["low_limit"] and row["enclosure"] != "open_back"]
    margins = {name(row): most_sensitivity(row) - anechoic(row) for row in judged}
    # A box in free space gives up 3 to 6 dB to its own edges, and one 11 dB under the bound is mostly empty; common
    # practice, no source.
    assert not {where: round(margin, 1) for where, margin in margins.items() if not 2.5 <= margin <= 11}


def test_no_cone_is_louder_than_cones_of_its_size_are() -> None:
    # A 100 mm cone gives 87 dB at 2.83 V into 8 ohm at the most, and 6 dB more at twice the size; two of them give 3 dB
    # more, and so does half the load; deep bass is bought with up to 13 dB of it. Common practice, no source.
    def holds(row: Row) -> bool:
        size, count = float(row["woofer_size"]), float(row["woofer_count"])
        load = float(row["impedance_nominal"] or 8)
        most = 87 + 20 * math.log10(size / 100) + 10 * math.log10(count * 8 / load)
        return most - 13 <= anechoic(row) <= most

    judged = [row for row in ROWS if row["sensitivity"] and row["enclosure"] != "open_back"]
    assert not offenders(judged, holds)


EFFECTIVE_AREA = {
    75: 28,
    100: 54,
    115: 66,
    130: 85,
    150: 113,
    165: 136,
    180: 155,
    200: 215,
    250: 330,
    305: 500,
    380: 830,
}
"""Typical cone area by nominal size [mm to cm²]; typical values, from memory."""


def loudest_at_low_limit(row: Row) -> float:
    """The level at 1 m at F3 for a peak excursion of a twentieth of the driver's size [dB].

    Monopole on a plane, p = 2 pi rho f^2 x S / r (Kinsler et al., from memory); a port or radiator takes two thirds of
    the work at its tuning (common practice, no source).
    """
    share = 1.0 if row["enclosure"] in {"sealed", "open_back"} else 3.0
    size, count = float(row["woofer_size"]), float(row["woofer_count"])
    volume = share * count * EFFECTIVE_AREA[int(size)] * 1e-4 * size / 20 * 1e-3
    peak = 2 * math.pi * AIR_DENSITY * f3(row) ** 2 * volume
    return 20 * math.log10(peak / math.sqrt(2) / 20e-6)


def test_the_cones_move_enough_air_at_the_low_limit() -> None:
    assert not offenders([row for row in ROWS if row["low_limit"]], lambda row: loudest_at_low_limit(row) >= 88)


def test_a_sealed_two_way_of_100_mm_that_reaches_35_hz_at_94_db_would_be_caught() -> None:
    row = next(row for row in ROWS if row["enclosure"] == "sealed" and row["woofer_size"] == "100")
    dreamt = row | {"low_limit": "35", "low_limit_drop": "3", "sensitivity": "94", "sensitivity_basis": "anechoic"}
    assert most_sensitivity(dreamt) - anechoic(dreamt) < 0
    assert loudest_at_low_limit(dreamt) < 88


def test_the_lowest_impedance_is_near_four_fifths_of_the_nominal() -> None:
    # IEC 60268-5's habit is 0.8; leaflets run from 0.75 to 0.85. From memory.
    judged = [row for row in ROWS if row["impedance_minimum"] and row["impedance_nominal"]]
    assert len(judged) > 40
    assert not offenders(
        judged, lambda row: 0.75 <= float(row["impedance_minimum"]) / float(row["impedance_nominal"]) <= 0.85
    )


CROSSOVER_BANDS = {
    "two": [(1200, 3600)],
    "two and a half": [(120, 300), (1200, 3600)],
    "three": [(200, 650), (1900, 3600)],
}
"""Usual hand-overs by the number of ways [Hz]; common practice, no source."""


def ways(row: Row) -> str:
    if "W" in row["layout"]:
        return "three"
    return "two and a half" if row["layout"] == "TMM" else "two"


def test_crossovers_suit_the_topology() -> None:
    def holds(row: Row) -> bool:
        bands = CROSSOVER_BANDS[ways(row)]
        found = crossovers(row)
        return len(found) == len(bands) and all(
            low <= value <= high for value, (low, high) in zip(found, bands, strict=True)
        )

    assert not offenders([row for row in ROWS if row["crossover"]], holds)


def test_horns_and_waveguides_hand_over_low() -> None:
    # Common practice, no source.
    judged = [
        row for row in ROWS if row["tweeter_type"] in {"horn", "waveguide_dome"} and row["layout"] in {"TM", "MTM"}
    ]
    assert not offenders(judged, lambda row: crossovers(row)[-1] <= 2200)
