"""A datasheet pasted or dropped: its text marked with what was read, questions, corrections, then stored."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from starlette.responses import Response

from triptych.catalog.datasheet.name_parts import GUESSED
from triptych.catalog.datasheet.result import Fate, SheetRecord, left_out
from triptych.catalog.datasheet.review import (
    OpenQuestion,
    ReviewLine,
    SheetReview,
    answered,
    corrected,
    open_questions,
    open_review,
    review_lines,
    review_rows,
)
from triptych.catalog.datasheet.texts import sheet_text
from triptych.catalog.datasheet.titles import PLACED
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS
from triptych.catalog.files.sheet_storing import SheetPlan, plan_sheet, store_sheet
from triptych.catalog.records import Role
from triptych.recommender.page.asked import Visit
from triptych.recommender.page.rendering import shown

PASTED: Final = "pasted text"
"""What the source of a pasted datasheet is called in the catalogue."""

SAID: Final = "said."
"""What the name of a field begins with that holds what a person said before, or of the name now."""

READ: Final = "read."
"""What the name of a field begins with that holds what the sheet itself says of a name."""

SAID_OFTEN: Final = ("maker", "series", "model", "roles")
"""The columns that nearly every sheet leaves to a person; they stand above the others."""

MARKED: Final = {
    Fate.FIGURE: ("figure", "read"),
    Fate.INFERRED: ("inferred", "concluded"),
    Fate.REFUSED: ("refused", "refused"),
    Fate.NOT_READ: ("unread", "not read"),
}
"""How a number is marked by what became of it; the others stand as they are."""


@dataclass(frozen=True, slots=True)
class MarkedText:
    """A piece of a line: plain, or a number with its mark, what became of it, why, and where its figure stands."""

    text: str
    mark: str = ""
    words: str = ""
    why: str = ""
    row: str = ""


def paste(asked: Visit) -> Response:
    """Where a datasheet is pasted or dropped."""
    return shown("paste.html.j2", asked, step="mains", problem="", text="")


def look(asked: Visit) -> Response:
    """Read a datasheet with what was said of it, and show what came of it; with `store`, put it into the catalogue."""
    try:
        review = _read(asked)
    except BadInput as problem:
        text = asked.word("text")
        return shown("paste.html.j2", asked, 422, step="mains", problem=str(problem), text=text)
    review, problems = _with_answers(asked, review)
    if problems:
        return _shown(asked, review, problems, status=422)
    if not asked.word("store"):
        return _shown(asked, review, {}, plan=_ready(asked, review))
    try:
        plan = plan_sheet(asked.catalogue.engine, review)
        # what was shown before is stored, and nothing that was typed into its fields since
        changed = asked.word("plan") not in ("", _mark(plan))
        if asked.word("store") == "look" or changed or (plan.doubts and asked.word("meant") != "yes"):
            return _shown(asked, review, {}, plan=plan, changed=changed)
        saved = store_sheet(asked.catalogue.engine, plan, clear=asked.word("clear") == "yes")
    except BadInput as problem:
        return _shown(asked, review, {"": str(problem)}, status=422)
    return shown(
        "pasted.html.j2", asked, step="mains",
        counts=f"added {saved.added}, changed {saved.changed}, unchanged {saved.unchanged}",
        stored=[(record.name, Role.MAIN in record.roles) for record in plan.records],
    )  # fmt: skip


def _ready(asked: Visit, review: SheetReview) -> SheetPlan | None:
    """What would be stored, where a sheet names it so well that nothing has to be said first."""
    try:
        plan = plan_sheet(asked.catalogue.engine, review)
    except BadInput:
        return None
    named = all(naming[3] for place in range(len(review.said)) for naming in _part(review, place, {}, {})["naming"][2:])
    return plan if named and not plan.doubts and not plan.cleared else None


def _mark(plan: SheetPlan) -> str:
    """What tells the records of a plan from all others."""
    return hashlib.sha256(repr(plan.records).encode()).hexdigest()[:20]


def _read(asked: Visit) -> SheetReview:
    upload = asked.files.get("file")
    name = asked.word("name") or PASTED
    text = next((value for key, value in asked.form if key == "text"), "")
    if upload is not None:
        name = upload.name.replace("\\", "/").rpartition("/")[2][:120] or PASTED
        text = sheet_text(upload.content, name)
    if not text.strip():
        raise BadInput("nothing was pasted: paste the text of a datasheet, or choose its file")
    said: dict[int, dict[str, str]] = {}
    untouched = {key.removeprefix(READ): value for key, value in asked.form if key.startswith(READ)}
    for key, value in asked.form:
        place, _, column = key.removeprefix(SAID).partition(".")
        if key.startswith(SAID) and place.isdecimal() and len(place) < 4 and column in COLUMNS and value.strip():
            if untouched.get(f"{place}.{column}") == value:
                continue  # the sheet's own word, which nobody changed
            said.setdefault(int(place), {})[column] = value.strip()
    each = [said.get(place, {}) for place in range(max(said, default=-1) + 1)]
    models = [one.strip() for one in asked.word("models").split(",") if one.strip()]
    return open_review(text, name, each, one=asked.word("one") == "yes", models=models)


def _with_answers(asked: Visit, review: SheetReview) -> tuple[SheetReview, dict[str, str]]:
    """The review with the answers and corrections of the form; what can't be read is told by field."""
    problems: dict[str, str] = {}
    asked_before = {_key(question): question for question in open_questions(review)}
    for key, value in asked.form:
        if not value.strip() or not key.startswith(("answer.", "fix.")):
            continue
        try:
            if key.startswith("fix."):
                _, place, column = (*key.split(".", 2), "")[:3]
                if len(place) < 5 and place.isdecimal() and int(place) < len(review.said):
                    review = corrected(review, int(place), {column: value.strip()})
            elif key in asked_before:
                review = answered(review, asked_before[key], value.strip())
        except BadInput as problem:
            problems[key] = str(problem)
    return review, problems


