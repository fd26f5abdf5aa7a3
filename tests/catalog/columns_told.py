"""What the recommender reads of a catalogue, as plain lists: None where nothing is known."""

from __future__ import annotations

from typing import Any

import numpy as np

from triptych.catalog.database.candidates import candidate_columns


def columns_told(*asked: Any, **more: Any) -> dict[str, list[Any]]:
    """Each column of `candidate_columns` as a list."""
    return {name: _told(column) for name, column in candidate_columns(*asked, **more).items()}


def _told(column: Any) -> list[Any]:
    if isinstance(column, np.ndarray):
        return [None if value != value else value for value in column.tolist()]
    return list(column)
