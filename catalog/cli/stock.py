"""`triptych stock`: units in and out, promised and moved; what would break the ledger is refused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any

import typer

from triptych.catalog.cli import options, stock_views, supplier
from triptych.catalog.cli import stock_words as words
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell
from triptych.catalog.cli.stock_words import (
    FinishOption,
    GradeName,
    GradeOption,
    JobOption,
    LocationOption,
    ModelArgument,
    NoteOption,
    QuantityOption,
    ReasonOption,
    SerialOption,
    SingleOption,
    UntilOption,
)

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from triptych.catalog.stock.lines import Line

app = options.application("The stock: receive, reserve, sell, move, count; list, ledger, check.")


@app.command()
def receive(
    model: ModelArgument,
    location: LocationOption,
    quantity: QuantityOption = None,
    grade: GradeOption = GradeName.NEW,
    finish: FinishOption = None,
    serial: SerialOption = None,
    single: SingleOption = False,
    order: Annotated[
        int | None, typer.Option("--order", help="The order that they come from.", show_default=False)
    ] = None,
    cost: Annotated[
        str | None, typer.Option("--cost", help="What one cost without tax: '310 EUR'.", show_default=False)
    ] = None,
    note: NoteOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Take units into stock; a location that isn't known yet is made, unless its name is nearly that of another.

    Example: triptych stock receive "Oatfell Linden Tower" --quantity 4 --location shop
    """
    amount, currency = stock_views.money(cost, "--cost")

    def work(session: Session) -> tuple[Line, Sequence[int]]:
        from triptych.catalog.stock import record_movement

        fields = {"quantity": quantity, "grade": grade, "finish": finish, "serial": serial, "single": single}
        line = words.line_of(session, "receive", model, location, note=note, order_id=order, **fields)
        line = replace(line, amount=amount, currency=currency)
        return line, [record_movement(session, line)]

    words.carry_out(db, "received", style, work, new=location)


