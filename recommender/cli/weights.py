"""`triptych weights`: what each criterion counts, as named profiles that can be copied and changed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from triptych.catalog.cli.options import (
    DatabaseOption,
    Style,
    StyleOption,
    application,
    catalogue,
    print_csv,
    print_json,
    print_table,
    tell,
)
from triptych.catalog.errors import BadInput

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

app = application("Weights: list, show, copy, set. A profile says what each criterion counts in a score.")

BUILT_IN = "default"
"""The profile of the design; it can be copied, not changed."""

NameArgument = Annotated[str, typer.Argument(help="A weight profile by name.")]


@app.command("list")
def list_profiles(database: DatabaseOption = None, style: StyleOption = Style.TABLE) -> None:
    """List the weight profiles.

    Example: triptych weights list
    """
    from triptych.catalog.database import weight_profiles
    from triptych.catalog.database.engine import reading

    with catalogue(database) as engine, reading(engine) as session:
        names = [BUILT_IN, *weight_profiles.names(session)]
    if style is Style.JSON:
        print_json(names)
    elif style is Style.CSV:
        print_csv([["name"], *([name] for name in names)])
    else:
        print_table(["profile"], [[name] for name in names])


@app.command("show")
def show(name: NameArgument = BUILT_IN, database: DatabaseOption = None, style: StyleOption = Style.TABLE) -> None:
    """Show the weights of a profile.

    Example: triptych weights show default
    """
    from triptych.catalog.database.engine import reading

    with catalogue(database) as engine, reading(engine) as session:
        weights = _weights(session, name)
    if style is Style.JSON:
        print_json(weights)
        return
    rows = [[criterion, f"{weight:g}"] for criterion, weight in weights.items()]
    if style is Style.CSV:
        print_csv([["criterion", "weight"], *rows])
    else:
        print_table(["criterion", "weight"], rows, right=["weight"])


@app.command("copy")
def copy(
    name: NameArgument,
    new: Annotated[str, typer.Argument(help="The name of the copy.")],
    database: DatabaseOption = None,
) -> None:
    """Copy a profile under a new name.

    Example: triptych weights copy default mine
    """
    from triptych.catalog.database import weight_profiles
    from triptych.catalog.database.engine import writing

    _own_name(new)
    with catalogue(database) as engine, writing(engine) as session:
        weight_profiles.add(session, new, _weights(session, name))
    tell(f"copied {name} to {new}")


@app.command("set")
def change(
    name: NameArgument,
    changes: Annotated[list[str], typer.Argument(help="One or more CRITERION=WEIGHT.", metavar="CRITERION=WEIGHT...")],
    database: DatabaseOption = None,
) -> None:
    """Change weights of a profile of your own; they need not sum to 1, only their shares count.

    Example: triptych weights set mine coverage=0.4 timbre=0.2
    """
    from triptych.catalog.database import weight_profiles
    from triptych.catalog.database.engine import writing

    _own_name(name)
    wanted = dict(_change(text) for text in changes)
    with catalogue(database) as engine, writing(engine) as session:
        merged = {**_weights(session, name), **wanted}
        if sum(merged.values()) <= 0:
            raise BadInput(f"{name}: one weight at least must be above 0")
        weight_profiles.replace(session, name, merged)
    tell(f"changed {name}")


def _built_in(name: str) -> bool:
    from triptych.catalog.database.rows import name_key

    return name_key(name) == BUILT_IN


def _own_name(name: str) -> None:
    if _built_in(name):
        raise BadInput(f"{BUILT_IN} is built in: copy it under another name and change the copy")


def _weights(session: Session, name: str) -> dict[str, float]:
    from triptych.catalog.database import reads
    from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS

    if _built_in(name):
        return dict(DEFAULT_WEIGHTS)
    stored = reads.weight_profile(session, name)
    return {criterion: stored.get(criterion, 0.0) for criterion in DEFAULT_WEIGHTS}


def _change(text: str) -> tuple[str, float]:
    """One change of a weight."""
    from triptych.catalog.shares import weight
    from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS

    criterion, equals, number = text.partition("=")
    if not equals or criterion not in DEFAULT_WEIGHTS:
        raise BadInput(f"{text!r}: write CRITERION=WEIGHT with one of {', '.join(DEFAULT_WEIGHTS)}")
    return criterion, weight(number, criterion)
