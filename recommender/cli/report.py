"""`triptych report`: the answer with its pictures and reasons, for the client."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from triptych.catalog.cli.options import DatabaseOption, tell
from triptych.recommender.api import DEFAULT_RULES, open_catalogue
from triptych.recommender.asking import cap_of, surround_of
from triptych.recommender.cli.matching import (
    BudgetOption,
    MainsOption,
    RoomOption,
    StockOption,
    SurroundOption,
    WeightsOption,
)
from triptych.recommender.cli.sheet import OutOption, UnitsOption, unit_of


def report(
    room: RoomOption,
    out: OutOption,
    mains: MainsOption = "",
    top: Annotated[int, typer.Option("--top", min=1, max=12, help="How many of the ranked to show whole.")] = 3,
    budget_file: Annotated[
        Path | None, typer.Option("--budget-file", help="A budget in TOML, to be judged in the report.")
    ] = None,
    rules: Annotated[
        str, typer.Option("--rules", help="The rule set for it, by name or as a TOML file.")
    ] = DEFAULT_RULES,
    budget: BudgetOption = "",
    in_stock: StockOption = False,
    weights: WeightsOption = "",
    surround: SurroundOption = "",
    units: UnitsOption = "mm",
    database: DatabaseOption = None,
) -> None:
    """Write a report for the client: one file with the answer, reasons, pictures, questions, money and sources.

    What `triptych verify` stored with the room stands in it as built.

    Example: triptych report --room lounge.toml --budget-file budget.toml --out report.html
    """
    from triptych.catalog.page_files import refuse_name, write
    from triptych.recommender.advise import picturing
    from triptych.recommender.installing import newest_check
    from triptych.recommender.report.client_report import Extra, report_page

    unit = unit_of(units)
    refuse_name(out)
    with open_catalogue(database) as opened:
        money = opened.check_budget(budget_file, rules) if budget_file else None
        question = opened.question(
            room, mains, **cap_of(budget), in_stock=in_stock, weights=weights, **surround_of(surround)
        )
        found = opened.answer(lambda session: picturing.dossier(session, question, top))
        checked = newest_check(opened, question, tell)
    write(report_page(found, Extra(money, checked), unit), out)
    tell(f"wrote {out}")
