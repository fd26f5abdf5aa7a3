"""What a figure's ground is worth: where a statement cannot carry its figure alone, the figure is told to be doubtful.

Each rule looks at what any sheet has, its own words and the loudspeakers beside it, never at a layout:

- *who*: a loudspeaker among others whose name is a table's head or a sentence.
- *what*: the words of a figure's own statement deny it, tell of several, or stand under another label.
- *beside*: what the sheet says elsewhere of the same loudspeaker, or what all others have.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final

from triptych.catalog.datasheet.draft import AXES
from triptych.catalog.datasheet.enclosure import OF_A_DRIVER
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.parts import SheetPart
from triptych.catalog.datasheet.result import GIVEN, ReadField, ReadStatus, SheetRecord
from triptych.catalog.datasheet.sheet_words import DOUBTS, EACH, ENCLOSURES, PAIR, topic_of, topics_in
from triptych.catalog.datasheet.tweeters import IN_WAVEGUIDE
from triptych.catalog.records import PricePer, Role, Tax, TweeterType
from triptych.catalog.stated_records import NAME_PARTS

_TERMS: Final = frozenset(("currency", "price_per", "sold_as", "tax", "tax_rate", "roles", "note", "status"))
"""Columns that tell no loudspeaker from another."""
_ACOUSTIC: Final = frozenset(
    (
        *("sensitivity", "impedance_nominal", "impedance_minimum", "low_limit", "high_limit", "crossover"),
        *("woofer_size", "midrange_size", "tweeter_size", "tweeter_type"),
        *("amplifier_max", "power_handling", "enclosure"),
    )
)
"""Columns of which every loudspeaker has some, and no stand."""
_DRIVERS: Final = ("tweeter", "midrange", "woofer")
_BOXES: Final = tuple(ENCLOSURES[kind] for kind in ("passive_radiator", "transmission_line", "open_back", "sealed"))
_BOX: Final = ("enclosure", "port_location")
_FEWEST_ALIKE: Final = 4
"""So many equal figures under one name are one loudspeaker read twice; tried, no source."""
_FEWEST_LISTED: Final = 3
"""In a list of fewer, one may have little told of it; tried, no source."""
_DENSER: Final = 2.5
"""So many times apart are two boxes of one maker hardly, by weight and volume; tried, no source."""
_LOUDER: Final = 8.0
"""So far apart are loudspeakers of one sheet hardly; tried, no source. [dB]."""
_MUCH_CHEAPER: Final = 5
"""A loudspeaker costs more than this part of the cheapest other one of its list; common practice, no source."""
_CLAUSE: Final = re.compile(r"[,;()]\s*|\.\s+|\s[-|]\s")
_NOTHING: Final = re.compile(r"\s*(?:[-–—.]+|n/?a|k\.? ?a\.?)\s*", re.IGNORECASE)
"""How a cell is left empty."""
_CALLED: Final = re.compile(r"(?<![\d.,])\d+(?= \d)|\w*[^\W\d]\w*")
"""A word, or a number right before another one, which names a loudspeaker: '60 20-125 W'."""
_TAXED: Final = re.compile(r"\b(?:vat|tax|mwst|ust|tva|iva|btw|podatk\w*|taxes?|gst|steuer)\b")


class _Sheet:
    """What the rules look at of all loudspeakers of a sheet, each worked out once."""

    def __init__(self, text: str, told: Sequence[SheetRecord]) -> None:
        """Look at the loudspeakers of a text of which something was read."""
        self.text = text
        self.several = len(told) > 1
        self.models = [folded(str(one.values.get("model") or "")) for one in told]
        self.called = [frozenset(re.findall(r"\w+", model)) for model in self.models]
        self.figures = [_figures(one) for one in told]
        self.densities = [_density(figures) for figures in self.figures]
        self.levels: list[float | None] = [figures.get("sensitivity") for figures in self.figures]
        self.raws = Counter(raw for one in told for raw in {field.raw for field in one.fields.values()})
        self.own = [
            {name for name, one in record.fields.items() if one.value is not None and self.raws[one.raw] < len(told)}
            for record in told
        ]
        self.prices = [one.values.get("price") for one in told]
        words = [_words(one) for one in told]
        counted = Counter(word for some in words for word in some)
        self.owners = {
            word: place
            for place, some in enumerate(words)
            for word in some
            if counted[word] == 1 and len(word) > 1 and not topic_of(word)
        }
        """Whose name a word stands in, where it stands in no other and is no label."""


@dataclass(frozen=True)
class _Record:
    """One loudspeaker as the rules look at it: what was read, its own text, and its place in the sheet."""

    record: SheetRecord
    text: str
    place: int
    sheet: _Sheet

    @property
    def model(self) -> str:
        """Its model, folded; empty where there is none."""
        return self.sheet.models[self.place]

    @cached_property
    def own_text(self) -> str:
        """Its text, folded."""
        return folded(self.text)

    @property
    def is_given(self) -> bool:
        """Whether a person says what it is called."""
        found = self.record.fields.get("model")
        return found is not None and GIVEN in found.flags

    def open_field(self, column: str) -> ReadField | None:
        """A column that was read of it, unless a person said so."""
        field = self.record.fields.get(column)
        return None if field is None or field.value is None or GIVEN in field.flags else field

    def open_fields(self) -> Iterator[tuple[str, ReadField]]:
        """What was read of it but its name, unless a person said so."""
        for column in self.record.fields:
            if column not in NAME_PARTS and (field := self.open_field(column)):
                yield column, field


@dataclass(frozen=True, slots=True)
class _Doubt:
    """Why figures of a loudspeaker are doubtful; `whole` where all of them are, and one question asks for it."""

    columns: tuple[str, ...]
    why: str
    refuses: bool = False
    whole: bool = False


def weighed(records: Sequence[SheetRecord], parts: Sequence[SheetPart], text: str) -> list[SheetRecord]:
    """Return the loudspeakers with what their grounds cannot carry flagged and asked for, or refused."""
    told = [one for one in records if one.fields]
    sheet = _Sheet(text, told)
    texts = [_own(part, text) for part in parts] if parts else [text] * len(records)
    made: list[SheetRecord] = []
    place = 0
    for record, own in zip(records, texts, strict=True):
        if not record.fields:
            made.append(record)
            continue
        seen = _Record(record, own, place, sheet)
        made.append(_with(record, [doubt for rule in _RULES for doubt in rule(seen)]))
        place += 1
    return made


def _own(part: SheetPart, text: str) -> str:
    """The text of one loudspeaker alone."""
    return "\n".join(text[start:end] for piece in part.pieces if not piece.shared for start, end in piece.spans)


def _with(record: SheetRecord, doubts: Iterable[_Doubt]) -> SheetRecord:
    """A loudspeaker with doubts told at its figures, and each asked for once."""
    fields, asked = dict(record.fields), list(record.questions)
    for doubt in doubts:
        for column in doubt.columns:
            found = fields.get(column)
            if found is None or found.value is None or GIVEN in found.flags:
                continue
            if doubt.refuses:
                fields[column] = replace(found, value=None, status=ReadStatus.REFUSED, flags=(doubt.why,))
            else:
                flags = tuple(dict.fromkeys((*found.flags, f"doubtful: {doubt.why}")))
                fields[column] = replace(found, flags=flags)
        for column in ("model",) if doubt.whole else doubt.columns:
            if not any(one.startswith(f"{column}:") for one in asked):
                asked.append(f"{column}: {doubt.why}; {'what is right' if doubt.refuses else 'is it right'}?")
    return replace(record, fields=fields, questions=tuple(asked)) if asked or fields != record.fields else record


def _words(record: SheetRecord) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", folded(" ".join(str(record.values.get(part) or "") for part in NAME_PARTS))))


def _all(seen: _Record, why: str, *, refuses: bool = False) -> Iterator[_Doubt]:
    """Doubt about everything that was read of a loudspeaker."""
    yield _Doubt(tuple(column for column, _ in seen.open_fields()), why, refuses, whole=True)


# who ----------------------------------------------------------------------------------------------------------------


def _no_name(seen: _Record) -> Iterator[_Doubt]:
    """Labels, or a sentence, in a model's place: its row or its column is none of a loudspeaker."""
    if not seen.sheet.several or not seen.model or seen.is_given:
        return
    labels = [one for one in re.split(r"[\s/]+", seen.model) if len(one) > 2 and topic_of(one) not in (None, "role")]
    if len(labels) > 1:
        yield from _all(seen, f"{seen.model[:40]!r} is a table's head and no name", refuses=True)
    elif DOUBTS["is"].search(seen.model):
        yield from _all(seen, f"{seen.model[:40]!r} is hardly the name of a loudspeaker")


