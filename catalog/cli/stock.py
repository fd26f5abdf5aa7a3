"""`triptych stock`: units in and out, promised and moved; what would break the ledger is refused."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any, Final, NamedTuple

import typer

from triptych.catalog.cli import options, stock_labels, stock_prices, stock_views, supplier
from triptych.catalog.cli import stock_words as words
from triptych.catalog.cli.asked_finish import with_finish
from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, tell
from triptych.catalog.cli.stock_words import GradeName
from triptych.catalog.errors import BadInput
from triptych.catalog.words import PricePer

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from triptych.catalog.stock.desk import Answer, Request

app = options.application("The stock: receive, reserve, sell, move, count; list, ledger, check.")


class CommandOption(NamedTuple):
    """An option: what it sets, in a `Request` or of the desk's function, how Typer reads it, and its default."""

    sets: str
    kind: Any
    default: Any = inspect.Parameter.empty


def _text(name: str, help: str) -> Any:
    return Annotated[str | None, typer.Option(name, help=help, show_default=False)]


OPTIONS: Final = {
    "model": CommandOption("model", words.ModelArgument),
    "location": CommandOption("location", words.LocationOption),
    "quantity": CommandOption("quantity", words.QuantityOption, None),
    "counted": CommandOption(
        "quantity",
        Annotated[int, typer.Option("--quantity", "-n", help="How many loudspeakers are there.", show_default=False)],
    ),
    "grade": CommandOption("grade", words.GradeOption, GradeName.NEW),
    "goal": CommandOption(
        "goal", Annotated[GradeName, typer.Option("--grade", help="What they become.")], GradeName.OPEN_BOX
    ),
    "start": CommandOption(
        "start",
        Annotated[
            GradeName | None,
            typer.Option(
                "--from", help="What they were; found out where only one grade can be meant.", show_default=False
            ),
        ],
        None,
    ),
    "sold_as": CommandOption(
        "sold_as",
        Annotated[
            GradeName | None, typer.Option("--grade", help="In what condition it was sold; noted.", show_default=False)
        ],
        None,
    ),
    "finish": CommandOption("finish", words.FinishOption, None),
    "new_finish": CommandOption("new_finish", words.NewFinishOption, False),
    "job": CommandOption("job", words.JobOption, None),
    "until": CommandOption("until", words.UntilOption, None),
    "serial": CommandOption("serial", words.SerialOption, None),
    "come": CommandOption(
        "serials",
        Annotated[
            list[str] | None,
            typer.Option(
                "--serial",
                metavar="<str>",
                help="Of one, or of one pair, that comes; of several with commas between.",
                show_default=False,
            ),
        ],
        None,
    ),
    "pair": CommandOption("serial", _text("--pair", "Serial of the pair, where it has one."), None),
    "serials": CommandOption(
        "serials",
        Annotated[
            list[str] | None,
            typer.Option(
                "--serial", help="Serials of the two, with a comma between; made up if left out.", show_default=False
            ),
        ],
        None,
    ),
    "single": CommandOption("single", words.SingleOption, False),
    "to": CommandOption("to", Annotated[str, typer.Option("--to", help="Where they go.", show_default=False)]),
    "send": CommandOption(
        "send",
        Annotated[bool, typer.Option("--send", help="They are on their way, at neither end, until `stock arrive`.")],
        False,
    ),
    "moved_job": CommandOption("job", _text("--job", "Only what is reserved for this job, and stays so there."), None),
    "lent_job": CommandOption(
        "job", Annotated[str, typer.Option("--job", help="To which customer or project.", show_default=False)]
    ),
    "home": CommandOption(
        "location",
        Annotated[str, typer.Option("--location", "-l", help="Where they come back to.", show_default=False)],
    ),
    "joined": CommandOption(
        "serials",
        Annotated[
            list[str],
            typer.Option("--serial", help="Serials of the two, with a comma between.", show_default=False),
        ],
    ),
    "before": CommandOption(
        "before",
        Annotated[bool, typer.Option("--before", help="It was sold before the ledger began.")],
        False,
    ),
    "refund": CommandOption(
        "refund",
        Annotated[bool, typer.Option("--refund", help="Its money is given back: nothing is owed in its place.")],
        False,
    ),
    "order": CommandOption(
        "order",
        Annotated[int | None, typer.Option("--order", help="The order that they come from.", show_default=False)],
        None,
    ),
    "cost": CommandOption("amount", _text("--cost", "What one, or a pair, cost without tax: '310 EUR'."), None),
    "per": CommandOption(
        "per",
        Annotated[
            PricePer | None,
            typer.Option("--per", help="What the cost bought: asked of what is sold in pairs.", show_default=False),
        ],
        None,
    ),
    "price": CommandOption(
        "amount",
        _text(
            "--price",
            "What each was sold for, also of a pair, without tax also where a quote's price has it: '480 EUR'.",
        ),
        None,
    ),
    "note": CommandOption("note", words.NoteOption, None),
    "reason": CommandOption("note", words.ReasonOption, None),
    "style": CommandOption("style", StyleOption, Style.TABLE),
    "db": CommandOption("db", DatabaseOption, None),
}


