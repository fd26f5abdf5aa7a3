"""What became of every number of a text: figure, inferred, refused, a condition of a figure, a name's, or not read."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Any, Final

from triptych.catalog.datasheet.result import (
    GIVEN,
    NOMINAL,
    NOMINAL_SLACK,
    Fate,
    ReadField,
    ReadStatus,
    SheetNumber,
    SheetRecord,
)
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.numerals import LONGEST_NUMERAL, NUMERAL, VULGAR, clean, numeral
from triptych.catalog.quantities import Kind
from triptych.catalog.units import FACTORS

_NUMBER: Final = re.compile(rf"(?>{NUMERAL})(?:\s?[{''.join(VULGAR)}])?|[{''.join(VULGAR)}]|\d+")
_FRACTION: Final = re.compile(r"(?:([0-9]{1,4})(?:\s|\s?-\s?))?([0-9]{1,4})\s?[/⁄]\s?([0-9]{1,4})")
_CONDITION: Final = re.compile(
    r"\s?-?(?:Vrms|V|volts?|W\b|watts?|m\b|metre|meter|dB|oct|°|Hz|kHz|Ω|ohm)", re.IGNORECASE
)
_ROUNDED: Final = 0.02
"""How far a figure printed in a second unit may be from the one taken, as a share; rounding, no source."""


_LONGEST_RAW: Final = 40
"""How many words of a field's text are looked for. [words]."""
_LEAST_RUN: Final = 2
"""A shorter run of words could stand anywhere. [characters]."""


@dataclass(frozen=True, slots=True)
class _Claim:
    """Where a field's text stands, and the field."""

    start: int
    end: int
    column: str
    field: ReadField
    record: int


def account(
    text: str, records: Sequence[SheetRecord], regions: Sequence[Sequence[tuple[int, int]]]
) -> tuple[SheetNumber, ...]:
    """Return every number of a text with what became of it.

    Parameters
    ----------
    text : str
        As it was read.
    records : sequence of SheetRecord
        What was read.
    regions : sequence of sequence of tuple of int
        Where the text of each record lies; empty for a record that all of it may be about.
    """
    waiting = sorted(_claims(text, records, regions), key=lambda claim: claim.start, reverse=True)
    here: list[_Claim] = []
    told: list[SheetNumber] = []
    for match in _NUMBER.finditer(text):
        while waiting and waiting[-1].start <= match.start():
            here.append(waiting.pop())
        here = [claim for claim in here if claim.end > match.start()]
        told += _in_groups(text, match, here)
    return tuple(told)


def _in_groups(text: str, match: re.Match[str], claims: Sequence[_Claim]) -> Iterator[SheetNumber]:
    """A number whose thousands blanks part, or else each group of its digits as a number of its own."""
    whole = _told(text, match.start(), match.end(), claims)
    if whole.fate is not Fate.NOT_READ or " " not in match[0]:
        yield whole
        return
    for group in re.finditer(r"[^ ]+", match[0]):
        yield _told(text, match.start() + group.start(), match.start() + group.end(), claims)


def _claims(
    text: str, records: Sequence[SheetRecord], regions: Sequence[Sequence[tuple[int, int]]]
) -> Iterator[_Claim]:
    flat = _flat(text)
    for number, (record, region) in enumerate(zip(records, regions, strict=True)):
        known: dict[str, list[tuple[int, int]]] = {}
        for column, field in record.fields.items():
            # what a person says has no line of the text as its source
            for raw in field.raw.split(" | ") if GIVEN not in field.flags else ():
                if raw not in known:
                    known[raw] = list(_places(text, flat, raw, region))
                yield from (_Claim(start, end, column, field, number) for start, end in known[raw])


@dataclass(frozen=True, slots=True)
class _Flat:
    """A text with one blank for all blanks and pipes together, and where each of its characters stood."""

    text: str
    places: Sequence[int]


def _flat(text: str) -> _Flat:
    words = [(match.start(), match[0]) for match in re.finditer(r"[^\s|]+", text)]
    places = [place for start, word in words for place in range(start, start + len(word) + 1)]
    return _Flat(" ".join(word for _, word in words), places)