def _over_lines(seen: _Record) -> Iterator[_Doubt]:
    """A name that no line has whole was put together from two."""
    name = str(seen.record.values.get("model") or "")
    if not seen.sheet.several or " " not in name or seen.is_given or name in seen.sheet.text:
        return
    on_a_line, over_lines = (
        re.search(rf"(?<!\w){gap.join(map(re.escape, name.split()))}(?!\w)", seen.sheet.text, re.IGNORECASE)
        for gap in (r"[^\S\n]+", r"\s+")
    )
    if over_lines and not on_a_line:
        yield from _all(seen, f"{name[:40]!r} stands on two lines, and may be no name")


def _read_twice(seen: _Record) -> Iterator[_Doubt]:
    """Two of one name: with the same figures, or with none in common, they may be one."""
    words, mine = seen.sheet.called[seen.place], seen.sheet.figures[seen.place]
    for place, theirs in enumerate(seen.sheet.called if words and not seen.is_given else ()):
        if place == seen.place or not theirs or not (words <= theirs or theirs <= words):
            continue
        figures, other = seen.sheet.figures[place], seen.sheet.models[place]
        common = mine.keys() & figures.keys()
        if not common:
            yield from _all(seen, f"it may be the same as {other!r}, of which nothing of this is told")
            return
        if words == theirs and len(common) >= _FEWEST_ALIKE and all(mine[one] == figures[one] for one in common):
            yield from _all(seen, f"two here are called {other!r} and have the same figures")
            return


