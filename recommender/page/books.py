"""The books of the firm: jobs, ledger, loans, what is to be ordered, value and margin, and deliveries from a file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from sqlalchemy.orm import Session
from starlette.responses import Response

from triptych.catalog import money
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.errors import BadInput, CatalogError, NotFound, Overtaken, Refused
from triptych.catalog.stock import carrying, desk, earnings, job_sums, reordering, suppliers
from triptych.catalog.stock import reading as shelves
from triptych.catalog.stock.counter_words import in_words
from triptych.catalog.stock.deliveries import Delivery, receive_delivery
from triptych.catalog.stock.locations import locations
from triptych.catalog.stock.movement_lines import to_place
from triptych.catalog.stock.timing import day_of, until_words, zone_of
from triptych.recommender.page import purchasing
from triptych.recommender.page.asked import Visit, address
from triptych.recommender.page.book_view import BookView, Cell, sort_words
from triptych.recommender.page.counter_forms import in_fields, quantity_of
from triptych.recommender.page.rendering import moved, shown
from triptych.recommender.page.telling import Tellings, on_page

LINES_SHOWN: Final = 200
"""So many of the newest lines of the ledger are shown; a narrower question leaves fewer."""

NUMERIC: Final = frozenset(
    (
        *(
            "quantity",
            "on hand",
            "units",
            "offered",
            "promised",
            "ordered",
            "to order",
            "lent",
            "installed",
            "returned",
        ),
        *("outstanding", "free", "coming", "at least", "up to", "net", "cost", "margin", "come"),
    )
)
"""Heads of columns that hold numbers."""

_tellings: Final = Tellings()


def books(asked: Visit) -> Response:
    """One view of the books."""
    return _page(asked, done=_tellings.take(asked.word("done")))


def _page(asked: Visit, *, done: Sequence[str] = (), problem: str = "", status: int = 200) -> Response:
    view = asked.word("view") or "jobs"
    if view not in VIEWS:
        raise NotFound(f"the books have no view that is called {view[:40]!r}; there are {', '.join(VIEWS)}")
    table: BookView | None = None
    with reading(asked.catalogue.engine) as session:
        places = [one.name for one in locations(session)]
        from_whom = [one.name for one in suppliers.suppliers(session)]
        try:
            table = VIEWS[view][1](asked, session)
        except CatalogError as refused:
            problem, status = problem or str(refused), max(status, 422)
    values = {
        "view": view,
        "views": [(name, words, asked.link("/books", view=name)) for name, (words, _) in VIEWS.items()],
        "table": table,
        "numeric": NUMERIC,
        "places": places,
        "suppliers": from_whom,
        "priced_grades": purchasing.PRICED_GRADES,
        "labels_url": asked.link("/labels", **{name: asked.word(name) for name in LABEL_FIELDS}),
        "typed": {name: asked.word(name) for name in TYPED},
        "done": done,
        "problem": in_fields(problem),
    }
    return shown("books.html.j2", asked, status, step="books", **values)


LABEL_FIELDS: Final = ("model", "at", "job", "serials", "number")
"""What says which labels are wanted."""

TYPED: Final = (
    *("model", "day", "to", "who", "job", "at", "by", "every", "finish", "least", "up_to", "new", "number", "article"),
    *("supplier", "currency", "quantity", "expected", "lead_time", "grade", "price", "per", "serials", "find", "step"),
)
"""Every field that a form of the books has."""


def _jobs(asked: Visit, session: Session) -> BookView:
    if asked.word("job"):
        return _one_job(asked, session)
    found = job_sums.jobs(session, every=asked.word("every") == "yes")
    heads = ("job", *COUNTED, "first lapses")
    rows: list[Sequence[Cell]] = [
        (
            (one.job, asked.link("/books", view="jobs", job=one.job)),
            *_counts(one),
            until_words(one.until, one.zone) if one.until else "",
        )
        for one in found
    ]
    return BookView(heads, rows, "No job of which anything is open.")


COUNTED: Final = ("offered", "promised", "ordered", "to order", "lent", "installed", "returned", "outstanding")
"""What is counted of a job, and of each loudspeaker of it, in the order of `_counts`."""


def _counts(one: job_sums.JobSum | job_sums.JobLine) -> tuple[str, ...]:
    open_ = (one.offered, one.promised, one.ordered, one.to_order, one.lent)
    counts = (*open_, one.installed, one.returned, one.outstanding)
    return tuple(str(count) if count else "–" for count in counts)


def _one_job(asked: Visit, session: Session) -> BookView:
    found = job_sums.job_story(session, asked.word("job"))
    heads = ("loudspeaker", *COUNTED, "fetch")
    rows = [(sort_words(one.speaker, one.finish), *_counts(one), ", ".join(one.to_fetch)) for one in found.lines]
    notes = job_sums.story_words(found)
    return BookView(heads, rows, f"Nothing is offered, promised, ordered or installed for {found.job}.", notes)


def _ledger(asked: Visit, session: Session) -> BookView:
    day, to = (day_of(asked.word(name) or None, label) for name, label in (("day", "day"), ("to", "up to")))
    model, who, job, at = (asked.word(name) or None for name in ("model", "who", "job", "at"))
    found = shelves.ledger(session, shelves.LinesAsked(model, day, to, who, job, at), LINES_SHOWN + 1)
    heads = ("line", "at", "what", "quantity", "on hand", "loudspeaker", "place", "who", "besides")
    rows = [_line(one) for one in found[-LINES_SHOWN:]]
    more = f"The newest {LINES_SHOWN} are shown: a day, a person or a place leaves fewer."
    return BookView(heads, rows[::-1], "The ledger has no such line.", [more] if len(found) > LINES_SHOWN else [])


def _line(one: shelves.Entry) -> tuple[str, ...]:
    besides = (
        f"serial {one.serial}" if one.serial else None,
        to_place(one.to) if one.to else None,
        f"for {one.job}" if one.job else None,
        f"until {until_words(one.until, one.zone)}" if one.until else None,
        f"quote {one.quote}" if one.quote else None,
        f"order {one.order}" if one.order else None,
        f"takes back line {one.undoes}" if one.undoes else None,
        f"{one.amount} {one.currency} each" if one.amount is not None else None,
        one.note,
    )
    grade = None if one.grade == "new" else one.grade.replace("_", " ")
    what = one.kind.replace("_", " ")
    there = f"{one.at.astimezone(zone_of(one.zone)):%d %b %Y %H:%M}"
    sort = sort_words(one.speaker, one.finish, grade)
    numbers = (str(one.quantity), str(one.on_hand))
    return (str(one.number), there, what, *numbers, sort, one.location, one.who or "", ", ".join(filter(None, besides)))


def _loans(_: Visit, session: Session) -> BookView:
    rows = [
        (
            one.job,
            sort_words(one.speaker, one.finish, None if one.grade == "new" else one.grade.replace("_", " ")),
            str(one.units),
            one.serial or "",
            one.location,
            ("should be back since " if one.overdue else "") + (until_words(one.until, one.zone) if one.until else ""),
        )
        for one in carrying.loans(session)
    ]
    return BookView(("job", "loudspeaker", "units", "serial", "place", "until"), rows, "Nothing is lent.")


def _articles(_: Visit, session: Session) -> BookView:
    rows = [
        (one.number, sort_words(one.speaker, one.finish), one.supplier or "our own")
        for one in reordering.article_numbers(session)
    ]
    return BookView(("article", "loudspeaker", "whose number"), rows, "No loudspeaker has an article number yet.")


def _value(_: Visit, session: Session) -> BookView:
    found = earnings.stock_value(session)
    rows = []
    for one in found:
        cost = "unknown" if one.cost is None else f"{one.cost} {one.currency}"
        grade = None if one.grade == "new" else one.grade.replace("_", " ")
        unknown = f"of {one.unknown} nobody said" if one.unknown and one.cost is not None else ""
        rows.append((sort_words(one.speaker, one.finish, grade), str(one.units), cost, unknown))
    notes = [f"Together {earnings.total_words(found)}. Without tax, first in, first out."] if found else []
    return BookView(("loudspeaker", "units", "cost", "not known"), rows, "Nothing is in stock.", notes)


def _margin(asked: Visit, session: Session) -> BookView:
    by = asked.word("by") or earnings.EarnedBy.MONTH.value
    if by not in list(earnings.EarnedBy):
        raise NotFound(f"sales aren't summed by {by[:40]!r}; there are {', '.join(earnings.EarnedBy)}")
    found = earnings.earned(session, earnings.EarnedBy(by))
    rows = [
        (
            one.key or "none",
            str(one.units),
            f"{one.net} {one.currency or ''}".strip(),
            f"{one.cost} {one.currency or ''}".strip(),
            "" if one.margin is None else f"{one.margin:.1%}",
        )
        for one in found
    ]
    notes = earnings.left_out_words(found)
    return BookView((by, "units", "net", "cost", "margin"), rows, "Nothing is sold.", notes)


def _deliveries(_: Visit, __: Session) -> BookView:
    return BookView((), (), "")


VIEWS: Final[Mapping[str, tuple[str, Callable[[Visit, Session], BookView]]]] = {
    "jobs": ("Jobs", _jobs),
    "ledger": ("Ledger", _ledger),
    "loans": ("Loans", _loans),
    "order": ("To order", purchasing.reordered),
    "orders": ("Ordered", purchasing.ordered),
    "suppliers": ("Suppliers", purchasing.sources),
    "articles": ("Article numbers", _articles),
    "grades": ("Prices by grade", purchasing.grades),
    "value": ("Value", _value),
    "margin": ("Margin", _margin),
    "delivery": ("Delivery", _deliveries),
    "labels": ("Labels", purchasing.labels),
}
"""What the books show, what stands on its tab, and what finds it."""


def keep(asked: Visit) -> Response:
    """Write what a form of the books asks: a job's name, an order, a price, an article number, a delivery."""
    view = asked.word("view")
    does: dict[str, Callable[[Visit], list[str]]] = {
        "jobs": _keep_job,
        "order": _keep_point,
        "articles": _keep_article,
        "delivery": _take_delivery,
        "orders": purchasing.keep_order,
        "suppliers": purchasing.keep_source,
        "grades": purchasing.keep_grade,
    }
    if view not in does:
        raise NotFound(f"nothing is written in the view {view[:40]!r}; there are {', '.join(does)}")
    try:
        told = does[view](asked)
    except CatalogError as problem:
        conflict = isinstance(problem, Overtaken | Refused)
        return _page(asked, problem=on_page(str(problem)), status=409 if conflict else 422)
    return moved(address("/books", [*asked.state, ("view", view), ("done", _tellings.keep(told))]))


