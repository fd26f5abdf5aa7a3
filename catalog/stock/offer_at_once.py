"""A quote made by the shortest way: one look at all that it takes, on a server in one call, and one write."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, Final, NamedTuple

import sqlalchemy as sa

from triptych.catalog.database import rows
from triptych.catalog.database.models import Grade, MovementKind, QuoteState
from triptych.catalog.errors import CatalogError
from triptych.catalog.records import PricePer, Status, Tax
from triptych.catalog.stock import call_server, in_file
from triptych.catalog.stock.articles import model_from
from triptych.catalog.stock.availability import Supplied
from triptych.catalog.stock.cost_memory import NOTHING_KNOWN, CostLine, LinesSince, known_ends, numbers_of, taken_in
from triptych.catalog.stock.costs import COSTLY, Costs
from triptych.catalog.stock.grade_prices import Tag
from triptych.catalog.stock.quote_drafts import QuoteDraft, draft_of
from triptych.catalog.stock.quote_facts import QuoteFacts, StandingPrice
from triptych.catalog.stock.quote_lines import Item
from triptych.catalog.stock.quote_reading import Offer, QuotedAs
from triptych.catalog.stock.quote_units import Key
from triptych.catalog.stock.supply import Arrivals, Coming, Lapse, Shelf, day_after
from triptych.catalog.stock.timing import Until, hold_until


class _Told(NamedTuple):
    """What an engine tells, in the order in which it does: each a list of rows but for the instant."""

    now: Any
    zones: Sequence[Any]
    job: Sequence[Any]
    models: Sequence[Any]
    shelves: Sequence[Any]
    orders: Sequence[Any]
    lapses: Sequence[Any]
    lead: Sequence[Any]
    prices: Sequence[Any]
    tags: Sequence[Any]
    listed: Sequence[Any]
    finishes: Sequence[Any]
    held: Sequence[Any]
    merged: Sequence[Any]
    lines: Sequence[Any]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is looked for: keys of names, and up to where costs are known."""

    pool: sa.Pool
    keys: Sequence[str]
    job: str
    day: date

    def known(self) -> str:
        """Tell up to where the holdings of the loudspeakers were read."""
        return known_ends(self.pool, numbers_of(self.pool, self.keys))


Tell = Callable[[_Asked, str], _Told | None]
"""Asks an engine; None where it says no."""


def offered_at_once(
    engine: sa.Engine, job: str, items: Sequence[Item], until: Until, who: str | None, note: str | None
) -> tuple[Offer, list[str]] | None:
    """Make a quote, and give it with what is worth telling; None where the long way has to say more.

    Raises
    ------
    DatabaseProblem
        The server went away while it was asked to keep it, or another wrote the file for all of the time.
    """
    texts = (job, note, who, *(item.speaker for item in items), *(item.finish for item in items))
    # a comma may divide a name from a finish, which has to be looked for
    if not all(text is None or text.isprintable() for text in texts) or any("," in item.speaker for item in items):
        return None
    keys = [rows.name_key(item.speaker) for item in items]
    asked = _Asked(engine.pool, keys, rows.name_key(job), datetime.now(UTC).date())
    file = engine.dialect.name == "sqlite"
    tell, at = (_of_file(engine), in_file.as_instant) if file else (_of_server(engine), call_server.as_instant)
    told = tell(asked, asked.known())
    if told is None or not told.job or {row[-1] for row in told.models} != set(keys):
        return None
    zones = [zone for (zone,) in told.zones]
    zone = zones[0] if len(zones) == 1 else "UTC"
    try:
        end = hold_until(until, zone)
        if end.tzinfo is None:
            return None
        facts = _facts(asked, told, at, lambda: tell(asked, NOTHING_KNOWN))
        draft = draft_of(facts, job, items, end, who, note, zone)
    except CatalogError:
        return None
    number, name = told.job[0]
    quote = None if draft is None else (_kept_in_file if file else _kept_at_server)(engine, draft, number)
    return None if draft is None or quote is None else (draft.offer(quote, name, zone), draft.remarks)


