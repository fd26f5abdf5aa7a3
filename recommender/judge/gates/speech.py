"""Does speech reach every regular seat whole? Seats."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from triptych.recommender.judge.verdicts import Case, GateVerdicts, Verdict, judge
from triptych.recommender.physics import coverage, erb
from triptych.recommender.scene.arrays import BoolArray, IndexArray, Seats
from triptych.recommender.scene.hearing import Heard

FAIR_DIP: Final = 4.0
"""Speech may dip so deep at a regular seat without a word [dB]. Common practice: up to 4 dB is fair."""

DEAD_DIP: Final = 6.0
"""A centre that dips deeper at a regular seat comes after every one that doesn't [dB]. Common practice: it is refused
for that seat."""

LOST_DIP: Final = 15.0
"""A dip so deep takes the speech; how much deeper it is no room shows [dB]. Common practice, no source."""

WIDE_SEAT: Final = 10.0
"""Nearer to the middle than this no usual centre dips by `DEAD_DIP` [deg]: two woofers 0.32 m apart that hand over at
2.8 kHz lose 4.9 dB there. Common practice, and the model of it in closed form."""


def seats(heard: Heard, rows: IndexArray, count: int, listeners: Seats) -> GateVerdicts:
    """The deepest dip of speech at any regular seat against the axis; the margin is what is left of 4 dB [dB].

    `heard` are those at `rows` of `count`; what was not heard, because another gate rules it out, is not judged.
    """
    there = np.flatnonzero(listeners.regular)
    level, frequency = (np.full(count, np.nan) for _ in range(2))
    seat = np.zeros(count, dtype=np.intp)
    dips = coverage.deepest_dip(heard.levels[:, there])
    worst, here = np.argmin(dips, axis=1), np.arange(len(rows))
    level[rows] = dips[here, worst]
    frequency[rows] = erb.bands()[np.argmax(heard.levels[here, there[worst]] == level[rows, None], axis=1)]
    seat[rows] = there[worst]
    untold, unheard = np.zeros(count, dtype=np.bool_), np.ones(count, dtype=np.bool_)
    untold[rows], unheard[rows] = ~(heard.sound.usable | heard.around), False
    wide = np.zeros(count, dtype=np.bool_)
    wide[rows] = (np.abs(heard.spacing.across[:, there]) >= WIDE_SEAT).any(axis=1)
    verdicts = judge(
        "seats", "dB", np.where(untold | unheard, np.nan, FAIR_DIP + level),
        [
            (unheard, Case(Verdict.PASS, "not heard: another gate rules it out")),
            (untold & wide, UNTOLD),
            (untold, Case(Verdict.PASS, "every regular seat is near the middle")),
            (-level > LOST_DIP,
             Case(Verdict.CONDITIONAL, "speech is lost at {seat}: over 15 dB against the axis at {frequency:.0f} Hz")),
            (-level > DEAD_DIP,
             Case(Verdict.CONDITIONAL, "speech is hollow at {seat}: " + AGAINST_AXIS)),
            (-level > FAIR_DIP,
             Case(Verdict.CONDITIONAL, "speech dips at {seat}: " + AGAINST_AXIS)),
            (True, Case(Verdict.PASS, "speech dips {dip:.1f} dB at most, at {seat}")),
        ],
        dip=level, frequency=frequency,
    )  # fmt: skip
    return replace(verdicts, texts={"seat": seat}, words={"seat": listeners.name})


AGAINST_AXIS: Final = "{dip:.1f} dB against the axis at {frequency:.0f} Hz"

UNTOLD: Final = Case(
    Verdict.CONDITIONAL, "its drivers aren't described, so nobody knows what the seats at the sides lose",
    "What are its driver layout, sizes, spacing and crossover?",
)  # fmt: skip


def dead_seat(gate: GateVerdicts) -> BoolArray:
    """Which of the boxes that the gate of seats judged come after all others: a seat is lost, or may well be."""
    return np.asarray(
        (gate.margin < FAIR_DIP - DEAD_DIP) | (np.isnan(gate.margin) & (gate.verdict == Verdict.CONDITIONAL))
    )
