"""A datasheet looked through before anything of it is stored; the terminal and the page ask and answer by this alone.

A review is a value: what is said of it gives another one, so whoever holds its text and what was said can make it anew.

1. `open_review(text, name)` reads; `texts.sheet_text` gives the text of a file or an upload first.
2. `review_lines` gives each line with its numbers, where they stand and what became of them, and the figures beside it;
   `review_rows` each column of one loudspeaker with value, status and why; `result.left_out` the numbers not read.
3. `open_questions` gives what the sheet leaves open, `name_questions` those of it that nothing is stored without, and
   `wanted_questions` what a choice rests on and the sheet does not say. `answered`
   and `corrected` take what a person says, or raise `BadInput` with what to tell at the field; `changes` says what came
   of it, such as a refusal that is none any more.
4. `files.sheet_storing.plan_sheet(engine, review)` works out what would be stored, or says what is missing;
   `store_sheet(engine, plan)` stores it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from triptych.catalog.datasheet.reader import read_datasheet
from triptych.catalog.datasheet.result import GIVEN, ReadField, ReadSheet, ReadStatus, SheetNumber, SheetRecord
from triptych.catalog.datasheet.side_orders import ASKS_ORDER, sides_in_order
from triptych.catalog.datasheet.storing import only_placed
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS
from triptych.catalog.problems import nearest
from triptych.catalog.records import SensitivityBasis

Said = tuple[Mapping[str, str], ...]
"""What a person says of each loudspeaker of a sheet, by column, in the words of the loudspeaker file."""

_YES: Final = ("y", "yes")
"""Answers that take what is shown."""


@dataclass(frozen=True, slots=True)
class SheetReview:
    """A text called `name`, what was said of each of its loudspeakers, and what it reads as with that."""

    name: str
    text: str
    said: Said
    sheet: ReadSheet
    one: bool = False
    models: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReviewLine:
    """A line of the text as it was read, from `start` on, its numbers, and the figures that they gave."""

    text: str
    start: int
    numbers: tuple[SheetNumber, ...]
    figures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReviewRow:
    """One column of one loudspeaker: its value as a person reads it, None where it is refused, and why."""

    column: str
    value: str | None
    status: ReadStatus
    flags: tuple[str, ...]
    raw: str


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """A question about the loudspeaker at a place; `column` is None where it is about several columns."""

    place: int
    column: str | None
    text: str


@dataclass(frozen=True, slots=True)
class SheetChange:
    """A column of a loudspeaker that reads otherwise since something was said, before and after in words."""

    place: int
    column: str
    before: str
    after: str


def open_review(
    text: str,
    name: str,
    said: Mapping[str, str] | Sequence[Mapping[str, str]] = (),
    *,
    one: bool = False,
    models: Sequence[str] = (),
) -> SheetReview:
    """Read a text with what is said of all its loudspeakers, or of each.

    Raises
    ------
    BadInput
        No loudspeaker's figure stands in it, it is too long, or has none that is called as `models` says.
    """
    given = dict(said) if isinstance(said, Mapping) else [dict(one) for one in said]
    try:
        sheet = read_datasheet(text, given, one=one, models=models)
    except BadInput as problem:
        raise BadInput(f"{name}: {problem}") from None
    if not any(record.fields for record in sheet.records):
        raise BadInput(f"{name}: no figure of a loudspeaker in it; write lines such as 'Width: 546 mm'")
    each = [given] * len(sheet.records) if isinstance(given, dict) else given[: len(sheet.records)]
    each += [{} for _ in range(len(sheet.records) - len(each))]
    return SheetReview(name, text, tuple(each), sheet, one, tuple(models))


def review_lines(review: SheetReview) -> Iterator[ReviewLine]:
    """Yield each line of the text with its numbers and the figures that they gave."""
    start, numbers = 0, review.sheet.numbers
    for line in review.sheet.text.split("\n"):
        end = start + len(line)
        here = tuple(one for one in numbers if start <= one.start < end)
        yield ReviewLine(line.rstrip("\r"), start, here, tuple(_figures(review.sheet, here)))
        start = end + 1


def _figures(sheet: ReadSheet, numbers: Sequence[SheetNumber]) -> Iterator[str]:
    """The figures that numbers gave, each once."""
    for record, column in dict.fromkeys((one.record or 0, column) for one in numbers for column in one.columns):
        field = sheet.records[record].fields.get(column)
        which = f"{record + 1}: " if len(sheet.records) > 1 else ""
        value = "refused" if field is None or field.value is None else as_typed(column, field)
        yield f"{which}{COLUMNS[column].name} {value}"


def review_rows(review: SheetReview, place: int) -> list[ReviewRow]:
    """Return the columns of the loudspeaker at a place, in the order of the loudspeaker file."""
    return [
        ReviewRow(
            name,
            as_typed(name, field) if field.value is not None else None,
            field.status,
            field.flags,
            field.raw,
        )
        for name, field in review.sheet.records[place].fields.items()
    ]


def as_typed(column: str, field: ReadField) -> str:
    """Return a figure as a person typed it, or else in its column's unit with no more digits than a sheet has."""
    if GIVEN in field.flags:
        bare = re.fullmatch(r"[\d.,]+", field.raw) and COLUMNS[column].unit
        return f"{field.raw} {bare}" if bare else field.raw
    return COLUMNS[column].legible(field.value)


