"""The forms of the counter: what each movement asks, and what was typed as the desk's own request."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from triptych.catalog.database.models import Grade
from triptych.catalog.errors import BadInput
from triptych.catalog.stock.counter_words import amount_of
from triptych.catalog.stock.desk import Request
from triptych.recommender.page.asked import Visit

WHATS: Final[Mapping[str, tuple[str, str]]] = {
    "reserve": ("Reserve", "quantity job until serial note"),
    "sell": ("Sell", "quantity job serial price note"),
    "receive": ("Receive", "quantity serials cost per order note"),
    "transfer": ("Move", "quantity to send job serial note"),
    "count": ("Count", "counted reason"),
    "lend": ("Lend out", "quantity job until serial note"),
    "bring-back": ("Bring back", "quantity job serial note"),
    "return": ("Take back", "quantity job serial sold_as refund note"),
    "release": ("Release", "quantity job serial note"),
    "regrade": ("Regrade", "quantity goal serial note"),
    "split": ("Split a pair", "serial serials note"),
    "join": ("Join to a pair", "serials serial note"),
    "write-off": ("Write off", "quantity serial reason"),
}
"""What is done at the counter, what its button says, and which fields it has beside model, place, grade and finish."""

LABELS: Final = {
    "quantity": ("How many", "Loudspeakers, also where they come in pairs; one, or one pair, if empty"),
    "counted": ("How many are there", "Loudspeakers; what is there now is replaced by it"),
    "job": ("For which job", "A customer or a project"),
    "until": ("Until", "2026-12-31, to its end where the units are, or 2026-12-31 18:00; in 14 days if empty"),
    "serial": ("Serial", "Which one, of those that have a serial; of a pair that is split or joined, its own"),
    "serials": (
        "Serials",
        "With commas between: one of each unit, or of each pair as it comes; those of the two singles of a pair",
    ),
    "price": ("Price of one, before tax", "With its currency, such as 480 EUR"),
    "cost": ("Cost, before tax", "With its currency, such as 310 EUR"),
    "per": ("What the cost bought", "Asked of what is sold in pairs"),
    "order": ("From which order", "Its number, where it was ordered"),
    "to": ("To which place", "A shop, a store, a van"),
    "send": ("By way of a van", "They are on their way until they arrive"),
    "refund": ("Its money is given back", "Nothing is owed in its place"),
    "goal": ("Grade it becomes", "Only what comes out of quarantine can be new"),
    "sold_as": ("Sold as", "In what condition it was sold; noted"),
    "note": ("Note", "What else is to be known"),
    "reason": ("Reason", "Why: the ledger keeps it"),
}

_OPTION: Final = re.compile(r"--([a-z])")
"""An option of a command, which has a field of its name here."""

FIELDS: Final = ("model", "location", "grade", "finish", "single", "seen", *LABELS)
"""Every field that some movement has."""


def in_fields(words: str) -> str:
    """What a command would tell, for somebody who has fields and no options."""
    return _OPTION.sub(r"\1", words)


def request_of(asked: Visit, what: str) -> Request:
    """What the form of a movement asks of the desk.

    Raises
    ------
    BadInput
        A number, an amount or a grade can't be read.
    """
    quantity = quantity_of(asked.word("counted" if what == "count" else "quantity"))
    if what == "count" and quantity is None:
        raise BadInput("it isn't said how many there are: count them and write the number")
    field = "cost" if what == "receive" else "price"
    amount, currency = amount_of(asked.word(field) or None, field)
    return Request(
        model=asked.word("model"),
        location=asked.word("location"),
        quantity=quantity,
        grade=grade_of(asked.word("grade")) or Grade.NEW,
        finish=asked.word("finish") or None,
        serial=asked.word("serial") or None,
        single=asked.word("single") == "yes",
        job=asked.word("job") or None,
        order=number_of(asked.word("order")) if what == "receive" and asked.word("order") else None,
        note=asked.word("reason") or asked.word("note") or None,
        amount=amount,
        currency=currency,
        who=asked.who,
        new_finish=asked.word("new_finish") == "yes",
    )


def quantity_of(text: str, of: str = "") -> int | None:
    """How many, None where nobody said.

    Raises
    ------
    BadInput
        It is no whole number.
    """
    if text and not (text.isdecimal() and text.isascii() and len(text) < 8):
        raise BadInput(f"how many{f' {of}' if of else ''} is {text[:40]!r}: a whole number is wanted")
    return int(text) if text else None


def grade_of(text: str) -> Grade | None:
    """A grade by its name, None where there is none.

    Raises
    ------
    BadInput
        There is no such grade.
    """
    if not text:
        return None
    try:
        return Grade(text)
    except ValueError:
        raise BadInput(f"{text[:40]!r} is no grade; there are {', '.join(one.value for one in Grade)}") from None


def number_of(text: str) -> int:
    """The number of a line, a quote or an order.

    Raises
    ------
    BadInput
        It is none.
    """
    if not (text.isdecimal() and text.isascii()) or len(text) > 9:
        raise BadInput(f"{text[:40]!r} is no number of a line, a quote or an order")
    return int(text)
