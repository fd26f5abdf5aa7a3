"""Why a centre stands where it does, in words for people: for it, against it, what to do."""

from __future__ import annotations

from typing import Final

from triptych.recommender.advise.advice import CriterionAnswer, Standing
from triptych.recommender.report.on_paper import plain, pose, signed

GOOD: Final = 0.6
"""A utility from here up speaks for a centre."""

REASONS_TOLD: Final = 3
"""So many of each are told."""

MEANS: Final = {
    "timbre": "how alike centre and mains sound",
    "coverage": "what the worst seat loses",
    "headroom": "how much louder than asked it can play",
    "aim": "whether voices come from the picture",
    "surroundings": "what the furniture does to it",
    "balance": "whether the money is in the right place",
    "reach": "how deep it plays before the subwoofer takes over",
}
"""What each criterion says, for people who don't know its name."""


def strengths(entry: Standing) -> list[str]:
    """The criteria that lift it most."""
    good = [one for one in entry.criteria if one.utility >= GOOD]
    return [criterion_words(one) for one in sorted(good, key=lambda one: -one.weight * one.utility)[:REASONS_TOLD]]


def weaknesses(entry: Standing) -> list[str]:
    """The criteria that cost it most, then what its gates make a condition of."""
    weak = [one for one in entry.criteria if one.utility < GOOD]
    told = [criterion_words(one) for one in sorted(weak, key=lambda one: one.utility)[:REASONS_TOLD]]
    return told + conditions(entry)


def conditions(entry: Standing) -> list[str]:
    """What its gates make a condition of, or ask."""
    return [
        f"{gate.gate}: {plain(gate.why)}" + (f". {plain(gate.question)}" if gate.question else "")
        for gate in entry.gates
        if gate.verdict in ("conditional", "unknown")
    ]


def criterion_words(one: CriterionAnswer) -> str:
    """A criterion with what it means and its numbers."""
    meaning = MEANS.get(one.criterion)
    return f"{one.criterion} ({meaning}): {plain(one.why)}" if meaning else f"{one.criterion}: {plain(one.why)}"


def best_and_worst(entry: Standing) -> tuple[CriterionAnswer, CriterionAnswer]:
    """What speaks most for it, and what costs it most."""
    best = max(entry.criteria, key=lambda one: one.weight * one.utility)
    return best, min(entry.criteria, key=lambda one: one.utility)


def steps(entry: Standing) -> list[str]:
    """What to do with it."""
    numbers = entry.quantities
    told = [f"Put it in place: {plain(entry.place)}, {pose(entry.pose)}."]
    if lift := lift_words(entry):
        told.append(f"{lift}.")
    settings = []
    if (crossover := numbers["crossover_hz"]) is not None:
        settings.append(f"crossover {crossover:.0f} Hz")
    if (trim := numbers["trim_db"]) is not None:
        settings.append(f"trim {signed(trim, 1, 'dB')} against the mains")
    return told + ([f"Start from {', '.join(settings)}."] if settings else [])


def lift_words(entry: Standing) -> str:
    """Which edge to raise, by how much, and what that comes to; empty where none is raised or it is not known."""
    tilt, lift = entry.quantities["tilt_needed_deg"], entry.quantities["lift_mm"]
    if tilt is None or lift is None or lift < 1:
        return ""
    residual = entry.quantities["residual_deg"] or 0.0
    edge, way = ("front", "up") if tilt > 0 else ("rear", "down")
    left = f"; {abs(residual):.1f}° short of the ears, no more fits" if abs(residual) >= 0.05 else ""
    return f"Raise its {edge} edge {lift:.0f}\u00a0mm: tilted {abs(tilt) - abs(residual):.1f}° {way}{left}"
