"""What a sheet tells of a loudspeaker by another one: 'the same tweeter', 'like the One, but sealed'."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from triptych.catalog.datasheet.draft import AXES, Draft
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import RANGED
from triptych.catalog.datasheet.lines import SheetBlock
from triptych.catalog.datasheet.mentions import Calls, mentions
from triptych.catalog.datasheet.result import ReadField, ReadStatus, SheetRecord
from triptych.catalog.datasheet.sheet_words import DRIVER_KINDS, LIKENESS, PREDECESSOR, RIVAL, topics_in
from triptych.catalog.records import SensitivityBasis

_TWEETER: Final = ("tweeter_type", "tweeter_size", "tweeter_material", "tweeter_coverage")
_CROSSOVER: Final = ("crossover", "crossover_order")
_BOX: Final = ("enclosure", "port_location")
_WATTS: Final = ("amplifier_min", "amplifier_max")
_COLUMNS: Final[Mapping[str, tuple[str, ...]]] = {
    "dome": _TWEETER,
    "tweeter": _TWEETER,
    "midrange": ("midrange_size",),
    "woofer": ("woofer_size",),
    "cone": ("woofer_size",),
    "drivers": (*_TWEETER, "midrange_size", "woofer_size"),
    "crossover": _CROSSOVER,
    "slope": ("crossover_order",),
    "impedance": ("impedance_nominal",),
    "amplifier": _WATTS,
    "power": _WATTS,
    "enclosure": _BOX,
    "tolerance": ("low_limit_drop",),
    "measured_alike": ("sensitivity_basis",),
    "size": AXES,
    **{axis: (axis,) for axis in AXES},
}
"""What of another one is told by its word; how many drivers there are is not."""
_WHOLE: Final = (
    *AXES,
    *_BOX,
    *_COLUMNS["drivers"],
    *_CROSSOVER,
    *("impedance_nominal", "sensitivity_basis", "low_limit_drop", "high_limit"),
)
"""What of another one is told by 'the same, but'; how heavy, loud and deep it is and what it costs is not."""
_SENTENCE: Final = re.compile(r"(?<=[.;!?])\s+(?=\D)|\n")
_CLAUSE: Final = re.compile(r"[,;:.()–—]\s*(?!\d)|\s+(?:but|aber|mais|pero|ma|maar|ale)\s+")
_LEADING: Final = re.compile(r"^\W*(?:\d[\d.,]* ?(?:mm|cm|in\b|inch|\"|zoll)?\W*)?")
"""A size right behind the word for the same: 'the same 15 cm cone'."""
_ALONE: Final = re.compile(r"\d ?k?hz")
_RANGED: Final = re.compile(rf"\d ?(?:k?hz)? ?{RANGED} ?\d")
"""One frequency, which may be a hand-over, and two that are a response."""


@dataclass(frozen=True, slots=True)
class _Likeness:
    """What a clause tells by another one: which columns, of whom as far as it names any, and the sentence."""

    columns: tuple[str, ...]
    named: tuple[int, ...]
    said: str
    whole: bool = False


def inherited(
    number: int, blocks: Sequence[SheetBlock], made: Sequence[SheetRecord], calls: Calls
) -> dict[str, ReadField]:
    """Return what is told of a loudspeaker by others of the sheet, as inferred.

    Parameters
    ----------
    number : int
        Which of the blocks it is.
    blocks : sequence of SheetBlock
        The loudspeakers of the sheet.
    made : sequence of SheetRecord
        What was read of each by itself.
    calls : Calls
        How the text calls each.
    """
    found: dict[str, ReadField] = {}
    sentences = [one for one in _sentences(blocks[number]) if not _is_of_others(one)]
    for said in sentences:
        for like in _told(number, said, calls):
            for column in like.columns:
                base = _base(column, number, made, like.named)
                if base is None or column in found or (like.whole and _speaks_of(column, sentences)):
                    continue
                flag = f"told to be as that of {blocks[base].heading or 'the one before'}"
                value = made[base].fields[column].value
                found[column] = ReadField(value, ReadStatus.INFERRED, (flag,), said)
    return found


def fill_tweeter(told: Mapping[str, ReadField], draft: Draft) -> None:
    """Give a loudspeaker the tweeter that another one tells of, before what nothing names is told by it."""
    fill({column: field for column, field in told.items() if column in _TWEETER}, draft)


def fill(told: Mapping[str, ReadField], draft: Draft) -> None:
    """Give a loudspeaker what is told by another one, where its own text leaves it open."""
    box = told.get("enclosure")
    other = box is not None and draft.known("enclosure") not in (None, box.value)
    for column, field in told.items():
        old = draft.fields.get(column)
        contradicted = old is not None and any("disagree" in flag for flag in old.flags)
        known = old is not None and old.value not in (None, SensitivityBasis.UNKNOWN)
        if column in draft.given or contradicted or known or (other and column in _BOX):
            continue
        draft.fields[column] = field
        draft.questions.pop(column, None)


def _sentences(block: SheetBlock) -> list[str]:
    raws = dict.fromkeys(entry.raw for entry in block.entries)
    return [said for raw in raws for said in _SENTENCE.split(raw) if said.strip()]


def _is_of_others(said: str) -> bool:
    small = folded(said)
    return RIVAL.search(small) is not None or PREDECESSOR.search(small) is not None


def _told(number: int, said: str, calls: Calls) -> Iterator[_Likeness]:
    """What a sentence tells by other loudspeakers."""
    whole = LIKENESS["whole"].search(folded(said))
    clauses = [clause for clause in _CLAUSE.split(said) if _may_tell(folded(clause))]
    # who is named is looked for only where somebody may be: among thousands in a list that takes long
    if not (whole or clauses):
        return
    every = _others(number, said, calls)
    if whole:
        yield _Likeness(_WHOLE, tuple(who for _, who in every), said, whole=True)
    for clause in clauses:
        small = folded(clause)
        named = _others(number, clause, calls)
        who = tuple(one for _, one in named) or (tuple({one for _, one in every}) if len(every) == 1 else ())
        if LIKENESS["measured_alike"].search(small):
            yield _Likeness(_COLUMNS["measured_alike"], who, said)
        for topic in _topics(small, clause, named):
            yield _Likeness(_COLUMNS[topic], who, said)


def _may_tell(small: str) -> bool:
    """Whether a clause has a word of likeness, or of a matter that may be as another one's."""
    return any(LIKENESS[way].search(small) for way in ("measured_alike", "same", "above")) or bool(topics_of(small))


