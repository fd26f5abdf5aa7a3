"""Clients' cases with what a practitioner answers and why, written down before any of them was run.

Reasons are those of the trade: common practice, no source. `ASIDE` were looked at last, after everything was mended.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from tests.recommender.advise.scenarios import BAY, ROOM, STACKED, TOP, TOWER, WIDE, record
from triptych.catalog.records import LoudspeakerRecord

STRANGER = {"maker": "Birch Holm", "series": "Quartz"}

SEAT = "[[seat]]\nname = {name!r}\nx = {x!r}\ndistance = '3.0 m'\near_height = '1.02 m'\n"


def seats_at(*across: str, room: str = ROOM) -> str:
    """The plain room with its side seats elsewhere, or without any."""
    head, rest = room.split('[[seat]]\nname = "left end"', 1)
    tail = rest.split("[amplifier]", 1)[1]
    sides = "".join(SEAT.format(name=f"at {x}", x=x) for x in across)
    return head + sides + "[amplifier]" + tail


def stacked(model: str, **changed: str) -> LoudspeakerRecord:
    """A three-way centre with its tweeter over its midrange, of the mains' family."""
    return record(STACKED, model=model, **changed)


def wide(model: str, **changed: str) -> LoudspeakerRecord:
    """A lying two-way centre, of the mains' family."""
    return record(WIDE, model=model, **changed)


BOOKSHELF = {"layout": "TM", "orientation": "upright", "width": "180", "height": "330", "depth": "250",
             "axis_height": "260", "woofer_spacing": "", "woofer_count": "1", "woofer_size": "150"}  # fmt: skip
"""A two-way that is made to stand, and doesn't under a picture 300 mm over its shelf."""

CLOSE = {"woofer_size": "100", "woofer_spacing": "200", "crossover": "1.8 kHz", "width": "400"}

ONE_LISTENER = seats_at()

ABOVE = """
[[place]]
name = "above"
kind = "open_shelf"
width = "1.2 m"
height = "205 mm"
depth = "350 mm"
base = "1.75 m"
front = "350 mm"
load = "60 kg"
"""

LOW = """
[[place]]
name = "low"
kind = "open_shelf"
width = "1.2 m"
height = "230 mm"
depth = "400 mm"
base = "200 mm"
front = "450 mm"
load = "60 kg"
"""

WALL = """
[[place]]
name = "wall"
kind = "wall"
base = "560 mm"
wall = "plasterboard"
"""


@dataclass(frozen=True)
class Case:
    """What is asked, and what must come of it.

    `order` are the ranked, all of them; `out` and `waits` name the gate that rules a model out or waits for an answer;
    `on_condition` names a gate of a ranked one, `told` and `untold` kinds of advice, `where` places.
    """

    name: str
    why: str
    centres: tuple[LoudspeakerRecord, ...]
    order: tuple[str, ...]
    room: str = ROOM
    places: tuple[str, ...] = (TOP,)
    mains: Mapping[str, str] = field(default_factory=dict)
    out: Mapping[str, str] = field(default_factory=dict)
    waits: Mapping[str, str] = field(default_factory=dict)
    on_condition: Mapping[str, str] = field(default_factory=dict)
    told: tuple[str, ...] = ()
    untold: tuple[str, ...] = ()
    where: Mapping[str, str] = field(default_factory=dict)
    stock: Mapping[str, str] = field(default_factory=dict)


