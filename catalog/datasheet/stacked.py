"""Labels and values on lines of their own: one under the other in turns, or all labels and then all values."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final

from triptych.catalog.datasheet.amounts import amounts
from triptych.catalog.datasheet.folding import folded, printable
from triptych.catalog.datasheet.owner import HOLDS, about
from triptych.catalog.datasheet.text_cells import Cell, label

_FEWEST_TURNS: Final = 3
"""How often a label and a figure follow one another where a text is written so; tried, no source."""
_FEWEST_LABELS: Final = 5
"""How many labels stand under one another where their values stand below them all; tried, no source."""
_MOST_LINES: Final = 80
_WORDS_ONLY: Final = frozenset(("enclosure", "role", "tweeter", "midrange", "woofer", "drivers", "bung"))
"""What may be told without a figure."""
_MISSING: Final = -1.0
"""What an order of values costs that leaves a label without one."""


def stacked(lines: Sequence[str]) -> dict[int, int]:
    """Return which line of a paragraph is the label of which, by the value's line; empty where none is so written.

    >>> stacked(["Type", "Two-way", "Sensitivity", "87 dB", "Impedance", "8 ohms", "Weight", "8 kg"])
    {1: 0, 3: 2, 5: 4, 7: 6}
    >>> stacked(["Width", "Height", "Depth", "Weight", "Impedance", "20 cm", "40 cm", "30 cm", "9 kg", "8 ohms"])
    {5: 0, 6: 1, 7: 2, 8: 3, 9: 4}
    """
    shown = [printable(line) for line in lines]
    topics = [label(Cell(text, 0, 0)) for text in shown]
    return _in_turns(shown, topics) or (_one_list_each(shown, topics) if len(lines) <= _MOST_LINES else {})


def _in_turns(shown: Sequence[str], topics: Sequence[str | None]) -> dict[int, int]:
    found: dict[int, int] = {}
    row = 0
    while row + 1 < len(shown):
        value = row + 1
        while topics[row] and value + 1 < len(shown) and _is_aside(shown[value]):
            value += 1
        following = topics[value]
        keyed = re.match(r"[^:\d]{2,40}:", shown[value]) or shown[row].endswith(":")
        if topics[row] and not keyed and (following is None or following in ("enclosure", topics[row])):
            found[value] = row
            row = value
        row += 1
    turns = sum(_suits(topics[row], shown[value]) > 1 for value, row in found.items())
    return found if turns >= _FEWEST_TURNS else {}


def _is_aside(text: str) -> bool:
    """Whether a line between a label and its value is about something else, such as a warranty or a carton."""
    return re.search(r"\d", text) is not None and about(folded(text)) in ("elsewhere", "packing")


def _one_list_each(shown: Sequence[str], topics: Sequence[str | None]) -> dict[int, int]:
    """The values of a list of labels, in their order; labels may have none."""
    best: tuple[float, dict[int, int]] = (0.0, {})
    for labels in range(max(_FEWEST_LABELS, (len(shown) + 1) // 2), len(shown)):
        values = len(shown) - labels
        if labels - values > 3 or any(re.search(r"\d", _plain(text)) for text in shown[:labels]):
            break
        if sum(map(bool, topics[:labels])) * 2 > labels:
            best = max(best, _ordered(shown, topics, labels), key=lambda one: one[0])
    return best[1]


def _plain(text: str) -> str:
    return re.sub(r"\([^()]*\)", "", text)


def _ordered(shown: Sequence[str], topics: Sequence[str | None], labels: int) -> tuple[float, dict[int, int]]:
    """The best order of values under labels, and what it is worth; what may stand under two labels is left out."""
    values = len(shown) - labels
    suits = [[_suits(topics[row], shown[labels + place]) for place in range(values)] for row in range(labels)]
    early, late = (_aligned(suits, late=late) for late in (False, True))
    if early is None or late is None:
        return 0.0, {}
    worth = sum(suits[row][place] for place, row in early.items())
    return worth, {labels + place: row for place, row in sorted(early.items()) if late[place] == row and topics[row]}


def _aligned(suits: Sequence[Sequence[float]], *, late: bool) -> Mapping[int, int] | None:
    """The label of each value, both in order, at the highest worth; of equals the earlier or the later."""
    rows, values = len(suits), len(suits[0])
    worth = [[float("-inf")] * (values + 1) for _ in range(rows + 1)]
    worth[0][0] = 0.0
    for row in range(rows):
        for place in range(values + 1):
            worth[row + 1][place] = max(worth[row + 1][place], worth[row][place] + _MISSING)
            if place < values:
                worth[row + 1][place + 1] = worth[row][place] + suits[row][place]
    if worth[rows][values] <= 0:
        return None
    found: dict[int, int] = {}
    row, place = rows, values
    while row:
        left_out = worth[row - 1][place] + _MISSING == worth[row][place]
        taken = place > 0 and worth[row - 1][place - 1] + suits[row - 1][place - 1] == worth[row][place]
        if taken and (late or not left_out):
            place -= 1
            found[place] = row - 1
        row -= 1
    return found if not place else None


def _suits(topic: str | None, value: str) -> float:
    """How well a value stands under a label; minus infinity where it cannot."""
    small = folded(value)
    kinds = {amount.kind for amount in amounts(small) if amount.kind}
    if topic is None:
        return -1.0 if kinds else 0.5
    if topic in HOLDS and HOLDS[topic] & kinds:
        return 2.5 if about(small) == topic else 2.0
    if topic in _WORDS_ONLY:
        return 1.5 if about(small) == topic else 0.0 if not kinds else float("-inf")
    if topic in HOLDS:
        return float("-inf")
    return 2.0 if about(small) == topic else 0.0
