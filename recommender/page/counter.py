"""The counter: what is available, what is promised and quoted, and every movement, by the desk's own functions."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from starlette.responses import Response

from triptych.catalog.database.engine import reading
from triptych.catalog.database.listings import Holds
from triptych.catalog.database.models import Grade
from triptych.catalog.database.rows import name_key
from triptych.catalog.errors import CatalogError, NotFound, Overtaken
from triptych.catalog.stock import articles, carrying, desk, locations, serials
from triptych.catalog.stock import reading as shelves
from triptych.catalog.stock.counter_words import in_words, serials_in
from triptych.catalog.stock.desk import Answer, Request
from triptych.catalog.stock.quote_reading import offers
from triptych.catalog.stock.timing import until_words
from triptych.catalog.stock.unit_costs import cost_of_one
from triptych.recommender.page.asked import Visit, address
from triptych.recommender.page.counter_forms import (
    FIELDS,
    LABELS,
    WHATS,
    grade_of,
    in_fields,
    number_of,
    request_of,
)
from triptych.recommender.page.finishes import FinishMeant, finishes_meant
from triptych.recommender.page.purchasing import buys
from triptych.recommender.page.rendering import moved, shown
from triptych.recommender.page.telling import Tellings, on_page

ROWS_SHOWN: Final = 200
"""So many rows of each table are shown; a search leaves fewer."""

QUOTE_ROWS: Final = 5
"""A quote's form has room for so many loudspeakers at first."""

DONE: Final = "done"
"""The name in the address of the token by which what was done is told, once."""

_tellings: Final = Tellings()


def counter(asked: Visit) -> Response:
    """What there is, by loudspeaker, place and job; reservations and quotes; a serial found."""
    return page(asked, done=_tellings.take(asked.word(DONE)))


def after(asked: Visit, told: Sequence[str]) -> Response:
    """Send the browser on to the top of the counter, which tells once what was done."""
    return moved(address("/counter", [*asked.state, (DONE, _tellings.keep(told))]) + "#main")


def page(
    asked: Visit,
    *,
    done: Sequence[str] = (),
    problem: str = "",
    status: int = 200,
    form: Mapping[str, Any] | None = None,
    finishes: Sequence[FinishMeant] = (),
    of_quote: bool = False,
    ending: int | None = None,
) -> Response:
    """The counter, with what was done or refused, what was typed, and the finishes of which one may be meant.

    `ending` is the quote of which is asked whether what is left of it is let go of.
    """
    text, place, job = (asked.word(name) for name in ("q", "at", "job_is"))
    with reading(asked.catalogue.engine) as session:
        places = [one.name for one in locations.locations(session)]
        there = shelves.stock_list(session, None, place or None, include_empty=asked.word("all") == "yes")
        held = shelves.reservations(session)
        quotes = offers(session)
        paired = articles.sold_in_pairs(session)
        lent = {one.location: one.job for one in carrying.loans(session)}
        traced = serials.units_of_serial(session, asked.word("serial_is")) if asked.word("serial_is") else None
    wanted = name_key(text).split()
    there = [one for one in there if all(word in name_key(one.speaker) for word in wanted)]
    held = [one for one in held if name_key(job) in name_key(one.job)] if job else held
    if job:
        jobs = {(one.speaker, one.location) for one in held}
        there = [one for one in there if (one.speaker, one.location) in jobs]
    values: dict[str, Any] = {
        "there": [_row(asked, one, paired, lent) for one in there[:ROWS_SHOWN]],
        "more": max(len(there) - ROWS_SHOWN, 0),
        "held": [(one, until_words(one.until, one.zone), _held(asked, one, paired, lent)) for one in held[:ROWS_SHOWN]],
        "quotes": [(one, until_words(one.until, one.zone)) for one in reversed(quotes[-ROWS_SHOWN:])],
        "traced": traced,
        "places": places,
        "search": {"q": text, "at": place, "job_is": job, "serial_is": asked.word("serial_is")},
        "done": done,
        "problem": in_fields(problem),
        "finishes": finishes,
        "of_quote": of_quote,
        "ending": ending,
        "again": asked.link("/quote") + "#quotes" if of_quote else asked.link("/counter") + "#move",
    }
    return shown("counter.html.j2", asked, status, step="counter", whats=WHATS, **values, **_form(asked, form))


def _alike(one: Holds | shelves.Held, paired: Collection[str]) -> dict[str, str]:
    """What tells the units of a row from all others."""
    single = "yes" if one.pack == 1 and one.speaker in paired else ""
    sort = {"grade": one.grade, "finish": one.finish or "", "single": single}
    return {"model": one.speaker, "location": one.location, **sort}


def _row(asked: Visit, one: Holds, paired: Collection[str], lent: Mapping[str, str]) -> dict[str, Any]:
    """What there is of one sort at one place, with what can be done there; what is lent comes back first."""
    alike = _alike(one, paired)
    if one.location in lent:
        back = alike | {"location": "", "job": lent[one.location], "quantity": str(one.on_hand)}
        return {"one": one, "links": {"bring-back": _action(asked, "bring-back", **back)}}
    # what waits for its grade is neither sold nor promised
    free = () if one.grade == Grade.QUARANTINE.value else ("reserve", "sell")
    links = {what: _action(asked, what, **alike, seen=str(one.on_hand)) for what in (*free, "transfer", "count")}
    return {"one": one, "links": links}