def _places(text: str, flat: _Flat, raw: str, region: Sequence[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """Where a raw text stands: blanks may be wider there, and a table's cell stands apart from its head."""
    if region:
        yield from ((start, end) for start, end in region if _holds(raw, text[start:end]))
        return
    words = [word for word in re.split(r"[\s|]+", raw) if word]
    needle = " ".join(words[:_LONGEST_RAW])
    at = flat.text.find(needle) if needle else -1
    while at >= 0:
        start, last = flat.places[at], flat.places[at + len(needle) - 1]
        rest = len(raw) if len(words) > _LONGEST_RAW else 0
        yield start, max(start + rest, last + 1)
        at = flat.text.find(needle, at + len(needle))


def _holds(raw: str, cell: str) -> bool:
    bare, whole = " ".join(cell.split()), " ".join(raw.split())
    if bool(bare) and (bare in whole or whole in bare or bare.replace(":", " ") in whole):
        return True
    # a sentence that was taken apart has its run in two statements
    first, _, _ = whole.partition(" ")
    _, _, last = whole.rpartition(" ")
    near = bare and (first in bare or last in bare)
    return bool(near) and any(
        len(run) > _LEAST_RUN and (whole.startswith(run) or whole.endswith(run)) for run in _ends(bare)
    )


def _ends(bare: str) -> Iterator[str]:
    """The beginnings and ends of a run of words."""
    words = bare.split()
    for count in range(1, len(words)):
        yield " ".join(words[:count])
        yield " ".join(words[count:])


def _told(text: str, start: int, end: int, claims: Sequence[_Claim]) -> SheetNumber:
    here = [claim for claim in claims if claim.start <= start and end <= claim.end]
    values = _values(text, start, end)
    for fate, statuses in ((Fate.FIGURE, (ReadStatus.READ,)), (Fate.INFERRED, (ReadStatus.INFERRED,))):
        owners = [c for c in here if c.field.status in statuses and _is(c.column, c.field.value, values)]
        if owners:
            why = "; ".join(dict.fromkeys(flag for one in owners for flag in one.field.flags))
            return SheetNumber(
                start, end, text[start:end], fate, tuple(dict.fromkeys(c.column for c in owners)), why, owners[0].record
            )
    named = [c for c in here if isinstance(c.field.value, str) and text[start:end] in c.field.value]
    if named:
        return SheetNumber(start, end, text[start:end], Fate.NAME, (named[0].column,), "", named[0].record)
    refused = [c for c in here if c.field.status is ReadStatus.REFUSED]
    if refused:
        why = "; ".join(dict.fromkeys(flag for one in refused for flag in one.field.flags))
        return SheetNumber(
            start,
            end,
            text[start:end],
            Fate.REFUSED,
            tuple(dict.fromkeys(c.column for c in refused)),
            why,
            refused[0].record,
        )
    also = [c for c in here if any(f.startswith("also stated") and text[start:end] in f for f in c.field.flags)]
    if also:
        return SheetNumber(
            start, end, text[start:end], Fate.CONDITION, (also[0].column,), "also stated", also[0].record
        )
    nominal = [c for c in here if NOMINAL in c.field.flags and _is(c.column, c.field.value, values, NOMINAL_SLACK)]
    if nominal:
        return SheetNumber(
            start, end, text[start:end], Fate.CONDITION, (nominal[0].column,), NOMINAL, nominal[0].record
        )
    beside = [c for c in here if c.column in ("sensitivity", "low_limit", "high_limit", "crossover", "crossover_order")]
    if beside and _CONDITION.match(text, end):
        return SheetNumber(start, end, text[start:end], Fate.CONDITION, (beside[0].column,), "", beside[0].record)
    return SheetNumber(start, end, text[start:end], Fate.NOT_READ)


def _values(text: str, start: int, end: int) -> list[Fraction]:
    """What a number can be by its marks, and the fraction that it is a part of."""
    if end - start > LONGEST_NUMERAL:
        return []
    near = clean(text[start:end])
    whole = [Fraction(part) for part in near.split()] if re.fullmatch(r"\d+(?: \d+/\d+)?|\d+/\d+", near) else []
    found = [sum(whole, Fraction(0))] if whole else [Fraction(one) for one in numeral(near)]
    low = max(0, start - 12)
    for match in _FRACTION.finditer(text, low, min(len(text), end + 12)):
        if match.start() <= start and end <= match.end() and int(match[3]):
            found.append(int(match[1] or 0) + Fraction(int(match[2]), int(match[3])))
    return found


def _is(column: str, value: Any, values: Sequence[Fraction], slack: float = 0.0) -> bool:
    """Whether a column's value is one of the numbers, in some unit of its kind, once or for a pair."""
    if isinstance(value, tuple):
        return any(_is(column, one, values) for one in value)
    if isinstance(value, Decimal):
        return any(Fraction(value) == number for number in values)
    quantity = LOUDSPEAKER.get(column)
    if quantity is None or isinstance(value, str | bool | Enum) or value is None or isinstance(value, frozenset):
        return column == "tax_rate" and value is not None and any(float(number) == value for number in values)
    factors: Mapping[str, Fraction] = FACTORS[quantity.kind]
    scales = [float(factor) for factor in factors.values()]
    scales += [scale / 2 for scale in scales] if quantity.kind is Kind.MASS else []
    scales += [1 / 6] if column == "crossover_order" else []
    near = max(slack, _ROUNDED if quantity.kind in (Kind.LENGTH, Kind.MASS) else 0.0005)
    return any(abs(float(number) * scale - value) <= near * abs(value) for number in values for scale in scales)
