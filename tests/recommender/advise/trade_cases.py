"""Reads the files of cases, `*_cases.toml`: what clients ask, with what a practitioner answers."""

from __future__ import annotations

import copy
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomli_w

from tests.recommender.advise.scenarios import record
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import LoudspeakerRecord, RoomRecord

HERE = Path(__file__).parent
FILES = tuple(
    tomllib.loads((HERE / f"{name}_cases.toml").read_text(encoding="utf-8"))
    for name in ("trade", "fresh", "clients", "corner")
)
DATA = FILES[0] | {
    "kin": {"maker": "Sorrel Tarn", "series": "Heath"},
    "strangers": ("Umber Lea", "Thorn Gill", "Teal Fen", "Sable Wold"),
    "distance": "3.0 m",
    "usual_place": "top",
}
PLACES = {name: place for one in FILES for name, place in one["place"].items()}

MIDDLE = {"name": "middle", "x": 0, "ear_height": "1.02 m", "primary": True}
SIDES = [["left", "-0.6 m"], ["right", "0.6 m"]]


@dataclass(frozen=True)
class TradeCase:
    """What is asked, and what must come of it: `first` is empty where nothing may be recommended."""

    name: str
    why: str
    aside: bool
    room: RoomRecord
    mains: LoudspeakerRecord
    centres: tuple[LoudspeakerRecord, ...]
    stock: dict[str, str]
    told: dict[str, Any]

    def full_name(self, model: str) -> str:
        """The whole name of a model of the case."""
        return next(one.name for one in (self.mains, *self.centres) if one.model == model.replace("MAINS", "Mains"))


def _seats(told: dict[str, Any], distance: str) -> list[dict[str, Any]]:
    """Who listens, and where: a middle and sides, or each told whole."""
    if "seats_of" not in told:
        sides = [{"name": name, "x": x, "ear_height": "1.02 m"} for name, x in told.get("seats", SIDES)]
        return [one | {"distance": distance} for one in (MIDDLE, *sides)]
    return [
        {"name": name, "x": x, "ear_height": "1.02 m", "primary": primary, "distance": [*behind, distance][0]}
        for name, x, primary, *behind in told["seats_of"]
    ]


def _room(told: dict[str, Any], own: dict[str, Any]) -> RoomRecord:
    """The client's room."""
    room: dict[str, Any] = copy.deepcopy(own["room"])
    if told.get("screen") == "woven":
        room["screen"] = DATA["woven"]
        room["mains"]["axis_height"] = "1 m"
    room["screen"] |= {key[7:]: told[key] for key in ("screen_bottom", "screen_diagonal") if key in told}
    for part, changed in told.get("room", {}).items():
        room[part] = changed if "width" in changed else room[part] | changed
    room["seat"] = told.get("seat") or _seats(told, told.get("distance", own["distance"]))
    room["place"] = [{"name": name, **PLACES[name]} for name in told.get("places", [own["usual_place"]])]
    room["amplifier"]["power"] = told.get("amplifier", room["amplifier"]["power"])
    room["listening"]["target_peak"] = told.get("target", room["listening"]["target_peak"])
    room["money"]["centre"] = told.get("money", room["money"]["centre"])
    if not room["money"]["centre"]:
        del room["money"]
    for part in told.get("without", ()):
        del room[part]
    for part, key in told.get("without_key", ()):
        del room[part][key]
    return room_from_toml(tomli_w.dumps(room), told["name"])


CONTROL = ("model", "base", "stranger", "stock")


def _centre(told: dict[str, Any], own: dict[str, Any]) -> LoudspeakerRecord:
    """One candidate."""
    stranger = "stranger" in told and {"maker": own["strangers"][told["stranger"] - 1], "series": "Ridge"}
    changed = {key: value for key, value in told.items() if key not in CONTROL}
    return record({**own["base"][told["base"]], **(stranger or own["kin"]), "model": told["model"], **changed})


def _case(told: dict[str, Any], own: dict[str, Any]) -> TradeCase:
    """One case of a file that may have a room and a catalogue of its own."""
    main = own["base"][told.get("mains", "tower")]
    mains = {**main, **own["kin"], "model": "Mains", **told.get("mains_changed", {})}
    stock = {one["model"]: one["stock"] for one in told["candidate"] if "stock" in one}
    return TradeCase(
        told["name"], told["why"], told.get("aside", False), _room(told, own), record(mains),
        tuple(_centre(one, own) for one in told["candidate"]), stock, told,
    )  # fmt: skip


TRADE_CASES = tuple(_case(told, DATA | one) for one in FILES for told in one["case"])
