"""Can the amplifier drive it, loud enough and in step with the mains? Amplifier, level, trim."""

from __future__ import annotations

from typing import Final

import numpy as np

from triptych.recommender.judge.criteria.value import OVERSTATED
from triptych.recommender.judge.gates.fit import SLACK
from triptych.recommender.judge.verdicts import Case, GateVerdicts, Verdict, judge, triangular_chance
from triptych.recommender.scene.arrays import Boxes, Drive, SensitivityCode
from triptych.recommender.scene.levels import MINIMUM_TO_NOMINAL, Peaks, Trims, impedance, under_load

TRIM_TO_WARN: Final = 6.0
"""A trim beyond this hides something [dB]. Common practice, no source."""

ROUNDED: Final = 0.05
"""Less than that is told as nothing [dB]."""

TRIM_RANGE: Final = 10.0
"""The trim that a processor has at least where its range isn't stated [dB]. Common practice: 10 or 12."""


def amplifier(boxes: Boxes, drive: Drive) -> GateVerdicts:
    """Nominal impedance against the amplifier's lowest load, minimum against 0.8 of it; the margin is the nominal's."""
    nominal, minimum, lowest = boxes.impedance_nominal, boxes.impedance_minimum, drive.lowest_load
    floor = MINIMUM_TO_NOMINAL * lowest
    no_nominal, no_minimum = np.isnan(nominal), np.isnan(minimum)
    unrated = bool(np.isnan(lowest))
    mild = (nominal >= drive.into - SLACK) & (minimum >= MINIMUM_TO_NOMINAL * drive.into - SLACK)
    return judge(
        "amplifier", "ohm", np.where(no_nominal, minimum - floor, nominal - lowest),
        [
            (unrated & mild, Case(Verdict.PASS, "{nominal:.0f} ohm, {minimum:.1f} ohm at least: no lower than the load "
                                                "at which the amplifier's power is rated")),
            (unrated & no_nominal & no_minimum,
             Case(Verdict.CONDITIONAL, "neither its impedance nor the amplifier's lowest load is known: look in both "
                                       "manuals before you connect it", ASK_LOAD, "heavy", shared=True)),
            (unrated, Case(Verdict.CONDITIONAL, "the lowest load the amplifier is rated for isn't known: look in its "
                                                "manual before you connect what may fall to {falls:.1f} ohm",
                           ASK_LOAD, "heavy", shared=True)),
            (no_nominal & no_minimum,
             Case(Verdict.UNKNOWN, "no impedance is stated",
                  "What is its nominal impedance, and how low does it fall?")),
            (nominal < lowest - SLACK,
             Case(Verdict.FAIL, "{nominal:.1f} ohm nominal on an amplifier rated down to {lowest:.1f} ohm")),
            (minimum < floor - SLACK,
             Case(Verdict.FAIL, "falls to {minimum:.1f} ohm; {floor:.1f} ohm is the least for an amplifier rated down "
                                "to {lowest:.1f} ohm")),
            (no_minimum,
             Case(Verdict.CONDITIONAL, "{nominal:.1f} ohm nominal; its minimum isn't stated: taken as 0.8 of that",
                  "How low does its impedance fall?", "lower")),
            (no_nominal, Case(Verdict.CONDITIONAL, "no nominal impedance stated; falls to {minimum:.1f} ohm")),
            (minimum < lowest - SLACK,
             Case(Verdict.PASS, "{nominal:.1f} ohm nominal, {minimum:.1f} ohm minimum; an amplifier rated down to "
                                "{lowest:.1f} ohm may see {floor:.1f}")),
            (True, Case(Verdict.PASS, "{nominal:.1f} ohm nominal, {minimum:.1f} ohm minimum; rated down to "
                                      "{lowest:.1f} ohm")),
        ],
        nominal=np.where(no_nominal, minimum / MINIMUM_TO_NOMINAL, nominal),
        minimum=minimum, floor=floor, lowest=lowest,
        falls=np.where(no_minimum, MINIMUM_TO_NOMINAL * nominal, minimum),
        lower=triangular_chance(floor / nominal, *PLAUSIBLE_MINIMUM),
        heavy=np.interp(np.where(no_nominal, minimum / MINIMUM_TO_NOMINAL, nominal), *HEAVY_LOADS, left=1.0),
    )  # fmt: skip


ASK_LOAD: Final = "What is the lowest load that the amplifier's manual allows?"

PLAUSIBLE_MINIMUM: Final = (0.65, 0.85, 1.0)
"""The lowest impedance over the nominal one where it isn't stated: low, likely, high [1]. Common practice: 0.8 is the
convention, and some makers go below it."""

HEAVY_LOADS: Final = (np.array([3.0, 4.0, 6.0, 8.0]), np.array([0.8, 0.4, 0.1, 0.0]))
"""Nominal loads [ohm] and how often an amplifier isn't rated for them [1]. Common practice, no source."""


