"""Whether the centre of a plan is the one that `match` puts first beside its mains; if not, why, in a line."""

from __future__ import annotations

from typing import Final

import numpy as np

from triptych.catalog.money import money
from triptych.recommender.advise.beside import DEAD_LAST, TOLD
from triptych.recommender.advise.planning.choose import Choice, best_systems
from triptych.recommender.advise.planning.ground import Ground
from triptych.recommender.money.planner.problem import System

SECONDS: Final = 0.2
"""So long the best system with the other centre is looked for at least [s]."""


def unlike_match(ground: Ground, choice: Choice, system: System, seconds: float) -> str:
    """Why the centre is not the one with the highest score beside these mains; empty where it is."""
    pairs, centres = choice.front.pairs, choice.offers.get("centre")
    if pairs is None or centres is None or centres.fixed:
        return ""
    scores = np.round(pairs.scores(np.array([system.chosen["mains"]]))[0], TOLD)
    chosen, dead = system.chosen["centre"], choice.front.dead
    # whoever takes the speech of a seat, or is far too high, comes after all others
    last = np.zeros(len(scores)) if dead is None else np.where(dead, DEAD_LAST, 0.0)
    first = int(np.argmax(scores - last))
    if scores[first] - last[first] <= scores[chosen] - last[chosen]:
        return ""
    name = ground.catalogue.names[centres.rows[first]]
    ahead = f"match puts {name} first beside these mains, {scores[first]:.1f} against {scores[chosen]:.1f}"
    if last[chosen]:
        ahead += " where a regular seat loses its speech"
    return f"{ahead}: {_why(ground, choice, system, first, seconds)}"


def _why(ground: Ground, choice: Choice, system: System, first: int, seconds: float) -> str:
    only = {"mains": system.chosen["mains"], "centre": first}
    held = choice.of([np.array([only[role.role]]) if role.role in only else np.arange(len(role))
                      for role in choice.problem.roles])  # fmt: skip
    found = best_systems(ground, (held,), 1, max(SECONDS, seconds))
    if not found.systems:
        return "no system with both is possible within the limit"
    other = found.systems[0][1]
    if other.value > system.value:
        return "with both, one of them could be exchanged for a cheaper one that is worth no less"
    broken = {name: cost for name, cost in held.problem.penalties(other).items() if cost}
    costs = f", which breaks {' and '.join(broken)}" if broken else ""
    more = other.cost - system.cost
    dearer = f" and takes {money(more, ground.wanted.fixed.currency)} more" if more > 0 else ""
    return f"the best system with both is worth {system.value - other.value:.2f} less{dearer}{costs}"