def _figures(record: SheetRecord) -> Mapping[str, Any]:
    return {
        column: field.value
        for column, field in record.fields.items()
        if field.value is not None and column not in _TERMS and column not in NAME_PARTS
    }


def _no_loudspeaker(seen: _Record) -> Iterator[_Doubt]:
    """What has no acoustic figure of its own, where all others have, or costs next to nothing, is a stand or such."""
    if len(seen.sheet.own) < _FEWEST_LISTED:
        return
    bass = Role.SUB in (seen.record.values.get("roles") or ())
    bare = [place for place, own in enumerate(seen.sheet.own) if not own & _ACOUSTIC]
    if bare == [seen.place] and not bass:
        yield from _all(seen, "nothing of a loudspeaker is told of it, but of all others; it may be a stand or such")
    prices = [float(one) for place, one in enumerate(seen.sheet.prices) if one is not None and place != seen.place]
    price = seen.sheet.prices[seen.place]
    if price is not None and len(prices) > 1 and float(price) * _MUCH_CHEAPER < min(prices):
        yield from _all(seen, f"{price} is hardly a price beside those of the others")


# what ---------------------------------------------------------------------------------------------------------------


def _denied(seen: _Record) -> Iterator[_Doubt]:
    """A clause that denies what it names, or says for what it does not hold: 'not including VAT', 'MIDRANGE: n/a'."""
    for column, field in seen.open_fields():
        named = _namer(column, field)
        if named is None or not DOUBTS["denied"].search(small := folded(field.raw)):
            continue
        if any(DOUBTS["denied"].search(clause) and named(clause) for clause in _CLAUSE.split(small)):
            yield _Doubt((column,), f"{field.raw[:60]!r} denies something")


def _namer(column: str, field: ReadField) -> Callable[[str], bool] | None:
    """What tells whether a clause is about a column; None where a denial beside it says nothing of its value."""
    if column == "tax":
        return (lambda clause: _TAXED.search(clause) is not None) if field.value is Tax.INCLUDED else None
    if column in ("price_per", "sold_as"):
        return lambda clause: PAIR.search(clause) is not None or EACH.search(clause) is not None
    driver = column.partition("_")[0]
    return (lambda clause: driver in topics_in(clause)) if driver in _DRIVERS else None


def _two_boxes(seen: _Record) -> Iterator[_Doubt]:
    """A statement that names two kinds of boxes tells of two loudspeakers, or of a chamber in the box."""
    for column, field in seen.open_fields():
        small = OF_A_DRIVER.sub(" ", folded(field.raw)) if column in _BOX else ""
        ported = ENCLOSURES["ported"].search(small) is not None
        if small and sum(one.search(small) is not None for one in _BOXES) + ported > 1:
            yield _Doubt((column,), f"{field.raw[:60]!r} names two kinds of boxes")


def _other_label(seen: _Record) -> Iterator[_Doubt]:
    """A box that is told under the label of another matter."""
    for column, field in seen.open_fields():
        label, mark, _ = folded(field.raw).partition(":")
        if mark and column in _BOX and topic_of(label) in ("sensitivity", "impedance", "weight", "response", "price"):
            yield _Doubt((column,), f"it stands under the label {label[:40]!r}")


def _empty(seen: _Record) -> Iterator[_Doubt]:
    """What only a label tells, over a cell that is left empty."""
    for column, field in seen.open_fields():
        _, mark, value = field.raw.rpartition(": ")
        if mark and _NOTHING.fullmatch(value):
            yield _Doubt((column,), f"no value stands at {field.raw[:60]!r}", refuses=True)