def level(boxes: Boxes, drive: Drive, peaks: Peaks) -> GateVerdicts:
    """The peak at the farthest regular seat against the target; the margin is what is over [dB]."""
    low, likely, high = (peak - drive.target_peak for peak in (peaks.low, peaks.likely, peaks.high))
    gainless = bool(np.isnan(drive.room_gain))
    untold = drive.untold
    return judge(
        "level", "dB", likely,
        [
            (bool(untold), Case(Verdict.CONDITIONAL, f"not given: {', '.join(untold)}; so loudness isn't judged",
                                f"What is {' and '.join(untold)}?", shared=True)),
            ((high < -SLACK) & (high > likely + ROUNDED),
             Case(Verdict.FAIL, "{under:.1f} dB short of {target:g} dB at the farthest seat, {short:.1f} dB at best")),
            (high < -SLACK, Case(Verdict.FAIL, "{short:.1f} dB short of {target:g} dB at the farthest seat")),
            ((under_load(boxes, drive) >= ROUNDED) & (low < -SLACK) & ~np.isnan(boxes.sensitivity),
             Case(Verdict.UNKNOWN, "{low:+z.1f} to {high:+z.1f} dB against the target, by what the amplifier gives "
                                   "into {load:.0f} ohm", ASK_LOAD, shared=True)),
            (np.isnan(boxes.sensitivity) & ~(low >= 0),
             Case(Verdict.UNKNOWN, "its sensitivity isn't stated",
                  "What is its sensitivity for 2.83 V at 1 m, anechoic?")),
            ((low < -SLACK) & (low >= likely - SLACK) & gainless,
             Case(Verdict.CONDITIONAL, "{under:.1f} dB short of {target:g} dB at the farthest seat if the room adds "
                                       "nothing; what it adds isn't given")),
            ((low < -SLACK) & (high >= -SLACK) & (boxes.basis != SensitivityCode.UNKNOWN),
             Case(Verdict.UNKNOWN, "{low:+z.1f} to {high:+z.1f} dB against the target: its sensitivity isn't anechoic",
                  "What is its anechoic sensitivity for 2.83 V at 1 m?")),
            ((low < -SLACK) & (high >= -SLACK),
             Case(Verdict.UNKNOWN, "{low:+z.1f} to {high:+z.1f} dB against the target, "
                                   "by how its sensitivity was stated",
                  "Is its sensitivity anechoic, in half space or in a room, and for 2.83 V?")),
            (np.isnan(boxes.sensitivity),
             Case(Verdict.PASS, "its sensitivity isn't stated; {low:.1f} to {high:.1f} dB over {target:g} dB at the "
                                "farthest seat, whatever it plausibly is")),
            (low < OVERSTATED,
             Case(Verdict.PASS, "{margin:.1f} dB over {target:g} dB at the farthest seat; a sensitivity is often "
                                "overstated by up to {claim:.0f} dB, and then {less:.1f} dB may be missing")),
            (True, Case(Verdict.PASS, "{margin:.1f} dB over {target:g} dB at the farthest seat")),
        ],
        less=OVERSTATED - low, claim=OVERSTATED, short=-high, under=-likely, low=low, high=high,
        target=drive.target_peak, load=impedance(boxes, drive),
    )  # fmt: skip


def trim(drive: Drive, trims: Trims) -> GateVerdicts:
    """The level trim that matches centre and mains against the processor's range; the margin is what is left [dB].

    Mains x centres.
    """
    assumed = bool(np.isnan(drive.trim_range))
    limit = TRIM_RANGE if assumed else drive.trim_range
    size, least, most = np.abs(trims.likely), trims.least, trims.most
    source = " (range not given, 10 dB taken)" if assumed else ""
    return judge(
        "trim", "dB", limit - size,
        [
            (assumed & (least > limit + SLACK),
             Case(Verdict.CONDITIONAL, "{trim:+z.1f} dB of trim: more than many processors have" + source)),
            (least > limit + SLACK, Case(Verdict.FAIL, "{trim:+z.1f} dB of trim; the processor has {limit:.0f} dB")),
            (np.isnan(size), Case(Verdict.CONDITIONAL, "a sensitivity isn't stated, so the trim isn't known")),
            (most > limit + SLACK,
             Case(Verdict.CONDITIONAL, "{trim:+z.1f} dB of trim, perhaps beyond the processor's "
                                                                "{limit:.0f} dB" + source, fails="beyond")),
            (size > TRIM_TO_WARN + SLACK,
             Case(Verdict.CONDITIONAL, "{trim:+z.1f} dB of trim: beyond 6 dB look for another reason")),
            (True, Case(Verdict.PASS, "{trim:+z.1f} dB of trim")),
        ],
        trim=trims.likely, limit=limit,
        beyond=np.clip((most - limit) / np.maximum(most - least, SLACK), 0.0, 1.0) ** 2,
    )  # fmt: skip
