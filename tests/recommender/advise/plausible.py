"""What every figure of a loudspeaker and a room may plausibly be, and why: one table, for the test of the unknown.

The values are those of a lying centre of the usual size, of a tower, and of a sitting room. Where no reason names a
source it is common practice.
"""

from __future__ import annotations

from typing import Final, NamedTuple


class Plausible(NamedTuple):
    """The values that a figure may have, as people write them, and why these; `beside` are blank where it is.

    `likely` says why the likely value may be better than the middle: where the contract itself fixes it.
    """

    values: tuple[str | float, ...]
    why: str
    beside: tuple[str, ...] = ()
    likely: str = ""


LOUDSPEAKER: Final = {
    "orientation": Plausible(("lying",), "what is wider than high lies: the layout runs along the long side"),
    "width": Plausible(("400", "480", "560", "640"), "lying centres with two woofers of 100 to 165 mm"),
    "height": Plausible(("140", "165", "190", "220"), "a little over the woofer's basket, to twice it"),
    "depth": Plausible(("200", "270", "340"), "centres of the usual volume"),
    "feet": Plausible(("0", "5", "8", "12", "15"), "none, pads, or screwed feet of 8 to 15 mm"),
    "rear_allowance": Plausible(("20", "40", "60"), "35 to 50 mm for plug and bend; less where terminals are recessed"),
    "weight": Plausible(("5 kg", "9 kg", "14 kg", "19 kg"), "boxes of these sizes"),
    "enclosure": Plausible(("sealed", "ported", "passive_radiator"), "all that a centre of this kind is made as"),
    "port_location": Plausible(("front", "rear"), "where centres have it; others are rare"),
    "port_diameter": Plausible(("35", "50", "70", "90"), "tubes for one or two woofers of these sizes"),
    "bung": Plausible(("yes", "no"), "both"),
    "sensitivity": Plausible(("82", "85", "87", "90", "92"), "passive centres"),
    "sensitivity_basis": Plausible(
        ("anechoic", "half_space", "in_room", "unknown"), "all that datasheets mean", likely="anechoic by contract"
    ),
    "impedance_nominal": Plausible(("6", "8"), "what a maker prints over a minimum of 6.4 ohm"),
    "impedance_minimum": Plausible(("4.8", "5.5", "6.4", "7"), "0.6 to 0.9 of a nominal 8 ohm"),
    "low_limit": Plausible(("50", "60", "80", "100", "120"), "centres with woofers of 100 to 165 mm"),
    "low_limit_drop": Plausible(("3", "6", "10"), "all that are used"),
    "tweeter_type": Plausible(("dome", "waveguide_dome", "horn", "ribbon", "folded_ribbon", "ring"), "all kinds"),
    "tweeter_size": Plausible(("19", "25", "28"), "domes"),
    "tweeter_coverage": Plausible(("80 x 60", "90 x 60", "100 x 80"), "horns and waveguides at home"),
    "axis_height": Plausible(("60", "82.5", "105", "120"), "from the middle of the front to near its upper edge"),
    "midrange_size": Plausible(("75", "100", "130"), "midranges of three-way centres"),
    "midrange_count": Plausible(("1",), "as the layout says"),
    "woofer_size": Plausible(("100", "115", "130"), "what a baffle of 165 mm takes"),
    "woofer_count": Plausible(("2",), "as the layout says"),
    "layout": Plausible(("MTM", "W(T/M)W", "W(TM)W", "WMTMW"), "what two woofers and a length of 480 mm allow"),
    "woofer_spacing": Plausible(("220", "250", "280", "310", "330"), "touching frames, up to the ends of the box"),
    "crossover": Plausible(("1.8 kHz", "2.4 kHz", "3 kHz"), "two-way centres, 1.8 to 3 kHz"),
    "crossover_order": Plausible(("2", "3", "4"), "slopes that makers use"),
    "amplifier_min": Plausible(("20",), "enters no judgement"),
    "amplifier_max": Plausible(("200",), "enters no judgement"),
    "power_handling": Plausible(("80", "120", "200"), "centres of these sizes"),
    "price": Plausible(("150", "400", "600", "690"), "up to the cap", ("currency", "price_per", "tax", "tax_rate")),
    "currency": Plausible(("EUR",), "stored with every price", ("price", "price_per", "tax", "tax_rate")),
    "price_per": Plausible(("each", "pair"), "both"),
    "tax": Plausible(("included", "excluded"), "both, at a usual rate"),
    "tax_rate": Plausible(("19", "20", "25"), "most of Europe"),
    "sold_as": Plausible(("single", "either"), "what is made as a centre comes singly; mains come in pairs"),
    "status": Plausible(("current", "last_of_line", "discontinued"), "all"),
    "series": Plausible(("Flint", "Ochre"), "the mains' own or another"),
    "family": Plausible(("Alder Croft Flint",), "maker and series where it is empty, by contract"),
    "high_limit": Plausible(("20 kHz", "30 kHz"), "enters no judgement"),
    "tweeter_material": Plausible(("silk",), "enters no judgement"),
    "note": Plausible(("x",), "enters no judgement"),
}
"""Every figure of a loudspeaker that may be left blank."""

