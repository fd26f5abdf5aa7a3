"""`triptych match` and `triptych explain`."""

from __future__ import annotations

from typing import Annotated

import typer

from triptych.catalog.cli.options import DatabaseOption, Style, StyleOption, console, print_csv, print_json
from triptych.catalog.errors import BadInput
from triptych.recommender.api import open_catalogue
from triptych.recommender.asking import cap_of, surround_of

MainsOption = Annotated[
    str, typer.Option("--mains", help="The chosen mains, by maker, series and model; else the room's.")
]
RoomOption = Annotated[str, typer.Option("--room", help="A room of the catalogue by name, or a room file.")]
BudgetOption = Annotated[
    str, typer.Option("--budget", help="Cap on the centre, in the room's currency; else the room's.")
]
StockOption = Annotated[bool, typer.Option("--in-stock", help="Only what can be promised from stock now.")]
SurroundOption = Annotated[
    str,
    typer.Option(
        "--surround-price", help="What one surround costs: up to that a centre is within its share of the money."
    ),
]
WeightsOption = Annotated[str, typer.Option("--weights", help="A weight profile by name, or a TOML file of weights.")]


def match(
    room: RoomOption,
    mains: MainsOption = "",
    budget: BudgetOption = "",
    role: Annotated[str, typer.Option("--role", help="What to look for: centre.")] = "centre",
    in_stock: StockOption = False,
    weights: WeightsOption = "",
    surround: SurroundOption = "",
    top: Annotated[
        int | None, typer.Option("--top", min=1, help="How many ranked to show: 5 in a table, all in JSON.")
    ] = None,
    database: DatabaseOption = None,
    style: StyleOption = Style.TABLE,
) -> None:
    """Rank the centres of the catalogue for two mains and a room.

    Example: triptych match --mains "Maker Series Tower" --room lounge.toml
    """
    if role != "centre":
        raise BadInput(f"--role {role!r}: only centre can be matched; budget plan chooses the other roles")
    with open_catalogue(database) as opened:
        answer = opened.match(
            room, mains, **cap_of(budget), in_stock=in_stock, weights=weights, **surround_of(surround),
            first=(top or 1) if style is Style.TABLE else None,
        )  # fmt: skip
    if style is Style.JSON:
        print_json(answer.first(top))
    elif style is Style.CSV:
        from triptych.recommender.cli import ranking_csv

        print_csv(ranking_csv.ranking(answer.first(top)))
    else:
        from triptych.recommender.cli import render

        render.answer(console(), answer, top)


def compare(
    centres: Annotated[list[str], typer.Argument(help="Two or three centres, by maker, series and model.")],
    room: RoomOption,
    mains: MainsOption = "",
    place: Annotated[str, typer.Option("--place", help="All at this place; else each where it does best.")] = "",
    budget: BudgetOption = "",
    in_stock: StockOption = False,
    weights: WeightsOption = "",
    surround: SurroundOption = "",
    database: DatabaseOption = None,
    style: StyleOption = Style.TABLE,
) -> None:
    """Set two or three centres side by side and mark the differences that decide.

    Example: triptych compare "Maker Series Centre" "Maker Other Centre" --room lounge.toml
    """
    from triptych.recommender.cli import ranking_csv

    with open_catalogue(database) as opened:
        answer = opened.compare(
            centres,
            room,
            mains,
            place=place or None,
            **cap_of(budget),
            in_stock=in_stock,
            weights=weights,
            **surround_of(surround),
        )
    if style is Style.JSON:
        print_json(answer)
    elif style is Style.CSV:
        print_csv(ranking_csv.comparison(answer))
    else:
        from triptych.recommender.cli import closely

        closely.comparison(console(), answer)


def explain(
    centre: Annotated[str, typer.Argument(help="The centre to account for, by maker, series and model.")],
    room: RoomOption,
    mains: MainsOption = "",
    place: Annotated[str, typer.Option("--place", help="Only this place of the room.")] = "",
    budget: BudgetOption = "",
    in_stock: StockOption = False,
    weights: WeightsOption = "",
    surround: SurroundOption = "",
    database: DatabaseOption = None,
    style: StyleOption = Style.TABLE,
) -> None:
    """Account for one centre at every place: each gate, each number with its formula, inputs and source.

    Example: triptych explain "Maker Series Centre" --mains "Maker Series Tower" --room lounge.toml
    """
    from triptych.recommender.cli import ranking_csv

    with open_catalogue(database) as opened:
        answer = opened.explain(
            centre,
            room,
            mains,
            place=place or None,
            **cap_of(budget),
            in_stock=in_stock,
            weights=weights,
            **surround_of(surround),
        )
    if style is Style.JSON:
        print_json(answer)
    elif style is Style.CSV:
        print_csv(ranking_csv.ranking(answer))
    else:
        from triptych.recommender.cli import closely

        closely.account(console(), answer)