def _keep_job(asked: Visit) -> list[str]:
    job, new = asked.word("job"), asked.word("new")
    if asked.word("step") == "new":
        return [f"{desk.new_job(asked.catalogue.engine, new)} is a job now"]
    if asked.word("step") == "merge":
        return [f"{job} goes on as {desk.merge_jobs(asked.catalogue.engine, job, new)}"]
    return [f"{job} is called {desk.rename_job(asked.catalogue.engine, job, new)} now"]


def _keep_point(asked: Visit) -> list[str]:
    model, finish = asked.word("model"), asked.word("finish") or None
    least, up_to = (quantity_of(asked.word(name)) for name in ("least", "up_to"))
    if least is None:
        raise BadInput("it isn't said how many there are to be at least; 0 takes the point away")
    with writing(asked.catalogue.engine) as session:
        reordering.set_reorder_point(session, model, least, least if up_to is None else up_to, finish)
    called = sort_words(model, finish)
    return [f"{called}: no point" if least == 0 else f"{called}: at least {least}, up to {up_to or least}"]


def _keep_article(asked: Visit) -> list[str]:
    model, number, finish = asked.word("model"), asked.word("article"), asked.word("finish") or None
    with writing(asked.catalogue.engine) as session:
        reordering.save_article(session, model, number, asked.word("supplier") or None, finish)
    return [f"article {number}: {sort_words(model, finish)}"]


def _take_delivery(asked: Visit) -> list[str]:
    upload = asked.files.get("file")
    if upload is None:
        raise BadInput("no file was chosen: choose a CSV or an XLSX file of what was delivered")
    code = money.currency(asked.word("currency")) if asked.word("currency") else None
    at, supplier = asked.word("at") or None, asked.word("supplier") or None
    new_finish = asked.word("new_finish") == "yes"
    about = Delivery(asked.word("number"), at, supplier, code, None, asked.who, new_finish, purchasing.buys(asked))
    trial = asked.word("trial") == "yes"
    with upload.table("delivery") as path:
        found = receive_delivery(asked.catalogue.engine, path, about, dry_run=trial)
    remarks = dict.fromkeys(remark for answer in found for remark in answer.remarks)
    units = sum(answer.done.quantity for answer in found)
    does = "would be taken in; nothing was written" if trial else "were taken in"
    return [*remarks, *(in_words(answer.done) for answer in found), f"{units} in {len(found)} rows {does}"]
