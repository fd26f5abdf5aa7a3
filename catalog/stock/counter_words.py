"""What is said at a counter: amounts as they are written there, and what a movement came to as a sentence."""

from __future__ import annotations

import re
from datetime import datetime
from typing import TYPE_CHECKING

from triptych.catalog.errors import BadInput
from triptych.catalog.money import WITH_CURRENCY, currency_of, price, to_minor
from triptych.catalog.stock.movement_lines import LENT, at_place
from triptych.catalog.stock.timing import until_words

if TYPE_CHECKING:
    from triptych.catalog.stock.desk import Done


def amount_of(text: str | None, called: str) -> tuple[int | None, str | None]:
    """Read an amount with its currency, `310 EUR`, in minor units; `called` names it in errors.

    Raises
    ------
    BadInput
        It is no amount, or its currency is not said.
    """
    if text is None:
        return None, None
    try:
        amount = price(text, wanted=WITH_CURRENCY)
        code = currency_of(amount, text)
    except BadInput as problem:
        raise BadInput(f"{called} {problem}") from None
    if code is None:
        raise BadInput(f"{called} {text!r}: {WITH_CURRENCY}")
    return to_minor(amount.value, code), code


def serials_in(text: str) -> list[str]:
    """Read several serials, with commas or semicolons between.

    >>> serials_in("A1, A2;A3")
    ['A1', 'A2', 'A3']
    """
    return [one.strip() for one in re.split(r"[,;]", text) if one.strip()]


def in_words(done: Done) -> str:
    """Give what a movement came to as a sentence."""
    # "moved 2 to shop 1" and not "moved to shop 1 2"
    what, *to = re.split(r"( (?:in)?to )", done.done, maxsplit=1)
    sort = [done.finish, None if done.grade == "new" else done.grade.replace("_", " "), done.serial]
    where = at_place(done.location)
    held = f" for {done.job}" if done.job and where != LENT.format(done.job) else ""
    if done.until:
        held += f" until {until_words(datetime.fromisoformat(done.until), done.zone)}"
    numbers = ", ".join(map(str, done.lines))
    line = f"line{'s' * (len(done.lines) > 1)} {numbers}" if numbers else "as the ledger says"
    sentence = (
        f"{what} {done.quantity}{''.join(to)}: {', '.join(filter(None, [done.speaker, *sort]))}"
        f" {where}{held}; now {done.on_hand} on hand, {done.reserved} reserved,"
        f" {done.available} available ({line})"
    )
    return " ".join(sentence.split())