TOWER: Final = LOUDSPEAKER | {
    "orientation": Plausible(("upright",), "towers"),
    "width": Plausible(("160", "200", "240"), "towers"),
    "height": Plausible(("900", "980", "1080"), "towers"),
    "depth": Plausible(("240", "300", "360"), "towers"),
    "feet": Plausible(("0", "10", "30"), "pads to spikes"),
    "weight": Plausible(("14 kg", "18 kg", "25 kg"), "boxes of these sizes"),
    "enclosure": Plausible(("ported",), "with a port on the rear"),
    "port_diameter": Plausible(("60",), "enters no judgement of mains"),
    "impedance_nominal": Plausible(("8",), "enters no judgement of mains"),
    "low_limit": Plausible(("40", "45"), "enters no judgement of mains", ("low_limit_drop",)),
    "axis_height": Plausible(("700", "800", "900", "950"), "between knee and the top of the box"),
    "woofer_size": Plausible(("130", "150", "165"), "what a baffle of 200 mm takes"),
    "layout": Plausible(("TMWW", "TMM", "MTMWW", "TMW"), "three drivers and more in a tower"),
    "woofer_spacing": Plausible(("160", "170", "190"), "touching frames and a little more"),
    "crossover": Plausible(("300/2400", "400/2800", "500/3200"), "three-way towers"),
    "price": Plausible(("1100", "1200", "1600"), "a centre at 600 is within a share of half",
                       ("currency", "price_per", "tax", "tax_rate")),
    "price_per": Plausible(("pair",), "as it is sold"),
    "sold_as": Plausible(("single", "pair", "either"), "all"),
}  # fmt: skip
"""The same of mains."""

ROOM: Final = {
    ("screen", "diagonal", 0): Plausible(("55 in", "65 in", "77 in"), "television sets over a unit"),
    ("screen", "bottom", 0): Plausible(("760 mm", "820 mm", "900 mm"), "over a unit of 400 to 600 mm"),
    ("mains", "spacing", 0): Plausible(("2 m", "2.4 m", "2.6 m", "3 m", "3.4 m"), "44 to 60 deg at 3 m"),
    ("mains", "from_wall", 0): Plausible(("320 mm", "450 mm", "700 mm", "900 mm"), "their depth to a metre"),
    ("mains", "toe_in", 0): Plausible((0, 6, 12, 20, 28), "straight ahead to at the seat"),
    ("mains", "floor", 0): Plausible(("hard", "carpet"), "boards to carpet"),
    ("mains", "axis_height", 0): Plausible(
        ("880 mm", "910 mm", "940 mm"), "what the catalogue says of the tower, sunk into a carpet or on a plinth"
    ),
    ("seat", "ear_height", 0): Plausible(("0.9 m", "1.02 m", "1.15 m"), "reclined to upright"),
    ("seat", "ear_height", 1): Plausible(("0.9 m", "1.02 m", "1.15 m"), "reclined to upright"),
    ("place", "width", 0): Plausible(("1.2 m", "1.6 m"), "tops of units"),
    ("place", "height", 0): Plausible(("250 mm", "285 mm", "400 mm"), "up to the picture or beyond"),
    ("place", "depth", 0): Plausible(("350 mm", "450 mm"), "tops of units"),
    ("place", "base", 0): Plausible(("450 mm", "520 mm", "600 mm"), "tops of units"),
    ("place", "front", 0): Plausible(("400 mm", "450 mm", "550 mm"), "units at a wall"),
    ("place", "load", 0): Plausible(("30 kg", "60 kg"), "units"),
    ("place", "width", 1): Plausible(("620 mm", "700 mm", "900 mm"), "bays that take it"),
    ("place", "height", 1): Plausible(("205 mm", "230 mm", "260 mm", "300 mm"), "bays that take the box at all"),
    ("place", "depth", 1): Plausible(("330 mm", "400 mm", "450 mm"), "bays that take it"),
    ("place", "base", 1): Plausible(("250 mm", "340 mm", "450 mm"), "bays of units"),
    ("place", "front", 1): Plausible(("400 mm", "450 mm", "550 mm"), "units at a wall"),
    ("place", "back", 1): Plausible(("closed", "open"), "both"),
    ("place", "load", 1): Plausible(("30 kg", "60 kg"), "units"),
    ("amplifier", "power", 0): Plausible((50, 95, 150), "receivers and amplifiers"),
    ("amplifier", "into", 0): Plausible((6, 8), "as they are rated"),
    ("amplifier", "lowest_load", 0): Plausible((4, 6, 8), "as they are rated"),
    ("amplifier", "trim_range", 0): Plausible((10, 12), "processors"),
    ("listening", "target_peak", 0): Plausible((92, 95, 99), "quiet to lively; louder is asked for by name"),
    ("listening", "room_gain", 0): Plausible((0, 2, 3, 4), "nothing to a live room"),
}
"""Every figure of a room that may be left out, with the number of its seat or place."""