def _topics(small: str, clause: str, named: Sequence[tuple[int, int]]) -> list[str]:
    """What a clause says that is as it is elsewhere."""
    if same := LIKENESS["same"].search(small):
        behind = re.split(r"\d", _LEADING.sub("", small[same.end() :], count=1))[0]
        return topics_of(behind) or topics_of(small[: same.start()])
    if above := LIKENESS["above"].search(small):
        return topics_of(small[: above.start()])
    if named and LIKENESS["as_that"].search(f"{folded(clause[: named[0][0]]).rstrip()} "):
        before = folded(clause[: named[0][0]])
        return [topic for topic in topics_of(before) if topic != "drivers" and not re.search(r"\d", before)]
    return []


def topics_of(told: str) -> list[str]:
    """Return what the words of a likeness are about.

    >>> topics_of("tweeter and crossover"), topics_of("finish")
    (['tweeter', 'crossover'], [])
    """
    own = [topic for topic in _COLUMNS if topic in LIKENESS and LIKENESS[topic].search(told)]
    kinds = [kind for kind, pattern in DRIVER_KINDS.items() if pattern.search(told)]
    labels = [topic for topic in topics_in(told) if topic in _COLUMNS and topic not in DRIVER_KINDS]
    return list(dict.fromkeys((*own, *kinds, *labels)))


def _others(number: int, said: str, calls: Calls) -> list[tuple[int, int]]:
    """Where a text names which other loudspeaker."""
    return [
        (one.start, one.who.bit_length() - 1)
        for one in mentions(said, calls)
        if one.who.bit_count() == 1 and one.who != 1 << number
    ]


def _base(column: str, number: int, made: Sequence[SheetRecord], named: Sequence[int]) -> int | None:
    """The loudspeaker whose figure it is: the named one, or else the nearest before that has it."""
    for place in named or range(number - 1, -1, -1):
        field = made[place].fields.get(column)
        if field is not None and field.value not in (None, SensitivityBasis.UNKNOWN):
            return place
    return None


def _speaks_of(column: str, sentences: Sequence[str]) -> bool:
    """Whether the loudspeaker's own text gives a figure of the matter itself, read or not."""
    for said in sentences:
        for clause in re.split(r"[,;]\s", folded(said)):
            if not re.search(r"\d", clause) or LIKENESS["same"].search(clause):
                continue
            if any(column in _COLUMNS[topic] for topic in topics_of(clause) if topic != "drivers"):
                return True
            if column in _CROSSOVER and _ALONE.search(clause) and not _RANGED.search(clause):
                return True
            if column.startswith(("woofer", "midrange")) and LIKENESS["drivers"].search(clause):
                return True
    return False
