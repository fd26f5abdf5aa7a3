"""`triptych budget`: where the money goes, what the rules say of it, and the best whole system for it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triptych.catalog.cli.options import (
    DatabaseOption,
    Style,
    StyleOption,
    application,
    print_csv,
    print_json,
)
from triptych.catalog.errors import BadInput
from triptych.recommender.api import DEFAULT_RULES, open_catalogue
from triptych.recommender.cli import budget_rules
from triptych.recommender.cli.began import BEGAN

app = application("Money: check a budget, plan a whole system, keep rules for both.")
app.add_typer(budget_rules.app, name="rules")

FileArgument = Annotated[Path, typer.Argument(help="A budget in TOML.", show_default=False)]
RulesOption = Annotated[str, typer.Option("--rules", help="A rule set by name, or a TOML file of one.")]


@app.command()
def check(
    file: FileArgument,
    rules: RulesOption = DEFAULT_RULES,
    database: DatabaseOption = None,
    style: StyleOption = Style.TABLE,
) -> None:
    """Judge a budget: shares, rules with their numbers, what is missing, and the change that mends it.

    A line that names a loudspeaker or a piece of equipment of the catalogue and no price takes the catalogue's.

    The head has currency, limit, tax_included, tax_rate and [rates]; a [[line]] has role, item, price, per, quantity,
    pieces, currency, tax_included, tax_rate, owned, fixed, serves and run. A price is of one per: each box (if left
    out), pair or lot; quantity counts these.

    Example: triptych budget check budget.toml --rules music-first
    """
    from triptych.recommender.cli import budget_tables
    from triptych.recommender.views import BUDGET, CheckedBudget

    with open_catalogue(database) as opened:
        judged, mended = opened.check_budget(file, rules)
    if style is Style.JSON:
        print_json(CheckedBudget(judged, mended), BUDGET)
    elif style is Style.CSV:
        print_csv(budget_tables.check_rows(judged, mended))
    else:
        budget_tables.show_check(judged, mended)


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
        str,
        typer.Option(
            "--time-limit",
            metavar="SECONDS",
            help="Stop after so long, all of the command in it, with the best found and by how much another could be "
            "better at most.",
        ),
    ] = "60",
    database: DatabaseOption = None,
    style: StyleOption = Style.TABLE,
) -> None:
    """Choose the best whole system within a limit, from mains to subwoofer, and say how far that is proven.

    The file is a budget with a [want] table such as mains = 2, centre = 1, surrounds = 2, sub = [1, 2]; a room; and
    a [[line]] for what is owned, bought or set aside. Electronics, stands, mounts and cables are chosen too, where no
    line has them.

    Above the lines, beside those of a budget: want, room, steps, [runs], [weights], should_costs and indifference.

    Example: triptych budget plan plan.toml --room lounge.toml
    """
    from triptych.catalog.cli.progress import working
    from triptych.recommender.asking import seconds
    from triptych.recommender.views import PLAN

    limit = seconds(time_limit, "--time-limit")
    with open_catalogue(database) as opened, working() as say:
        answer = opened.plan(file, room, rules=rules, in_stock=in_stock, time_limit=limit, say=say, began=BEGAN.get())
    if style is Style.JSON:
        print_json(answer, PLAN)
    else:
        from triptych.recommender.cli import plan_tables

        if style is Style.CSV:
            print_csv(plan_tables.plan_rows(answer))
        else:
            plan_tables.show_plan(answer)
    if answer.outcome == "stopped_early" and not answer.systems:
        raise BadInput(f"--time-limit {time_limit}: no system was found in that time; give it more")
