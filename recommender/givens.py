"""What a question is given by a name or a file (a room, weights, rules), and what is refused of it in one line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from triptych.catalog.errors import BadInput
from triptych.catalog.inputs import is_file, read_text, read_toml

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from triptych.catalog.records import RoomRecord
    from triptych.recommender.money.budget.rules import RuleSet


def room_of(session: Session, room: str | Path | RoomRecord) -> RoomRecord:
    """A room as it is, from a file if there is one of that name, or from the catalogue."""
    from triptych.catalog.database import reads
    from triptych.catalog.files.rooms import read_room

    if not isinstance(room, str | Path):
        return room
    path = Path(room)
    if is_file(path) or path.suffix == ".toml":
        return read_room(path)
    return reads.room(session, str(room))


def weights_of(session: Session, given: str | Mapping[str, float]) -> Mapping[str, float]:
    """Weights as they are, from a TOML file of that name, or from the catalogue; they are made to sum to 1."""
    from triptych.catalog.database import reads
    from triptych.catalog.shares import refuse_weight
    from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS

    if isinstance(given, str):
        name, path = given, Path(given)
        given = _weights_file(path) if is_file(path) or path.suffix == ".toml" else reads.weight_profile(session, name)
    else:
        name = "weights"
    if unknown := sorted(set(given) - set(DEFAULT_WEIGHTS)):
        raise BadInput(f"{name}: no criterion is named {unknown[0]!r}; there are {', '.join(DEFAULT_WEIGHTS)}")
    for criterion, value in given.items():
        refuse_weight(value, f"{name}: {criterion}")
    if sum(given.values()) <= 0:
        raise BadInput(f"{name}: one weight at least must be above 0")
    weights = {criterion: float(given.get(criterion, 0.0)) for criterion in DEFAULT_WEIGHTS}
    total = sum(weights.values())
    return {criterion: value / total for criterion, value in weights.items()}


def _weights_file(path: Path) -> Mapping[str, float]:
    from triptych.catalog.number_texts import typed
    from triptych.catalog.shares import figure

    table = read_toml(path)
    weights = table.get("weights", table)
    if not isinstance(weights, dict) or not all(
        isinstance(value, int | Decimal | str) and not isinstance(value, bool) for value in weights.values()
    ):
        raise BadInput(f"{path}: write one line a criterion, such as timbre = 0.3")
    texts = {name: value if isinstance(value, str) else typed(value) for name, value in weights.items()}
    return {criterion: figure(text, f"{path}: {criterion}") for criterion, text in texts.items()}


@contextmanager
def refusals(file: Path | None = None) -> Iterator[None]:
    """Tell what a budget or a plan refuses as the catalogue tells what it refuses: in one line, with the file."""
    from triptych.recommender.money.budget.errors import BudgetError

    try:
        yield
    except BudgetError as problem:
        raise BadInput(f"{file}: {problem}" if file else str(problem)) from None
    except ValueError as problem:
        # the planner's own refusal is a ValueError too; anything else is a fault and keeps its traceback
        from triptych.recommender.money.planner.problem import ProblemError

        if not isinstance(problem, ProblemError):
            raise
        raise BadInput(f"{file}: {problem}" if file else str(problem)) from None


def rules_of_file(path: Path) -> RuleSet:
    """A rule set from a TOML file; its contradictions are not looked for."""
    from triptych.recommender.money.budget.rule_file import parse_rule_set

    return parse_rule_set(read_text(path), str(path))