def open_questions(review: SheetReview) -> list[OpenQuestion]:
    """Return what is to be asked of each loudspeaker, in the order in which it matters."""
    return [
        OpenQuestion(place, _column(question), question)
        for place, record in enumerate(review.sheet.records)
        for question in record.questions
    ]


WANTED: Final[Mapping[str, str]] = {
    "sensitivity": "not in the sheet; what is it for 2.83 V at 1 m?",
    "sensitivity_basis": "in which field was the sensitivity stated: anechoic, half_space or in_room?",
    "layout": "in which order do its drivers stand along the long side, such as TM, MTM or W(T/M)W?",
    "woofer_size": "not in the sheet; how large are the woofers?",
    "tweeter_size": "not in the sheet; how large is the tweeter?",
    "crossover": "not in the sheet; at which frequencies do the drivers hand over?",
}
"""What a choice rests on beside what the sheet's own questions are about, and how it is asked for."""


def wanted_questions(review: SheetReview) -> list[OpenQuestion]:
    """Return what is to be asked because a choice rests on it, where neither the sheet nor anybody says it."""
    return [
        OpenQuestion(place, column, f"{column}: {question}")
        for place, record in enumerate(review.sheet.records)
        for column, question in WANTED.items()
        if record.fields and _is_open(record, column, review.said[place])
    ]


def _is_open(record: SheetRecord, column: str, said: Mapping[str, str]) -> bool:
    if column in said or any(_column(question) == column for question in record.questions):
        return False
    if column == "sensitivity_basis" and record.values.get("sensitivity") is None:
        return False
    return record.values.get(column) in (None, SensitivityBasis.UNKNOWN)


def name_questions(review: SheetReview) -> list[OpenQuestion]:
    """Return what is to be asked of names before they are stored: those that nothing but their place tells."""
    unsure = [only_placed(record, said) for record, said in zip(review.sheet.records, review.said, strict=True)]
    return [one for one in open_questions(review) if one.column in unsure[one.place]]


def _column(question: str) -> str | None:
    """The column that a question is about; None where it is about several."""
    name = question.partition(":")[0]
    return name if name in COLUMNS else None


def answered(review: SheetReview, question: OpenQuestion, answer: str) -> SheetReview:
    """Return the review with an answer: a value, `yes` for what is shown, or `column=value` pairs with commas between.

    Where it is asked which side is which, their order is an answer too, such as `whd`.

    Raises
    ------
    BadInput
        Its column cannot read it, or it is not said of which column it is.
    """
    pairs = [one.partition("=") for one in re.split(r"[;,]\s*(?=\w+\s*=)", answer)]
    if all(mark and name.strip() in COLUMNS for name, mark, _ in pairs):
        return corrected(review, question.place, {name.strip(): value.strip() for name, _, value in pairs})
    if question.column is None:
        width = review.sheet.records[question.place].fields.get("width")
        sides = sides_in_order(answer, width.raw) if width and question.text.startswith(ASKS_ORDER) else None
        if sides is None:
            raise BadInput(
                "say of which column, such as width=546 mm, height=178 mm, or the order of sides, such as whd"
            )
        return corrected(review, question.place, sides)
    shown = review.sheet.records[question.place].fields.get(question.column)
    takes = answer.strip().casefold() in _YES and shown is not None and shown.value is not None
    value = COLUMNS[question.column].text(shown.value) if takes and shown else answer
    return corrected(review, question.place, {question.column: value})


def corrected(review: SheetReview, place: int, values: Mapping[str, str]) -> SheetReview:
    """Return the review with values by column that a person says of a loudspeaker; they stand above the sheet's.

    Raises
    ------
    BadInput
        A column is none, or cannot read its value.
    """
    complaints = [complaint for name, value in values.items() if (complaint := _wrong(name, value))]
    if complaints:
        raise BadInput("\n".join(complaints))
    said = [dict(one) for one in review.said]
    said[place] |= dict(values)
    sheet = read_datasheet(review.text, said, one=review.one, models=review.models)
    return replace(review, said=tuple(said), sheet=sheet)


def _wrong(name: str, text: str) -> str | None:
    if name not in COLUMNS:
        return f"{name!r} is no column; {nearest(name, COLUMNS)}"
    try:
        COLUMNS[name].read(text)
    except BadInput as problem:
        return f"{name}: {problem}"
    return None


def changes(before: SheetReview, after: SheetReview) -> Iterator[SheetChange]:
    """Yield every column that reads otherwise."""
    for place, (old, new) in enumerate(zip(before.sheet.records, after.sheet.records, strict=True)):
        for column in dict.fromkeys((*old.fields, *new.fields)):
            first, second = old.fields.get(column), new.fields.get(column)
            if first != second:
                yield SheetChange(place, column, _told(column, first), _told(column, second))


def _told(column: str, field: ReadField | None) -> str:
    if field is None:
        return "not there"
    return f"refused ({field.flags[0]})" if field.value is None else as_typed(column, field)