MEASURED_PICTURE: Final = {
    ("screen", "width", 0): Plausible(("1.4 m", "2.2 m", "3 m"), "narrower than the mains' spacing, or over them"),
    ("screen", "height", 0): Plausible(("0.8 m", "1.25 m"), "pictures of that width"),
    ("screen", "bottom", 0): Plausible(("500 mm", "620 mm", "800 mm"), "over a low unit"),
    ("mains", "spacing", 0): Plausible(("2 m", "2.6 m"), "44 to 60 deg at 3 m"),
    ("place", "base", 0): Plausible(("200 mm", "400 mm", "600 mm"), "a low stand, up to the ear behind the picture"),
    ("place", "front", 0): Plausible(("450 mm", "600 mm", "700 mm"), "behind a screen before the wall"),
    ("place", "gap", 0): Plausible(("80 mm", "150 mm", "300 mm"), "woven and perforated fabrics"),
    ("place", "load", 0): Plausible(("30 kg", "60 kg"), "stands"),
    ("place", "width", 1): Plausible(("700 mm", "1.1 m"), "shelves that take it"),
    ("place", "height", 1): Plausible(("250 mm", "300 mm"), "up to the next board"),
    ("place", "depth", 1): Plausible(("300 mm", "400 mm"), "shelves"),
    ("place", "base", 1): Plausible(("200 mm", "300 mm", "340 mm"), "low shelves"),
    ("place", "front", 1): Plausible(("400 mm", "450 mm", "550 mm"), "racks at a wall"),
    ("place", "back", 1): Plausible(("closed", "open"), "both"),
    ("place", "base", 2): Plausible(("250 mm", "350 mm", "400 mm"), "mounts under a picture"),
    ("place", "wall", 2): Plausible(("masonry", "stud", "plasterboard"), "all there are"),
    ("place", "base", 3): Plausible(("200 mm", "300 mm", "400 mm"), "low stands"),
    ("place", "front", 3): Plausible(("450 mm", "600 mm", "900 mm"), "near the wall to well before it"),
}
"""The same of a room with a screen of measured width and height, and a box behind it, on a shelf, a wall, a stand."""

NO_FIGURE: Final = {
    "name": "a name", "speaker": "asked for with --mains", "x": "0 if empty, by contract", "distance": "required",
    "primary": "required", "aspect": "required beside a diagonal",
    "regular": "true if empty, by contract", "kind": "required",
    "hot": "no if empty, by contract",
    "transparent": "no if empty, by contract",
    "tilt_limit": "as far as fits if empty, by contract: what the owner allows",
    "setback": "where the box shall be put, flush, by contract: what stands there today is stated",
    "needs_real_centre": "a wish", "centre": "a wish", "currency": "stands with an amount", "tax_included": "a wish",
}  # fmt: skip
"""Keys of a room that are none: what they are."""
