"""What budgets and plans refuse, told like everything else that is refused."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from triptych.catalog.errors import BadInput


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