def _in_label(seen: _Record) -> Iterator[_Doubt]:
    """A price that only the label has, where another amount stands as its value."""
    field = seen.open_field("price")
    if field is None or ":" not in field.raw:
        return
    label, _, value = (re.sub(r"\D", "", part) for part in field.raw.partition(":"))
    digits = re.sub(r"\D", "", str(field.value).partition(".")[0])
    if value and digits in label and digits not in value:
        yield _Doubt(("price", "price_per"), f"its label has it, and {value} stands as the value", refuses=True)


def _several_named(seen: _Record) -> Iterator[_Doubt]:
    """A statement that names two others of the sheet gives a figure of each, of which one was taken."""
    for column, field in seen.open_fields() if len(seen.sheet.own) > 2 else ():
        words = _CALLED.findall(folded(field.raw)) if column != "roles" else ()
        named = {seen.sheet.owners.get(word) for word in words} - {None, seen.place}
        if len(named) > 1:
            yield _Doubt((column,), "its statement names several of the loudspeakers here")


def _added_to(seen: _Record) -> Iterator[_Doubt]:
    """'A second woofer is added' tells how many come to those that are there."""
    for column, field in seen.open_fields():
        if column.endswith("_count") and DOUBTS["added"].search(folded(field.raw)):
            yield _Doubt((column,), "it may be how many are added, and not how many there are")


def _per(seen: _Record) -> Iterator[_Doubt]:
    """What a price is for, where its own statement does not say so and the sheet has prices of pairs too."""
    for column, field in seen.open_fields():
        small = folded(field.raw)
        if column in ("price", "weight") and DOUBTS["of_two"].search(small) and not PAIR.search(small):
            yield _Doubt((column,), "it may be that of two")
        if not seen.sheet.several:
            continue
        if column == "sold_as" and seen.sheet.raws[field.raw] > 1:
            yield _Doubt((column,), "said of several loudspeakers at once")
        if column == "price_per" and field.value is PricePer.EACH and not (PAIR.search(small) or EACH.search(small)):
            yield _Doubt((column,), "its own line does not say so")


def _traded(seen: _Record) -> Iterator[_Doubt]:
    """A price free on board is what the trade pays."""
    field = seen.open_field("price")
    if field is not None and DOUBTS["trade"].search(folded(field.raw)):
        yield _Doubt(("price", "price_per", "currency"), "it is what a trader pays at the works")


# beside -------------------------------------------------------------------------------------------------------------


def _unlike(seen: _Record) -> Iterator[_Doubt]:
    """A box far lighter or heavier for its size than all others of the sheet, or a level far from theirs."""
    density, densities = _beside(seen, seen.sheet.densities)
    if density and densities and not min(densities) / _DENSER <= density <= max(densities) * _DENSER:
        yield _Doubt(("weight", *AXES), "for its size it weighs far from what all others here do")
    level, levels = _beside(seen, seen.sheet.levels)
    if level and levels and not min(levels) - _LOUDER <= level <= max(levels) + _LOUDER:
        yield _Doubt(("sensitivity",), "it is far from that of all others here")


def _beside(seen: _Record, values: Sequence[float | None]) -> tuple[float | None, list[float]]:
    """The value of a loudspeaker and those of the others; none where they are too few to tell what is like them."""
    others = [one for place, one in enumerate(values) if one is not None and place != seen.place]
    return values[seen.place], others if len(others) + 1 >= _FEWEST_LISTED else []


def _density(figures: Mapping[str, Any]) -> float | None:
    """What it weighs by the volume of its box. [kg/m³]."""
    weight, sides = figures.get("weight"), [figures.get(axis) for axis in AXES]
    return None if weight is None or None in sides else weight / math.prod(side for side in sides if side)


def _waveguide(seen: _Record) -> Iterator[_Doubt]:
    """A plain dome, where the text of the same loudspeaker speaks of a waveguide."""
    field = seen.open_field("tweeter_type")
    if field is not None and field.value is TweeterType.DOME and IN_WAVEGUIDE.search(seen.own_text):
        yield _Doubt(("tweeter_type",), "its text speaks of a waveguide")


def _ways(seen: _Record) -> Iterator[_Doubt]:
    """Three ways have two hand-overs."""
    field = seen.open_field("crossover")
    if field is not None and len(field.value) == 1 and DOUBTS["three_ways"].search(seen.own_text):
        yield _Doubt(("crossover",), "three ways, and one hand-over is read")


_RULES: Final[tuple[Callable[[_Record], Iterator[_Doubt]], ...]] = (
    *(_no_name, _over_lines, _read_twice, _no_loudspeaker),
    *(_denied, _two_boxes, _other_label, _empty, _in_label, _several_named, _added_to, _per, _traded),
    *(_waveguide, _ways, _unlike),
)
