"""What must fit in a whole system: channels, loads, power, stands and mounts, cables, inputs. No money is in it.

What is owned is looked at like all else: it has to drive and bear what is bought.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from math import ceil, inf, isnan, nan
from typing import TYPE_CHECKING, Final, NamedTuple

from triptych.recommender.physics.wire import area_needed

if TYPE_CHECKING:
    from triptych.recommender.money.budget.budget_lines import Budget, BudgetLine
    from triptych.recommender.money.budget.rules import Rule, RuleSet

RATED_FOR: Final = 2.0
"""How much more than its load a stand or a mount is rated for. Common practice, as for shelves and walls."""

PASSIVE: Final = ("mains", "centre", "surrounds", "wides", "heights")
"""The roles whose loudspeakers need a channel each; a subwoofer has its own amplifier."""


class Fitting(Enum):
    """What a rule asks to fit."""

    CHANNELS = "channels"
    LOAD = "load"
    POWER = "power"
    BEARING = "bearing"
    CABLES = "cables"
    INPUTS = "inputs"


FITS_IN_WORDS: Final = {
    Fitting.CHANNELS: "there is a channel for each loudspeaker, and an output for the subwoofer",
    Fitting.LOAD: "no loudspeaker is a lower load than what drives it is rated for",
    Fitting.POWER: "what drives them gives each loudspeaker the least power that is advised for it",
    Fitting.BEARING: "stands and mounts are enough, hold the box, and are rated for twice its weight",
    Fitting.CABLES: "cables are enough, long enough, and take 5 % of the impedance at most",
    Fitting.INPUTS: "there is an input for each source",
}
"""What each asks, in words."""

ABOUT_FITS: Final = {
    Fitting.CHANNELS: "the channels",
    Fitting.LOAD: "the load",
    Fitting.POWER: "the power",
    Fitting.BEARING: "what bears them",
    Fitting.CABLES: "the cables",
    Fitting.INPUTS: "the inputs",
}
"""What each is about."""


@dataclass(frozen=True, slots=True)
class Asks:
    """What one loudspeaker asks of what drives and bears it; NaN where it is not stated. [ohm, W, kg, m].

    `load` is the highest one that an amplifier may be rated down to and still drive it, `minimum` its lowest impedance.
    """

    load: float = nan
    minimum: float = nan
    nominal: float = nan
    least_power: float = nan
    weight: float = nan
    width: float = nan
    depth: float = nan

    def load_in_words(self, several: bool) -> str:
        """The load that it is, or where it falls below 0.8 of its nominal one the one that it asks for."""
        if self.load == self.nominal or isnan(self.minimum):
            return f"{'are' if several else 'is'} a load of {self.load:.3g} ohm"
        s = "" if several else "s"
        asks = f"ask{s} for an amplifier rated for {self.load:.3g}, which may see 0.8 of that"
        return f"fall{s} to {self.minimum:.3g} ohm at the lowest and {asks}"

    @property
    def voltage_squared(self) -> float:
        """What the least power that is advised for it takes at its nominal impedance [V^2]."""
        return self.least_power * self.nominal


@dataclass(frozen=True, slots=True)
class Gives:
    """What one piece of equipment gives; NaN where it is not stated. [W, ohm, kg, m, mm2].

    `kind` is the word of the catalogue; `by_metre` says that a quantity of it counts metres.
    """

    kind: str
    channels: float = nan
    processed: float = nan
    outputs: float = nan
    sub_outputs: float = nan
    inputs: float = nan
    power: float = nan
    power_into: float = nan
    lowest_load: float = nan
    bears: float = nan
    width: float = nan
    depth: float = nan
    length: float = nan
    area: float = nan
    by_metre: bool = False

    @property
    def drives(self) -> bool:
        """Whether it drives loudspeakers."""
        return self.kind in ("receiver", "amplifier")

    @property
    def voltage_squared(self) -> float:
        """What one channel gives [V^2]."""
        return self.power * self.power_into

    @property
    def decodes(self) -> float:
        """For how many loudspeakers a receiver decodes."""
        return self.channels if isnan(self.processed) else self.processed

    def holds(self, asks: Asks) -> bool:
        """Whether a stand or a mount bears and takes a box; False where a weight is not stated."""
        fits = self.bears >= RATED_FOR * asks.weight
        return fits and not (asks.width > self.width or asks.depth > self.depth)

    def loses_little(self, run: float, nominal: float) -> bool:
        """Whether a cable so long takes little of a loudspeaker's impedance; True where either is not stated."""
        return isnan(nominal) or isnan(self.area) or self.area >= area_needed(run, nominal)