class MovementCommand(NamedTuple):
    """A kind of movement: its options beside model and location, and its help."""

    options: str
    help: str


MOVEMENT_COMMANDS: Final = {
    "receive": MovementCommand(
        "quantity grade finish new_finish come single order cost per note",
        """Take units into stock; a location that isn't known yet is made, unless its name is nearly that of another.

        Example: triptych stock receive "Oatfell Linden Tower" --quantity 4 --location shop
        """,
    ),
    "reserve": MovementCommand(
        "quantity grade finish job until serial single note",
        """Promise units to a job until a date; then they are free again by themselves.

        Example: triptych stock reserve "Oatfell Linden Centre" --location shop --job "Mill House" --until 2026-12-31
        """,
    ),
    "release": MovementCommand(
        "quantity grade finish job serial single note",
        """Free units that are reserved, oldest reservation first.

        Example: triptych stock release "Oatfell Linden Centre" --location shop --job "Mill House"
        """,
    ),
    "sell": MovementCommand(
        "quantity grade finish job serial single price note",
        """Take units out of stock for good; what is reserved for the job goes first.

        Example: triptych stock sell "Oatfell Linden Centre" --location shop --job "Mill House"
        """,
    ),
    "return": MovementCommand(
        "quantity sold_as finish job serial single before refund note",
        """Take back what was sold: into quarantine, until somebody has looked at it and regrades it.

        Example: triptych stock return "Oatfell Linden Centre" --location shop --note "sounds rough"
        """,
    ),
    "transfer": MovementCommand(
        "to quantity grade finish moved_job serial single send note",
        """Move units to another location, at once or with --send by way of a van; with --job what is reserved for it.

        Example: triptych stock transfer "Oatfell Linden Tower" --quantity 2 --location shop --to van
        """,
    ),
    "lend": MovementCommand(
        "lent_job quantity grade finish serial single until note",
        """Lend units to a job for demonstration until a day; `stock loans` lists them, `bring-back` takes them back.

        Example: triptych stock lend "Oatfell Linden Centre" --location shop --job "Mill House" --until 2026-12-31
        """,
    ),
    "bring-back": MovementCommand(
        "lent_job quantity grade finish serial single note",
        """Take back what was lent to a job, in the grade that it had; regrade it if it is as new no more.

        Example: triptych stock bring-back "Oatfell Linden Centre" --job "Mill House" --location shop
        """,
    ),
    "count": MovementCommand(
        "counted grade finish serial single reason",
        """Set what is on hand to what was counted; a difference needs a reason.

        Example: triptych stock count "Oatfell Linden Tower" --quantity 3 --location shop --single
        --reason "one is missing"
        """,
    ),
    "regrade": MovementCommand(
        "goal quantity start finish serial single note",
        """Put units into another grade; only what comes out of quarantine can be new.

        Example: triptych stock regrade "Oatfell Linden Centre" --location shop --from quarantine --grade open_box
        """,
    ),
    "split": MovementCommand(
        "grade finish serials pair",
        """Split one pair into two singles, each tracked by a serial.

        Example: triptych stock split "Oatfell Linden Tower" --location shop --serial 8841A --serial 8841B
        """,
    ),
    "join": MovementCommand(
        "joined grade finish pair note",
        """Join two singles to a pair; --pair gives it a serial.

        Example: triptych stock join "Oatfell Linden Tower" --location shop --serial 8841A --serial 8841B
        """,
    ),
    "write-off": MovementCommand(
        "quantity grade finish serial single reason",
        """Take units out that are lost or broken.

        Example: triptych stock write-off "Oatfell Linden Centre" --location shop --reason "fell off the van"
        """,
    ),
}


