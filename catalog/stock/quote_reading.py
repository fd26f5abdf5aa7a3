"""Quotes as rows for people and programs, detached from the session."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Quote, QuoteLine, QuoteState
from triptych.catalog.errors import NotFound
from triptych.catalog.money import to_amount
from triptych.catalog.records import PricePer, Tax
from triptych.catalog.stock.articles import named, speaker_name
from triptych.catalog.stock.costs import margin, net_each, whole
from triptych.catalog.stock.job_names import JOB, job_of, with_job
from triptych.catalog.stock.locations import common_zone
from triptych.catalog.stock.quote_deliveries import NONE_DELIVERED, Delivered, by_line, delivered
from triptych.catalog.stock.replacements import NONE_BACK, CameBack, Owed, back_of_quotes


@dataclass(frozen=True, slots=True)
class Quoted:
    """One line of a quote, in its currency; unknown is None.

    `delivered` went out, `to_come` is accepted and has not; `returned` came back and is owed again, `refunded` came
    back for its money.
    """

    speaker: str
    quantity: int
    grade: str
    finish: str | None
    price: Decimal
    per: str
    total: Decimal
    tax: str | None
    tax_rate: float | None
    net_each: Decimal | None
    cost_each: Decimal | None
    margin: float | None
    discount: float | None
    full_price: Decimal | None
    delivered: int
    to_come: int
    returned: int
    refunded: int

    @property
    def gone_words(self) -> str:
        """What of a part that went out is to come or came back; empty where all went out and stayed, or none did."""
        parted = self.delivered < self.quantity or self.returned or self.refunded
        are = "is" if self.returned == 1 else "are"
        told = (
            f"{self.delivered} delivered" if self.delivered and parted else "",
            f"{self.to_come} to come" if self.delivered and self.to_come else "",
            f"{self.returned} came back and {are} owed again" if self.returned else "",
            f"{self.refunded} came back for the money" if self.refunded else "",
        )
        return ", ".join(filter(None, told))


@dataclass(frozen=True, slots=True)
class Offer:
    """A quote: its state by the clock, its lines, and the time zone in which its days end."""

    number: int
    job: str
    state: str
    currency: str
    made_at: datetime
    until: datetime
    total: Decimal
    margin: float | None
    who: str | None
    note: str | None
    lines: tuple[Quoted, ...]
    zone: str
    returned: int
    refunded: int

    @property
    def tax_words(self) -> str:
        """Whether tax is in its prices."""
        known = {Tax.INCLUDED.value: "with tax", Tax.EXCLUDED.value: "without tax", None: "with or without tax"}
        kinds = {line.tax for line in self.lines}
        return known[kinds.pop()] if len(kinds) == 1 else "partly with tax"


def offers(session: Session, number: int | None = None, now: datetime | None = None) -> list[Offer]:
    """Give the quotes, newest last, or the one of that number.

    Raises
    ------
    NotFound
        None has that number.
    """
    query = with_job(sa.select(Quote, JOB.name), Quote.job_id).order_by(Quote.id)
    if number is not None:
        if not 1 <= number < 2**31:
            raise NotFound(f"no quote has the number {number}")
        query = query.where(Quote.id == number)
    found = session.execute(query).all()
    if number is not None and not found:
        raise NotFound(f"no quote has the number {number}")
    lines, gone = _quote_lines(session, number), delivered(session, number)
    back: Mapping[int, CameBack] = {}
    if gone:
        back = back_of_quotes(session, None if number is None else job_of(session, found[0][0].job_id)[0])
    moment = now or datetime.now(UTC)
    zone = common_zone(session) if any(quote.zone is None for quote, _ in found) else "UTC"
    return [
        offer_of(
            quote,
            job,
            lines.get(quote.id, []),
            gone.get(quote.id, NONE_DELIVERED),
            moment,
            zone,
            back.get(quote.id, NONE_BACK),
        )
        for quote, job in found
    ]


class QuotedAs(NamedTuple):
    """A quote as it was read past all that a row of ours needs."""

    id: int
    state: QuoteState
    currency: str
    made_at: datetime
    until: datetime
    who: str | None
    note: str | None
    zone: str | None


def without_net(offer: Offer) -> list[str]:
    """Give one warning where prices of a quote have tax in them, or may have, and nobody says how much."""
    unknown = [line for line in offer.lines if line.net_each is None]
    if not unknown:
        return []
    names = ", ".join(dict.fromkeys(line.speaker for line in unknown))
    if all(line.tax is not None for line in unknown):
        # what is accepted keeps its prices, and what is sold is sold at them
        late = {"accepted": ": lapse it and make it anew with its tax rate", "sold": ""}
        why = "the price is with tax and its rate is not known"
        mend = late.get(offer.state, ": make the quote with its tax rate")
    else:
        why, mend = "whether tax is in the price is not known", ": say it in the loudspeaker's price, tax and tax_rate"
    return [f"warning: {names}: {why}, so stock margin counts the sale as without a price{mend}"]


def parted_words(offer: Offer) -> str:
    """Say what of a quote stays sold when the rest is let go of; empty where nothing or all of it was delivered."""
    out, all_of_it = (sum(getattr(line, name) for line in offer.lines) for name in ("delivered", "quantity"))
    return f"{out} of {all_of_it} were delivered and stay sold" if 0 < out < all_of_it else ""


def ended_words(offer: Offer) -> list[str]:
    """Say of a quote that lapsed half delivered that the rest of it comes no more."""
    told = parted_words(offer)
    return [f"quote {offer.number}: {told}; the rest is let go of for good: make a new quote if it is to come"] * bool(
        told
    )


def _quote_lines(session: Session, number: int | None) -> dict[int, list[tuple[QuoteLine, str]]]:
    query = named(sa.select(QuoteLine, speaker_name()), QuoteLine.loudspeaker_id)
    query = query.order_by(QuoteLine.quote_id, QuoteLine.ordinal)
    if number is not None:
        query = query.where(QuoteLine.quote_id == number)
    grouped: dict[int, list[tuple[QuoteLine, str]]] = {}
    for line, speaker in session.execute(query):
        grouped.setdefault(line.quote_id, []).append((line, speaker))
    return grouped


def offer_of(
    quote: Quote | QuotedAs,
    job: str,
    lines: Sequence[tuple[Any, str]],
    gone: Delivered,
    now: datetime,
    zone: str,
    back: CameBack = NONE_BACK,
) -> Offer:
    """Give a quote by its row and those of its lines, each with the name of its loudspeaker.

    `gone` was delivered, and of that `back` came back.
    """
    lapsed = quote.state is QuoteState.OPEN and quote.until <= now
    units = by_line((line for line, _ in lines), gone)
    rows_of = [line for line, _ in lines]
    owed = _back_by_line(rows_of, units, back.owed)
    kept = [out - again for out, again in zip(units, owed, strict=True)]
    refunded = _back_by_line(rows_of, kept, back.refunded)
    quoted = tuple(_quoted(quote, *line, *counted) for line, *counted in zip(lines, units, owed, refunded, strict=True))
    return Offer(
        number=quote.id,
        job=job,
        state=QuoteState.LAPSED.value if lapsed else quote.state.value,
        currency=quote.currency,
        made_at=quote.made_at,
        until=quote.until,
        total=sum((line.total for line in quoted), Decimal(0)),
        margin=_whole_margin(quoted),
        who=quote.who,
        note=quote.note,
        lines=quoted,
        zone=quote.zone or zone,
        returned=sum(owed),
        refunded=sum(refunded),
    )


def _back_by_line(lines: Sequence[Any], gone: Sequence[int], back: Owed) -> list[int]:
    """Give how many of what was delivered of each line came back; of lines that are alike the first goes first."""
    left, found = dict(back), []
    for line, out in zip(lines, gone, strict=True):
        sort = (line.loudspeaker_id, rows.name_key(line.finish))
        units = min(left.get(sort, 0), out)
        left[sort] = left.get(sort, 0) - units
        found.append(units)
    return found


def _whole_margin(lines: tuple[Quoted, ...]) -> float | None:
    net, cost = Decimal(0), Decimal(0)
    for line in lines:
        if line.net_each is None or line.cost_each is None:
            return None
        net += line.net_each * line.quantity
        cost += line.cost_each * line.quantity
    return float((net - cost) / net) if net else None


def _quoted(quote: Quote | QuotedAs, line: QuoteLine, speaker: str, gone: int, back: int, refunded: int) -> Quoted:
    currency = quote.currency
    net = net_each(line.amount, line.per, line.tax, line.tax_rate)
    units = Decimal(line.quantity) / (2 if line.per is PricePer.PAIR else 1)
    left = margin(net, line.cost)
    return Quoted(
        speaker=speaker,
        quantity=line.quantity,
        grade=line.grade.value,
        finish=line.finish,
        price=to_amount(line.amount, currency),
        per=line.per.value,
        total=to_amount(whole(line.amount * units), currency),
        tax=None if line.tax is None else line.tax.value,
        tax_rate=line.tax_rate,
        net_each=None if net is None else to_amount(whole(net), currency),
        cost_each=None if line.cost is None else to_amount(line.cost, currency),
        margin=None if left is None else float(left),
        discount=line.discount,
        full_price=None if line.full_amount is None else to_amount(line.full_amount, currency),
        delivered=gone,
        to_come=line.quantity - gone if quote.state is QuoteState.ACCEPTED else 0,
        returned=back,
        refunded=refunded,
    )
