"""The known names that a mistyped one is nearest to."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

_ALIKE: Final = 60
"""From here on two names are near, of 100 for the same; tried on mistyped names, no source."""


def nearest(name: str, known: Iterable[str], most: int = 1) -> list[str]:
    """Return at most so many known names that are near one, the nearest first.

    >>> nearest("surounds", ["mains", "centre", "surrounds"])
    ['surrounds']
    """
    # hints are seldom needed, and most commands never load what finds them
    from rapidfuzz import fuzz, process

    near = process.extract(name, list(known), scorer=fuzz.WRatio, limit=most, score_cutoff=_ALIKE)
    return [found for found, _, _ in near]
