"""Whether the reasons that are told of ranked centres are those that decide."""

from __future__ import annotations

from collections.abc import Iterator
from math import log

from triptych.recommender.advise.advice import Advice, Standing
from triptych.recommender.report.reasons import rival, strengths, weaknesses


def matter_of(ahead: Standing, behind: Standing) -> str | None:
    """What orders two whatever their criteria say, by the contract of the ranking; None where the score does."""
    if behind.last != ahead.last:
        return "seats"
    if round(behind.score, 1) > round(ahead.score, 1):
        return "conditions"
    if f"{ahead.score:.1f}" != f"{behind.score:.1f}":
        return None
    if ahead.verdict != behind.verdict:
        return "conditions"
    prices = [one.price for one in (ahead, behind)]
    return "price" if None not in prices and prices[0] != prices[1] else None


def wrong_reasons(answer: Advice) -> Iterator[str]:
    """Reasons that don't decide, or that favour the other, over all that are ranked."""
    for entry in answer.ranked[:20]:
        other = rival(answer, entry)
        if other is None:
            continue
        parts = {
            mine.criterion: mine.weight * log(mine.utility / theirs.utility)
            for mine, theirs in zip(entry.criteria, other.criteria, strict=True)
        }
        for_it, ahead = entry.rank < other.rank, (entry, other) if entry.rank < other.rank else (other, entry)
        sign, matter = (1 if for_it else -1), matter_of(*ahead)
        told = (strengths if for_it else weaknesses)(entry, other)
        largest = max(parts, key=lambda name: sign * parts[name])
        expected = matter or (largest if sign * parts[largest] > 0.0051 else None)
        if expected and not told[0].startswith(expected):
            yield f"{entry.speaker}: {expected} decides, told {told[:1]}"
        names = [(line.split(" ")[0], 1) for line in strengths(entry, other)]
        names += [(line.split(" ")[0], -1) for line in weaknesses(entry, other)]
        yield from (
            f"{entry.speaker}: {name} is told the wrong way" for name, way in names if way * parts.get(name, way) < 0
        )