class Look(NamedTuple):
    """Whether something fits, the reason with its numbers, and what to buy so that it does.

    `times` is how often what is wanted is there; the one with the least is told of those that fit.
    """

    holds: bool
    why: str
    mend: str
    times: float = inf


@dataclass(frozen=True, slots=True)
class FitResult:
    """How a rule on what must fit stands, and each thing that would mend it; where nothing of it is stated is none."""

    rule: Rule
    holds: bool
    why: str
    mends: tuple[str, ...] = ()


def fits(budget: Budget, rule_set: RuleSet) -> tuple[FitResult, ...]:
    """Every rule of a set on what must fit that there is something to judge of, in its order."""
    found = []
    for rule in rule_set.rules:
        if rule.fitting is not None and (looked := list(_LOOKS[rule.fitting](budget.lines))):
            wrong = [one for one in looked if not one.holds]
            mends = tuple(dict.fromkeys(one.mend for one in wrong))
            told = wrong or [min(looked, key=lambda one: one.times)]
            found.append(FitResult(rule, not wrong, "; ".join(one.why for one in told), mends))
    return tuple(found)


Lines = Sequence["BudgetLine"]


def _driven(lines: Lines) -> list[BudgetLine]:
    return [line for line in lines if line.role in PASSIVE]


def _drivers(lines: Lines) -> list[tuple[BudgetLine, Gives]]:
    return [(line, line.gives) for line in lines if line.gives is not None and line.gives.drives]


def _serving(lines: Lines, role: str, kinds: tuple[str, ...]) -> list[tuple[BudgetLine, Gives]]:
    meant = [(line, line.gives) for line in lines if line.serves == role and line.gives is not None]
    return [(line, gives) for line, gives in meant if gives.kind in kinds]


def _channels(lines: Lines) -> Iterator[Look]:
    boxes = sum(line.pieces for line in _driven(lines))
    receivers = [(line, one) for line, one in _drivers(lines) if one.kind == "receiver"]
    beside = sum(one.channels * line.pieces for line, one in _drivers(lines) if one.kind == "amplifier")
    if len(receivers) > 1 or not boxes or not _drivers(lines) or isnan(beside):
        return
    line, one = receivers[0] if receivers else (None, Gives("receiver", channels=0, processed=boxes, outputs=boxes))
    label = line.label if line else "what drives them"
    if not isnan(one.channels):
        yield _enough(boxes, one, beside, label)
    if line and any(each.role == "sub" for each in lines) and not isnan(one.sub_outputs):
        told = f"{label} has {one.sub_outputs:.0f} for subwoofers"
        told = told if one.sub_outputs else f"{told}, and one is wanted"
        yield Look(one.sub_outputs >= 1, told, "a receiver with an output for the subwoofer")


def _enough(boxes: int, one: Gives, beside: float, label: str) -> Look:
    own = one.channels + beside
    another = f"a receiver of {boxes} channels"
    if one.decodes < boxes:
        told = f"{label} decodes for {one.decodes:.0f} loudspeakers, and there are {boxes}"
        return Look(False, told, f"a receiver that decodes for {boxes}")
    if own < boxes:
        told, more = f"{boxes} loudspeakers, and {label} and amplifiers drive {own:.0f}", boxes - own
        amplifiers = "" if one.outputs < boxes - one.channels else f", or amplifiers of {_channels_of(more)} more"
        return Look(False, told, another + amplifiers)
    more = boxes - one.channels
    if more > 0 and one.outputs < more:
        told = f"{label} has {one.outputs:.0f} outputs for amplifiers, and {more:.0f} are wanted"
        return Look(False, told, f"{another}, or one with {more:.0f} outputs for amplifiers")
    told = f"{label} drives {one.channels:.0f}" + (f", amplifiers {beside:.0f}" if beside else "")
    return Look(True, f"{told}; there are {boxes}", another)


def _channels_of(count: float) -> str:
    return f"{count:.0f} channel{'' if count == 1 else 's'}"


def _load(lines: Lines) -> Iterator[Look]:
    for line, asks in _asking(lines):
        for driver, one in _drivers(lines):
            if not isnan(asks.load) and not isnan(one.lowest_load):
                told = f"{line.label} {asks.load_in_words(line.pieces > 1)}; "
                told += f"{driver.label} is rated down to {one.lowest_load:.3g}"
                mend = (
                    f"an amplifier rated down to {asks.load:.3g} ohm, or {line.label} of {one.lowest_load:.3g} and more"
                )
                yield Look(asks.load >= one.lowest_load, told, mend, asks.load / one.lowest_load)