def _key(question: OpenQuestion) -> str:
    """The name of a question's field; questions about several columns go by their words."""
    return f"answer.{question.place}.{question.column or question.text[:60]}"


def _shown(
    asked: Visit,
    review: SheetReview,
    problems: dict[str, str],
    *,
    status: int = 200,
    plan: SheetPlan | None = None,
    changed: bool = False,
) -> Response:
    typed = {key: value for key, value in asked.form if key in problems}
    return shown(
        "review.html.j2", asked, status, step="mains",
        name=review.name,
        text=review.text,
        lines=[_stretches(line) for line in review_lines(review)],
        parts=[_part(review, place, problems, typed) for place in range(len(review.said))],
        said=[
            (f"{SAID}{place}.{column}", value)
            for place, each in enumerate(review.said) for column, value in each.items() if column not in SAID_OFTEN
        ],
        unread=list(review.sheet.unread),
        left_out=left_out(review.sheet),
        one=review.one,
        models=", ".join(review.models),
        problem=problems.get("", ""),
        wrong=len([key for key in problems if key]),
        plan=plan,
        mark=_mark(plan) if plan is not None else "",
        changed=changed,
        open_answers=len([one for one in open_questions(review) if one.column not in SAID_OFTEN]),
    )  # fmt: skip


def _part(review: SheetReview, place: int, problems: dict[str, str], typed: dict[str, str]) -> dict[str, Any]:
    record, given = review.sheet.records[place], review.said[place]
    return {
        "place": place,
        "several": len(review.said) > 1,
        "naming": [_naming(record, given, column) for column in SAID_OFTEN],
        "rows": [
            (row, problems.get(f"fix.{place}.{row.column}", ""), typed.get(f"fix.{place}.{row.column}", ""))
            for row in review_rows(review, place) if row.column not in SAID_OFTEN
        ],
        "questions": [
            (_key(one), _asked_as(one), problems.get(_key(one), ""), typed.get(_key(one), ""))
            for one in open_questions(review) if one.place == place and one.column not in SAID_OFTEN
        ],
        "unread": record.unread,
    }  # fmt: skip


def _asked_as(question: OpenQuestion) -> str:
    """A question without the key of its column, for somebody who has fields."""
    column = question.column or ""
    return question.text.replace(f"{column}:", f"{column.replace('_', ' ')}:", 1) if column else question.text


def _naming(record: SheetRecord, given: Mapping[str, str], column: str) -> tuple[str, str, str, str]:
    """A column of the name, its field as it is shown, what is asked there, and the sheet's own word.

    A name that is guessed, or that nothing but its place tells, is no word of the sheet's: whoever sends the form with
    it has said it.
    """
    field = record.fields.get(column)
    read = "" if field is None or field.value is None else COLUMNS[column].text(field.value)
    unsure = column not in given and field is not None and bool({PLACED, GUESSED} & {*field.flags})
    doubt = f"Is it {read!r}? {', '.join(field.flags)}. " if unsure and field else ""
    return column, given.get(column) or read, doubt + COLUMNS[column].help, "" if unsure or column in given else read


def _stretches(line: ReviewLine) -> list[MarkedText]:
    found, last = [], 0
    for one in line.numbers:
        left, right = one.start - line.start, min(one.end - line.start, len(line.text))
        if one.fate not in MARKED or left < last:
            continue
        mark, words = MARKED[one.fate]
        row = f"row-{one.record or 0}-{one.columns[0]}" if one.columns else ""
        found += [MarkedText(line.text[last:left]), MarkedText(line.text[left:right], mark, words, one.why, row)]
        last = right
    return [*found, MarkedText(line.text[last:])]
