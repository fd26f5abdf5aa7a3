"""`triptych budget`: where the money goes, what the rules say of it, and the best whole system for it."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from triptych.catalog.cli.options import (
    DatabaseOption,
    Style,
    StyleOption,
    application,
    catalogue,
    print_csv,
    print_json,
)
from triptych.catalog.errors import BadInput
from triptych.recommender.cli import budget_rules
from triptych.recommender.cli.refusing import refusals

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from triptych.catalog.records import RoomRecord
    from triptych.recommender.advise.planning.plan_answer import PlanAnswer
    from triptych.recommender.money.budget.check import Check
    from triptych.recommender.money.budget.rules import RuleSet

app = application("Money: check a budget, plan a whole system, keep rules for both.")
app.add_typer(budget_rules.app, name="rules")

FileArgument = Annotated[Path, typer.Argument(help="A budget in TOML.", show_default=False)]
RulesOption = Annotated[str, typer.Option("--rules", help="A rule set by name, or a TOML file of one.")]

DEFAULT_RULES: Final = "film-first"
"""The name of the rule set that holds where none is named; a test holds it to `budget.rules.DEFAULT`."""


@app.command()
def check(
    file: FileArgument,
    rules: RulesOption = DEFAULT_RULES,
    database: DatabaseOption = None,
    style: StyleOption = Style.TABLE,
) -> None:
    """Judge a budget: shares, rules with their numbers, what is missing, and the smallest change that mends it.

    A line that names a loudspeaker of the catalogue and no price takes the catalogue's.

    Example: triptych budget check budget.toml --rules music-first
    """
    from triptych.recommender.cli import budget_tables
    from triptych.recommender.money.budget.mend import mend
    from triptych.recommender.money.budget.report import as_json

    with refusals(), catalogue(database) as engine:
        rule_set = budget_rules.rule_set_of(engine, rules)
        with refusals(file):
            judged = checked(engine, file, rule_set)
            mended = mend(judged.budget, judged.rule_set)
    if style is Style.JSON:
        print_json(as_json(judged, mended))
    elif style is Style.CSV:
        print_csv(budget_tables.check_rows(judged, mended))
    else:
        budget_tables.show_check(judged, mended)


def checked(engine: Engine, file: Path, rule_set: RuleSet) -> Check:
    """A budget file judged by a rule set, with prices from the catalogue where a line names a loudspeaker."""
    from dataclasses import replace

    from triptych.catalog.database.engine import reading
    from triptych.recommender.advise.pricing import with_catalogue_prices
    from triptych.recommender.money.budget.check import check
    from triptych.recommender.money.budget.lines import read_budget

    with reading(engine) as session:
        data, notes = with_catalogue_prices(session, read_file(file))
    budget = read_budget(data)
    return check(replace(budget, cautions=(*notes, *budget.cautions)), rule_set)


@app.command()
def plan(
    file: Annotated[Path, typer.Argument(help="A budget in TOML with a [want] table.", show_default=False)],
    rules: RulesOption = DEFAULT_RULES,
    room: Annotated[str, typer.Option("--room", help="A room by name or file; else the file's `room`.")] = "",
    in_stock: Annotated[
        bool,
        typer.Option("--in-stock", help="Only what can be promised now; what would be chosen otherwise is told too."),
    ] = False,
    time_limit: Annotated[
        float, typer.Option("--time-limit", metavar="SECONDS", min=0.0, help="Stop the search after so long.")
    ] = 60.0,
    database: DatabaseOption = None,
    style: StyleOption = Style.TABLE,
) -> None:
    """Choose the best whole system within a limit, from mains to subwoofer, and say how far that is proven.

    The file is a budget with a [want] table such as mains = 2, centre = 1, surrounds = 2, sub = [1, 2]; a room; and
    a [[line]] for what is owned, bought or set aside.

    Example: triptych budget plan plan.toml --room lounge.toml
    """
    from triptych.recommender.cli import plan_json, plan_tables

    with refusals(), catalogue(database) as engine:
        rule_set = budget_rules.rule_set_of(engine, rules)
        with refusals(file):
            answer = _planned(engine, file, rule_set, room, in_stock, time_limit)
    if style is Style.JSON:
        print_json(plan_json.plan(answer))
    elif style is Style.CSV:
        print_csv(plan_tables.plan_rows(answer))
    else:
        plan_tables.show_plan(answer)


def _planned(engine: Engine, file: Path, rule_set: RuleSet, room: str, in_stock: bool, time_limit: float) -> PlanAnswer:
    from triptych.catalog.database.engine import reading
    from triptych.recommender.advise.planning.plan import plan
    from triptych.recommender.advise.planning.wanted import read_wanted
    from triptych.recommender.advise.pricing import with_catalogue_prices
    from triptych.recommender.cli.asking import answer
    from triptych.recommender.cli.progress import working

    with reading(engine) as session:
        wanted = read_wanted(*with_catalogue_prices(session, read_file(file)))
    place = _room(engine, room or wanted.room, file)
    with working() as say:
        return answer(engine, lambda session: plan(session, wanted, place, rule_set, in_stock, time_limit, say))


def _room(engine: Engine, named: str, file: Path) -> RoomRecord | None:
    """The room that a plan names; a room file may lie beside the plan."""
    from triptych.catalog.database.engine import reading
    from triptych.recommender.cli.asking import room_of

    if not named:
        return None
    beside = file.parent / named
    with reading(engine) as session:
        return room_of(session, str(beside) if beside.is_file() else named)


def read_file(file: Path) -> dict[str, Any]:
    """A TOML file with its numbers exact.

    Raises
    ------
    BadInput
        It cannot be read, or is not TOML.
    """
    try:
        return tomllib.loads(file.read_text(encoding="utf-8-sig"), parse_float=Decimal)
    except OSError as problem:
        raise BadInput(f"{file}: {problem.strerror}: name a file that you may read") from None
    except UnicodeDecodeError:
        raise BadInput(f"{file}: is not text in UTF-8: save it so") from None
    except tomllib.TOMLDecodeError as problem:
        raise BadInput(f"{file}: is not TOML: {problem}") from None
