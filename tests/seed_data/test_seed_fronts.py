"""What the seed catalogue puts in a box fits it, and what a line asks for it is in order."""

from __future__ import annotations

import math

from tests.seed_data.seed_rows import (
    ROWS,
    Row,
    elements,
    is_tower,
    known,
    number,
    offenders,
    price_of_one,
    roles,
    sides,
)

PLATE = {"dome": 2.0, "ring": 2.0, "waveguide_dome": 4.0, "horn": 5.5, "cone": 1.2}
"""Width of a tweeter's front plate over its diaphragm; common practice, no source."""


def plate(row: Row) -> tuple[float, float]:
    """The room that a tweeter takes, along the layout and across it [mm]; a ribbon's longer side stands upright."""
    if not row["tweeter_type"]:
        return 0.0, 0.0
    size = float(row["tweeter_size"])
    if "ribbon" in row["tweeter_type"]:
        return (60, size + 20) if row["orientation"] == "lying" else (size + 20, 60)
    return PLATE[row["tweeter_type"]] * size, PLATE[row["tweeter_type"]] * size


def sizes(row: Row, letters: str) -> tuple[float, float]:
    """The room that one place of the layout takes, along and across [mm]."""
    bass = float(row["woofer_size"])
    middle = float(row["midrange_size"] or bass)
    room = {"T": plate(row), "M": (middle, middle), "W": (bass, bass)}
    if "/" in letters:
        stack = [room[letter] for letter in letters.split("/")]
        return max(along for along, _ in stack), sum(across for _, across in stack)
    return room["M" if len(letters) > 1 else letters]


def test_the_drivers_fit_on_the_front() -> None:
    def holds(row: Row) -> bool:
        long_side, short_side = sides(row)
        places = [sizes(row, letters) for letters in elements(row["layout"])]
        return (
            sum(along for along, _ in places) + 15 <= long_side
            and max(across for _, across in places) + 10 <= short_side
        )

    assert not offenders(ROWS, holds)


def test_a_front_port_finds_room_beside_the_drivers() -> None:
    def holds(row: Row) -> bool:
        taken = sum(sizes(row, letters)[0] for letters in elements(row["layout"]))
        return taken + float(row["port_diameter"]) + 15 <= sides(row)[0]

    # A subwoofer has corners for it.
    judged = [row for row in ROWS if row["port_location"] == "front" and row["port_diameter"] and row["tweeter_type"]]
    assert judged
    assert not offenders(judged, holds)


def around_tweeter(row: Row) -> tuple[float, float]:
    """The room that the drivers above and below the tweeter take [mm]."""
    places = elements(row["layout"])
    if row["orientation"] == "lying":
        stack = next(letters for letters in places if "T" in letters).split("/")
        return 0.0, sum(sizes(row, letters)[1] for letters in stack if letters == "M")
    at = next(index for index, letters in enumerate(places) if "T" in letters)
    lengths = [sizes(row, letters)[0] for letters in places]
    return sum(lengths[:at]), sum(lengths[at + 1 :])


def test_the_axis_leaves_room_for_the_drivers_above_and_below() -> None:
    def holds(row: Row) -> bool:
        axis, half = float(row["axis_height"]), plate(row)[1 if row["orientation"] == "lying" else 0] / 2
        above, below = around_tweeter(row)
        return axis + half + above <= float(row["height"]) and axis - half - below >= 0

    judged = [row for row in ROWS if row["axis_height"] and "T" in row["layout"]]
    assert len(judged) > 50
    assert not offenders(judged, holds)


def outermost(row: Row) -> tuple[int, int]:
    bass = "W" if "W" in row["layout"] else "M"
    places = [index for index, letters in enumerate(elements(row["layout"])) if letters == bass]
    return places[0], places[-1]


def test_the_woofer_spacing_clears_what_lies_between_and_fits_the_front() -> None:
    def holds(row: Row) -> bool:
        first, last = outermost(row)
        between = elements(row["layout"])[first + 1 : last]
        needed = float(row["woofer_size"]) + sum(sizes(row, letters)[0] for letters in between)
        return needed <= float(row["woofer_spacing"]) <= sides(row)[0] - float(row["woofer_size"])

    judged = [row for row in ROWS if row["woofer_spacing"]]
    assert len(judged) > 25
    assert not offenders(judged, holds)


def test_the_axis_lies_on_the_front_and_a_towers_at_ear_height() -> None:
    def holds(row: Row) -> bool:
        axis = float(row["axis_height"])
        above_floor = axis + (number(row, "feet") or 0)
        return 20 <= axis <= float(row["height"]) - 20 and (not is_tower(row) or 800 <= above_floor <= 1050)

    assert not offenders([row for row in ROWS if row["axis_height"]], holds)


def test_boxes_weigh_what_wood_and_magnets_weigh() -> None:
    # 0.2 to 0.9 kg a litre outside: fibreboard of 18 mm is about 14 kg/m²; common practice, no source.
    def holds(row: Row) -> bool:
        litres = math.prod(float(row[side]) for side in ("width", "height", "depth")) * 1e-6
        return 0.2 <= float(row["weight"]) / litres <= 0.9

    assert not offenders([row for row in ROWS if row["weight"] and row["enclosure"] != "open_back"], holds)


def test_ports_are_where_enclosures_have_them_and_fit() -> None:
    def holds(row: Row) -> bool:
        if row["enclosure"] in {"sealed", "open_back"}:
            return row["port_location"] == "none" and not row["port_diameter"] and not row["bung"]
        # A port or radiator of one driver's size or less; common practice, no source.
        return row["port_location"] != "none" and float(row["port_diameter"] or 0) <= 1.25 * float(row["woofer_size"])

    assert not offenders(ROWS, holds)


def test_amplifiers_are_in_order() -> None:
    judged = [row for row in ROWS if known(row, "amplifier_min", "amplifier_max", "power_handling")]
    assert len(judged) > 40
    assert not offenders(
        judged, lambda row: float(row["amplifier_min"]) < float(row["power_handling"]) <= float(row["amplifier_max"])
    )


def test_a_line_is_priced_in_order() -> None:
    def line(row: Row) -> list[Row]:
        return [other for other in ROWS if (other["maker"], other["series"]) == (row["maker"], row["series"])]

    def dearer(row: Row, other: Row) -> bool:
        both_main = is_tower(row) and not is_tower(other) and "main" in roles(other) and "centre" not in roles(other)
        both_centre = {row["layout"][:2], other["layout"]} == {"W(", "MTM"} and row["layout"] != "MTM"
        return not (both_main or both_centre) or price_of_one(row) > price_of_one(other)

    assert not offenders(ROWS, lambda row: all(dearer(row, other) for other in line(row)))
