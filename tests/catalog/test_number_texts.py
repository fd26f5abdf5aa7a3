"""Messy texts and what they must come to; every third row was kept aside while the reader was written."""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from triptych.catalog import money, number_texts, numbers
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import LOUDSPEAKER, ROOM_QUANTITIES

with (Path(__file__).parent / "numbers.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = list(csv.DictReader(_file))


def _marked(place: int) -> object:
    row = ROWS[place]
    aside = "aside" if place % 3 == 2 else "open"
    return pytest.param(row, id=f"{aside}-{place + 2}-{row['as']}-{row['text'][:24]!a}")


def _told(row: dict[str, str]) -> str:
    mark = next((mark for mark in (".", ",") if mark == row["mark"]), None)
    if row["as"] == "price":
        amount = money.price(row["text"], mark)
        return f"{number_texts.plain(amount.value)} {amount.currency or ''}".strip()
    quantity = LOUDSPEAKER.get(row["as"]) or ROOM_QUANTITIES[row["as"]]
    value = numbers.read(row["text"], quantity, mark)
    return "unknown" if value is None else _plain(numbers.write(value, quantity))


def _plain(text: str) -> str:
    """An amount without zeros at its end."""
    number, _, currency = text.partition(" ")
    return text if text == "unknown" else f"{number_texts.plain(Decimal(number))} {currency}".strip()


@pytest.mark.parametrize("row", [_marked(place) for place in range(len(ROWS))])
def test_a_text_comes_to_its_number_or_is_refused_with_why(row: dict[str, str]) -> None:
    if row["value"] != "refused":
        assert _told(row) == _plain(row["value"])
        return
    with pytest.raises(BadInput) as refusal:
        _told(row)
    assert row["says"] in str(refusal.value)
    assert number_texts.quoted(row["text"]) in str(refusal.value)