def _command(name: str, kind: MovementCommand) -> Callable[..., None]:
    """Make the command of a kind of movement, with the signature that Typer reads."""
    taken = {one: OPTIONS[one] for one in ("model", "location", *kind.options.split(), "style", "db")}

    def command(**given: Any) -> None:
        _move(name, {taken[one].sets: _value(one, value) for one, value in given.items()})

    keyword = inspect.Parameter.KEYWORD_ONLY
    parameters = [
        inspect.Parameter(key, keyword, default=one.default, annotation=one.kind) for key, one in taken.items()
    ]
    vars(command)["__signature__"] = inspect.Signature(parameters)
    command.__annotations__ = {key: one.kind for key, one in taken.items()}
    command.__doc__ = kind.help
    return command


def _value(name: str, value: Any) -> Any:
    if name in ("cost", "price"):
        return words.money(value, f"--{name}")
    if name == "serial" and value is not None:
        if len(value) > 1:
            raise BadInput(f"--serial is given {len(value)} times: name one, and do the same for each")
        return next(iter(value), None)
    if name in ("come", "serials", "joined") and value is not None:
        return words.serials(value)
    if isinstance(value, GradeName):
        from triptych.catalog.database.models import Grade

        return Grade(value.value)
    return value


def _at_the_desk(name: str) -> Callable[..., Answer]:
    """Give what the desk does for a command."""
    from triptych.catalog.stock import desk

    does: dict[str, Callable[..., Answer]] = {
        "receive": desk.receive,
        "reserve": desk.reserve,
        "release": desk.release,
        "sell": desk.sell,
        "return": desk.take_back,
        "transfer": desk.transfer,
        "lend": desk.lend,
        "bring-back": desk.bring_back,
        "count": desk.count,
        "regrade": desk.regrade,
        "split": desk.split,
        "join": desk.join,
        "write-off": desk.write_off,
    }
    return does[name]


def _move(name: str, given: dict[str, Any]) -> None:
    """Do at the desk what is asked, say so only once it is committed."""
    from triptych.catalog.money import money as in_minor

    db, style, per = given.pop("db"), given.pop("style"), given.pop("per", None)
    asked = _request(given)
    with options.catalogue(db) as engine:
        if name == "receive" and asked.amount is not None:
            asked = replace(asked, amount=_of_one(engine, asked, asked.amount, per))
        answer = with_finish(
            lambda request: _at_the_desk(name)(engine, request, **given),
            asked,
            lambda request, _, finish: replace(request, finish=finish, new_finish=True),
        )
    for remark in answer.remarks:
        tell(remark)
    words.say(answer.done, style)
    if name == "sell" and asked.amount is not None and asked.currency is not None:
        tell(f"sold at {in_minor(asked.amount, asked.currency)} each, without tax")
    if given.get("send"):
        tell(f"when they come: triptych stock arrive {answer.done.lines[0]}")


def _of_one(engine: Engine, asked: Request, amount: int, per: PricePer | None) -> int:
    from triptych.catalog.database.engine import reading
    from triptych.catalog.stock.unit_costs import cost_of_one

    with reading(engine) as session:
        return cost_of_one(session, asked.model, amount, per, single=asked.single)


def _request(given: dict[str, Any]) -> Request:
    """Take what a request has out of what is given; the rest is for the desk's function."""
    from triptych.catalog.stock.desk import Request

    amount, currency = given.pop("amount", (None, None))
    own = {name: given.pop(name) for name in Request.__slots__ if name in given}
    return Request(**own, amount=amount, currency=currency, who=words.whoever())


for _name, _kind in MOVEMENT_COMMANDS.items():
    app.command(_name)(_command(_name, _kind))
app.command("arrive")(stock_views.arrive)
app.command("undo")(stock_views.undo)
app.command("list")(stock_views.list_)
app.command("find")(stock_views.find)
app.command("reservations")(stock_views.reservations)
app.command("available")(stock_prices.available)
app.command("price")(stock_prices.price)
app.command("loans")(stock_views.loans)
app.command("labels")(stock_labels.labels)
app.command("value")(stock_views.value)
app.command("margin")(stock_views.margin)
app.command("ledger")(stock_views.ledger)
app.command("check")(stock_views.check)
app.command("import")(supplier.counts)
app.command("deliver")(supplier.delivery)
app.command("location")(stock_views.location)
