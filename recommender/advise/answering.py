"""Which figures answer what a gate waits for, and what a change did to a ranking."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from triptych.catalog.records import LoudspeakerRecord
from triptych.recommender.advise.advice import Advice, Standing

ANSWERS: Final[Mapping[str, tuple[str, ...]]] = {
    "envelope": ("width", "height", "depth"),
    "tilt": ("axis_height", "height", "depth"),
    "height": ("axis_height",),
    "port": ("enclosure", "port_location"),
    "load": ("weight",),
    "amplifier": ("impedance_nominal", "impedance_minimum"),
    "level": ("sensitivity", "sensitivity_basis"),
    "trim": ("sensitivity", "sensitivity_basis"),
    "money": ("price", "currency", "tax"),
    "supply": ("sold_as", "status"),
}
"""By gate, the columns of a loudspeaker that answer its question; what is about the room isn't among them."""

TOLD_APART: Final = 20
"""So many of the first of two rankings are told apart."""

NAMES_TOLD: Final = 4
"""So many names are told of each kind of change."""


@dataclass(frozen=True, slots=True)
class StoodWhere:
    """Who stood where in a ranking, and how many were ranked, waiting and ruled out."""

    score: Mapping[str, float]
    counts: tuple[int, int, int]


def places(advice: Advice) -> StoodWhere:
    """Who stands where, as far as two rankings are told apart."""
    first: Sequence[Standing] = advice.ranked[:TOLD_APART]
    counts = len(advice.ranked), len(advice.pending), len(advice.excluded)
    return StoodWhere({one.speaker: one.score for one in first}, counts)


def what_changed(before: StoodWhere, after: StoodWhere) -> list[str]:
    """What a change did, in sentences; one that nothing changed where it did nothing."""
    told = [*_first(before, after), *_moved(before, after), *_counted(before.counts, after.counts)]
    return told or ["Nobody's place and score changed."]


def _first(before: StoodWhere, after: StoodWhere) -> Iterator[str]:
    old, new = next(iter(before.score), None), next(iter(after.score), None)
    if new is None:
        if old is not None:
            yield "Nothing passes every gate any more."
    elif old is None:
        yield f"{new} is first; nothing passed before."
    elif old != new:
        yield f"{new} is first now, with {after.score[new]:.0f}; {old} was."
    elif round(after.score[new]) != round(before.score[new]):
        yield f"{new} stays first, with {after.score[new]:.0f} instead of {before.score[new]:.0f}."


def _moved(before: StoodWhere, after: StoodWhere) -> Iterator[str]:
    whole = len(before.score) < TOLD_APART and len(after.score) < TOLD_APART
    came = [name for name in after.score if name not in before.score]
    went = [name for name in before.score if name not in after.score]
    among = "ranked" if whole else f"among the first {TOLD_APART}"
    for names, words in ((came, f"New {among}"), (went, f"No longer {among}")):
        if names:
            more = f" and {len(names) - NAMES_TOLD} more" if len(names) > NAMES_TOLD else ""
            yield f"{words}: {', '.join(names[:NAMES_TOLD])}{more}."
    old = [name for name in before.score if name in after.score]
    new = [name for name in after.score if name in before.score]
    if old != new and not came and not went:
        moved = sum(a != b for a, b in zip(old, new, strict=True))
        yield f"{moved} of {len(new)} stand in another place."


def _counted(before: tuple[int, int, int], after: tuple[int, int, int]) -> Iterator[str]:
    words = ("ranked", "waiting", "ruled out")
    told = [f"{new} {word} instead of {old}" for word, old, new in zip(words, before, after, strict=True) if old != new]
    if told:
        yield f"{', '.join(told)}."


def open_columns(gate: str, record: LoudspeakerRecord) -> list[str]:
    """The columns that a gate waits for: those not known of a loudspeaker, else all; none where the room is asked."""
    answers = ANSWERS.get(gate, ())
    return [name for name in answers if getattr(record, name) is None] or list(answers)
