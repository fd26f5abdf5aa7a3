"""Why a centre stands where it does, in words for people: for it, against it, what to do."""

from __future__ import annotations

from math import log
from typing import Final

from triptych.recommender.advise.advice import Advice, CriterionAnswer, Standing
from triptych.recommender.report.on_paper import plain, pose, signed

SILENT: Final = 0.005
"""A difference under that share of a score decides nothing, and isn't told [1]."""

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


def rival(advice: Advice, entry: Standing) -> Standing | None:
    """Whom a ranked centre is told against: the runner-up for the first, the first for the others; None if alone."""
    others = [one for one in advice.ranked[:2] if one.speaker != entry.speaker]
    return others[0] if others else None


def differences(entry: Standing, other: Standing | None) -> list[tuple[float, CriterionAnswer]]:
    """Each criterion with its part of the logarithm of the ratio of both scores, the largest first.

    One that is alone is told against a perfect one.
    """
    total = sum(one.weight for one in entry.criteria)
    theirs = [one.utility for one in other.criteria] if other else [1.0] * len(entry.criteria)
    pairs = zip(entry.criteria, theirs, strict=True)
    parts = [(one.weight / total * log(one.utility / utility), one) for one, utility in pairs]
    return sorted(((part, one) for part, one in parts if abs(part) >= SILENT), key=lambda pair: -abs(pair[0]))


def strengths(entry: Standing, other: Standing | None) -> list[str]:
    """What decides for it against another one, most first; what is equal in both is no reason."""
    told = [criterion_words(one) for part, one in differences(entry, other) if part > 0][:REASONS_TOLD]
    cheaper = other is not None and None not in (entry.price, other.price) and (entry.price or 0) < (other.price or 0)
    if not told and cheaper and entry.rank == 1:
        return ["price: scores the same as the next, and costs less"]
    return told


def weaknesses(entry: Standing, other: Standing | None) -> list[str]:
    """What decides against it beside another one, most first, then what its gates make a condition of."""
    told = [criterion_words(one) for part, one in differences(entry, other) if part < 0][:REASONS_TOLD]
    return told + conditions(entry)


def deciding(entry: Standing, other: Standing | None) -> tuple[CriterionAnswer | None, CriterionAnswer | None]:
    """The criterion that decides most for it, and the one that decides most against it."""
    parts = differences(entry, other)
    return next((one for part, one in parts if part > 0), None), next((one for part, one in parts if part < 0), None)


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