def _power(lines: Lines) -> Iterator[Look]:
    for line, asks in _asking(lines):
        for driver, one in _drivers(lines):
            if not isnan(asks.voltage_squared) and not isnan(one.voltage_squared):
                gives = one.voltage_squared / asks.nominal
                told = f"{driver.label} gives {gives:.0f} W into the {asks.nominal:.3g} ohm of {line.label}, for which "
                told += f"{asks.least_power:.0f} W are the least advised"
                mend = f"an amplifier of {asks.least_power:.0f} W into {asks.nominal:.3g} ohm"
                enough = one.voltage_squared >= asks.voltage_squared
                yield Look(enough, told, mend, one.voltage_squared / asks.voltage_squared)


def _asking(lines: Lines) -> list[tuple[BudgetLine, Asks]]:
    return [(line, line.asks) for line in _driven(lines) if line.asks is not None]


def _bearing(lines: Lines) -> Iterator[Look]:
    for role in (*PASSIVE, "sub"):
        borne = [line for line in lines if line.role == role]
        under = _serving(lines, role, ("stand", "mount"))
        if not under or not borne:
            continue
        boxes, there = sum(line.pieces for line in borne), sum(line.pieces for line, _ in under)
        more = "1 more stand or mount" if boxes - there == 1 else f"{boxes - there} more stands or mounts"
        told = f"{there} stands or mounts for the {role}, and there are {boxes}"
        yield Look(there >= boxes, told, f"{more} for the {role}")
        for line in borne:
            for below, one in under:
                if line.asks is not None and not isnan(line.asks.weight) and not isnan(one.bears):
                    yield _borne(line, line.asks, below, one)


def _borne(line: BudgetLine, asks: Asks, below: BudgetLine, one: Gives) -> Look:
    told = f"{below.label} may bear {one.bears:.3g} kg; {line.label}: {asks.weight:.3g} kg each, twice which is asked"
    instead = f"what bears {line.label} and may bear {RATED_FOR * asks.weight:.3g} kg"
    if one.holds(asks) or one.bears < RATED_FOR * asks.weight:
        return Look(one.holds(asks), told, instead)
    wide, deep = (f"{value * 1000:.0f}" for value in (asks.width, asks.depth))
    told = f"{line.label} is {wide} mm wide and {deep} mm deep, more than {below.label} holds"
    return Look(False, told, f"what bears {line.label} and holds a box {wide} mm wide and {deep} mm deep")


def _cables(lines: Lines) -> Iterator[Look]:
    for line in lines:
        there = _serving(lines, line.role, ("sub_cable",) if line.role == "sub" else ("speaker_cable",))
        if line.run is None or not there:
            continue
        metres = sum(each.pieces for each, one in there if one.by_metre)
        pieces = sum(each.pieces for each, one in there if not one.by_metre and one.length >= line.run)
        left = line.pieces - pieces
        told = f"{line.label}: {line.pieces} × {line.run:.3g} m of cable; {_there(there, metres, pieces)}"
        more = f"{ceil(left * line.run - metres)} m more of cable for the {line.role}"
        yield Look(left * line.run <= metres, told, f"{more}, or {left} of {line.run:.3g} m" if pieces else more)
        for each, one in there:
            if line.asks is not None and not one.loses_little(line.run, line.asks.nominal):
                told = f"{each.label} takes more than 5 % of the impedance of {line.label}"
                least = ceil(100 * area_needed(line.run, line.asks.nominal)) / 100
                yield Look(False, told, f"cable of {least:g} mm2 for the {line.role}")


def _there(cables: Sequence[tuple[BudgetLine, Gives]], metres: int, pieces: int) -> str:
    """What there is of cable, by the metre and in pieces; nothing is said of a way in which none is bought."""
    told = [f"{metres} m there"] if metres else []
    if any(not one.by_metre for _, one in cables):
        told.append(f"{pieces or 'none'} long enough")
    return ", and ".join(told)


def _inputs(lines: Lines) -> Iterator[Look]:
    sources = sum(line.pieces for line in lines if line.gives is not None and line.gives.kind == "source")
    for line, one in _drivers(lines):
        if one.kind == "receiver" and sources and not isnan(one.inputs):
            told = f"{line.label} has {one.inputs:.0f} inputs; there are {sources} sources"
            yield Look(one.inputs >= sources, told, f"a receiver with {sources} inputs")


_LOOKS: Final[Mapping[Fitting, Callable[[Lines], Iterator[Look]]]] = {
    Fitting.CHANNELS: _channels,
    Fitting.LOAD: _load,
    Fitting.POWER: _power,
    Fitting.BEARING: _bearing,
    Fitting.CABLES: _cables,
    Fitting.INPUTS: _inputs,
}