def _held(asked: Visit, one: shelves.Held, paired: Collection[str], lent: Mapping[str, str]) -> dict[str, str]:
    """What can be done with what is promised, by the address of its form."""
    alike = _alike(one, paired) | {"job": one.job, "quantity": str(one.units), "serial": one.serial or ""}
    if one.location in lent:
        back = alike | {"location": ""}
        return {"bring-back": _action(asked, "bring-back", **back), "sell": _action(asked, "sell", **alike)}
    return {what: _action(asked, what, **alike) for what in ("sell", "transfer", "release")}


def _action(asked: Visit, what: str, **fields: str) -> str:
    """The address of the counter with the form of a movement open and filled in."""
    return address("/counter", [*asked.state, ("what", what), *fields.items()]) + "#move"


def _form(asked: Visit, typed: Mapping[str, Any] | None) -> dict[str, Any]:
    """The form of a movement with what stands in it."""
    what = asked.word("what") or "receive"
    if what not in WHATS:
        raise NotFound(f"nothing is done that is called {what!r}; there are {', '.join(WHATS)}")
    given = dict(typed) if typed is not None else {name: asked.word(name) for name in FIELDS}
    return {
        "what": what,
        "title": WHATS[what][0],
        "fields": [(name, *LABELS[name], given.get(name, "")) for name in WHATS[what][1].split()],
        "given": {name: given.get(name, "") for name in FIELDS},
        "grades": [grade.value for grade in Grade],
        "quote_rows": range(1, QUOTE_ROWS + 1),
        "quote": {key: value for key, value in asked.form if key.startswith("quote.")},
    }


def move(asked: Visit) -> Response:
    """Do at the desk what the form asks; what is refused is told in place, and the form keeps what was typed."""
    what = asked.word("what")
    try:
        answer = _moved(asked, what)
    except CatalogError as problem:
        status = 409 if isinstance(problem, Overtaken) else 422
        typed = {name: asked.word(name) for name in FIELDS}
        meant = finishes_meant(problem, (*asked.form, ("new_finish", "yes")), lambda name: name == "finish")
        return page(asked, problem=on_page(str(problem)), status=status, form=typed, finishes=meant)
    told = [in_words(answer.done), *answer.remarks]
    if asked.word("send") == "yes" and what == "transfer":
        told.append(f"on their way as line {answer.done.lines[0]}: when they come, take that line in")
    return after(asked, told)


def _moved(asked: Visit, what: str) -> Answer:
    engine = asked.catalogue.engine
    request, listed, until = request_of(asked, what), serials_in(asked.word("serials")), asked.word("until") or None
    if what == "receive" and request.amount is not None:
        with reading(engine) as session:
            per, single = buys(asked), request.single
            request = replace(request, amount=cost_of_one(session, request.model, request.amount, per, single=single))
    does: dict[str, Callable[[], Answer]] = {
        "receive": lambda: desk.receive(engine, request, listed),
        "reserve": lambda: desk.reserve(engine, request, until),
        "release": lambda: desk.release(engine, request),
        "sell": lambda: desk.sell(engine, request),
        "return": lambda: desk.take_back(
            engine, request, grade_of(asked.word("sold_as")), refund=asked.word("refund") == "yes"
        ),
        "transfer": lambda: desk.transfer(engine, request, asked.word("to"), send=asked.word("send") == "yes"),
        "count": lambda: _counted(asked, request),
        "regrade": lambda: desk.regrade(engine, request, grade_of(asked.word("goal")) or Grade.OPEN_BOX, request.grade),
        "split": lambda: desk.split(engine, request, listed),
        "join": lambda: desk.join(engine, request, listed),
        "lend": lambda: desk.lend(engine, request, until),
        "bring-back": lambda: desk.bring_back(engine, request),
        "write-off": lambda: desk.write_off(engine, request),
    }
    if what not in does:
        raise NotFound(f"nothing is done that is called {what!r}; there are {', '.join(does)}")
    return does[what]()


def _counted(asked: Visit, request: Request) -> Answer:
    """Count, unless somebody has moved units since the form was opened."""
    seen = asked.word("seen")
    if seen.isdecimal():
        with reading(asked.catalogue.engine) as session:
            there = [
                one.on_hand
                for one in shelves.stock_list(session, None, request.location, include_empty=True)
                if name_key(one.speaker) == name_key(request.model)
                and one.grade == request.grade.value
                and name_key(one.finish or "") == name_key(request.finish or "")
            ]
        if there and int(seen) not in there:
            raise Overtaken(
                f"{there[0]} are on hand there now, and you saw {seen}: somebody has moved some since; nothing was"
                " written. Count again"
            )
    return desk.count(asked.catalogue.engine, request)


def arrive(asked: Visit) -> Response:
    """Take in what was sent, or take back a mistyped line of the ledger."""
    engine = asked.catalogue.engine
    try:
        number = number_of(asked.word("number"))
        if asked.word("step") == "undo":
            answer = desk.undo(engine, number, asked.word("note") or None, asked.who)
            told = [in_words(answer.done), *answer.remarks]
        else:
            told = [in_words(one) for one in desk.arrive(engine, number, None, asked.who)]
    except CatalogError as problem:
        return page(asked, problem=on_page(str(problem)), status=422)
    return after(asked, told)
