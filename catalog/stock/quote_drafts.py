"""A quote as it is worked out, while others write, and as it is then written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from types import SimpleNamespace
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Quote, QuoteLine, QuoteState
from triptych.catalog.errors import BadInput, Overtaken
from triptych.catalog.stock import ledger_rows
from triptych.catalog.stock.locations import common_zone
from triptych.catalog.stock.movement_lines import instant, refuse_text
from triptych.catalog.stock.quote_deliveries import NONE_DELIVERED
from triptych.catalog.stock.quote_facts import QuoteFacts, facts_of
from triptych.catalog.stock.quote_lines import MOST_LINES, Item, priced, refuse_unfit, with_finish
from triptych.catalog.stock.quote_promises import now_of
from triptych.catalog.stock.quote_reading import Offer, QuotedAs, offer_of
from triptych.catalog.stock.timing import HOLD, until_words


@dataclass(frozen=True, slots=True)
class QuoteDraft:
    """A quote that is worked out: its job, its rows, what is worth telling about it, and the loudspeakers' names."""

    job: str
    values: dict[str, object]
    lines: list[dict[str, object]]
    remarks: list[str]
    names: dict[int, str]

    def offer(self, quote: QuotedAs, job: str, zone: str) -> Offer:
        """Give the quote that was written of it."""
        lines = [(SimpleNamespace(**line), self.names[int(str(line["loudspeaker_id"]))]) for line in self.lines]
        return offer_of(quote, job, lines, NONE_DELIVERED, datetime.now(UTC), zone)


def draft(
    session: Session,
    job: str,
    items: Sequence[Item],
    until: date | datetime | None = None,
    who: str | None = None,
    note: str | None = None,
    zone: str | None = None,
) -> QuoteDraft:
    """Work a quote out at today's prices; its days end in `zone`. Nothing is written.

    Raises
    ------
    BadInput
        Nothing is quoted, a price is unknown, or prices are in two currencies.
    NotFound
        No loudspeaker has that name.
    Refused
        It is never ordered, such as the last of its line, and so many are not there.
    """
    _refuse_unfit(job, items, note, who)
    now = now_of(session)
    end = now + HOLD if until is None else instant(until)
    if end <= now:
        raise BadInput(f"until {until_words(end, common_zone(session))}: that has passed; a quote ends in the future")
    wanted = [with_finish(session, item) for item in items]
    for item in wanted:
        refuse_unfit(item)
    finished, grades = any(item.finish for item in wanted), [item.grade for item in wanted]
    names = [item.speaker for item in wanted]
    return _worked_out(facts_of(session, names, grades, job, now, finished=finished), job, wanted, end, who, note, zone)


def draft_of(
    facts: QuoteFacts, job: str, items: Sequence[Item], end: datetime, who: str | None, note: str | None, zone: str
) -> QuoteDraft | None:
    """Work a quote out of what is known; None where it has passed already, which the long way tells.

    Raises
    ------
    BadInput
        Nothing is quoted, a price is unknown, or prices are in two currencies.
    Refused
        It is never ordered, such as the last of its line, and so many are not there.
    """
    _refuse_unfit(job, items, note, who)
    for item in items:
        refuse_unfit(item)
    return None if end <= facts.now else _worked_out(facts, job, items, end, who, note, zone)


def _refuse_unfit(job: str, items: Sequence[Item], note: str | None, who: str | None) -> None:
    if not 1 <= len(items) <= MOST_LINES:
        raise BadInput(f"a quote has from 1 to {MOST_LINES} lines")
    if not rows.name_key(job):
        raise BadInput("a quote needs a job")
    for name, text in (("job", job), ("note", note), ("who", who)):
        refuse_text(name, text)


def _worked_out(
    facts: QuoteFacts,
    job: str,
    items: Sequence[Item],
    end: datetime,
    who: str | None,
    note: str | None,
    zone: str | None,
) -> QuoteDraft:
    found = priced(facts, items)
    values: dict[str, object] = {"state": QuoteState.OPEN, "currency": found.currency, "zone": zone}
    values |= {"made_at": facts.now, "until": end, "who": who, "note": note, "lines": len(found.lines)}
    return QuoteDraft(job, values, found.lines, found.remarks, found.names)


def written(session: Session, made: QuoteDraft) -> Offer:
    """Write a quote as it was worked out, with its job where that is new, and give it.

    Raises
    ------
    Overtaken
        Somebody has removed a loudspeaker of it meanwhile.
    """
    connection = session.connection()
    job_id, job = ledger_rows.job_kept(session, made.job)
    # who wrote it is what the server says
    quote = QuotedAs._make(connection.execute(_INSERT_QUOTE, {"job_id": job_id, **made.values}).one())
    try:
        connection.execute(_INSERT_LINES, [{"quote_id": quote.id, **line} for line in made.lines])
    except sa.exc.IntegrityError as problem:
        raise Overtaken("somebody removed a loudspeaker that is quoted; nothing was written, try again") from problem
    return made.offer(quote, job, "UTC" if quote.zone else common_zone(session))


_INSERT_QUOTE: Final = sa.insert(Quote).returning(
    Quote.id, Quote.state, Quote.currency, Quote.made_at, Quote.until, Quote.who, Quote.note, Quote.zone
)
_INSERT_LINES: Final = sa.insert(QuoteLine)
