"""A datasheet looked through before anything is stored: its text with what was read marked, questions, corrections."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import typer

from triptych.catalog.cli import options
from triptych.catalog.cli.options import tell
from triptych.catalog.errors import BadInput
from triptych.catalog.numerals import ordinal

if TYPE_CHECKING:
    from triptych.catalog.datasheet.review import OpenQuestion, ReviewLine, SheetReview

_LEGEND: Final = "Read: ^^^  concluded: ~~~  refused: ???  not read: !!!"
_SIGNS: Final = {"figure": "^", "inferred": "~", "refused": "?", "not read": "!"}
"""What stands under a number by its fate."""
_WIDE: Final = 56
"""From how wide a line on, what was read of it stands below it and not beside. [characters]."""


def print_text(review: SheetReview) -> None:
    """Print a sheet's text with its numbers marked in place, and beside each line the figures that it gave."""
    from triptych.catalog.datasheet.review import review_lines

    styled = sys.stdout.isatty() and not os.environ.get("NO_COLOR")
    typer.echo(_LEGEND if not styled else "Underlined: read. In reverse: refused or not read.")
    for line in review_lines(review):
        if not line.text.strip():
            typer.echo("")
            continue
        beside = options.harmless("; ".join(line.figures))
        shown = _styled(line) if styled else options.harmless(line.text)
        close = beside and len(line.text) < _WIDE
        typer.echo(f"{shown}{' ' * (_WIDE - len(line.text))}{beside}" if close else shown)
        under = "" if styled else _under(line)
        if under:
            typer.echo(under)
        if beside and not close:
            typer.echo(f"{' ' * 4}{beside}")


def _under(line: ReviewLine) -> str:
    under = [" "] * len(line.text)
    for one in line.numbers:
        for at in range(one.start - line.start, min(one.end - line.start, len(line.text))):
            under[at] = _SIGNS.get(one.fate.value, " ")
    return "".join(under).rstrip()


def _styled(line: ReviewLine) -> str:
    shown, last = "", 0
    for one in line.numbers:
        left, right = one.start - line.start, one.end - line.start
        read = one.fate.value in ("figure", "inferred")
        lost = one.fate.value in ("refused", "not read")
        shown += options.harmless(line.text[last:left])
        shown += typer.style(options.harmless(line.text[left:right]), underline=read or None, reverse=lost or None)
        last = right
    return shown + options.harmless(line.text[last:])


def ask(review: SheetReview) -> SheetReview:
    """Ask what a sheet leaves open, one question after the other, then for corrections; tell what each one changes.

    Raises
    ------
    BadInput
        An answer is no text.
    """
    return _corrected(ask_all(review))


def ask_all(review: SheetReview) -> SheetReview:
    """Ask what a sheet leaves open, then what a choice rests on and it does not say.

    Raises
    ------
    BadInput
        An answer is no text.
    """
    from triptych.catalog.datasheet.review import open_questions, wanted_questions

    return ask_each(ask_each(review, open_questions), wanted_questions)


def ask_each(review: SheetReview, questions: Callable[[SheetReview], list[OpenQuestion]]) -> SheetReview:
    """Ask each question that a review leaves open, once; an answer may raise others and settle some.

    Raises
    ------
    BadInput
        An answer is no text.
    """
    asked: set[tuple[int, str]] = set()
    while question := next((one for one in questions(review) if (one.place, one.text) not in asked), None):
        asked.add((question.place, question.text))
        which = f"Loudspeaker {question.place + 1}, " if len(review.said) > 1 else ""
        review = _until_read(review, question, f"{which}{question.text} [empty: leave it open] ")
    return review


def _until_read(review: SheetReview, question: OpenQuestion, prompt: str) -> SheetReview:
    """The review with the answer to a question, which is asked again until its column can read it."""
    from triptych.catalog.datasheet.review import answered

    while text := _line(prompt):
        try:
            now = answered(review, question, text)
        except BadInput as problem:
            tell(str(problem))
        else:
            _tell_changes(review, now)
            return now
    return review


def _corrected(review: SheetReview) -> SheetReview:
    from triptych.catalog.datasheet.review import corrected

    several = len(review.said) > 1
    form = "NUMBER COLUMN=VALUE" if several else "COLUMN=VALUE"
    while text := _line(f"Correct anything? {form} [empty: go on] "):
        number, _, rest = text.partition(" ") if several else ("1", "", text)
        name, mark, value = rest.partition("=")
        which = ordinal(number, len(review.said))
        if not mark or not which:
            tell(f"{text!r} is no {form}, such as {'2 ' if several else ''}weight=14.2 kg")
            continue
        try:
            now = corrected(review, which - 1, {name.strip(): value.strip()})
        except BadInput as problem:
            tell(str(problem))
        else:
            _tell_changes(review, now)
            review = now
    return review


def _tell_changes(before: SheetReview, after: SheetReview) -> None:
    from triptych.catalog.datasheet.review import changes

    for one in changes(before, after):
        tell(f"  {one.column}: {one.before} -> {one.after}")


def _line(question: str) -> str:
    from triptych.catalog.inputs import read_line

    typer.echo(options.harmless(question), err=True, nl=False)
    return read_line(sys.stdin).strip()