def _facts(asked: _Asked, told: _Told, at: Callable[[Any], datetime], again: Callable[[], _Told | None]) -> QuoteFacts:
    """Read what an engine told."""
    now, by_key = at(told.now), {}
    for number, pack, status, name, key in told.models:
        by_key[key] = model_from(number, pack, None if status is None else Status(status), name)
    numbers = sorted(model.number for model in by_key.values())
    shelves: dict[int, list[Shelf]] = {}
    for number, pack, grade, finish, key, place, free in told.shelves:
        shelves.setdefault(number, []).append(Shelf(pack, Grade(grade), finish, key, place, int(free)))
    sources = Arrivals(now.date())
    for number, expected, units, finish in told.orders:
        when = None if expected is None else date.fromisoformat(expected)
        key = None if finish is None else rows.name_key(finish)
        sources.orders.setdefault(number, []).append(Coming(when, int(units), key))
    for number, end, units, pack, grade, *finish in told.lapses:
        lapse = Lapse(day_after(at(end)), units, pack, Grade(grade), *finish)
        sources.lapses.setdefault(number, []).append(lapse)
    sources.lead.update(dict(told.lead))
    prices = {number: _listed(*price) for number, *price in told.prices}
    tags = {
        (number, Grade.NEW): Tag(one.amount, one.currency, one.per)
        for number, one in prices.items()
        if one.amount is not None and one.currency is not None and one.per is not None
    }
    tags |= {
        (number, Grade(grade)): Tag(amount, money, PricePer(per)) for number, grade, amount, money, per in told.tags
    }
    sources.tags.update(tags)
    finishes: dict[int, dict[str, str | None]] = {number: {} for number in numbers}
    for number, shown, key in told.finishes:
        finishes[number].setdefault(key, shown)
    held: Counter[Key] = Counter()
    for number, grade, key, pack, rest in told.held:
        held[number, Grade(grade), key, pack] += rest

    def all_lines() -> LinesSince:
        whole = again()
        return _lines(told if whole is None else whole)

    names = {key: model.number for key, model in by_key.items()}
    replayed = taken_in(asked.pool, numbers, _lines(told), all_lines, names)
    costs = Costs(replayed, {(number, money): cost for number, money, cost in told.listed})
    models = [by_key[key] for key in asked.keys]
    known = Supplied({model.number: model for model in models}, shelves, sources)
    # neither engine tells here how one is sold: what it might matter for goes the long way, which looks
    untold = {model.number for model in models if model.pack == 1}
    return QuoteFacts(now, models, known, prices, tags, costs, finishes, held, untold)


def _listed(
    amount: int | None, currency: str | None, per: str | None, tax: str | None, rate: float | None
) -> StandingPrice:
    return StandingPrice(
        amount,
        currency,
        None if per is None else PricePer(per),
        None if tax is None else Tax(tax),
        # a server tells 20.0 as 20
        None if rate is None else float(rate),
    )


def _lines(told: _Told) -> LinesSince:
    # by their places, as they stand in it: kind and grade are the sixth and the last but one
    lines = [CostLine._make((*row[:5], _KINDS[row[5]], *row[6:13], _GRADES[row[13]], row[14])) for row in told.lines]
    return LinesSince(lines, told.merged[0][0])


_KINDS: Final = {kind.value: kind for kind in MovementKind}
_GRADES: Final = {grade.value: grade for grade in Grade}


def _of_server(engine: sa.Engine) -> Tell:
    def tell(asked: _Asked, known: str) -> _Told | None:
        values = (list(asked.keys), asked.job, asked.day, known)
        found = call_server.asked_once(engine, "SELECT stock_facts(%s, %s, %s, %s::json)", values)
        return None if found is None else _of_columns(json.loads(found[0]))

    return tell


def _of_columns(found: Sequence[Any]) -> _Told:
    told = _Told(*found)
    # lines are as many as were written since; a server tells them by their columns in less time
    return told._replace(lines=[] if told.lines[0] is None else list(zip(*told.lines, strict=True)))


def _kept_at_server(engine: sa.Engine, draft: QuoteDraft, job: int) -> QuotedAs | None:
    said = {name: _said(value) for name, value in draft.values.items()} | {"job_id": job}
    lines = json.dumps([{name: _said(value) for name, value in line.items()} for line in draft.lines])
    found = call_server.asked_once(engine, _KEEP, (json.dumps(said), lines), writes=True)
    return None if found is None else _quoted(_in_utc, *found)


