"""From options to a question, and from a question to an answer whose profiles are kept for the next one."""

from __future__ import annotations

import logging
import re
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from triptych.catalog.errors import BadInput

if TYPE_CHECKING:
    from sqlalchemy import Engine
    from sqlalchemy.orm import Session

    from triptych.catalog.records import RoomRecord
    from triptych.recommender.advise.match import Fresh, Question

log = logging.getLogger("triptych.match")

Answer = TypeVar("Answer")


def question(engine: Engine, room: str, mains: str, budget: str, role: str, in_stock: bool, weights: str) -> Question:
    """The question that the options of a command ask.

    Raises
    ------
    BadInput
        No mains are named anywhere, the budget is no amount, or the weights are not weights.
    """
    from triptych.catalog.database.engine import reading
    from triptych.recommender.advise.match import Question

    with reading(engine) as session:
        surveyed = room_of(session, room)
        chosen = weights_of(session, weights) if weights else None
    named = mains or surveyed.mains.speaker
    if not named:
        raise BadInput(f"{surveyed.name} names no mains: give them with --mains, or as speaker under [mains]")
    if role != "centre":
        raise BadInput(f"--role {role!r}: only centre can be matched; budget plan chooses the other roles")
    cap, currency = amount(budget) if budget else (None, None)
    return Question(named, surveyed, cap, currency, role, in_stock, chosen)


def room_of(session: Session, room: str) -> RoomRecord:
    """A room from a file if there is one of that name, else from the catalogue."""
    from triptych.catalog.database import reads
    from triptych.catalog.files.rooms import read_room

    path = Path(room)
    if path.is_file() or path.suffix == ".toml":
        return read_room(path)
    return reads.room(session, room)


def amount(text: str) -> tuple[float, str | None]:
    """A budget as a number with its currency, if one is named: `700`, `1,200.50`, `700 EUR`."""
    from triptych.catalog.errors import UnreadableQuantity
    from triptych.catalog.numbers import number

    found = re.fullmatch(r"(?P<before>[A-Za-z]{3})?\s*(?P<number>[^A-Za-z]+?)\s*(?P<after>[A-Za-z]{3})?", text.strip())
    if not found or (found["before"] and found["after"]):
        raise BadInput(f"--budget {text!r} is no amount: give a number such as 700, or 700 EUR")
    try:
        value = float(number(found["number"]))
    except UnreadableQuantity as problem:
        raise BadInput(f"--budget {text!r}: {problem}") from None
    if not 0 < value < 1e9:
        raise BadInput(f"--budget {text!r}: an amount from 0 to 1,000,000,000 is wanted")
    currency = found["before"] or found["after"]
    return value, currency.upper() if currency else None


def weights_of(session: Session, name: str) -> Mapping[str, float]:
    """Weights from a TOML file if there is one of that name, else from the catalogue; they are made to sum to 1."""
    from triptych.catalog.database import reads
    from triptych.recommender.judge.criteria.definitions import DEFAULT_WEIGHTS

    path = Path(name)
    given = _weights_file(path) if path.is_file() or path.suffix == ".toml" else reads.weight_profile(session, name)
    if unknown := sorted(set(given) - set(DEFAULT_WEIGHTS)):
        raise BadInput(f"{name}: no criterion is named {unknown[0]!r}; there are {', '.join(DEFAULT_WEIGHTS)}")
    weights = {criterion: float(given.get(criterion, 0.0)) for criterion in DEFAULT_WEIGHTS}
    if any(not 0 <= value < 1e6 for value in weights.values()) or sum(weights.values()) <= 0:
        raise BadInput(f"{name}: weights are numbers from 0 up, and one at least is above 0")
    total = sum(weights.values())
    return {criterion: value / total for criterion, value in weights.items()}


def _weights_file(path: Path) -> Mapping[str, float]:
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as problem:
        raise BadInput(f"{path}: {problem}") from None
    weights = table.get("weights", table)
    if not isinstance(weights, dict) or not all(
        isinstance(value, int | float) and not isinstance(value, bool) for value in weights.values()
    ):
        raise BadInput(f"{path}: write one line a criterion, such as timbre = 0.3")
    return weights


def answer(engine: Engine, ask: Callable[[Session], tuple[Answer, Fresh]]) -> Answer:
    """Ask in a reading transaction, then keep the profiles that had to be computed where the user may write."""
    from sqlalchemy.exc import DBAPIError

    from triptych.catalog.database import writes
    from triptych.catalog.database.engine import reading, writing
    from triptych.catalog.errors import DatabaseProblem

    with reading(engine) as session:
        given, fresh = ask(session)
    if fresh:
        try:
            with writing(engine) as session:
                writes.save_profiles(session, fresh)
        except (DBAPIError, DatabaseProblem) as problem:
            log.info("acoustic profiles were computed but not kept: %s", problem)
    return given
