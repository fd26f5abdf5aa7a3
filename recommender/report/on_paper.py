"""Numbers and names as they stand on paper."""

from __future__ import annotations

import re
from typing import Final

from triptych.recommender.advise.advice import Standing
from triptych.recommender.drawing.drawn_numbers import Unit, angle, frequency, money, signed
from triptych.recommender.drawing.text import clean

__all__ = ["amount", "angle", "chance", "distance", "frequency", "percent", "plain", "pose", "prose", "score",
           "signed", "told"]  # fmt: skip

DASH: Final = "–"
FOOT: Final = 0.3048
"""[m]."""
OFTEN, SELDOM = 0.99, 0.01
"""What is told at most and at least of a chance that was found by draws [1]."""

_KEYS: Final = re.compile(r" \(\[\w+\] \w+\)|; `[^`]*`(?: and `[^`]*`)?(?: under \[\w+\])?(?: in the room file)?")
"""A key of a room file in brackets, and the hint at the end of a sentence where to write an answer."""

POSE: Final = {"as_designed": "as it is designed to stand", "on_side": "turned on its side", "on_end": "stood upright"}


def plain(text: str) -> str:
    """A text on one line that disturbs nothing around it, whichever way it is written."""
    return clean(text)


def prose(text: str) -> str:
    """A text for people who type no commands and see no file: without the keys and commands that it names.

    >>> prose("Say the amplifier's power ([amplifier] power): look; `floor` under [mains] in the room file")
    "Say the amplifier's power: look"
    >>> prose("a tape; `ear_height` and `front` in the room file")
    'a tape'
    """
    return plain(_KEYS.sub("", text))


def amount(value: float | None, currency: str | None) -> str:
    """A price; a dash where it is not known."""
    return DASH if value is None else money(value, currency or "")


def percent(share: float) -> str:
    """A part of one in whole percent."""
    return f"{100 * share:.0f}\u00a0%"


def chance(share: float) -> str:
    r"""How often something comes out so when what isn't known is drawn: no draws show that it always does, or never.

    >>> chance(1.0), chance(0.994), chance(0.0)
    ('>99\xa0%', '99\xa0%', '<1\xa0%')
    """
    if share > OFTEN + 0.005:
        return f">{percent(OFTEN)}"
    return f"<{percent(SELDOM)}" if share < SELDOM / 2 else percent(share)


def distance(value: float | None, unit: Unit) -> str:
    """A distance to the centimetre, or to a tenth of a foot, as amplifiers take it.

    Examples
    --------
    >>> distance(2.864, Unit.MILLIMETRE).split(), distance(3.048, Unit.INCH).split()
    (['2.86', 'm'], ['10.0', 'ft'])
    """
    if value is None:
        return DASH
    return f"{value:.2f}\u00a0m" if unit is Unit.MILLIMETRE else f"{value / FOOT:.1f}\u00a0ft"


def told(value: float | None, digits: int, unit: str) -> str:
    """A number with its unit; a dash where it is not known."""
    return DASH if value is None else signed(value, digits, unit)


def pose(word: str) -> str:
    """How the box stands."""
    return POSE[word]


def score(entry: Standing) -> tuple[str, str]:
    """The score and its interval."""
    return f"{entry.score:.0f}", f"{entry.score_low:.0f} to {entry.score_high:.0f}"