CASES = (
    Case(
        "the maker's bung in a closed bay",
        "a rear port into a closed cupboard booms; with the bung that comes with it the box may stand there",
        (stacked("A", port_location="rear", port_diameter="50", bung="yes"),
         stacked("C", port_location="rear", port_diameter="50", bung="no")),
        ("A",), places=(BAY,), out={"C": "port"}, on_condition={"A": "port"},
    ),
    Case(
        "a bay without a back takes a rear port",
        "180 mm of air to the wall are more than 100 mm or two diameters: the port is no reason against kin",
        (stacked("B", **STRANGER), stacked("A", port_location="rear", port_diameter="50")),
        ("A", "B"), places=(BAY.replace('back = "closed"', 'back = "open"'),),
    ),
    Case(
        "a rear port hard at the wall",
        "60 mm behind a port of 60 mm chokes it: the front-ported one, though it is no kin",
        (stacked("A", port_location="rear", port_diameter="60", bung="no"), stacked("B", **STRANGER)),
        ("B",), places=(TOP.replace('front = "450 mm"', 'front = "330 mm"'),), out={"A": "port"},
    ),
    Case(
        "a coaxial bookshelf on its side",
        "one source from every side: laid down it does what it did upright, so kin comes first",
        (stacked("B", **STRANGER), record(WIDE, model="A", **BOOKSHELF | {"layout": "(TM)", "axis_height": "200"})),
        ("A", "B"),
    ),
    Case(
        "mains toed in to cross before the listener",
        "how the mains are turned is the same for every centre: kin of the same build stays first",
        (stacked("B", **STRANGER), stacked("A")), ("A", "B"), room=ROOM.replace("toe_in = 12", "toe_in = 30"),
    ),
    Case(
        "a sofa of three and only a wide two-way",
        "the outer seats lose speech: say so and name one, but a phantom would be worse for them",
        (wide("A"),), ("A",), on_condition={"A": "seats"}, untold=("phantom",),
    ),
    Case(
        "one listener, and the only place is above the picture",
        "voices from 18 degrees up that nothing can tilt down: for one on the axis a phantom is the better answer",
        (stacked("A"),), ("A",), room=ONE_LISTENER, places=(ABOVE,), told=("phantom",),
    ),
    Case(
        "two on the axis and a good centre",
        "speech is clearer from a real centre, so nobody is sent home with a phantom",
        (stacked("A"),), ("A",), room=seats_at("-300 mm"), untold=("phantom",),
    ),
    Case(
        "a third small main under the picture",
        "three alike, standing as they were made to: better than the lying two-way of the family at wide seats",
        (wide("A"),), ("Tower", "A"), room=ROOM.replace("toe_in = 12", 'toe_in = 12\naxis_height = "900 mm"'),
        mains={**BOOKSHELF, "height": "270", "axis_height": "200", "feet": "0", "weight": "6 kg",
               "port_location": "front", "midrange_count": "", "midrange_size": "", "crossover": "2.4 kHz",
               "low_limit": "55"},
        told=("third_main",),
    ),
    Case(
        "four ohms on an amplifier that is rated for them",
        "load is the amplifier's matter and none of timbre: kin stays first",
        (stacked("B", **STRANGER), stacked("A", impedance_nominal="4", impedance_minimum="3.2")),
        ("A", "B"), room=ROOM.replace("lowest_load = 6", "lowest_load = 4"),
    ),
    Case(
        "on a low shelf the one that can look up",
        "of two alike the shallow one tilts to the ear and the tall one can't",
        (wide("B", woofer_size="115", height="205", depth="300"), wide("A", woofer_size="115", height="140",
                                                                       depth="200")),
        ("A", "B"), room=ONE_LISTENER, places=(LOW,),
    ),
    Case(
        "above a fire",
        "nobody puts a box there before somebody has measured how warm it gets",
        (stacked("A"), stacked("B", **STRANGER)), (), places=(TOP + "hot = true\n",),
        waits={"A": "hazard", "B": "hazard"}, told=("none",),
    ),
    Case(
        "a little more money for the one without silent seats",
        "the cap is the client's word, but 60 more buy speech at every seat: tell it",
        (stacked("A", price="760"), wide("B", **STRANGER)), ("B",), out={"A": "money"}, told=("raise_budget",),
    ),
    Case(
        "only what is on the shelf",
        "the client takes it home today: the stranger in stock, and kin is told as what could be ordered",
        (stacked("A"), stacked("B", **STRANGER)), ("B",), out={"A": "supply"}, stock={"A": "none", "B": "new"},
    ),
    Case(
        "a demonstration unit isn't new stock",
        "demonstration units are offered by name, never as new",
        (stacked("A"), stacked("B", **STRANGER)), ("B",), out={"A": "supply"}, stock={"A": "demo", "B": "new"},
    ),
    Case(
        "nine kilograms on plain plasterboard",
        "installers hang no more than 2.3 kg there: not this way, unless somebody finds a stud or a noggin behind it",
        (stacked("A"),), (), places=(WALL,), waits={"A": "hazard"},
    ),
)  # fmt: skip

ASIDE = (
    Case(
        "a two-way bookshelf laid on its side",
        "woofer beside tweeter: it loses the crossover at one end of the sofa, so the clean stranger",
        (record(WIDE, model="A", **BOOKSHELF), stacked("B", **STRANGER)), ("B", "A"),
    ),
    Case(
        "one listener who hears badly, and the only place is above the picture",
        "with hearing trouble a phantom is no answer, however high the centre is",
        (stacked("A"),), ("A",),
        room=ONE_LISTENER.replace("room_gain = 3", "room_gain = 3\nneeds_real_centre = true"), places=(ABOVE,),
        untold=("phantom",),
    ),
    Case(
        "eight ohms on paper, under four in truth",
        "the receiver is rated down to six, so no less than 4.8 may come: the stranger",
        (stacked("A", impedance_nominal="8", impedance_minimum="3.9"), stacked("B", **STRANGER)),
        ("B",), out={"A": "amplifier"},
    ),
    Case(
        "a hot top and a cool bay",
        "the bay is lower and closed, but a front port lives there: it goes there and nobody waits",
        (stacked("A", height="170"),), ("A",), places=(TOP + "hot = true\n", BAY), where={"A": "bay"},
    ),
    Case(
        "a net price over the cap with tax",
        "620 and a fifth are 744: over 700, whatever the list prints",
        (stacked("A", price="620", tax="excluded", tax_rate="20"), stacked("B", price="690", **STRANGER)),
        ("B",), out={"A": "money"},
    ),
    Case(
        "kin that dips a little before a horn from elsewhere",
        "two decibels at 15 degrees nobody notices, a horn beside domes everybody",
        (stacked("B", **STRANGER, tweeter_type="horn", tweeter_coverage="90 x 60"), wide("A", **CLOSE)),
        ("A", "B"), room=seats_at("-680 mm", "680 mm"),
    ),
    Case(
        "discontinued kin",
        "look for the matching one first, used or from a dealer's corner, before a stranger: on condition",
        (stacked("B", **STRANGER), stacked("A", status="discontinued")), ("A", "B"), on_condition={"A": "supply"},
    ),
    Case(
        "tall kin that hides nothing while it stands flat",
        "it clears the picture flat, and six degrees off the ear are well within ten: kin first",
        (stacked("B", **STRANGER), stacked("A", height="290")), ("A", "B"),
    ),
)  # fmt: skip
"""Not looked at while anything was mended."""

MAINS = TOWER
