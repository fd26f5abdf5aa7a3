"""The firm's buying and labelling in the books: what is ordered, from whom, what grades are sold for, and labels."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

from sqlalchemy.orm import Session

from triptych.catalog import money
from triptych.catalog.database.engine import writing
from triptych.catalog.database.models import Grade
from triptych.catalog.errors import BadInput
from triptych.catalog.records import PricePer
from triptych.catalog.stock import grade_prices, suppliers
from triptych.catalog.stock.counter_words import amount_of, serials_in
from triptych.catalog.stock.label_page import label_page
from triptych.catalog.stock.labels import LabelsAsked, unit_labels
from triptych.catalog.stock.locations import refuse_mistyped_job
from triptych.catalog.stock.price_lists import import_prices
from triptych.catalog.stock.reordering import to_order
from triptych.catalog.stock.timing import day_of
from triptych.recommender.page.asked import Visit, address
from triptych.recommender.page.book_view import BookView, Cell, Press, sort_words
from triptych.recommender.page.counter_forms import grade_of, number_of, quantity_of

PRICED_GRADES: Final = tuple(one.value for one in Grade if one not in (Grade.NEW, Grade.QUARANTINE))
"""The grades that have a price of their own."""


def reordered(asked: Visit, session: Session) -> BookView:
    """What is below its point, and from whom it is cheapest; as `supplier reorder` lists it."""
    heads = ("loudspeaker", "free", "coming", "at least", "up to", "to order", "from", "to do")
    rows: list[tuple[Cell, ...]] = []
    for one in to_order(session, every=asked.word("every") == "yes"):
        numbers = (one.free, one.coming, one.least, one.up_to, one.to_order)
        said = {"model": one.speaker, "finish": one.finish or "", "supplier": one.supplier or ""}
        url = asked.link("/books", view="orders", quantity=str(one.to_order), **said) + "#write"
        rows.append((one.called, *map(str, numbers), one.source, ("Order", url) if one.to_order else ""))
    return BookView(heads, rows, "Nothing is below its point.")


def ordered(asked: Visit, session: Session) -> BookView:
    """What is ordered and has not come, as `supplier orders` lists it."""
    heads = ("order", "loudspeaker", "from", "ordered", "come", "expected", "job", "state", "to do", "cancel")
    rows: list[tuple[Cell, ...]] = []
    for one in suppliers.orders(session, every=asked.word("every") == "yes"):
        sort = sort_words(one.speaker, one.finish)
        numbers = (str(one.quantity), str(one.come))
        when = one.expected.isoformat() if one.expected else ""
        said = (one.supplier, *numbers, when, one.job or "", one.state)
        rows.append((str(one.number), sort, *said, *(_to_do(asked, one) if one.state == "open" else ("", ""))))
    return BookView(heads, rows, "Nothing is still to come.")


def _to_do(asked: Visit, one: suppliers.Order) -> tuple[Cell, Cell]:
    left = {"model": one.speaker, "finish": one.finish or "", "quantity": str(one.quantity - one.come)}
    arrived = address("/counter", [*asked.state, ("what", "receive"), *left.items(), ("order", str(one.number))])
    return ("Take in", f"{arrived}#move"), Press("Cancel", "cancel", str(one.number))


def sources(_: Visit, session: Session) -> BookView:
    """The suppliers, as `supplier list` lists them."""
    rows = [
        (one.name, "" if one.lead_time is None else f"{one.lead_time} days") for one in suppliers.suppliers(session)
    ]
    return BookView(("supplier", "comes within"), rows, "No supplier yet.")


def grades(_: Visit, session: Session) -> BookView:
    """What open box, B-stock and demo units are sold for, as `stock price` lists it."""
    rows = [
        (one.speaker, one.grade.replace("_", " "), f"{one.price} {one.currency} {_per(one.per)}")
        for one in grade_prices.grade_prices(session)
    ]
    return BookView(("loudspeaker", "grade", "price"), rows, "No grade has a price of its own yet.")


def _per(per: str) -> str:
    return "a pair" if per == PricePer.PAIR.value else "each"


def labels_asked(asked: Visit) -> LabelsAsked:
    """For which units labels are wanted, as the options of `stock labels` say it."""
    at, job, delivery, model = (asked.word(name) or None for name in ("at", "job", "number", "model"))
    return LabelsAsked(at, job, tuple(serials_in(asked.word("serials"))), delivery, model)


def labels(asked: Visit, session: Session) -> BookView:
    """Which labels there would be, what is to be told of them, and the pages with them."""
    if asked.word("find") != "yes":
        return BookView((), (), "")
    found = unit_labels(session, labels_asked(asked))
    _, untold = label_page(found.labels)
    rows = [
        (
            sort_words(one.speaker, one.finish, None if one.grade is Grade.NEW else one.grade.value.replace("_", " ")),
            one.serial or "",
            one.job or "",
            one.location,
        )
        for one in found.labels
    ]
    notes = (*found.remarks, *untold)
    return BookView(("loudspeaker", "serial", "job", "place"), rows, "Nothing on hand is asked for so.", notes)


def keep_order(asked: Visit) -> list[str]:
    """Write down what is ordered, or cancel it."""
    if asked.word("step") == "cancel":
        number = number_of(asked.word("number"))
        with writing(asked.catalogue.engine) as session:
            suppliers.cancel_order(session, number)
        return [f"order {number} cancelled"]
    model, supplier, job, finish = (asked.word(name) or None for name in ("model", "supplier", "job", "finish"))
    if not (quantity := quantity_of(asked.word("quantity"))):
        raise BadInput("it isn't said how many are ordered: write the number of loudspeakers")
    day = day_of(asked.word("expected") or None, "expected")
    with writing(asked.catalogue.engine) as session:
        refuse_mistyped_job(session, job)
        number = suppliers.order(session, model or "", quantity, supplier or "", day, job, finish)
    expected = f", expected {day}" if day else ""
    return [f"order {number}: {quantity} × {sort_words(model or '', finish)} from {supplier}{expected}"]


def keep_source(asked: Visit) -> list[str]:
    """Add a supplier or change how long it takes; or take its price list."""
    name = asked.word("supplier")
    if asked.word("step") == "prices":
        return _priced(asked, name)
    days = quantity_of(asked.word("lead_time"), "days")
    with writing(asked.catalogue.engine) as session:
        suppliers.save_supplier(session, name, days)
    return [f"supplier {name}" + ("" if days is None else f": comes within {days} days")]


def _priced(asked: Visit, name: str) -> list[str]:
    upload = asked.files.get("file")
    if upload is None:
        raise BadInput("no file was chosen: choose a CSV or an XLSX file of prices")
    day = day_of(asked.word("day") or None, "from which day") or datetime.now(UTC).date()
    code = money.currency(asked.word("currency")) if asked.word("currency") else None
    trial = asked.word("trial") == "yes"
    with upload.table("prices") as path:
        found = import_prices(asked.catalogue.engine, name, path, day, None, code, per=buys(asked), dry_run=trial)
    changes = [f"{one.speaker}: {one.change} {one.before or 'none'} → {one.after or 'none'}" for one in found.changes]
    does = "would change; nothing was written" if trial else "changed"
    return [*found.remarks, *changes, *found.notes, f"{len(found.changes)} {does}, {found.unchanged} stay"]


def buys(asked: Visit) -> PricePer | None:
    """What an amount buys, where a form says it."""
    return PricePer(asked.word("per")) if asked.word("per") in [one.value for one in PricePer] else None


def keep_grade(asked: Visit) -> list[str]:
    """Keep what a grade is sold for, or keep no price any more."""
    model, grade = asked.word("model"), grade_of(asked.word("grade"))
    if grade is None:
        raise BadInput("it isn't said of which grade: choose one")
    amount, currency = (None, None) if asked.word("step") == "none" else amount_of(asked.word("price") or None, "price")
    if amount is None and asked.word("step") != "none":
        raise BadInput("it isn't said for how much: write the price with its currency, such as 400 EUR")
    with writing(asked.catalogue.engine) as session:
        kept = grade_prices.set_grade_price(session, model, grade, amount, currency, buys(asked))
    return [f"{model}, {grade.value.replace('_', ' ')}: {kept}"]
