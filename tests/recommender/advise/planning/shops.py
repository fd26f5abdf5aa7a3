"""Small catalogues and plans for tests of planning, in the words of the contract."""

from __future__ import annotations

import tomllib
from decimal import Decimal

from sqlalchemy import Engine

from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.writes import save_loudspeakers
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import LoudspeakerRecord, RoomRecord
from triptych.catalog.stated_records import record_from_texts
from triptych.recommender.advise.planning.plan import plan
from triptych.recommender.advise.planning.plan_answer import PlanAnswer
from triptych.recommender.advise.planning.wanted import Wanted, read_wanted
from triptych.recommender.advise.pricing import with_catalogue_prices
from triptych.recommender.money.budget.rules import DEFAULT, RuleSet

TOWER = {
    "maker": "Alder Croft", "series": "Flint", "model": "Tower", "roles": "main", "orientation": "upright",
    "width": "200", "height": "980", "depth": "300", "feet": "10", "weight": "18 kg", "enclosure": "ported",
    "port_location": "front", "port_diameter": "60", "sensitivity": "88", "impedance_nominal": "8",
    "impedance_minimum": "6.4", "low_limit": "45", "low_limit_drop": "3", "tweeter_type": "dome",
    "tweeter_size": "25", "axis_height": "900", "midrange_size": "100", "midrange_count": "1", "woofer_size": "150",
    "woofer_count": "2", "layout": "TMWW", "woofer_spacing": "170", "crossover": "400/2800", "price": "1200",
    "currency": "EUR", "price_per": "pair", "tax": "included", "sold_as": "pair", "status": "current",
}  # fmt: skip

CENTRE = {
    **TOWER, "model": "Wide", "roles": "centre", "orientation": "lying", "width": "480", "height": "165",
    "depth": "270", "feet": "5", "weight": "9 kg", "axis_height": "", "midrange_size": "", "midrange_count": "",
    "woofer_size": "130", "layout": "MTM", "woofer_spacing": "280", "crossover": "2400", "low_limit": "60",
    "price": "600", "price_per": "each", "sold_as": "single",
}  # fmt: skip

WALL = {
    **TOWER, "model": "Wall", "roles": "surround", "height": "280", "depth": "150", "axis_height": "200",
    "midrange_size": "", "midrange_count": "", "woofer_count": "1", "woofer_size": "130", "layout": "TM",
    "woofer_spacing": "", "crossover": "2600", "low_limit": "90", "price": "400", "enclosure": "sealed",
    "port_location": "none", "port_diameter": "",
}  # fmt: skip

BASS = {
    "maker": "Alder Croft", "series": "Flint", "model": "Bass", "roles": "sub", "orientation": "upright",
    "width": "350", "height": "380", "depth": "400", "weight": "18 kg", "enclosure": "sealed", "port_location": "none",
    "low_limit": "30", "low_limit_drop": "3", "woofer_size": "250", "woofer_count": "1", "price": "500",
    "currency": "EUR", "price_per": "each", "tax": "included", "sold_as": "single", "status": "current",
}  # fmt: skip

ROOM = """
name = "Plain room"
[screen]
diagonal = "65 in"
aspect = "16:9"
bottom = "820 mm"
[mains]
spacing = "2.6 m"
from_wall = "450 mm"
toe_in = 12
[[seat]]
name = "middle"
distance = "3.0 m"
ear_height = "1.02 m"
primary = true
[[seat]]
name = "left end"
x = "-1.0 m"
distance = "3.0 m"
ear_height = "1.02 m"
[[place]]
name = "top"
kind = "top"
width = "1.6 m"
depth = "450 mm"
base = "520 mm"
front = "450 mm"
load = "60 kg"
[[place]]
name = "bay"
kind = "cavity"
width = "600 mm"
height = "220 mm"
depth = "420 mm"
base = "300 mm"
front = "450 mm"
back = "closed"
load = "60 kg"
[amplifier]
power = 95
into = 8
lowest_load = 6
trim_range = 12
[listening]
target_peak = 95
room_gain = 3
"""

HEAD = 'currency = "EUR"\nlimit = {limit}\ntax_included = true\ntax_rate = 20\n'
ACCESSORIES = '[[line]]\nrole = "accessories"\nprice = 150\ntax_included = true\n'
WANT = "[want]\nmains = 2\ncentre = 1\nsurrounds = 2\nsub = 1\n"


def room(text: str = ROOM) -> RoomRecord:
    """The plain room."""
    return room_from_toml(text, "test")


def record(texts: dict[str, str], **changed: str) -> LoudspeakerRecord:
    """A loudspeaker from cells."""
    made, faults = record_from_texts({**texts, **changed}, "test")
    assert made is not None, faults
    return made


def stock_shop(engine: Engine, *records: LoudspeakerRecord) -> None:
    """Store some loudspeakers."""
    with writing(engine) as session:
        save_loudspeakers(session, records)


def wanted(engine: Engine, text: str) -> Wanted:
    """A plan's question from TOML."""
    with reading(engine) as session:
        return read_wanted(*with_catalogue_prices(session, tomllib.loads(text, parse_float=Decimal)))


def ask(
    engine: Engine,
    want: str = WANT,
    lines: str = ACCESSORIES,
    limit: float = 4000,
    place: RoomRecord | None = None,
    rules: RuleSet = DEFAULT,
    in_stock: bool = False,
    head: str = "",
    time_limit: float = 60.0,
) -> PlanAnswer:
    """The answer to a plan."""
    question = wanted(engine, HEAD.format(limit=limit) + head + want + lines)
    with reading(engine) as session:
        return plan(session, question, place, rules, in_stock, time_limit)[0]