_KEEP: Final = "SELECT number, currency, made_at, until, who, note, zone FROM stock_offered(%s::json, %s::json)"


def _in_utc(time: datetime) -> datetime:
    return time.astimezone(UTC)


def _said(value: object) -> object:
    if isinstance(value, datetime):
        return value.isoformat()
    return getattr(value, "value", value)


def _quoted(
    at: Callable[[Any], datetime],
    number: int,
    currency: str,
    made_at: Any,
    until: Any,
    who: str | None,
    note: str | None,
    zone: str | None,
) -> QuotedAs:
    return QuotedAs(number, QuoteState.OPEN, currency, at(made_at), at(until), who, note, zone)


def _of_file(engine: sa.Engine) -> Tell:
    def tell(asked: _Asked, known: str) -> _Told | None:
        return in_file.looked_at(engine, lambda driver: _look(driver, asked, known))

    return tell


def _look(driver: Any, asked: _Asked, known: str) -> _Told:
    now = in_file.stored(datetime.now(UTC))
    values = {"keys": json.dumps(list(asked.keys)), "job": asked.job, "day": asked.day.isoformat(), "now": now}
    values["known"] = known
    models = driver.execute(_MODELS, values).fetchall()
    values["numbers"] = json.dumps([row[0] for row in models])
    zones, job = (driver.execute(query, values).fetchall() for query in (_ZONES, _JOB))
    return _Told(now, zones, job, models, *(driver.execute(query, values).fetchall() for query in _REST))


def _kept_in_file(engine: sa.Engine, draft: QuoteDraft, job: int) -> QuotedAs | None:
    def keep(driver: Any) -> QuotedAs | None:
        if not driver.execute(_STILL, (job,)).fetchone():
            return None
        found = driver.execute(
            _QUOTE, {name: _in_file(value) for name, value in draft.values.items()} | {"job_id": job}
        )
        quote = found.fetchone()
        lines = [{name: _in_file(value) for name, value in line.items()} | {"quote": quote[0]} for line in draft.lines]
        driver.executemany(_LINE, lines)
        return _quoted(in_file.as_instant, *quote)

    return in_file.past_statements(engine, keep)


def _in_file(value: object) -> object:
    return in_file.stored(value) if isinstance(value, datetime) else getattr(value, "value", value)


_ASKED: Final = "(SELECT value FROM json_each(:numbers))"
_MODELS: Final = """
SELECT l.id, CASE WHEN l.sold_as = 'pair' THEN 2 ELSE 1 END, l.status,
    m.name || ' ' || COALESCE(s.name || ' ', '') || l.model, l.name_key
  FROM loudspeaker l JOIN maker m ON m.id = l.maker_id LEFT JOIN series s ON s.id = l.series_id
  WHERE l.name_key IN (SELECT value FROM json_each(:keys))
"""
_ZONES: Final = "SELECT DISTINCT zone FROM location LIMIT 2"
_JOB: Final = (
    "SELECT w.id, w.name FROM job j JOIN job w ON w.id = COALESCE(j.merged_into_id, j.id) WHERE j.name_key = :job"
)
_COME: Final = """COALESCE((SELECT SUM(m.quantity) FROM movement m WHERE m.order_id = o.id
    AND NOT EXISTS (SELECT 1 FROM movement u WHERE u.undoes_id = m.id)), 0)"""
