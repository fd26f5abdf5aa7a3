"""How often what is told as so-and-so likely is so, on synthetic truths. Run by hand: `... bench_calibration 400`.

A seed and the name of a criterion may follow, `... bench_calibration 400 1 timbre`: then that alone counts. The usual
holes leave little open of balance and surroundings: alone, prices and the tax in them, or how wide the furniture around
a bay is, are left out too.

Each case is a pair of mains and eight centres as they truly are, and what their datasheets say: sensitivities that
makers overstate, cones and crossovers in round numbers, figures left out. `match` is asked about the datasheets; the
truth is judged from the true figures, with responses that were voiced in a way no model sees. Nothing here looks at the
code that draws. What the truths are made of is common practice, no source, but for the overstated sensitivity, of which
a review magazine says that 3 dB are ordinary, and for responses within 4 dB, which ITU-R BS.1116 grants a monitor (from
memory).
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
from sqlalchemy.orm import Session

from triptych.catalog.database.engine import open_catalogue, reading, writing
from triptych.catalog.database.writes import save_loudspeakers
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.records import Floor, LoudspeakerRecord, Place, PlaceKind, RoomRecord
from triptych.catalog.stated_records import record_from_texts
from triptych.recommender.advise.advice import Standing
from triptych.recommender.advise.match import Question, ask
from triptych.recommender.advise.settle import certainty_of, intervals
from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS

AT_ONCE: Final = 40
"""So many cases share a catalogue."""

CENTRES: Final = 8

BINS: Final = (0.0, 0.35, 0.5, 0.65, 0.8, 0.87, 0.93, 0.98, 1.0001)
"""Between which told chances are put together; that of nine in ten is 0.87 to 0.93."""

BANDS: Final = 40
"""Bands of a voicing, as many as the ear has between 200 Hz and 8 kHz, nearly."""

Texts = dict[str, str]

ROOM: Final = """
name = "Room"
[screen]
diagonal = "65 in"
aspect = "16:9"
bottom = "{bottom} mm"
[mains]
spacing = "{spacing} mm"
from_wall = "450 mm"
toe_in = 12
[[seat]]
name = "middle"
distance = "{distance} mm"
ear_height = "1.02 m"
primary = true
[[seat]]
name = "side"
x = "{aside} mm"
distance = "{distance} mm"
ear_height = "1.02 m"
[[place]]
name = "{kind}"
kind = "{kind}"
width = "900 mm"
height = "{height} mm"
depth = "420 mm"
base = "450 mm"
front = "450 mm"
back = "open"
load = "60 kg"
[amplifier]
power = {power}
into = 8
lowest_load = 6
trim_range = 12
[listening]
target_peak = {target}
room_gain = 3
[money]
centre = 900
currency = "EUR"
"""

MAINS: Final = {
    "roles": "main", "orientation": "upright", "width": "200", "height": "980", "depth": "300", "feet": "10",
    "weight": "18 kg", "enclosure": "ported", "port_location": "front", "impedance_nominal": "8",
    "impedance_minimum": "6.4", "low_limit": "45", "low_limit_drop": "3", "axis_height": "900", "woofer_count": "2",
    "midrange_count": "1", "layout": "TMWW", "price": "1400", "currency": "EUR", "price_per": "pair",
    "tax": "included", "sold_as": "either", "status": "current",
}  # fmt: skip

CENTRE: Final = {
    "roles": "centre", "orientation": "lying", "height": "170", "depth": "270", "weight": "10 kg",
    "enclosure": "ported", "port_location": "front", "low_limit_drop": "3", "impedance_nominal": "8",
    "currency": "EUR", "price_per": "each", "tax": "included", "sold_as": "single", "status": "current",
}  # fmt: skip

LAYOUTS: Final = ("MTM", "W(T/M)W", "W(TM)W", "WMTMW", "MTM")
TWEETERS: Final = ("dome", "dome", "dome", "waveguide_dome", "folded_ribbon")


@dataclass(frozen=True)
class Case:
    """What is true and what is told, of the room all but its floor; the voicing of mains and centres in bands [dB]."""

    room: RoomRecord
    true_room: RoomRecord
    mains: tuple[Texts, Texts]
    centres: list[tuple[Texts, Texts]]
    voicing: list[np.ndarray]


def smooth(chance: np.random.Generator, rms: float) -> np.ndarray:
    """A response about its mean, even over about three bands, of a given rms [dB]."""
    rough = np.convolve(chance.standard_normal(BANDS + 8), np.hanning(9), "valid")[:BANDS]
    rough -= rough.mean()
    return np.asarray(rough * rms / np.sqrt(np.mean(np.square(rough))))


def case(chance: np.random.Generator, number: int) -> Case:
    """One case."""
    house = f"House {number}"
    room = room_from_toml(
        ROOM.format(
            bottom=int(chance.integers(780, 1000)), spacing=int(chance.integers(2000, 3000)),
            distance=int(chance.integers(2600, 3800)), aside=int(chance.integers(200, 1300)),
            kind=chance.choice(["top", "cavity"]), height=int(chance.integers(186, 330)),
            power=int(chance.integers(60, 130)), target=int(chance.integers(92, 99)),
        ),
        "bench",
    )  # fmt: skip
    tweeter = str(chance.choice(TWEETERS))
    mains = {**MAINS, "maker": house, "series": "One", "model": "Tower", **drivers(chance, "TMWW", tweeter, 200)}
    mains["sensitivity"] = f"{chance.uniform(85, 90):.1f}"
    of_house, of_series = smooth(chance, 0.7), smooth(chance, 0.5)
    voicings = [of_house + of_series + smooth(chance, 0.4)]
    centres = []
    for rank in range(CENTRES):
        kin = int(chance.choice([0, 1, 2, 2, 2]))
        maker, series = (house, "One") if kin == 0 else (house, "Two") if kin == 1 else (f"{house} {rank}", "Other")
        true = centre(chance, tweeter if kin < 2 else str(chance.choice(TWEETERS)))
        true |= {"maker": maker, "series": series, "model": f"Centre {rank}"}
        voice = smooth(chance, float(chance.uniform(0.5, 1.4)))
        if kin < 2:
            voice = of_house + (of_series if kin == 0 else smooth(chance, 0.5)) + smooth(chance, 0.4)
        voicings.append(voice)
        centres.append((true, told(chance, true)))
    floor = Floor(chance.choice([one.value for one in Floor]))
    true_room = replace(room, mains=replace(room.mains, floor=floor))
    return Case(room, true_room, (mains, told(chance, mains, centre=False)), centres, voicings)


def drivers(chance: np.random.Generator, layout: str, tweeter: str, side: float) -> Texts:
    """True drivers of a layout on a front whose narrower side is given [mm]."""
    woofer = float(chance.uniform(0.62, 0.78)) * side
    three_way = "W" in layout
    low, high = chance.uniform(300, 500), chance.uniform(1900, 2900)
    size = "60" if tweeter == "folded_ribbon" else f"{chance.choice([19, 25, 28])}"
    found = {"layout": layout, "tweeter_type": tweeter, "tweeter_size": size, "woofer_size": f"{woofer:.1f}",
             "woofer_count": "2", "crossover": f"{low:.0f}/{high:.0f}" if three_way else f"{high:.0f}",
             "crossover_order": str(chance.choice([2, 3, 4, 4]))}  # fmt: skip
    if three_way:
        middles = 2 if layout == "WMTMW" else 1
        found |= {"midrange_size": f"{chance.uniform(70, 105):.1f}", "midrange_count": str(middles)}
    return found


def centre(chance: np.random.Generator, tweeter: str) -> Texts:
    """A true centre."""
    layout = str(chance.choice(LAYOUTS))
    width = float(chance.uniform(640, 760) if layout == "WMTMW" else chance.uniform(440, 600))
    found = {**CENTRE, **drivers(chance, layout, tweeter, 170.0), "width": f"{width:.0f}"}
    woofer = float(found["woofer_size"])
    span = chance.uniform(woofer * 1.1 + 95 if layout == "MTM" else width * 0.55, width - woofer * 1.1 - 20)
    return found | {
        "woofer_spacing": f"{max(span, woofer * 1.9):.0f}",
        "sensitivity": f"{chance.uniform(83, 90):.1f}",
        "impedance_minimum": f"{chance.triangular(5.2, 6.8, 8.0):.1f}",
        "low_limit": f"{chance.uniform(48, 105):.0f}",
        "feet": f"{chance.choice([0.0, 0.0, chance.uniform(6, 15)]):.0f}",
        "price": f"{chance.uniform(250, 880):.0f}",
    }


def told(chance: np.random.Generator, true: Texts, centre: bool = True) -> Texts:
    """What the datasheet says: overstated, in round numbers, with holes."""
    found = dict(true)
    found["sensitivity"] = f"{float(true['sensitivity']) + chance.triangular(0.0, 0.5, 3.5):.0f}"
    found["woofer_size"] = f"{float(true['woofer_size']) * chance.uniform(0.96, 1.04):.0f}"
    found["crossover"] = "/".join(
        f"{round(float(part) * chance.uniform(0.92, 1.08), -2 if float(part) > 1000 else -1):.0f}"
        for part in true["crossover"].split("/")
    )
    if centre:
        found["low_limit"] = f"{float(true['low_limit']) * chance.uniform(0.85, 1.0):.0f}"
    for name, holes in HOLES.items():
        if chance.random() < holes:
            found[name] = ""
    return found


HOLES: Final = {
    "crossover_order": 0.7, "woofer_spacing": 0.6, "feet": 0.5, "impedance_minimum": 0.4, "crossover": 0.1,
    "tweeter_size": 0.1, "midrange_size": 0.1,
}  # fmt: skip
"""How often a datasheet leaves a figure out."""

OF_DRIVERS: Final = ("crossover_order", "woofer_spacing", "crossover", "tweeter_size", "midrange_size")
"""Those of them that the model of a response needs."""


MORE_HOLES: Final = {
    "balance": {"price": (0.3, ("price", "currency", "price_per", "tax")), "tax": (0.4, ("tax",))}, "surroundings": {},
}  # fmt: skip
"""What is left out too where one criterion alone has weight: how often, and which fields."""


def opened(chance: np.random.Generator, one: Case, alone: str) -> Case:
    """A case in which more is left open of one criterion: prices and tax, or the furniture around a bay."""
    centres = []
    for true, said in one.centres:
        taxed = {"tax": str(chance.choice(["included", "excluded"])), "tax_rate": "20"} if alone == "balance" else {}
        here, there = true | taxed, said | taxed
        for often, names in MORE_HOLES[alone].values():
            if chance.random() < often:
                there |= dict.fromkeys(names, "")
        centres.append((here, there))
    if alone != "surroundings":
        return replace(one, centres=centres)
    bay = one.true_room.places[0]
    base, width = (bay.base or 0.0) + (bay.height or 0.0) + 0.02, float(chance.uniform(0.9, 2.2))
    wide = Place("furniture", PlaceKind.TOP, width=width, base=base, front=bay.front, depth=bay.depth)
    return replace(one, true_room=replace(one.true_room, places=(*one.true_room.places, wide)), centres=centres)


def stored(texts: Texts, ending: str) -> LoudspeakerRecord:
    """A record of its own name."""
    made, faults = record_from_texts({**texts, "model": f"{texts['model']} {ending}"}, "bench")
    assert made is not None, (faults, texts)
    return made


def true_scores(standings: list[Standing], case: Case, weights: dict[str, float]) -> np.ndarray:
    """What each is truly worth, from the true figures and voicings; nothing where a gate rules it out."""
    found = []
    for rank, entry in enumerate(standings):
        parts = {one.criterion: one for one in entry.criteria}
        responses = [parts["timbre"].inputs[name] or 0.0 for name in ("direct", "power")]
        unlike = case.voicing[rank + 1] - case.voicing[0]
        values = {name: one.value for name, one in parts.items()}
        values["timbre"] = float(np.sqrt(np.mean(np.square(responses)) + np.mean(np.square(unlike - unlike.mean()))))
        seats = next(gate for gate in entry.gates if gate.gate == "seats")
        lost = 200.0 * (seats.margin is not None and seats.margin < -2.0)
        score = 100 * np.exp(sum(weights[name] * np.log(worth(name, value)) for name, value in values.items()))
        found.append(np.nan if entry.verdict == "fail" else score - lost)
    return np.array(found)


SCALES: Final = {"timbre": (0.5, 5.0), "coverage": (0.0, 8.0), "headroom": (6.0, 0.0), "aim": (0.0, 20.0),
                 "surroundings": (0.0, 8.0), "balance": (1.0, 2.0), "reach": (80.0, 150.0)}  # fmt: skip


def worth(name: str, value: float) -> float:
    """A utility, as the README says it."""
    best, worst = SCALES[name]
    along = (value - worst) / (best - worst)
    beyond = 1.0 if name == "balance" else np.exp(5.0 * min(along, 0.0))
    return float(max(min(max(along, 0.02), 1.0) * beyond, 1e-4))


@dataclass
class Told:
    """Chances and intervals that were told, and whether they were right."""

    chances: list[tuple[float, bool]]
    leaders: list[tuple[float, bool]]
    held: list[bool]
    widths: list[float]
    left_out: list[int]


def asked(session: Session, case: Case, found: Told, weights: Mapping[str, float] | None) -> None:
    """Ask about one case, and look at the truth."""
    names = [stored(texts, "told").name for _, texts in case.centres]
    truths = [stored(texts, "true").name for texts, _ in case.centres]
    mains = [stored(texts, ending).name for texts, ending in zip(case.mains, ("true", "told"), strict=True)]
    account = ask(session, Question(mains[1], case.room, weights=weights), names)
    sure = certainty_of(account.scene, account.found, account.result)
    if sure.places is None:
        return
    true = ask(session, Question(mains[0], case.true_room, weights=weights), truths)
    stood = true.stood(list(range(CENTRES)), [0] * CENTRES)
    scores = true_scores(stood, case, dict(account.scene.weights))
    leading = sure.leading
    worths = np.where(np.isnan(scores[leading]), -np.inf, scores[leading])
    first = leading[int(np.argmax(worths))] if np.isfinite(worths).any() else -1
    for rank, candidate in enumerate(leading.tolist()):
        entry = (float(sure.places.first[rank]), bool(candidate == first))
        found.chances.append(entry)
        if rank == 0:
            found.leaders.append(entry)
    for candidate in leading.tolist():
        option = account.found[account.result.best[candidate]]
        low, high = (
            float(end[0]) for end in intervals(account.scene, option, np.searchsorted(option.index, [candidate]))
        )
        if np.isfinite(scores[candidate]):
            score = scores[candidate] + (200.0 if scores[candidate] < 0 else 0.0)
            # as they are told, to a tenth: nothing and a hundredth are the same score
            found.held.append(bool(round(low, 1) <= round(score, 1) <= round(high, 1)))
            found.widths.append(high - low)
            found.left_out.append(sum(case.centres[candidate][1].get(name) == "" for name in OF_DRIVERS))


def run(cases: int, seed: int, alone: str = "") -> Told:
    """All cases; one criterion `alone` may have all the weight."""
    weights = {name: float(name == alone) for name in DEFAULT_WEIGHTS} if alone else None
    chance, found = np.random.default_rng(seed), Told([], [], [], [], [])
    for start in range(0, cases, AT_ONCE):
        batch = [case(chance, start + number) for number in range(min(AT_ONCE, cases - start))]
        if alone in MORE_HOLES:
            batch = [opened(chance, one, alone) for one in batch]
        with tempfile.TemporaryDirectory() as folder:
            engine = open_catalogue(str(Path(folder) / "catalogue.db"))
            with writing(engine) as session:
                save_loudspeakers(session, list(records(batch)))
            with reading(engine) as session:
                for one in batch:
                    asked(session, one, found, weights)
            engine.dispose()
    return found


def records(batch: list[Case]) -> Iterator[LoudspeakerRecord]:
    """Everything true and told of some cases."""
    for one in batch:
        for true, said in (one.mains, *one.centres):
            yield stored(true, "true")
            yield stored(said, "told")


def printed(title: str, told_ones: list[tuple[float, bool]]) -> None:
    """A line a bin: what was told, how often it was so."""
    print(title)
    chances, right = np.array([one for one, _ in told_ones]), np.array([so for _, so in told_ones])
    for low, high in pairwise(BINS):
        inside = (chances >= low) & (chances < high)
        if inside.any():
            count = int(inside.sum())
            share = right[inside].mean()
            off = np.sqrt(share * (1 - share) / count)
            print(f"  told {low:.2f} to {min(high, 1.0):.2f}, {chances[inside].mean():.2f} in the mean: right "
                  f"{share:.2f} of the time (± {off:.2f}, {count} times)")  # fmt: skip


def main() -> None:
    """Print how often what was told was so."""
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    found = run(cases, int(sys.argv[2]) if len(sys.argv) > 2 else 1, *sys.argv[3:4])
    printed("that the first of a ranking is truly first", found.leaders)
    printed("that a centre is truly first", found.chances)
    print(f"the true score lies in the told interval {np.mean(found.held):.2f} of the time ({len(found.held)} times)")
    left, held, widths = (np.array(part) for part in (found.left_out, found.held, found.widths))
    for count in range(4):
        some = left == count
        if some.any():
            print(f"  where {count} figures of its drivers are left out: {held[some].mean():.2f} of {some.sum()}, "
                  f"{np.median(widths[some]):.0f} points wide in the median")  # fmt: skip
    print(f"it is {np.median(found.widths):.0f} points wide in the median, {np.mean(found.widths):.0f} in the mean")


if __name__ == "__main__":
    main()
