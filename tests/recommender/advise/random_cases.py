"""Random centres, mains and rooms, each with one figure left out and with each of its plausible values.

The figures and their values are those of `plausible.py`, which names all there are, so a new one is tried by itself;
where a value only makes sense beside the size of a box it is worked out from that.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from typing import Any, Final

import numpy as np
import tomli_w

from tests.benchmarks.bench_calibration import MAINS, TWEETERS, Texts, centre, drivers, told
from tests.recommender.advise.plausible import ROOM, TOWER, Plausible
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import LoudspeakerRecord, RoomRecord
from triptych.catalog.stated_records import record_from_texts

ROOM_TEXT: Final = """
name = "Room"
[screen]
diagonal = "65 in"
aspect = "16:9"
bottom = "{bottom} mm"
[mains]
spacing = "{spacing} mm"
from_wall = "{from_wall} mm"
toe_in = {toe_in}
floor = "{floor}"
axis_height = "{axis} mm"
[[seat]]
name = "middle"
distance = "{distance} mm"
ear_height = "{ear} mm"
primary = true
[[seat]]
name = "side"
x = "{aside} mm"
distance = "{distance} mm"
ear_height = "{ear} mm"
[[place]]
name = "top"
kind = "top"
width = "1.6 m"
height = "{over} mm"
depth = "450 mm"
base = "{base} mm"
front = "450 mm"
load = "60 kg"
[[place]]
name = "bay"
kind = "cavity"
width = "{bay} mm"
height = "{opening} mm"
depth = "420 mm"
base = "{low} mm"
front = "450 mm"
back = "{back}"
load = "60 kg"
[amplifier]
power = {power}
into = 8
lowest_load = 6
trim_range = 12
[listening]
target_peak = {target}
room_gain = {gain}
[money]
centre = 900
currency = "EUR"
"""


def room_text(chance: np.random.Generator) -> str:
    """A sitting room with a bay and a top."""
    whole = {
        "bottom": (780, 1000), "spacing": (2000, 3200), "from_wall": (330, 900), "toe_in": (0, 25), "axis": (870, 950),
        "distance": (2600, 3800), "ear": (920, 1130), "aside": (200, 1300), "over": (240, 400), "base": (450, 600),
        "bay": (640, 1000), "opening": (186, 330), "low": (250, 450), "power": (60, 130), "target": (92, 99),
        "gain": (0, 5),
    }  # fmt: skip
    found: dict[str, object] = {name: int(chance.integers(*ends)) for name, ends in whole.items()}
    return ROOM_TEXT.format(**found, floor=chance.choice(["hard", "carpet"]), back=chance.choice(["open", "closed"]))


def a_centre(chance: np.random.Generator, whole: bool) -> Texts:
    """A lying centre, with all stated or with the holes of a datasheet."""
    box = centre(chance, str(chance.choice(TWEETERS))) | {"maker": "Maker", "series": "One", "tax_rate": "20"}
    return box if whole else told(chance, box)


def a_tower(chance: np.random.Generator) -> Texts:
    """A tower."""
    found = {
        **MAINS,
        "maker": "House",
        "series": "One",
        "tax_rate": "20",
        **drivers(chance, "TMWW", str(chance.choice(TWEETERS)), 200),
    }
    return found | {"sensitivity": f"{chance.uniform(85, 90):.1f}"}


def of_this_centre(box: Texts) -> dict[str, tuple[str, ...]]:
    """What some fields of a centre may be beside its others: frames that touch to the ends of the box, for one."""
    size, width, height = float(box["woofer_size"]), float(box["width"]), float(box["height"])
    nearest = 1.69 * size if box["layout"] == "MTM" else 1.1 * size + (270 if box["layout"] == "WMTMW" else 100)
    two_way = box["layout"] == "MTM"
    dome = "dome" in box["tweeter_type"]
    return {
        "width": tuple(f"{width * part:.0f}" for part in (0.9, 1.0, 1.15, 1.3)),
        "height": tuple(f"{1.1 * size + 20 + more:.0f}" for more in (0, 20, 40)),
        "axis_height": tuple(f"{height * part:.0f}" for part in (0.35, 0.5, 0.6, 0.7)),
        "woofer_spacing": tuple(f"{one:.0f}" for one in np.geomspace(nearest, width - 1.1 * size, 4)),
        "crossover": ("1.8 kHz", "2.4 kHz", "3 kHz") if two_way else ("300/2400", "400/2800", "500/3200"),
        "woofer_size": tuple(f"{size * part:.0f}" for part in (0.88, 1.0, 1.1)),
        "tweeter_size": ("19", "25", "28") if dome else (),
        "tweeter_coverage": (),
        "midrange_size": () if two_way else ("75", "90", "100"),
        "midrange_count": (),
        "impedance_nominal": ("6", "8") if float(box["impedance_minimum"] or 6.4) <= 6.4 else ("8",),
        "price": ("250", "400", "600", "890"),
        "price_per": ("each",),
        "series": (),
        "family": (),
    }


def of_this_tower(box: Texts) -> dict[str, tuple[str, ...]]:
    """The same of a tower; what stands beside its size is that of the table."""
    dome = "dome" in box["tweeter_type"]
    size = float(box["woofer_size"])
    return {
        "woofer_spacing": tuple(f"{size * part:.0f}" for part in (1.1, 1.2, 1.35)),
        "woofer_size": tuple(f"{size * part:.0f}" for part in (0.88, 1.0, 1.1)),
        "tweeter_size": ("19", "25", "28") if dome else (),
        "tweeter_coverage": (),
        "midrange_size": ("75", "90", "105"),
        "series": (),
        "family": (),
    }


def beside(field: str, table: Mapping[str, Plausible]) -> tuple[str, ...]:
    """What is blank too where a field is unknown or tried."""
    only = {"tweeter_type": ("tweeter_size",), "layout": ("woofer_count", "woofer_spacing", "midrange_count"),
            "enclosure": ("port_location", "port_diameter", "bung"), "low_limit": ("low_limit_drop",)}  # fmt: skip
    return only.get(field, ())


def variants(box: Texts, name: str, table: Mapping[str, Plausible]) -> Iterator[tuple[str, str, LoudspeakerRecord]]:
    """A loudspeaker with each field blank, and with each plausible value: field, value, record."""
    own = of_this_tower(box) if table is TOWER else of_this_centre(box)
    for field, plausible in table.items():
        blanks = dict.fromkeys(beside(field, table), "")
        for value in ("", *map(str, own.get(field, plausible.values))):
            texts = {**box, **blanks, **matching(field, value, box)}
            if not value:
                texts |= dict.fromkeys((field, *plausible.beside), "")
            made, _ = record_from_texts({**texts, "model": f"{name} {field} {value or 'blank'}"}, "test")
            if made is not None:
                yield field, value, made


def matching(field: str, value: str, box: Texts) -> Texts:
    """A value of a field with what only goes beside it."""
    if field == "layout" and value and value != box["layout"]:
        three = "W" in value
        return {"layout": value, "midrange_count": "", "midrange_size": "75" if three else "",
                "crossover": "400/2400" if three else "2400"}  # fmt: skip
    return {field: value}


Change = tuple[tuple[str, str, int], str, RoomRecord]


def rooms(text: str) -> Iterator[Change]:
    """A room with each figure left out, and with each plausible value: key, value, room."""
    for key, plausible in ROOM.items():
        for value in ("", *plausible.values):
            yield key, str(value), _changed(text, key, value)


def _changed(text: str, key: tuple[str, str, int], value: str | float) -> RoomRecord:
    room: dict[str, Any] = tomllib.loads(text)
    part, name, number = key
    there = room[part][number] if isinstance(room[part], list) else room[part]
    if value == "":
        there.pop(name)
    else:
        there[name] = value
    return room_from_toml(tomli_w.dumps(room), "test")
