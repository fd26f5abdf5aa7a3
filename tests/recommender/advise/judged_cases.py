"""Reads `judged_cases.toml`, and says where an answer differs from what a practitioner judged before any was given."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomli_w

from tests.recommender.advise.scenarios import record
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import LoudspeakerRecord, RoomRecord
from triptych.recommender.advise.advice import Advice
from triptych.recommender.report.reasons import as_good

DATA = tomllib.loads(Path(__file__).with_name("judged_cases.toml").read_text(encoding="utf-8"))

SEAT = ("name", "x", "distance", "ear_height", "primary", "regular")


@dataclass(frozen=True)
class JudgedCase:
    """One case; `otherwise` has the faults in which the answer is argued for, each with the reason."""

    told: dict[str, Any]
    room: RoomRecord
    offered: tuple[LoudspeakerRecord, ...]

    @property
    def otherwise(self) -> dict[str, str]:
        return dict(self.told.get("otherwise", {}))


def _room(told: Mapping[str, Any]) -> RoomRecord:
    room: dict[str, Any] = {"name": "Room"}
    for part, usual in DATA["room"].items():
        differs = told["differs"].get(part, {})
        if differs is not False:
            without = differs.get("without", ())
            own = {key: value for key, value in differs.items() if key != "without"}
            room[part] = {key: value for key, value in usual.items() if key not in without} | own
    seats = [dict(zip(SEAT, seat, strict=False)) for seat in told["seats"]]
    room["seat"] = [{key: value for key, value in seat.items() if value != ""} for seat in seats]
    room["place"] = told["places"]
    return room_from_toml(tomli_w.dumps(room), told["name"])


def _offered(told: Mapping[str, Any]) -> LoudspeakerRecord:
    own = {key: value for key, value in told.items() if key != "base"}
    return record({**DATA["base"][told["base"]], **own})


CASES = tuple(JudgedCase(told, _room(told), tuple(map(_offered, told["offered"]))) for told in DATA["case"])
"""All judged cases."""


def _gate_is(gates: set[str], wanted: str) -> bool:
    return bool(gates & set(wanted.split("|"))) or not wanted


def faults(told: Mapping[str, Any], answer: Advice) -> Iterator[str]:
    """Where an answer differs from what was judged: who is first, out, waits, may not lead, and what must be said."""
    ranked = [entry.speaker for entry in answer.ranked]
    waits = {one.speaker: {one.gate} for one in answer.pending}
    out = {one.speaker: {reason.gate for reason in one.reasons} for one in answer.excluded}
    best = [*ranked[:1], *(one.speaker for one in as_good(answer))]
    if told.get("none_ranked") or not told.get("first", [""]):
        yield from (f"{name} is ranked" for name in ranked)
    elif told.get("first") and not any(_named(name, told["first"]) for name in best):
        yield f"first is {ranked[:1]}"
    wanted = dict.fromkeys(told.get("excluded", ()), "") | told.get("out", {})
    yield from (f"{name} isn't out" for name, gate in wanted.items() if not _gate_is(_of(out, name) or {"-"}, gate))
    asked = told.get("pending", {})
    asked = told.get("pend", {}) | (dict.fromkeys(asked, "") if isinstance(asked, list) else asked)
    yield from (f"{name} doesn't wait" for name, gate in asked.items() if not _gate_is(_of(waits, name) or {"-"}, gate))
    yield from (
        f"{name} is ranked" for name in told.get("pend_or_excl", ()) if any(_named(one, [name]) for one in ranked)
    )
    yield from (f"{name} waits" for name in told.get("not_pending", ()) if _of(waits, name))
    yield from (
        f"{name} is first" for name in told.get("not_first", ()) if any(_named(one, [name]) for one in ranked[:1])
    )
    leader = next((rank for rank, name in enumerate(ranked) if _named(name, told.get("first", ()))), len(ranked))
    above = [name for name in ranked[:leader] if _named(name, told.get("below", ()))]
    yield from (f"{name} is above the first" for name in above)
    for better, worse in told.get("above", ()):
        places = [next((k for k, name in enumerate(ranked) if _named(name, [one])), None) for one in (better, worse)]
        if places[0] is not None and places[1] is not None and places[0] > places[1]:
            yield f"{worse} is above {better}"
    yield from _unsaid(told, answer)


def _unsaid(told: Mapping[str, Any], answer: Advice) -> Iterator[str]:
    kinds = {one.kind for one in answer.advice}
    yield from (f"no advice {one}" for one in told.get("advice", ()) if not _gate_is(kinds, one))
    if told.get("advice_any") and not kinds & set(told["advice_any"]):
        yield f"no advice {told['advice_any']}"
    wrong = {*told.get("noadvice", ()), *told.get("not_advice", ())}
    yield from (f"advice {one}" for one in sorted(kinds & wrong))
    places = told.get("place") or {}
    if isinstance(places, str) and answer.ranked and answer.ranked[0].place != places:
        yield f"the first stands at {answer.ranked[0].place}"
    for entry in answer.ranked:
        conditional = {gate.gate for gate in entry.gates if gate.verdict == "conditional"}
        if isinstance(places, dict) and any(
            _named(entry.speaker, [name]) and entry.place != at for name, at in places.items()
        ):
            yield f"{entry.speaker} stands at {entry.place}"
        if _named(entry.speaker, told.get("seats_warned", ())) and "seats" not in conditional:
            yield f"{entry.speaker}: no word of its seats"
        if _named(entry.speaker, told.get("word_disc", ())) and "supply" not in conditional:
            yield f"{entry.speaker}: no word that it is discontinued"
    first = answer.ranked[0] if answer.ranked else None
    if first and first.confidence > told.get("confidence_max", 1.0):
        yield f"evidence of {first.confidence}"
    peak = first.quantities["peak_level_db"] if first else None
    if "first_level" in told and (peak is None or abs(peak - told["first_level"]) > 1.0):
        yield f"{peak} dB at the farthest seat"


def _named(name: str, parts: Any) -> bool:
    return any(part in name for part in parts)


def _of(told: Mapping[str, set[str]], part: str) -> set[str]:
    """What is told of those whose name contains a part."""
    return set[str]().union(*(gates for name, gates in told.items() if part in name))