@app.command()
def reserve(
    model: ModelArgument,
    location: LocationOption,
    quantity: QuantityOption = None,
    grade: GradeOption = GradeName.NEW,
    finish: FinishOption = None,
    job: JobOption = None,
    until: UntilOption = None,
    serial: SerialOption = None,
    single: SingleOption = False,
    note: NoteOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Promise units to a job until a date; then they are free again by themselves.

    Example: triptych stock reserve "Oatfell Linden Centre" --location shop --job "Mill House" --until 2026-12-31
    """

    def work(session: Session) -> tuple[Line, Sequence[int]]:
        from triptych.catalog.stock import record_movement

        words.seen_before(session, location, coming=False)
        fields = {"quantity": quantity, "grade": grade, "finish": finish, "serial": serial, "single": single}
        end = stock_views.hold_until(session, until, location)
        line = words.line_of(session, "reserve", model, location, job=job, until=end, note=note, **fields)
        return line, [record_movement(session, line)]

    words.carry_out(db, "reserved", style, work, warn=True, job=job)


@app.command()
def release(
    model: ModelArgument,
    location: LocationOption,
    quantity: QuantityOption = None,
    grade: GradeOption = GradeName.NEW,
    finish: FinishOption = None,
    job: JobOption = None,
    serial: SerialOption = None,
    single: SingleOption = False,
    note: NoteOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Free units that are reserved, oldest reservation first.

    Example: triptych stock release "Oatfell Linden Centre" --location shop --job "Mill House"
    """

    def work(session: Session) -> tuple[Line, Sequence[int]]:
        from triptych.catalog.stock.operations import end_reservations

        words.seen_before(session, location, coming=False)
        fields = {"quantity": quantity, "grade": grade, "finish": finish, "serial": serial, "single": single}
        line = words.line_of(session, "release", model, location, job=job, note=note, **fields)
        return line, end_reservations(session, line)

    words.carry_out(db, "released", style, work)


@app.command()
def sell(
    model: ModelArgument,
    location: LocationOption,
    quantity: QuantityOption = None,
    grade: GradeOption = GradeName.NEW,
    finish: FinishOption = None,
    job: JobOption = None,
    serial: SerialOption = None,
    single: SingleOption = False,
    price: Annotated[
        str | None, typer.Option("--price", help="What one was sold for without tax: '480 EUR'.", show_default=False)
    ] = None,
    note: NoteOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Take units out of stock for good; what is reserved for the job goes first.

    Example: triptych stock sell "Oatfell Linden Centre" --location shop --job "Mill House"
    """
    amount, currency = stock_views.money(price, "--price")

    def work(session: Session) -> tuple[Line, Sequence[int]]:
        from triptych.catalog.stock.operations import sell as sell_units

        words.seen_before(session, location, coming=False)
        fields = {"quantity": quantity, "grade": grade, "finish": finish, "serial": serial, "single": single}
        line = words.line_of(session, "sell", model, location, job=job, note=note, **fields)
        line = replace(line, amount=amount, currency=currency)
        return line, sell_units(session, line)

    words.carry_out(db, "sold", style, work, warn=True, job=job)


@app.command("return")
def return_(
    model: ModelArgument,
    location: LocationOption,
    quantity: QuantityOption = None,
    grade: Annotated[
        GradeName | None, typer.Option("--grade", help="In what condition it was sold; noted.", show_default=False)
    ] = None,
    finish: FinishOption = None,
    job: JobOption = None,
    serial: SerialOption = None,
    single: SingleOption = False,
    note: NoteOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Take back what was sold: into quarantine, until somebody has looked at it and regrades it.

    Example: triptych stock return "Oatfell Linden Centre" --location shop --note "sounds rough"
    """
    doubts: list[str] = []

    def work(session: Session) -> tuple[Line, Sequence[int]]:
        from triptych.catalog.stock import record_movement
        from triptych.catalog.stock.operations import never_sold

        said = "; ".join(filter(None, [note, f"sold as {grade.value}" if grade else ""])) or None
        fields = {"quantity": quantity, "finish": finish, "serial": serial, "single": single}
        line = words.line_of(session, "return", model, location, grade="quarantine", job=job, note=said, **fields)
        strange = never_sold(session, line)
        number = record_movement(session, line)
        doubts.extend([f"warning: {strange}"] if strange else [])
        return line, [number]

    words.carry_out(db, "returned to quarantine", style, work, new=location, job=job, doubts=doubts)


@app.command()
def transfer(
    model: ModelArgument,
    location: LocationOption,
    to: Annotated[str, typer.Option("--to", help="Where they go.", show_default=False)],
    quantity: QuantityOption = None,
    grade: GradeOption = GradeName.NEW,
    finish: FinishOption = None,
    serial: SerialOption = None,
    single: SingleOption = False,
    send: Annotated[
        bool, typer.Option("--send", help="They are on their way, at neither end, until `stock arrive`.")
    ] = False,
    note: NoteOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Move units to another location, at once or with --send by way of a van.

    Example: triptych stock transfer "Oatfell Linden Tower" --quantity 2 --location shop --to van
    """

    def work(session: Session) -> tuple[Line, Sequence[int]]:
        from triptych.catalog.stock import operations

        words.seen_before(session, location, coming=False)
        fields = {"quantity": quantity, "grade": grade, "finish": finish, "serial": serial, "single": single}
        line = words.line_of(session, "transfer_out", model, location, note=note, **fields)
        return line, [operations.send(session, line, to)] if send else operations.transfer(session, line, to)

    numbers = words.carry_out(db, f"{'sent' if send else 'moved'} to {to}", style, work, new=to)
    if send:
        tell(f"when they come: triptych stock arrive {numbers[0]}")


@app.command()
def count(
    model: ModelArgument,
    location: LocationOption,
    quantity: Annotated[
        int, typer.Option("--quantity", "-n", help="How many loudspeakers are there.", show_default=False)
    ],
    grade: GradeOption = GradeName.NEW,
    finish: FinishOption = None,
    serial: SerialOption = None,
    single: SingleOption = False,
    reason: ReasonOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Set what is on hand to what was counted; a difference needs a reason.

    Example: triptych stock count "Oatfell Linden Tower" --quantity 3 --location shop --single --reason "one is missing"
    """

    def work(session: Session) -> tuple[Line, Sequence[int]]:
        from triptych.catalog.stock.operations import count as set_count

        if quantity == 0:
            words.seen_before(session, location, coming=False)
        fields = {"quantity": quantity, "grade": grade, "finish": finish, "serial": serial, "single": single}
        line = words.line_of(session, "count", model, location, note=reason, **fields)
        number = set_count(session, line)
        return line, [] if number is None else [number]

    words.carry_out(db, "counted", style, work, new=location if quantity else "")


@app.command()
def regrade(
    model: ModelArgument,
    location: LocationOption,
    grade: Annotated[GradeName, typer.Option("--grade", help="What they become.")] = GradeName.OPEN_BOX,
    quantity: QuantityOption = None,
    source: Annotated[
        GradeName | None,
        typer.Option("--from", help="What they were; found out where only one grade can be meant.", show_default=False),
    ] = None,
    finish: FinishOption = None,
    serial: SerialOption = None,
    single: SingleOption = False,
    note: NoteOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Put units into another grade; only what comes out of quarantine can be new.

    Example: triptych stock regrade "Oatfell Linden Centre" --location shop --from quarantine --grade open_box
    """

    def work(session: Session) -> tuple[Line, Sequence[int]]:
        from triptych.catalog.database.models import Grade
        from triptych.catalog.stock import operations

        words.seen_before(session, location, coming=False)
        fields = {"quantity": quantity, "finish": finish, "serial": serial, "single": single}
        line = words.line_of(session, "regrade_out", model, location, note=note, **fields)
        goal = Grade(grade.value)
        start = Grade(source.value) if source else operations.grade_meant(session, line, goal)
        numbers = operations.regrade(session, replace(line, grade=start), goal)
        return replace(line, grade=goal), numbers

    words.carry_out(db, f"regraded to {grade.value}", style, work)


@app.command()
def split(
    model: ModelArgument,
    location: LocationOption,
    grade: GradeOption = GradeName.NEW,
    finish: FinishOption = None,
    serial: Annotated[
        list[str] | None, typer.Option("--serial", help="Serials of the two; made up if left out.", show_default=False)
    ] = None,
    pair: Annotated[
        str | None, typer.Option("--pair", help="Serial of the pair, where it has one.", show_default=False)
    ] = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Split one pair into two singles, each tracked by a serial.

    Example: triptych stock split "Oatfell Linden Tower" --location shop --serial 8841A --serial 8841B
    """

    def work(session: Session) -> tuple[Line, Sequence[int]]:
        from triptych.catalog.stock.operations import split as split_pair

        words.seen_before(session, location, coming=False)
        line = words.line_of(
            session, "split_pair", model, location, quantity=2, grade=grade, finish=finish, serial=pair
        )
        return replace(line, pack=1), split_pair(session, line, serial or [])

    words.carry_out(db, "split into singles", style, work)


@app.command("write-off")
def write_off(
    model: ModelArgument,
    location: LocationOption,
    quantity: QuantityOption = None,
    grade: GradeOption = GradeName.NEW,
    finish: FinishOption = None,
    serial: SerialOption = None,
    single: SingleOption = False,
    reason: ReasonOption = None,
    style: StyleOption = Style.TABLE,
    db: DatabaseOption = None,
) -> None:
    """Take units out that are lost or broken.

    Example: triptych stock write-off "Oatfell Linden Centre" --location shop --reason "fell off the van"
    """

    def work(session: Session) -> tuple[Line, Sequence[int]]:
        from triptych.catalog.stock import record_movement

        words.seen_before(session, location, coming=False)
        fields: dict[str, Any] = {"quantity": quantity, "grade": grade, "finish": finish, "serial": serial}
        line = words.line_of(session, "write_off", model, location, note=reason, single=single, **fields)
        return line, [record_movement(session, line)]

    words.carry_out(db, "written off", style, work, warn=True)


app.command("arrive")(stock_views.arrive)
app.command("list")(stock_views.list_)
app.command("reservations")(stock_views.reservations)
app.command("ledger")(stock_views.ledger)
app.command("check")(stock_views.check)
app.command("import")(supplier.counts)
app.command("location")(stock_views.location)