_COSTLY: Final = ", ".join(f"'{kind.value}'" for kind in COSTLY)
_REST: Final = (
    f"""
SELECT h.loudspeaker_id, h.pack, h.grade, h.finish, h.finish_key, p.name, e.on_hand - COALESCE((SELECT SUM(r.rest)
    FROM reservation r WHERE r.holding_id = h.id AND r.rest > 0 AND r.until > :now), 0)
  FROM holding h JOIN location p ON p.id = h.location_id {in_file.LAST_LINE}
  WHERE h.loudspeaker_id IN {_ASKED} AND h.grade <> 'quarantine' AND p.loan_job_id IS NULL ORDER BY h.id
""",
    f"""
SELECT o.loudspeaker_id, o.expected, o.quantity - {_COME}, o.finish FROM supply_order o
  WHERE o.cancelled_at IS NULL AND o.job_id IS NULL AND o.quantity > {_COME} AND o.loudspeaker_id IN {_ASKED}
  ORDER BY o.id
""",
    f"""
SELECT h.loudspeaker_id, r.until, r.rest, h.pack, h.grade, h.finish, h.finish_key
  FROM holding h JOIN reservation r ON r.holding_id = h.id JOIN location p ON p.id = h.location_id
  WHERE h.loudspeaker_id IN {_ASKED} AND r.rest > 0 AND r.until > :now AND p.loan_job_id IS NULL ORDER BY r.movement_id
""",
    f"""
SELECT c.loudspeaker_id, MIN(s.lead_time) FROM supplier_price c JOIN supplier s ON s.id = c.supplier_id
  WHERE (c.valid_to IS NULL OR c.valid_to > :day) AND c.loudspeaker_id IN {_ASKED} GROUP BY c.loudspeaker_id
""",
    f"""
SELECT loudspeaker_id, amount, currency, per, tax, tax_rate FROM price
  WHERE loudspeaker_id IN {_ASKED} AND valid_from <= :day AND (valid_to IS NULL OR valid_to > :day)
""",
    f"SELECT loudspeaker_id, grade, amount, currency, per FROM grade_price WHERE loudspeaker_id IN {_ASKED}",
    f"""
SELECT loudspeaker_id, currency, MIN(cost) FROM supplier_price WHERE loudspeaker_id IN {_ASKED} AND cost IS NOT NULL
    AND valid_from <= :day AND (valid_to IS NULL OR valid_to > :day) GROUP BY loudspeaker_id, currency
""",
    f"SELECT loudspeaker_id, finish, finish_key FROM holding WHERE loudspeaker_id IN {_ASKED} ORDER BY id",
    f"""
SELECT h.loudspeaker_id, h.grade, h.finish_key, h.pack, r.rest
  FROM holding h JOIN reservation r ON r.holding_id = h.id JOIN movement n ON n.id = r.movement_id
  WHERE h.loudspeaker_id IN {_ASKED} AND r.rest > 0 AND r.until > :now AND n.quote_id IS NULL AND n.job_id IN (
    SELECT j.id FROM job j WHERE COALESCE(j.merged_into_id, j.id) = (
      SELECT COALESCE(merged_into_id, id) FROM job WHERE name_key = :job))
""",
    "SELECT COUNT(*) FROM job WHERE merged_into_id IS NOT NULL",
    f"""
SELECT h.id, m.sequence, m.digest, h.loudspeaker_id, m.id, m.kind, m.quantity, m.amount, m.currency, m.serial,
    m.from_id, m.undoes_id, h.finish_key, h.grade, COALESCE(j.merged_into_id, j.id)
  FROM holding h
  LEFT JOIN (SELECT json_extract(value, '$[0]') AS holding, json_extract(value, '$[1]') AS sequence
    FROM json_each(:known)) k ON k.holding = h.id
  JOIN movement m ON m.holding_id = h.id AND m.sequence >= COALESCE(k.sequence, 1)
  LEFT JOIN job j ON j.id = m.job_id
  WHERE h.loudspeaker_id IN {_ASKED} AND m.kind IN ({_COSTLY})
""",
)
_STILL: Final = "SELECT 1 FROM job WHERE id = ? AND merged_into_id IS NULL"
_QUOTE: Final = """
INSERT INTO quote (job_id, state, currency, made_at, until, who, note, lines, zone)
  VALUES (:job_id, :state, :currency, :made_at, :until, :who, :note, :lines, :zone)
  RETURNING id, currency, made_at, until, who, note, zone
"""
_LINE: Final = """
INSERT INTO quote_line (quote_id, ordinal, loudspeaker_id, grade, finish, quantity, amount, per, tax, tax_rate, cost,
    discount, full_amount)
  VALUES (:quote, :ordinal, :loudspeaker_id, :grade, :finish, :quantity, :amount, :per, :tax, :tax_rate, :cost,
    :discount, :full_amount)
"""
