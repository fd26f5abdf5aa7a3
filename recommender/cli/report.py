"""`triptych report`: the answer with its pictures and reasons, for the client."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from triptych.catalog.cli.options import DatabaseOption, tell
from triptych.recommender.api import DEFAULT_RULES, Catalogue, open_catalogue
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

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from triptych.catalog.database.as_built import AsBuiltRecord
    from triptych.recommender.advise.match import Question
    from triptych.recommender.advise.picturing import Dossier
    from triptych.recommender.advise.voices import Fresh
    from triptych.recommender.verify.verification import Verification


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
    from triptych.recommender.advise import picturing
    from triptych.recommender.report.client_report import Extra, report_page
    from triptych.recommender.report.output import refuse_name, write

    unit = unit_of(units)
    refuse_name(out)
    with open_catalogue(database) as opened:
        money = opened.check_budget(budget_file, rules) if budget_file else None
        question = opened.question(
            room, mains, **cap_of(budget), in_stock=in_stock, weights=weights, **surround_of(surround)
        )
        found = opened.answer(lambda session: picturing.dossier(session, question, top))
        checked = as_built(opened, question)
    write(report_page(found, Extra(money, checked), unit), out)
    tell(f"wrote {out}")


def as_built(opened: Catalogue, question: Question) -> tuple[AsBuiltRecord, Verification] | None:
    """The newest check that is stored with the room, judged; None where there is none."""
    from triptych.catalog.database import as_built as stored
    from triptych.catalog.database.engine import reading
    from triptych.catalog.errors import NotFound
    from triptych.recommender.advise import as_built_check
    from triptych.recommender.advise.picturing import fitting

    try:
        with reading(opened.engine) as session:
            found = stored.checks(session, question.room.name)
    except NotFound:
        return None
    if not found:
        return None
    record = found[0]
    if record.speaker is None:
        return record, as_built_check.check(record, None)
    name = record.speaker

    def ask(session: Session) -> tuple[Dossier, Fresh]:
        return fitting(session, question, name, record.place)

    try:
        standing = opened.answer(ask).shown[0].standing
    except NotFound as problem:
        tell(f"as built: {problem}; what was promised is left out")
        standing = None
    return record, as_built_check.check(record, standing)
