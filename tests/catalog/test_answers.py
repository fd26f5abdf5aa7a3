"""Records to JSON and CSV: what comes out is JSON, is rounded as said, and is written as it is computed."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Annotated, Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.catalog.answer_columns import InOrder, Keyed, Mixed, Numbers, Picked, Rows, Same, Several
from triptych.catalog.answers import Answers
from triptych.catalog.ways_told import MINOR, Minor, Perhaps, Told, Views, cell, key, keys_of, rounded

Tenth = Annotated[float, Told(digits=1)]


class Colour(Enum):
    RED = "red"


@dataclass(frozen=True)
class Part:
    name: str
    size: Tenth | None
    cost: Minor = 0


@dataclass(frozen=True)
class Whole:
    who: Annotated[str, Told(key="head.who")]
    how: Annotated[str, Told(key="head.how")]
    currency: str
    parts: tuple[Part, ...] = ()
    figures: dict[str, Tenth | None] = field(default_factory=dict)
    more: Annotated[tuple[Part, ...], Told(key="figures.more")] = ()
    colour: Colour = Colour.RED
    place: Perhaps = ""
    note: Annotated[str, Told(where_any=True)] = ""
    day: date | None = None


WHOLE = Whole("a", "b", "JPY", (Part("x", 0.25, 1234),), {"f": -0.01, "g": math.nan}, (Part("y", None),))


def text(value: object, **views: Any) -> str:
    return "".join(Answers(**views).json(value))


LEAVES = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text()


@pytest.mark.slow
@given(st.recursive(LEAVES, lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner)))
def test_plain_values_are_written_as_the_standard_library_writes_them(value: object) -> None:
    assert json.loads(text(value)) == value
    printable = json.dumps(value, ensure_ascii=False, indent=2)
    if all(letter.isprintable() or letter == "\n" for letter in printable):
        assert text(value) == printable


@given(st.text())
def test_nothing_that_is_written_commands_a_terminal(value: str) -> None:
    assert text(value).isprintable()


def test_a_record_is_told_by_its_fields_and_how_they_say() -> None:
    assert json.loads(text(WHOLE)) == {
        "head": {"who": "a", "how": "b"},
        "currency": "JPY",
        "parts": [{"name": "x", "size": 0.2, "cost": 1234.0}],
        "figures": {"f": 0.0, "g": None, "more": [{"name": "y", "size": None, "cost": 0.0}]},
        "colour": "red",
        "place": None,
        "day": None,
    }
    assert Answers().plain(WHOLE) == json.loads(text(WHOLE))


def test_a_view_selects_and_the_currency_around_holds() -> None:
    views: Views = {
        Whole: (key("paid_in", "currency"), key("currency", lambda _: "KWD"), key("first", lambda one: one.parts[0])),
        Part: (key("called", "name"), key("cost", told=MINOR)),
    }
    assert Answers(views).plain(WHOLE) == {
        "paid_in": "JPY", "currency": "KWD", "first": {"called": "x", "cost": 1.234},
    }  # fmt: skip


def test_one_key_of_a_record_can_be_read_otherwise() -> None:
    views: Views = {Part: keys_of(Part, name=lambda one: one.name.upper())}
    assert Answers(views).plain(Part("x", 0.25)) == {"name": "X", "size": 0.2, "cost": 0.0}


def test_entries_are_built_as_they_are_written() -> None:
    built: list[int] = []

    def entries() -> Iterator[Part]:
        for number in range(1000):
            built.append(number)
            yield Part(str(number), None)

    pieces = Answers().json({"ranked": entries()})
    while '"0"' not in next(pieces):
        pass
    assert built == [0]


@dataclass(frozen=True)
class Bit:
    name: str
    size: Tenth | None


@dataclass(frozen=True)
class Sheet:
    """A record with all that a column can hold."""

    number: int
    word: str
    size: Annotated[float | None, Told(digits=2)]
    exact: float
    sides: Annotated[dict[str, float | None], Told(digits=1)]
    parts: Annotated[tuple[Bit, ...], Told(key="sides.parts")]
    remark: Annotated[str, Told(where_any=True)]
    nothing: Annotated[tuple[Bit, ...], Told(where_any=True)]
    rest: tuple[Bit, ...]


numbers = st.floats() | st.integers(-40_000, 40_000).map(lambda thousandths: thousandths / 1000)


@pytest.mark.examples
@given(st.lists(st.tuples(numbers, numbers, st.text(max_size=3), st.integers(0, 2)), min_size=1, max_size=9))
def test_records_by_columns_are_told_as_records_are(drawn: list[tuple[float, float, str, int]]) -> None:
    size, exact = (np.array([row[place] for row in drawn]) for place in (0, 1))
    words, count = [row[2] for row in drawn], len(drawn)
    one = Rows(Bit, count, {"name": Same("x"), "size": Numbers(exact, or_none=True)})
    many = Rows(Bit, (total := sum(row[3] for row in drawn)), {"name": ["z"] * total, "size": Same(2)})
    rows = Rows(Sheet, count, {
        "number": list(range(count)), "word": Picked(("p", "q", "r"), np.array([row[3] for row in drawn])),
        "size": Numbers(size, or_none=True), "exact": Numbers(exact),
        "sides": Keyed({"left": Numbers(size, or_none=True), "right": Same(None)}), "parts": InOrder((one, one)),
        "remark": words, "nothing": Same(()), "rest": Several(many, [row[3] for row in drawn]),
    })  # fmt: skip

    class Sheets:
        def by_columns(self, made: Callable[[Mixed], str]) -> Iterator[str]:
            order = list(range(count))[::-1]
            yield made(Mixed(count, [(order, rows)]))

    records = rows.records()[::-1]
    assert text(Sheets()) == text(records)
    assert json.loads(text(Sheets()))[-1]["sides"]["parts"][0]["name"] == "x"


@pytest.mark.parametrize(
    ("value", "digits", "told"),
    [
        (2.675, 2, 2.67),
        (-0.04, 1, 0.0),
        (math.inf, 1, None),
        (None, 1, None),
        (1 / 3, None, 1 / 3),
        (Fraction(1, 3), 6, 0.333333),
    ],
)
def test_rounding(value: float | Fraction | None, digits: int | None, told: float | None) -> None:
    assert rounded(value, digits) == told
    assert told is None or math.copysign(1, rounded(value, digits) or 0.0) == 1


def test_rows_repeat_what_holds_them() -> None:
    rows = list(Answers().rows([Whole("a", "b", "EUR", (Part("x", 1, 150), Part("y", None, 7)))],
                               ("currency", "name", "size", "cost"), along="parts"))  # fmt: skip
    assert rows == [["currency", "name", "size", "cost"], ["EUR", "x", "1.0", "1.50"], ["EUR", "y", "", "0.07"]]
    assert list(Answers().rows([Part("x", 2)], currency="EUR")) == [["name", "size", "cost"], ["x", "2.0", "0.00"]]
    assert list(Answers().rows([], ("name",))) == [["name"]]


def test_cells() -> None:
    told = [None, True, Colour.RED, (1, None, "x"), Decimal("1.50"), datetime(2027, 1, 2, 3, 4, 5, tzinfo=UTC), 0.25]
    assert [cell(value) for value in told] == ["", "yes", "red", "1; ; x", "1.50", "2027-01-02 03:04:05Z", "0.25"]


def test_what_no_answer_can_hold_is_no_answer() -> None:
    with pytest.raises(TypeError):
        text(object())
