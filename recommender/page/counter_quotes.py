"""Quotes at the counter: made, accepted, delivered whole or in part, ended, and printed."""

from __future__ import annotations

from typing import Final

from starlette.responses import Response

from triptych.catalog.database.engine import reading
from triptych.catalog.database.models import Grade, QuoteState
from triptych.catalog.errors import BadInput, CatalogError, NotFound, Overtaken
from triptych.catalog.numbers import percent
from triptych.catalog.shares import discount
from triptych.catalog.stock import desk
from triptych.catalog.stock.counter_words import amount_of, in_words, serials_in
from triptych.catalog.stock.quote_lines import MOST_LINES, Item
from triptych.catalog.stock.quote_reading import offers, parted_words
from triptych.catalog.stock.quotes import QuotePart
from triptych.recommender.page import counter
from triptych.recommender.page.asked import Visit
from triptych.recommender.page.counter_forms import grade_of, number_of, quantity_of
from triptych.recommender.page.finishes import finishes_meant, lines_lacking
from triptych.recommender.page.telling import on_page

QUOTE_STEPS: Final = ("make", "accept", "sell", "lapse")
"""What a quote's buttons ask."""


def quote(asked: Visit) -> Response:
    """Make a quote, or take one a step on; what is refused is told in place."""
    try:
        if question := _left_of(asked):
            number = number_of(asked.word("number"))
            return counter.page(asked, problem=question, status=409, of_quote=True, ending=number)
        made = _made(asked) if asked.word("step") == "make" else _stepped(asked)
    except CatalogError as problem:
        status = 409 if isinstance(problem, Overtaken) else 422
        meant = finishes_meant(problem, asked.form, lines_lacking(problem, asked.form))
        return counter.page(asked, problem=on_page(str(problem)), status=status, finishes=meant, of_quote=True)
    offer = made.offer
    told = [*(in_words(one) for one in made.moved), *made.warnings]
    told.append(
        f"quote {offer.number} for {offer.job}: {offer.state}, {offer.total} {offer.currency} {offer.tax_words}"
    )
    return counter.after(asked, told)


def _left_of(asked: Visit) -> str:
    """Ask of a quote that is delivered in part whether the rest of it is let go of; empty where nothing is to ask."""
    if asked.word("step") != "lapse" or asked.word("for_good") == "yes":
        return ""
    number = number_of(asked.word("number"))
    with reading(asked.catalogue.engine) as session:
        found = offers(session, number)[0]
    told = parted_words(found) if found.state == QuoteState.ACCEPTED.value else ""
    return told and f"quote {number}: {told}. Let go of the rest for good? Nothing was ended yet"


def _made(asked: Visit) -> desk.Step:
    job, until, note = (asked.word(f"quote.{name}") or None for name in ("job", "until", "note"))
    return desk.make_quote(asked.catalogue.engine, job or "", _items(asked), until, asked.who, note)


def _stepped(asked: Visit) -> desk.Step:
    engine, who, step = asked.catalogue.engine, asked.who, asked.word("step")
    number, serials = number_of(asked.word("number")), serials_in(asked.word("serials"))
    if step == "accept":
        return desk.accept_quote(engine, number, asked.word("until") or None, asked.word("from") or None, serials, who)
    if step == "sell":
        return desk.sell_quote(engine, number, serials, who, _parts(asked))
    if step == "lapse":
        return desk.lapse_quote(engine, number, who)
    raise NotFound(f"no quote takes a step that is called {step[:40]!r}; there are {', '.join(QUOTE_STEPS)}")


def _parts(asked: Visit) -> list[QuotePart]:
    """What of a quote is delivered now; nothing where all of it is."""
    found = []
    for row in range(1, MOST_LINES + 1):
        speaker = asked.word(f"part.{row}.model")
        quantity = quantity_of(asked.word(f"part.{row}.quantity"), speaker)
        if speaker and quantity:
            found.append(QuotePart(speaker, quantity, asked.word(f"part.{row}.finish") or None))
    if not found and any(key.startswith("part.") and key.endswith(".quantity") for key, _ in asked.form):
        raise BadInput("nothing of the quote is delivered so: write how many of a line, or sell all of it")
    return found


def _items(asked: Visit) -> list[Item]:
    for_all, rate = _discount(asked.word("quote.discount")), _tax_rate(asked.word("quote.tax_rate"))
    found = []
    for row in range(1, MOST_LINES + 1):
        at = f"quote.{row}."
        speaker = asked.word(f"{at}model")
        if not speaker:
            continue
        amount, currency = amount_of(asked.word(f"{at}price") or None, "price")
        own = _discount(asked.word(f"{at}discount"))
        found.append(
            Item(
                speaker,
                quantity_of(asked.word(f"{at}quantity"), speaker),
                grade_of(asked.word(f"{at}grade")) or Grade.NEW,
                asked.word(f"{at}finish") or None,
                amount,
                currency,
                rate,
                discount=for_all if own is None else own,
            )
        )
    return found


def _tax_rate(text: str) -> float | None:
    try:
        rate = percent(text)
    except BadInput as problem:
        raise BadInput(f"the tax rate: {problem}") from None
    return None if rate is None else float(rate)


def _discount(text: str) -> float | None:
    try:
        return discount(text)
    except BadInput as problem:
        raise BadInput(f"the discount: {problem}") from None
